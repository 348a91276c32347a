"""Recorded drawing to PDF: one page of the size of its paper, by the typesetter."""

from __future__ import annotations

from wellheard.drawings.backends import svg
from wellheard.drawings.canvas import Canvas
from wellheard.drawings.typesetting import packaged_fonts, time_stamp

_TEMPLATE = """\
#set document(title: sys.inputs.title)
#set text(lang: "en")
#set page(width: float(sys.inputs.width) * 1mm, height: float(sys.inputs.height) * 1mm, margin: 0mm)
#image(bytes(sys.inputs.svg), width: 100%, height: 100%, alt: sys.inputs.alt)
"""


def sheet_pdf(
    canvas: Canvas, width: float, height: float, *, title: str, date: str, alt: str = ""
) -> bytes:
    """Return a drawing as a PDF of one page.

    Parameters
    ----------
    canvas : Canvas
        What to render, on the white sheet.
    width, height : float
        Size of the paper, and of the page. [mm]
    title : str
        Of the document.
    date : str
        Of the document; its time stamp.
    alt : str
        What the drawing shows, for who cannot see it; the title unless given.

    Returns
    -------
    bytes
        Tagged, its text is text. Only the fonts of the package are used: the same drawing and date
        give the same bytes on every machine with the same typesetter.
    """
    import typst

    drawn = svg.render(canvas, width, height, title=title, embed_fonts=False)
    return bytes(
        typst.compile(
            {"main.typ": _TEMPLATE.encode()},
            font_paths=packaged_fonts(),
            format="pdf",
            timestamp=time_stamp(date),
            sys_inputs={
                "svg": drawn,
                "width": str(width),
                "height": str(height),
                "title": title,
                "alt": alt or title,
            },
        )
    )

"""Drawings and pages as PNG pictures, by the typesetter that also makes the PDF."""

from __future__ import annotations

from wellheard.dossier.figures import sheet
from wellheard.dossier.model import Outline
from wellheard.dossier.writers.typst_pdf import DOSSIER, typeset
from wellheard.drawings.typesetting import packaged_fonts

DOTS_PER_INCH = 200.0
ON_SCREEN = 132.0
"""Dots per inch of pages that are looked at, not printed."""
_TEMPLATE = """\
#set page(width: float(sys.inputs.width) * 1mm, height: float(sys.inputs.height) * 1mm, margin: 0mm)
#image(bytes(sys.inputs.svg), width: 100%, height: 100%)
"""


def write_png(svg: str, *, dots_per_inch: float = DOTS_PER_INCH) -> bytes:
    """Return a drawing as PNG, at the size that it was drawn for.

    Parameters
    ----------
    svg : str
        With its width and height; fonts are those of the package.
    dots_per_inch : float
        Resolution.

    Raises
    ------
    ValueError
        The text is no SVG with a width and a height.
    """
    import typst

    drawing = sheet(svg)
    return bytes(
        typst.compile(
            {"main.typ": _TEMPLATE.encode()},
            font_paths=packaged_fonts(),
            format="png",
            ppi=dots_per_inch,
            sys_inputs={
                "svg": drawing.svg,
                "width": str(drawing.width),
                "height": str(drawing.height),
            },
        )
    )


def write_pages(outline: Outline, *, dots_per_inch: float = ON_SCREEN) -> tuple[bytes, ...]:
    """Return every page of a dossier as PNG, as the PDF has them.

    Parameters
    ----------
    outline : Outline
        The dossier.
    dots_per_inch : float
        Resolution.
    """
    made = typeset(DOSSIER, outline, outline.identity, format="png", ppi=dots_per_inch)
    return tuple(map(bytes, made)) if isinstance(made, list) else (bytes(made),)

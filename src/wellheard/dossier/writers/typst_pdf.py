"""PDF by typst: the template sets type, every word comes from the outline as inert data."""

from __future__ import annotations

import dataclasses
import json
from functools import cache
from importlib.resources import files
from typing import Any

from wellheard.dossier.model import Identity, Outline
from wellheard.dossier.survey.layout import page
from wellheard.dossier.survey.model import Survey
from wellheard.dossier.words import breakable
from wellheard.drawings.typesetting import packaged_fonts, time_stamp

DOSSIER, SURVEY, LOOK = "dossier.typ", "survey.typ", "look.typ"
"""Templates, and what they share."""
ACCESSIBLE = "ua-1"
"""Standard of the dossier, which screen readers rely on."""
UNSEEN = "could not be displayed with font"
"""What the typesetter says of letters that it cannot set."""


def write_pdf(outline: Outline) -> bytes:
    """Return the outline set in type, as PDF.

    Only the fonts of the package are used and the time stamp is the document's date, so equal
    outlines give equal bytes on every machine with the same typesetter.

    Notes
    -----
    It keeps to PDF/UA-1 (ISO 14289-1) unless a user's text has letters that no typeface at hand
    has: the standard allows none that cannot be seen. It is tagged all the same; `is_accessible`
    tells which.
    """
    import typst

    try:
        made = typeset(DOSSIER, outline, outline.identity, format="pdf", pdf_standards=ACCESSIBLE)
    except typst.TypstError as error:
        if UNSEEN not in str(error):
            raise
        made = typeset(DOSSIER, outline, outline.identity, format="pdf")
    return bytes(made)


def is_accessible(pdf: bytes) -> bool:
    """Return whether a PDF says of itself that it keeps to PDF/UA."""
    return b"pdfuaid:part" in pdf


def write_survey(survey: Survey) -> bytes:
    """Return a survey sheet set in type, as PDF, by the same rules."""
    return bytes(typeset(SURVEY, page(survey), survey.identity, format="pdf"))


def typeset(template: str, data: object, identity: Identity, **how: Any) -> Any:
    """Return what the typesetter makes of a template and its data, in a format of its own."""
    import typst

    texts, fonts = _material()
    return typst.compile(
        {"main.typ": texts[template], LOOK: texts[LOOK]},
        font_paths=fonts,
        sys_inputs={"outline": json.dumps(as_data(data), ensure_ascii=False)},
        timestamp=time_stamp(identity.date),
        **how,
    )


@cache
def _material() -> tuple[dict[str, bytes], Any]:
    """Read templates and fonts once; fonts cost more than a page of text."""
    data = files("wellheard") / "data"
    texts = {name: (data / "typst" / name).read_bytes() for name in (DOSSIER, SURVEY, LOOK)}
    return texts, packaged_fonts()


def as_data(value: object) -> Any:
    """Return an outline as plain data, each value with the name of its kind.

    Examples
    --------
    >>> from wellheard.dossier.model import Run
    >>> as_data((Run("a"),))
    [{'kind': 'Run', 'text': 'a', 'manner': 'plain'}]
    """
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        named = {f.name: as_data(getattr(value, f.name)) for f in dataclasses.fields(value)}
        if "svg" not in named:
            named = {k: breakable(v) if isinstance(v, str) else v for k, v in named.items()}
        return {"kind": type(value).__name__, **named}
    if isinstance(value, tuple):
        return [as_data(item) for item in value]
    return value

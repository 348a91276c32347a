"""Whose documents these are: a logo, a name, and a house's own words round ours."""

from __future__ import annotations

import os
from typing import Annotated

from pydantic import BeforeValidator, ValidationError

from wellheard.dossier.model import Letterhead, Sheet
from wellheard.errors import DocumentError, Problem
from wellheard.files import read_bytes
from wellheard.forms.fields import Frozen, Line, Text, items, refuse
from wellheard.forms.rasters import MOST_BYTES, SIGNATURE, Unfit, read_png
from wellheard.forms.refusals import Form
from wellheard.forms.source import BEGINNINGS, read_file, read_source
from wellheard.forms.vectors import read_svg, wrapped

LOGO_WIDTH, LOGO_HEIGHT = 42.0, 14.0
"""Box that a logo fits. [mm]"""
WANTED = "a text of a house: company: …"
_LOGO_FORMS = "a logo as PNG or SVG"
LOGO_WANTED = f"{_LOGO_FORMS} that can be read"


def _within(most: int) -> BeforeValidator:
    def short(value: object) -> object:
        if isinstance(value, str) and len(value) > most:
            refuse(f"text of {len(value)} characters", f"at most {most} characters")
        return value

    return BeforeValidator(short)


def _few(value: object) -> object:
    found = items(value)
    if isinstance(found, list | tuple) and len(found) > 5:
        refuse(f"{len(found)} lines", "at most 5 lines")
    return found


ShortLine = Annotated[Line, _within(80)]


class House(Frozen):
    """Texts of whoever hands the documents over; every one may be left out."""

    company: ShortLine = ""
    address: Annotated[tuple[ShortLine, ...], BeforeValidator(_few)] = ()
    contact: ShortLine = ""
    opening: Annotated[Text, _within(400)] = ""
    closing: Annotated[Text, _within(800)] = ""
    terms: Annotated[Text, _within(2000)] = ""


def read_letterhead(
    logo: str | os.PathLike[str] | None, house: str | os.PathLike[str] | None
) -> Letterhead:
    """Return whose documents these are.

    Parameters
    ----------
    logo : path or None
        A PNG or an SVG.
    house : path or None
        A YAML text with any of company, address, contact, opening, closing and terms.

    Raises
    ------
    InputError
        A file cannot be read.
    DocumentError
        It can be, but is not what it should be: where, what, and what is allowed.
    """
    texts = House() if house is None else read_house(house)
    return Letterhead(
        company=texts.company,
        address=texts.address,
        contact=texts.contact,
        opening=texts.opening.strip(),
        closing=texts.closing.strip(),
        terms=texts.terms.strip(),
        logo=None if logo is None else read_logo(logo, whose=texts.company),
    )


def read_house(path: str | os.PathLike[str]) -> House:
    """Return the texts of a house from a file; see `parse_house`."""
    return parse_house(read_file(path, what="a text of a house"), name=os.fspath(path))


def parse_house(text: str | bytes, *, name: str = "<text>") -> House:
    """Return the texts of a house.

    Parameters
    ----------
    text : str or bytes
        YAML, UTF-8.
    name : str
        What messages call it.

    Raises
    ------
    DocumentError
        Every problem, in reading order.

    Examples
    --------
    >>> parse_house("company: Curlew Sound").company
    'Curlew Sound'
    >>> parse_house("terms: [1]\\ncompagny: Curlew Sound")
    Traceback (most recent call last):
    ...
    wellheard.errors.DocumentError: <text>:1:8: terms: a list of 1 is no text; text
    <text>:2:1: compagny: unknown field; did you mean company?
    """
    source, problems = read_source(text, name=name, wanted=WANTED, levels=2)
    if isinstance(source.data, dict):
        try:
            found = House.model_validate(source.data, by_name=True)
        except ValidationError as error:
            problems += [
                source.problem(one.path, one.what, one.allowed, key=one.key)
                for one in Form(House).refusals(error.errors(include_url=False))
            ]
        else:
            if not problems:
                return found
    raise DocumentError(sorted(problems, key=lambda problem: (problem.line, problem.column)))


def read_logo(path: str | os.PathLike[str], *, whose: str = "") -> Sheet:
    """Return a logo as a picture of lines that fits its box.

    Parameters
    ----------
    path : path
        A PNG or an SVG.
    whose : str
        Name that stands for it where it cannot be seen.

    Raises
    ------
    InputError
        The file cannot be read.
    DocumentError
        It is neither, is damaged or too large, or has something in it that is not allowed.
    """
    raw = read_bytes(path, most=MOST_BYTES, wanted=LOGO_WANTED)
    return parse_logo(raw, name=os.fspath(path), whose=whose)


def parse_logo(raw: bytes, *, name: str = "<logo>", whose: str = "") -> Sheet:
    """Return a logo from the bytes of its file; see `read_logo`."""
    try:
        _refuse_foreign(raw)
        if raw.startswith(SIGNATURE):
            pixels = read_png(raw)
            found = wrapped(pixels.data, pixels.width, pixels.height)
        else:
            found = read_svg(raw)
    except Unfit as unfit:
        problem = Problem(name, unfit.line, unfit.column, "", unfit.what, unfit.allowed)
        raise DocumentError([problem]) from None
    scale = min(LOGO_WIDTH / found.width, LOGO_HEIGHT / found.height)
    shows = f"Logo of {whose}" if whose else "Logo"
    return Sheet(found.svg, scale * found.width, scale * found.height, shows)


def _refuse_foreign(raw: bytes) -> None:
    """Say what a file is that is no picture that can be one."""
    if not raw.strip():
        raise Unfit("there is nothing in it", _LOGO_FORMS)
    foreign = (what for begins, what in BEGINNINGS.items() if raw.startswith(begins))
    what = next(foreign, None)
    if what is not None and not raw.startswith(SIGNATURE):
        raise Unfit(f"this is {what}", _LOGO_FORMS)

"""What texts in a room say: its name, and the height of its ceiling."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from wellheard.importers.dxf.pieces import Words
from wellheard.units import parse_length

LOWEST, HIGHEST = 1.9, 20.0
"""Ceilings of rooms. [m]"""
NAME_TAGS = ("NAME", "ROOMNAME", "ROOM_NAME", "RAUMNAME", "RAUMBEZEICHNUNG", "BEZEICHNUNG", "ROOM")
NUMBER_TAGS = ("NUMBER", "ROOMNUMBER", "ROOM_NUMBER", "RAUMNUMMER", "NR", "NO", "NUM")
HEIGHT_TAGS = ("HEIGHT", "CH", "CLG", "RAUMHOEHE", "HOEHE", "HSP", "CEILING")

_SAYS = (
    r"(?:CEILING(?:\s+(?:HEIGHT|HT\.?|AT|LEVEL))?|CLNG\.?(?:\s*H(?:EIGH)?T\.?)?"
    r"|CLG\.?(?:\s*H(?:EIGH)?T\.?)?|C\.?\s?H\.?|L\.?\s?R\.?\s?H\.?|L\.?\s?H\.?|R\.?\s?H\.?"
    r"|H\.?\s?S\.?\s?P\.?|U\.?K\.?\s?DECKE|LICHTE\s+(?:RAUM)?H(?:Ö|OE)HE|RAUMH(?:Ö|OE)HE"
    r"|HAUTEUR(?:\s+SOUS\s+PLAFOND)?|ALTEZZA|ALTURA|HOOGTE|HEIGHT|HT\.?|H)"
)
_HEIGHT = re.compile(
    rf"(?:^|[\s(,;/]){_SAYS}\s*[:=@]?\s*(?:\+\s*)?"
    r"(?P<value>[0-9]+\s*(?:'|ft|′)\s*-?\s*[0-9]*(?:[ -]?[0-9]+/[0-9]+)?\s*(?:\"|in|″)?"
    r"|[0-9]+(?:[.,][0-9]+)?)\s*(?P<unit>mm|cm|m)?(?![0-9A-Za-z²'.,]*[0-9²])",
    re.IGNORECASE,
)
_AFF = re.compile(
    r"(?P<value>[0-9]+\s*['′]\s*-?\s*[0-9]*(?:[ -]?[0-9]+/[0-9]+)?\s*[\"″]?)\s*A\.?F\.?F", re.I
)
_SIZE = re.compile(
    r"^(?:[^0-9]{0,12}[0-9]+(?:[.,][0-9]+)?\s*(?:m²|m2|qm|sq\.?\s?ft\.?|sf|m|mm|cm|%)"
    r"|[(~≈+±]?[0-9]+(?:[.,][0-9]+)?)\)?$",
    re.IGNORECASE,
)
_NUMBER = re.compile(r"^[A-Z]{0,3}[-. ]?[0-9]+(?:[-. ][0-9A-Za-z]+)*[A-Za-z]?$")


def height_in(text: str) -> float | None:
    """Return the height of a ceiling that a text tells. [m]

    Numbers without a unit are metres, centimetres or millimetres, whichever is a ceiling.

    Examples
    --------
    >>> [height_in(text) for text in ("CH 2.70", "h = 2,75 m", "CLG 9'-0\\"", "LRH 2800")]
    [2.7, 2.75, 2.7432, 2.8]
    >>> height_in("Table h 740 mm") is None, height_in("Meeting 2.70") is None
    (True, True)
    """
    for pattern in (_HEIGHT, _AFF):
        for match in pattern.finditer(text):
            metres = _metres(match["value"], match.groupdict().get("unit"))
            if metres is not None and LOWEST <= metres <= HIGHEST:
                return metres
    return None


def _metres(value: str, unit: str | None) -> float | None:
    if re.search(r"['′]|ft", value, re.IGNORECASE):
        try:
            written = re.sub(r"(?<=\d)\s*-?\s*$", "", value.strip())
            inches = re.fullmatch(r"(.*['′t]\s*-?\s*[0-9][0-9 /-]*)", written)
            return parse_length(written + '"' if inches else written, unit="m")
        except ValueError:
            return None
    number = float(value.replace(",", "."))
    if unit:
        return number * {"mm": 0.001, "cm": 0.01, "m": 1.0}[unit.lower()]
    for scale in (1.0, 0.01, 0.001):
        if LOWEST <= number * scale <= HIGHEST and (scale == 1.0 or number >= 190):
            return round(number * scale, 6)
    return None


def height_among(words: Iterable[Words]) -> tuple[float, Words] | None:
    """Return the height that texts tell, with the text: an attribute first, then the largest."""
    found = []
    for word in words:
        spoken = f"CH {word.text}" if word.tag in HEIGHT_TAGS else word.text
        height = height_in(spoken)
        if height is not None:
            found.append((not word.tag, -word.height, word.text, height, word))
    return min(found)[3:] if found else None


def name_among(words: Sequence[Words], labels: frozenset[str]) -> tuple[str, tuple[Words, ...]]:
    """Return the name that texts give a room, with the texts that it is of.

    Parameters
    ----------
    words : sequence of Words
        Those inside the room.
    labels : frozenset of str
        Layers on which rooms are named.
    """
    tags = {word.tag: word for word in words if word.tag and word.text}
    named = next((tags[tag] for tag in NAME_TAGS if tag in tags), None)
    number = next((tags[tag] for tag in NUMBER_TAGS if tag in tags), None)
    if named is not None:
        texts = (number, named) if number is not None and number is not named else (named,)
        return " ".join(word.text for word in texts), texts
    free = [word for word in words if not word.tag and _names(word.text)]
    if not free:
        numbers = [w for w in words if not w.tag and _NUMBER.match(w.text) and len(w.text) <= 12]
        best = max(numbers, key=lambda w: (w.layer in labels, w.height), default=None)
        return (best.text, (best,)) if best is not None and best.layer in labels else ("", ())
    one = max(free, key=lambda w: (w.layer in labels, round(w.height, 3), -len(w.text), w.text))
    return one.text, (one,)


def _names(text: str) -> bool:
    """Whether a text may be a room's name: words, not a size, a height or a number."""
    return (
        2 <= len(text) <= 60
        and sum(c.isalpha() for c in text) >= 3
        and not _SIZE.match(text)
        and not _NUMBER.match(text)
        and height_in(text) is None
    )

"""Figures and words as the dossier prints them: true minus, fixed spaces, honest rounding."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

NBSP = "\u00a0"
MINUS = "−"
EN_DASH = "–"
NOT_ASSESSED = EN_DASH

# Words up to twelve, figures beyond.
_COUNTS: tuple[str, ...] = (
    *("no", "one", "two", "three", "four", "five", "six"),
    *("seven", "eight", "nine", "ten", "eleven", "twelve"),
)
BREAK = "\u200b"
"""A place to break a line that is not seen."""
_LONG_WORD = re.compile(r"\S{25,}")
_BREAK_EVERY = 12
_AFTER = re.compile(r"(?<=[\w/])(?=_)|(?<=[/\\.@=])(?=\w)")
"""Where a long word parts best: before an underscore, after a stroke, a point and the like."""
_THOUSANDS = re.compile(r"(?<![\w,.])\d{1,3}(?:,\d{3})+(?![\d,]\d)")


def count_word(count: int) -> str:
    """Small number in words, as running text wants it.

    Examples
    --------
    >>> count_word(2), count_word(11), count_word(40)
    ('two', 'eleven', '40')
    """
    return _COUNTS[count] if 0 <= count < len(_COUNTS) else str(count)


def counted(count: int, noun: str, plural: str = "") -> str:
    """Number and noun that agree.

    Examples
    --------
    >>> counted(1, "microphone"), counted(2, "place"), counted(0, "place")
    ('one microphone', 'two places', 'no places')
    """
    return f"{count_word(count)} {noun if count == 1 else plural or noun + 's'}"


def sentence(text: str) -> str:
    """Same text with a capital in front.

    Examples
    --------
    >>> sentence("two microphones serve ten seats.")
    'Two microphones serve ten seats.'
    """
    return text[:1].upper() + text[1:]


def full_stop(text: str) -> str:
    """Same text ending as a sentence does.

    Examples
    --------
    >>> full_stop("Bring it nearer"), full_stop("Done.")
    ('Bring it nearer.', 'Done.')
    """
    text = text.strip()
    return text if not text or text[-1] in ".!?" else text + "."


def listed(parts: Sequence[str], *, most: int | None = None) -> str:
    """Parts joined as in a sentence; beyond ``most`` the rest is counted.

    Examples
    --------
    >>> listed(["s1", "s2", "s3"])
    's1, s2 and s3'
    >>> listed(["s1", "s2", "s3", "s4"], most=2)
    's1, s2 and two more'
    """
    if most is not None and len(parts) > most + 1:
        parts = [*parts[:most], f"{count_word(len(parts) - most)} more"]
    if len(parts) < 2:
        return "".join(parts)
    return f"{', '.join(parts[:-1])} and {parts[-1]}"


def figure(value: float, places: int) -> str:
    """Figure with a fixed number of decimals, a true minus and never a minus zero.

    Examples
    --------
    >>> figure(-5.52, 1), figure(-0.04, 1), figure(float("nan"), 1)
    ('−5.5', '0.0', '–')
    """
    if not math.isfinite(value):
        return NOT_ASSESSED
    text = f"{value:.{places}f}"
    if not text.strip("-0."):
        text = text.lstrip("-")
    return text.replace("-", MINUS)


def brief(value: float, places: int) -> str:
    """Figure without trailing zeros, as a promise is written.

    Examples
    --------
    >>> brief(-6.0, 1), brief(-6.5, 1)
    ('−6', '−6.5')
    """
    text = figure(value, places)
    return text.rstrip("0").rstrip(".") if "." in text else text


def with_unit(text: str, unit: str) -> str:
    """Figure and unit held together by a no-break space; an en dash stays alone.

    Examples
    --------
    >>> with_unit("−5.5", "dB"), with_unit("–", "dB")
    ('−5.5\\xa0dB', '–')
    """
    return text if text == NOT_ASSESSED or not unit else f"{text}{NBSP}{unit}"


def percent(chance: float | None) -> str:
    """Chance in whole per cent, rounded down so that it never promises more than is known.

    Examples
    --------
    >>> percent(0.799), percent(0.9999), percent(0.001), percent(None)
    ('79\\xa0%', '>\\xa099\\xa0%', '<\\xa01\\xa0%', '–')
    """
    if chance is None or not math.isfinite(chance):
        return NOT_ASSESSED
    whole = math.floor(100 * chance + 1e-9)
    if chance >= 0.995:
        return f">{NBSP}99{NBSP}%"
    if whole < 1:
        return f"<{NBSP}1{NBSP}%"
    return f"{whole}{NBSP}%"


def percent_range(low: float, high: float) -> str:
    """Two chances as one entry.

    Examples
    --------
    >>> percent_range(0.91, 0.97), percent_range(0.91, 0.913), percent_range(0.9, 1.0)
    ('91–97\\xa0%', '91\\xa0%', '90\\xa0% or more')
    """
    first, last = percent(low), percent(high)
    if first == last:
        return first
    if not last[0].isdigit():
        return f"{first} or more"
    if not first[0].isdigit():
        return f"{last} or less"
    return f"{first.removesuffix(NBSP + '%')}{EN_DASH}{last}"


def fixed_spaces(text: str) -> str:
    """Same text with no-break spaces between a figure and the unit behind it, and in thousands.

    A message parts its thousands by commas; in type they are parted by spaces.

    Examples
    --------
    >>> fixed_spaces("12.5 dB at 1.42 m"), fixed_spaces("1,857, more than 1,856.95")
    ('12.5\\xa0dB at 1.42\\xa0m', '1\\xa0857, more than 1\\xa0856.95')
    """
    units = r"(?:dBA?|m²|m³|m|mm|s|ms|Hz|kHz|%|°C|ft|in)"
    text = re.sub(rf"(?<=\d) (?={units}(?![\w²³]))", NBSP, text)
    return _THOUSANDS.sub(lambda found: found.group().replace(",", NBSP), text)


def breakable(text: str) -> str:
    """Same text, with places to break inside words too long for any column.

    A word that has parts is broken between them.

    Examples
    --------
    >>> breakable("a" * 30).count("\\u200b"), breakable("ceiling_perforated_gypsum_board")
    (2, 'ceiling\\u200b_perforated\\u200b_gypsum\\u200b_board')
    """

    def broken(match: re.Match[str]) -> str:
        return BREAK.join(
            piece[i : i + _BREAK_EVERY]
            for piece in _AFTER.split(match.group())
            for i in range(0, len(piece), _BREAK_EVERY)
        )

    return _LONG_WORD.sub(broken, text)


def shortened(text: str, most: int) -> str:
    """Same text, cut to ``most`` characters with an ellipsis where it is longer.

    Examples
    --------
    >>> shortened("Tide Room", 40), shortened("Tide Room", 6)
    ('Tide Room', 'Tide…')
    """
    return text if len(text) <= most else text[: most - 1].rstrip() + "…"


def octave(frequency: float) -> str:
    """Nominal octave as a table head writes it.

    Examples
    --------
    >>> octave(31.5), octave(500.0), octave(8000.0)
    ('31.5', '500', '8k')
    """
    if frequency >= 1000:
        return f"{brief(frequency / 1000, 1)}k"
    return brief(frequency, 1)

"""The only conversions: lengths in text, degrees Celsius, decibels, and printed lengths."""

from __future__ import annotations

import math
import re
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from functools import lru_cache
from typing import TYPE_CHECKING, Literal, TypeAlias, overload

if TYPE_CHECKING:
    from wellheard.arrays import Array

Unit: TypeAlias = Literal["m", "ft"]

FOOT = 0.3048
POUND = 0.45359237
"""Avoirdupois, by definition. [kg]"""
INCH = 0.0254
SET_OUT_STEP: dict[Unit, float] = {"m": 0.005, "ft": INCH / 8}
"""Step to which places are set out with a tape, by the document's units. [m]"""
_FOOT = Fraction(3048, 10000)
_INCH = Fraction(254, 10000)
_METRIC = {
    "mm": Fraction(1, 1000),
    "cm": Fraction(1, 100),
    "m": Fraction(1),
    "metre": Fraction(1),
    "metres": Fraction(1),
    "meter": Fraction(1),
    "meters": Fraction(1),
}
LONGEST_TEXT = 40
"""Characters of a length."""
LENGTH_FORMS = "write a number in the document's units, or text such as 4.42 m, 442 cm, 14 ft 6 in"

_GLYPHS = {"½": "1/2", "¼": "1/4", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8"}
_EIGHTHS = ("", "⅛", "¼", "⅜", "½", "⅝", "¾", "⅞")
_MARKS = str.maketrans({"′": "'", "’": "'", "″": '"', "”": '"', "−": "-", "\u00a0": " "})
_NUMBER = r"(?:[0-9]+(?:\.[0-9]+)?|\.[0-9]+)"
_METRIC_TEXT = re.compile(rf"({_NUMBER})\s*([a-z]+)")
_IMPERIAL_TEXT = re.compile(
    rf"""
    (?:(?P<feet>{_NUMBER})\s*(?:ft\.?|feet|foot|'))?            # 14 ft   17'
    (?P<between>\s*-\s*|\s*)
    (?:
        (?P<inches>
            [0-9]+[ ]*[ -][ ]*[0-9]+/[0-9]+                     # 5 1/2   5-1/2
          | [0-9]+/[0-9]+                                       # 1/2
          | {_NUMBER}                                           # 6   4.25
        )
        \s*(?:in\.?|inch|inches|")
    )?
    """,
    re.VERBOSE,
)


def parse_length(value: float | str, *, unit: Unit) -> float:
    """Length in metres of a number, or of text that says its unit.

    Parameters
    ----------
    value : float or str
        A bare number is in ``unit``. Text carries its own: ``4.42 m``, ``442 cm``, ``14 ft 6 in``,
        ``17'-4"``, ``5 1/2 in``, ``2 ft``.
    unit : {"m", "ft"}
        Unit of bare numbers.

    Returns
    -------
    float
        The nearest float to the exact value. [m]

    Raises
    ------
    ValueError
        Anything else, decimal commas and numbers in quotes included: they have two readings.

    Examples
    --------
    >>> parse_length("17'-4\\"", unit="m")
    5.2832
    >>> parse_length(2, unit="ft")
    0.6096
    >>> parse_length("4,2 m", unit="m")
    Traceback (most recent call last):
    ValueError: '4,2 m' has a comma; write the decimal point as in 4.2 m
    """
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        raise ValueError(f"{value!r} is no length; {LENGTH_FORMS}")
    if not isinstance(value, str):
        if not math.isfinite(value) or abs(value) > 1e9:
            raise ValueError(f"{value!r:.20} is no length; {LENGTH_FORMS}")
        # Through its decimal text, so that 14.1 and '14.1 ft' are the same length.
        return float(Fraction(repr(value)) * (_FOOT if unit == "ft" else 1))
    # Nothing longer is a length unless it is padded, and such padding is not worth remembering.
    return _metres(value) if len(value) <= 2 * LONGEST_TEXT else float(_text_length(value))


@lru_cache(maxsize=4096)  # a document is read at every change, and little of it is new
def _metres(text: str) -> float:
    return float(_text_length(text))


def _text_length(text: str) -> Fraction:
    shown = repr(text if len(text) <= 40 else text[:40] + "…")
    plain = text.translate(_MARKS).strip().lower().replace("''", '"')
    for glyph, written in _GLYPHS.items():
        plain = plain.replace(glyph, f" {written}")
    plain = plain.strip()
    if len(plain) > LONGEST_TEXT:
        raise ValueError(f"{shown} is no length; {LENGTH_FORMS}")
    if "," in plain:
        if re.fullmatch(r"-?[0-9]+,[0-9]+[^0-9,]*", plain):
            raise ValueError(
                f"{shown} has a comma; write the decimal point as in {plain.replace(',', '.')}"
            )
        raise ValueError(f"{shown} has a comma; {LENGTH_FORMS}")
    sign, plain = (-1, plain[1:].lstrip()) if plain.startswith("-") else (1, plain)
    if re.fullmatch(_NUMBER, plain):
        raise ValueError(
            f"{shown} is text without a unit; leave the quotes out for the document's units, "
            f"or write {plain} m or {plain} ft"
        )
    metric = _METRIC_TEXT.fullmatch(plain)
    if metric and metric[2] in _METRIC:
        return sign * Fraction(metric[1]) * _METRIC[metric[2]]
    imperial = _IMPERIAL_TEXT.fullmatch(plain)
    if not imperial or (imperial["feet"] is None and imperial["inches"] is None):
        raise ValueError(f"{shown} is no length; {LENGTH_FORMS}")
    if (imperial["feet"] is None or imperial["inches"] is None) and "-" in imperial["between"]:
        raise ValueError(f"{shown} is no length; {LENGTH_FORMS}")
    feet = Fraction(imperial["feet"] or 0)
    inches = _inches(imperial["inches"], shown) if imperial["inches"] else Fraction(0)
    if imperial["feet"] is not None and imperial["inches"] is not None:
        if feet.denominator != 1:
            raise ValueError(f"{shown} has part feet and inches; write whole feet before inches")
        if inches >= 12:
            raise ValueError(f"{shown} has 12 inches or more beside feet; write 0 to 11⅞ inches")
    return sign * (feet * _FOOT + inches * _INCH)


def _inches(text: str, shown: str) -> Fraction:
    if "/" not in text:
        return Fraction(text)
    whole, _, part = re.sub(r"[ -]+", " ", text).rpartition(" ")
    top, bottom = (int(n) for n in part.split("/"))
    if bottom not in (2, 4, 8, 16, 32, 64) or not 0 < top < bottom:
        raise ValueError(
            f"{shown} has the fraction {part}; write one below 1 in halves to sixty-fourths"
        )
    return Fraction(int(whole or 0)) + Fraction(top, bottom)


def format_length(metres: float, *, unit: Unit, places: int = 2) -> str:
    """Length as a reader of that unit expects it in print.

    Parameters
    ----------
    metres : float
        [m]
    unit : {"m", "ft"}
        Metres with ``places`` decimals, or feet and inches to the nearest ⅛ inch.
    places : int
        Decimals of a metric length.

    Returns
    -------
    str
        With a true minus sign; a length below one foot has inches only.

    Examples
    --------
    >>> format_length(6.4, unit="m"), format_length(6.4, unit="ft"), format_length(0.2, unit="ft")
    ('6.40 m', '21\\'-0"', '7⅞"')
    """
    if not math.isfinite(metres):
        raise ValueError(f"{metres!r} is no length; a finite number of metres is")
    if unit == "m":
        return f"{_signed(metres, places)} m"
    eighths = round(abs(metres) / INCH * 8)
    sign = "−" if metres < 0 and eighths else ""
    feet, rest = divmod(eighths, 96)
    inches, part = divmod(rest, 8)
    whole = f"{inches}" if inches or not part or feet else ""
    return f"{sign}{feet}'-{whole}{_EIGHTHS[part]}\"" if feet else f'{sign}{whole}{_EIGHTHS[part]}"'


def format_run(metres: float, *, unit: Unit) -> str:
    """Length of a cable, which is an estimate: metres with two decimals, or whole inches.

    Examples
    --------
    >>> format_run(6.42, unit="m"), format_run(6.42, unit="ft"), format_length(6.42, unit="ft")
    ('6.42 m', '21\\'-1"', '21\\'-0¾"')
    """
    return format_length(round(metres / INCH) * INCH if unit == "ft" else metres, unit=unit)


def format_millimetres(metres: float) -> str:
    """Length in whole millimetres without a unit, as on a metric plan.

    Examples
    --------
    >>> format_millimetres(2.3)
    '2300'
    """
    if not math.isfinite(metres):
        raise ValueError(f"{metres!r} is no length; a finite number of metres is")
    return _signed(metres * 1000, 0)


def _signed(value: float, places: int) -> str:
    text = f"{abs(value):.{places}f}"
    return f"−{text}" if value < 0 and float(text) else text


def money(amount: float, currency: str = "", *, cents: bool = True) -> str:
    """Amount as it is set in type: its currency before it, thousands parted by a no-break space.

    Parameters
    ----------
    amount : float
        [currency]
    currency : str
        Empty where a head or a sentence names it.
    cents : bool
        To the hundredth, a half upwards; else whole.

    Examples
    --------
    >>> money(1647.385, "EUR"), money(-4180.0, "EUR", cents=False)
    ('EUR\\xa01\\xa0647.39', 'EUR\\xa0−4\\xa0180')
    >>> money(86.0)
    '86.00'
    """
    said = _amount(amount, cents).replace(",", "\N{NO-BREAK SPACE}")
    return f"{currency}\N{NO-BREAK SPACE}{said}" if currency else said


def plain_money(amount: float, currency: str = "", *, cents: bool = True) -> str:
    """Amount as a terminal and a message say it: its currency behind it, thousands with a comma.

    Parameters are those of `money`.

    Examples
    --------
    >>> plain_money(1647.385, "EUR"), plain_money(4180.0, "EUR", cents=False), plain_money(86.0)
    ('1,647.39 EUR', '4,180 EUR', '86.00')
    """
    return f"{_amount(amount, cents)} {currency}".rstrip()


def _amount(amount: float, cents: bool) -> str:
    # Nine places first: a product of floats just below a half is that half.
    step = Decimal("0.01" if cents else "1")
    rounded = Decimal(f"{amount:.9f}").quantize(step, ROUND_HALF_UP)
    return f"{'−' if rounded < 0 else ''}{abs(rounded):,}"


def format_temperature(celsius: float, *, unit: Unit) -> str:
    """Write a temperature, in Fahrenheit too beside lengths in feet.

    Examples
    --------
    >>> format_temperature(21.4, unit="m"), format_temperature(35.0, unit="ft")
    ('21 °C', '35 °C (95 °F)')
    """
    said = f"{_signed(celsius, 0)} °C"
    return said if unit == "m" else f"{said} ({_signed(celsius * 9 / 5 + 32, 0)} °F)"


def format_mass(kilograms: float, *, unit: Unit) -> str:
    """Write a weight, in pounds too beside lengths in feet.

    Examples
    --------
    >>> format_mass(3.9, unit="m"), format_mass(3.9, unit="ft")
    ('3.9 kg', '3.9 kg (8.6 lb)')
    """
    said = f"{_signed(kilograms, 1)} kg"
    return said if unit == "m" else f"{said} ({_signed(kilograms / POUND, 1)} lb)"


def kelvin(temperature_c: float) -> float:
    """Absolute temperature. [K]

    Examples
    --------
    >>> kelvin(20.0)
    293.15
    """
    return temperature_c + 273.15


@overload
def level_db(energy_ratio: float) -> float: ...
@overload
def level_db(energy_ratio: Array) -> Array: ...
def level_db(energy_ratio: float | Array) -> float | Array:
    """Level of a ratio of energies, powers or squared pressures.

    Parameters
    ----------
    energy_ratio : float or ndarray
        0 or more; 0 gives −∞.

    Returns
    -------
    float or ndarray
        As given. [dB]

    Examples
    --------
    >>> level_db(100.0), level_db(0.0)
    (20.0, -inf)
    """
    if isinstance(energy_ratio, int | float):
        return 10.0 * math.log10(energy_ratio) if energy_ratio else -math.inf
    import numpy as np  # physics has it loaded already; `wellheard --version` must not wait for it

    with np.errstate(divide="ignore"):
        return 10.0 * np.log10(energy_ratio)


@overload
def energy(level_db: float) -> float: ...
@overload
def energy(level_db: Array) -> Array: ...
def energy(level_db: float | Array) -> float | Array:
    """Ratio of energies that a level stands for, the inverse of `level_db`.

    Parameters
    ----------
    level_db : float or ndarray
        [dB]

    Returns
    -------
    float or ndarray
        As given; 0 for −∞.

    Examples
    --------
    >>> energy(20.0)
    100.0
    """
    return 10.0 ** (level_db / 10.0)

"""From what was measured to the promised conditions, and from there to a word.

::

    estimate = measured + Σ steps         a step: predicted with one condition as promised,
    σ² = σ_measured² + σ_transfer²                less predicted with it as measured
    σ_transfer = TRANSFER_SHARE · √Σ step²
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Literal

from wellheard.predict.evidence import Quantity
from wellheard.predict.tolerances import NORMAL_90, chance_of
from wellheard.proving.verdict import Compared, word_of

TRANSFER_SHARE: Final = 0.3
"""σ of a step over its size; common practice, no source [C]. Both predictions that a step is the
difference of have the model's own error in common, so what is left grows with how far it reaches;
a third of it is about what the model misses of single effects such as a source's directivity."""

STI_SIGMA: Final = 0.02
"""Repeatability of a measured STI [L IEC 60268-16:2011, Annex E, open reading]."""

LEVEL_SIGMA_DB: Final = 1.0
"""Of a level by a meter or a calibrated microphone, its place in the room included; common
practice, no source [C]. [dB]"""

LOSS_SIGMA_DB: Final = 1.0
"""Of a measured return loss: two levels by one instrument; common practice, no source [C]. [dB]"""

CANCELLER_SIGMA_DB: Final = 3.0
"""Of what a canceller adds: it works on signals that change; common practice, no source [C].
[dB]"""

MOST_REPEATS: Final = 12
"""More recordings of the same thing are asked of nobody; common practice, no source [C]."""

PLACES: Final[Mapping[str, int]] = {"": 2, "s": 2, "dB": 1, "dBA": 1, "NC": 1}
"""Decimals by unit."""


@dataclass(frozen=True)
class Promise:
    """What is promised of a quantity at a place, and how it is decided where too little is known.

    Attributes
    ----------
    quantity, place, unit : str
        As of `wellheard.proving.verdict.Compared`.
    allowed : (float or None, float or None)
        Lowest and highest.
    again : str
        What to record, as a sentence.
    """

    quantity: str
    place: str
    unit: str
    allowed: tuple[float | None, float | None]
    again: str


@dataclass(frozen=True)
class Reading:
    """What recordings say of a quantity.

    Attributes
    ----------
    value, sigma : float
    recordings : tuple of str
    how : str
        How it was found, a sentence for the report; '' where it was just measured.
    lasting : float
        What of ``sigma`` no repetition lessens, such as that of a calibration.
    count : int
        Recordings of the same thing whose mean it is.
    bound : str
        Whether the true value is so much at ``most`` or at ``least``, for noise hides the rest;
        '' where it is neither. Of promises of a lowest value.
    sharper : str
        What to record so that it is no bound, a sentence.
    """

    value: float
    sigma: float
    recordings: tuple[str, ...]
    how: str = ""
    lasting: float = 0.0
    count: int = 1
    bound: Literal["", "most", "least"] = ""
    sharper: str = ""


@dataclass(frozen=True)
class Step:
    """What one condition does on the way from what was measured to what is promised."""

    of: str
    by: float


def shown(value: float, unit: str) -> str:
    """A figure with its unit.

    Examples
    --------
    >>> shown(-5.04, "dB"), shown(0.618, "")
    ('−5.0 dB', '0.62')
    """
    places = PLACES[unit]
    text = f"{round(value, places) + 0.0:.{places}f}".replace("-", "−")
    return f"NC-{text}" if unit == "NC" else f"{text} {unit}".rstrip()


def signed(value: float, unit: str) -> str:
    """A step with its sign.

    Examples
    --------
    >>> signed(0.031, ""), signed(-1.25, "dB"), signed(0.001, "")
    ('+0.03', '−1.2 dB', '±0.00')
    """
    text = shown(abs(value), unit).removeprefix("NC-")
    if round(abs(value), PLACES[unit]) == 0.0:
        return f"±{text}"
    return f"{'+' if value > 0 else '−'}{text}"


def predicted(name: str, unit: str, value: float, sigma: float, target: float | None) -> Quantity:
    """A predicted quantity with its 10–90 % range, of those that are not promised by seat."""
    spread = NORMAL_90 * sigma
    return Quantity(name, value, value - spread, value + spread, sigma, unit, target, None)


def transferred(reading: Reading, steps: Sequence[Step]) -> tuple[float, float, float]:
    """Estimate for the promised conditions, its σ, and the part of it that the steps bring.

    Examples
    --------
    >>> value, sigma, part = transferred(Reading(0.60, 0.03, ()), [Step("air", 0.1)])
    >>> round(value, 3), round(sigma, 4), round(part, 3)
    (0.7, 0.0424, 0.03)
    """
    part = TRANSFER_SHARE * math.sqrt(math.fsum(step.by**2 for step in steps))
    value = reading.value + math.fsum(step.by for step in steps)
    return value, math.hypot(reading.sigma, part), part


def chance_within(value: float, sigma: float, allowed: tuple[float | None, float | None]) -> float:
    """Chance that a normal spread round a value lies within what is allowed.

    Examples
    --------
    >>> round(chance_within(70.0, 1.0, (69.0, 71.0)), 3)
    0.683
    """
    low, high = allowed
    chance = 1.0
    if low is not None:
        chance += chance_of(value - low, sigma) - 1.0
    if high is not None:
        chance += chance_of(high - value, sigma) - 1.0
    return max(0.0, chance)


def judged(
    promise: Promise,
    reading: Reading,
    *,
    tested: Quantity | None,
    steps: Sequence[Step] = (),
) -> Compared:
    """The row of a quantity that was measured; a bound decides no more than it can."""
    value, sigma, part = transferred(reading, steps)
    chance = chance_within(value, sigma, promise.allowed)
    word = word_of(chance)
    stands = {"": word, "most": "broken", "least": "kept"}[reading.bound]
    if word != stands:
        return undecided(
            promise,
            f"{_why(promise.unit, reading, steps, part)} It is that much at {reading.bound}.",
            decide=reading.sharper,
            reading=reading,
            tested=tested,
        )
    return Compared(
        quantity=promise.quantity,
        place=promise.place,
        unit=promise.unit,
        promised=promise.allowed,
        measured=reading.value,
        measured_sigma=reading.sigma,
        tested=tested,
        estimate=value,
        estimate_sigma=sigma,
        chance=chance,
        word=word,
        why=_why(promise.unit, reading, steps, part),
        decide=_would_decide(promise, value, reading, part) if word == "cannot tell" else "",
        recordings=reading.recordings,
    )


def undecided(
    promise: Promise,
    why: str,
    *,
    decide: str = "",
    reading: Reading | None = None,
    tested: Quantity | None = None,
    recordings: tuple[str, ...] = (),
) -> Compared:
    """The row of a quantity that recordings say nothing of, or not enough."""
    return Compared(
        quantity=promise.quantity,
        place=promise.place,
        unit=promise.unit,
        promised=promise.allowed,
        measured=None if reading is None else reading.value,
        measured_sigma=None if reading is None else reading.sigma,
        tested=tested,
        estimate=None,
        estimate_sigma=None,
        chance=None,
        word="cannot tell",
        why=why,
        decide=decide or promise.again,
        recordings=recordings if reading is None else reading.recordings,
    )


def _why(unit: str, reading: Reading, steps: Sequence[Step], part: float) -> str:
    said = f"{_spread(reading.value, reading.sigma, unit)} measured"
    moved = [f"{step.of} {signed(step.by, unit)}" for step in steps if round(step.by, PLACES[unit])]
    if moved:
        said += f"; to what is promised: {', '.join(moved)}, ± {_plain(part, unit)}"
    return f"{said}. {reading.how}".strip()


def _spread(value: float, sigma: float, unit: str) -> str:
    if unit == "NC":
        return f"{shown(value, unit)} ± {_plain(sigma, unit)}"
    return f"{shown(value, unit).removesuffix(unit).rstrip()} ± {shown(sigma, unit)}"


def _plain(value: float, unit: str) -> str:
    return shown(value, unit).removeprefix("NC-")


def _would_decide(promise: Promise, value: float, reading: Reading, part: float) -> str:
    """What is left to do where the estimate lies too near to a limit."""
    low, high = promise.allowed
    apart = min(abs(value - edge) for edge in (low, high) if edge is not None)
    needed = apart / NORMAL_90
    stays = math.hypot(part, reading.lasting)
    if needed > stays:
        of_one = reading.count * (reading.sigma**2 - reading.lasting**2)
        repeats = math.ceil(of_one / (needed**2 - stays**2))
        if repeats <= MOST_REPEATS:
            wanted = max(repeats, reading.count + 1)
            return f"The mean of {wanted} such recordings would decide it."
    if needed > reading.sigma:
        return (
            "Measure it in the promised conditions, which leaves out what had to be predicted: "
            "source, people and air as in the document."
        )
    away = _plain(apart, promise.unit)
    surely = _plain(math.hypot(part, reading.sigma), promise.unit)
    return (
        f"It lies {away} from its limit, which a measurement knows to ± {surely} here: better it, "
        "or promise less."
    )

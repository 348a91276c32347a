"""What a session of measurement says of a promise: frozen values that every reader shares."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal, TypeAlias

from wellheard.predict.evidence import Quantity

Word: TypeAlias = Literal["kept", "broken", "cannot tell"]

WORDS: tuple[Word, ...] = ("broken", "cannot tell", "kept")
"""The worst first."""

KEPT_FROM = 0.9
"""Chance from which a promise is kept: the 10 % point of the estimate still keeps it."""

BROKEN_TO = 0.1
"""Chance down to which it is broken: the 90 % point of the estimate misses it."""

QUANTITIES: tuple[str, ...] = (
    "sti_outbound",
    "direct_to_reverberant_db",
    "speech_to_noise_db",
    "sti_inbound",
    "playback_level_dba",
    "listening_level_dba",
    "uniformity_db",
    "noise_nc",
    "echo_loss_db",
    "reverberation",
)
"""Fields of the promise that a measurement can decide, in the order in which they are told."""


def word_of(chance: float | None) -> Word:
    """What a chance decides.

    >>> word_of(0.9), word_of(0.5), word_of(0.1), word_of(None)
    ('kept', 'cannot tell', 'broken', 'cannot tell')
    """
    if chance is None:
        return "cannot tell"
    if chance >= KEPT_FROM:
        return "kept"
    return "broken" if chance <= BROKEN_TO else "cannot tell"


@dataclass(frozen=True)
class Compared:
    """One promised quantity at one place: promised, predicted alike, measured, decided.

    Attributes
    ----------
    quantity : str
        Field of `wellheard.room.targets.Targets`, one of ``QUANTITIES``.
    place : str
        Seat, point of a standing area or microphone; '' for the room as a whole.
    unit : str
    promised : (float or None, float or None)
        Lowest and highest that keep the promise; None is no limit on that side.
    measured, measured_sigma : float or None
        As it was taken, with the test source; its standard deviation.
    tested : Quantity or None
        Predicted again, alike: with source, positions, people and climate of the session.
    estimate, estimate_sigma : float or None
        For the promised conditions: measured + (predicted as promised − predicted as tested), with
        the deviations of the measurement and of that step.
    chance : float or None
        That the promise holds.
    word : str
    why : str
        How it was found, in sentences for the report.
    decide : str
        What would decide it; '' where it is decided.
    recordings : tuple of str
        Ids of the recordings that it rests on.
    """

    quantity: str
    place: str
    unit: str
    promised: tuple[float | None, float | None]
    measured: float | None
    measured_sigma: float | None
    tested: Quantity | None
    estimate: float | None
    estimate_sigma: float | None
    chance: float | None
    word: Word
    why: str
    decide: str
    recordings: tuple[str, ...]


@dataclass(frozen=True)
class DecayCompared:
    """Decay time of one octave, mean over the places, beside what was predicted as tested.

    Attributes
    ----------
    octave : float
        Nominal [Hz].
    measured, measured_sigma : float or None
        T30 where every place that counts has it, else T20 [s].
    count : int
        Places that count.
    predicted, low, high : float
        As tested, with the 10 to 90 % range [s].
    """

    octave: float
    measured: float | None
    measured_sigma: float | None
    count: int
    predicted: float
    low: float
    high: float


@dataclass(frozen=True)
class NoiseCompared:
    """Noise of the room at one place.

    Attributes
    ----------
    place : str
        Seat, point or microphone.
    recording : str
        Id of the recording.
    levels_db : dict of float to float
        Measured octave levels by nominal frequency [Hz]; re full scale where not calibrated [dB].
    calibrated : bool
    nc : float or None
        By tangency; None where not calibrated or off the curves.
    label : str
        In words of the standard, '' where not rated.
    governing : float or None
        Octave that touches the curve [Hz].
    dba : float
    """

    place: str
    recording: str
    levels_db: dict[float, float] = field(repr=False)
    calibrated: bool
    nc: float | None
    label: str
    governing: float | None
    dba: float


@dataclass(frozen=True)
class Verdict:
    """What a session says of every promise of a document.

    Attributes
    ----------
    session : str
        Name of its folder.
    document : str
        Hash of the room document that it is held against.
    rows : tuple of Compared
        Worst first.
    decays : tuple of DecayCompared
        Of the seven octaves; empty where none was measured.
    noise : tuple of NoiseCompared
        In the order of the session.
    alike : tuple of str
        What was set as in the session to predict again.
    notes : tuple of str
        What could not be compared and why.
    """

    session: str
    document: str
    rows: tuple[Compared, ...]
    decays: tuple[DecayCompared, ...]
    noise: tuple[NoiseCompared, ...]
    alike: tuple[str, ...]
    notes: tuple[str, ...]

    @property
    def word(self) -> Word:
        """Broken if any row is, else "cannot tell" if any is or there is none, else kept."""
        words = {row.word for row in self.rows} or {"cannot tell"}
        return next(one for one in WORDS if one in words)

    def at(self, quantity: str, place: str = "") -> Compared | None:
        """The row of a quantity at a place; None where there is none."""
        for row in self.rows:
            if (row.quantity, row.place) == (quantity, place):
                return row
        return None

    def counts(self) -> dict[Word, int]:
        """Rows of each word, the worst first."""
        return {word: sum(row.word == word for row in self.rows) for word in WORDS}

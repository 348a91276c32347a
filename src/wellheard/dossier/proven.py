"""A session of measurement as the dossier speaks of it: its words, its names, its charts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

from wellheard.dossier.words import (
    EN_DASH,
    NBSP,
    NOT_ASSESSED,
    brief,
    figure,
    fixed_spaces,
    full_stop,
    with_unit,
)
from wellheard.drawings.chartfield import Figure
from wellheard.drawings.decaychart import decay_chart, decay_curves
from wellheard.drawings.modulationchart import modulation_chart
from wellheard.drawings.noisechart import noise_chart
from wellheard.drawings.trialchart import trial_chart
from wellheard.measurement.session import Recording, Session
from wellheard.measurement.taken import SessionResults
from wellheard.proving.verdict import Compared, Verdict, Word
from wellheard.room.document import Room
from wellheard.units import Unit, format_length

TITLE = "Measured, and held against the promise"
WIDTH: Mapping[Unit, float] = {"m": 168.0, "ft": 173.0}
"""Of a page's text. [mm]"""


@dataclass(frozen=True)
class Asked:
    """How a promised quantity is spoken of: as a customer asks for it, and in a table."""

    asked: str
    name: str
    places: int
    sign: str = ""
    """Before a figure."""


ASKED: Mapping[str, Asked] = {
    "sti_outbound": Asked("Understood at the far end", "STI out", 2),
    "direct_to_reverberant_db": Asked("Close, not hollow", "direct to reverberant", 1),
    "speech_to_noise_db": Asked("Speech over noise", "speech over noise", 1),
    "sti_inbound": Asked("Understood in the room", "STI in", 2),
    "playback_level_dba": Asked("Set to its level", "mean level", 1),
    "listening_level_dba": Asked("Loud enough in the room", "level", 1),
    "uniformity_db": Asked("Even over all places", "loudest minus quietest", 1),
    "noise_nc": Asked("Background noise", "noise rating", 0, f"NC{NBSP}"),
    "echo_loss_db": Asked("No echo at the far end", "return loss", 0),
    "reverberation": Asked("Short reverberation, middle octaves", "decay time", 2),
}
"""By field of the promise."""


@dataclass(frozen=True, eq=False)
class Proven:
    """What a session of measurement says of a room.

    Attributes
    ----------
    verdict : Verdict
    results : SessionResults
    map : Figure or None
        The plan with what was found at every place.
    predicted_modulation : mapping of str to tuple
        By recording, seven octaves by fourteen frequencies, predicted as it was tested.
    """

    verdict: Verdict
    results: SessionResults
    map: Figure | None = None
    predicted_modulation: Mapping[str, tuple[tuple[float, ...], ...]] = field(default_factory=dict)

    @property
    def session(self) -> Session:
        """As ``session.yaml`` says it."""
        return self.results.folder.session

    @property
    def date(self) -> str:
        """When it was measured; '' where that is not said."""
        return "" if self.session.date is None else self.session.date.isoformat()

    @property
    def state(self) -> str:
        """What a title block says of the room."""
        return f"measured {self.date}" if self.date else "measured"

    def row_of(self, word: Word) -> tuple[Compared, ...]:
        """Rows of one word, in the order of the verdict."""
        return tuple(row for row in self.verdict.rows if row.word == word)

    def way(self, recording: str, unit: Unit) -> str:
        """From where to where a recording was taken, in words."""
        return way_words(self.session.recordings[recording], unit)


def way_words(recording: Recording, unit: Unit) -> str:
    """Return from where to where a recording was taken.

    Examples
    --------
    >>> way_words(Recording(file="a.wav", kind="noise", to="s1"), "m")
    'at s1'
    >>> way_words(Recording.model_validate({"file": "a.wav", "kind": "sweep", "from": "s1",
    ...     "to": "m1"}), "m")
    's1 to m1'
    """
    start, end = _end(recording.from_, unit), _end(recording.to, unit)
    if not start:
        return f"at {end}" if end else "place not said"
    return f"{start} to {end}" if end else f"from {start}"


def _end(place: str | Sequence[float] | None, unit: Unit) -> str:
    if place is None or isinstance(place, str):
        return place or ""
    return "(" + ", ".join(format_length(one, unit=unit).replace(" ", NBSP) for one in place) + ")"


def value_words(quantity: str, value: float | None, unit: str = "") -> str:
    """Return a value of a promised quantity, with its unit where one is given.

    Examples
    --------
    >>> value_words("sti_outbound", 0.618), value_words("noise_nc", 31.2, "NC")
    ('0.62', 'NC\\xa031')
    >>> value_words("echo_loss_db", None, "dB")
    '–'
    """
    if value is None:
        return NOT_ASSESSED
    words = ASKED[quantity]
    said = figure(value, words.places)
    return f"{words.sign}{said}" if words.sign else with_unit(said, unit)


def spread_words(quantity: str, value: float | None, sigma: float | None, unit: str = "") -> str:
    """Return a value with its standard deviation.

    Examples
    --------
    >>> spread_words("sti_outbound", 0.66, 0.02), spread_words("uniformity_db", 4.0, None, "dB")
    ('0.66 ±\\xa00.02', '4.0\\xa0dB')
    """
    said = value_words(quantity, value)
    if value is None or sigma is None:
        return with_unit(said, "" if ASKED[quantity].sign else unit)
    places = max(ASKED[quantity].places, 1) if quantity == "noise_nc" else ASKED[quantity].places
    both = f"{said} ±{NBSP}{figure(sigma, places)}"
    return with_unit(both, "" if ASKED[quantity].sign else unit)


def promised_words(row: Compared) -> str:
    """Return what was promised of a quantity.

    Examples
    --------
    >>> row = Compared("listening_level_dba", "s1", "dBA", (65.0, 75.0), None, None, None, None,
    ...     None, None, "cannot tell", "", "", ())
    >>> promised_words(row)
    '65–75\\xa0dBA'
    """
    low, high = row.promised
    words = ASKED[row.quantity]
    unit = "" if words.sign else row.unit
    if low is not None and high is not None:
        text = f"{words.sign}{brief(low, words.places)}{EN_DASH}{brief(high, words.places)}"
        return with_unit(text, unit)
    edge = high if low is None else low
    if edge is None:
        return NOT_ASSESSED
    text = figure(edge, 2) if words.places == 2 else brief(edge, words.places)
    return with_unit(f"{'≥' if high is None else '≤'}{NBSP}{words.sign}{text}", unit)


def place_words(row: Compared) -> str:
    """Return where a row is of: a place, or the room."""
    return row.place or "room"


def grouped(rows: Sequence[Compared]) -> list[tuple[Compared, ...]]:
    """Return rows by what is said of them in the same words, to be said once."""
    groups: dict[tuple[str, str], list[Compared]] = {}
    for row in rows:
        groups.setdefault((row.quantity, row.why), []).append(row)
    return [tuple(mine) for mine in groups.values()]


def decide_words(rows: Sequence[Compared]) -> str:
    """Return what would decide some rows; of several ways the first: they differ in their places.

    Examples
    --------
    >>> row = Compared("sti_outbound", "s1", "", (0.6, None), None, None, None, None, None, None,
    ...     "cannot tell", "", "Record it again", ())
    >>> decide_words([row, row])
    'Record it again.'
    """
    ways = list(dict.fromkeys(row.decide for row in rows if row.decide))
    if not ways:
        return ""
    alike = " The same for the other places." if len(ways) > 1 else ""
    return fixed_spaces(f"{full_stop(ways[0])}{alike}")


@dataclass(frozen=True, eq=False)
class Charts:
    """The charts of a session, each None where nothing was measured for it."""

    of: Proven
    room: Room

    @property
    def width(self) -> float:
        """Of all of them. [mm]"""
        return WIDTH[self.room.units]

    @cached_property
    def decay(self) -> Figure | None:
        """Decay times by octave."""
        decays = self.of.verdict.decays
        if not any(one.measured is not None for one in decays):
            return None
        return decay_chart(decays, promise=self.room.targets.reverberation, width=self.width)

    @cached_property
    def curves(self) -> Figure | None:
        """How sound died away at every place whose path was linear."""
        found = {
            name: one.decays
            for name, one in self.of.results.responses.items()
            if self.of.session.linear(name)
        }
        return decay_curves(found, width=self.width)

    @cached_property
    def modulation(self) -> Figure | None:
        """Modulation transfer of the path that is understood worst."""
        name = self.worst_path
        if name is None:
            return None
        measured = self.of.results.responses[name].modulation
        return modulation_chart(
            measured,
            self.of.predicted_modulation.get(name),
            path=self.of.way(name, self.room.units),
            width=self.width,
        )

    @cached_property
    def worst_path(self) -> str | None:
        """The recording with the least STI, of a way out of the room where one is there."""
        known = {
            name: one.sti
            for name, one in self.of.results.responses.items()
            if one.modulation and one.sti is not None and self.of.session.linear(name)
        }
        found = {n: sti for n, sti in known.items() if n in self.of.predicted_modulation} or known
        return min(found, key=lambda name: (found[name], name), default=None)

    @cached_property
    def noise(self) -> Figure | None:
        """Noise against the NC curves."""
        return noise_chart(
            self.of.verdict.noise, promise=self.room.targets.noise_nc, width=self.width
        )

    @cached_property
    def trials(self) -> tuple[Figure, ...]:
        """Of every trial of a canceller."""
        made = (
            trial_chart(one, needed_db=self._needed(name), name=name, width=self.width)
            for name, one in self.of.results.trials.items()
        )
        return tuple(chart for chart in made if chart is not None)

    def _needed(self, recording: str) -> float | None:
        """Promised return loss at the microphone of a recording."""
        to = self.of.session.recordings[recording].to
        row = self.of.verdict.at("echo_loss_db", to) if isinstance(to, str) else None
        return None if row is None else row.promised[0]

    def all(self) -> tuple[Figure, ...]:
        """Every chart there is, and the map."""
        found = (self.of.map, self.decay, self.curves, self.modulation, self.noise, *self.trials)
        return tuple(one for one in found if one is not None)

"""What all path strips are made of: stations in a line, cells under them, workings behind these."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal, TypeAlias

from wellheard.bands import OCTAVES
from wellheard.dossier.words import MINUS, NBSP, NOT_ASSESSED, figure, octave
from wellheard.predict.evidence import Bands, Evidence
from wellheard.predict.stages import Stage, Working
from wellheard.predict.wayback import DelayPart, LevelStage
from wellheard.units import Unit, format_length

Way: TypeAlias = Literal["outbound", "inbound", "echo", "lift"]

TITLES: Final[Mapping[Way, str]] = {
    "outbound": "Voice path, outbound",
    "inbound": "Voice path, inbound",
    "echo": "Echo path",
    "lift": "Voice lift",
}

NOTHING = "there is nothing of it here"

LIMITS: Final = {
    "Mouth": "A talker of the stated effort in the free field; people differ from it by 3 dB (σ).",
    "Air": "Sound bends round corners of the room and over cupboards and low obstacles; tables, "
    "chairs and people are not in its way.",
    "Early": "Energies, without interference, up to 60 ms after the direct sound; surfaces are "
    "flat, and furniture mirrors nothing.",
    "Late": "Energies: an account of the room above its Schroeder frequency, {schroeder} here.",
    "Capsule": "Patterns of the first order, or of the beam, in the far field.",
    "Noise": "Steady noise; a source is a point and sends the same every way but for its "
    "directivity index.",
    "Mixer": "The mixer has settled on this talker, and nobody else talks.",
    "Far end": "One flat gain; codecs and whatever else is done to the signal are outside.",
    "Promise": "The range holds what the inputs and the model leave open, not mistakes in the "
    "document.",
    "Electronics": "Average speech as set up by this design; peaks are 12 to 18 dB above it. "
    "Equalisers, levellers and limiters are outside.",
    "Delay": "Delays of sheets and of the document; a network, a computer and a meeting service "
    "differ from call to call.",
    "Loudspeaker": "Flat on its axis from 125 Hz to 8 kHz, all loudspeakers driven alike but for "
    "the trims of the document.",
    "Ear": "Ears hear alike from all sides; energies of several loudspeakers add.",
    "Echo": "Working levels as set up by this design, one talker at a time; a real canceller may "
    "fall short when two talk at once.",
    "Lift": "What comes round the loop a second time is left out; energies of the natural and the "
    "lifted voice add.",
    "": "As the figures that it is made of.",
}
"""Where the figures of each stage end to be valid."""

PLACES: Final = {"": 3, "s": 3, "m": 2, "m²": 2, "1/m": 5}
"""Decimals of a working by its unit; one for any other."""


@dataclass(frozen=True)
class Cell:
    """One figure of the strip with its working, or why there is none."""

    value: float | None
    places: int = 1
    unit: str = ""
    made: Working | None = None
    stage: str = ""
    why: str = ""


NONE: Final = Cell(None, why=NOTHING)


@dataclass(frozen=True)
class Station:
    """One station of the line.

    Attributes
    ----------
    name, under : str
        What it is, and what stands there in this room.
    cells : tuple of Cell
        One for every row of the strip.
    after : str
        What happens on the way to the next one.
    stages : tuple of str
        Names of the explained stages that are opened here.
    """

    name: str
    under: str
    cells: tuple[Cell, ...]
    after: str = ""
    stages: tuple[str, ...] = ()


Rows: TypeAlias = Sequence[tuple[str, str]]
"""Names of the rows, each with what it is of."""


def assembled(
    way: Way,
    *,
    evidence: Evidence,
    rows: Rows,
    stations: Sequence[Station],
    stages: Iterable[Stage] = (),
    under: str,
    end: str,
    state: str,
    seat: str,
    line: Sequence[Sequence[float]],
    line_words: str,
    title: str = "",
    note: str = "",
    binds: str = "",
    microphone: str = "",
) -> dict[str, Any]:
    """A strip as JSON has it.

    Parameters
    ----------
    way : str
        Which path.
    evidence : Evidence
        Of the room, for the limits of its figures.
    rows, stations, stages
        What it is made of; every station has a cell for every row.
    title, under, end, note : str
        What it is, whose it is, what arrives, and what is always to be said beside it.
    state : str
        How what is promised of it is kept.
    seat : str
        Item path of the place.
    line : sequence of points
        Its way on the plan, leg by leg: from and to of each. [m]
    line_words : str
        Length of the longest leg.
    binds : str
        Name of the station where what binds arises; '' for none.
    microphone : str
        Item path of the microphone on it; '' without one.
    """
    book = _Book(evidence)
    cells = [
        {
            "name": name,
            "word": word,
            "cells": [book.cell(station.cells[index]) for station in stations],
        }
        for index, (name, word) in enumerate(rows)
    ]
    opened = tuple(stages)
    names = [station.name for station in stations]
    return {
        "way": way,
        "title": title or TITLES[way],
        "under": under,
        "end": end,
        "note": note,
        "why": "",
        "stations": [
            {
                "name": station.name,
                "under": station.under,
                "workings": book.all_of(opened, station.stages),
            }
            for station in stations
        ],
        "between": [station.after for station in stations[:-1]],
        "rows": cells,
        "binds": names.index(binds) if binds in names else None,
        "working": book.entries,
        "line": [[round(float(v), 4) for v in at[:2]] for at in line],
        "line_words": line_words,
        "seat": seat,
        "microphone": microphone,
        "state": state,
    }


def unknown(
    way: Way, *, rows: Rows, names: Sequence[str], under: str, seat: str, why: str
) -> dict[str, Any]:
    """The strip of a path that is not there or not assessed: stations, dashes and the reason."""
    dash = {"figure": NOT_ASSESSED, "unit": "", "working": None, "why": why}
    return {
        "way": way,
        "title": TITLES[way],
        "under": under,
        "end": f"not assessed: {why}",
        "note": "",
        "why": why,
        "stations": [{"name": name, "under": "", "workings": []} for name in names],
        "between": [""] * (len(names) - 1),
        "rows": [{"name": name, "word": word, "cells": [dash] * len(names)} for name, word in rows],
        "binds": None,
        "working": {},
        "line": [],
        "line_words": "",
        "seat": seat,
        "microphone": "",
        "state": "not assessed",
    }


# ---- cells -------------------------------------------------------------------------------


def given(
    value: float,
    quantity: str,
    formula: str,
    source: str,
    *,
    unit: str,
    stage: str = "",
    inputs: Sequence[tuple[str, str]] = (),
    places: int = 1,
) -> Cell:
    """A figure of the evidence with its working."""
    made = Working(quantity, value, unit, formula, tuple(inputs), source)
    return Cell(value, places, unit, made, stage)


INSIDE = "inside the electronics: the delay of a device counts where the signal leaves it"


def inside() -> Cell:
    """Delay at a station within a device."""
    return Cell(None, why=INSIDE)


def late(parts: Sequence[DelayPart], quantity: str) -> Cell:
    """Delays so far, part by part."""
    inputs = tuple((f"{p.name} ({p.at})", f"{figure(p.ms, 1)}{NBSP}ms, {p.source}") for p in parts)
    return given(
        sum(part.ms for part in parts),
        quantity,
        "sum of its parts" if len(parts) != 1 else parts[0].source,
        "geometry, data sheets and the document; every part says which",
        unit="ms",
        stage="Delay",
        inputs=inputs,
    )


def of_stage(stage: LevelStage, shift_db: float = 0.0, *, whose: str = "") -> dict[str, Cell]:
    """Level, noise and spare of one stage of a level diagram.

    Parameters
    ----------
    stage : LevelStage
        Of a diagram of the evidence.
    shift_db : float
        Of this voice over the one that the diagram is made for.
    whose : str
        Whose voice that is, in words.
    """
    why = stage.formula.removeprefix("not assessed: ")
    inputs = [(stage.name, stage.at)]
    if whose:
        inputs.append((whose, signed(shift_db)))

    def cell(value: float | None, quantity: str, formula: str, lacking: str, unit: str) -> Cell:
        if value is None:
            return Cell(None, why=lacking)
        return given(
            value, quantity, formula, stage.source, unit=unit, stage="Electronics", inputs=inputs
        )

    level = None if stage.level is None else stage.level + shift_db
    spare = None if stage.headroom_db is None else stage.headroom_db - shift_db
    clip = "" if stage.clip is None else f"{figure(stage.clip, 1)}{NBSP}{stage.unit}"
    return {
        "level": cell(level, f"average speech at the {stage.name}", stage.formula, why, stage.unit),
        "noise": cell(
            stage.noise,
            f"noise at the {stage.name}",
            stage.formula,
            why if stage.level is None else "the noise of this stage is not known",
            stage.unit,
        ),
        "spare": cell(
            spare,
            "from average speech to overload",
            f"overload at {clip} − level",
            why if stage.level is None else "nothing states where it overloads",
            "dB",
        ),
    }


# ---- words -------------------------------------------------------------------------------


def signed(value: float) -> str:
    """A step in decibels with its sign.

    Examples
    --------
    >>> signed(-4.93), signed(12.0), signed(0.0)
    ('−4.9\\xa0dB', '+12.0\\xa0dB', '0.0\\xa0dB')
    """
    text = figure(value, 1)
    sign = "" if text.startswith(MINUS) or not text.strip("0.") else "+"
    return f"{sign}{text}{NBSP}dB"


def length(metres: float, unit: Unit) -> str:
    """A length in words that no line break splits."""
    return format_length(metres, unit=unit).replace(" ", NBSP)


def spectrum(values: Bands) -> str:
    """Octave levels in a line."""
    return ", ".join(figure(value, 1) for value in values) + " dB"


def level_words(value: float, unit: str) -> str:
    """A level with its unit."""
    return f"{figure(value, 1)}{NBSP}{unit}"


class _Book:
    """Workings by their key, each written once."""

    def __init__(self, evidence: Evidence) -> None:
        self._schroeder = f"{evidence.reverberation.schroeder_frequency:.0f} Hz"
        self._keys: dict[tuple[str, int], str] = {}
        self._kept: list[Working] = []  # so that no two ever have the same identity
        self.entries: dict[str, dict[str, Any]] = {}

    def cell(self, cell: Cell) -> dict[str, Any]:
        """One figure; an en dash with its reason where there is none."""
        if cell.value is None or cell.made is None:
            return {"figure": NOT_ASSESSED, "unit": "", "working": None, "why": cell.why}
        return {
            "figure": figure(cell.value, cell.places),
            "unit": cell.unit,
            "working": self._key(cell.made, cell.stage),
            "why": "",
        }

    def all_of(self, stages: Sequence[Stage], names: Collection[str]) -> list[str]:
        """Everything that can be opened at a station."""
        return [
            self._key(made, stage.name)
            for stage in stages
            if stage.name in names
            for made in stage.rows
        ]

    def _key(self, made: Working, stage: str) -> str:
        same = (stage, id(made))
        if same not in self._keys:
            self._kept.append(made)
            self._keys[same] = f"w{len(self._keys) + 1}"
            self.entries[self._keys[same]] = self._entry(made, stage)
        return self._keys[same]

    def _entry(self, made: Working, stage: str) -> dict[str, Any]:
        places = PLACES.get(made.unit, 1)
        value, bands = "", list[list[str]]()
        if isinstance(made.value, tuple):
            each = zip(OCTAVES, made.value, strict=True)
            bands = [[octave(band), figure(one, places)] for band, one in each]
        else:
            value = figure(made.value, places)
        return {
            "quantity": made.quantity,
            "value": value,
            "bands": bands,
            "unit": made.unit,
            "formula": made.formula,
            "inputs": [list(pair) for pair in made.inputs],
            "source": made.source,
            "limits": LIMITS.get(stage, LIMITS[""]).format(schroeder=self._schroeder),
        }

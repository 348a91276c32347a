"""The path strip: one voice from the mouth to the far end, station by station, with its working."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from wellheard.acoustics import levels
from wellheard.arrays import Array
from wellheard.bands import OCTAVES
from wellheard.dossier.words import MINUS, NBSP, NOT_ASSESSED, figure, octave, percent
from wellheard.predict import working
from wellheard.predict.evidence import Bands, Evidence, Outbound
from wellheard.predict.scene import Scene
from wellheard.predict.stages import Stage, Working
from wellheard.room.divide import spoken
from wellheard.room.noise import Background
from wellheard.units import Unit, format_length
from wellheard.workflow.sheets import device_label

STATIONS: Final = ("Mouth", "Air", "Capsule", "Gain", "Mixer", "Canceller", "Far end")
MOUTH, THE_AIR, CAPSULE, GAIN, MIXER, CANCELLER, FAR_END = range(len(STATIONS))

ROWS: Final = (
    ("Level", "speech"),
    ("Noise", "room, sources, circuits"),
    ("Delay", "from the mouth"),
    ("Spare", "before overload"),
)
LEVEL, NOISE, DELAY, SPARE = range(len(ROWS))

STATION_OF: Final = {
    "Mouth": MOUTH,
    "Air": THE_AIR,
    "Early": THE_AIR,
    "Late": THE_AIR,
    "Capsule": CAPSULE,
    "Noise": CAPSULE,
    "Mixer": MIXER,
    "Far end": FAR_END,
    "Promise": FAR_END,
}
"""Where on the strip the stages of an explained path are."""

BINDS: Final = {
    "direct_to_reverberant_db": THE_AIR,
    "speech_to_noise_db": CAPSULE,
    "sti_outbound": FAR_END,
}
"""Station of what a target speaks of."""

GAINS = "gain is not designed yet: levels of the electronics are not predicted"
CANCELLERS = "the canceller is not designed yet"
LATENCY = "what the electronics take is not predicted yet"
OVERLOAD = "how much is left before overload follows from the gain, which is not designed yet"
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
    "": "As the figures that it is made of.",
}
"""Where the figures of each stage end to be valid."""


@dataclass(frozen=True)
class Cell:
    """One figure of the strip with its working, or why there is none."""

    value: float | None
    places: int = 1
    unit: str = ""
    made: Working | None = None
    stage: str = ""
    why: str = ""


def strip(
    scene: Scene, evidence: Evidence, row: Outbound, *, unit: Unit, arrangement: str = ""
) -> dict[str, Any]:
    """One outbound path as a screen shows it.

    Parameters
    ----------
    scene : Scene
        The room, or the space in which the talking point is worst.
    evidence : Evidence
        Of the same.
    row : Outbound
        The row of the talking point in that evidence.
    unit : {"m", "ft"}
        Of lengths in words.
    arrangement : str
        Name of the space in a room that divides.
    """
    stages = working.outbound_stages(scene, evidence, row)
    book = _Book(evidence)
    levels_, noises = _levels(scene, evidence, row, stages)
    cells = (levels_, noises, _delays(scene, row), _spares())
    rows = [
        {"name": name, "word": word, "cells": [book.cell(cell) for cell in line]}
        for (name, word), line in zip(ROWS, cells, strict=True)
    ]
    placed = next(m for m in evidence.microphones if m.id == row.path.microphone)
    number = evidence.microphones.index(placed) + 1
    label = device_label(placed.id, "M", number)
    away = _length(row.path.distance, unit)
    return {
        "title": "Voice path, outbound",
        "under": f"{row.talker.id} to the far end, through {label}"
        + (f" ({spoken(arrangement)})" if arrangement else ""),
        "end": end_words(row),
        "why": "",
        "stations": [
            {"name": name, "under": under, "workings": book.all_of(stages, index)}
            for index, (name, under) in enumerate(
                zip(STATIONS, _unders(scene, evidence, row, label, away), strict=True)
            )
        ],
        "between": _between(scene, row, levels_),
        "rows": rows,
        "binds": BINDS.get(row.binds),
        "working": book.entries,
        "line": [[round(v, 4) for v in at[:2]] for at in (row.talker.at, placed.at)],
        "line_words": away,
        "seat": row.talker.owner,
        "microphone": f"devices.{placed.id}",
        "state": row.state,
    }


def unknown(seat: str, owner: str, why: str) -> dict[str, Any]:
    """The strip of a talking point whose path is not assessed: stations, dashes and the reason."""
    dash = {"figure": NOT_ASSESSED, "unit": "", "working": None, "why": why}
    return {
        "title": "Voice path, outbound",
        "under": f"{seat} to the far end",
        "end": f"not assessed: {why}",
        "why": why,
        "stations": [{"name": name, "under": "", "workings": []} for name in STATIONS],
        "between": [""] * (len(STATIONS) - 1),
        "rows": [
            {"name": name, "word": word, "cells": [dash] * len(STATIONS)} for name, word in ROWS
        ],
        "binds": None,
        "working": {},
        "line": [],
        "line_words": "",
        "seat": owner,
        "microphone": "",
        "state": "not assessed",
    }


def end_words(row: Outbound) -> str:
    """What arrives at the far end, in one line."""
    sti = row.sti
    parts = [
        f"at the far end STI {figure(sti.value, 2)}, {row.rating}, band {row.category}",
        f"10–90{NBSP}%: {figure(sti.low, 2)}–{figure(sti.high, 2)}",
    ]
    if row.binds:
        parts.append(f"chance {percent(row.chance)}")
    return " · ".join(parts)


# ---- figures -----------------------------------------------------------------------------


def _levels(
    scene: Scene, evidence: Evidence, row: Outbound, stages: Sequence[Stage]
) -> tuple[list[Cell], list[Cell]]:
    """Speech and noise at every station."""
    path = row.path
    gain = Cell(None, why=GAINS)
    canceller = Cell(None, why=CANCELLERS)
    speech_db = np.asarray(scene.speech_db)
    direct = _weighted(speech_db + np.asarray(path.direct_db))
    n = path.open_microphones
    reflected = levels.energy(np.asarray(path.reverberant_db)) / n
    one_db = speech_db + levels.energy_level_db(
        levels.energy(np.asarray(path.direct_db)) + reflected
    )
    at_mouth, after_mixer = _row(stages, "Mouth", 1), _row(stages, "Capsule", 3)
    speech = [
        Cell(_number(at_mouth), unit="dBA", made=at_mouth, stage="Mouth"),
        Cell(direct, unit="dBA", made=_direct(direct), stage="Air"),
        _one_microphone(one_db),
        gain,
        Cell(_number(after_mixer), unit="dBA", made=after_mixer, stage="Mixer"),
        canceller,
        _heard("speech at the far ear, A-weighted", path.far_end_speech_db, "speech + gain"),
    ]
    parts = {origin: _weighted(np.asarray(db)) for origin, db in path.noise_parts_db.items()}
    together = float(levels.energy_level_db(levels.energy(np.array(list(parts.values()))).sum()))
    place = evidence.microphone_noise_dba[path.microphone]
    noises = [
        Cell(None, why=NOTHING),
        Cell(place, unit="dBA", made=_noise_at(place, path.microphone), stage="Noise"),
        Cell(together, unit="dBA", made=_noise_parts(together, parts), stage="Noise"),
        gain,
        _after_mixer(path.noise_level_dba, together, n),
        canceller,
        _heard("noise at the far ear, A-weighted", path.far_end_noise_db, _FAR_NOISE),
    ]
    return speech, noises


_FAR_NOISE = "10 lg(10^((noise + gain)/10) + 10^(far-end room noise/10)), then A-weighted"


def _direct(value: float) -> Working:
    return Working(
        "direct sound at the capsule, A-weighted",
        value,
        "dBA",
        "10 lg Σ 10^((L + direct + A)/10)",
        (("L", "speech at 1 m by octave"), ("direct", "direct sound re 1 m in front")),
        "IEC 61672-1 [L]; both are opened at their stations",
    )


def _one_microphone(one_db: Array) -> Cell:
    value = _weighted(one_db)
    made = Working(
        "speech at the capsule, direct and reflected, A-weighted",
        value,
        "dBA",
        "10 lg Σ 10^((L + 10 lg(direct + reflected) + A)/10), of this microphone alone",
        (("L", "speech at 1 m by octave"), ("reflected", "early and late, n = 1")),
        "energy sum; IEC 61672-1 [L]",
    )
    return Cell(value, unit="dBA", made=made, stage="Capsule")


def _heard(name: str, octaves_db: Bands, formula: str) -> Cell:
    value = _weighted(np.asarray(octaves_db))
    by_octave = (("by octave", _spectrum(octaves_db)),)
    made = Working(name, value, "dBA", formula, by_octave, "energy sum; IEC 61672-1 [L]")
    return Cell(value, unit="dBA", made=made, stage="Far end")


def _noise_at(value: float, microphone: str) -> Working:
    return Working(
        "noise at the place of the microphone",
        value,
        "dBA",
        "background and every source: its direct sound, and the steady diffuse field",
        (("place", microphone), ("left out", "the microphone’s pattern and its own noise")),
        "energy sum; IEC 61672-1 [L]",
    )


def _noise_parts(value: float, parts: dict[str, float]) -> Working:
    return Working(
        "noise at the capsule",
        value,
        "dBA",
        "10 lg Σ 10^(part/10), with the microphone’s pattern and its own noise",
        tuple((origin, f"{figure(level, 1)} dBA") for origin, level in parts.items()),
        "energy sum; IEC 61672-1 [L]; every part is opened below",
    )


def _after_mixer(value: float, one: float, n: float) -> Cell:
    made = Working(
        "noise after the mixer, A-weighted",
        value,
        "dBA",
        "noise at the capsule + 10 lg n",
        (("noise at the capsule", f"{figure(one, 1)} dBA"), ("n", f"{n:.3f} open microphones")),
        "energy sum",
    )
    return Cell(value, unit="dBA", made=made, stage="Mixer")


def _delays(scene: Scene, row: Outbound) -> list[Cell]:
    speed, distance = scene.propagation.speed, row.path.distance
    value = 1000 * distance / speed
    made = Working(
        "delay of the way through the air",
        value,
        "ms",
        "r/c",
        (("r", f"{distance:.2f} m"), ("c", f"{speed:.1f} m/s at the room’s temperature")),
        "geometry and the speed of sound",
    )
    start = Working("delay at the mouth", 0.0, "ms", "counted from here", (), "definition")
    unknown_ = Cell(None, why=LATENCY)
    return [
        Cell(0.0, 0, "ms", start, "Mouth"),
        Cell(value, 1, "ms", made, "Air"),
        Cell(value, 1, "ms", made, "Air"),
        *[unknown_] * (len(STATIONS) - 3),
    ]


def _spares() -> list[Cell]:
    return [
        Cell(None, why=NOTHING if index in (MOUTH, THE_AIR, FAR_END) else OVERLOAD)
        for index in range(len(STATIONS))
    ]


def _weighted(octaves_db: Array) -> float:
    return float(levels.a_weighted_level_db(octaves_db))


def _row(stages: Sequence[Stage], name: str, index: int) -> Working:
    return next(stage for stage in stages if stage.name == name).rows[index]


def _number(made: Working) -> float:
    if isinstance(made.value, tuple):
        raise TypeError(f"{made.quantity} is no single figure")
    return made.value


# ---- words -------------------------------------------------------------------------------


def _unders(
    scene: Scene, evidence: Evidence, row: Outbound, label: str, away: str
) -> tuple[str, ...]:
    room = scene.room
    placed = next(m for m in evidence.microphones if m.id == row.path.microphone)
    kind = "gating" if scene.sharing == "gating" else "shares its gain"
    n = figure(row.path.open_microphones, 2)
    return (
        f"{room.people.effort} effort",
        f"{away} to {label}",
        placed.product.id,
        "not designed yet",
        f"{kind}, {n} open",
        "not designed yet",
        f"listener, {_told(room.far_end.noise)}",
    )


def _told(noise: Background) -> str:
    if noise.nc is not None:
        return f"NC-{noise.nc:g}"
    return f"{noise.dba:g}{NBSP}dBA" if noise.dba is not None else "noise by octave"


def _between(scene: Scene, row: Outbound, speech: Sequence[Cell]) -> list[str]:
    """What happens from each station to the next."""
    mouth, air, capsule, mixer = (
        float(speech[index].value or 0.0) for index in (MOUTH, THE_AIR, CAPSULE, MIXER)
    )
    count = row.path.open_microphones
    far = scene.room.far_end.listening_level_dba
    return [
        f"distance, turn, pattern {_signed(air - mouth)}",
        f"room {_signed(capsule - air)}",
        NOT_ASSESSED,
        f"open microphones {_signed(mixer - capsule)}" if count > 1 else "one microphone open",
        NOT_ASSESSED,
        f"set to {far:g}{NBSP}dBA",
    ]


def _signed(value: float) -> str:
    text = figure(value, 1)
    sign = "" if text.startswith(MINUS) or not text.strip("0.") else "+"
    return f"{sign}{text}{NBSP}dB"


def _length(metres: float, unit: Unit) -> str:
    return format_length(metres, unit=unit).replace(" ", NBSP)


def _spectrum(values: Bands) -> str:
    return ", ".join(figure(value, 1) for value in values) + " dB"


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

    def all_of(self, stages: Sequence[Stage], station: int) -> list[str]:
        """Everything that can be opened at a station."""
        return [
            self._key(made, stage.name)
            for stage in stages
            if STATION_OF[stage.name] == station
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
        several = isinstance(made.value, tuple)
        places = PLACES.get(made.unit, 1)
        return {
            "quantity": made.quantity,
            "value": "" if several else figure(float(made.value), places),  # type: ignore[arg-type]
            "bands": [
                [octave(band), figure(value, places)]
                for band, value in zip(OCTAVES, made.value, strict=True)  # type: ignore[arg-type]
            ]
            if several
            else [],
            "unit": made.unit,
            "formula": made.formula,
            "inputs": [list(pair) for pair in made.inputs],
            "source": made.source,
            "limits": LIMITS.get(stage, LIMITS[""]).format(schroeder=self._schroeder),
        }


PLACES: Final = {"": 3, "s": 3, "m": 2, "m²": 2, "1/m": 5}
"""Decimals of a working by its unit; one for any other."""

"""The outbound path strip: one voice from the mouth to the far end, station by station."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

import numpy as np

from wellheard.acoustics import levels
from wellheard.arrays import Array
from wellheard.dossier.words import NBSP, figure, percent
from wellheard.predict import working
from wellheard.predict.delays import outbound_parts
from wellheard.predict.evidence import Bands, Evidence, Outbound, PlacedMicrophone
from wellheard.predict.scene import Scene
from wellheard.predict.stages import Stage, Working
from wellheard.predict.wayback import DelayPart, LevelStage
from wellheard.room.divide import spoken
from wellheard.room.noise import Background
from wellheard.schedules.labels import room_names
from wellheard.units import Unit
from wellheard.workflow.stations import (
    NONE,
    Cell,
    Station,
    assembled,
    given,
    inside,
    late,
    length,
    of_stage,
    signed,
    spectrum,
)

STATIONS: Final = ("Mouth", "Air", "Capsule", "Gain", "Mixer", "Canceller", "Far end")

ROWS: Final = (
    ("Level", "speech"),
    ("Noise", "room, sources, circuits"),
    ("Delay", "from the mouth"),
    ("Spare", "before overload"),
)

OPENED: Final = {
    "Mouth": ("Mouth",),
    "Air": ("Air", "Early", "Late"),
    "Capsule": ("Capsule", "Noise"),
    "Mixer": ("Mixer",),
    "Far end": ("Far end", "Promise"),
}
"""Stages of an explained path by the station where they are opened."""

BINDS: Final = {
    "direct_to_reverberant_db": "Air",
    "speech_to_noise_db": "Capsule",
    "sti_outbound": "Far end",
}
"""Station of what a target speaks of."""

THERE = "overload there is not known"
WHOSE = "this voice over the mean of those that the gain is set for"


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
    placed = next(m for m in evidence.microphones if m.id == row.path.microphone)
    label = room_names(evidence.room)[placed.id]
    away = length(row.path.distance, unit)
    found = _Outbound(scene, evidence, row, placed, stages)
    return assembled(
        "outbound",
        evidence=evidence,
        rows=ROWS,
        stations=found.stations(f"{away} to {label}"),
        stages=stages,
        under=f"{row.talker.id} to the far end, through {label}"
        + (f" ({spoken(arrangement)})" if arrangement else ""),
        end=end_words(row),
        state=row.state,
        seat=row.talker.owner,
        line=(row.talker.at, placed.at),
        line_words=away,
        binds=BINDS.get(row.binds, ""),
        microphone=f"devices.{placed.id}",
    )


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


class _Outbound:
    """Stations of one voice through one microphone."""

    def __init__(
        self,
        scene: Scene,
        evidence: Evidence,
        row: Outbound,
        placed: PlacedMicrophone,
        stages: Sequence[Stage],
    ) -> None:
        self.scene, self.evidence, self.row, self.placed = scene, evidence, row, placed
        self.stages = stages
        diagram = next(d for d in evidence.levels if d.path == "outbound" and d.device == placed.id)
        self.diagram = diagram.stages
        self.recommended, self.stated = diagram.recommended_gain_db, diagram.stated_gain_db
        path = row.path
        self.mouth = _row(stages, "Mouth", 1)
        self.after_mixer = _row(stages, "Capsule", 3)
        speech_db = np.asarray(scene.speech_db)
        self.direct = _weighted(speech_db + np.asarray(path.direct_db))
        reflected = levels.energy(np.asarray(path.reverberant_db)) / path.open_microphones
        self.one = _weighted(
            speech_db
            + levels.energy_level_db(levels.energy(np.asarray(path.direct_db)) + reflected)
        )
        self.rise = _number(self.after_mixer) - self.one
        self.parts = (
            DelayPart(
                "air",
                f"{row.talker.id} to {placed.id}",
                1000 * path.distance / scene.propagation.speed,
                "distance over the speed of sound",
            ),
            *outbound_parts(evidence.signal, placed),
        )

    def stations(self, way: str) -> list[Station]:
        """All of them in their order; ``way`` says how far it is to the microphone."""
        order = [s.name for s in self.diagram if s.name in ("mixer", "canceller")]
        behind = [self._mixer, self._canceller]
        if order[:1] == ["canceller"]:
            behind.reverse()
        far = self.scene.room.far_end.listening_level_dba
        electronics = [made(last=index == len(behind) - 1) for index, made in enumerate(behind)]
        return [
            *self._in_air(way),
            self._gain(electronics[0].name),
            *(self._lead_on(one, far) for one in electronics),
            self._far_end(),
        ]

    def _lead_on(self, station: Station, far: float) -> Station:
        """The same with what happens behind it."""
        return station if station.after else _after(station, f"set to {far:g}{NBSP}dBA")

    # In the air ------------------------------------------------------------------------------

    def _in_air(self, way: str) -> list[Station]:
        path, room = self.row.path, self.scene.room
        air = late(self.parts[:1], "delay of the way through the air")
        zero = given(0.0, "delay at the mouth", "counted from here", "definition", unit="ms")
        parts = {origin: _weighted(np.asarray(db)) for origin, db in path.noise_parts_db.items()}
        together = float(
            levels.energy_level_db(levels.energy(np.array(list(parts.values()))).sum())
        )
        place = self.evidence.microphone_noise_dba[path.microphone]
        mouth = Cell(_number(self.mouth), unit="dBA", made=self.mouth, stage="Mouth")
        return [
            Station(
                "Mouth",
                f"{room.people.effort} effort",
                (mouth, NONE, Cell(0.0, 0, "ms", zero.made, "Mouth"), NONE),
                f"distance, turn, pattern {signed(self.direct - _number(self.mouth))}",
                OPENED["Mouth"],
            ),
            Station(
                "Air",
                way,
                (_direct(self.direct), _noise_at(place, path.microphone), air, NONE),
                f"room {signed(self.one - self.direct)}",
                OPENED["Air"],
            ),
            Station(
                "Capsule",
                self.placed.product.id,
                (_one_microphone(self.one), _noise_parts(together, parts), air, self._overload()),
                self._gain_words(),
                OPENED["Capsule"],
            ),
        ]

    def _overload(self) -> Cell:
        clip = self.diagram[0].clip
        if clip is None:
            return Cell(None, why=f"the sheet of {self.placed.product.id} states no overload")
        return given(
            clip - self.one,
            "from average speech to overload of the microphone",
            "overload − speech at the capsule",
            "data sheet",
            unit="dB",
            stage="Electronics",
            inputs=(("overload", f"{figure(clip, 1)}{NBSP}dB"),),
        )

    # In the electronics ----------------------------------------------------------------------

    @property
    def _shift_db(self) -> float:
        """Of this voice over the one that the gain is set for."""
        return self.one - (self.diagram[0].level or self.one)

    @property
    def _converted(self) -> LevelStage:
        """The last stage before mixer and canceller."""
        end = next(
            i for i, s in enumerate(self.diagram) if s.name in ("mixer", "canceller", "send")
        )
        return self.diagram[end - 1]

    def _gain(self, then: str) -> Station:
        stage = self._converted
        cells = of_stage(stage, self._shift_db, whose=WHOSE)
        mine = [p for p in self.parts if p.name in ("air", "microphone")]
        after = self._opening if then == "Mixer" else "speech passes"
        return Station(
            "Gain",
            f"at {stage.at.removeprefix('devices.')}",
            (cells["level"], cells["noise"], late(mine, "delay at the output"), cells["spare"]),
            after,
        )

    def _gain_words(self) -> str:
        if self.stated is not None:
            return f"stated {signed(self.stated)}"
        if self.recommended is not None:
            return f"recommended {signed(self.recommended)}"
        return "set by the device"

    @property
    def _opening(self) -> str:
        if self.row.path.open_microphones > 1:
            return f"open microphones {signed(self.rise)}"
        return "one microphone open"

    def _shifted(self, name: str, level_db: float, noise_db: float, said: str) -> list[Cell]:
        """Level, noise and spare behind the gain, each as it is there and a step on."""
        before = of_stage(self._converted, self._shift_db, whose=WHOSE)
        level = _on(before["level"], level_db, f"speech {name}", said)
        noise = _on(before["noise"], noise_db, f"noise {name}", said)
        return [level, noise, _on(before["spare"], -level_db, f"spare {name}", said)]

    def _mixer(self, *, last: bool) -> Station:
        n = self.row.path.open_microphones
        kind = "gating" if self.scene.sharing == "gating" else "shares its gain"
        open_db = float(10 * np.log10(n))
        level, noise, spare = self._shifted(
            "after the mixer", self.rise, open_db, f"n = {n:.3f} open microphones"
        )
        return Station(
            "Mixer",
            f"{kind}, {figure(n, 2)} open",
            (level, noise, self._electronic(last=last), spare),
            "" if last else "speech passes",
            OPENED["Mixer"],
        )

    def _canceller(self, *, last: bool) -> Station:
        found = next(iter(self.evidence.signal.cancellers(self.placed.id)), None)
        mixed = last
        after = "" if last else self._opening
        delay = self._electronic(last=last)
        if found is None:
            none = Cell(None, why=f"nothing cancels echo on the way of {self.placed.id}")
            return Station("Canceller", "none", (none, none, delay, none), after)
        tail = found.tail
        n = self.row.path.open_microphones
        level, noise, spare = self._shifted(
            "after the canceller",
            self.rise if mixed else 0.0,
            float(10 * np.log10(n)) if mixed else 0.0,
            "a canceller passes local speech",
        )
        return Station(
            "Canceller",
            f"in {found.device}" if tail is None else f"tail {figure(tail, 2)}{NBSP}s",
            (level, noise, delay, spare),
            after,
        )

    def _electronic(self, *, last: bool) -> Cell:
        return late(self.parts, "delay of the way to the computer") if last else inside()

    def _far_end(self) -> Station:
        path, far = self.row.path, self.scene.room.far_end
        delay = given(
            far.one_way_delay_ms,
            "delay of the call, mouth to ear",
            "stated; the delay in this room is inside it",
            "far_end.one_way_delay_ms of the document",
            unit="ms",
            stage="Delay",
        )
        return Station(
            "Far end",
            f"listener, {_told(far.noise)}",
            (
                _heard(
                    "speech at the far ear, A-weighted", path.far_end_speech_db, "speech + gain"
                ),
                _heard("noise at the far ear, A-weighted", path.far_end_noise_db, _FAR_NOISE),
                delay,
                Cell(None, why=THERE),
            ),
            stages=OPENED["Far end"],
        )


# ---- figures -----------------------------------------------------------------------------

_FAR_NOISE = "10 lg(10^((noise + gain)/10) + 10^(far-end room noise/10)), then A-weighted"


def _after(station: Station, words: str) -> Station:
    return Station(station.name, station.under, station.cells, words, station.stages)


def _on(cell: Cell, by_db: float, quantity: str, said: str) -> Cell:
    """A figure a step further on."""
    if cell.value is None:
        return cell
    return given(
        cell.value + by_db,
        quantity,
        f"as before it, {signed(by_db)}",
        "level diagram of this design; energy sum",
        unit=cell.unit,
        stage="Electronics",
        inputs=(("before it", f"{figure(cell.value, 1)}{NBSP}{cell.unit}"), ("there", said)),
    )


def _direct(value: float) -> Cell:
    return given(
        value,
        "direct sound at the capsule, A-weighted",
        "10 lg Σ 10^((L + direct + A)/10)",
        "IEC 61672-1 [L]; both are opened at their stations",
        unit="dBA",
        stage="Air",
        inputs=(("L", "speech at 1 m by octave"), ("direct", "direct sound re 1 m in front")),
    )


def _one_microphone(value: float) -> Cell:
    return given(
        value,
        "speech at the capsule, direct and reflected, A-weighted",
        "10 lg Σ 10^((L + 10 lg(direct + reflected) + A)/10), of this microphone alone",
        "energy sum; IEC 61672-1 [L]",
        unit="dBA",
        stage="Capsule",
        inputs=(("L", "speech at 1 m by octave"), ("reflected", "early and late, n = 1")),
    )


def _heard(name: str, octaves_db: Bands, formula: str) -> Cell:
    return given(
        _weighted(np.asarray(octaves_db)),
        name,
        formula,
        "energy sum; IEC 61672-1 [L]",
        unit="dBA",
        stage="Far end",
        inputs=(("by octave", spectrum(octaves_db)),),
    )


def _noise_at(value: float, microphone: str) -> Cell:
    return given(
        value,
        "noise at the place of the microphone",
        "background and every source: its direct sound, and the steady diffuse field",
        "energy sum; IEC 61672-1 [L]",
        unit="dBA",
        stage="Noise",
        inputs=(
            ("place", microphone),
            ("left out", "the microphone’s pattern and its own noise"),
        ),
    )


def _noise_parts(value: float, parts: dict[str, float]) -> Cell:
    return given(
        value,
        "noise at the capsule",
        "10 lg Σ 10^(part/10), with the microphone’s pattern and its own noise",
        "energy sum; IEC 61672-1 [L]; every part is opened below",
        unit="dBA",
        stage="Noise",
        inputs=tuple((origin, f"{figure(level, 1)} dBA") for origin, level in parts.items()),
    )


def _weighted(octaves_db: Array) -> float:
    return float(levels.a_weighted_level_db(octaves_db))


def _row(stages: Sequence[Stage], name: str, index: int) -> Working:
    return next(stage for stage in stages if stage.name == name).rows[index]


def _number(made: Working) -> float:
    if isinstance(made.value, tuple):
        raise TypeError(f"{made.quantity} is no single figure")
    return made.value


def _told(noise: Background) -> str:
    if noise.nc is not None:
        return f"NC-{noise.nc:g}"
    return f"{noise.dba:g}{NBSP}dBA" if noise.dba is not None else "noise by octave"

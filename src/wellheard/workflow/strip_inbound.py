"""The inbound path strip: the far end's voice through a loudspeaker to one ear."""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from wellheard.acoustics import levels
from wellheard.dossier.words import NBSP, figure, percent
from wellheard.predict.delays import inbound_parts
from wellheard.predict.evidence import Evidence
from wellheard.predict.scene import Scene
from wellheard.predict.wayback import DelayPart, Inbound, LevelStage, Playback
from wellheard.predict.working_inbound import inbound_stages
from wellheard.room.divide import spoken
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

STATIONS: Final = ("Far end", "Gain", "Amplifier", "Loudspeaker", "Air", "Ear")

ROWS: Final = (
    ("Level", "the far end’s voice"),
    ("Noise", "room, sources"),
    ("Delay", "from the computer"),
    ("Spare", "before overload"),
)

BINDS: Final = {"sti_inbound": "Ear", "listening_level_dba": "Ear"}
ENERGY = "energy sum; IEC 61672-1 [L]"


def inbound_strip(
    scene: Scene,
    evidence: Evidence,
    playback: Playback,
    row: Inbound,
    *,
    unit: Unit,
    arrangement: str = "",
) -> dict[str, Any]:
    """One inbound path as a screen shows it: by the loudspeaker that the voice seems to come from.

    Parameters
    ----------
    scene : Scene
        The room, or the space in which the ear hears worst.
    evidence : Evidence
        Of the same.
    playback : Playback
        Of that evidence.
    row : Inbound
        The row of the ear in it.
    unit : {"m", "ft"}
        Of lengths in words.
    arrangement : str
        Name of the space in a room that divides.
    """
    found = _Inbound(scene, evidence, playback, row)
    away = length(found.arrival.distance, unit)
    return assembled(
        "inbound",
        evidence=evidence,
        rows=ROWS,
        stations=found.stations(f"{away} to {row.talker.id}"),
        stages=inbound_stages(scene, evidence, row),
        under=f"the far end to {row.talker.id}, through {found.placed.id}"
        + (f" and {len(row.arrivals) - 1} more" if len(row.arrivals) > 1 else "")
        + (f" ({spoken(arrangement)})" if arrangement else ""),
        end=end_words(row),
        state=row.state,
        seat=row.talker.owner,
        line=(found.placed.at, row.talker.at),
        line_words=away,
        binds=BINDS.get(row.binds, ""),
    )


def end_words(row: Inbound) -> str:
    """What an ear hears, in one line."""
    sti = row.sti
    parts = [
        f"at the ear STI {figure(sti.value, 2)}, {row.rating}, band {row.category}",
        f"10–90{NBSP}%: {figure(sti.low, 2)}–{figure(sti.high, 2)}",
        f"{figure(row.level.value, 1)}{NBSP}dBA",
    ]
    if row.binds:
        parts.append(f"chance {percent(row.chance)}")
    return " · ".join(parts)


class _Inbound:
    """Stations of the far end's voice at one ear."""

    def __init__(self, scene: Scene, evidence: Evidence, playback: Playback, row: Inbound) -> None:
        self.row, self.playback = row, playback
        self.placed = next(one for one in playback.loudspeakers if one.id == row.heard_from)
        self.arrival = row.leads
        self.drive = next(one for one in playback.drives if one.loudspeaker == row.heard_from)
        diagram = next(
            one
            for one in evidence.levels
            if one.path == "inbound" and one.device == self.placed.device
        )
        self.diagram: dict[str, LevelStage] = {stage.name: stage for stage in diagram.stages}
        self.setting = diagram.recommended_gain_db
        self.parts = inbound_parts(evidence.signal, self.placed)
        self.air = DelayPart(
            "air",
            f"{self.placed.id} to {row.talker.id}",
            1000 * self.arrival.distance / scene.propagation.speed,
            "distance over the speed of sound",
        )

    def stations(self, way: str) -> list[Station]:
        """All of them; ``way`` says how far it is to the ear."""
        return [
            self._far_end(),
            self._gain(),
            self._amplifier(),
            self._loudspeaker(),
            *self._ear(way),
        ]

    def _far_end(self) -> Station:
        stage = self.diagram["reference"]
        cells = of_stage(stage)
        start = given(0.0, "delay at the computer", "counted from here", "definition", unit="ms")
        return Station(
            "Far end",
            f"at {stage.at.removeprefix('devices.')}",
            (cells["level"], NONE, Cell(0.0, 0, "ms", start.made, "Delay"), cells["spare"]),
            f"set to {self.playback.target_dba:g}{NBSP}dBA",
            ("Far end",),
        )

    def _gain(self) -> Station:
        stage = self.diagram.get("line output")
        trim = f"trim {signed(self.placed.trim_db)}" if self.placed.trim_db else "no trim"
        if stage is None:
            none = Cell(None, why="no line output stands on its way")
            cells = {"level": none, "noise": none, "spare": none}
        else:
            cells = of_stage(stage)
        return Station(
            "Gain",
            trim if stage is None else f"{stage.at}, {trim}",
            (cells["level"], NONE, inside(), cells["spare"]),
            "" if self.setting is None else f"input {signed(self.setting)}",
            ("Gain",),
        )

    def _amplifier(self) -> Station:
        stage = self.diagram.get("amplifier")
        if stage is None:
            why = f"{self.placed.device} has its own; what it takes is in its highest level"
            own = Cell(None, why=why)
            return Station("Amplifier", "its own", (own, NONE, inside(), own))
        cells = of_stage(stage)
        power = self.drive.power_w
        said = "" if power is None else f"{figure(power, 1)}{NBSP}W at the peaks"
        if self.drive.tap_w is not None:
            said += f", tap {self.drive.tap_w:g}{NBSP}W"
        return Station(
            "Amplifier", stage.at, (cells["level"], NONE, inside(), cells["spare"]), said
        )

    def _loudspeaker(self) -> Station:
        level = given(
            self.drive.level_1m_dba,
            "average speech 1 m on its axis",
            "common level that gives the ears their mean + trim",
            "see its station",
            unit="dBA",
            stage="Loudspeaker",
            inputs=(("trim", signed(self.placed.trim_db)),),
        )
        spare = of_stage(self.diagram["loudspeaker"])["spare"]
        return Station(
            "Loudspeaker",
            self.placed.product.id,
            (level, NONE, late(self.parts, "delay of the electronics"), spare),
            f"distance, turn {signed(self.arrival.level_dba - self.drive.level_1m_dba)}",
            ("Loudspeaker",),
        )

    def _ear(self, way: str) -> list[Station]:
        row, arrival = self.row, self.arrival
        delay = late((*self.parts, self.air), "delay from the computer to the ear")
        direct = given(
            arrival.level_dba,
            f"direct sound of {arrival.loudspeaker} at the ear",
            "10 lg Σ 10^((speech + trim + direct + A)/10)",
            ENERGY,
            unit="dBA",
            stage="Air",
        )
        heard = given(
            row.level.value,
            "speech at the ear, A-weighted",
            "10 lg Σ over loudspeakers of direct and reflected sound",
            ENERGY,
            unit="dBA",
            stage="Ear",
            inputs=(
                ("by octave", spectrum(row.levels_db)),
                *(
                    (one.loudspeaker, f"{figure(one.share_dba, 1)}{NBSP}dBA, direct and reflected")
                    for one in row.arrivals
                ),
            ),
        )
        noise = given(
            float(levels.a_weighted_level_db(np.asarray(row.noise_db))),
            "noise at the ear, A-weighted",
            "background and every source",
            ENERGY,
            unit="dBA",
            stage="Noise",
            inputs=(("by octave", spectrum(row.noise_db)),),
        )
        others = "room, others" if len(row.arrivals) > 1 else "room"
        return [
            Station(
                "Air",
                way,
                (direct, NONE, delay, NONE),
                f"{others} {signed(row.level.value - arrival.level_dba)}",
                ("Air",),
            ),
            Station(
                "Ear",
                f"{row.talker.id}, {figure(row.speech_to_noise_db, 0)}{NBSP}dB over noise",
                (heard, noise, delay, NONE),
                stages=("Ear", "Noise", "Promise"),
            ),
        ]

"""The lift strip: a local voice through a microphone and a loudspeaker to another ear."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, Final

from wellheard.dossier.sections.lift import octave_words
from wellheard.dossier.words import figure
from wellheard.predict.evidence import Evidence, State
from wellheard.predict.lift import HOST_NOT_INCLUDED
from wellheard.predict.scene import Scene
from wellheard.predict.stages import Stage
from wellheard.predict.wayback import Lift, Lifted, Playback
from wellheard.predict.working_level import WORKING_DBFS
from wellheard.predict.working_lift import lift_stages
from wellheard.room.divide import spoken
from wellheard.units import Unit
from wellheard.workflow.stations import (
    NONE,
    Cell,
    Station,
    assembled,
    given,
    inside,
    length,
    level_words,
    signed,
)

STATIONS: Final = ("Mouth", "Microphone", "Gain", "Loudspeaker", "Air", "Ear")

ROWS: Final = (
    ("Level", "of the voice"),
    ("Natural", "without lift"),
    ("Delay", "from the mouth"),
    ("Margin", "before it howls"),
)

NONE_YET = "Voice lift: none in this room; the most that would be possible"
LEFT_OUT = "nothing of this voice is sent there, so that nobody hears their own from overhead"


def lift_strip(
    scene: Scene,
    evidence: Evidence,
    playback: Playback,
    found: Lift,
    lifted: Lifted,
    *,
    unit: Unit,
    arrangement: str = "",
) -> dict[str, Any]:
    """What lift does for one ear as a screen shows it.

    Parameters
    ----------
    scene : Scene
        The room, or one space of it.
    evidence : Evidence
        Of the same.
    playback : Playback
        Of that evidence.
    found : Lift
        Of that evidence.
    lifted : Lifted
        Of the ear, of the voice that it hears worst.
    unit : {"m", "ft"}
        Of lengths in words.
    arrangement : str
        Name of the space in a room that divides.
    """
    made = _Lift(scene, evidence, playback, found, lifted)
    stages = lift_stages(scene, evidence, lifted)
    return assembled(
        "lift",
        evidence=evidence,
        rows=ROWS,
        stations=made.stations(stages, unit),
        stages=stages,
        title="" if found.in_use else NONE_YET,
        under=f"{lifted.speaker} heard by {lifted.talker.id}, who hears that voice worst"
        + (f" ({spoken(arrangement)})" if arrangement else ""),
        end=end_words(found, lifted),
        note=HOST_NOT_INCLUDED,
        state=made.state,
        seat=lifted.talker.owner,
        line=made.line,
        line_words=length(made.longest, unit),
        binds="Gain" if made.state == "broken" else "",
        microphone=f"devices.{made.row.path.microphone}",
    )


def end_words(found: Lift, lifted: Lifted) -> str:
    """What the ear gains and how far it is from howling, in one line."""
    return " · ".join(
        (
            f"{level_words(lifted.natural_dba, 'dBA')} without, "
            f"{level_words(lifted.lifted_dba, 'dBA')} with: {signed(lifted.gain_db)}",
            f"margin {level_words(found.margin_db, 'dB')}, "
            f"{level_words(found.wanted_margin_db, 'dB')} wanted",
        )
    )


def margin_state(found: Lift) -> State:
    """Whether the lift of a document keeps the wanted margin; not assessed where it has none."""
    if not found.in_use:
        return "not assessed"
    return "kept" if round(found.margin_db - found.wanted_margin_db, 6) >= 0 else "broken"


class _Lift:
    """Stations of a lifted voice at one ear."""

    def __init__(
        self, scene: Scene, evidence: Evidence, playback: Playback, found: Lift, lifted: Lifted
    ) -> None:
        self.found, self.lifted, self.playback = found, lifted, playback
        self.speed = scene.propagation.speed
        self.effort = scene.room.people.effort
        self.row = next(r for r in evidence.outbound if r.talker.id == lifted.speaker)
        self.microphone = next(m for m in evidence.microphones if m.id == self.row.path.microphone)
        self.placed = next(
            (one for one in playback.loudspeakers if one.id == lifted.loudspeaker), None
        )

    @property
    def state(self) -> State:
        """Whether the wanted margin is kept; nothing is promised of a lift that is not there."""
        return margin_state(self.found)

    @property
    def longest(self) -> float:
        """Longest of its two ways through the air [m]."""
        there = self.row.path.distance
        if self.placed is None:
            return there
        return max(there, math.dist(self.placed.at, self.lifted.talker.at))

    @property
    def line(self) -> list[Sequence[float]]:
        """From the mouth to the microphone, and on from the loudspeaker to the ear."""
        there: list[Sequence[float]] = [self.row.talker.at, self.microphone.at]
        return there if self.placed is None else [*there, self.placed.at, self.lifted.talker.at]

    def stations(self, stages: Sequence[Stage], unit: Unit) -> list[Station]:
        """All of them."""
        self.mouth, self.speech, self.re_working, self.gain = (
            _value(stages, name, index)
            for name, index in (("Mouth", 1), ("Capsule", 0), ("Capsule", 2), ("Gain", 0))
        )
        return [self._mouth(), self._microphone(unit), self._gain(), *self._back(unit)]

    def _delay(self, metres: float, more: float, quantity: str) -> Cell:
        """Way through air [m] and what the devices take [s]."""
        return given(
            1000 * (metres / self.speed + more),
            quantity,
            "way through the air over the speed of sound + devices",
            "geometry and data sheets",
            unit="ms",
            stage="Delay",
            inputs=(
                ("way through the air", f"{metres:.2f} m"),
                ("devices", f"{figure(1000 * more, 1)} ms"),
            ),
        )

    def _mouth(self) -> Station:
        level = given(
            self.mouth,
            "speech 1 m in front of the lips",
            "octave levels of the stated effort, A-weighted",
            "ANSI S3.5-1997, via phonometry and mosqito [L]",
            unit="dBA",
            stage="Mouth",
        )
        start = given(0.0, "delay at the mouth", "counted from here", "definition", unit="ms")
        return Station(
            "Mouth",
            f"{self.lifted.speaker}, {self.effort} effort",
            (level, NONE, Cell(0.0, 0, "ms", start.made, "Delay"), NONE),
            f"distance, turn, room {signed(self.speech - self.mouth)}",
            ("Mouth",),
        )

    def _microphone(self, unit: Unit) -> Station:
        level = given(
            self.speech,
            "speech at the capsule, A-weighted",
            "direct and reflected sound, no other microphone open",
            "as on the outbound path",
            unit="dBA",
            stage="Capsule",
        )
        way = self.row.path.distance
        return Station(
            "Microphone",
            f"{length(way, unit)} to {self.microphone.id}",
            (level, NONE, self._delay(way, 0.0, "delay of the way through the air"), NONE),
            f"lift {signed(self.gain)}",
            ("Air", "Capsule"),
        )

    def _gain(self) -> Station:
        found = self.found
        level = given(
            WORKING_DBFS + self.re_working + self.gain,
            "lifted voice in what is played",
            "working level + this voice over it + lift",
            "0 dB plays a voice at working level as loud as the far end",
            unit="dBFS",
            stage="Lift",
            inputs=(("this voice over it", signed(self.re_working)), ("lift", signed(self.gain))),
        )
        margin = given(
            found.margin_db,
            "margin before it howls",
            "−(loop gain + peaks), of all loops together",
            "Schroeder 1964 and Rice 1948, via the acoustics of loops; see the station",
            unit="dB",
            stage="Lift",
            inputs=(
                ("loop gain", level_words(found.loop_gain_db, "dB")),
                ("peaks over it", level_words(found.excess_db, "dB")),
                ("howls first", f"{found.microphone} and {found.loudspeaker}"),
                ("around", octave_words(found.octave)),
                ("wanted", level_words(found.wanted_margin_db, "dB")),
            ),
        )
        how = "as stated" if found.stated else "the most that is left"
        return Station(
            "Gain",
            f"{signed(self.gain)}, {how}",
            (level, NONE, inside(), margin),
            "played as the far end",
            ("Gain", "Loop"),
        )

    def _back(self, unit: Unit) -> list[Station]:
        lifted, placed = self.lifted, self.placed
        natural = given(
            lifted.natural_dba,
            "natural voice at the ear",
            "direct and reflected sound from the mouth",
            "energy sum; IEC 61672-1 [L]",
            unit="dBA",
            stage="Ear",
        )
        whole = given(
            lifted.lifted_dba,
            "both voices at the ear",
            "10 lg(10^(natural/10) + 10^(brought/10))",
            "energy sum",
            unit="dBA",
            stage="Lift",
        )
        if placed is None or lifted.brought_dba is None or lifted.after is None:
            none = Cell(None, why=LEFT_OUT)
            left_out = [
                Station(name, "not sent there", (none, NONE, none, NONE))
                for name in ("Loudspeaker", "Air")
            ]
            ear = Station("Ear", lifted.talker.id, (whole, natural, none, NONE), stages=("Ear",))
            return [*left_out, ear]
        away = math.dist(placed.at, lifted.talker.at)
        direct = math.dist(self.row.talker.at, lifted.talker.at)
        spoken_over = self.row.path.distance
        devices = lifted.after - (spoken_over + away - direct) / self.speed
        late = self._delay(spoken_over + away, devices, "delay of the lifted voice at the ear")
        level = given(
            self.playback.level_1m_dba + placed.trim_db + self.re_working + self.gain,
            "lifted voice 1 m on the axis",
            "level of the far end there + this voice over working level + lift",
            "the inbound path",
            unit="dBA",
            stage="Loudspeaker",
        )
        brought = given(
            lifted.brought_dba,
            "what the loudspeakers bring",
            "10 lg Σ over loudspeakers of direct and reflected sound",
            "energy sum; what comes round the loop again is left out",
            unit="dBA",
            stage="Lift",
        )
        return [
            Station(
                "Loudspeaker",
                placed.product.id,
                (
                    level,
                    NONE,
                    self._delay(spoken_over, devices, "delay at the loudspeaker"),
                    NONE,
                ),
                "distance, turn, room, others "
                + signed(lifted.brought_dba - float(level.value or 0.0)),
                ("Loudspeaker",),
            ),
            Station(
                "Air",
                f"{length(away, unit)} from {placed.id}",
                (brought, NONE, late, NONE),
                "with the natural voice",
                ("Air back",),
            ),
            Station(
                "Ear",
                f"{figure(1000 * lifted.after, 0)} ms after the natural voice",
                (whole, natural, late, NONE),
                stages=("Ear",),
            ),
        ]


def _value(stages: Sequence[Stage], name: str, index: int) -> float:
    made = next(stage for stage in stages if stage.name == name).rows[index]
    if isinstance(made.value, tuple):
        raise TypeError(f"{made.quantity} is no single figure")
    return made.value

"""The echo path strip: the far end's voice from the loudspeakers into a microphone and back."""

from __future__ import annotations

import math
from typing import Any, Final

from wellheard.dossier.sections.echo import least_bound
from wellheard.dossier.words import NBSP
from wellheard.predict.delays import inbound_parts, outbound_parts
from wellheard.predict.evidence import Evidence
from wellheard.predict.scene import Scene
from wellheard.predict.wayback import DelayPart, Echo, Playback
from wellheard.predict.working_echo import echo_stages
from wellheard.predict.working_level import WORKING_DBFS
from wellheard.room.divide import spoken
from wellheard.schedules.labels import room_names
from wellheard.units import Unit
from wellheard.workflow.stations import (
    NONE,
    Cell,
    Station,
    assembled,
    given,
    late,
    length,
    level_words,
    signed,
)

STATIONS: Final = ("Far end", "Loudspeaker", "Air", "Capsule", "Gain", "Canceller", "Far end")

ROWS: Final = (
    ("Level", "of the echo"),
    ("Noise", "that hides it"),
    ("Loss", "of the far end’s voice"),
    ("Delay", "from the computer"),
)

WEIGHTED = "ITU-T G.122 B.4, 300–3400 Hz, from memory [M]"
ALL = "all loudspeakers and all reflections arrive together: see the capsule"


def echo_strip(
    scene: Scene,
    evidence: Evidence,
    playback: Playback,
    echo: Echo,
    *,
    seat: str,
    unit: Unit,
    arrangement: str = "",
) -> dict[str, Any]:
    """The echo through one microphone as a screen shows it.

    Parameters
    ----------
    scene : Scene
        The room, or one space of it.
    evidence : Evidence
        Of the same.
    playback : Playback
        Of that evidence.
    echo : Echo
        Of the microphone.
    seat : str
        Item path of the place whose microphone it is.
    unit : {"m", "ft"}
        Of lengths in words.
    arrangement : str
        Name of the space in a room that divides.
    """
    found = _Echo(scene, evidence, playback, echo)
    away = length(found.distance, unit)
    label = room_names(evidence.room)[echo.microphone]
    return assembled(
        "echo",
        evidence=evidence,
        rows=ROWS,
        stations=found.stations(f"{away} to {label}"),
        stages=echo_stages(scene, evidence, echo),
        under=f"the far end through {found.loudest.id} and {label} back to it"
        + (f" ({spoken(arrangement)})" if arrangement else ""),
        end=end_words(echo),
        state=echo.state,
        seat=seat,
        line=(found.loudest.at, found.placed.at),
        line_words=away,
        binds="Canceller" if echo.must_add_db > 0 else "",
        microphone=f"devices.{echo.microphone}",
    )


def end_words(echo: Echo) -> str:
    """What must be taken away, and what can be, in one line."""
    parts = [
        f"return loss {level_words(echo.return_loss_db, 'dB')}, "
        f"{level_words(echo.needed_db, 'dB')} needed"
    ]
    if echo.must_add_db <= 0:
        parts.append("nothing must be added")
    elif echo.can_add_db is None:
        parts.append(f"{level_words(echo.must_add_db, 'dB')} must be added, nothing cancels")
    else:
        parts.append(
            f"{level_words(echo.must_add_db, 'dB')} must be added, "
            f"{level_words(echo.can_add_db, 'dB')} can be, held by {least_bound(echo)}"
        )
    parts.append(echo.state)
    return " · ".join(parts)


class _Echo:
    """Stations of the echo through one microphone."""

    def __init__(self, scene: Scene, evidence: Evidence, playback: Playback, echo: Echo) -> None:
        self.echo, self.playback = echo, playback
        self.placed = next(m for m in evidence.microphones if m.id == echo.microphone)
        loudest = min(echo.by_loudspeaker_db, key=lambda pair: round(pair[1], 6))[0]
        self.loudest = next(one for one in playback.loudspeakers if one.id == loudest)
        self.distance = math.dist(self.loudest.at, self.placed.at)
        self.there = inbound_parts(evidence.signal, self.loudest)
        self.back = outbound_parts(evidence.signal, self.placed)
        self.air = DelayPart(
            "air",
            f"{self.loudest.id} to {echo.microphone}",
            1000 * self.distance / scene.propagation.speed,
            "distance over the speed of sound",
        )
        self.one_way_ms = scene.room.far_end.one_way_delay_ms

    def stations(self, way: str) -> list[Station]:
        """All of them; ``way`` says how far it is to the microphone."""
        air = late((*self.there, self.air), "delay from the computer to the capsule")
        return [
            self._far_end(),
            self._loudspeaker(),
            Station("Air", way, (Cell(None, why=ALL), NONE, NONE, air), "all of them", ("Air",)),
            self._capsule(air),
            self._gain(),
            self._canceller(),
            self._back(),
        ]

    def _far_end(self) -> Station:
        level = given(
            WORKING_DBFS,
            "average speech in the reference",
            "working level, while loudspeakers play at playback level",
            "common practice, no source [C]",
            unit="dBFS",
            stage="Electronics",
        )
        start = given(0.0, "delay at the computer", "counted from here", "definition", unit="ms")
        return Station(
            "Far end",
            "working level",
            (level, NONE, NONE, Cell(0.0, 0, "ms", start.made, "Delay")),
            f"set to {self.playback.target_dba:g}{NBSP}dBA",
            ("Far end",),
        )

    def _loudspeaker(self) -> Station:
        level = given(
            self.playback.level_1m_dba + self.loudest.trim_db,
            "level of the one that is heard most, 1 m on its axis",
            "level without trim + trim",
            "the inbound path",
            unit="dBA",
            stage="Loudspeaker",
            inputs=(("trim", signed(self.loudest.trim_db)),),
        )
        return Station(
            "Loudspeaker",
            self.loudest.product.id,
            (level, NONE, NONE, late(self.there, "delay of the electronics")),
            "",
            ("Loudspeaker",),
        )

    def _capsule(self, air: Cell) -> Station:
        echo = self.echo
        level = given(
            echo.echo_dba,
            "echo at the capsule, A-weighted",
            "10 lg Σ over loudspeakers of direct and reflected sound",
            "energy sum; IEC 61672-1 [L]",
            unit="dBA",
            stage="Echo",
            inputs=(
                ("element or beam", f"that of {echo.talker}"),
                ("speech of that talker there", level_words(echo.speech_dba, "dBA")),
            ),
        )
        noise = given(
            echo.noise_dba,
            "noise at the capsule",
            "as on the outbound path",
            "energy sum; IEC 61672-1 [L]",
            unit="dBA",
            stage="Noise",
        )
        return Station(
            "Capsule",
            f"{signed(echo.echo_to_speech_db)} re speech",
            (level, noise, NONE, air),
            "gain as for speech",
            ("Capsule",),
        )

    def _sent(self, loss_db: float, quantity: str, unit: str = "dBFS") -> Cell:
        return given(
            WORKING_DBFS - loss_db,
            quantity,
            "working level − loss so far",
            WEIGHTED,
            unit=unit,
            stage="Echo",
            inputs=(("loss so far", level_words(loss_db, "dB")),),
        )

    def _gain(self) -> Station:
        echo = self.echo
        loss = given(
            echo.return_loss_db,
            "return loss, weighted",
            "level in the reference − level in the microphone’s signal",
            WEIGHTED,
            unit="dB",
            stage="Echo",
            inputs=tuple(
                (f"{name} alone", level_words(value, "dB"))
                for name, value in echo.by_loudspeaker_db
            ),
        )
        return Station(
            "Gain",
            "both at working level",
            (
                self._sent(echo.return_loss_db, "echo in the microphone’s signal"),
                NONE,
                loss,
                late((*self.there, self.air, *self.back[:1]), "delay to the microphone’s output"),
            ),
            f"must add {level_words(echo.must_add_db, 'dB')}"
            if echo.must_add_db > 0
            else "nothing must be added",
            ("Gain",),
        )

    def _canceller(self) -> Station:
        echo = self.echo
        delay = late((*self.there, self.air, *self.back), "delay there and back to the computer")
        if echo.can_add_db is None:
            none = Cell(None, why=f"nothing cancels echo on the way of {echo.microphone}")
            return Station("Canceller", "none", (none, NONE, none, delay), "", ("Canceller",))
        whole = echo.return_loss_db + echo.can_add_db
        loss = given(
            whole,
            "loss with all that a canceller can add",
            "return loss + least of the bounds + suppression",
            "derived; bounds are opened at the station",
            unit="dB",
            stage="Echo",
            inputs=(
                ("return loss", level_words(echo.return_loss_db, "dB")),
                ("can be added", level_words(echo.can_add_db, "dB")),
                ("held by", least_bound(echo)),
            ),
        )
        return Station(
            "Canceller",
            f"{echo.canceller}, can {level_words(echo.can_add_db, 'dB')}",
            (self._sent(whole, "echo that is sent, at the least"), NONE, loss, delay),
            "",
            ("Canceller",),
        )

    def _back(self) -> Station:
        echo = self.echo
        needed = given(
            echo.needed_db,
            "loss that the far end needs",
            "as promised" if echo.needed_from.startswith("targets") else "what the delay asks for",
            echo.needed_from,
            unit="dB",
            stage="Echo",
        )
        both = given(
            2 * self.one_way_ms,
            "delay of the call, there and back",
            "2 × one way; what is in this room is inside it",
            "far_end.one_way_delay_ms of the document",
            unit="ms",
            stage="Delay",
        )
        none = Cell(None, why="how loud the far end listens is outside of this room")
        return Station("Far end", "loss needed", (none, NONE, needed, both), "", ("Promise",))

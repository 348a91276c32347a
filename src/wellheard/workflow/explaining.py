"""One voice path opened: out of the room, into it, back as an echo, or lifted within it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeAlias

from wellheard.errors import InputError
from wellheard.predict import ledger, working
from wellheard.predict.echo import lacking_db
from wellheard.predict.evidence import Evidence, Outbound, State
from wellheard.predict.parts import PartScene, build_parts
from wellheard.predict.scene import Scene
from wellheard.predict.stages import Stage
from wellheard.predict.wayback import Echo, Inbound, Lifted
from wellheard.predict.working_echo import echo_stages
from wellheard.predict.working_inbound import inbound_stages
from wellheard.predict.working_lift import lift_stages
from wellheard.room.divide import spoken
from wellheard.workflow.design import asked_for
from wellheard.workflow.load import Loaded
from wellheard.workflow.stations import Way

Row: TypeAlias = Outbound | Inbound | Echo | Lifted


@dataclass(frozen=True)
class Explained:
    """One path and its stages; ``arrangement`` is the part of a room that divides."""

    evidence: Evidence
    row: Row
    stages: tuple[Stage, ...]
    arrangement: str = ""

    @property
    def path(self) -> Way:
        """Which of the four it is."""
        if isinstance(self.row, Outbound):
            return "outbound"
        if isinstance(self.row, Inbound):
            return "inbound"
        return "echo" if isinstance(self.row, Echo) else "lift"

    @property
    def seat(self) -> str:
        """The talking point at its end in the room."""
        return self.row.talker if isinstance(self.row, Echo) else self.row.talker.id

    @property
    def microphone(self) -> str | None:
        """What hears it; None where none does, or, lifted, where it is not one alone."""
        if isinstance(self.row, Outbound):
            return self.row.path.microphone
        return self.row.microphone if isinstance(self.row, Echo) else None

    @property
    def loudspeaker(self) -> str | None:
        """What it seems to come from; None on the way out."""
        if isinstance(self.row, Inbound):
            return self.row.heard_from
        if isinstance(self.row, Echo):
            return min(self.row.by_loudspeaker_db, key=lambda pair: pair[1])[0]
        return self.row.loudspeaker if isinstance(self.row, Lifted) else None

    @property
    def state(self) -> State:
        """How it keeps what is promised of it."""
        return "not assessed" if isinstance(self.row, Lifted) else self.row.state


def explain(
    loaded: Loaded, seat: str, *, path: Way = "outbound", arrangement: str = ""
) -> Explained:
    """Open one voice path of one seat, or of one point of a standing area.

    In a room that divides it is that of the seat's worst arrangement, or of the one named:
    ``split``, or one of its spaces, ``split.a``. The echo of a seat is that of the microphone that
    serves it; a microphone may be named in its place.

    Raises
    ------
    InputError
        There is no such seat or arrangement, or what the path leads through is not placed.
    """
    name = loaded.document.name
    scenes = asked_for(name, build_parts(loaded.room, loaded.catalogue), arrangement)
    talkers = dict.fromkeys(t.id for s in scenes for t in s.scene.talkers)
    microphone = path == "echo" and seat in loaded.room.devices
    if seat not in talkers and not microphone:
        inside = [n for n in talkers if n.startswith(seat + ".")]
        hint = f" (a standing area is opened point by point: {', '.join(inside)})" if inside else ""
        where = f" in {spoken(arrangement)}" if arrangement else ""
        raise InputError(
            f"{name}: no seat {seat!r}{where}; the talking points are {', '.join(talkers)}{hint}"
        )
    opened: list[Explained] = []
    for one in scenes:
        if not microphone and seat not in (t.id for t in one.scene.talkers):
            continue
        evidence = ledger.evidence(one.scene, assumptions=False)
        if microphone and seat not in (m.id for m in evidence.microphones):
            continue
        row, stages = _OPENED[path](one.scene, evidence, seat, _where(name, one))
        opened.append(Explained(evidence, row, stages, one.part.name))
    if not opened:
        raise InputError(f"{name}: {seat} is no microphone with a place; name one, or a seat")
    return min(opened, key=lambda one: _badness(one.row))


def _where(name: str, one: PartScene) -> tuple[str, str]:
    """How a refusal begins, and where in a room that divides it is."""
    return name, f" in {one.part.title}" if one.part.name else ""


Opened: TypeAlias = tuple[Row, tuple[Stage, ...]]


def _outbound(scene: Scene, evidence: Evidence, seat: str, where: tuple[str, str]) -> Opened:
    if not evidence.outbound:
        raise InputError(
            f"{where[0]}: no microphone is placed{where[1]}, so there is no path to open; place "
            "some first with wellheard place"
        )
    row = next(o for o in evidence.outbound if o.talker.id == seat)
    return row, working.outbound_stages(scene, evidence, row)


def _inbound(scene: Scene, evidence: Evidence, seat: str, where: tuple[str, str]) -> Opened:
    _demand_loudspeaker(evidence, where)
    assert evidence.playback is not None
    row = evidence.playback.row(seat)
    return row, inbound_stages(scene, evidence, row)


def _echo(scene: Scene, evidence: Evidence, seat: str, where: tuple[str, str]) -> Opened:
    _demand_loudspeaker(evidence, where)
    serving = {o.talker.id: o.path.microphone for o in evidence.outbound}
    wanted = serving.get(seat, seat)
    for row in evidence.echo:
        if row.microphone == wanted:
            return row, echo_stages(scene, evidence, row)
    raise InputError(
        f"{where[0]}: no microphone is placed{where[1]}, so nothing sends an echo back; place some "
        "first with wellheard place"
    )


def _lift(scene: Scene, evidence: Evidence, seat: str, where: tuple[str, str]) -> Opened:
    _demand_loudspeaker(evidence, where)
    for row in evidence.lift.rows if evidence.lift is not None else ():
        if row.talker.id == seat:
            return row, lift_stages(scene, evidence, row)
    raise InputError(
        f"{where[0]}: nothing is lifted at {seat}{where[1]}: it takes a microphone, a loudspeaker "
        "and somebody else who talks"
    )


def _demand_loudspeaker(evidence: Evidence, where: tuple[str, str]) -> None:
    if evidence.playback is None:
        raise InputError(
            f"{where[0]}: no loudspeaker is placed{where[1]}, so nothing comes back; place some "
            "first with wellheard place, or give the one there a place under devices"
        )


_OPENED: dict[Way, Callable[[Scene, Evidence, str, tuple[str, str]], Opened]] = {
    "outbound": _outbound,
    "inbound": _inbound,
    "echo": _echo,
    "lift": _lift,
}


def _badness(row: Row) -> tuple[float, ...]:
    """What orders the rows of one seat in several arrangements: the least is the worst."""
    if isinstance(row, Outbound | Inbound):
        return (round(row.chance, 9), round(row.sti.value, 9))
    if isinstance(row, Echo):
        return (round(-lacking_db(row), 6), round(row.return_loss_db, 6))
    return (round(row.gain_db, 6),)

"""Which paths a place has, and the strip of each: out, in, echo and lift."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, Final

from wellheard.errors import InputError
from wellheard.predict.evidence import Evidence, Talker
from wellheard.predict.scene import Scene
from wellheard.units import Unit
from wellheard.workflow import figures, strip, strip_echo, strip_inbound, strip_lift
from wellheard.workflow.bothways import silent_why
from wellheard.workflow.prediction import Prediction
from wellheard.workflow.stations import Rows, Way, unknown

FORMS: Final[Mapping[Way, tuple[Rows, tuple[str, ...], str]]] = {
    "outbound": (strip.ROWS, strip.STATIONS, "{} to the far end"),
    "inbound": (strip_inbound.ROWS, strip_inbound.STATIONS, "the far end to {}"),
    "echo": (strip_echo.ROWS, strip_echo.STATIONS, "the far end and back to it"),
    "lift": (strip_lift.ROWS, strip_lift.STATIONS, "another voice to {}"),
}
"""Rows and stations of each way, and whose it is."""

ALONE = "nobody else is there to be lifted"

Json = dict[str, Any]


def path_strip(found: Prediction, seat: str, way: str, *, unit: Unit) -> Json:
    """The strip of one way of a place: its worst point, in its worst arrangement.

    Parameters
    ----------
    found : Prediction
        Of the room.
    seat : str
        Id or item path of a seat or standing area, or id of one of its points.
    way : str
        One of ``FORMS``.
    unit : {"m", "ft"}
        Of lengths in words.

    Returns
    -------
    dict
        As `wellheard.workflow.stations.assembled`, with ``ways``: all of them, each with the reason
        why it is not there.

    Raises
    ------
    InputError
        There is no such place, or no such way.
    """
    asked = next((key for key in FORMS if key == way), None)
    if asked is None:
        raise InputError(f"no way {way!r}; there are {', '.join(FORMS)}")
    place = _Place(found, seat, unit)
    made = place.ways
    shown = _shown(asked, made[asked], place)
    ways = [
        {"key": key, "word": key, "why": one if isinstance(one, str) else ""}
        for key, one in made.items()
    ]
    return {**shown, "ways": ways}


def _shown(way: Way, made: Callable[[], Json] | str, place: _Place) -> Json:
    if not isinstance(made, str):
        return made()
    rows, names, under = FORMS[way]
    return unknown(
        way, rows=rows, names=names, under=under.format(place.name), seat=place.owner, why=made
    )


class _Place:
    """One place and how to make each of its strips."""

    def __init__(self, found: Prediction, seat: str, unit: Unit) -> None:
        self.found, self.unit = found, unit
        self.evidence = found.judged.evidence
        mine = [t for t in self.evidence.talkers if seat in (t.id, t.owner, _id(t.owner))]
        if not mine:
            names = ", ".join(dict.fromkeys(_id(t.owner) for t in self.evidence.talkers))
            raise InputError(f"no place {seat!r}; there are {names}")
        self.owner, self.name = mine[0].owner, _id(mine[0].owner)
        self.points: dict[str, Talker] = {talker.id: talker for talker in mine}

    @property
    def ways(self) -> dict[Way, Callable[[], Json] | str]:
        """How each strip is made, or why there is none."""
        return {
            "outbound": self._outbound(),
            "inbound": self._inbound(),
            "echo": self._echo(),
            "lift": self._lift(),
        }

    @property
    def _deaf(self) -> str:
        return figures.UNHEARD if self.evidence.microphones else figures.NO_MICROPHONE

    def _outbound(self) -> Callable[[], Json] | str:
        row = next((r for r in self.evidence.worst_first() if r.talker.id in self.points), None)
        if row is None:
            return self._deaf
        scene, own = self.found.space_of(row.arrangement)
        here = next(r for r in own.outbound if r.talker.id == row.talker.id)
        return lambda: strip.strip(scene, own, here, unit=self.unit, arrangement=row.arrangement)

    def _inbound(self) -> Callable[[], Json] | str:
        rows = () if self.evidence.playback is None else self.evidence.playback.rows
        mine = [row for row in rows if row.talker.id in self.points]
        if not mine:
            return silent_why(self.evidence)
        row = min(mine, key=lambda one: (round(one.chance, 9), round(one.sti.value, 9)))
        scene, own = self.found.space_of(row.arrangement)
        playback = own.playback
        assert playback is not None
        here = playback.row(row.talker.id)
        return lambda: strip_inbound.inbound_strip(
            scene, own, playback, here, unit=self.unit, arrangement=row.arrangement
        )

    def _served(self) -> tuple[Scene, Evidence, str, str] | str:
        """Where the place is heard worst, by which microphone, and the name of that space."""
        row = next((r for r in self.evidence.worst_first() if r.talker.id in self.points), None)
        if row is None:
            return self._deaf
        scene, own = self.found.space_of(row.arrangement)
        if own.playback is None:
            return silent_why(self.evidence)
        return scene, own, row.path.microphone, row.arrangement

    def _echo(self) -> Callable[[], Json] | str:
        served = self._served()
        if isinstance(served, str):
            return served
        scene, own, microphone, arrangement = served
        playback = own.playback
        assert playback is not None
        echo = next(one for one in own.echo if one.microphone == microphone)
        return lambda: strip_echo.echo_strip(
            scene,
            own,
            playback,
            echo,
            seat=self.owner,
            unit=self.unit,
            arrangement=arrangement,
        )

    def _lift(self) -> Callable[[], Json] | str:
        served = self._served()
        if isinstance(served, str):
            return served
        scene, own, _, arrangement = served
        playback, lift = own.playback, own.lift
        rows = [] if lift is None else [r for r in lift.rows if r.talker.id in self.points]
        if playback is None or lift is None or not rows:
            return ALONE
        lifted = min(rows, key=lambda one: round(one.lifted_dba, 6))
        return lambda: strip_lift.lift_strip(
            scene, own, playback, lift, lifted, unit=self.unit, arrangement=arrangement
        )


def _id(path: str) -> str:
    return path.rpartition(".")[2]

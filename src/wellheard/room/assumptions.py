"""What the document does not say, and what this tool takes in its place.

A default that nobody sees is a guess in disguise, so every one that bears on the result is listed
with the value taken; so is everything that the document itself calls assumed.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from pydantic import BaseModel

from wellheard.room.document import Room
from wellheard.room.noise import Background
from wellheard.room.space import CEILING_FINISH
from wellheard.units import format_length


@dataclass(frozen=True, slots=True)
class Assumption:
    """One value that the document does not vouch for.

    Parameters
    ----------
    path : str
        Where it would be written.
    value_text : str
        The value taken, as it is printed, in the document's units; empty where it is long.
    sentence : str
        For a reader who has not seen the document.
    """

    path: str
    value_text: str
    sentence: str


def assumed(room: Room) -> tuple[Assumption, ...]:
    """Every default that was filled in, then everything whose basis is ``assumed``.

    Parameters
    ----------
    room : Room
        As read.

    Returns
    -------
    tuple of Assumption
        In the order of the document.

    Examples
    --------
    >>> room = Room.model_validate(
    ...     {
    ...         "wellheard": 1,
    ...         "space": {"outline": [[0, 0], [4, 0], [4, 3], [0, 3]], "height": 2.7},
    ...         "people": {"seats": {"s1": {"at": [1, 1]}}},
    ...     }
    ... )
    >>> for assumption in assumed(room)[:3]:
    ...     print(assumption.sentence)
    No ceiling kind is given: tiles are taken.
    No ceiling module is given: 0.60 m × 0.60 m is taken.
    No depth of the ceiling void is given: it is not assessed.
    """
    found: list[Assumption] = []
    for path, subject, text in _DEFAULTS:
        gap = _first_gap(room, path)
        if gap is None:
            continue
        value = _value(room, path)
        told = text(value, room) if value is not None else ""
        if value is None:
            found.append(
                Assumption(path, "not assessed", f"No {subject} is given: it is not assessed.")
            )
        else:
            verb = "are" if told == "tiles" else "is"
            found.append(Assumption(path, told, f"No {subject} is given: {told} {verb} taken."))
    found += _surfaces(room)
    found += _people(room)
    for path, basis in room.basis.items():
        if basis == "assumed":
            told = _short(_value(room, path), room)
            found.append(Assumption(path, told, f"{path} is assumed{f': {told}' if told else ''}."))
    return tuple(found)


def _first_gap(room: Room, path: str) -> str | None:
    """First step of a path that the document leaves to a default, if any."""
    here: Any = room
    for step in path.split("."):
        if not isinstance(here, BaseModel):
            return None
        if step not in here.model_fields_set:
            return step
        here = getattr(here, step)
    return None


def _value(room: Room, path: str) -> Any:
    here: Any = room
    for step in path.split("."):
        if isinstance(here, dict):
            here = here.get(step)
        elif isinstance(here, tuple | list):
            here = here[int(step)]
        elif here is not None:
            here = getattr(here, "from_" if step == "from" else step)
    return here


def _plain(value: Any, room: Room) -> str:
    return f"{value:g}" if isinstance(value, float) else str(value)


def _module(value: tuple[float, float], room: Room) -> str:
    return " × ".join(format_length(side, unit=room.units) for side in value)


def _background(value: Background, room: Room) -> str:
    if value.nc is not None:
        return f"NC {value.nc:g}"
    return f"{value.dba:g} dBA" if value.dba is not None else "octave levels"


def _with(unit: str) -> Callable[[Any, Room], str]:
    return lambda value, room: f"{value:g} {unit}".strip()


def _percent(value: float, room: Room) -> str:
    return f"{100 * value:g} %"


_DEFAULTS: tuple[tuple[str, str, Callable[[Any, Room], str]], ...] = (
    ("space.ceiling.kind", "ceiling kind", _plain),
    ("space.ceiling.module", "ceiling module", _module),
    ("space.ceiling.void_depth", "depth of the ceiling void", _plain),
    ("space.ceiling.air_return", "use of the ceiling void for return air", _plain),
    ("space.climate.temperature_c", "room temperature", _with("°C")),
    ("space.climate.humidity", "relative humidity", _percent),
    ("space.scattering", "scattering of the surfaces", _plain),
    ("people.effort", "vocal effort", lambda value, room: f"{value} voice"),
    ("people.directivity", "directivity of the talkers", lambda value, room: f"{value}"),
    ("people.occupancy", "share of seats taken", _percent),
    ("noise.background", "background noise", _background),
    ("far_end.one_way_delay_ms", "one-way delay of the call", _with("ms")),
    ("far_end.listening_level_dba", "listening level at the far end", _with("dBA")),
    ("far_end.noise", "noise at the far end", _background),
    ("site.region", "region", _plain),
    ("site.seismic", "earthquake rule", _plain),
    ("targets.chance", "wanted chance", _percent),
    ("targets.sti_outbound", "target for the STI at the far end", _with("")),
    ("targets.direct_to_reverberant_db", "target for direct to reverberant sound", _with("dB")),
    ("targets.speech_to_noise_db", "target for speech over noise", _with("dB")),
    ("targets.sti_inbound", "target for the STI at the seats", _with("")),
    ("targets.playback_level_dba", "playback level", _with("dBA")),
    (
        "targets.listening_level_dba",
        "range of levels at the seats",
        lambda value, room: f"{value[0]:g} to {value[1]:g} dBA",
    ),
    ("targets.uniformity_db", "target for uniformity", _with("dB")),
    ("targets.noise_nc", "limit of noise", lambda value, room: f"NC {value:g}"),
)


def _surfaces(room: Room) -> list[Assumption]:
    """Finishes of which there is none in the document."""
    space, finishes = room.space, room.space.finishes
    given = finishes.model_fields_set
    found = []
    for name, where, value in (
        ("floor", "the floor", finishes.floor),
        ("ceiling", "the ceiling", CEILING_FINISH[space.ceiling.kind]),
        ("walls", "the walls", finishes.walls),
    ):
        if name not in given or (name == "ceiling" and finishes.ceiling is None):
            found.append(_finish(f"space.finishes.{name}", where, str(value)))
    if isinstance(finishes.walls, dict):
        for wall in space.walls:
            if wall not in finishes.walls:
                told = str(space.wall_finish(wall))
                found.append(_finish(f"space.finishes.walls.{wall}", f"wall {wall}", told))
    for key, obstacle in space.obstacles.items():
        if "finish" not in obstacle.model_fields_set:
            path = f"space.obstacles.{key}.finish"
            found.append(_finish(path, f"obstacle {key}", str(obstacle.finish)))
    closed = {name for arrangement in room.arrangements.values() for name in arrangement.closed}
    for key, partition in room.partitions.items():
        if key in closed and "finish" not in partition.model_fields_set:
            path = f"partitions.{key}.finish"
            found.append(_finish(path, f"partition {key}", str(partition.finish)))
    beyond = [k for k, wall in space.isolation.items() if wall.stc is not None and wall.outside]
    if beyond:
        told = "absorption area as large as the wall"
        sentence = f"Nothing is said of the room beyond {', '.join(beyond)}: {told} is taken."
        found.append(Assumption("space.isolation", told, sentence))
    return found


def _finish(path: str, where: str, value: str) -> Assumption:
    return Assumption(path, value, f"No finish is given for {where}: {value} is taken.")


def _people(room: Room) -> list[Assumption]:
    """Heights and facings that are not given, people with the same default in one sentence."""
    found = []
    for group, name, members in (
        ("seats", "seats", room.people.seats),
        ("standing", "standing areas", room.people.standing),
    ):
        for field, subject in (("height", "mouth and ear height"), ("facing", "facing")):
            lacking = [k for k, m in members.items() if field not in m.model_fields_set]
            if not lacking:
                continue
            value = getattr(members[lacking[0]], field)
            told = (
                format_length(value, unit=room.units)
                if field == "height"
                else ", ".join(map(str, value))
            )
            every = len(lacking) == len(members) and len(members) > 1
            path = f"people.{group}" if len(lacking) > 1 else f"people.{group}.{lacking[0]}.{field}"
            who = f"all {name}" if every else ", ".join(lacking)
            found.append(
                Assumption(path, told, f"No {subject} is given for {who}: {told} is taken.")
            )
    for key, item in room.furniture.items():
        if "height" in type(item).model_fields and "height" not in item.model_fields_set:
            told = format_length(_value(room, f"furniture.{key}.height"), unit=room.units)
            found.append(
                Assumption(
                    f"furniture.{key}.height",
                    told,
                    f"No height is given for {item.kind} {key}: {told} is taken.",
                )
            )
    return found


def _short(value: Any, room: Room) -> str:
    if isinstance(value, Background):
        return _background(value, room)
    return value if isinstance(value, str) else ""

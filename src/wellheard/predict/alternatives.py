"""What each input that nobody vouches for might be instead: rooms that differ in one thing.

A drawing or a measurement settles an input; what was told is tried within the tolerance of a told
value, what was assumed or left out within a wider one. The spreads without another source are
common practice.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Literal, TypeAlias

import numpy as np
from pydantic import BaseModel

from wellheard.predict import tolerances
from wellheard.predict.evidence import Evidence, Outbound
from wellheard.predict.tolerances import NORMAL_90, basis_of, is_given
from wellheard.room.document import Room
from wellheard.room.finishes import Patch
from wellheard.units import format_length

Standing: TypeAlias = Literal["left out", "assumed", "told", "drawing", "measured"]
"""How an input is known: by a default, or by the document's own basis."""

PRACTICE = "common practice"
TOLERANCE = "10–90 % of the tolerance of its basis, common practice"
_STANDINGS: dict[str, Standing] = {
    "assumed": "assumed",
    "told": "told",
    "drawing": "drawing",
    "measured": "measured",
}
OPEN = ("left out", "assumed", "told")


@dataclass(frozen=True)
class Alternative:
    """One other value of an input, as text and as the room that has it."""

    text: str
    room: Room
    source: str = PRACTICE


@dataclass(frozen=True)
class Trial:
    """One open input: where it stands, what is taken for it, and what else it might be."""

    topic: str
    """Kebab-case name; for a surface or a source ``kind:name``."""
    path: str
    value: str
    standing: Standing
    alternatives: tuple[Alternative, ...]


@dataclass(frozen=True)
class Subject:
    """The room in question with its prediction and its worst seat."""

    evidence: Evidence
    worst: Outbound

    @property
    def room(self) -> Room:
        """The document."""
        return self.evidence.room

    def length(self, metres: float) -> str:
        """A length as the document writes it."""
        return format_length(metres, unit=self.room.units)


def standing_of(room: Room, path: str) -> Standing:
    """How an input is known; ``left out`` where a default stands in.

    Examples
    --------
    >>> room = Room.model_validate(
    ...     {
    ...         "wellheard": 1,
    ...         "space": {"outline": [[0, 0], [4, 0], [4, 3], [0, 3]], "height": 2.7},
    ...         "people": {"seats": {"s1": {"at": [1, 1]}}},
    ...         "basis": {"space.height": "measured"},
    ...     }
    ... )
    >>> [standing_of(room, f"space.{p}") for p in ("height", "outline", "climate.humidity")]
    ['measured', 'told', 'left out']
    """
    if path not in room.basis and not is_given(room, path):
        return "left out"
    return _STANDINGS[basis_of(room, path)]


def spread(sigmas: dict[str, float], standing: Standing) -> float:
    """Half of the 10–90 % range of an input, by how it is known."""
    return NORMAL_90 * sigmas["assumed" if standing == "left out" else standing]


def changed(node: Any, path: str, value: Any) -> Any:
    """Same room, or part of one, with one value changed at a dotted path.

    Examples
    --------
    >>> room = Room.model_validate(
    ...     {
    ...         "wellheard": 1,
    ...         "space": {"outline": [[0, 0], [4, 0], [4, 3], [0, 3]], "height": 2.7},
    ...         "people": {"seats": {"s1": {"at": [1, 1]}}},
    ...     }
    ... )
    >>> changed(room, "people.seats.s1.height", 1.3).people.seats["s1"].height
    1.3
    """
    first, _, rest = path.partition(".")
    if isinstance(node, dict):
        return {**node, first: changed(node[first], rest, value) if rest else value}
    assert isinstance(node, BaseModel)
    fresh = changed(getattr(node, first), rest, value) if rest else value
    return node.model_copy(update={first: fresh})


def plan(subject: Subject) -> Iterator[Trial]:
    """Size of the room: every wall further out, or further in.

    Not of one that divides: its partitions would no longer meet their walls.
    """
    room, path = subject.room, "space.outline"
    standing = standing_of(room, path)
    if standing not in OPEN or room.partitions:
        return
    shift = spread(tolerances.WALL_SIGMA, standing)
    corners = np.asarray(room.space.outline, dtype=np.float64)
    low, high = corners.min(axis=0), corners.max(axis=0)
    middle = (low + high) / 2

    def grown(by: float) -> Room:
        fresh = middle + (corners - middle) * (1 + 2 * by / (high - low))
        return changed(room, path, tuple((float(x), float(y)) for x, y in fresh))

    size = " × ".join(subject.length(float(side)) for side in high - low)
    yield Trial(
        "plan",
        path,
        size,
        standing,
        (
            Alternative(f"every wall {subject.length(shift)} further in", grown(-shift), TOLERANCE),
            Alternative(f"every wall {subject.length(shift)} further out", grown(shift), TOLERANCE),
        ),
    )


def height(subject: Subject) -> Iterator[Trial]:
    """Height of the ceiling, with all that hangs from it."""
    room, path = subject.room, "space.height"
    standing = standing_of(room, path)
    if standing not in OPEN:
        return
    shift = spread(tolerances.CEILING_HEIGHT_SIGMA, standing)
    now = room.space.height
    yield Trial(
        "ceiling-height",
        path,
        subject.length(now),
        standing,
        tuple(
            Alternative(subject.length(now + by), _raised(subject, by), TOLERANCE)
            for by in (-shift, shift)
        ),
    )


def _raised(subject: Subject, by: float) -> Room:
    """The ceiling higher or lower: what is mounted on it or blows from it goes along."""
    room = subject.room
    old, new = room.space.height, room.space.height + by
    hung = {m.id for m in subject.evidence.microphones if m.mounting == "ceiling"}
    devices = {
        name: d.model_copy(update={"at": (*d.at[:2], d.at[2] + by)})
        if d.at is not None and (name in hung or d.at[2] > old - 0.3)
        else d
        for name, d in room.devices.items()
    }
    sources = {
        name: s.model_copy(update={"at": (*s.at[:2], s.at[2] + by)}) if s.at[2] > old - 0.3 else s
        for name, s in room.noise.sources.items()
    }
    patches = {
        name: p.model_copy(update={"top": min(p.top, new)}) if isinstance(p, Patch) else p
        for name, p in room.space.finishes.patches.items()
    }
    room = changed(room, "space.height", new)
    room = changed(room, "space.finishes.patches", patches)
    room = changed(room, "noise.sources", sources)
    return room.model_copy(update={"devices": devices})


def position(subject: Subject) -> Iterator[Trial]:
    """Where the worst talker's head is: nearer to its microphone on the plan, or further off."""
    room, talker = subject.room, subject.worst.talker
    field = "at" if talker.kind == "seat" else "outline"
    path = f"{talker.owner}.{field}"
    standing = standing_of(room, path)
    if standing not in OPEN:
        return
    shift = spread(tolerances.POSITION_SIGMA, standing)
    microphone = next(
        m for m in subject.evidence.microphones if m.id == subject.worst.path.microphone
    )
    away = np.subtract(talker.at[:2], microphone.at[:2])
    distance = float(np.hypot(*away))
    unit = away / distance if distance > 0.05 else np.array([1.0, 0.0])
    group, name = talker.owner.split(".")[1:]
    member = getattr(room.people, group)[name]

    def moved(by: float) -> Room:
        dx, dy = (float(v) for v in unit * by)
        if talker.kind == "seat":
            return changed(room, path, (member.at[0] + dx, member.at[1] + dy))
        return changed(room, path, tuple((x + dx, y + dy) for x, y in member.outline))

    by_text = subject.length(shift)
    yield Trial(
        "positions",
        path,
        f"{subject.length(subject.worst.path.distance)} from {microphone.id}",
        standing,
        (
            Alternative(f"{by_text} further from {microphone.id}", moved(shift), TOLERANCE),
            # Never through the microphone and out on the other side.
            Alternative(
                f"{by_text} nearer to {microphone.id}", moved(-min(shift, distance)), TOLERANCE
            ),
        ),
    )


def _open_members(room: Room, group: str, field: str) -> tuple[dict[str, Any], Standing]:
    """Seats or standing areas of which a field is open, and the least that any of them is known."""
    members = getattr(room.people, group)
    known = {name: standing_of(room, f"people.{group}.{name}.{field}") for name in members}
    found = {name: members[name] for name, standing in known.items() if standing in OPEN}
    return found, min((known[name] for name in found), key=OPEN.index, default="told")


def _each_changed(room: Room, group: str, fresh: dict[str, Any]) -> Room:
    return changed(room, f"people.{group}", {**getattr(room.people, group), **fresh})


def mouths(subject: Subject) -> Iterator[Trial]:
    """Heights of mouths, seated and standing."""
    room = subject.room
    for group, topic in (("seats", "mouths-seated"), ("standing", "mouths-standing")):
        found, standing = _open_members(room, group, "height")
        if not found:
            continue
        shift = spread(tolerances.MOUTH_HEIGHT_SIGMA, standing)

        def at(by: float, group: str = group, found: dict[str, Any] = found) -> Room:
            fresh = {n: m.model_copy(update={"height": m.height + by}) for n, m in found.items()}
            return _each_changed(room, group, fresh)

        heights = sorted({m.height for m in found.values()})
        value = "–".join(subject.length(h) for h in dict.fromkeys((heights[0], heights[-1])))
        by_text = subject.length(shift)
        yield Trial(
            topic,
            f"people.{group}",
            value,
            standing,
            (
                Alternative(f"{by_text} lower", at(-shift), TOLERANCE),
                Alternative(f"{by_text} higher", at(shift), TOLERANCE),
            ),
        )


def facing(subject: Subject) -> Iterator[Trial]:
    """What people look at when they talk: each other, the picture, along the table, all of it."""
    room = subject.room
    ways: dict[str, tuple[float | str, ...]] = {"each other": ("across",)}
    if any(item.kind in ("display", "screen") for item in room.furniture.values()):
        ways["the picture"] = ("display",)
    along = _along_the_table(room)
    if along is not None:
        ways["along the table"] = along
    if len(ways) > 1:
        everything = [one for way in ways.values() for one in way]
        ways["all of these"] = tuple(everything)
    for group, topic in (("seats", "facing-seated"), ("standing", "facing-standing")):
        found, standing = _open_members(room, group, "facing")
        if not found:
            continue
        alternatives = tuple(
            Alternative(
                text,
                _each_changed(
                    room,
                    group,
                    {n: m.model_copy(update={"facing": way}) for n, m in found.items()},
                ),
            )
            for text, way in ways.items()
            if any(set(m.facing) != set(way) for m in found.values())
        )
        shown = {" or ".join(_facing_words(f) for f in m.facing) for m in found.values()}
        value = shown.pop() if len(shown) == 1 else "each seat its own"
        yield Trial(topic, f"people.{group}", value, standing, alternatives)


def _facing_words(one: float | str) -> str:
    words = {"across": "each other", "display": "the picture"}
    return words[one] if isinstance(one, str) else f"{one:g}°"


def _along_the_table(room: Room) -> tuple[float, float] | None:
    """Both directions of the longest edge of the largest table [°]."""
    tables = [
        np.asarray(item.outline, dtype=np.float64)
        for item in room.furniture.values()
        if item.kind == "table"
    ]
    if not tables:
        return None
    edges = [np.roll(outline, -1, axis=0) - outline for outline in tables]
    longest = max((e for each in edges for e in each), key=lambda e: float(np.hypot(*e)))
    angle = round(math.degrees(math.atan2(longest[1], longest[0])) % 180.0, 3)
    return (angle, angle + 180.0)


def climate(subject: Subject) -> Iterator[Trial]:
    """Temperature and humidity within what offices have."""
    room = subject.room
    for topic, path, values, text in (
        ("temperature", "space.climate.temperature_c", (18.0, 26.0), "{:g} °C"),
        ("humidity", "space.climate.humidity", (0.3, 0.7), "{:.0%}"),
        ("scattering", "space.scattering", (0.1, 0.6), "{:g}"),
    ):
        standing = standing_of(room, path)
        if standing not in OPEN:
            continue
        now: Any = room
        for step in path.split("."):
            now = getattr(now, step)
        yield Trial(
            topic,
            path,
            text.format(now).replace("%", " %"),
            standing,
            tuple(
                Alternative(text.format(v).replace("%", " %"), changed(room, path, v))
                for v in values
                if v != now
            ),
        )


TABLE_TOPS = 0.03
"""10–90 % half range of a table's height [m]: 0.74 ± 0.02 m by EN 527-1 is a limit for desks."""


def table_tops(subject: Subject) -> Iterator[Trial]:
    """Heights of tables; what stands on them goes along."""
    room = subject.room
    found = {
        name: item
        for name, item in room.furniture.items()
        if item.kind == "table" and standing_of(room, f"furniture.{name}.height") in OPEN
    }
    if not found:
        return
    standing = min(
        (standing_of(room, f"furniture.{name}.height") for name in found), key=OPEN.index
    )
    on_top = {m.id for m in subject.evidence.microphones if m.mounting == "table"}

    def lifted(by: float) -> Room:
        furniture = {n: t.model_copy(update={"height": t.height + by}) for n, t in found.items()}
        devices = {
            name: d.model_copy(update={"at": (*d.at[:2], d.at[2] + by)})
            if name in on_top and d.at is not None
            else d
            for name, d in room.devices.items()
        }
        return room.model_copy(
            update={"furniture": {**room.furniture, **furniture}, "devices": devices}
        )

    heights = dict.fromkeys(subject.length(t.height) for t in found.values())
    one = next(iter(found)) if len(found) == 1 else None
    yield Trial(
        "table-tops",
        "furniture" if one is None else f"furniture.{one}.height",
        ", ".join(heights),
        standing,
        (
            Alternative(f"{subject.length(TABLE_TOPS)} lower", lifted(-TABLE_TOPS)),
            Alternative(f"{subject.length(TABLE_TOPS)} higher", lifted(TABLE_TOPS)),
        ),
    )


OCCUPANCY = {"left out": 0.3, "assumed": 0.3, "told": 0.2}
"""By how much the share of taken seats may be off (common practice)."""

EFFORTS = ("quiet", "normal", "raised", "loud")


def people(subject: Subject) -> Iterator[Trial]:
    """How many are there, and how loudly they talk."""
    room, path = subject.room, "people.occupancy"
    standing = standing_of(room, path)
    if standing in OPEN:
        now, by = room.people.occupancy, OCCUPANCY[standing]
        values = dict.fromkeys((max(0.0, now - by), min(1.0, now + by)))
        yield Trial(
            "occupancy",
            path,
            f"{100 * now:g} % of the seats taken",
            standing,
            tuple(
                Alternative(f"{100 * v:.0f} %", changed(room, path, v)) for v in values if v != now
            ),
        )
    path = "people.effort"
    standing = standing_of(room, path)
    if standing in OPEN:
        place = EFFORTS.index(room.people.effort)
        others = [EFFORTS[i] for i in (place - 1, place + 1) if 0 <= i < len(EFFORTS)]
        yield Trial(
            "effort",
            path,
            f"{room.people.effort} voice",
            standing,
            tuple(
                Alternative(f"{other} voice", changed(room, path, other), "ANSI S3.5-1997")
                for other in others
            ),
        )

"""A floor plan to a room document: looked at first, then one of its rooms taken over."""

from __future__ import annotations

import tempfile
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, cast, get_args

from wellheard.cad import Role
from wellheard.catalog.catalogue import Catalogue
from wellheard.drawings.foundplan import found_sheet, listed, many, told
from wellheard.errors import InputError, UsageError
from wellheard.importers.document import Taken, taken_over
from wellheard.importers.draft import Settled
from wellheard.importers.found import Asked, FoundPlan, FoundRoom, UnitUnstated
from wellheard.importers.guarded import read_guarded
from wellheard.importers.materials import own_table, plain
from wellheard.importers.picks import Picked as Pick
from wellheard.importers.standing import stood
from wellheard.units import Unit
from wellheard.workflow.design import Progress, quiet

__all__ = [
    "Asked",
    "FoundPlan",
    "FoundRoom",
    "Pick",
    "Role",
    "Settled",
    "Taken",
    "UnitUnstated",
    "many",
    "plain",
]

ROLES: tuple[Role, ...] = get_args(Role)


LOOK = "wellheard.workflow.importing:look_task"
"""What reads a plan in a job of its own."""


OUR_COPY = "copy-of-the-plan"

MOST_SEATS = 100
"""So many people are put round the tables of one plan."""


@dataclass(frozen=True)
class Looked:
    """A plan that was read, and the file it was read from."""

    name: str
    plan: FoundPlan


@dataclass(frozen=True)
class Unstated:
    """A plan that does not say its unit, with the size that it would have in each."""

    message: str
    sizes: tuple[tuple[str, float, float], ...]


def look(path: Path, asked: Asked | None = None) -> Looked:
    """Read a plan of unknown origin, in a process of its own with limits.

    Raises
    ------
    UnitUnstated
        It does not say its unit, and nobody else did.
    InputError
        It cannot be read, or not within the limits.
    """
    return Looked(path.name, read_guarded(path, asked or Asked()))


def look_task(*, name: str, raw: bytes, asked: Asked, say: Progress = quiet) -> Looked | Unstated:
    """Read a plan that came as bytes.

    Parameters
    ----------
    name : str
        What its file is called, for messages.
    raw : bytes
        The file.
    asked : Asked
        What the user says of it.
    say : callable
        Told how far things are.

    Raises
    ------
    InputError
        It cannot be read, or not within the limits.
    """
    say("reading the plan in a process of its own")
    with tempfile.TemporaryDirectory(prefix="wellheard-plan-") as folder:
        path = Path(folder) / OUR_COPY
        path.write_bytes(raw)
        try:
            return Looked(name, read_guarded(path, asked))
        except UnitUnstated as error:
            return Unstated(_called(str(error), path, name), error.sizes)
        except InputError as error:
            raise InputError(_called(str(error), path, name)) from None


def _called(message: str, path: Path, name: str) -> str:
    """A message about our copy of a file, as one about the user's."""
    return message.replace(str(path), name).replace(OUR_COPY, name)


def room_of(plan: FoundPlan, key: str | None) -> FoundRoom:
    """Return one room of a plan: the one that is named, or the only one.

    Raises
    ------
    UsageError
        There is none, several and none is named, or none of that key or name.
    """
    if not plan.rooms:
        raise UsageError(
            "no room was found in the plan: no closed outline, and no walls that close one; name "
            "the layer that has its outline or its walls with --layer"
        )
    if key is None:
        if len(plan.rooms) > 1:
            raise UsageError(
                f"the plan has {len(plan.rooms)} rooms ({_keys(plan.rooms)}); name one with --room"
            )
        return plan.rooms[0]
    named = [room for room in plan.rooms if key in (room.key, room.name)]
    if len(named) == 1:
        return named[0]
    what = "several rooms are called" if named else "there is no room"
    raise UsageError(f"{what} {key!r:.60}; give one of {_keys(plan.rooms)}")


def _keys(rooms: Sequence[FoundRoom]) -> str:
    some = [f"{room.key} {room.name}".strip() for room in rooms[:8]]
    return ", ".join(some) + (", …" if len(rooms) > 8 else "")


def take(
    plan: FoundPlan,
    key: str | None,
    settled: Settled | None = None,
    *,
    straighten: bool = True,
    catalogue: Catalogue | None = None,
) -> Taken:
    """Return the room document of one room of a plan.

    Parameters
    ----------
    plan : FoundPlan
        As `look` gives it.
    key : str, optional
        Of the room, or its name; None takes the only one.
    settled : Settled, optional
        What the user settles.
    straighten : bool
        Turn the room so that its walls lie along the axes.
    catalogue : Catalogue, optional
        Whose devices are known; the shipped one unless given.

    Raises
    ------
    UsageError
        No one room is named.
    InputError
        Its outline can be no room.
    """
    room = stood(room_of(plan, key), straighten=straighten)
    known = catalogue or Catalogue.shipped()
    return taken_over(
        plan,
        room,
        settled or Settled(),
        products=frozenset(product.id for product in known.products),
        finishes=frozenset(finish.id for finish in known.finishes),
    )


def own_finishes(path: Path, catalogue: Catalogue | None = None) -> dict[str, str]:
    """Return a user's own table of materials.

    Raises
    ------
    InputError
        It cannot be read, or a line of it cannot be used.
    """
    known = catalogue or Catalogue.shipped()
    return own_table(path, [finish.id for finish in known.finishes])


def units_of(plan: FoundPlan) -> Unit:
    """Return the units in which lengths of a plan are told."""
    return "ft" if plan.unit in ("in", "ft") else "m"


def preview(looked: Looked, key: str | None = None, *, unit: Unit | None = None) -> str:
    """Return the picture of what was read, as SVG; one room large where it is named or alone.

    Raises
    ------
    UsageError
        There is no room of that key.
    """
    plan = looked.plan
    chosen = room_of(plan, key) if key is not None or len(plan.rooms) == 1 else None
    return found_sheet(plan, chosen, name=looked.name, unit=unit or units_of(plan))


def sized(room: FoundRoom, unit: Unit) -> str:
    """Return the size of a room in words, its height where the plan says one."""
    size, high = listed(room, unit)[2:4]
    return f"{size}, {high} high" if room.height is not None else f"{size}, height not stated"


def kinds(taken: Taken, settled: Settled) -> tuple[tuple[Role, int], ...]:
    """Return the kinds of things that went into a document, and those left out as asked."""
    counts: Counter[Role] = Counter({role: 0 for role in settled.without})
    for line in taken.report:
        if line.taken and line.what in ROLES:
            counts[line.what] += line.count
    return tuple(sorted(counts.items(), key=lambda one: ROLES.index(one[0])))


def left(taken: Taken) -> tuple[str, ...]:
    """Return what did not go into a document, and why."""
    return tuple(str(line) for line in told(taken.report, taken=False))


def finish_ids(catalogue: Catalogue | None = None) -> tuple[str, ...]:
    """Return the finishes that a material may be given."""
    known = catalogue or Catalogue.shipped()
    return tuple(sorted(finish.id for finish in known.finishes))


def plan_answer(looked: Looked) -> dict[str, Any]:
    """What ``import --format json`` prints of a plan: rooms, report, layers."""
    plan = looked.plan
    return {
        "file": looked.name,
        "format": plan.format,
        "unit": plan.unit,
        "unit_source": plan.unit_source,
        "rooms": [_room_answer(room) for room in plan.rooms],
        "taken": [asdict(line) for line in told(plan.report, taken=True)],
        "left": [asdict(line) for line in told(plan.report, taken=False)],
        "layers": {
            name: {"count": count, "role": role} for name, (count, role) in plan.layers.items()
        },
        "warnings": list(plan.warnings),
    }


def _room_answer(room: FoundRoom) -> dict[str, Any]:
    return {
        "key": room.key,
        "name": room.name,
        "area": round(room.area, 4),
        "outline": [[round(x, 4), round(y, 4)] for x, y in room.outline],
        "height": room.height,
        "source": room.source,
        "seats": len(room.seats),
        "devices": len(room.devices),
        "materials": dict(room.materials),
    }


def taken_answer(taken: Taken) -> dict[str, Any]:
    """What ``import --format json`` prints of a room that was taken over."""
    return {
        "taken": [asdict(line) for line in told(taken.report, taken=True)],
        "left": [asdict(line) for line in told(taken.report, taken=False)],
        "assumed": list(taken.assumed),
        "unknown_materials": [
            {"material": material, "surface": surface} for material, surface in taken.unknown
        ],
    }


def picked(pairs: Sequence[str]) -> Mapping[Pick, tuple[str, ...]]:
    """Return layers by role of text such as ``wall=A-WALL*,A-PART``.

    Raises
    ------
    UsageError
        One has no role that there is, or names no layer.

    Examples
    --------
    >>> dict(picked(["wall=A-WALL*, A-PART", "seat=CHAIRS", "wall=W"]))
    {'wall': ('A-WALL*', 'A-PART', 'W'), 'seat': ('CHAIRS',)}
    """
    found: dict[Pick, tuple[str, ...]] = {}
    for pair in pairs:
        role, parted, names = pair.partition("=")
        layers = tuple(name.strip() for name in names.split(",") if name.strip())
        if role != "ignore" and role not in ROLES:
            raise UsageError(
                f"--layer {pair!r:.60}: no such role; ignore, or one of {', '.join(ROLES)}"
            )
        if not parted or not layers:
            raise UsageError(f"--layer {pair!r:.60}: no layer; write {role}=LAYER or {role}=A-*")
        pick = cast("Pick", role)
        found[pick] = (*found.get(pick, ()), *layers)
    return found


def roles(names: Sequence[str]) -> frozenset[Role]:
    """Return kinds of things by their names.

    Raises
    ------
    UsageError
        There is none of a name.
    """
    unknown = [name for name in names if name not in ROLES]
    if unknown:
        raise UsageError(f"--without {unknown[0]!r:.40}: no such role; one of {', '.join(ROLES)}")
    return frozenset(cast("tuple[Role, ...]", tuple(names)))

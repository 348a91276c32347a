"""What somebody does to a room at a drawing board, as plain data: set, move, add, take away.

A change is a list of operations, each a mapping as JSON has it. They are made one after the
other; the first that cannot be made refuses them all. Values are SI, what was typed is in the unit
that was shown. Nothing is checked against the rest of the document until its text is read again.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, TypeAlias

from wellheard.forms.fields import shown
from wellheard.forms.refusals import listed, near
from wellheard.room import adding, amend, moving, outlines, refused, tables, typed
from wellheard.room.changes import changed_paths
from wellheard.room.consistency import missing_step
from wellheard.room.document import Room
from wellheard.room.mounts import Mount
from wellheard.room.moving import Item, Point
from wellheard.room.refused import OperationError, Steps, steps_of
from wellheard.units import Unit

__all__ = ["Applied", "OperationError", "apply", "changed_paths"]

MOST_OPERATIONS = 2000
"""Operations of one change."""
MOST_ITEMS = 1000
"""Items of one operation."""
FARTHEST = 1000.0
"""No coordinate or move is larger. [m]"""
PLACING = ("at", "equipment", "aim_deg", "rotation_deg")
"""Fields of a device that a lock holds."""


@dataclass(frozen=True, slots=True)
class Applied:
    """A room after operations.

    Attributes
    ----------
    room : Room
        As it is now.
    created : tuple of str
        Paths of new items, in order.
    touched : tuple of str
        Dotted paths of the leaves that are not as they were, sorted.
    notes : tuple of str
        What was not done as wished, as sentences.
    """

    room: Room
    created: tuple[str, ...]
    touched: tuple[str, ...]
    notes: tuple[str, ...] = ()


@dataclass(slots=True)
class _Board:
    """The room while operations are made."""

    room: Room
    unit: Unit
    mounts: Mapping[str, Mount]
    created: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


def apply(
    room: Room,
    operations: Sequence[Mapping[str, Any]],
    *,
    unit: Unit,
    mounts: Mapping[str, Mount] | None = None,
) -> Applied:
    """Room after operations, without changing the one handed in.

    Parameters
    ----------
    room : Room
        As it is.
    operations : sequence of mappings
        ``{"path", "set" | "typed" | "remove"}``, or ``{"do": word, …}``.
    unit : {"m", "ft"}
        Of bare numbers that were typed.
    mounts : mapping of str to Mount, optional
        How products are mounted, for adding them; see `wellheard.workflow.mounting`.

    Returns
    -------
    Applied

    Raises
    ------
    OperationError
        One of them cannot be made: where, what, what is allowed.

    Examples
    --------
    >>> room = Room.model_validate(
    ...     {
    ...         "wellheard": 1,
    ...         "space": {"outline": [[0, 0], [4, 0], [4, 3], [0, 3]], "height": 2.7},
    ...         "people": {"seats": {"s1": {"at": [1, 1]}}},
    ...     }
    ... )
    >>> move = {"do": "move", "items": ["people.seats.s1"], "by": [0.5, 0]}
    >>> done = apply(room, [move, {"path": "space.height", "typed": "9"}], unit="ft")
    >>> done.room.people.seats["s1"].at, done.room.space.height, done.touched
    ((1.5, 1.0), 2.7432, ('people.seats.s1.at', 'space.height'))
    """
    if not isinstance(operations, list | tuple) or len(operations) > MOST_OPERATIONS:
        raise OperationError(
            "operations", f"found {shown(operations)}", f"a list of at most {MOST_OPERATIONS}"
        )
    board = _Board(room, unit, mounts or {})
    for operation in operations:
        _made(board, operation)
    done = _with_sound_basis(room, board.room)
    amend.refuse_ill_formed(done)
    touched = tuple(sorted(changed_paths(room, done)))
    return Applied(done, tuple(board.created), touched, tuple(board.notes))


def _made(board: _Board, operation: object) -> None:
    if not isinstance(operation, Mapping):
        raise OperationError("operations", f"found {shown(operation)}", "a mapping with path or do")
    if "path" in operation:
        _amended(board, operation)
        return
    word = operation.get("do")
    if not isinstance(word, str) or word not in _DOING:
        question = near(word, _DOING, else_=listed(_DOING)) if isinstance(word, str) else ""
        raise OperationError("do", f"found {shown(word)}", question or listed(_DOING))
    doing, known = _DOING[word]
    _only(operation, word, ("do", *known))
    doing(board, operation)


def _only(operation: Mapping[str, Any], word: str, known: Sequence[str]) -> None:
    for key in operation:
        if key not in known:
            raise OperationError(f"{word}.{str(key)[:40]}", "unknown field", listed(known))


# Fields --------------------------------------------------------------------------------------


def _amended(board: _Board, operation: Mapping[str, Any]) -> None:
    path = operation["path"]
    steps = steps_of(path)
    _only(operation, "path", ("path", "set", "typed", "remove"))
    forms = [name for name in ("set", "typed", "remove") if name in operation]
    if len(forms) != 1 or ("remove" in forms and operation["remove"] is not True):
        raise OperationError(path, "nothing to do", "exactly one of set, typed and remove: true")
    _refuse_placing(board.room, steps)
    special = _special(board, steps, forms[0], operation)
    board.room = _plainly(board, forms[0], operation) if special is None else special


def _plainly(board: _Board, form: str, operation: Mapping[str, Any]) -> Room:
    """Room with one field changed and nothing else."""
    path = operation["path"]
    if form == "set":
        return amend.with_value(board.room, path, operation["set"])
    if form == "typed":
        return amend.with_typed(board.room, path, operation["typed"], unit=board.unit)
    return amend.without_value(board.room, path)


def _refuse_placing(room: Room, steps: Steps) -> None:
    """Leave the place of a locked device alone, whichever way it is put."""
    if steps[0] == "devices" and len(steps) > 2 and steps[2] in (*PLACING, "drop"):
        device = room.devices.get(steps[1])
        if device is not None:
            moving.refuse_locked(Item(("devices",), steps[1], device))


def _special(board: _Board, steps: Steps, form: str, operation: Mapping[str, Any]) -> Room | None:
    """Room after a change that concerns more than its field; None for any other."""
    room = board.room
    if form == "remove":
        if any(steps[:-1] == c for c in moving.COLLECTIONS):
            return moving.removed(room, [moving.item_at(room, operation["path"])])
        if steps[:2] == ("space", "outline") and len(steps) == 3:
            return outlines.corner_removed(room, _index(steps[2]))
        return None
    value = operation[form]
    if steps[:2] == ("space", "walls") and len(steps) == 3:
        return _renamed(room, steps, value)
    if steps[:2] == ("space", "outline") and len(steps) in (3, 4):
        # Validated where it stands; what is on the walls goes with them.
        checked = _plainly(board, form, operation)
        corner = _index(steps[2])
        return outlines.corner_put(room, corner, checked.space.outline[corner])
    if steps[0] == "devices" and steps[2:] in (("at",), ("equipment",)):
        return _placed_once(_plainly(board, form, operation), steps[1], steps[2])
    if form != "typed" or not isinstance(value, str):
        return None

    def length() -> float:
        return typed.typed_length(operation["path"], value, unit=board.unit)

    if steps[:2] == ("space", "walls") and steps[3:] == ("length",):
        return outlines.wall_lengthened(room, _index(steps[2]), length())
    if steps[0] == "devices" and steps[2:] == ("drop",):
        return _dropped(room, steps[1], operation["path"], length())
    if steps[-2:-1] == ("outline",) and steps[-1] in tables.SIDES:
        item = moving.item_at(room, ".".join(steps[:-2]))
        return moving.put(room, tables.resized(item, steps[-1], length()))
    return None


def _placed_once(room: Room, name: str, field: str) -> Room:
    """A device has a place of its own or stands in equipment: the newer of the two counts."""
    device = room.devices[name]
    other = "equipment" if field == "at" else "at"
    if getattr(device, field) is None or getattr(device, other) is None:
        return room
    return amend.without_value(room, f"devices.{name}.{other}")


def _renamed(room: Room, steps: Steps, name: object) -> Room:
    # Validated where it stands, then taken over wherever the wall is named.
    index = _index(steps[2])
    checked = amend.with_value(room, ".".join(steps), name)
    return outlines.wall_renamed(room, index, checked.space.walls[index])


def _dropped(room: Room, name: str, path: str, drop: float) -> Room:
    device = room.devices.get(name)
    if device is None:
        raise refused.unknown(("devices", name), name, list(room.devices))
    if device.at is None:
        raise OperationError(path, f"{name} has no place of its own", "give it a place first")
    if not 0 <= drop < room.space.height:
        raise OperationError(path, "no drop below this ceiling", "0 or more, above the floor")
    return amend.with_value(room, f"devices.{name}.at.2", moving.plus(room.space.height, -drop))


def _index(step: object) -> int:
    text = str(step)
    return int(text) if text.isascii() and text.isdecimal() and len(text) < 6 else -1


# Doing ---------------------------------------------------------------------------------------


def _items(
    board: _Board, operation: Mapping[str, Any]
) -> tuple[list[Item], dict[int, None], list[int]]:
    """Items of an operation, the corners it names, and the walls it names."""
    paths = operation.get("items")
    if not isinstance(paths, list | tuple) or not 1 <= len(paths) <= MOST_ITEMS:
        raise OperationError("items", f"found {shown(paths)}", "a list of one item or more")
    items, corners, walls = [], dict[int, None](), []
    for path in dict.fromkeys(p if isinstance(p, str) else shown(p) for p in paths):
        steps = steps_of(path)
        if steps[:2] == ("space", "outline") and len(steps) == 3:
            corners[_index(steps[2])] = None
        elif steps[:2] == ("space", "walls") and len(steps) == 3:
            walls.append(_index(steps[2]))
        else:
            items.append(moving.item_at(board.room, path))
    return items, corners, walls


def _things(board: _Board, operation: Mapping[str, Any], doing: str) -> list[Item]:
    items, corners, walls = _items(board, operation)
    if corners or walls:
        raise OperationError(
            "items", f"corners and walls of the room cannot be {doing}", "the things in the room"
        )
    return items


def _move(board: _Board, operation: Mapping[str, Any]) -> None:
    items, corners, walls = _items(board, operation)
    by = _point(operation, "by")
    count = len(board.room.space.outline)
    for wall in walls:
        corners |= {wall: None, (wall + 1) % count if 0 <= wall < count else wall: None}
    if corners:
        board.room = outlines.corners_moved(board.room, dict.fromkeys(corners, by))
    board.room = moving.moved(board.room, items, by)


def _copy(board: _Board, operation: Mapping[str, Any]) -> None:
    items = _things(board, operation, "copied")
    board.room, created = moving.copied(board.room, items, _point(operation, "by"))
    board.created += created


def _remove(board: _Board, operation: Mapping[str, Any]) -> None:
    items, corners, walls = _items(board, operation)
    if walls:
        raise OperationError(
            f"space.walls.{walls[0]}", "a wall goes with a corner", "take that away"
        )
    for corner in sorted(corners, reverse=True):
        board.room = outlines.corner_removed(board.room, corner)
    gone = {item.path for item in items}
    # What a corner did to a picture is in the room by now, not in the item.
    board.room = moving.removed(board.room, [moving.item_at(board.room, p) for p in sorted(gone)])


def _turn(board: _Board, operation: Mapping[str, Any]) -> None:
    items = _things(board, operation, "turned")
    board.room = moving.turned(board.room, items, _number(operation, "by_deg", most=3600.0))


def _add(board: _Board, operation: Mapping[str, Any]) -> None:
    wish = adding.Wish(
        kind=_word(operation, "kind"),
        at=_point(operation, "at"),
        product=_word(operation, "product") if operation.get("product") is not None else "",
    )
    board.room, path = adding.added(board.room, wish, mounts=board.mounts)
    board.created.append(path)


def _corner_move(board: _Board, operation: Mapping[str, Any]) -> None:
    corner = _whole(operation, "corner")
    board.room = outlines.corner_put(board.room, corner, _point(operation, "to"))


def _corner_add(board: _Board, operation: Mapping[str, Any]) -> None:
    wall = _whole(operation, "wall")
    board.room = outlines.corner_added(board.room, wall, _point(operation, "at"))
    board.created.append(f"space.outline.{wall + 1}")


def _corner_remove(board: _Board, operation: Mapping[str, Any]) -> None:
    board.room = outlines.corner_removed(board.room, _whole(operation, "corner"))


def _wall_length(board: _Board, operation: Mapping[str, Any]) -> None:
    wall = _whole(operation, "wall")
    text = operation.get("typed")
    if not isinstance(text, str):
        raise OperationError("typed", f"found {shown(text)}", "a length as typed, 14 ft 6 in")
    length = typed.typed_length(f"space.walls.{wall}", text, unit=board.unit)
    board.room = outlines.wall_lengthened(board.room, wall, length)


def _seats_around(board: _Board, operation: Mapping[str, Any]) -> None:
    table, count = _word(operation, "table"), _whole(operation, "count")
    board.room, created = tables.seated_around(board.room, table, count)
    board.created += created
    if len(created) < count:
        board.notes.append(f"{len(created)} of {count} seats fit round {table}.")


_Doing: TypeAlias = Callable[[_Board, Mapping[str, Any]], None]
_DOING: dict[str, tuple[_Doing, tuple[str, ...]]] = {
    "add": (_add, ("kind", "at", "product")),
    "move": (_move, ("items", "by")),
    "copy": (_copy, ("items", "by")),
    "remove": (_remove, ("items",)),
    "turn": (_turn, ("items", "by_deg")),
    "seats-around": (_seats_around, ("table", "count")),
    "corner-move": (_corner_move, ("corner", "to")),
    "corner-add": (_corner_add, ("wall", "at")),
    "corner-remove": (_corner_remove, ("corner",)),
    "wall-length": (_wall_length, ("wall", "typed")),
}


# Arguments -----------------------------------------------------------------------------------


def _number(operation: Mapping[str, Any], name: str, *, most: float) -> float:
    return _figure(name, operation.get(name), most)


def _figure(name: str, value: object, most: float) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise OperationError(name, f"{shown(value)} is no number", "a number")
    if not abs(value) <= most:  # also what is no number at all
        raise OperationError(name, f"{value!r:.24} is out of all reason", f"−{most:g} to {most:g}")
    return round(float(value), typed.EXACT) + 0.0


def _point(operation: Mapping[str, Any], name: str) -> Point:
    value = operation.get(name)
    if not isinstance(value, list | tuple) or len(value) != 2:
        raise OperationError(name, f"{shown(value)} is no point on the plan", "two numbers, [x, y]")
    return _figure(name, value[0], FARTHEST), _figure(name, value[1], FARTHEST)


def _whole(operation: Mapping[str, Any], name: str) -> int:
    value = operation.get(name)
    if isinstance(value, bool) or not isinstance(value, int) or not 0 <= value <= 1000:
        raise OperationError(name, f"{shown(value)} is no such number", "0, 1, 2, …")
    return value


def _word(operation: Mapping[str, Any], name: str) -> str:
    value = operation.get(name)
    if not isinstance(value, str) or not 0 < len(value) <= 80:
        raise OperationError(name, f"found {shown(value)}", "a word")
    return value


def _with_sound_basis(old: Room, new: Room) -> Room:
    """Room whose basis speaks of nothing that has gone."""
    if not new.basis or old is new:
        return new
    basis = {
        path: word
        for path, word in new.basis.items()
        if path not in old.basis or missing_step(new, path) is None
    }
    return new if len(basis) == len(new.basis) else new.model_copy(update={"basis": basis})

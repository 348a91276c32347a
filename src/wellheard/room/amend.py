"""One field of a room changed by its dotted path, from a value or from what somebody typed.

Paths go by the names of fields as they are written, ids of entries and places in lists, and
nothing else: no attribute that is not a field can be reached. Each change is validated by the
model that it stands in; the rest of the room is left as it is, to the bit.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Callable, Mapping
from typing import Any, TypeAlias

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo

from wellheard.forms.fields import Frozen, declared_unit, shown
from wellheard.forms.refusals import Form
from wellheard.room.document import Room
from wellheard.room.finishes import InlineFinish
from wellheard.room.furniture import KINDS
from wellheard.room.refused import MOST_STEPS, OperationError, Steps, steps_of, unknown
from wellheard.room.typed import EXACT, read_typed
from wellheard.room.writing import document_data
from wellheard.units import Unit

LARGEST = 10**15
MOST_PARTS = 20_000
"""Numbers, texts and containers in one value."""


def with_value(room: Room, path: str, value: Any) -> Room:
    """Room with the field at ``path`` set to a value in SI.

    Raises
    ------
    OperationError
        There is no such place, or the value is none for it.
    """
    fresh = _plain(path, value)
    return _put(room, path, lambda _: fresh)


def with_typed(room: Room, path: str, text: str, *, unit: Unit) -> Room:
    """Room with the field at ``path`` set to what somebody typed into it.

    Parameters
    ----------
    room : Room
        As it is.
    path : str
        Dotted path of a field, or of one of a list: ``people.seats.s1.at.0``.
    text : str
        A length (a bare number is in ``unit``), a number, a word, several of them with commas
        between; empty goes back to the default.
    unit : {"m", "ft"}
        Of bare numbers.

    Raises
    ------
    OperationError
        There is no such place, or the text is nothing for it.

    Examples
    --------
    >>> room = Room.model_validate(
    ...     {
    ...         "wellheard": 1,
    ...         "space": {"outline": [[0, 0], [4, 0], [4, 3], [0, 3]], "height": 2.7},
    ...         "people": {"seats": {"s1": {"at": [1, 1]}}},
    ...     }
    ... )
    >>> with_typed(room, "space.height", "9 ft", unit="m").space.height
    2.7432
    """
    if not isinstance(text, str) or len(text) > 2000:
        raise OperationError(path, f"{shown(text)} is nothing typed", "a short text")
    plain = text.replace("\u00a0", " ").strip()
    field = field_at(room, path)
    if not plain:
        return without_value(room, path)
    if field is None:
        return with_value(room, path, plain)
    return _put(room, path, lambda old: read_typed(path, plain, old, field, unit))


def without_value(room: Room, path: str) -> Room:
    """Room in which the field at ``path`` has its default again, or an entry is gone.

    Raises
    ------
    OperationError
        There is no such place, or it cannot do without a value.
    """
    return _put(room, path, None)


# The walk ------------------------------------------------------------------------------------

_Change: TypeAlias = Callable[[Any], Any] | None
"""New value from the old one; null takes it away."""
_GONE = object()


def _put(room: Room, path: str, change: _Change) -> Room:
    steps = steps_of(path)
    by_wall = steps[:3] == ("space", "finishes", "walls") and len(steps) > 3
    fresh = _changed(_by_wall(room) if by_wall else room, steps, (), change, room.units)
    assert isinstance(fresh, Room)
    if by_wall and all(
        fresh.space.wall_finish(name) == room.space.wall_finish(name) for name in room.space.walls
    ):
        return room  # one finish that is the same for all stays written as one
    return fresh


def _by_wall(room: Room) -> Room:
    """Room with its one finish of walls written for each of them."""
    finishes = room.space.finishes
    if isinstance(finishes.walls, dict):
        return room
    each = dict.fromkeys(room.space.walls, finishes.walls)
    space = room.space.model_copy(
        update={"finishes": finishes.model_copy(update={"walls": each})},
    )
    return room.model_copy(update={"space": space})


def _changed(here: Any, steps: Steps, above: Steps, change: _Change, units: Unit) -> Any:
    """What is ``here``, with a change further down."""
    where = ".".join((*above, *steps))
    if not steps:
        return _GONE if change is None else change(here)
    step, rest, inside = steps[0], steps[1:], (*above, steps[0])
    if isinstance(here, BaseModel):
        name = field_name(here, step, above)
        old = getattr(here, name, None)
        new = _changed(old, rest, inside, change, units)
        return _replaced(here, name, step, new, above, units)
    if isinstance(here, dict):
        key = next((k for k in here if _key(k) == step), None)
        if key is None and (rest or change is None):
            raise unknown(inside, step, [_key(k) for k in here])
        new = _changed(here.get(key), rest, inside, change, units)
        if new is _GONE:
            return {k: v for k, v in here.items() if k != key}
        return {**here, step if key is None else key: new}
    if isinstance(here, tuple | list):
        if not (step.isdecimal() and len(step) < 6 and int(step) < len(here)):
            raise unknown(inside, step, [str(i) for i in range(len(here))])
        index = int(step)
        new = _changed(here[index], rest, inside, change, units)
        return (*here[:index], *(() if new is _GONE else (new,)), *here[index + 1 :])
    if here is None:
        raise OperationError(where, "there is nothing yet", f"set {'.'.join(above)} as a whole")
    raise OperationError(where, f"{'.'.join(above)} has no parts", "the field itself")


def _replaced(
    model: BaseModel, name: str, step: str, new: Any, above: Steps, units: Unit
) -> BaseModel:
    """Model with one field changed, checked by the model itself."""
    kind = type(model)
    given = {
        (kind.model_fields[n].alias or n) if n in kind.model_fields else n: getattr(model, n)
        for n in model.model_fields_set
        if n != name
    }
    if isinstance(model, Room):
        given["units"] = "m"  # what is handed in is SI
    if new is not _GONE:
        given[step] = new
    try:
        checked = kind.model_validate(given, by_name=False, by_alias=True)
    except ValidationError as error:
        raise _refused(kind, error, above) from None
    if new is not _GONE:
        return model.model_copy(update={name: getattr(checked, name)})
    if name not in kind.model_fields:
        extra = {k: v for k, v in (model.model_extra or {}).items() if k != name}
    else:
        extra = dict(model.model_extra or {})
    values = {n: getattr(model, n) for n in kind.model_fields if n != name}
    field = kind.model_fields.get(name)
    if field is not None:
        with declared_unit(units):
            values[name] = field.get_default(call_default_factory=True, validated_data=values)
    return kind.model_construct(model.model_fields_set - {name}, **values, **extra)


@functools.cache
def _fields(model: type[BaseModel]) -> dict[str, str]:
    """Name in Python of each field by its name as written."""
    return {(info.alias or name): name for name, info in model.model_fields.items()}


def field_name(model: BaseModel, step: str, above: Steps) -> str:
    """Name in Python of a field as it is written.

    Raises
    ------
    OperationError
        The model has no such field.
    """
    fields = _fields(type(model))
    if step in fields:
        return fields[step]
    if isinstance(model, Room) and step.startswith("x-"):
        return step
    raise unknown((*above, step), step, list(fields))


def refuse_ill_formed(room: Room) -> None:
    """Hold every field of a room against its own form, as its text would be.

    Raises
    ------
    OperationError
        One of them is none: a length below its least, say.
    """
    data = {**document_data(room, "m"), "units": "m"}
    try:
        Room.model_validate(data, by_name=False, by_alias=True)
    except ValidationError as error:
        raise _refused(Room, error, ()) from None


def _refused(kind: type[BaseModel], error: ValidationError, above: Steps) -> OperationError:
    for one in Form(kind, KINDS).refusals(error.errors(include_url=False)):
        where = ".".join((*above, *map(str, one.path)))
        return OperationError(where, one.what, one.allowed)
    return OperationError(".".join(above), "cannot be read", "what the document's schema says")


def _key(key: Any) -> str:
    return f"{key:g}" if isinstance(key, float) else str(key)


def _plain(path: str, value: Any) -> Any:
    """Plain data as it came, lengths without the noise of floating point."""
    parts = 0

    def tidy(one: Any, depth: int) -> Any:
        nonlocal parts
        parts += 1
        if depth > MOST_STEPS or parts > MOST_PARTS:
            raise OperationError(path, "too much at once", "a smaller value")
        if isinstance(one, int) and abs(one) > LARGEST:
            raise OperationError(path, "a number out of all reason", "a smaller one")
        if isinstance(one, float) and math.isfinite(one):
            return round(one, EXACT)
        if isinstance(one, list | tuple):
            return [tidy(item, depth + 1) for item in one]
        if isinstance(one, Mapping):
            return {key: tidy(item, depth + 1) for key, item in one.items()}
        return one

    return tidy(value, 0)


# Looking up ----------------------------------------------------------------------------------


def field_at(room: Room, path: str) -> FieldInfo | None:
    """Field that a path leads to or into; none for what has no form of its own.

    Raises
    ------
    OperationError
        It leads nowhere.
    """
    here: Any = room
    field: FieldInfo | None = None
    above: Steps = ()
    for step in steps_of(path):
        if isinstance(here, BaseModel):
            name = field_name(here, step, above)
            field = type(here).model_fields.get(name)
            here = getattr(here, name, None)
        elif isinstance(here, dict):
            here = next((v for k, v in here.items() if _key(k) == step), None)
        elif isinstance(here, tuple | list) and step.isdecimal() and int(step[:6]) < len(here):
            here = here[int(step[:6])]
        elif not isinstance(here, str | InlineFinish):
            here = None
        above = (*above, step)
    return field


def value_at(room: Room, path: str) -> Any:
    """Value that a path leads to; None where nothing is.

    Examples
    --------
    >>> room = Room.model_validate(
    ...     {
    ...         "wellheard": 1,
    ...         "space": {"outline": [[0, 0], [4, 0], [4, 3], [0, 3]], "height": 2.7},
    ...         "people": {"seats": {"s1": {"at": [1, 2]}}},
    ...     }
    ... )
    >>> value_at(room, "people.seats.s1.at.1"), value_at(room, "people.assistive_listening")
    (2.0, None)
    """
    here: Any = room
    above: Steps = ()
    for step in steps_of(path):
        if isinstance(here, BaseModel):
            here = getattr(here, field_name(here, step, above), None)
        elif isinstance(here, dict):
            found = here.get(step)
            # Octaves are numbers.
            here = found or next((v for k, v in here.items() if _key(k) == step), None)
        elif isinstance(here, tuple | list) and step.isdecimal() and int(step[:6]) < len(here):
            here = here[int(step[:6])]
        else:
            return None
        above = (*above, step)
    return here


def entries_of(room: Room, steps: Steps) -> Mapping[str, Frozen]:
    """Entries of the collection that steps of field names lead to."""
    here: Any = room
    for step in steps:
        here = getattr(here, step)
    assert isinstance(here, dict)
    return here


def with_entries(room: Room, steps: Steps, entries: Mapping[str, Any]) -> Room:
    """Room with other entries in a collection, which are models already."""

    def inside(here: Any, rest: Steps) -> Any:
        if not rest:
            return dict(entries)
        return here.model_copy(update={rest[0]: inside(getattr(here, rest[0]), rest[1:])})

    fresh = inside(room, steps)
    assert isinstance(fresh, Room)
    return fresh

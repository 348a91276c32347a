"""Which leaves of a document two rooms differ in."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from pydantic import BaseModel

from wellheard.room.document import Room

_MISSING = object()


def changed_paths(old: Room, new: Room) -> frozenset[str]:
    """Dotted paths of every field that two rooms give different values.

    Entries of collections go by their ids; a list is one field, and so is a set of octave
    figures. Of an entry that only one room has, every field is named, so that taking an entry
    away meets whatever else is done to it.

    Examples
    --------
    >>> data = {
    ...     "wellheard": 1,
    ...     "space": {"outline": [[0, 0], [4, 0], [4, 3], [0, 3]], "height": 2.7},
    ...     "people": {"seats": {"s1": {"at": [1, 1]}}},
    ... }
    >>> old = Room.model_validate(data)
    >>> data["people"] = {"seats": {"s1": {"at": [1, 2]}}}
    >>> sorted(changed_paths(old, Room.model_validate(data)))
    ['people.seats.s1.at']
    """
    return frozenset(_different("", old, new))


def _different(path: str, old: Any, new: Any) -> Iterator[str]:
    if old is new or (type(old) is type(new) and old == new):
        return
    a, b = parts_of(old), parts_of(new)
    if a is None and b is None:
        if old != new:
            yield path
        return
    if (a is None and old is not _MISSING) or (b is None and new is not _MISSING):
        yield path  # a value of another form: one finish, say, in place of one for each wall
    elif not (a or b):
        yield path  # an empty collection comes or goes
    for name in dict.fromkeys((*(a or ()), *(b or ()))):
        below = f"{path}.{name}" if path else name
        yield from _different(below, (a or {}).get(name, _MISSING), (b or {}).get(name, _MISSING))


def parts_of(value: Any) -> dict[str, Any] | None:
    """Parts of what is no leaf, by their names as written."""
    if isinstance(value, BaseModel):
        fields = type(value).model_fields.items()
        return {
            **{(info.alias or name): getattr(value, name) for name, info in fields},
            **(value.model_extra or {}),
        }
    if isinstance(value, dict) and all(isinstance(key, str) for key in value):
        return value
    return None

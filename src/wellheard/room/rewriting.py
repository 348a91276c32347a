"""The operations that make one room of another: what a change is written down as."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from pydantic import BaseModel

from wellheard.room.changes import parts_of
from wellheard.room.document import Room

_MISSING = object()
_TAKEN = ("links.", "processing.", "basis.")


def operations_between(old: Room, new: Room) -> list[dict[str, Any]]:
    """Operations of `wellheard.room.operations` that make ``new`` of ``old``.

    Entries of collections that only one of them has come or go whole, the rest field by field;
    values are SI.

    Examples
    --------
    >>> data = {
    ...     "wellheard": 1,
    ...     "space": {"outline": [[0, 0], [4, 0], [4, 3], [0, 3]], "height": 2.7},
    ...     "people": {"seats": {"s1": {"at": [1, 1]}}},
    ... }
    >>> old = Room.model_validate(data)
    >>> data["people"] = {"seats": {"s1": {"at": [1, 2]}}}
    >>> operations_between(old, Room.model_validate(data))
    [{'path': 'people.seats.s1.at', 'set': [1.0, 2.0]}]
    """
    steps = list(_steps("", old, new))
    # Cables and stages go before their devices, which would take them along.
    return sorted(steps, key=lambda one: not ("remove" in one and one["path"].startswith(_TAKEN)))


def _steps(path: str, old: Any, new: Any) -> Iterator[dict[str, Any]]:
    if type(old) is type(new) and old == new:
        return
    if new is _MISSING:
        yield {"path": path, "remove": True}
        return
    a, b = (None if old is _MISSING else parts_of(old)), parts_of(new)
    if a is None or b is None or (isinstance(old, BaseModel) and type(old) is not type(new)):
        yield {"path": path, "set": _plain(new)}
        return
    # What goes, goes first: its id or its port may be wanted again.
    for name in (*(n for n in a if n not in b), *b):
        below = f"{path}.{name}" if path else name
        yield from _steps(below, a.get(name, _MISSING), b.get(name, _MISSING))


def _plain(value: Any) -> Any:
    """Value in SI, as JSON has it and as a document writes it."""
    if isinstance(value, BaseModel):
        return value.model_dump(mode="json", by_alias=True, exclude_unset=True)
    if isinstance(value, dict):
        return {key: _plain(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(one) for one in value]
    return value if isinstance(value, str | int | float | bool | None) else str(value)

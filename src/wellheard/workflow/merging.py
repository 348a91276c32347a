"""Two changes of one document brought together, or what they disagree about."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Any, TypeAlias

from wellheard.catalog.catalogue import Catalogue
from wellheard.errors import WellheardError, visible
from wellheard.room import codec
from wellheard.room.codec import Document
from wellheard.room.document import Room
from wellheard.room.writing import document_data
from wellheard.units import Unit
from wellheard.workflow.difference import changes, subject
from wellheard.workflow.load import Loaded

MOST_TOLD = 20
"""Clashes that are told by name."""
_ABSENT: Any = object()

_Data: TypeAlias = dict[str, Any]
Steps: TypeAlias = tuple[str, ...]
"""Way to a place in a document. Ids may hold dots, as those of ``basis`` do."""


@dataclass(frozen=True)
class Clash:
    """One thing that two changes say differently.

    Attributes
    ----------
    path : str
        Where it stands in the document.
    yours, theirs : str
        What each makes of it, in words.
    what : str
        What it is called.
    """

    path: str
    yours: str
    theirs: str
    what: str


class Conflict(WellheardError):
    """A change that another one came before, which says something else; nothing was written.

    Attributes
    ----------
    clashes : tuple of Clash
        At least one.
    """

    def __init__(self, clashes: Collection[Clash]) -> None:
        self.clashes = tuple(clashes)
        first = self.clashes[0]
        more = f", and {len(self.clashes) - 1} more" if len(self.clashes) > 1 else ""
        super().__init__(
            visible(
                f"{first.what}: yours {first.yours}, meanwhile {first.theirs}{more}; look at what "
                "is there now, then change it again if yours is still wanted"
            )
        )


def merged(base: Room, yours: Room, theirs: Room) -> Room | None:
    """Room with what each of two changes did to ``base``; none if they say different things.

    Nothing is checked against the rest of the document until its text is read again.

    Examples
    --------
    >>> data = {
    ...     "wellheard": 1,
    ...     "space": {"outline": [[0, 0], [4, 0], [4, 3], [0, 3]], "height": 2.7},
    ...     "people": {"seats": {"s1": {"at": [1, 1]}}},
    ... }
    >>> base = Room.model_validate(data)
    >>> higher = Room.model_validate({**data, "space": {**data["space"], "height": 3}})
    >>> titled = Room.model_validate({**data, "title": "Tide Room"})
    >>> both = merged(base, higher, titled)
    >>> both.title, both.space.height
    ('Tide Room', 3.0)
    """
    clashing: list[Steps] = []
    result = _laid_over(*_data(base, yours, theirs), (), clashing)
    if clashing:
        return None
    # Lengths are written in the units of theirs, whatever either change made of the units.
    units = result.get("units", "m")
    room = Room.model_validate({**result, "units": theirs.units}, by_name=False, by_alias=True)
    room = room.model_copy(update={"units": units})
    if "units" not in result:
        room.model_fields_set.discard("units")
    return room


def _data(base: Room, yours: Room, theirs: Room) -> tuple[_Data, _Data, _Data]:
    """Plain data of three rooms, alike where the rooms are, whatever units each is written in."""
    rooms, unit = (base, yours, theirs), theirs.units
    data = [document_data(room, unit) for room in rooms]
    if len({room.units for room in rooms}) > 1:
        for room, written in zip(rooms, data, strict=True):
            # The usual module follows from the units.
            ceiling = room.space.ceiling.model_dump(context={"unit": unit})
            written["space"].setdefault("ceiling", {}).setdefault("module", ceiling["module"])
    return data[0], data[1], data[2]


def _laid_over(base: Any, yours: Any, theirs: Any, at: Steps, clashing: list[Steps]) -> Any:
    """Data with both changes; where both changed the same, the place is noted."""
    if _same(yours, theirs) or _same(base, yours):
        return theirs
    if _same(base, theirs):
        return yours
    if not isinstance(yours, dict) or not isinstance(theirs, dict):
        clashing.append(at)
        return theirs
    before = base if isinstance(base, dict) else {}
    result = {}
    for key in dict.fromkeys((*theirs, *yours)):
        value = _laid_over(
            before.get(key, _ABSENT),
            yours.get(key, _ABSENT),
            theirs.get(key, _ABSENT),
            (*at, str(key)),
            clashing,
        )
        if value is not _ABSENT:
            result[key] = value
    return result


def _same(one: Any, other: Any) -> bool:
    if one is _ABSENT or other is _ABSENT:
        return one is other
    return type(one) is type(other) and bool(one == other)


def clashes(
    base: Room,
    yours: Room,
    theirs: Room,
    catalogue: Catalogue,
    *,
    unit: Unit,
    apart_from: Collection[str] = (),
) -> tuple[Clash, ...]:
    """What two changes of ``base`` say differently, in words.

    Parameters
    ----------
    base, yours, theirs : Room
        The room before, and after each change.
    catalogue : Catalogue
        For what finishes and products are.
    unit : {"m", "ft"}
        Of the lengths that are told.
    apart_from : collection of str
        Paths that do not count: what was added finds another id.

    Returns
    -------
    tuple of Clash
        Empty if they can be brought together.
    """
    places: list[Steps] = []
    _laid_over(*_data(base, yours, theirs), (), places)
    paths = [p for p in map(".".join, places) if not any(_meets(p, a) for a in apart_from)]
    shown = [r.model_copy(update={"units": unit}) for r in (base, yours, theirs)]
    told = []
    for path in paths[:MOST_TOLD]:
        said = [_said(shown[0], other, catalogue, path) for other in shown[1:]]
        what = subject(path, shown[0], shown[2], catalogue)
        told.append(Clash(path, said[0], said[1], visible(what)))
    return tuple(told)


def _said(base: Room, other: Room, catalogue: Catalogue, path: str) -> str:
    """What a change makes of a place."""
    values = {
        "taken away" if change.kind == "removed" else change.new or "changed": None
        for change in changes(base, other, catalogue)
        if _meets(change.path, path)
    }
    return visible("; ".join(values)) or "as before"


def _meets(one: str, other: str) -> bool:
    """Whether two paths are the same, or one leads into the other."""
    return one == other or one.startswith(f"{other}.") or other.startswith(f"{one}.")


def brought_together(base: Room, yours: Room, theirs: Loaded, *, onto: Document) -> Document:
    """Document with what each of two changes did to ``base``.

    Parameters
    ----------
    base, yours : Room
        Before, and after one change.
    theirs : Loaded
        After the other.
    onto : Document
        Whose text is kept where nothing differs.

    Raises
    ------
    Conflict
        They say different things.
    DocumentError
        Both together make no valid document.
    """
    both = merged(base, yours, theirs.room)
    if both is None:
        unit = yours.units
        raise Conflict(clashes(base, yours, theirs.room, theirs.catalogue, unit=unit))
    return codec.edit_document(onto, both)

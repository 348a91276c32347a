"""What each kind of found thing becomes in a room document."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import TypeAlias, get_args

from wellheard.cad import Role
from wellheard.importers.draft import Data, Draft
from wellheard.importers.found import FoundThing, Noted
from wellheard.importers.materials import finish_of
from wellheard.room.document import Room
from wellheard.room.overhead import OverheadKind
from wellheard.room.surfaces import nearest_on_wall

CLEARANCE: Mapping[Role, float] = MappingProxyType({"luminaire": 0.2, "sprinkler": 0.45})
"""Kept free round what is overhead. [m]"""
OUTLET_DBA, PROJECTOR_DBA = 30.0, 36.0
"""Level at 1 m of what nobody has measured. [dBA]"""
PICTURE, EYE_LEVEL = (1.6, 0.9), 1.4
"""Size of a picture, and its middle above the floor, where the plan has none. [m]"""

OVERHEAD_KINDS = get_args(OverheadKind)

_Maker: TypeAlias = Callable[[Draft, Room, FoundThing], None]


def enter(draft: Draft, base: Room, thing: FoundThing) -> None:
    """Enter a found thing in the draft, or report why it is none of a document's.

    ``base`` is the empty room, to measure in.
    """
    maker = _MAKERS.get(thing.role)
    if maker is None or thing.role in draft.settled.without:
        why = "left out as asked" if maker else "not part of a room document"
        draft.report.append(Noted(False, thing.role, 1, thing.name, why))
    else:
        maker(draft, base, thing)


def _noted(draft: Draft, thing: FoundThing) -> None:
    draft.report.append(Noted(True, thing.role, 1))


def _table(draft: Draft, base: Room, thing: FoundThing) -> None:
    entry: Data = {"kind": "table", "outline": draft.ring(thing.outline)}
    if thing.top is not None:
        entry["height"] = draft.length(thing.top)
    draft.put(thing, ("furniture",), "table", entry)
    _noted(draft, thing)


def _soft(draft: Draft, base: Room, thing: FoundThing) -> None:
    closed = thing.kind == "cupboard"
    kind, stem = ("cupboard", "cupboard") if closed else ("soft", "sofa")
    entry: Data = {"kind": kind, "outline": draft.ring(thing.outline)}
    if thing.top is not None:
        entry["height"] = draft.length(thing.top)
    draft.put(thing, ("furniture",), stem, entry)
    _noted(draft, thing)


def _display(draft: Draft, base: Room, thing: FoundThing) -> None:
    wall, along, length = nearest_on_wall(base, thing.at)
    (ax, ay), (bx, by) = base.space.wall_ends(wall)
    ux, uy = (bx - ax) / length, (by - ay) / length
    reach = [(x - ax) * ux + (y - ay) * uy for x, y in thing.outline]
    width = max(reach) - min(reach) if reach else 0.0
    flat = width < 0.2
    if flat:
        width = PICTURE[0]
    known = thing.bottom is not None and thing.top is not None and thing.top > thing.bottom
    height = (thing.top or 0.0) - (thing.bottom or 0.0) if known else width * 9 / 16
    middle = ((thing.top or 0.0) + (thing.bottom or 0.0)) / 2 if known else EYE_LEVEL
    entry = {
        "kind": "display",
        "wall": wall,
        "centre": draft.point((along, middle)),
        "size": draft.point((width, height)),
    }
    key = draft.put(thing, ("furniture",), "picture", entry)
    if not known or flat:
        draft.assume(
            f"furniture.{key}",
            f"The plan does not say all of {key}: {draft.said(width)} wide, "
            f"{draft.said(height)} high, its middle {draft.said(middle)} above the floor is "
            "taken.",
        )
    _noted(draft, thing)


def _overhead(kind: str, stem: str) -> _Maker:
    def make(draft: Draft, base: Room, thing: FoundThing) -> None:
        told = thing.kind if thing.kind in OVERHEAD_KINDS else kind
        entry: Data = {"kind": told, "outline": draft.ring(thing.outline)}
        clearance = CLEARANCE.get(thing.role, 0.0)
        if clearance:
            entry["clearance"] = draft.length(clearance)
        if thing.bottom is not None and thing.bottom < draft.height - 0.005:
            entry["bottom"] = draft.length(thing.bottom)
        draft.put(thing, ("overhead",), stem, entry)
        _noted(draft, thing)

    return make


def _blowing(draft: Draft, base: Room, thing: FoundThing) -> None:
    _source(draft, thing, "air-outlet", "vent", OUTLET_DBA, draft.height)


def _projector(draft: Draft, base: Room, thing: FoundThing) -> None:
    height = thing.bottom if thing.bottom is not None else draft.height - 0.3
    _source(draft, thing, "projector", "projector", PROJECTOR_DBA, height)


def _source(
    draft: Draft, thing: FoundThing, kind: str, stem: str, dba: float, height: float
) -> None:
    at = draft.point((*thing.at, height))
    key = draft.put(thing, ("noise", "sources"), stem, {"kind": kind, "at": at, "dba_at_1m": dba})
    draft.assume(
        f"noise.sources.{key}", f"Nobody has said how loud {key} is: {dba:.0f} dBA at 1 m is taken."
    )
    _noted(draft, thing)


def _column(draft: Draft, base: Room, thing: FoundThing) -> None:
    entry: Data = {"outline": draft.ring(thing.outline)}
    finish = thing.material and finish_of(thing.material, "walls", draft.settled.finishes)
    if finish:
        entry["finish"] = finish
    if thing.top is not None and thing.top < draft.height - 0.005:
        entry["height"] = draft.length(thing.top)
    draft.put(thing, ("space", "obstacles"), "column", entry)
    _noted(draft, thing)


def _equipment(draft: Draft, base: Room, thing: FoundThing) -> None:
    kind = "rack" if thing.role == "rack" else thing.kind or "other"
    bottom = thing.bottom if thing.bottom is not None else 0.6 if kind == "rack" else 0.4
    entry = {"kind": kind, "at": draft.point((*thing.at, bottom))}
    draft.put(thing, ("equipment",), kind, entry)
    _noted(draft, thing)


_MAKERS: dict[Role, _Maker] = {
    "table": _table,
    "soft-seating": _soft,
    "display": _display,
    "luminaire": _overhead("luminaire", "lamp"),
    "sprinkler": _overhead("sprinkler", "sprinkler"),
    "keep-out": _overhead("other", "keep-out"),
    "air-return": _overhead("air-outlet", "return"),
    "air-outlet": _blowing,
    "projector": _projector,
    "column": _column,
    "rack": _equipment,
    "equipment": _equipment,
}

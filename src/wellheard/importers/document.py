"""A found room to a room document: what is taken over, what is left and why, what is assumed.

Sizes that a plan seldom has are common practice without a source [C]; whatever is taken from them
is entered as assumed.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Any

from wellheard.errors import DocumentError, InputError, Problem
from wellheard.importers.draft import Data, Draft, Settled, free
from wellheard.importers.found import FoundDevice, FoundPlan, FoundRoom, Noted
from wellheard.importers.materials import Surface
from wellheard.importers.seating import anywhere, seated, seats
from wellheard.importers.shell import openings, space
from wellheard.importers.things import enter
from wellheard.room import codec
from wellheard.room.document import Room
from wellheard.units import Unit

ROUNDS = 12
"""So often what contradicts the rest is taken out."""
LONGEST_TITLE = 80
DEVICE_KINDS = ("microphone", "loudspeaker", "combined")
_COLLECTIONS: tuple[tuple[str, ...], ...] = (
    ("space", "finishes", "patches"),
    ("space", "obstacles"),
    ("furniture",),
    ("people", "seats"),
    ("noise", "sources"),
    ("overhead",),
    ("equipment",),
    ("devices",),
)
"""Where an entry may be left out without the room falling."""


@dataclass(frozen=True)
class Taken:
    """A room document made of a plan.

    ``report`` says what of the found things went into it and what did not; ``assumed`` has a
    sentence for everything that the plan did not say; ``unknown`` the materials whose finish
    nobody knows, each with the surface it is on.
    """

    room: Room
    text: str
    report: tuple[Noted, ...]
    assumed: tuple[str, ...]
    unknown: tuple[tuple[str, Surface], ...]


def taken_over(
    plan: FoundPlan,
    found: FoundRoom,
    settled: Settled,
    *,
    products: Collection[str],
    finishes: Collection[str] = (),
) -> Taken:
    """Return the room document of a found room that stands straight.

    Parameters
    ----------
    plan : FoundPlan
        The plan it is in.
    found : FoundRoom
        As `standing.stood` gives it.
    settled : Settled
        What the user settles.
    products : collection of str
        Ids that the catalogue has; devices of others are left out.
    finishes : collection of str
        Ids that the catalogue has; a room of our own names its finishes by them.

    Raises
    ------
    InputError
        The outline itself can be no room.
    """
    unit: Unit = settled.units or ("ft" if plan.unit in ("in", "ft") else "m")
    draft = Draft(unit, settled, frozenset(finishes) if found.owned else frozenset())
    draft.data = {
        "wellheard": 1,
        "title": (settled.title or found.name or f"Room {found.key}")[:LONGEST_TITLE],
        "units": draft.unit,
        "space": space(draft, found),
        "people": anywhere(draft, found),
    }
    base = _read(draft, found)
    openings(draft, base, found.openings)
    for thing in found.things:
        enter(draft, base, thing)
    _devices(draft, found.devices, products)
    if found.seats and "seat" not in settled.without:
        draft.data["people"] = {"seats": seats(draft, found.seats)}
    room = _without_contradictions(draft, found)
    if room.people.seats:
        draft.basis["people.seats"] = "drawing"
        if settled.seats not in (None, len(room.people.seats)):
            draft.assumed.append(
                f"The plan has chairs, and they are taken: not the {settled.seats} seats that "
                "were asked for. Leave the chairs out (seat) to have those put round its tables."
            )
    else:
        room = seated(draft, room)
    room = room.model_copy(
        update={"basis": {k: v for k, v in draft.basis.items() if _stands(draft.data, k)}}
    )
    unknown = tuple(dict.fromkeys(draft.unknown))
    return Taken(room, codec.dump(room), tuple(draft.report), tuple(draft.assumed), unknown)


def _devices(draft: Draft, found: Sequence[FoundDevice], products: Collection[str]) -> None:
    for device in found:
        if device.role in draft.settled.without:
            continue
        if device.product not in products:
            what = device.product or "no product named"
            named = device.name or device.id
            why = f"{what}: not in the catalogue"
            draft.report.append(Noted(False, device.role, 1, named, why))
            continue
        entries = draft.entries(("devices",))
        key = device.id if device.id and device.id not in entries else free(entries, "d1")
        entries[key] = {
            "kind": device.kind if device.kind in DEVICE_KINDS else device.role,
            "product": device.product,
            "at": draft.point(device.at),
        }
        if device.aim_deg is not None:
            entries[key]["aim_deg"] = round(device.aim_deg, 3)
        if device.rotation_deg:
            entries[key]["rotation_deg"] = round(device.rotation_deg, 3)
        draft.report.append(Noted(True, device.role, 1))


def _read(draft: Draft, found: FoundRoom) -> Room:
    try:
        return codec.from_data(draft.data, name=f"room {found.key}")
    except DocumentError as error:
        raise _no_room(found, error) from None


def _no_room(found: FoundRoom, error: DocumentError) -> InputError:
    return InputError(f"room {found.key} ({found.source}) can be no room document:\n{error}")


def _without_contradictions(draft: Draft, found: FoundRoom) -> Room:
    """Return the room without what contradicts it, each of which is reported."""
    for _ in range(ROUNDS):
        try:
            return codec.from_data(draft.data, name=f"room {found.key}")
        except DocumentError as error:
            if not _taken_out(draft, error.problems):
                raise _no_room(found, error) from None
        if not draft.data["people"].get("seats", True):
            draft.data["people"] = anywhere(draft, found)
    raise InputError(
        f"room {found.key}: too much in it contradicts itself; leave kinds of things out"
    )


def _taken_out(draft: Draft, problems: Sequence[Problem]) -> bool:
    """Take out the entries that problems are at; False where none is at any."""
    gone: dict[tuple[str, ...], str] = {}
    for problem in problems:
        steps = tuple(problem.path.split("."))
        for collection in _COLLECTIONS:
            depth = len(collection)
            if steps[:depth] == collection and len(steps) > depth:
                gone.setdefault(steps[: depth + 1], problem.what)
    for path, why in gone.items():
        draft.entries(path[:-1]).pop(path[-1], None)
        draft.report.append(Noted(False, path[-1], 1, ".".join(path[:-1]), why))
    return bool(gone)


def _stands(data: Data, path: str) -> bool:
    """Whether what a basis is given for is still in the data; people are entered later."""
    here: Any = data
    for step in path.split("."):
        if not isinstance(here, dict) or step == "people":
            return True
        if step not in here:
            return False
        here = here[step]
    return True

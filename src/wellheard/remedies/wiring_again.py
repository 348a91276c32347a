"""Cables laid and electronics chosen anew, and single cables swapped for others."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

from wellheard.catalog.products import Cable
from wellheard.checks import cabling
from wellheard.checks.cabling import Joined
from wellheard.checks.model import Finding
from wellheard.checks.wording import listed
from wellheard.errors import InputError
from wellheard.remedies.model import Change, Makers, Situation
from wellheard.remedies.rewrites import named, with_link
from wellheard.room.document import Room
from wellheard.wiring.asking import task_of
from wellheard.wiring.solve import solve
from wellheard.wiring.wired import Wired, wired_room

MOST_CABLES = 3
"""Other cables that are tried for one."""


def _anew(situation: Situation, _: Finding) -> Iterator[Change]:
    """The whole document wired again, once for all findings."""
    change = situation.once("wired", lambda: _wired(situation))
    if change is not None:
        yield change


def _wired(situation: Situation) -> Change | None:
    room = situation.room
    try:
        found = solve(task_of(room, situation.catalogue), situation.time_limit)
    except InputError:
        return None  # the document is not ready to be wired, and its own command says why
    if not found.links or found.unwired:
        return None  # what is left without a cable is no remedy
    after = wired_room(room, found)
    change = Change(_says(situation, found), after, _note(found))
    return None if after == room else change


def _says(situation: Situation, found: Wired) -> str:
    room = situation.room
    fresh = [name for name in found.devices if name not in room.devices]
    other = [
        name
        for name, one in found.devices.items()
        if name in room.devices and room.devices[name].product != one.product
    ]
    bought = [f"{name} ({found.devices[name].product})" for name in (*fresh, *other)]
    count, new = len(found.links), _new(room, found)
    stages = [name for name in found.processing if name not in room.processing]
    if stages and not (new or bought or found.dropped):
        on = [found.processing[name].on for name in stages]
        return (
            f"State what cancels echo on {listed(on, most=4)} under processing, with its "
            "reference; no cable changes."
        )
    text = f"Wire the room anew: {count} cable{'' if count == 1 else 's'}"
    if new < count:
        text += f", {new or 'none'} of them new"
    if bought:
        text += f", with {listed(bought, most=4)}"
    if found.dropped:
        text += f", without {listed(list(found.dropped), most=4)}"
    return f"{text}."


def _new(room: Room, found: Wired) -> int:
    """Cables that the document does not have, from port to port, as they are."""
    stated = {(frozenset((one.from_, one.to)), one.cable) for one in room.links.values()}
    return sum(
        (frozenset((one.from_, one.to)), one.cable) not in stated for one in found.links.values()
    )


def _note(found: Wired) -> str:
    said = []
    if found.proof.status == "gap":
        said.append("The best that was found in the time allowed; it may be cheaper.")
    said.append("wellheard wire has the proof and what was assumed.")
    return " ".join(said)


# Single cables ----------------------------------------------------------------------------------


def _joined(situation: Situation, name: str) -> Joined | None:
    return next((one for one in cabling.cables(situation.evidence) if one.id == name), None)


def _other_cables(
    situation: Situation, one: Joined, wanted: Callable[[Cable], bool]
) -> Iterator[Cable]:
    """Cables that may take the place of one: its kinds of link, in stock, the cheapest first."""
    run = cabling.runs_of(situation.evidence).of_link(one.link)
    metres = run.length
    kinds = set(one.kinds)
    found = [
        cable
        for cable in situation.catalogue.cables
        if cable.status == "current"
        and cable.id != one.link.cable
        and kinds & set(cable.carries)
        and (metres is None or (cable.length or cable.max_length) >= metres - 1e-9)
        and wanted(cable)
    ]
    yield from sorted(found, key=lambda c: (c.cost(metres or 0.0, None), c.id))[:MOST_CABLES]


def _swapped(situation: Situation, one: Joined, cable: Cable, why: str) -> Change:
    was = f" instead of {one.link.cable}" if one.link.cable else ""
    link = one.link.model_copy(update={"cable": cable.id})
    return Change(
        f"Take cable {cable.id}{was} for {one.id}: {why}.",
        with_link(situation.room, one.id, link),
    )


def _thicker(situation: Situation, finding: Finding) -> Iterator[Change]:
    """The next thicker cables of its kind."""
    one = _joined(situation, named(finding, "links"))
    if one is None or one.cable is None or one.link.locked:
        return
    now = one.cable.awg
    found = _other_cables(situation, one, lambda cable: cable.awg < now)
    for cable in sorted(found, key=lambda cable: -cable.awg):
        yield _swapped(situation, one, cable, f"{cable.awg} gauge in place of {now}")


def _plenum(situation: Situation, finding: Finding) -> Iterator[Change]:
    """A cable that can be had with a plenum jacket, for every link of the one that cannot."""
    for change in _everywhere(situation, finding, lambda c: c.jacket_for("plenum") is not None):
        yield replace(
            change,
            says=f"{change.says.removesuffix('.')}, and order it with a plenum jacket.",
            note="Local code decides which jacket a place asks for.",
        )


def _in_stock(situation: Situation, finding: Finding) -> Iterator[Change]:
    """A cable that can be bought, for every link of the one that cannot."""
    yield from _everywhere(situation, finding, lambda cable: True)


def _everywhere(
    situation: Situation, finding: Finding, wanted: Callable[[Cable], bool]
) -> Iterator[Change]:
    first = _joined(situation, named(finding, "links"))
    if first is None or first.cable is None:
        return
    alike = [
        one for one in cabling.cables(situation.evidence) if one.link.cable == first.link.cable
    ]
    if any(one.link.locked for one in alike):
        return
    for cable in _other_cables(situation, first, wanted):
        if not all(set(one.kinds) & set(cable.carries) for one in alike):
            continue
        room = situation.room
        for one in alike:
            room = with_link(room, one.id, one.link.model_copy(update={"cable": cable.id}))
        names = listed([one.id for one in alike])
        yield Change(f"Take cable {cable.id} instead of {first.link.cable} for {names}.", room)


def _longer(situation: Situation, finding: Finding) -> Iterator[Change]:
    """A cord that reaches."""
    one = _joined(situation, named(finding, "links"))
    if one is None or one.link.locked or finding.value is None:
        return
    wanted = finding.value
    found = _other_cables(situation, one, lambda c: (c.length or c.max_length) >= wanted)
    for cable in found:
        yield _swapped(situation, one, cable, "it reaches")


def _farther(situation: Situation, finding: Finding) -> Iterator[Change]:
    """A cable that is good for the length, where the one that is chosen is what bounds it."""
    one = _joined(situation, named(finding, "links"))
    if one is None or one.cable is None or one.link.locked:
        return
    for cable in _other_cables(situation, one, lambda c: True):
        yield _swapped(situation, one, cable, "it is good for the length")


MAKERS: Makers = {
    **dict.fromkeys(
        (
            "amplifier-load-too-low",
            "canceller-missing",
            "canceller-twice",
            "line-overloaded",
            "loudspeaker-without-amplifier",
            "network-ports-exceeded",
            "poe-budget-exceeded",
            "poe-class-exceeded",
            "port-unknown",
            "ports-exceeded",
            "reference-lacks-far-end",
            "switch-unmanaged",
        ),
        (_anew,),
    ),
    "cable-too-long": (_farther, _anew),
    "cable-too-thin": (_thicker, _anew),
    "cord-too-short": (_longer, _anew),
    "jacket-too-low": (_plenum,),
    "link-ports-mismatch": (_farther, _anew),
    "product-discontinued": (_in_stock,),
}

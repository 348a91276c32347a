"""Height in a rack."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from wellheard.checks import cabling
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.wording import listed
from wellheard.predict.evidence import Evidence
from wellheard.schedules.rack import SlotKind, slot_height


@rule("rack-full", "error", strength="product", cites="height of the products in rack units")
def rack_full(evidence: Evidence) -> Iterator[Draft]:
    """What the design puts into a rack has room in it.

    Heights are in units of 1.75 in (44.45 mm, EIA-310), each product whole units: an error where
    those that are screwed to it do not fit. What has no rack front stands on a shelf of its own, as
    the rack schedule has it: a warning where that is too much, since some of it may lie elsewhere
    or share one. The document says in `equipment.<id>.rack_units` how much is free;
    without it the height is not assessed. Owned devices of the document count: they are in there
    or must be.
    """
    for place, devices in cabling.housed(evidence).items():
        item = evidence.room.equipment[place]
        heights = {name: slot_height(product) for name, product in devices}
        tall = [(name, units) for name, (how, units) in heights.items() if how == "device"]
        if item.kind != "rack" or not (tall or item.rack_units):
            continue
        wanted = sum(units for _, units in tall)
        names = listed([name for name, _ in tall])
        need = "needs" if len(tall) == 1 else "need"
        if item.rack_units is None:
            yield Draft(
                at=f"equipment.{place}.rack_units",
                message=(
                    f"{names} {need} {wanted} U in {place}; whether "
                    f"{'it is' if wanted == 1 else 'they are'} free is not assessed."
                ),
                value=float(wanted),
                remedy=f"Ask the customer and enter equipment.{place}.rack_units.",
                severity="note",
                status="not-assessed",
            )
        elif wanted > item.rack_units:
            yield Draft(
                at=f"equipment.{place}",
                message=f"{names} {need} {wanted} U in {place}; it has {item.rack_units:g} U free.",
                value=float(wanted),
                limit=float(item.rack_units),
                remedy="Take a larger rack or a second one, or products of less height.",
            )
        else:
            yield from _shelves(place, heights, item.rack_units)


def _shelves(
    place: str, heights: Mapping[str, tuple[SlotKind, int]], free: float
) -> Iterator[Draft]:
    """What does not fit with a shelf for each device that has no rack front."""
    wanted = sum(units for _, units in heights.values())
    loose = [name for name, (how, _) in heights.items() if how == "shelf"]
    if wanted <= free:
        return
    yield Draft(
        at=f"equipment.{place}",
        message=(
            f"With {listed(loose)} on shelves of their own {wanted} U are wanted in {place}; "
            f"it has {free:g} U free."
        ),
        value=float(wanted),
        limit=float(free),
        remedy="Let some share a shelf or lie behind others, or take a larger rack.",
        severity="warning",
    )

"""Which microphone ends at which port, where the document does not say."""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from typing import TypeVar

from wellheard.catalog.products import AnyProduct, Microphone, Processor
from wellheard.room.links import Link

Item = TypeVar("Item", bound=Hashable)
Slot = TypeVar("Slot", bound=Hashable)


def largest_matching(slots: Mapping[Item, Sequence[Slot]]) -> dict[Item, Slot]:
    """As many items as possible, each on a slot of its own.

    Parameters
    ----------
    slots : mapping of item to sequence of slots
        What each may take, the preferred first. Items are seated in this order, and one that has
        a seat keeps one: those that are left out are the last.

    Returns
    -------
    dict
        Slot of each item that has one.

    Notes
    -----
    Augmenting paths (H. W. Kuhn, The Hungarian method for the assignment problem, 1955; here
    without weights), so that an item moves over where that makes room for another.

    Examples
    --------
    >>> largest_matching({"head": ["a", "b"], "gooseneck": ["a"], "third": ["b"]})
    {'head': 'b', 'gooseneck': 'a'}
    """
    taken: dict[Slot, Item] = {}
    seated: dict[Item, Slot] = {}

    def seat(item: Item, tried: set[Slot]) -> bool:
        # A free slot first: moving others over is only for when there is none.
        for slot in slots[item]:
            if slot not in taken and slot not in tried:
                tried.add(slot)
                taken[slot] = item
                seated[item] = slot
                return True
        for slot in slots[item]:
            if slot in tried:
                continue
            tried.add(slot)
            if seat(taken[slot], tried):
                taken[slot] = item
                seated[item] = slot
                return True
        return False

    for item in slots:
        seat(item, set())
    return {item: seated[item] for item in slots if item in seated}


def ends_microphones(product: AnyProduct | None) -> bool:
    """Whether microphones can end at a device: a processor that mixes or cancels."""
    return isinstance(product, Processor) and (product.canceller or product.automatic_mixer)


def needs_port(product: Microphone) -> bool:
    """Whether a microphone ends at a processor: all but those that connect to a computer."""
    by_itself = product.built_in is not None and product.built_in.usb
    return not by_itself and product.link.kind != "usb"


def stated_link(links: Mapping[str, Link], device: str) -> tuple[str, Link, str] | None:
    """Id of a device's first link, the link, and the port at its other end."""
    for name, link in links.items():
        for here, there in ((link.from_, link.to), (link.to, link.from_)):
            if here.partition(".")[0] == device:
                return name, link, there
    return None

"""Devices above people's heads: how each is held, and by which parts."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from wellheard.catalog.products import AnyProduct, Fit, Mounting
from wellheard.checks.separation import TOUCH
from wellheard.errors import CatalogError
from wellheard.predict.evidence import Evidence, Point
from wellheard.signal.mounted import held_by
from wellheard.units import POUND

AT_CEILING = 0.5
"""A product that can be mounted otherwise too hangs from the ceiling within this of it. [m]"""

BRIDGE_WORDS = ("bridge", "rail", "frame", "channel")
WIRES_WORDS = ("wires",)
BOND_WORDS = ("bond", "safety")
SUPPORT_WORDS = ("support", "hanger")
"""Words in the id or name of a part that tell what it does."""


@dataclass(frozen=True)
class Overhead:
    """A device that people may stand under.

    ``fit`` is how it holds to the ceiling, None where it does not; ``drop`` is how far its
    acoustic centre lies below it [m].
    """

    id: str
    product: AnyProduct
    mounting: Mounting
    at: Point
    drop: float
    fit: Fit | None
    owned: bool

    @property
    def hangs(self) -> bool:
        """Whether it hangs free below the ceiling rather than lying in or against it."""
        return self.drop > self.product.size[2] / 2 + TOUCH


def overhead(evidence: Evidence) -> tuple[Overhead, ...]:
    """Every device at the ceiling, in the document's order."""
    room = evidence.room
    mounted = {m.id: m.mounting for m in evidence.microphones}
    found = []
    for name, device in room.devices.items():
        if device.at is None:
            continue
        product = evidence.catalogue.product(device.product)
        drop = room.space.height - device.at[2]
        ways = product.mountings
        usual = "ceiling" if ways == ("ceiling",) or drop <= AT_CEILING else ""
        if "ceiling" not in ways or mounted.get(name, usual) != "ceiling":
            continue
        fits = held_by(room, product)
        fit = fits[0] if fits else None
        found.append(Overhead(name, product, "ceiling", device.at, drop, fit, device.owned))
    return tuple(found)


def high_on_walls(evidence: Evidence, *, above: float) -> tuple[Overhead, ...]:
    """Every device on a wall whose underside is above a height [m], in the document's order."""
    at_ceiling = {one.id for one in overhead(evidence)}
    found = []
    for name, device in evidence.room.devices.items():
        if device.at is None or name in at_ceiling:
            continue
        product = evidence.catalogue.product(device.product)
        if "wall" in product.mountings and device.at[2] - product.size[2] / 2 >= above - TOUCH:
            drop = evidence.room.space.height - device.at[2]
            found.append(Overhead(name, product, "wall", device.at, drop, None, device.owned))
    return tuple(found)


def by_product(devices: Iterable[Overhead]) -> dict[str, list[Overhead]]:
    """Devices of each product, new ones apart from owned ones, in the order they come."""
    groups: dict[str, list[Overhead]] = {}
    for one in devices:
        groups.setdefault(f"{one.product.id}{' (owned)' if one.owned else ''}", []).append(one)
    return groups


def has_part(evidence: Evidence, device: Overhead, words: tuple[str, ...]) -> bool:
    """Whether a part that its mounting takes, as it is held here, has one of these words."""
    return any(word in text for text in _parts(evidence, device) for word in words)


def _parts(evidence: Evidence, device: Overhead) -> list[str]:
    """Id and name of each part that the mounting takes, in small letters."""
    texts = []
    for part in device.product.accessories.get(device.mounting, ()):
        try:
            accessory = evidence.catalogue.accessory(part)
        except CatalogError:
            texts.append(part)  # a part of the user's own that has no price yet
            continue
        if accessory.is_needed(fit=device.fit, drop=device.drop if device.hangs else 0.0):
            texts.append(f"{part} {accessory.name.lower()}")
    return texts


def weight(evidence: Evidence, kilograms: float) -> str:
    """Weight as the reader of this document expects it."""
    metric = f"{kilograms:.1f}".removesuffix(".0") + " kg"
    if evidence.room.units == "m":
        return metric
    return f"{kilograms / POUND:.1f}".removesuffix(".0") + f" lb ({metric})"

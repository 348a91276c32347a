"""What the document buys: each product and cable once, with where it is used."""

from __future__ import annotations

from dataclasses import dataclass

from wellheard.catalog.products import AnyProduct, Cable
from wellheard.errors import CatalogError
from wellheard.predict.evidence import Evidence
from wellheard.units import plain_money


@dataclass(frozen=True)
class Use:
    """A product or cable of the document, and the first path that names it.

    ``names`` are ids of its devices or links; ``owned`` is true where the customer has all of
    them.
    """

    what: AnyProduct | Cable
    at: str
    names: tuple[str, ...]
    owned: bool


def uses(evidence: Evidence) -> tuple[Use, ...]:
    """Products of devices, then cables of links, each once, in the document's order.

    A product of which one is owned and another is to be bought appears twice.
    """
    devices: dict[tuple[str, bool], list[str]] = {}
    for name, device in evidence.room.devices.items():
        devices.setdefault((device.product, device.owned), []).append(name)
    cables: dict[str, list[str]] = {}
    for name, link in evidence.room.links.items():
        if link.cable is not None:
            cables.setdefault(link.cable, []).append(name)
    return (
        *(
            Use(
                evidence.catalogue.product(product),
                f"devices.{names[0]}.product",
                tuple(names),
                owned,
            )
            for (product, owned), names in devices.items()
        ),
        *(
            Use(evidence.catalogue.cable(cable), f"links.{names[0]}.cable", tuple(names), False)
            for cable, names in cables.items()
        ),
    )


def successor(evidence: Evidence, product: AnyProduct | Cable) -> str:
    """What takes a product's place, by id, name and price; "" where there is none."""
    following = "" if isinstance(product, Cable) else product.successor
    if not following:
        return ""
    try:
        found = evidence.catalogue.product(following)
    except CatalogError:
        return f"{following} (not in this catalogue)"
    price = plain_money(found.price, found.currency)
    if product.currency == found.currency:
        more = found.price - product.price
        price += (
            f", {plain_money(abs(more))} {'more' if more > 0 else 'less'}" if more else ", the same"
        )
    return f"{found.id} ({found.name}; {price})"

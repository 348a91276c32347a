"""What is missing, out of range or inconsistent in a catalogue.

The limits are common practice, no source: they catch slips of typing (millimetres for metres,
a sign, a swapped pair), not bad products.
"""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from dataclasses import dataclass
from typing import get_args

from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.finishes import Finish
from wellheard.catalog.plausible_kinds import of_kind
from wellheard.catalog.plausible_sheets import FREE, life, sheet
from wellheard.catalog.products import Accessory, Cable, Jacket, Loudspeaker, PortKind
from wellheard.catalog.ranges import named, outside

BROUGHT_KINDS: tuple[PortKind, ...] = ("hdmi", "control")
"""Kinds of link between what the customer brings: no product need have a port for them."""


@dataclass(frozen=True)
class Implausible:
    """One thing that cannot be right: whose it is, and what is wrong with it."""

    id: str
    what: str

    def __str__(self) -> str:
        return f"{self.id}: {self.what}"


def problems(
    catalogue: Catalogue, *, today: datetime.date | None = None
) -> tuple[Implausible, ...]:
    """Return what is missing, out of range or inconsistent; nothing for a sound catalogue.

    Parameters
    ----------
    catalogue : Catalogue
        Shipped, or with a user's entries.
    today : date, optional
        Prices dated later and last orders that ended are reported; not looked at if not given.

    Returns
    -------
    tuple of Implausible
        In the catalogue's order.

    Examples
    --------
    >>> problems(Catalogue.shipped())
    ()
    """
    found: list[Implausible] = []
    for finish in catalogue.finishes:
        found += (Implausible(finish.id, what) for what in _finish(finish))
    known = {accessory.id: accessory for accessory in catalogue.accessories}
    products = {product.id: product for product in catalogue.products}
    for product in catalogue.products:
        found += (Implausible(product.id, what) for what in sheet(product, known))
        found += (Implausible(product.id, what) for what in life(product, products, today))
        found += (Implausible(product.id, what) for what in of_kind(product))
    for cable in catalogue.cables:
        found += (Implausible(cable.id, what) for what in _cable(cable, today))
    for accessory in catalogue.accessories:
        found += (Implausible(accessory.id, what) for what in _accessory(accessory))
    found += _across(catalogue)
    return tuple(found)


def _finish(finish: Finish) -> Iterator[str]:
    yield from named(finish.id, finish.name)
    if not finish.source:
        yield "source is missing"
    if finish.trust not in ("L", "M", "C"):
        yield f"trust {finish.trust!r} is none of L, M, C"
    # ISO 354 results reach about 1.2 by the edge effect; a person absorbs up to 1.4 m².
    high, unit = (2.0, " m²") if finish.per_item else (1.25, "")
    for value in finish.absorption:
        yield from outside("absorption", value, 0, high, unit)
    if finish.scattering is not None:
        yield from outside("scattering", finish.scattering, 0, 1)


def _cable(one: Cable, today: datetime.date | None) -> Iterator[str]:
    yield from named(one.id, one.name)
    yield from outside("price", one.price, 0, 5000)
    if one.price == 0 and one.price_per_metre == 0:
        yield FREE
    yield from outside("price_per_metre", one.price_per_metre, 0, 100)
    if today is not None and one.price_date > today:
        yield f"price_date {one.price_date} is in the future"
    yield from outside("outer_diameter", one.outer_diameter, 0.001, 0.03, " m")
    yield from outside("awg", one.awg, 6, 32)
    yield from outside("pairs", one.pairs, 1, 25)
    yield from outside("max_length", one.max_length, 0.5, 1200, " m")
    if not one.carries:
        yield "carries is empty: name the kinds of link it is right for"
    if not one.jackets:
        yield "jackets is empty: name its fire rating"
    ranks = [get_args(Jacket).index(jacket) for jacket in one.jackets]
    if ranks != sorted(set(ranks)):
        yield "jackets must be named once each, the highest first"
    if one.surcharges_per_metre and len(one.surcharges_per_metre) != len(one.jackets):
        yield "surcharges_per_metre must be as many as jackets, or none"
    for extra in one.surcharges_per_metre:
        yield from outside("surcharges_per_metre", extra, 0, 100)
    if one.length is None:
        if one.price and one.price_per_metre == 0:
            yield "price_per_metre is 0, but it has no length of its own"
    else:
        yield from outside("length", one.length, 0.1, one.max_length, " m")
        if one.price_per_metre or any(one.surcharges_per_metre):
            yield "price_per_metre of a cord: its price is for all of its length"


def _accessory(one: Accessory) -> Iterator[str]:
    yield from named(one.id, one.name)
    yield from outside("price", one.price, 0, 5000)
    yield from outside("price_per_metre", one.price_per_metre, 0, 500)
    if one.price_per_metre and one.needed != "drop":
        yield "sold by the metre of drop, but not needed only with a drop"


def _across(catalogue: Catalogue) -> Iterator[Implausible]:
    priced = [*catalogue.products, *catalogue.cables, *catalogue.accessories]
    currencies = sorted({entry.currency for entry in priced})
    if len(currencies) > 1:
        yield Implausible("catalogue", f"currencies are mixed: {', '.join(currencies)}")
    yield from _namesakes(catalogue)
    yield from _partners(catalogue)


def _namesakes(catalogue: Catalogue) -> Iterator[Implausible]:
    """Products that took the name of another: of a shipped one, or of one that came before."""
    added = {(one.space, one.id): number for number, one in enumerate(catalogue.own)}
    first: dict[str, str] = {}
    for product in sorted(catalogue.products, key=lambda p: added.get(("product", p.id), -1)):
        other = first.setdefault(product.name, product.id)
        if other != product.id:
            what = f"name {product.name!r} is not its own: {other} has it"
            yield Implausible(product.id, what)


def _partners(catalogue: Catalogue) -> Iterator[Implausible]:
    """Things that nothing in the catalogue goes with."""
    ports = {kind for one in catalogue.processors for kind in one.port_kinds}
    for microphone in catalogue.microphones:
        if not microphone.combined and microphone.link.kind not in ports:
            yield Implausible(
                microphone.id, f"no processor takes its link {microphone.link.kind!r}"
            )
    used = {kind for one in catalogue.products for port in one.ports for kind in port.kinds}
    used |= set(BROUGHT_KINDS)
    for cable in catalogue.cables:
        idle = [kind for kind in cable.carries if kind not in used]
        if idle:
            yield Implausible(cable.id, f"carries {', '.join(idle)}, which no product has")
    for extender in catalogue.extenders:
        others = {
            kind
            for one in catalogue.products
            if one.kind != "extender"
            for port in one.ports
            for kind in port.kinds
        }
        if extender.carries not in {*others, *BROUGHT_KINDS}:
            yield Implausible(extender.id, f"carries {extender.carries}, which no product has")
    for loudspeaker in catalogue.loudspeakers:
        if not loudspeaker.active and not _is_fed(loudspeaker, catalogue):
            yield Implausible(
                loudspeaker.id, "no amplifier feeds its impedance or a line for its taps"
            )
    supplied = max((one.supplies_class or 0 for one in catalogue.switches), default=0)
    for product in catalogue.products:
        if (product.poe_class or 0) > supplied:
            yield Implausible(product.id, f"no switch supplies its class {product.poe_class}")


def _is_fed(loudspeaker: Loudspeaker, catalogue: Catalogue) -> bool:
    return any(
        0 < one.minimum_impedance <= loudspeaker.impedance
        or (loudspeaker.taps_w and one.line_voltages)
        for one in catalogue.amplifiers
    )

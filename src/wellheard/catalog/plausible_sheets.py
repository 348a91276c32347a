"""What cannot be right in the part of a sheet that every product has."""

from __future__ import annotations

import datetime
import re
from collections.abc import Iterator, Mapping

from wellheard.catalog.power import power_classes
from wellheard.catalog.products import (
    Accessory,
    Amplifier,
    AnyProduct,
    Fitting,
    Loudspeaker,
    Microphone,
    Processor,
    Switch,
)
from wellheard.catalog.ranges import ascends, named, outside

USB_POWER_W = 15.0
"""A USB type C port gives up to 3 A at 5 V without negotiating (from memory of the standard)."""

FREE = "price is 0: what costs nothing would be chosen before all else; give its list price"


def sheet(product: AnyProduct, known: Mapping[str, Accessory]) -> Iterator[str]:
    """Figures and words that every product has."""
    yield from named(product.id, product.name)
    if not re.fullmatch(r"[A-Z]{3}", product.currency):
        yield f"currency {product.currency!r} is no three-letter code"
    yield from outside("price", product.price, 0, 50_000)
    if product.price == 0:
        yield FREE
    for axis, length in zip(("width", "depth", "height"), product.size, strict=True):
        yield from outside(axis, length, 0.005, 3, " m")
    yield from outside("weight_kg", product.weight_kg, 0.01, 60, " kg")
    yield from outside("lead_time_weeks", product.lead_time_weeks, 0, 104)
    yield from outside("warranty_years", product.warranty_years, 0, 25)
    if product.warranty_years == 0:
        yield "warranty_years is missing"
    if not product.colours:
        yield "colours are missing"
    if _has_firmware(product) and not product.minimum_firmware:
        yield "minimum_firmware is missing: it has an address on the network or a canceller"
    if product.by_name and not product.selectable:
        yield "by_name, but selectable is no: a solver never chooses it"
    yield from _power(product)
    yield from _mountings(product, known)
    yield from _overhead(product)


def life(
    product: AnyProduct, products: Mapping[str, AnyProduct], today: datetime.date | None
) -> Iterator[str]:
    """Status, last orders, successor and the day of the price."""
    ends = product.last_orders
    if today is not None and product.price_date > today:
        yield f"price_date {product.price_date} is in the future"
    if product.status == "current" and ends is not None:
        yield "last_orders is given, but status is current"
    if product.status == "last orders" and ends is None:
        yield "last_orders is missing: until when can it be ordered?"
    if today is not None and ends is not None:
        if product.status == "last orders" and ends < today:
            yield f"last_orders ended on {ends}: status should be discontinued"
        if product.status == "discontinued" and ends > today:
            yield f"last_orders {ends} is to come, but status is discontinued"
    if not product.successor:
        return
    follows = products.get(product.successor)
    if product.status == "current":
        yield f"successor {product.successor} is given, but status is current"
    if follows is None:
        yield f"successor {product.successor!r} is not in the catalogue"
    elif follows.id == product.id:
        yield "successor is the product itself"
    elif follows.kind != product.kind:
        yield f"successor {follows.id} is a {follows.kind}, not a {product.kind}"
    elif follows.status == "discontinued":
        yield f"successor {follows.id} is discontinued too; name one that can be bought"


def _has_firmware(product: AnyProduct) -> bool:
    match product:
        case Microphone():
            return product.link.kind == "network" or product.combined
        case Processor():
            return product.canceller or product.network_audio
        case Amplifier():
            return product.network_audio
        case Loudspeaker():
            return product.active and product.powered_from == "network"
        case Switch():
            return product.managed
        case _:
            return False


def _power(product: AnyProduct) -> Iterator[str]:
    yield from outside("power_w", product.power_w, 0, 1500, " W")
    if product.powered_from == "none" and product.power_w > 0:
        yield f"power_w {product.power_w:g} W, but powered_from is none"
    if product.powered_from != "none" and product.power_w == 0:
        yield f"power_w is 0, but powered_from is {product.powered_from}"
    if product.powered_from == "usb" and product.power_w > USB_POWER_W:
        yield f"power_w {product.power_w:g} W is more than the {USB_POWER_W:g} W that USB gives"
    if product.powered_from != "network":
        if product.poe_class is not None:
            yield f"poe_class {product.poe_class}, but powered_from is {product.powered_from}"
        return
    if product.poe_class is None:
        yield "poe_class is missing: powered_from is network"
        return
    rated = power_classes().get(product.poe_class)
    if rated is None:
        yield f"poe_class {product.poe_class} is none of 1 to 8"
    elif product.power_w > rated.device_w:
        yield (
            f"power_w {product.power_w:g} W is more than the {rated.device_w:g} W that class "
            f"{product.poe_class} leaves at the device"
        )


def _mountings(product: AnyProduct, known: Mapping[str, Accessory]) -> Iterator[str]:
    if not product.fittings:
        yield "no mounting: fittings name at least one way to mount it"
    if len(set(product.mountings)) != len(product.mountings):
        yield "a mounting occurs twice"
    for fitting in product.fittings:
        yield from _fitting(product, fitting, known)


def _overhead(product: AnyProduct) -> Iterator[str]:
    hangs = "ceiling" in product.mountings
    if hangs != bool(product.fits):
        yield "fits and the mounting 'ceiling' go together: both or neither"
    drops = _drops(product)
    if drops is not None:
        if hangs != bool(drops):
            yield "drops and the mounting 'ceiling' go together: both or neither"
        if not ascends(drops):
            yield "drops must ascend"
        for drop in drops:
            yield from outside("drop", drop, 0, 6, " m")
    across = max(product.size[:2])
    if product.cutout is not None:
        yield from outside("cutout", product.cutout, 0.01, 1.3, " m")
        if not hangs:
            yield "cutout is given, but it is never mounted to a ceiling"
        if product.cutout > across:
            yield f"cutout {product.cutout:g} m is wider than the product, {across:g} m"
    if product.module is not None:
        for edge in product.module:
            yield from outside("module", edge, 0.25, 1.6, " m")
        if "tile" not in product.fits:
            yield "module is given, but fits has no 'tile'"
        tile, own = sorted(product.module), sorted(product.size[:2])
        if any(edge > room for edge, room in zip(own, tile, strict=True)):
            yield f"module {tile[0]:g} × {tile[1]:g} m is smaller than the product"


def _drops(product: AnyProduct) -> tuple[float, ...] | None:
    return product.drops if isinstance(product, Microphone | Loudspeaker) else None


def _fitting(
    product: AnyProduct, fitting: Fitting, known: Mapping[str, Accessory]
) -> Iterator[str]:
    yield from outside(f"labour for {fitting.mounting}", fitting.labour, 0, 5000)
    unknown = [part for part in fitting.accessories if part not in known]
    if unknown:
        yield f"accessories {', '.join(unknown)} are not in the catalogue"
        return
    if fitting.mounting != "ceiling":
        return
    parts = [known[part] for part in fitting.accessories]
    for fit in product.fits:
        if not any(fit in part.fits for part in parts):
            yield f"nothing among its accessories holds it by the fit {fit!r}"
        for drop in _drops(product) or (0.0,):
            needed = [part for part in parts if part.is_needed(fit=fit, drop=drop)]
            if drop > 0 and not any(part.price_per_metre for part in needed):
                yield f"hangs by {drop:g} m, but no accessory is sold by length"
    if not any("safety" in part.id for part in parts):
        yield "overhead, but without a safety bond among its accessories"

"""What is missing, out of range or inconsistent in a catalogue.

The limits are common practice, no source: they catch slips of typing (millimetres for metres,
a sign, a swapped pair), not bad products.
"""

from __future__ import annotations

import datetime
import itertools
import math
import re
from collections.abc import Iterator
from dataclasses import dataclass

from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.finishes import Finish
from wellheard.catalog.products import (
    Accessory,
    AnyProduct,
    Fitting,
    Loudspeaker,
    Microphone,
    Processor,
)

_ID = re.compile(r"[a-z0-9][a-z0-9-]{0,39}")

LINK_KINDS = ("twisted-pair", "balanced", "network", "usb")
"""Kinds of link that the program knows."""


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
        Prices dated later are reported; not looked at if not given.

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
    for product in catalogue.products:
        found += (Implausible(product.id, what) for what in _product(product, known, today))
        found += (Implausible(product.id, what) for what in _kind(product))
    for accessory in catalogue.accessories:
        found += (Implausible(accessory.id, what) for what in _accessory(accessory))
    found += _across(catalogue)
    return tuple(found)


def _kind(product: AnyProduct) -> Iterator[str]:
    match product:
        case Microphone():
            return _microphone(product)
        case Processor():
            return _processor(product)
        case Loudspeaker():
            return _loudspeaker(product)
        case _:
            return iter(())


def _outside(name: str, value: float, low: float, high: float, unit: str = "") -> Iterator[str]:
    if not low <= value <= high:  # also true of nan
        yield f"{name} {value:g}{unit} is outside {low:g} to {high:g}{unit}"


def _finish(finish: Finish) -> Iterator[str]:
    if not _ID.fullmatch(finish.id):
        yield "id must be lower-case letters, digits and hyphens, at most 40"
    if not finish.name:
        yield "name is missing"
    if not finish.source:
        yield "source is missing"
    if finish.trust not in ("L", "M", "C"):
        yield f"trust {finish.trust!r} is none of L, M, C"
    # ISO 354 results reach about 1.2 by the edge effect; a person absorbs up to 1.4 m².
    high, unit = (2.0, " m²") if finish.per_item else (1.25, "")
    for value in finish.absorption:
        yield from _outside("absorption", value, 0, high, unit)
    if finish.scattering is not None:
        yield from _outside("scattering", finish.scattering, 0, 1)


def _product(
    product: AnyProduct, known: dict[str, Accessory], today: datetime.date | None
) -> Iterator[str]:
    if not _ID.fullmatch(product.id):
        yield "id must be lower-case letters, digits and hyphens, at most 40"
    if not product.name:
        yield "name is missing"
    if not re.fullmatch(r"[A-Z]{3}", product.currency):
        yield f"currency {product.currency!r} is no three-letter code"
    yield from _outside("price", product.price, 0, 50_000)
    if today is not None and product.price_date > today:
        yield f"price_date {product.price_date} is in the future"
    for axis, length in zip(("width", "depth", "height"), product.size, strict=True):
        yield from _outside(axis, length, 0.005, 3, " m")
    yield from _outside("weight_kg", product.weight_kg, 0.01, 60, " kg")
    yield from _outside("power_w", product.power_w, 0, 1500, " W")
    yield from _outside("lead_time_weeks", product.lead_time_weeks, 0, 104)
    yield from _outside("warranty_years", product.warranty_years, 0, 25)
    if not product.fittings:
        yield "no mounting: fittings name at least one way to mount it"
    if len(set(product.mountings)) != len(product.mountings):
        yield "a mounting occurs twice"
    for fitting in product.fittings:
        yield from _fitting(product, fitting, known)
    if ("ceiling" in product.mountings) != bool(product.fits):
        yield "fits and the mounting 'ceiling' go together: both or neither"


def _fitting(product: AnyProduct, fitting: Fitting, known: dict[str, Accessory]) -> Iterator[str]:
    yield from _outside(f"labour for {fitting.mounting}", fitting.labour, 0, 5000)
    unknown = [part for part in fitting.accessories if part not in known]
    if unknown:
        yield f"accessories {', '.join(unknown)} are not in the catalogue"
        return
    if fitting.mounting != "ceiling":
        return
    parts = [known[part] for part in fitting.accessories]
    drops = product.drops if isinstance(product, Microphone) else (0.0,)
    for fit in product.fits:
        if not any(fit in part.fits for part in parts):
            yield f"nothing among its accessories holds it by the fit {fit!r}"
        for drop in drops:
            needed = [part for part in parts if part.is_needed(fit=fit, drop=drop)]
            if drop > 0 and not any(part.price_per_metre for part in needed):
                yield f"hangs by {drop:g} m, but no accessory is sold by length"
    if not any("safety" in part.id for part in parts):
        yield "overhead, but without a safety bond among its accessories"


def _microphone(one: Microphone) -> Iterator[str]:
    expected = {"steered beam": (0, True), "single": (1, False)}.get(one.selects)
    if expected is not None and (len(one.elements), one.beam is not None) != expected:
        yield f"selects {one.selects!r}, with {len(one.elements)} elements and " + (
            "a beam" if one.beam else "no beam"
        )
    if one.selects == "best element" and (len(one.elements) < 2 or one.beam):
        yield "selects 'best element' asks for two or more elements and no beam"
    for element in one.elements:
        yield from _outside("pattern_a", element.pattern_a, 0, 1)
        yield from _outside("elevation_deg", element.elevation_deg, -90, 90, "°")
        yield from _outside("azimuth_deg", element.azimuth_deg, -360, 360, "°")
        if one.boundary and element.pattern_a != 1 and element.elevation_deg != 0:
            yield "a boundary capsule that is not omni needs its axis in the surface, elevation 0"
    if one.beam is not None:
        for index in one.beam.directivity_index_db:
            yield from _outside("directivity index", index, -1, 18, " dB")
        yield from _outside("steer_limit_deg", one.beam.steer_limit_deg, 5, 180, "°")
    yield from _outside("self_noise_dba", one.self_noise_dba, 0, 40, " dBA")
    yield from _outside("overload_db", one.overload_db, 90, 160, " dB")
    yield from _outside("stem", one.stem, 0, 2, " m")
    yield from _link(one)
    yield from _distances(one)
    if one.boundary and "table" not in one.mountings:
        yield "a boundary capsule, but it cannot be mounted on a table"
    if one.built_in is not None:
        yield from _outside("built-in max_level_db", one.built_in.max_level_db, 70, 130, " dB")
        yield from _outside("built-in angle_deg", one.built_in.angle_deg, 20, 360, "°")
        yield from _outside("built-in coupling_db", one.built_in.coupling_db, -60, 20, " dB")


def _link(one: Microphone) -> Iterator[str]:
    if one.link.kind not in LINK_KINDS:
        yield f"link {one.link.kind!r} is none of {', '.join(LINK_KINDS)}"
    # USB 2.0 reaches 5 m passive, a twisted-pair channel 100 m (ANSI/TIA-568.2-D)
    longest = {"usb": 5.0, "network": 100.0}.get(one.link.kind, 300.0)
    yield from _outside(f"{one.link.kind} link", one.link.max_length, 1, longest, " m")


def _distances(one: Microphone) -> Iterator[str]:
    rated = one.rated_distances
    if one.selectable and len(rated) != 3:
        yield "rated distances are missing: clear, usual, last resort"
    if any(b <= a for a, b in itertools.pairwise(rated)):
        yield "rated distances must grow from clear to last resort"
    for distance in rated:
        yield from _outside("rated distance", distance, 0.05, 10, " m")
    if any(b <= a for a, b in itertools.pairwise(one.drops)):
        yield "drops must ascend"
    for drop in one.drops:
        yield from _outside("drop", drop, 0, 6, " m")
    if ("ceiling" in one.mountings) != bool(one.drops):
        yield "drops and the mounting 'ceiling' go together: both or neither"
    if {"lectern", "stand"} & set(one.mountings) and one.stem == 0:
        yield "stands on a stem, but stem is 0"


def _processor(one: Processor) -> Iterator[str]:
    yield from _outside("microphone_ports", one.microphone_ports, 0, 128)
    if bool(one.microphone_ports) != bool(one.port_kinds):
        yield "microphone_ports and port_kinds go together: both or neither"
    for kind in one.port_kinds:
        if kind not in LINK_KINDS:
            yield f"port kind {kind!r} is none of {', '.join(LINK_KINDS)}"
    if one.canceller != (one.canceller_tail > 0):
        yield "canceller and canceller_tail go together: both or neither"
    yield from _outside("canceller_tail", one.canceller_tail, 0, 1, " s")
    yield from _outside("latency_ms", one.latency_ms, 0, 200, " ms")
    if not (one.usb or one.network_audio or one.outputs):
        yield "nothing comes out of it: no USB, no network audio, no outputs"


def _loudspeaker(one: Loudspeaker) -> Iterator[str]:
    yield from _outside("sensitivity_db", one.sensitivity_db, 70, 112, " dB")
    yield from _outside("max_level_db", one.max_level_db, 80, 140, " dB")
    yield from _outside("angle_deg", one.angle_deg, 20, 180, "°")
    yield from _outside("impedance", one.impedance, 2, 100, " Ω")
    if any(b <= a for a, b in itertools.pairwise(one.taps_w)):
        yield "taps_w must ascend"
    power = 10 ** ((one.max_level_db - one.sensitivity_db) / 10)
    if one.taps_w and one.taps_w[-1] > 1.05 * power:
        yield (
            f"its largest tap of {one.taps_w[-1]:g} W would exceed max_level_db, "
            f"which takes {power:.0f} W"
        )


def _accessory(one: Accessory) -> Iterator[str]:
    if not _ID.fullmatch(one.id):
        yield "id must be lower-case letters, digits and hyphens, at most 40"
    if not one.name:
        yield "name is missing"
    yield from _outside("price", one.price, 0, 5000)
    yield from _outside("price_per_metre", one.price_per_metre, 0, 500)
    if one.price_per_metre and one.needed != "drop":
        yield "sold by the metre of drop, but not needed only with a drop"


def _across(catalogue: Catalogue) -> Iterator[Implausible]:
    priced = [*catalogue.products, *catalogue.accessories]
    currencies = sorted({entry.currency for entry in priced})
    if len(currencies) > 1:
        yield Implausible("catalogue", f"currencies are mixed: {', '.join(currencies)}")
    ports = {kind for one in catalogue.processors for kind in one.port_kinds}
    for microphone in catalogue.microphones:
        if not microphone.combined and microphone.link.kind not in ports:
            yield Implausible(
                microphone.id, f"no processor takes its link {microphone.link.kind!r}"
            )
    names = [entry.name for entry in catalogue.products]
    for product in catalogue.products:
        if names.count(product.name) > 1:
            yield Implausible(product.id, f"name {product.name!r} is not its own")
    if not math.isfinite(sum(entry.price for entry in priced)):
        yield Implausible("catalogue", "a price is not a number")

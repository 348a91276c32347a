"""Can this run be that long: a product's ports, their limits, and what carries on farther."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from wellheard.acoustics import line
from wellheard.catalog import connections, lines
from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.products import AnyProduct, Cable, Loudspeaker, Microphone, Port, PortKind
from wellheard.errors import CatalogError

Answer = Literal["yes", "with changes", "no"]

LINE_VOLTAGES = (70.7, 100.0)
"""Constant-voltage lines in use. [V]"""


@dataclass(frozen=True)
class Run:
    """One kind of run from a product.

    Parameters
    ----------
    port : str
    kind : str
        Of cable.
    limit : float
        Longest run. [m]
    fits : bool
        Whether the wanted length is within it.
    says, source : str
        What the limit is, and where it is from.
    """

    port: str
    kind: PortKind
    limit: float
    fits: bool
    says: str
    source: str


@dataclass(frozen=True)
class Way:
    """What makes a longer run possible: in words, how far, and what it adds to the price."""

    text: str
    limit: float
    price: float | None
    currency: str


@dataclass(frozen=True)
class Reach:
    """Whether a product's cable can be so long.

    Parameters
    ----------
    product, name : str
    length : float
        Wanted. [m]
    answer : {"yes", "with changes", "no"}
        With changes: not as it is, but by one of ``ways``.
    runs : tuple of Run
        Every kind of run of the product, the longest first.
    ways : tuple of Way
        What would carry so far where nothing does as it is: extenders, then other microphones.
    """

    product: str
    name: str
    length: float
    answer: Answer
    runs: tuple[Run, ...]
    ways: tuple[Way, ...]


def reach(product_id: str, length: float, catalogue: Catalogue) -> Reach:
    """Whether a run from a product, or of a cable, can have a length, and how else.

    Parameters
    ----------
    product_id : str
        A product or a cable of the catalogue.
    length : float
        [m]
    catalogue : Catalogue
        Where both are looked up, and what else could serve.

    Raises
    ------
    CatalogError
        Neither a product nor a cable has this id, or nothing connects to it.

    Notes
    -----
    Service loops and detours belong to the length. A microphone port has no limit of its own:
    the link of the microphone decides.
    """
    cables = {cable.id: cable for cable in catalogue.cables}
    if product_id in cables:
        cable = cables[product_id]
        runs = list(_of_cable(cable, length))
        fits = any(run.fits for run in runs)
        ways = () if fits else tuple(_extenders(runs, length, catalogue))
        name = cable.name
    else:
        product = catalogue.product(product_id)
        runs = sorted(_of_product(product, length), key=lambda run: -run.limit)
        if not runs:
            raise CatalogError(
                f"{product_id} has no port whose run has a limit of its own; ask for the "
                "microphone or loudspeaker that is connected to it"
            )
        fits = any(run.fits for run in runs)
        ways = () if fits else tuple(_ways(product, runs, length, catalogue))
        name = product.name
    answer: Answer = "yes" if any(run.fits for run in runs) else "with changes" if ways else "no"
    return Reach(product_id, name, length, answer, tuple(runs), ways)


def _of_cable(cable: Cable, length: float) -> Iterator[Run]:
    limit = cable.length if cable.length is not None else cable.max_length
    says = "a cord of that length" if cable.length is not None else "longest channel of this cable"
    for kind in cable.carries:
        yield Run("", kind, limit, length <= limit + 1e-9, says, "the cable's own data sheet")


def _of_product(product: AnyProduct, length: float) -> Iterator[Run]:
    if isinstance(product, Loudspeaker) and not product.active:
        yield from _loudspeaker_lines(product, length)
        return
    for port in product.ports:
        if port.name == "mic":
            continue
        for kind in port.kinds:
            found = _limit(product, port, kind)
            if found is not None:
                limit, says, source = found
                yield Run(port.name, kind, limit, length <= limit + 1e-9, says, source)


def _limit(product: AnyProduct, port: Port, kind: PortKind) -> tuple[float, str, str] | None:
    if isinstance(product, Microphone) and product.link.kind == kind:
        return (
            product.link.max_length,
            "longest link of the product",
            "the product's own data sheet",
        )
    usual = lines.link_limit(kind, port.signal)
    if usual is None:
        return None
    return usual.length, usual.says, f"{usual.source} [{usual.trust}]"


def _loudspeaker_lines(product: Loudspeaker, length: float) -> Iterator[Run]:
    loads: list[tuple[PortKind, float, str]] = [
        ("low-impedance", product.impedance, f"{product.impedance:g} Ω")
    ]
    if product.taps_w:
        tap = product.taps_w[-1]
        loads += [
            ("constant-voltage", volts**2 / tap, f"{volts:g} V, {tap:g} W tap")
            for volts in LINE_VOLTAGES
        ]
    for kind, load, words in loads:
        fitting = [g for g in line.GAUGES if length <= line.longest_line(awg=g, load=load)]
        awg = (fitting or line.GAUGES[-1:])[0]
        yield Run(
            f"in, {words}",
            kind,
            line.longest_line(awg=awg, load=load),
            bool(fitting),
            f"{awg} AWG or thicker, {line.LOSS_LIMIT_DB:g} dB lost in the wire",
            "ASTM B258, loss of two copper wires [L]; the limit is common practice [C]",
        )


def _extenders(runs: list[Run], length: float, catalogue: Catalogue) -> Iterator[Way]:
    own = {run.kind: run.limit for run in reversed(runs)}
    for kind, limit in own.items():
        for extender in connections.extenders_of(kind, catalogue):
            # A repeater in the middle has the product's own run before it.
            whole = extender.max_length + (limit if extender.over == extender.carries else 0.0)
            if length <= whole + 1e-9 and extender.status != "discontinued":
                words = f"with {extender.name} ({extender.id})"
                yield Way(words, whole, extender.price, extender.currency)


def _ways(
    product: AnyProduct, runs: list[Run], length: float, catalogue: Catalogue
) -> Iterator[Way]:
    yield from _extenders(runs, length, catalogue)
    if not isinstance(product, Microphone):
        return
    others = [
        other
        for other in catalogue.microphones
        if other.selectable
        and other.status == "current"
        and set(other.mountings) & set(product.mountings)
        and other.link.max_length >= length
    ]
    for other in sorted(others, key=lambda one: (one.price, one.id)):
        words = f"{other.name} ({other.id}) in its place, on a {other.link.kind} link"
        yield Way(words, other.link.max_length, other.price - product.price, other.currency)

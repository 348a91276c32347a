"""Bill: devices, what their mounting takes, cables, work and spares, line by line and summed."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from decimal import ROUND_HALF_UP, Decimal
from typing import Literal, TypeAlias

from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.labour import Labour, shipped
from wellheard.catalog.products import AnyProduct
from wellheard.errors import CatalogError
from wellheard.room.devices import Device, DeviceKind
from wellheard.room.document import Room
from wellheard.schedules.absorbing import absorbers
from wellheard.schedules.cables import CableRow, CableSchedule, CableSum
from wellheard.schedules.runs import work_on
from wellheard.signal.mounted import Mounted, as_mounted
from wellheard.units import FOOT, Unit, format_length

LineKind: TypeAlias = Literal["device", "accessory", "cable", "finish", "labour", "spare"]
LINE_KINDS: tuple[LineKind, ...] = ("device", "accessory", "cable", "finish", "labour", "spare")
NOT_IN_CATALOGUE = ("rack", "table-box", "wall-plate", "entry")
"""Equipment that somebody has to supply."""


@dataclass(frozen=True)
class BillLine:
    """One line.

    Parameters
    ----------
    id : str
        Of the product, accessory, cable or task.
    what : str
        In words.
    count : float
    unit : {"piece", "metre", "square metre", "run", "end"}
    unit_price : float
        Without tax; 0 of what the customer owns. [currency]
    kind : {"device", "accessory", "cable", "finish", "labour", "spare"}
    currency : str
    where : tuple of str
        Devices or links that it is for.
    lead_time_weeks : float or None
        None where nothing is stated, as for cables and work.
    owned : bool
        The customer has it.
    colour : str
        Empty where the product has no choice of any.
    note : str
    """

    id: str
    what: str
    count: float
    unit: Literal["piece", "metre", "square metre", "run", "end"]
    unit_price: float
    kind: LineKind
    currency: str
    where: tuple[str, ...] = ()
    lead_time_weeks: float | None = None
    owned: bool = False
    colour: str = ""
    note: str = ""

    @property
    def amount(self) -> float:
        """Count times price, to the cent. [currency]"""
        return cents(self.count * self.unit_price)

    def counted(self, unit: Unit) -> tuple[float, str, float]:
        """Count, what one is called, and its price, for a reader of that unit.

        Pieces are called nothing.
        """
        if self.unit == "square metre":
            if unit == "ft":
                return self.count / FOOT**2, "sq ft", self.unit_price * FOOT**2
            return self.count, "m²", self.unit_price
        if self.unit != "metre":
            word = "" if self.unit == "piece" else self.unit
            return self.count, word if self.count == 1 or not word else f"{word}s", self.unit_price
        if unit == "ft":
            return self.count / FOOT, "ft", self.unit_price * FOOT
        return self.count, "m", self.unit_price


@dataclass(frozen=True)
class NotPriced:
    """Something that the room needs and this bill has no price of."""

    what: str
    why: str


@dataclass(frozen=True)
class Bill:
    """Lines that sum, lines in other currencies, and what has no price.

    Parameters
    ----------
    lines : tuple of BillLine
        In the document's currency.
    currency : str
    others : tuple of BillLine
        In other currencies: listed, not summed.
    not_priced : tuple of NotPriced
    cables_known : bool
        Every device is linked, and every link has a cable of known length.
    """

    lines: tuple[BillLine, ...]
    currency: str
    others: tuple[BillLine, ...]
    not_priced: tuple[NotPriced, ...]
    cables_known: bool

    @property
    def total(self) -> float | None:
        """Without tax; None where nothing has a price in this currency. [currency]"""
        if not self.lines:
            return None
        return cents(math.fsum(line.amount for line in self.lines))

    def sum_of(self, kind: LineKind) -> float:
        """Sum of the lines of one kind. [currency]"""
        return cents(math.fsum(line.amount for line in self.lines if line.kind == kind))

    @property
    def lead_time_weeks(self) -> float | None:
        """Longest of all that is bought; None where nothing is stated."""
        return max(self._leads().values(), default=None)

    @property
    def lead_time_of(self) -> tuple[str, ...]:
        """Products that take the longest."""
        longest = self.lead_time_weeks
        return tuple(name for name, weeks in self._leads().items() if weeks == longest)

    def _leads(self) -> dict[str, float]:
        return {
            line.id: line.lead_time_weeks
            for line in (*self.lines, *self.others)
            if line.lead_time_weeks is not None and not line.owned
        }


def cents(amount: float) -> float:
    """Amount to the cent, a half upwards, as money is rounded.

    Examples
    --------
    >>> cents(7.685), cents(5.3 * 1.45), cents(2.0)
    (7.69, 7.69, 2.0)
    """
    # Nine places first: a product of floats just below a half is that half.
    return float(Decimal(f"{amount:.9f}").quantize(Decimal("0.01"), ROUND_HALF_UP))


def inside(name: str) -> str:
    """Name as it stands inside a sentence.

    Examples
    --------
    >>> inside("Ceiling head, two capsules"), inside("USB cord, 2 m")
    ('ceiling head, two capsules', 'USB cord, 2 m')
    """
    return name if name[1:2].isupper() else name[:1].lower() + name[1:]


def bill(
    room: Room,
    catalogue: Catalogue,
    cables: CableSchedule,
    labour: Labour | None = None,
) -> Bill:
    """Return what a document comes to.

    Parameters
    ----------
    room : Room
        With its devices and links.
    catalogue : Catalogue
        That has every product and cable of the document.
    cables : CableSchedule
        Of the same document.
    labour : Labour, optional
        Times and rates of work on cables; those that come with the program if not given.

    Notes
    -----
    Devices with their accessories and the work of mounting them cost what placement counts for
    them. Cable is counted by its cut lengths, with nothing for offcuts. Tax, delivery, conduit,
    programming and commissioning are in none of it.
    """
    book = _Book(room, catalogue)
    book.devices()
    book.cables(cables, labour or shipped())
    book.finishes()
    lines = sorted(book.lines.values(), key=lambda line: LINE_KINDS.index(line.kind))
    currency = room.project.currency
    return Bill(
        lines=tuple(line for line in lines if line.currency == currency),
        currency=currency,
        others=tuple(line for line in lines if line.currency != currency),
        not_priced=tuple(book.not_priced),
        cables_known=cables.complete,
    )


def colour_of(room: Room, product: AnyProduct, device: Device | None) -> tuple[str, str]:
    """Return the colour that a product is ordered in, and a remark where it is not the wanted one.

    Empty where it has no choice.
    """
    wanted = (device.colour if device is not None else None) or room.choices.colour
    if not product.colours:
        return "", ""
    if wanted is None or wanted in product.colours:
        return wanted or product.colours[0], ""
    return product.colours[0], f"does not come in {wanted}"


@dataclass
class _Book:
    """Lines as they are gathered: what is alike is one line."""

    room: Room
    catalogue: Catalogue
    lines: dict[tuple[object, ...], BillLine] = field(default_factory=dict)
    not_priced: list[NotPriced] = field(default_factory=list)

    def add(self, line: BillLine, *key: object) -> None:
        """Add a line, or its count to one that is there."""
        at = (line.kind, line.id, line.unit, line.unit_price, line.currency, *key)
        known = self.lines.get(at)
        if known is not None:
            where = tuple(dict.fromkeys((*known.where, *line.where)))
            line = replace(known, count=known.count + line.count, where=where)
        self.lines[at] = line

    def devices(self) -> None:
        """Devices, what their mounting takes, and spares."""
        bought: dict[tuple[str, DeviceKind], list[str]] = {}
        for name, device in self.room.devices.items():
            product = self.catalogue.product(device.product)
            colour, remark = colour_of(self.room, product, device)
            line = _piece(product, "device", colour, name)
            if device.owned:
                owned = replace(line, unit_price=0.0, lead_time_weeks=None, owned=True)
                self.add(owned, colour, True)
                continue
            bought.setdefault((product.id, device.kind), []).append(colour)
            self.add(replace(line, note=remark), colour, False)
            self._mounting(name, product, as_mounted(self.room, product, device))
        for (product_id, kind), colours in bought.items():
            share = self.room.choices.spares.get(kind, 0.0)
            spares = math.ceil(share * len(colours) - 1e-9)
            if spares:
                usual = max(colours, key=colours.count)
                line = _piece(self.catalogue.product(product_id), "spare", usual)
                self.add(replace(line, count=float(spares)))
        for name, item in self.room.equipment.items():
            said = name if name == item.kind else f"{name} ({item.kind.replace('-', ' ')})"
            if item.kind in NOT_IN_CATALOGUE:
                why = "not in the catalogue; there already, or supplied by others"
                self.not_priced.append(NotPriced(said, why))
            elif item.kind != "other":
                self.not_priced.append(NotPriced(said, "the customer brings it"))

    def _mounting(self, name: str, product: AnyProduct, held: Mounted) -> None:
        try:
            price = self.catalogue.installed_price(product, held.mounting, held.drop, fit=held.fit)
        except CatalogError as error:
            self.not_priced.append(NotPriced(f"mounting of {name}", str(error)))
            return
        for part in price.parts[1:]:
            if not part.id:
                what = f"Mount {inside(product.name)} ({held.mounting})"
                key = f"mount-{product.id}"
                line = BillLine(
                    key, what, 1.0, "piece", part.amount, "labour", price.currency, (name,)
                )
                if part.amount:
                    self.add(line, held.mounting)
                continue
            accessory = self.catalogue.accessory(part.id)
            cut = held.drop if accessory.price_per_metre else None
            note = f"cut for a drop of {format_length(cut, unit=self.room.units)}" if cut else ""
            self.add(
                BillLine(
                    part.id,
                    part.text,
                    1.0,
                    "piece",
                    part.amount,
                    "accessory",
                    price.currency,
                    (name,),
                    note=note,
                ),
                cut,
            )

    def finishes(self) -> None:
        """Panels, tiles and carpet of its patches, as far as the catalogue sells them."""
        for one in absorbers(self.room, self.catalogue.treatments):
            product, unit, patches = one.product, one.unit, tuple(one.patches)
            name = inside(product.name)
            every = (
                BillLine(
                    product.id,
                    product.name,
                    one.count,
                    unit,
                    one.each(product.price),
                    "finish",
                    product.currency,
                    patches,
                ),
                BillLine(
                    f"set-up-{product.id}",
                    f"Measure up and order {name}",
                    1.0,
                    "piece",
                    product.fixed,
                    "labour",
                    product.currency,
                    patches,
                ),
                BillLine(
                    f"fix-{product.id}",
                    f"Fix {name}",
                    one.count,
                    unit,
                    one.each(product.labour),
                    "labour",
                    product.currency,
                    patches,
                ),
            )
            for line in every:
                if line.unit_price:
                    self.add(line)

    def cables(self, schedule: CableSchedule, labour: Labour) -> None:
        """Cable by the metre, its ends, cords, and the work on them."""
        for each in schedule.sums:
            rows = [
                row
                for row in schedule.rows
                if row.cable == each.cable and row.jacket == each.jacket and not row.unpriced
            ]
            for line in _cable_lines(each, tuple(row.id for row in rows)):
                self.add(line, each.jacket)
        for line in _work(schedule.rows, labour):
            self.add(line)
        self.not_priced += [
            NotPriced(f"cable {row.id}, {row.from_} to {row.to}", row.unpriced)
            for row in schedule.rows
            if row.unpriced
        ]
        if schedule.unlinked:
            names = ", ".join(schedule.unlinked)
            why = "no link of the document leads to them"
            self.not_priced.append(NotPriced(f"cables of {names}", why))


def _cable_lines(each: CableSum, where: tuple[str, ...]) -> Iterator[BillLine]:
    cable = each.cable
    if cable.length is not None:
        yield BillLine(
            cable.id,
            cable.name,
            float(each.runs),
            "piece",
            cable.price,
            "cable",
            cable.currency,
            where,
        )
        return
    jacketed = f"{cable.name}, {each.jacket_name or 'plainest'} jacket"
    per_metre = cable.price_per_metre
    if cable.surcharges_per_metre:
        per_metre += cable.surcharges_per_metre[
            cable.jackets.index(each.jacket) if each.jacket else -1
        ]
    note = "" if each.jacket else "no jacket of this cable will do where it runs"
    yield BillLine(
        cable.id,
        jacketed,
        each.length,
        "metre",
        per_metre,
        "cable",
        cable.currency,
        where,
        note=note,
    )
    yield BillLine(
        f"{cable.id}-ends",
        f"Plugs and sockets: {inside(cable.name)}",
        float(each.runs),
        "run",
        cable.price,
        "cable",
        cable.currency,
        where,
    )


def _work(rows: Iterable[CableRow], labour: Labour) -> Iterator[BillLine]:
    for row in rows:
        if row.cable is None or row.unpriced:
            continue
        for task, count in work_on(row.cable, row.run):
            meant = labour.tasks[task]
            yield BillLine(
                task,
                meant.what,
                count,
                meant.unit,
                meant.price,
                "labour",
                labour.currency,
                (row.id,),
            )


def _piece(
    product: AnyProduct, kind: Literal["device", "spare"], colour: str, *where: str
) -> BillLine:
    return BillLine(
        product.id,
        product.name,
        1.0,
        "piece",
        product.price,
        kind,
        product.currency,
        where,
        lead_time_weeks=product.lead_time_weeks,
        colour=colour,
    )

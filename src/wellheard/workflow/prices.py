"""What the devices of a document cost as installed: hardware, what the mounting takes, labour."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from wellheard.catalog.catalogue import Catalogue
from wellheard.errors import CatalogError
from wellheard.room.devices import Device
from wellheard.room.document import Room
from wellheard.schedules.bill import Bill
from wellheard.signal.mounted import as_mounted
from wellheard.units import money


@dataclass(frozen=True)
class Total:
    """A sum in one currency, or why there is none.

    Attributes
    ----------
    amount : float or None
        None where it cannot be told.
    currency : str
    why : str
        Why not, in words; empty where there is an amount.
    """

    amount: float | None
    currency: str
    why: str = ""

    @property
    def words(self) -> str:
        """The amount as it is read; a dash where there is none.

        Examples
        --------
        >>> Total(4180.0, "EUR").words
        'EUR\\xa04\\xa0180'
        """
        return "–" if self.amount is None else money(self.amount, self.currency, cents=False)


def total(room: Room, catalogue: Catalogue, kinds: Collection[str] = ()) -> Total:
    """Installed price of a room's devices; what the customer owns costs nothing.

    Parameters
    ----------
    room : Room
        With its devices.
    catalogue : Catalogue
        That they are looked up in.
    kinds : collection of str
        Only devices of these kinds; empty for all.
    """
    meant = [d for d in room.devices.values() if not kinds or d.kind in kinds]
    currency, amount = room.project.currency, 0.0
    for device in meant:
        if device.owned:
            continue
        own = catalogue.product(device.product).currency
        if own != currency:
            return Total(None, currency, f"{device.product} is priced in {own}, not {currency}")
        try:
            amount += installed(room, catalogue, device)
        except CatalogError as error:
            return Total(None, currency, str(error))
    return Total(round(amount, 2), currency)


def installed(room: Room, catalogue: Catalogue, device: Device) -> float:
    """Price of one device where it is, as placement counts it. [currency of its product]

    Raises
    ------
    CatalogError
        It has no price as it is mounted.
    """
    product = catalogue.product(device.product)
    held = as_mounted(room, product, device)
    return catalogue.installed_price(product, held.mounting, held.drop, fit=held.fit).amount


def compared(devices: tuple[Total, Total], bills: tuple[Bill, Bill]) -> tuple[Total, Total]:
    """What two documents come to by their bills: devices, cables, finishes, and the work on them.

    Parameters
    ----------
    devices : pair of Total
        Of their devices alone; where one cannot be told, the whole cannot.
    bills : pair of Bill
        Of the same documents.

    Notes
    -----
    Lines in other currencies are in no sum: where they differ, the documents cannot be compared.
    """
    foreign = [sorted((line.currency, line.amount) for line in one.others) for one in bills]
    if any(one.amount is None for one in devices) or foreign[0] != foreign[1]:
        currency = devices[1].currency
        why = devices[1].why or f"some of it is not priced in {currency}"
        return devices[0], Total(None, currency, why)
    first, second = (Total(one.total or 0.0, one.currency) for one in bills)
    return first, second


def step(before: Total, after: Total) -> str:
    """How much more or less it is than before, in words.

    Examples
    --------
    >>> step(Total(2000.0, "EUR"), Total(1250.0, "EUR"))
    'EUR\\xa0750 less'
    """
    if before.amount is None or after.amount is None or before.currency != after.currency:
        return "not comparable"
    by = round(after.amount) - round(before.amount)
    if not by:
        return "the same"
    return f"{money(abs(by), after.currency, cents=False)} {'more' if by > 0 else 'less'}"

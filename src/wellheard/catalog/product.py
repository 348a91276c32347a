"""What every product has: its sheet, its price, how it is mounted."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from typing import Literal, TypeAlias

Mounting: TypeAlias = Literal[
    "ceiling", "table", "lectern", "wall", "front", "stand", "rack", "table-box"
]
MOUNTINGS: tuple[Mounting, ...] = (
    "ceiling",
    "table",
    "lectern",
    "wall",
    "front",
    "stand",
    "rack",
    "table-box",
)

Fit: TypeAlias = Literal["tile", "hole", "hard", "open"]
"""How a device holds to a ceiling: in or on a lay-in tile, in a cut hole, screwed to a hard
surface, or hung from open structure."""
FITS: tuple[Fit, ...] = ("tile", "hole", "hard", "open")

CEILING_FITS: dict[str, tuple[Fit, ...]] = {
    "tiles": ("tile", "hole"),
    "hard": ("hole", "hard"),
    "open": ("open",),
}
"""Which fits a ceiling kind of the room document allows, the kindest to the ceiling first."""

MODULE_TOLERANCE = 0.01
"""A panel for a 0.6 m grid also lies in one of 2 ft, 0.6096 m (common practice, no source). [m]"""

Status: TypeAlias = Literal["current", "last orders", "discontinued"]
Vector: TypeAlias = tuple[float, float, float]
PowerFrom: TypeAlias = Literal["link", "network", "usb", "mains", "none"]
"""Where a device takes its power: its link, the network (PoE), a computer, mains, or nowhere."""


@dataclass(frozen=True, kw_only=True)
class Fitting:
    """What one way of mounting takes: accessories by id, and labour in the product's currency."""

    mounting: Mounting
    accessories: tuple[str, ...]
    labour: float


@dataclass(frozen=True, kw_only=True)
class Product:
    """What every product has.

    Parameters
    ----------
    id, name : str
        Id for documents, name for people; both invented.
    price, currency, price_date : float, str, date
        List price without tax, and the day it was stated.
    size : tuple of 3 floats
        Width, depth, height. [m]
    weight_kg, power_w : float
        [kg], [W]
    fittings : tuple of Fitting
        Each way it may be mounted, the usual one first.
    fits : tuple of {"tile", "hole", "hard", "open"}
        How it can hold to a ceiling, the usual one first; empty if it never does.
    cutout : float or None
        Diameter or edge of the hole a flush ceiling device needs. [m]
    module : tuple of 2 floats or None
        Lay-in tile that it takes the place of; None: it sits in or hangs through one. [m]
    plenum : bool or None
        Rated for a void that carries return air; None is unknown.
    powered_from : {"link", "network", "usb", "mains", "none"}
    poe_class : int or None
        IEEE 802.3 class, 1 to 8, of a device powered from the network.
    status : {"current", "last orders", "discontinued"}
        A solver proposes current products; those on last orders only where the document allows
        them by name; discontinued ones never.
    last_orders : date or None
        Last day on which it can, or could, be ordered; None while it is current.
    successor : str
        Id of the product that takes its place; empty if there is none.
    lead_time_weeks, warranty_years : float
    colours : tuple of str
    minimum_firmware : str
        Empty if it has none.
    selectable : bool
        False: a solver never chooses it.
    by_name : bool
        A solver chooses it only where the document allows it by name.
    note : str
    """

    id: str
    name: str
    price: float
    currency: str
    price_date: datetime.date
    size: Vector
    weight_kg: float
    power_w: float
    fittings: tuple[Fitting, ...]
    fits: tuple[Fit, ...] = ()
    cutout: float | None = None
    module: tuple[float, float] | None = None
    plenum: bool | None = None
    powered_from: PowerFrom = "none"
    poe_class: int | None = None
    status: Status = "current"
    last_orders: datetime.date | None = None
    successor: str = ""
    lead_time_weeks: float = 0.0
    colours: tuple[str, ...] = ()
    warranty_years: float = 0.0
    minimum_firmware: str = ""
    selectable: bool = True
    by_name: bool = False
    note: str = ""

    @property
    def chosen_by_name(self) -> bool:
        """Whether a solver may choose it where the document allows it by name."""
        return self.selectable and self.status != "discontinued"

    @property
    def chosen_unnamed(self) -> bool:
        """Whether a solver may choose it where the document allows everything."""
        return self.selectable and not self.by_name and self.status == "current"

    @property
    def mountings(self) -> tuple[Mounting, ...]:
        """The ways it may be mounted, the usual one first."""
        return tuple(fitting.mounting for fitting in self.fittings)

    @property
    def accessories(self) -> dict[Mounting, tuple[str, ...]]:
        """Accessory ids by mounting, before ceiling kind and drop thin them out."""
        return {fitting.mounting: fitting.accessories for fitting in self.fittings}

    @property
    def labour(self) -> dict[Mounting, float]:
        """Labour by mounting, in `currency`."""
        return {fitting.mounting: fitting.labour for fitting in self.fittings}

    def fits_for_ceiling(
        self,
        kind: str,
        *,
        new_holes: bool = True,
        module: tuple[float, float] | None = None,
    ) -> tuple[Fit, ...]:
        """Return the ways it can hold to a ceiling of this kind, kindest to the ceiling first.

        Parameters
        ----------
        kind : {"tiles", "hard", "open"}
            As in the room document.
        new_holes : bool
            False: nothing may be cut. A lay-in tile is replaced, not cut, so "tile" stays.
        module : tuple of 2 floats, optional
            Of the ceiling's tiles: what takes the place of a tile fits only its own module.
            Not looked at if not given. [m]

        Returns
        -------
        tuple of {"tile", "hole", "hard", "open"}
            Empty if it cannot be mounted there.

        Raises
        ------
        KeyError
            No such kind of ceiling.
        """
        return tuple(
            fit
            for fit in CEILING_FITS[kind]
            if fit in self.fits
            and (new_holes or fit != "hole")
            and (fit != "tile" or module is None or self.replaces_tile(module))
        )

    def replaces_tile(self, module: tuple[float, float]) -> bool:
        """Whether it can take the place of a tile of this module, or needs to take none.

        Examples
        --------
        >>> from wellheard.catalog.catalogue import Catalogue
        >>> panel = Catalogue.shipped().product("ceiling-array-16")
        >>> [panel.replaces_tile(edges) for edges in [(0.6, 0.6), (0.6096, 0.6096), (0.625, 0.625)]]
        [True, True, False]
        """
        return self.tile_gap(module) <= MODULE_TOLERANCE

    def tile_gap(self, module: tuple[float, float]) -> float:
        """By how much a side differs from that of a tile, the better way round. [m]

        0 for what takes the place of none. Up to 10 mm it lies on the tees (`replaces_tile`);
        whether it lies there well is for a stricter limit to say.
        """
        if self.module is None:
            return 0.0
        pairs = zip(sorted(self.module), sorted(module), strict=True)
        return max(abs(own - tile) for own, tile in pairs)


@dataclass(frozen=True, kw_only=True)
class Hanging(Product):
    """What may hang from a ceiling, at one of a few lengths.

    Parameters
    ----------
    drops : tuple of floats
        Allowed lengths below the ceiling, ascending, 0 is flush; empty if it never hangs. [m]
    """

    drops: tuple[float, ...] = ()

    @property
    def flush(self) -> bool:
        """Whether it is always part of the ceiling: it hangs there, and never below."""
        return self.mountings == ("ceiling",) and bool(self.drops) and max(self.drops) == 0.0

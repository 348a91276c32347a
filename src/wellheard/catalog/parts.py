"""Parts that go with products: cables and mounting accessories."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from typing import Literal, TypeAlias, get_args

from wellheard.catalog.ports import PortKind
from wellheard.catalog.product import Fit, Status
from wellheard.errors import CatalogError

Jacket: TypeAlias = Literal["plenum", "riser", "general"]
"""Fire rating of a cable's jacket, the highest first: for voids that carry return air, between
floors, elsewhere. A higher one may take the place of a lower, never the reverse."""


@dataclass(frozen=True, kw_only=True)
class Cable:
    """Cable by the metre, or a cord of fixed length.

    Parameters
    ----------
    carries : tuple of str
        Kinds of link it is right for.
    price, price_per_metre : float
        Of both ends made up (of the whole cord, where it has a length), and of each metre with
        the plainest of its jackets.
    price_date : date
    jackets : tuple of {"plenum", "riser", "general"}
        Fire ratings it can be bought with, the highest first.
    surcharges_per_metre : tuple of floats
        Of each jacket; empty where they cost the same.
    outer_diameter : float
        [m]
    awg : int
        American wire gauge of its conductors (ASTM B258).
    pairs : int
    max_length : float
        Longest channel of its own kind; a product's own limit may be shorter. [m]
    length : float or None
        Of a cord; None is sold by the metre. [m]
    """

    id: str
    name: str
    carries: tuple[PortKind, ...]
    price: float
    price_per_metre: float
    currency: str
    price_date: datetime.date
    jackets: tuple[Jacket, ...]
    surcharges_per_metre: tuple[float, ...] = ()
    outer_diameter: float
    awg: int
    pairs: int
    max_length: float
    length: float | None = None
    status: Status = "current"
    note: str = ""

    def jacket_for(self, wanted: Jacket) -> Jacket | None:
        """Return the plainest of its jackets that is rated as high as wanted, or None.

        Examples
        --------
        >>> from wellheard.catalog.catalogue import Catalogue
        >>> Catalogue.shipped().cable("twisted-pair").jacket_for("riser")
        'riser'
        """
        ranks = get_args(Jacket)
        good = [own for own in self.jackets if ranks.index(own) <= ranks.index(wanted)]
        return good[-1] if good else None

    def cost(self, length: float, jacket: Jacket | None = None) -> float:
        """Return the price of one run, both ends made up.

        Parameters
        ----------
        length : float
            Of the run; a cord costs the same however much of it is used. [m]
        jacket : {"plenum", "riser", "general"}, optional
            One of its `jackets`; the plainest if not given.

        Raises
        ------
        CatalogError
            It cannot be bought with that jacket.

        Examples
        --------
        >>> from wellheard.catalog.catalogue import Catalogue
        >>> pair = Catalogue.shipped().cable("twisted-pair")
        >>> pair.cost(10), pair.cost(10, "plenum")
        (18.0, 27.0)
        """
        if jacket is not None and jacket not in self.jackets:
            raise CatalogError(f"{self.id}: no {jacket} jacket; it has: {', '.join(self.jackets)}")
        if self.length is not None:
            return self.price
        extra = 0.0
        if self.surcharges_per_metre:
            at = self.jackets.index(jacket) if jacket else -1
            extra = self.surcharges_per_metre[at]
        return round(self.price + (self.price_per_metre + extra) * length, 2)


@dataclass(frozen=True, kw_only=True)
class Accessory:
    """A part that a mounting needs.

    Parameters
    ----------
    price : float
        Of one. A part sold by length costs ``price + price_per_metre · drop``.
    fits : tuple of {"tile", "hole", "hard", "open"}
        Needed only with these; empty: with any.
    needed : {"always", "drop", "flush"}
        Always, only where the device hangs, or only where it does not.
    """

    id: str
    name: str
    price: float
    price_per_metre: float = 0.0
    currency: str
    fits: tuple[Fit, ...] = ()
    needed: Literal["always", "drop", "flush"] = "always"
    note: str = ""

    def is_needed(self, *, fit: Fit | None, drop: float) -> bool:
        """Return whether a device held by ``fit`` and hanging by ``drop`` [m] needs it."""
        if self.fits and fit not in self.fits:
            return False
        return self.needed == "always" or (self.needed == "drop") == (drop > 0)

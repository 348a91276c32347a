"""What can be bought to absorb sound: modules for walls, ceilings and floors."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal, TypeAlias, cast, get_args

from wellheard import tables
from wellheard.catalog import finishes
from wellheard.catalog.finishes import Finish
from wellheard.errors import CatalogError

Side: TypeAlias = Literal["wall", "ceiling", "floor"]
Behind: TypeAlias = Literal["plain", "glass"]

REFERENCE_TILE = 0.36
"""Area that the price of a lay-in tile is for. [m²]"""


@dataclass(frozen=True, kw_only=True)
class Treatment:
    """One product, sold by the module.

    Parameters
    ----------
    finish : Finish
        What it absorbs, under the product's own id: documents may name it as a finish.
    on : {"wall", "ceiling", "floor"}
    ceilings : tuple of str
        Kinds of ceiling that it can be fitted to.
    behind : {"plain", "glass"}
        What it goes on.
    width, height : float or None
        Of one module; None where the place decides: a cell of the grid, the floor, the height of
        a wall. [m]
    thickness : float
        [m]
    weight, price, labour : float
        Of one module, of 0.36 m² of lay-in tile, else of one square metre where the place decides
        a side. [kg], [currency]
    fixed : float
        Once for the product. [currency]
    fire, note : str
        What to ask, and to know.
    """

    finish: Finish
    on: Side
    ceilings: tuple[str, ...] = ()
    behind: Behind = "plain"
    width: float | None = None
    height: float | None = None
    thickness: float = 0.0
    weight: float = 0.0
    price: float = 0.0
    labour: float = 0.0
    fixed: float = 0.0
    fire: str = ""
    note: str = ""
    currency: str = "EUR"

    @property
    def id(self) -> str:
        """Of product and finish."""
        return self.finish.id

    @property
    def name(self) -> str:
        """In words."""
        return self.finish.name

    @property
    def area(self) -> float:
        """What price, labour and weight are for [m²]."""
        if self.width is not None and self.height is not None:
            return self.width * self.height
        return REFERENCE_TILE if self.on == "ceiling" else 1.0

    def installed(self, area: float) -> int:
        """Price of so much of it with labour, without the fixed cost, in whole units. [currency]

        Examples
        --------
        >>> panel = {one.id: one for one in from_table(tables.load("treatments"))}["wall-panel-50"]
        >>> panel.installed(0.72), panel.installed(1.44)
        (120, 240)
        """
        return math.ceil((self.price + self.labour) * area / self.area - 1e-9)


def from_table(table: tables.Table) -> tuple[Treatment, ...]:
    """Read products from the rows of a table.

    Raises
    ------
    CatalogError
        An id occurs twice, a figure is none, or a word is none of those that a column may have.
    """
    currency = str(table.provenance.get("currency", "EUR"))
    found: list[Treatment] = []
    wrong: list[str] = []
    for line, (row, finish) in enumerate(
        zip(table.rows, finishes.from_table(table), strict=True), start=2
    ):
        try:
            found.append(_treatment(row, finish, currency))
        except ValueError as error:
            wrong.append(f"{table.name}.csv:{line}: {row['id']}: {error}")
    if wrong:
        raise CatalogError("\n".join(wrong))
    return tuple(found)


def _treatment(row: dict[str, str], finish: Finish, currency: str) -> Treatment:
    def number(column: str) -> float:
        try:
            value = float(row[column])
        except ValueError:
            raise ValueError(f"{column}: {row[column]!r} is not a number") from None
        if not (math.isfinite(value) and value >= 0):
            raise ValueError(f"{column}: {row[column]} must be 0 or more")
        return value

    def side(column: str) -> float | None:
        return number(column) or None if row[column] else None

    for column, words in (("on", get_args(Side)), ("behind", get_args(Behind))):
        if row[column] not in words:
            raise ValueError(f"{column}: {row[column]!r} is none of {', '.join(words)}")
    return Treatment(
        finish=finish,
        on=cast(Side, row["on"]),
        ceilings=tuple(row["ceilings"].split()),
        behind=cast(Behind, row["behind"]),
        width=side("width"),
        height=side("height"),
        thickness=number("thickness"),
        weight=number("weight"),
        price=number("price"),
        labour=number("labour"),
        fixed=number("fixed"),
        fire=row["fire"],
        note=row["note"],
        currency=currency,
    )

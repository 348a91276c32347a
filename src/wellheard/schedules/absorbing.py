"""Finishes that are bought: modules, their fixing, and what each product costs once."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np

from wellheard.catalog.treatments import Treatment
from wellheard.geometry.polygons import polygon_area
from wellheard.room.document import Room
from wellheard.room.finishes import AnyPatch, LevelPatch

ROUNDING = 0.01
"""Of a module: a document rounds lengths to a tenth of a millimetre."""


@dataclass(frozen=True)
class Absorber:
    """One product of a document's patches.

    Parameters
    ----------
    product : Treatment
    area : float
        Of all its patches. [m²]
    patches : mapping of str to float
        Of each of them, by id. [m²]
    """

    product: Treatment
    area: float
    patches: Mapping[str, float]

    @property
    def unit(self) -> Literal["piece", "square metre"]:
        """Modules of one size are counted; else it is sold by area."""
        sizes = (self.product.width, self.product.height)
        return "square metre" if None in sizes else "piece"

    @property
    def count(self) -> float:
        """Modules, of each patch as many as cover it, or square metres."""
        if self.unit == "square metre":
            return self.area
        modules = (area / self.product.area for area in self.patches.values())
        return float(sum(math.ceil(number - ROUNDING) for number in modules))

    def each(self, amount: float) -> float:
        """Amount for one module, or for one square metre. [currency]"""
        return amount / self.product.area if self.unit == "square metre" else amount

    @property
    def installed(self) -> float:
        """All of it with labour and what is paid once, as a bill has it. [currency]"""
        product = self.product
        return product.fixed + self.count * self.each(product.price + product.labour)


def absorbers(room: Room, products: tuple[Treatment, ...]) -> Iterator[Absorber]:
    """Products that patches of a document are made of, in the order of the catalogue."""
    for product in products:
        patches = room.space.finishes.patches.items()
        mine = {name: _area(one) for name, one in patches if one.finish == product.id}
        if mine:
            yield Absorber(product, sum(mine.values()), mine)


def _area(patch: AnyPatch) -> float:
    if isinstance(patch, LevelPatch):
        return abs(polygon_area(np.asarray(patch.outline)))
    return (patch.to - patch.from_) * (patch.top - patch.bottom)

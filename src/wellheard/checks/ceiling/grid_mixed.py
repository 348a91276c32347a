"""Devices that replace a tile, against the grid they go into."""

from __future__ import annotations

import difflib
from collections.abc import Iterator

from wellheard.catalog.products import AnyProduct
from wellheard.checks.model import Draft
from wellheard.checks.overhead import Overhead, by_product, overhead
from wellheard.checks.registry import rule
from wellheard.checks.relaxation import limit_in_force
from wellheard.checks.separation import TOUCH
from wellheard.checks.wording import listed
from wellheard.predict.evidence import Evidence
from wellheard.signal.mounted import told_module

CODE = "grid-mixed"
Size = tuple[float, float]

HALF_A_TILE = 0.2
"""From here on a device is not of another grid but of another kind of tile. [m]"""


@rule(CODE, "warning", strength="house", cites="", thresholds=(CODE,))
def grid_mixed(evidence: Evidence) -> Iterator[Draft]:
    """What replaces a ceiling tile has the size of the tiles there.

    Grids are metric or in feet and look alike: 600 mm in a 24 inch grid (609.6 mm) lies with
    4.8 mm on each side and may fall through, 24 inches in a 600 mm grid do not go in at all. A
    product's module is held against that of the ceiling, either way round, within 3 mm on each
    side. Only what replaces a tile is judged; what sits in or hangs through one fits any.
    Where the document does not state the module, the usual one of its units is no evidence, and
    nothing is assessed. One finding for each product.
    """
    ceiling = evidence.room.space.ceiling
    limit = limit_in_force(evidence, CODE)
    if ceiling.kind != "tiles":
        return
    for devices in by_product(overhead(evidence)).values():
        replacing = [one for one in devices if one.fit == "tile"]
        module = devices[0].product.module
        if not replacing or module is None:
            continue
        if told_module(evidence.room) is None:
            yield _not_assessed(evidence, replacing, module)
        elif devices[0].product.tile_gap(ceiling.module) > limit + TOUCH:
            yield _draft(evidence, replacing, module, limit)


def _excess(module: Size, grid: Size) -> Size:
    """What each side of a device has beyond the tile, the better way round. [m]"""
    ways = [(module[0] - x, module[1] - y) for x, y in (grid, (grid[1], grid[0]))]
    return min(ways, key=lambda way: max(map(abs, way)))


def _draft(evidence: Evidence, devices: list[Overhead], module: Size, limit: float) -> Draft:
    grid = evidence.room.space.ceiling.module
    gap = devices[0].product.tile_gap(grid)
    if max(_excess(module, grid)) > limit:
        what = "too large: it does not go in"
    elif gap > HALF_A_TILE:
        what = "too small: the grid needs an added cross tee"
    else:
        what = "too small: it may fall through"
    others = _matching(evidence, devices[0].product, limit)
    instead = f", or take {listed(others)}, which replaces such a tile" if others else ""
    return Draft(
        at=f"devices.{devices[0].id}",
        message=(
            f"{devices[0].product.id} ({listed([one.id for one in devices])}) replaces a tile of "
            f"{_size(module)}; the grid here is {_size(grid)}. It is {what}."
        ),
        value=gap,
        limit=limit,
        unit="m",
        remedy=f"Ask for its frame or adapter for this grid{instead}.",
    )


def _matching(evidence: Evidence, product: AnyProduct, limit: float) -> list[str]:
    """Ids of like products that fit this grid, the nearest name first, two at most."""
    grid = evidence.room.space.ceiling.module
    fitting = [
        other.id
        for other in evidence.catalogue.products
        if other.kind == product.kind
        and other.module is not None
        and other.status != "discontinued"
        and other.tile_gap(grid) <= limit + TOUCH
    ]
    return difflib.get_close_matches(product.id, fitting, n=2, cutoff=0.0)


def _not_assessed(evidence: Evidence, devices: list[Overhead], module: Size) -> Draft:
    return Draft(
        at="space.ceiling.module",
        message=(
            f"{devices[0].product.id} ({listed([one.id for one in devices])}) replaces a tile of "
            f"{_size(module)}; whether it fits is not assessed while the ceiling's module is "
            "unknown."
        ),
        remedy="Measure one tile to the millimetre and enter space.ceiling.module.",
        severity="note",
        status="not-assessed",
    )


def _size(size: Size) -> str:
    return " × ".join(f"{1000 * side:.1f}".removesuffix(".0") for side in size) + " mm"

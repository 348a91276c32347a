"""Heights of the items of each column: as few bends and as short lines as their order allows."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from wellheard.drawings.diagram.mesh import Mesh
from wellheard.milp import Program

STRAIGHT = (1.0, 2.0, 8.0)
"""Weight of a height lost between two boxes, a box and a passing link, two passing links."""
UPWARD = 1e-3
"""Weight of the height itself, so that what nothing holds is at the top."""


@dataclass(frozen=True, slots=True)
class Sizes:
    """Sizes in steps of the grid.

    Parameters
    ----------
    height : list of int
        Of each item; 0 for passing links.
    offset : list of int
        Of each pin below the top of its item.
    """

    height: list[int]
    offset: list[int]
    labelled: list[bool]
    """Items above whose line a label is written."""
    between: int = 2
    """Boxes."""

    def gap(self, upper: int, lower: int) -> int:
        """Least distance from the bottom of an item to the top of the next."""
        both = self.height[upper] > 0, self.height[lower] > 0
        if all(both):
            return self.between
        if any(both):
            return 1
        return 2 if self.labelled[lower] else 1


def heights(mesh: Mesh, sizes: Sizes, *, most: int | None = None) -> list[int] | None:
    """Top of every item, in steps of the grid; None if that needs more than ``most``.

    Notes
    -----
    The sum of all heights that lines lose is least for this order of items: a linear program
    whose matrix is that of a network, so that whole sizes give whole heights.
    """
    least = max((_stacked(column, sizes) for column in mesh.columns), default=0)
    if most is not None and least > most:
        return None
    ceiling = float(most if most is not None else sum(_stacked(c, sizes) for c in mesh.columns))
    program = Program()
    tall = np.array(sizes.height, dtype=float)
    tops = program.columns(len(mesh.items), cost=UPWARD, lower=0.0, upper=ceiling - tall)
    _keep_apart(program, mesh, sizes, tops)
    _pull_straight(program, mesh, sizes, tops, ceiling)
    outcome = program.solve(time_limit=20.0, relaxed=True)
    if outcome.values is None:
        raise AssertionError("columns that fit one by one fit together")
    found = [round(float(value)) for value in outcome.values[: len(mesh.items)]]
    for column in mesh.columns:
        # Whole in exact arithmetic: rounding can only ever take a step from a gap.
        for upper, lower in pairwise(column):
            under = found[upper] + sizes.height[upper] + sizes.gap(upper, lower)
            found[lower] = max(found[lower], under)
    return found


def _stacked(column: list[int], sizes: Sizes) -> int:
    gaps = sum(sizes.gap(upper, lower) for upper, lower in pairwise(column))
    return sum(sizes.height[item] for item in column) + gaps


def _keep_apart(program: Program, mesh: Mesh, sizes: Sizes, tops: np.ndarray) -> None:
    pairs = [pair for column in mesh.columns for pair in pairwise(column)]
    if not pairs:
        return
    columns = tops[np.array(pairs).ravel()]
    lower = [float(sizes.height[one] + sizes.gap(one, other)) for one, other in pairs]
    signs = np.tile([-1.0, 1.0], len(pairs))
    program.rows(np.full(len(pairs), 2), columns, signs, lower=np.array(lower))


def _pull_straight(
    program: Program, mesh: Mesh, sizes: Sizes, tops: np.ndarray, ceiling: float
) -> None:
    ends = [(mesh.item_of[net.one], mesh.item_of[net.other], net) for net in mesh.nets]
    ends = [(one, other, net) for one, other, net in ends if one != other]
    if not ends:
        return
    passing = [mesh.items[one].box is None for one, _, _ in ends]
    passing_too = [mesh.items[other].box is None for _, other, _ in ends]
    weight = [STRAIGHT[a + b] for a, b in zip(passing, passing_too, strict=True)]
    shift = np.array([float(sizes.offset[net.other] - sizes.offset[net.one]) for _, _, net in ends])
    lost = program.columns(len(ends), cost=np.array(weight), lower=0.0, upper=2 * ceiling + 99.0)
    pairs = np.array([(one, other) for one, other, _ in ends])
    for sign in (1.0, -1.0):
        # lost ≥ ±(top of the other + its pin − top of the one − its pin)
        columns = np.column_stack([lost, tops[pairs[:, 1]], tops[pairs[:, 0]]]).ravel()
        signs = np.tile([1.0, -sign, sign], len(ends))
        program.rows(np.full(len(ends), 3), columns, signs, lower=sign * shift)

"""Who must be served: the rows of every space, one after the other, as the solver sees them."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import numpy as np

from wellheard.arrays import Array
from wellheard.place.candidates import Options
from wellheard.place.objective import UNREACHED, Index, Objective
from wellheard.place.spaces import Space, Spaces


@dataclass(frozen=True)
class Block:
    """The rows of one space, and the candidates that stand in it."""

    space: Space
    objective: Objective
    columns: Index
    """Its candidates, counted among all."""
    rows: slice
    """Its rows, counted among all."""
    where: tuple[str, ...]
    """For each of its talkers the arrangement, in brackets; empty where no other has the id."""

    def seat(self, row: int) -> str:
        """Id of the talker of one of its own rows."""
        scene = self.space.scene
        return scene.talkers[scene.row_talker[row]].id

    def talker(self, row: int) -> str:
        """Name of the talker of one of its own rows: id, arrangement."""
        return f"{self.seat(row)} {self.where[self.space.scene.row_talker[row]]}".rstrip()

    def name(self, row: int) -> str:
        """Name of one of its own rows: talker, facing where there are several, arrangement."""
        scene = self.space.scene
        index = scene.row_talker[row]
        if len(scene.talkers[index].facings_deg) == 1:
            return self.talker(row)
        facing = f"{scene.talkers[index].id} facing {scene.row_facing_deg[row]:.0f}°"
        return f"{facing} {self.where[index]}".rstrip()


class Rows:
    """Margins of every row of every space at every candidate.

    How many of N chosen microphones stand in a space that holds only some of the places is not
    known before they are chosen, so each figure there is the worst over 1 to N open ones: never
    better than what N chosen microphones do. `hopeful` is the other end: never worse.
    """

    def __init__(self, spaces: Spaces, options: Options) -> None:
        self.count = len(options.allowed)
        self.blocks: list[Block] = []
        self._worst: dict[int, Array] = {}
        self._best: dict[int, Array] = {}
        start = 0
        for space, where, holding in zip(
            spaces.each, _arrangements(spaces), options.holding, strict=True
        ):
            columns = np.flatnonzero(holding)
            own = [options.allowed[i] for i in columns]
            rows = slice(start, start + len(space.scene.row_talker))
            self.blocks.append(Block(space, Objective(space.scene, own), columns, rows, where))
            start = rows.stop
        self.total = start

    def margins(self, count: int) -> Array:
        """Least margins with ``count`` devices, shape (rows, candidates), never optimistic."""
        return self._bounded(self._worst, count, np.minimum)

    def hopeful(self, count: int) -> Array:
        """The same, never pessimistic: what no choice of ``count`` devices can better."""
        return self._bounded(self._best, count, np.maximum)

    @property
    def exact(self) -> bool:
        """Whether every space holds every candidate, so that the number of open ones is known."""
        return all(len(block.columns) == self.count for block in self.blocks)

    @property
    def names(self) -> list[str]:
        """Name of each row, all different."""
        return [b.name(r) for b in self.blocks for r in range(len(b.space.scene.row_talker))]

    @property
    def talkers(self) -> list[str]:
        """Name of each row's talker."""
        return [b.talker(r) for b in self.blocks for r in range(len(b.space.scene.row_talker))]

    def at(self, row: int) -> tuple[Block, int]:
        """The block that a row is in, and its number there."""
        block = next(b for b in self.blocks if row < b.rows.stop)
        return block, row - block.rows.start

    def _bounded(self, known: dict[int, Array], count: int, worse: np.ufunc) -> Array:
        if self.exact and len(self.blocks) == 1:
            return self.blocks[0].objective.margins(count)
        if count not in known:
            found = np.full((self.total, self.count), UNREACHED)
            before = self._bounded(known, count - 1, worse) if count > 1 else None
            for block in self.blocks:
                place = np.ix_(np.arange(block.rows.start, block.rows.stop), block.columns)
                here = block.objective.margins(count)
                if before is not None and len(block.columns) < self.count:
                    here = worse(here, before[place])
                found[place] = here
            known[count] = found
        return known[count]


def _arrangements(spaces: Spaces) -> list[tuple[str, ...]]:
    """For each talker of each space the arrangement, or the part of it, where ids meet."""
    everywhere = Counter(t.id for space in spaces.each for t in space.scene.talkers)
    within = Counter(
        (space.arrangement, t.id) for space in spaces.each for t in space.scene.talkers
    )

    def where(space: Space, talker: str) -> str:
        if everywhere[talker] == 1:
            return ""
        return f"({space.arrangement if within[space.arrangement, talker] == 1 else space.name})"

    return [tuple(where(space, t.id) for t in space.scene.talkers) for space in spaces.each]

"""How well each candidate serves each row, for any number of open microphones."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, fields
from typing import TypeAlias

import numpy as np

from wellheard.arrays import Array, Mask
from wellheard.place.candidates import Candidate
from wellheard.predict import outbound, spread
from wellheard.predict.devices import loudspeaker_places, nearest_loudspeaker
from wellheard.predict.outbound import NEAREST, Transfer
from wellheard.predict.scene import Scene
from wellheard.predict.spread import Quantities

Index: TypeAlias = np.ndarray[tuple[int, ...], np.dtype[np.intp]]

UNREACHED = -1e3
"""Margin where a rule forbids that a candidate serves a row at all."""


QUANTITIES = tuple(f.name for f in fields(Quantities) if f.name != "modulation_transfer_index")
"""Those with one figure for every row at every candidate."""

LOWEST_RATIO_DB = -40.0
"""Direct-to-reverberant ratio below which no microphone within reach falls [dB]."""


@dataclass
class Objective:
    """Margins of every row at every candidate, computed once per number of devices.

    A candidate beyond its product's usual rated distance, or farther from the talker than from a
    loudspeaker, never serves that row.
    """

    scene: Scene
    candidates: Sequence[Candidate]
    _groups: list[list[int]] = field(init=False, repr=False)
    """Candidates of one product each."""
    _near: list[tuple[Index, Index, Transfer]] = field(init=False, repr=False)
    """Rows, candidates and paths of the pairs within reach, shape (1, pairs), by product."""
    distance: Array = field(init=False, repr=False)
    """From every row to every candidate, shape (rows, candidates) [m]."""
    rated: Mask = field(init=False, repr=False)
    """Whether that is within the usual rated distance of the product."""
    _reach: Mask = field(init=False, repr=False)
    _margins: dict[int, Array] = field(init=False, repr=False, default_factory=dict)
    _known: dict[int, dict[str, Array]] = field(init=False, repr=False, default_factory=dict)
    _values: dict[int, Quantities] = field(init=False, repr=False, default_factory=dict)

    def __post_init__(self) -> None:
        groups: dict[str, list[int]] = {}
        for index, candidate in enumerate(self.candidates):
            groups.setdefault(candidate.product.id, []).append(index)
        self._groups = list(groups.values())
        at = np.array([c.at for c in self.candidates]).reshape(-1, 3)
        away = np.linalg.norm(at[None] - self.scene.mouths[:, None], axis=-1)
        self.distance = np.maximum(away, NEAREST)
        usual = np.array([c.product.usual_distance for c in self.candidates])
        self.rated = self.distance <= usual[None] + 1e-9
        self._reach = self.rated & (self.distance <= self._nearest_loudspeaker()[None] + 1e-9)
        self._near = []
        for members in self._groups:
            row, column = np.nonzero(self._reach[:, members])
            if len(row):
                paths = self._transfer(members, row, column)
                self._near.append((row, np.asarray(members)[column], paths))

    def _transfer(
        self, members: list[int], row: Index | None = None, column: Index | None = None
    ) -> Transfer:
        chosen = [self.candidates[i] for i in members]
        return outbound.transfer(
            self.scene,
            chosen[0].product,
            np.array([c.at for c in chosen]),
            np.array([c.aim_deg for c in chosen]),
            row=row,
            column=column,
        )

    def margins(self, count: int) -> Array:
        """Least margin of all promised targets with ``count`` devices, shape (rows, candidates).

        Computed for the pairs within reach only: the search asks for many counts.
        """
        if count not in self._margins:
            least = np.full(self._reach.shape, UNREACHED)
            for row, column, paths in self._near:
                found = spread.quantities(self.scene, paths, microphones=count)
                each = spread.margins(self.scene, found)
                if each:
                    least[row, column] = np.min(np.stack(list(each.values())), axis=0)
                else:
                    # Nothing is promised: any microphone within reach will do, the clearest best.
                    least[row, column] = np.maximum(
                        found.direct_to_reverberant_db - LOWEST_RATIO_DB, 0.0
                    )
            self._margins[count] = least
        return self._margins[count]

    def by_target(self, count: int) -> dict[str, Array]:
        """Margin of each promised target, rules of reach left out of account."""
        if count not in self._known:
            self._known[count] = spread.margins(self.scene, self.quantities(count))
        return self._known[count]

    def quantities(self, count: int) -> Quantities:
        """The quantities themselves, shape (rows, candidates) each; for explaining, not solving."""
        if count not in self._values:
            rows, columns = self._reach.shape
            parts = {name: np.zeros((rows, columns)) for name in QUANTITIES}
            parts["modulation_transfer_index"] = np.zeros((rows, columns, 7))
            for members in self._groups:
                found = spread.quantities(
                    self.scene,
                    self._transfer(members),
                    microphones=count,
                )
                for name, whole in parts.items():
                    whole[:, members] = getattr(found, name)
            self._values[count] = Quantities(**parts)
        return self._values[count]

    @property
    def reach(self) -> Mask:
        """Whether rules of distance let a candidate serve a row, shape (rows, candidates)."""
        return self._reach

    def _nearest_loudspeaker(self) -> Array:
        room = self.scene.room
        rule = room.targets.house_rules.get("loudspeaker-nearer-than-talkers")
        places = (
            {}
            if rule is not None and rule.relaxed
            else loudspeaker_places(room, self.scene.catalogue, locked_only=True)
        )
        return nearest_loudspeaker(
            np.array([c.at for c in self.candidates]), [c.id for c in self.candidates], places
        )

"""How well each candidate serves each row, for any number of open microphones."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from wellheard.arrays import Array, Mask
from wellheard.catalog.products import Loudspeaker
from wellheard.place.candidates import Candidate
from wellheard.predict import outbound
from wellheard.predict.devices import other_devices
from wellheard.predict.outbound import Quantities, Transfer
from wellheard.predict.scene import Scene

UNREACHED = -1e3
"""Margin where a rule forbids that a candidate serves a row at all."""


@dataclass
class Objective:
    """Margins of every row at every candidate, computed once per number of devices.

    A candidate beyond its product's usual rated distance, or farther from the talker than from a
    loudspeaker, never serves that row.
    """

    scene: Scene
    candidates: Sequence[Candidate]
    _groups: list[tuple[list[int], Transfer]] = field(init=False, repr=False)
    _reach: Mask = field(init=False, repr=False)
    _known: dict[int, dict[str, Array]] = field(init=False, repr=False, default_factory=dict)
    _values: dict[int, Quantities] = field(init=False, repr=False, default_factory=dict)

    def __post_init__(self) -> None:
        groups: dict[str, list[int]] = {}
        for index, candidate in enumerate(self.candidates):
            groups.setdefault(candidate.product.id, []).append(index)
        self._groups = []
        rows = len(self.scene.row_talker)
        distance = np.zeros((rows, len(self.candidates)))
        usual = np.zeros(len(self.candidates))
        for members in groups.values():
            chosen = [self.candidates[i] for i in members]
            paths = outbound.transfer(
                self.scene,
                chosen[0].product,
                np.array([c.at for c in chosen]),
                np.array([c.aim_deg for c in chosen]),
            )
            self._groups.append((members, paths))
            distance[:, members] = paths.distance
            usual[members] = chosen[0].product.usual_distance
        self._reach = distance <= usual[None] + 1e-9
        self._reach &= distance < self._nearest_loudspeaker()[None]

    def margins(self, count: int) -> Array:
        """Least margin of all promised targets with ``count`` devices, shape (rows, candidates)."""
        each = self.by_target(count)
        if each:
            least = np.min(np.stack(list(each.values())), axis=0)
        else:
            # Nothing is promised: any microphone within reach will do, the nearest best.
            least = np.abs(self.quantities(count).direct_to_reverberant_db)
        return np.where(self._reach, least, UNREACHED)

    def by_target(self, count: int) -> dict[str, Array]:
        """Margin of each promised target, rules of reach left out of account."""
        if count not in self._known:
            self._known[count] = outbound.margins(self.scene, self.quantities(count))
        return self._known[count]

    def quantities(self, count: int) -> Quantities:
        """The quantities themselves, shape (rows, candidates) each."""
        if count not in self._values:
            shape = self._reach.shape
            parts = {name: np.zeros(shape) for name in Quantities.__dataclass_fields__}
            for members, paths in self._groups:
                found = outbound.quantities(
                    self.scene, paths, open_count=outbound.open_microphones(count)
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
        at = np.array([c.at for c in self.candidates])
        nearest = np.full(len(self.candidates), math.inf)
        rule = self.scene.room.targets.house_rules.get("loudspeaker-nearer-than-talkers")
        if rule is not None and rule.relaxed:
            return nearest
        for device in other_devices(self.scene.room, self.scene.catalogue):
            if isinstance(device.product, Loudspeaker) and device.at is not None:
                nearest = np.minimum(nearest, np.linalg.norm(at - np.asarray(device.at), axis=1))
        return nearest

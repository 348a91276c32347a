"""The seats and a coarse map of one space, of which a moved microphone is all that is worked out.

A microphone is a column over rows: those of the seats first, then those of the map's points. Of
one that moves the middle values are computed everywhere; how sure they are, which is what
chooses the microphone, only where it could be chosen.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import Final, TypeVar

import numpy as np

from wellheard.arrays import Array, Mask
from wellheard.errors import UsageError
from wellheard.predict import outbound, spread, tolerances
from wellheard.predict.coverage import (
    QUANTITIES,
    SEATED,
    Coverage,
    Facing,
    low_end,
    spread_out,
    usual_facing,
    ways_at,
)
from wellheard.predict.evidence import SEAT_TARGETS, PlacedMicrophone
from wellheard.predict.ledger import (
    BEYOND_REACH,
    least_margin,
    preference,
    worst_rows,
)
from wellheard.predict.outbound import FarEnd, Middle, Transfer
from wellheard.predict.planes import Plane, free, level_plane
from wellheard.predict.promises import Promise, promise
from wellheard.predict.scene import Scene
from wellheard.predict.talkers import azimuth_vectors, talkers

POINTS: Final = 240
"""Points of the map, about: as many as can be worked out anew between two pictures."""

T = TypeVar("T", FarEnd, Middle)
Index = np.ndarray[tuple[int, ...], np.dtype[np.intp]]

_SIGMAS: Final = {
    "sti_outbound": "sti_sigma",
    "direct_to_reverberant_db": "direct_to_reverberant_sigma_db",
    "speech_to_noise_db": "speech_to_noise_sigma_db",
    "c50_db": "c50_sigma_db",
    "speech_level_dba": "speech_level_sigma_db",
}
_VALUES: Final = {name: "sti" if name == "sti_outbound" else name for name in QUANTITIES}


@dataclass(frozen=True, eq=False)
class Column:
    """One microphone over the rows, each array of shape (rows,).

    ``margin`` is −∞, and a σ is NaN, where it was clear without them that another one serves.
    """

    placed: PlacedMicrophone
    distance: Array
    values: dict[str, Array]
    sigmas: dict[str, Array]
    margin: Array


@dataclass(frozen=True)
class SeatNow:
    """One talking point: what the ledger's row would say of it, without the path."""

    talker: int
    """Index among the scene's talkers."""
    microphone: str
    distance: float
    values: dict[str, float]
    lows: dict[str, float]
    promise: Promise


@dataclass(frozen=True, eq=False)
class Points:
    """Where the map is: the even cells of a level plane, and which of their middles are free."""

    plane: Plane
    along: Array
    up: Array
    inside: Mask
    ways: tuple[Facing, ...]

    @classmethod
    def over(cls, scene: Scene, *, count: int = POINTS, height: float = SEATED) -> Points:
        """About ``count`` points over all of a room."""
        plane = level_plane(scene.room, height)
        wide, tall = plane.size
        spacing = min(math.sqrt(wide * tall / count), wide / 2, tall / 2)
        along, up = plane.grid(spacing, unit=scene.room.units)
        inside = free(scene.room, plane.points(along, up))
        return cls(plane, along, up, inside, usual_facing(scene))

    def scene(self, scene: Scene) -> Scene:
        """The room with a mouth at every free point, for every way that the talker looks."""
        return ways_at(scene, self.plane.points(self.along, self.up)[self.inside], self.ways)


class Ground:
    """Seats and map of one space with the microphones that hear it.

    Parameters
    ----------
    scene : Scene
        The room, or one space of a room that divides.
    microphones : sequence of PlacedMicrophone
        At least one.
    points : Points, optional
        Of the map; only the seats are worked out without.
    """

    def __init__(
        self,
        scene: Scene,
        microphones: Sequence[PlacedMicrophone],
        points: Points | None = None,
    ) -> None:
        self.scene, self.points = scene, points
        self.microphones = tuple(microphones)
        self._scenes = (scene,) if points is None else (scene, points.scene(scene))
        self._seats = len(scene.mouths)
        self._together = _together(self._scenes)
        self.columns = tuple(self._column(one) for one in self.microphones)
        self._choose()

    def moved(
        self, scene: Scene, microphones: Sequence[PlacedMicrophone], *, lows: bool = True
    ) -> Ground:
        """The same with some microphones elsewhere: theirs are the only columns computed.

        Parameters
        ----------
        scene : Scene
            The same but for its devices.
        microphones : sequence of PlacedMicrophone
            As many as there are, in their order; with others all is computed.
        lows : bool
            Whether low ends of the map are wanted, too: without, they may be NaN.
        """
        if [m.id for m in microphones] != [m.id for m in self.microphones]:
            return Ground(scene, microphones, self.points)
        found = object.__new__(Ground)
        found.scene, found.points, found.microphones = scene, self.points, tuple(microphones)
        found._scenes, found._seats, found._together = self._scenes, self._seats, self._together
        found.best = self.best
        going = [i for i, m in enumerate(microphones) if m != self.microphones[i]]
        kept = {i: c for i, c in enumerate(self.columns) if i not in going}
        rival = found._rival(kept) if len(going) == 1 else None
        if not kept and len(going) == 1 and not lows:  # nothing to choose from
            rival = np.full(len(self.best), np.inf)
        made = {i: found._column(microphones[i], rival) for i in going}
        found.columns = tuple(made.get(i, c) for i, c in enumerate(self.columns))
        found._choose()
        return found

    def same_map(self, scene: Scene) -> bool:
        """Whether talkers on the map look the same ways in a scene as it is now."""
        if self.points is None or scene.mouths is self.scene.mouths:
            return True
        return bool((self.points.scene(scene).facing == self._scenes[-1].facing).all())

    def seats(self) -> tuple[SeatNow, ...]:
        """Every talking point of the space, in the scene's order."""
        found = []
        for talker, row in enumerate(worst_rows(self.scene, self._margin[: self._seats])):
            column = self.columns[int(self.best[row])]
            values = {name: float(column.values[name][row]) for name in QUANTITIES}
            sigmas = {name: float(column.sigmas[name][row]) for name in QUANTITIES}
            found.append(
                SeatNow(
                    talker=talker,
                    microphone=column.placed.id,
                    distance=float(column.distance[row]),
                    values=values,
                    lows={
                        name: float(low_end(name, np.array(values[name]), np.array(sigma)))
                        for name, sigma in sigmas.items()
                    },
                    promise=promise(
                        self.scene.room, {n: (values[n], sigmas[n]) for n in SEAT_TARGETS}
                    ),
                )
            )
        return tuple(found)

    def cover(self, quantity: str) -> Coverage:
        """The map of one quantity, as `wellheard.predict.coverage.coverage` has it.

        Raises
        ------
        UsageError
            Only the seats were worked out.
        """
        at = self.points
        if at is None:
            raise UsageError("a map of seats alone; give the points of one")
        rows = np.arange(self._seats, len(self.best))
        best = self.best[rows]
        value = np.stack([c.values[quantity] for c in self.columns])[best, rows]
        sigma = np.stack([c.sigmas[quantity] for c in self.columns])[best, rows]
        ends = low_end(quantity, value, sigma)
        shape = (np.count_nonzero(at.inside), -1)
        return Coverage(
            quantity=quantity,
            plane=at.plane,
            along=at.along,
            up=at.up,
            values=spread_out(value.reshape(shape).min(axis=1), at.inside),
            low=spread_out(ends.reshape(shape).min(axis=1), at.inside),
            facing=at.ways,
        )

    def _choose(self) -> None:
        margin = np.stack([c.margin for c in self.columns], axis=1)
        distance = np.stack([c.distance for c in self.columns], axis=1)
        preferred = preference(self.scene, self.microphones, margin, distance)
        self.best = np.argmax(preferred, axis=1)
        self._margin = margin[np.arange(len(margin)), self.best]

    def _rival(self, columns: dict[int, Column]) -> Array:
        """What the best of some columns is preferred by, shape (rows,); −∞ for none."""
        if not columns:
            return np.full(len(self.best), -np.inf)
        margin = np.stack([c.margin for c in columns.values()], axis=1)
        distance = np.stack([c.distance for c in columns.values()], axis=1)
        placed = [self.microphones[i] for i in columns]
        return np.asarray(preference(self.scene, placed, margin, distance).max(axis=1))

    def _column(self, placed: PlacedMicrophone, rival: Array | None = None) -> Column:
        """One microphone; with a ``rival`` its σ only where it may be preferred to that."""
        count = len(self.microphones)
        paths = self._heard(placed)
        heard = outbound.far_end(self.scene, paths, microphones=count)
        middle = outbound.middle(paths, heard)
        values = {name: getattr(middle, _VALUES[name])[:, 0] for name in QUANTITIES}
        wanted = np.ones(len(paths.distance), dtype=bool)
        if rival is not None:
            most = _most_margin(self.scene, paths, heard, values)
            beyond = np.where(paths.distance[:, 0] > placed.product.usual_distance + 1e-9, 1.0, 0.0)
            wanted[self._seats :] = (most - BEYOND_REACH * beyond + _SLACK >= rival)[self._seats :]
        rows = np.flatnonzero(wanted)
        sure = spread.spread(
            self.scene, _rows(paths, rows), _taken(heard, rows), _taken(middle, rows)
        )
        margin = np.full(len(wanted), -np.inf)
        margin[rows] = least_margin(self.scene, sure)[:, 0]
        sigmas = {}
        for name, field in _SIGMAS.items():
            sigmas[name] = np.full(len(wanted), np.nan)
            sigmas[name][rows] = getattr(sure, field)[:, 0]
        return Column(placed, paths.distance[:, 0], values, sigmas, margin)

    def _heard(self, placed: PlacedMicrophone) -> Transfer:
        at, aim = np.asarray([placed.at]), np.asarray([placed.aim_deg])
        if self._together is not None:
            return outbound.transfer(self._together, placed.product, at, aim)
        return _joined([outbound.transfer(one, placed.product, at, aim) for one in self._scenes])


_SLACK = 1e-5
"""Of a bound on a margin, for rounding; margins are decided to 10⁻⁶."""


def _most_margin(scene: Scene, paths: Transfer, heard: FarEnd, values: dict[str, Array]) -> Array:
    """What the least margin of a microphone cannot exceed, shape (rows,).

    A margin is (value − target)/σ less what the wanted chance asks for. The σ of both ratios are
    soon worked out; that of the STI is not below the model's own error.
    """
    targets = scene.room.targets
    wanted = 0.0 if targets.chance is None else tolerances.deviations_for(targets.chance)
    ratio, noise = spread.ratio_sigmas_db(scene, paths, heard)
    bounds = []
    if targets.sti_outbound is not None:
        over = np.maximum(values["sti_outbound"] - targets.sti_outbound, 0.0)
        bounds.append(over / spread.MODEL_STI - wanted)
    for name, sigma in (("direct_to_reverberant_db", ratio), ("speech_to_noise_db", noise)):
        target = getattr(targets, name)
        if target is not None:
            bounds.append((values[name] - target) / sigma[:, 0] - wanted)
    if not bounds:  # nothing is promised: the ratio itself decides
        return values["direct_to_reverberant_db"]
    return np.asarray(np.min(np.stack(bounds), axis=0))


def _together(scenes: tuple[Scene, ...]) -> Scene | None:
    """All rows in one scene, where sound that is scattered is the same everywhere; else None."""
    if scenes[0].propagation.needs_places:
        return None
    return replace(
        scenes[-1],
        mouths=np.concatenate([one.mouths for one in scenes]),
        facing=np.concatenate([one.facing for one in scenes]),
    )


def seated(scene: Scene) -> Scene:
    """The scene with the mouths that its room now has; everything else as it was.

    Decay and noise are those of before: who sits where absorbs as much.
    """
    people = talkers(scene.room)
    rows = [(i, f) for i, person in enumerate(people) for f in person.facings_deg]
    return replace(
        scene,
        talkers=people,
        row_talker=tuple(i for i, _ in rows),
        row_facing_deg=tuple(f for _, f in rows),
        mouths=np.array([people[i].at for i, _ in rows]),
        facing=azimuth_vectors([f for _, f in rows]),
    )


def _rows(paths: Transfer, rows: Index) -> Transfer:
    """Some rows of a transfer."""
    taken = {f.name: getattr(paths, f.name)[rows] for f in fields(Transfer) if f.name != "noise"}
    return Transfer(**taken, noise={name: part[rows] for name, part in paths.noise.items()})


def _taken(found: T, rows: Index) -> T:
    """Some rows of a result that has them first in every field."""
    return replace(found, **{f.name: getattr(found, f.name)[rows] for f in fields(found)})


def _joined(parts: Sequence[Transfer]) -> Transfer:
    """The rows of several transfers."""
    if len(parts) == 1:
        return parts[0]
    every = {
        f.name: np.concatenate([getattr(part, f.name) for part in parts])
        for f in fields(Transfer)
        if f.name != "noise"
    }
    noise = {name: np.concatenate([part.noise[name] for part in parts]) for name in parts[0].noise}
    return Transfer(**every, noise=noise)

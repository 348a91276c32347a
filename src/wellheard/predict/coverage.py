"""What a talker anywhere on a plane would get at the far end: middle values and low ends."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final, TypeAlias

import numpy as np

from wellheard.arrays import Array, Mask
from wellheard.errors import InputError
from wellheard.predict import tolerances
from wellheard.predict.evidence import SEAT_TARGETS, Evidence, Outbound, State
from wellheard.predict.ledger import Columns
from wellheard.predict.planes import Plane, free, level_plane
from wellheard.predict.promises import SHARES
from wellheard.predict.scene import Scene
from wellheard.predict.talkers import azimuth_vectors, azimuths_deg

QUANTITIES: Final = (
    "sti_outbound",
    "direct_to_reverberant_db",
    "speech_to_noise_db",
    "c50_db",
    "speech_level_dba",
)
"""What can be mapped; the first three may be promised."""

SEATED: Final = 1.2
"""Mouth height of the talker on a map of whom nothing else is said. [m]"""

Facing: TypeAlias = str | float
"""``across``, ``display``, or an azimuth in degrees anticlockwise from +x."""


@dataclass(frozen=True)
class Coverage:
    """Values of one quantity over a plane; NaN outside the room and in what is solid.

    Attributes
    ----------
    quantity : str
        One of ``QUANTITIES``, or of `wellheard.predict.listening_map`.
    plane : Plane
        Where.
    along, up : ndarray, shapes (columns,) and (rows,)
        Places on the plane, from its origin. [m]
    values, low : ndarray, shape (rows, columns)
        Middle value, and the one that nine of ten such rooms reach.
    facing : tuple
        Which ways the talker looks; at each point the worst of them counts. Empty for an ear.
    """

    quantity: str
    plane: Plane
    along: Array
    up: Array
    values: Array
    low: Array
    facing: tuple[Facing, ...]

    @property
    def x(self) -> Array:
        """Places along x of a level plane. [m]"""
        return self.along + self.plane.origin[0]

    @property
    def y(self) -> Array:
        """Places along y of a level plane. [m]"""
        return self.up + self.plane.origin[1]

    @property
    def height(self) -> float:
        """Of a level plane above the floor. [m]"""
        return self.plane.origin[2]

    @property
    def points(self) -> Array:
        """Room coordinates, shape (rows, columns, 3). [m]"""
        return self.plane.points(self.along, self.up)

    def known(self, *, low: bool = False) -> Array:
        """The values that are some, in one row."""
        values = self.low if low else self.values
        return values[~np.isnan(values)]


def coverage(
    scene: Scene,
    evidence: Evidence,
    *,
    plane: Plane | None = None,
    spacing: float | None = None,
    facing: Sequence[Facing] = (),
) -> dict[str, Coverage]:
    """Every quantity for a talker anywhere on a plane, middle value and low end.

    Parameters
    ----------
    scene : Scene
        The room, or one space of a room that divides.
    evidence : Evidence
        Of the same, with microphones.
    plane : Plane, optional
        By default level at 1.2 m, over all of the room.
    spacing : float, optional
        Widest distance of neighbours; by default what makes about 2 000 points. [m]
    facing : sequence, optional
        Ways the talker looks; by default the facing words that seats of the document use,
        ``across`` where none does.

    Returns
    -------
    dict of str to Coverage
        By the names of ``QUANTITIES``.

    Raises
    ------
    InputError
        No microphone is placed, nothing of the plane is in the room, there are too many points,
        or there is no display to face.

    Notes
    -----
    The microphone with the best margin serves, as in the seat ledger. Of several facings the
    worst counts, each quantity for itself. Points are the middles of even cells.
    """
    if not evidence.microphones:
        raise InputError("no microphone is placed, so there is nothing to map; place some first")
    plane = level_plane(scene.room, SEATED) if plane is None else plane
    along, up = plane.grid(spacing, unit=scene.room.units)
    points = plane.points(along, up)
    inside = free(scene.room, points)
    if not inside.any():
        raise InputError("no point of the plane is inside the room and outside what is solid")
    ways = tuple(facing) or usual_facing(scene)
    middle, low = _values(scene, evidence, points[inside], ways)
    return {
        quantity: Coverage(
            quantity=quantity,
            plane=plane,
            along=along,
            up=up,
            values=spread_out(middle[quantity], inside),
            low=spread_out(low[quantity], inside),
            facing=ways,
        )
        for quantity in QUANTITIES
    }


def usual_facing(scene: Scene) -> tuple[Facing, ...]:
    """The facing words that seats of the document use, ``across`` where none does."""
    used = {
        word
        for seat in scene.room.people.seats.values()
        for word in seat.facing
        if isinstance(word, str)
    }
    return tuple(sorted(used)) or ("across",)


def ways_at(scene: Scene, points: Array, ways: tuple[Facing, ...]) -> Scene:
    """The scene with a mouth at each of many points, looking each way in turn.

    Raises
    ------
    InputError
        There is no display to face.
    """
    pictures = [i for i in scene.room.furniture.values() if i.kind in ("display", "screen")]
    if "display" in ways and not pictures:
        raise InputError("there is no display to face; across, or an azimuth in degrees such as 90")
    return replace(
        scene,
        mouths=points.repeat(len(ways), axis=0),
        facing=azimuth_vectors(azimuths_deg(scene.room, points[:, :2], ways).ravel()),
        many_mouths=True,
    )


def _values(
    scene: Scene, evidence: Evidence, points: Array, ways: tuple[Facing, ...]
) -> tuple[dict[str, Array], dict[str, Array]]:
    """Middle value and low end of every quantity at points, shape (points,)."""
    asked = ways_at(scene, points, ways)
    columns = Columns(asked, evidence.microphones)
    rows = np.arange(len(asked.mouths))
    middle: dict[str, Array] = {}
    low: dict[str, Array] = {}
    for quantity, (values, sigmas) in _quantities(columns).items():
        value, sigma = values[rows, columns.best], sigmas[rows, columns.best]
        ends = low_end(quantity, value, sigma)
        middle[quantity] = value.reshape(len(points), -1).min(axis=1)
        low[quantity] = ends.reshape(len(points), -1).min(axis=1)
    return middle, low


def _quantities(columns: Columns) -> dict[str, tuple[Array, Array]]:
    """Value and standard deviation of every quantity, each of shape (rows, microphones)."""
    pairs = {
        "sti_outbound": [(q.sti, q.sti_sigma) for q in columns.found],
        "direct_to_reverberant_db": [
            (q.direct_to_reverberant_db, q.direct_to_reverberant_sigma_db) for q in columns.found
        ],
        "speech_to_noise_db": [
            (q.speech_to_noise_db, q.speech_to_noise_sigma_db) for q in columns.found
        ],
        "c50_db": [(q.c50_db, q.c50_sigma_db) for q in columns.found],
        "speech_level_dba": [(q.speech_level_dba, q.speech_level_sigma_db) for q in columns.found],
    }
    return {
        name: (
            np.concatenate([value for value, _ in each], axis=1),
            np.concatenate([sigma for _, sigma in each], axis=1),
        )
        for name, each in pairs.items()
    }


def low_end(quantity: str, value: Array, sigma: Array) -> Array:
    """The 10 % point: what nine of ten such rooms reach. STI is never below 0."""
    end = value - tolerances.NORMAL_90 * sigma
    return np.maximum(end, 0.0) if quantity in SHARES else end


def spread_out(values: Array, inside: Mask) -> Array:
    """Values of the points inside on the whole grid, NaN elsewhere."""
    found = np.full(inside.shape, np.nan)
    found[inside] = values
    return found


@dataclass(frozen=True)
class SeatValue:
    """One quantity of one talking point, as in the seat ledger, and how it keeps its promise.

    ``state`` is that of this quantity alone, None where it is not promised.
    """

    value: float
    low: float
    state: State | None


def at_talkers(scene: Scene, evidence: Evidence) -> dict[str, dict[str, SeatValue]]:
    """Every quantity at every talking point of the ledger, by its id.

    Each talking point is taken in the facing and at the microphone that its row in the ledger
    has.
    """
    if not evidence.outbound:
        return {}
    columns = Columns(scene, evidence.microphones)
    each = _quantities(columns)
    ids = [m.id for m in evidence.microphones]
    found: dict[str, dict[str, SeatValue]] = {}
    for row in evidence.outbound:
        talker = scene.talkers.index(row.talker)
        at = next(
            i
            for i, (owner, facing) in enumerate(
                zip(scene.row_talker, scene.row_facing_deg, strict=True)
            )
            if owner == talker and facing == row.path.facing_deg
        )
        column = ids.index(row.path.microphone)
        found[row.talker.id] = {
            quantity: SeatValue(
                value=float(value[at, column]),
                low=float(low_end(quantity, value[at, column], sigma[at, column])),
                state=_state(evidence, row, quantity),
            )
            for quantity, (value, sigma) in each.items()
        }
    return found


def _state(evidence: Evidence, row: Outbound, quantity: str) -> State | None:
    if quantity not in SEAT_TARGETS:
        return None
    one = next(q for q in row.quantities if q.name == quantity)
    if one.target is None or one.chance is None:
        return None
    if one.value < one.target:
        return "broken"
    wanted = evidence.room.targets.chance
    return "at risk" if wanted is not None and one.chance < wanted else "kept"

"""Every way by which sound comes from one place to another in a room, surface by surface.

For explaining a prediction, and for trying it: the kernels follow the same images without a list.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from wellheard.acoustics.enclosure import CEILING, FIRST_WALL, FLOOR, Enclosure
from wellheard.acoustics.plan_tree import PlanTree, grow, stand
from wellheard.acoustics.reflection import (
    floor_and_ceiling_reflection,
    surface_reflection,
    wall_reflection,
)
from wellheard.arrays import Array


@dataclass(frozen=True, eq=False)
class Arrival:
    """One way from a source to a receiver by surfaces that reflect as mirrors do.

    Parameters
    ----------
    surfaces : tuple of int
        Surfaces of the enclosure that it meets, from the source on; none for the direct sound.
        A wall that is met first and last is the patch that is met, if it has one there.
    points : ndarray, shape (order, 3)
        Where it meets them. [m]
    image : ndarray, shape (3,)
        Where the receiver has the source. [m]
    length : float
        [m]
    energy : ndarray, shape (7,)
        Share that the surfaces reflect, Π (1 − α)(1 − s); neither distance nor air is in it.
    departure, arrival : ndarray, shape (3,)
        Unit vectors: from the source along the way, and from the receiver towards the image.
    """

    surfaces: tuple[int, ...]
    points: Array
    image: Array
    length: float
    energy: Array
    departure: Array
    arrival: Array

    @property
    def order(self) -> int:
        """How many surfaces it meets."""
        return len(self.surfaces)


@dataclass(frozen=True, eq=False)
class Arrivals:
    """All ways from a source to a receiver, the shortest first.

    Parameters
    ----------
    found : tuple of Arrival
    complete_to : float
        None that is shorter is missing. [m]
    """

    found: tuple[Arrival, ...]
    complete_to: float


@dataclass(frozen=True, eq=False)
class Storeys:
    """Images in floor and ceiling, J of them from low to high.

    Parameters
    ----------
    index : ndarray of int, shape (J,)
        Storeys above the room itself, which is 0.
    height : ndarray, shape (J,)
        Of the image. [m]
    """

    index: npt.NDArray[np.int64]
    height: Array

    @property
    def floor(self) -> npt.NDArray[np.int64]:
        """How often the floor is met, shape (J,)."""
        return (np.abs(self.index) + (self.index < 0)) // 2

    @property
    def ceiling(self) -> npt.NDArray[np.int64]:
        """How often the ceiling is met, shape (J,)."""
        return np.abs(self.index) - self.floor

    @property
    def upright(self) -> Array:
        """+1 where the image stands upright, −1 where it hangs upside down, shape (J,)."""
        return np.where(self.index % 2, -1.0, 1.0)


def storeys(enclosure: Enclosure, height: float, *, reach: float) -> Storeys:
    """Images of a point in floor and ceiling, all within reach of any point of the room.

    Parameters
    ----------
    enclosure : Enclosure
        The room.
    height : float
        Of the point above the floor. [m]
    reach : float
        [m]

    Returns
    -------
    Storeys

    References
    ----------
    .. [1] allen-berkley:1979, images between parallel walls.

    Examples
    --------
    >>> from wellheard.acoustics.enclosure import box
    >>> images = storeys(box((6.0, 5.0, 3.0), absorption=np.full(6, 0.2)), 1.0, reach=4.0)
    >>> images.height.tolist(), images.floor.tolist()
    ([-1.0, 1.0, 5.0], [1, 0, 0])
    """
    room = enclosure.height
    most = int(reach // room) + 2
    index = np.arange(-most, most + 1)
    images = np.where(index % 2 == 0, index * room + height, (index + 1) * room - height)
    near = (images > -reach) & (images < room + reach)
    return Storeys(index=index[near], height=images[near])


def arrivals(
    enclosure: Enclosure, source: Array, receiver: Array, *, limit_path: float
) -> Arrivals:
    """Every way from a source to a receiver up to a length, for any plan, boxes too.

    Parameters
    ----------
    enclosure : Enclosure
        Objects in it hide nothing.
    source, receiver : ndarray, shape (3,)
        In the room; one on a wall is taken a hair before it. [m]
    limit_path : float
        Length of the longest way. [m]

    Returns
    -------
    Arrivals

    Notes
    -----
    A way through a corner exactly is by one of its two walls. Walls count with the mean of all
    that is on them, but for ways by a single wall, which are weighed where they meet it.

    References
    ----------
    .. [1] allen-berkley:1979, image sources.
    .. [2] borish:1984, images in rooms of any shape, and when they are seen.

    Examples
    --------
    >>> from wellheard.acoustics.enclosure import box
    >>> room = box((6.0, 5.0, 3.0), absorption=np.full(6, 0.2))
    >>> ways = arrivals(room, np.array([1.0, 2, 1]), np.array([4.0, 2, 1]), limit_path=3.7)
    >>> [(tuple(room.names[s] for s in way.surfaces), round(way.length, 3)) for way in ways.found]
    [((), 3.0), (('floor',), 3.606)]
    """
    source, receiver = (np.asarray(point, dtype=np.float64) for point in (source, receiver))
    plan = stand(enclosure.walls, np.stack([source[:2], receiver[:2]]))
    tree = grow(enclosure.walls, plan[0], reach=limit_path)
    limit = min(limit_path, tree.complete_to)
    images = storeys(enclosure, float(source[2]), reach=limit)
    here = np.append(plan[1], receiver[2])
    own = surface_reflection(enclosure)
    own[[FLOOR, CEILING]] = floor_and_ceiling_reflection(enclosure)
    mean = np.concatenate([own[:FIRST_WALL], wall_reflection(enclosure)])
    found = []
    for beam in np.flatnonzero(tree.seen(plan[1])):
        run = math.hypot(*(tree.image[beam] - plan[1]))
        walls, turns = _folded(enclosure.walls, tree, plan[1], int(beam))
        for storey in np.flatnonzero(np.hypot(run, images.height - here[2]) <= limit):
            image = np.append(tree.image[beam], images.height[storey])
            surfaces, points = _met(
                enclosure, walls, turns, here[2], image[2], images.index[storey]
            )
            if len(surfaces) == len(walls) == 1:
                surfaces = (_surface_met(enclosure, walls[0], points[0]),)
            shares = own if len(surfaces) == 1 else mean
            length = math.dist(image, here)
            towards = (image - here) / max(length, 1e-300)
            away = -towards[:2] @ tree.turn[beam]
            found.append(
                Arrival(
                    surfaces,
                    points,
                    image,
                    length,
                    energy=shares[list(surfaces)].prod(axis=0),
                    departure=np.append(away, -towards[2] * images.upright[storey]),
                    arrival=towards,
                )
            )
    found.sort(key=lambda way: (way.length, way.surfaces))
    return Arrivals(found=tuple(found), complete_to=limit)


def _surface_met(enclosure: Enclosure, wall: int, point: Array) -> int:
    """Surface at a place on a wall: that of the patch there, else its own."""
    along = math.dist(point[:2], enclosure.walls[wall, :2])
    for patch in enclosure.patches:
        across = patch.wall == wall and patch.start <= along <= patch.end
        if across and patch.bottom <= point[2] <= patch.top:
            return patch.surface
    return FIRST_WALL + wall


def _met(
    enclosure: Enclosure, walls: list[int], turns: Array, low: float, high: float, index: int
) -> tuple[tuple[int, ...], Array]:
    """Surfaces that a way meets and where, from the source on.

    From the height of the receiver to that of the image in its storey, and in plan by the walls
    and turns that :func:`_folded` gives.
    """
    room, rise = enclosure.height, high - low
    levels = np.arange(1, index + 1) if index > 0 else np.arange(0, index, -1)
    shares = np.clip((levels * room - low) / rise, 0.0, 1.0) if rise else 0.5 + 0.0 * levels
    at_wall = low + turns[1:-1, 0] * rise
    # Heights of the unfolded way are those of the room, every other storey upside down.
    folded = np.abs((at_wall + room) % (2.0 * room) - room)
    plan = [np.interp(shares, turns[:, 0], turns[:, axis]) for axis in (1, 2)]
    points = np.concatenate(
        [
            np.column_stack([turns[1:-1, 1:], folded]),
            np.column_stack([*plan, levels % 2 * room]),
        ]
    )
    surfaces = [FIRST_WALL + wall for wall in walls]
    surfaces += [CEILING if level % 2 else FLOOR for level in levels]
    order = np.argsort(-np.concatenate([turns[1:-1, 0], shares]), kind="stable")
    return tuple(surfaces[i] for i in order), points[order]


def _folded(walls: Array, tree: PlanTree, here: Array, beam: int) -> tuple[list[int], Array]:
    """Walls from the receiver on, and rows of share of the way, x and y at both ends and at each.

    Leg by leg: from here towards an image as far as the wall that made it, from there towards the
    image before.
    """
    run = max(math.hypot(*(tree.image[beam] - here)), 1e-300)
    met, rows, gone = [], [[0.0, *here]], 0.0
    while tree.last[beam] >= 0:
        wall = int(tree.last[beam])
        start, along = walls[wall, :2], walls[wall, 2:] - walls[wall, :2]
        normal = np.array([-along[1], along[0]])
        from_here, behind = normal @ (here - start), normal @ (start - tree.image[beam])
        point = here + from_here / (from_here + behind) * (tree.image[beam] - here)
        gone += math.hypot(*(point - here))
        met.append(wall)
        rows.append([min(gone / run, 1.0), *point])
        here, beam = point, int(tree.parent[beam])
    rows.append([1.0, *tree.root])
    return met, np.array(rows)

"""Every mirror image of a point in the walls of a plan, and from where each is seen.

::

    ─────┬──────────────────┬─────  stop: the wall where the beam ends, and is mirrored next
          ╲                ╱
           ╲   a beam     ╱         seen from here, the root is at the image
            ╲            ╱
      ───────┴──────────┴───────    last: the wall that mirrored it last
              ╲        ╱
               ╲      ╱
                image
"""

from __future__ import annotations

import ctypes
import heapq
import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from wellheard.acoustics import compiled
from wellheard.arrays import Array
from wellheard.geometry.sight import off_walls

MOST_BEAMS = 20_000
"""A tree stops growing here, complete for all paths shorter than it then says."""

NARROW = 1e-12
"""Sine of the angle below which a beam is nothing."""

TOGETHER = 1e-9
"""Walls met within this are met at once. [m]"""

ASIDE = 1e-7 * np.array([math.cos(0.7548), math.sin(0.7548)])
"""All points are taken this far aside, in a direction that no wall has, so that no path meets a
corner exactly: it belongs to one of the two walls, the same from both ends. [m]"""

TIP = 1e-10 * np.array([math.cos(2.3256), math.sin(2.3256)])
"""Beams open this far beside their images, so that a place in line with an image and a corner is in
one beam: a microphone right above a talker, whose sound comes back from each corner of a box, and
to itself. [m]"""

Indices = npt.NDArray[np.int32]

_NUMBERS, _INDICES = compiled.array(np.float64), compiled.array(np.int32)
_TYPES = (
    *(_NUMBERS, ctypes.c_int32, _NUMBERS, _NUMBERS, ctypes.c_double, ctypes.c_int32),
    *(_NUMBERS, _NUMBERS, _INDICES, _INDICES, _INDICES, _NUMBERS, _NUMBERS),
    ctypes.POINTER(ctypes.c_double),
)


@dataclass(frozen=True, eq=False)
class PlanTree:
    """The mirror images of a root in a plan, N beams by rising distance of the beam before.

    Parameters
    ----------
    root : ndarray, shape (2,)
        [m]
    image : ndarray, shape (N, 2)
        Of the root, after all mirrorings. [m]
    turn : ndarray, shape (N, 2, 2)
        Directions at the root into those at the image; its transpose folds them back.
    parent : ndarray of int, shape (N,)
        The beam that was mirrored, −1 for those of the root itself.
    last, stop : ndarray of int, shape (N,)
        Walls: mirrored in last, −1 for none; where the beam ends.
    planes : ndarray, shape (N, 4, 3)
        The image is seen from x, y where a·x + b·y + c is at least 0 for all four.
    nearest : ndarray, shape (N,)
        Shortest way from the image to the wall where the beam ends. [m]
    complete_to : float
        No path shorter than this is missing. [m]
    """

    root: Array
    image: Array
    turn: Array
    parent: Indices
    last: Indices
    stop: Indices
    planes: Array
    nearest: Array
    complete_to: float

    def sequence(self, beam: int) -> tuple[int, ...]:
        """Walls that a path of this beam meets, from the root on."""
        walls: list[int] = []
        while self.last[beam] >= 0:
            walls.append(int(self.last[beam]))
            beam = int(self.parent[beam])
        return tuple(reversed(walls))

    def seen(self, points: Array) -> npt.NDArray[np.bool_]:
        """Whether the image of each beam is seen from points as :func:`stand` gives them.

        Parameters
        ----------
        points : ndarray, shape (..., 2)
            [m]

        Returns
        -------
        ndarray of bool, shape (..., N)
        """
        x, y = points[..., None, None, 0], points[..., None, None, 1]
        above = self.planes[..., 0] * x + self.planes[..., 1] * y + self.planes[..., 2]
        return np.asarray((above >= 0.0).all(axis=-1))


@dataclass(frozen=True, eq=False)
class _Beam:
    image: Array
    turn: Array
    parent: int
    last: int
    right: Array
    left: Array
    stop: int
    nearest: float


def stand(walls: Array, points: Array) -> Array:
    """Points as the tree takes them: off the walls, and in no line with anything.

    Parameters
    ----------
    walls : ndarray, shape (W, 4)
        x0, y0, x1, y1 with the room on their left. [m]
    points : ndarray, shape (..., 2)
        [m]

    Returns
    -------
    ndarray, shape (..., 2)
        [m]
    """
    return off_walls(walls, points) + ASIDE


def grow(walls: Array, root: Array, *, reach: float, most_beams: int = MOST_BEAMS) -> PlanTree:
    """Mirror a root in the walls of a plan, the nearest images first.

    Parameters
    ----------
    walls : ndarray, shape (W, 4)
        x0, y0, x1, y1 with the room on their left, rings of outline and columns. They may touch,
        not cross. [m]
    root : ndarray, shape (2,)
        As :func:`stand` gives it. From outside the room nothing is seen. [m]
    reach : float
        Length of the longest path that counts, on the plan. [m]
    most_beams : int
        Where the tree stops growing.

    Returns
    -------
    PlanTree

    Notes
    -----
    Each beam is split where corners part it, so that all of it goes on to one wall. No ray of a
    beam is hidden, and every ray of the root is in a beam: a point in a beam sees its image.

    References
    ----------
    .. [1] borish:1984, images in rooms of any shape, and when they are seen.

    Examples
    --------
    >>> square = np.array([[0.0, 0.0], [4.0, 0.0], [4.0, 4.0], [0.0, 4.0]])
    >>> walls = np.hstack([square, np.roll(square, -1, axis=0)])
    >>> tree = grow(walls, stand(walls, np.array([1.0, 2.0])), reach=1.5)
    >>> here = tree.seen(np.array([3.0, 1.0]))
    >>> [tree.sequence(beam) for beam in np.flatnonzero(here)]  # straight, and by the west wall
    [(), (3,)]
    """
    if compiled.function("plan_tree", _TYPES, ctypes.c_int32) is None:
        return _grow(walls, root, reach=reach, most_beams=most_beams)
    # Most trees are small, and memory for the largest costs more time than to grow them.
    tree = _grow_compiled(walls, root, reach, min(most_beams, 1000))
    if tree.complete_to < reach and most_beams > 1000:
        tree = _grow_compiled(walls, root, reach, most_beams)
    return tree


def _grow_compiled(walls: Array, root: Array, reach: float, most_beams: int) -> PlanTree:
    kernel = compiled.function("plan_tree", _TYPES, ctypes.c_int32)
    assert kernel is not None
    walls, root = (np.ascontiguousarray(each, dtype=np.float64) for each in (walls, root))
    room = most_beams + len(walls) + 1
    image, turn = np.empty((room, 2)), np.empty((room, 2, 2))
    planes, nearest = np.empty((room, 4, 3)), np.empty(room)
    parent, last, stop = (np.empty(room, dtype=np.int32) for _ in range(3))
    complete_to = ctypes.c_double()
    rows = (image, turn, parent, last, stop, planes, nearest)
    count = kernel(
        walls, len(walls), root, TIP, reach, most_beams, *rows, ctypes.byref(complete_to)
    )
    if count < 0:
        raise MemoryError(f"no memory for the images of a plan of {len(walls)} walls")
    return PlanTree(
        root=root,
        image=image[:count].copy(),
        turn=turn[:count].copy(),
        parent=parent[:count].copy(),
        last=last[:count].copy(),
        stop=stop[:count].copy(),
        planes=planes[:count].copy(),
        nearest=nearest[:count].copy(),
        complete_to=complete_to.value,
    )


def _grow(walls: Array, root: Array, *, reach: float, most_beams: int) -> PlanTree:
    """Grow the tree with numpy."""
    beams: list[_Beam] = []
    heap: list[tuple[float, int]] = []

    def add(image: Array, turn: Array, parent: int, last: int, edges: list[Array]) -> None:
        for right, left, stop in _parts(walls, image, last, edges):
            nearest = _distance_to_stop(walls[stop], image, right, left)
            heapq.heappush(heap, (nearest, len(beams)))
            beams.append(_Beam(image, turn, parent, last, right, left, stop, nearest))

    add(root, np.eye(2), -1, -1, [])
    complete_to = reach
    while heap and heap[0][0] <= reach:
        if len(beams) >= most_beams:
            complete_to = heap[0][0]
            break
        index = heapq.heappop(heap)[1]
        beam = beams[index]
        flip, image = _mirror(walls[beam.stop], beam.image)
        # What was left is right behind a mirror.
        edges = [flip @ beam.left, flip @ beam.right]
        add(image, flip @ beam.turn, index, beam.stop, edges)
    return _tree(walls, root, beams, complete_to)


def _parts(
    walls: Array, image: Array, last: int, edges: list[Array]
) -> list[tuple[Array, Array, int]]:
    """Parts of a beam by the wall that each meets next: right edge, left edge, wall."""
    ways = walls[:, :2] - image
    distance = np.hypot(ways[:, 0], ways[:, 1])
    useful = distance > TOGETHER
    first = edges[0] if edges else np.array([1.0, 0.0])
    if edges:
        useful &= _cross(edges[0], ways) > NARROW * distance
        useful &= _cross(ways, edges[1]) > NARROW * distance
        useful &= _height(walls[last], walls[:, :2]) > -TOGETHER
    corners = ways[useful] / distance[useful, None]
    corners = corners[np.argsort(_turned(first, corners), kind="stable")]
    bounds = [*edges[:1], *corners, *edges[1:]] if edges else [*corners, *corners[:1]]
    parts: list[tuple[Array, Array, int]] = []
    right = bounds[0] if bounds else first
    for left in bounds[1:]:
        if _cross(right, left) <= NARROW:
            continue
        stop = _next_wall(walls, image, last, right + left)
        if stop >= 0 and parts and parts[-1][2] == stop and parts[-1][1] is right:
            parts[-1] = (parts[-1][0], left, stop)
        elif stop >= 0:
            parts.append((right, left, stop))
        right = left
    return parts


def _next_wall(walls: Array, image: Array, last: int, way: Array) -> int:
    """Wall whose room side a ray from the image meets first past the last one, or −1."""
    start, end = walls[:, :2] - image, walls[:, 2:] - image
    at_start, at_end = _cross(way, start), _cross(way, end)
    # In units of `way`; walls of the other kind of crossing turn their back on the ray.
    with np.errstate(divide="ignore", invalid="ignore"):
        distance = _cross(start, end) / (at_end - at_start)
    scale = float(np.hypot(*way))
    beyond = -np.inf if last < 0 else float(distance[last])
    met = distance > max(beyond, 0.0) + TOGETHER / scale
    front = np.where(met & (at_start <= 0.0) & (at_end > 0.0), distance, np.inf)
    back = np.where(met & (at_start > 0.0) & (at_end <= 0.0), distance, np.inf)
    nearest = int(np.argmin(front))
    hidden = front[nearest] == np.inf or back.min() < front[nearest] - TOGETHER / scale
    return -1 if hidden else nearest


def _distance_to_stop(wall: Array, image: Array, right: Array, left: Array) -> float:
    """Shortest way from an image to the part of a wall between two edges."""
    start, along = wall[:2] - image, wall[2:] - wall[:2]
    shares = []
    for edge, when_along in ((right, 0.0), (left, 1.0)):
        slope = float(_cross(edge, along))
        share = -float(_cross(edge, start)) / slope if slope > 0.0 else when_along
        shares.append(min(max(share, 0.0), 1.0))
    foot = -float(start @ along) / max(float(along @ along), 1e-300)
    nearest = min(max(foot, shares[0]), shares[1])
    return math.hypot(*(start + nearest * along))


def _mirror(wall: Array, image: Array) -> tuple[Array, Array]:
    """Matrix of a mirroring, and the image of an image."""
    along = (wall[2:] - wall[:2]) / math.hypot(*(wall[2:] - wall[:2]))
    flip = 2.0 * np.outer(along, along) - np.eye(2)
    return flip, wall[:2] + flip @ (image - wall[:2])


def _tree(walls: Array, root: Array, beams: list[_Beam], complete_to: float) -> PlanTree:
    count = len(beams)
    planes = np.zeros((count, 4, 3))
    image = np.array([beam.image for beam in beams]).reshape(count, 2)
    last = np.array([beam.last for beam in beams], dtype=np.int32)
    stop = np.array([beam.stop for beam in beams], dtype=np.int32)
    along = walls[:, 2:] - walls[:, :2]
    along /= np.maximum(np.hypot(along[:, 0], along[:, 1]), 1e-300)[:, None]
    for row, (way, point) in enumerate(
        (
            (np.array([beam.right for beam in beams]).reshape(count, 2), image + TIP),
            (-np.array([beam.left for beam in beams]).reshape(count, 2), image + TIP),
            (np.where(last[:, None] >= 0, along[last], 0.0), walls[last, :2]),
            (along[stop], walls[stop, :2]),
        )
    ):
        planes[:, row, 0], planes[:, row, 1] = -way[:, 1], way[:, 0]
        planes[:, row, 2] = -_cross(way, point)
    return PlanTree(
        root=root,
        image=image,
        turn=np.array([beam.turn for beam in beams]).reshape(count, 2, 2),
        parent=np.array([beam.parent for beam in beams], dtype=np.int32),
        last=last,
        stop=stop,
        planes=planes,
        nearest=np.array([beam.nearest for beam in beams]),
        complete_to=complete_to,
    )


def _turned(first: Array, ways: Array) -> Array:
    """Grows with the angle from the first way, 0 to 4 for a full turn; no angle is taken."""
    x, y = ways @ first, _cross(first, ways)
    share = x / np.maximum(np.abs(x) + np.abs(y), 1e-300)
    return np.where(y >= 0.0, 1.0 - share, 3.0 + share)


def _height(wall: Array, points: Array) -> Array:
    """Of points in front of a wall [m]."""
    along = wall[2:] - wall[:2]
    return _cross(along, points - wall[:2]) / math.hypot(*along)


def _cross(u: Array, v: Array) -> Array:
    return np.asarray(u[..., 0] * v[..., 1] - u[..., 1] * v[..., 0])

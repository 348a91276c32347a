"""What hangs below the ceiling, and what it must not stand in: beams, faces, another grid."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wellheard.arrays import Array
from wellheard.geometry import centroid, distance_outside
from wellheard.geometry.polygons import TOUCH
from wellheard.geometry.solids import Cylinder, Pyramid
from wellheard.predict.evidence import Point, Talker
from wellheard.predict.talkers import display_place
from wellheard.room.document import Room

ROD = 0.005
"""Radius taken for the rod or cable of a hanging device. [m]"""


@dataclass(frozen=True)
class Hung:
    """A device that hangs, and what holds it up to the ceiling."""

    id: str
    body: Cylinder
    rod: Cylinder


def hung_at(
    name: str, at: Point, size: tuple[float, float, float], *, height: float
) -> Hung | None:
    """A device below a ceiling so high; None for one that is flush in it or against it. [m]"""
    half = size[2] / 2
    if height - at[2] <= half + TOUCH:
        return None
    top = at[2] + half
    rod = Cylinder((at[0], at[1], (top + height) / 2), ROD, (height - top) / 2)
    return Hung(name, Cylinder(at, max(size[:2]) / 2, half), rod)


@dataclass(frozen=True)
class Beam:
    """The light from a projector to the four corners of its screen.

    ``path`` is that of the projector in the document, ``screen`` the id of what it lights.
    """

    path: str
    screen: str
    light: Pyramid

    @property
    def projector(self) -> str:
        """Its id."""
        return self.path.rpartition(".")[2]


def projectors(room: Room) -> dict[str, Array]:
    """Lens of every projector, by its path in the document. [m]"""
    found = {
        f"noise.sources.{name}": np.asarray(source.at, dtype=np.float64)
        for name, source in room.noise.sources.items()
        if source.kind == "projector"
    }
    stated = np.array([lens[:2] for lens in found.values()]).reshape(-1, 2)
    for name, item in room.overhead.items():
        if item.kind != "projector":
            continue
        outline = np.asarray(item.outline, dtype=np.float64)
        if np.any(distance_outside(outline, stated) <= TOUCH):
            continue
        middle = centroid(outline)
        bottom = room.space.height if item.bottom is None else item.bottom
        found[f"overhead.{name}"] = np.array([middle[0], middle[1], bottom])
    return found


def beams(room: Room) -> tuple[Beam, ...]:
    """The beam of every projector to the screen nearest to it; none where there is no screen."""
    screens = {
        name: np.asarray(display_place(room, name))
        for name, item in room.furniture.items()
        if item.kind == "screen"
    }
    if not screens:
        return ()
    found = []
    for path, lens in projectors(room).items():
        screen = min(screens, key=lambda one: float(np.linalg.norm(screens[one] - lens)))
        found.append(Beam(path, screen, Pyramid.over(lens, _corners(room, screen))))
    return tuple(found)


def _corners(room: Room, name: str) -> Array:
    """Corners of a screen in order round it, shape (4, 3). [m]"""
    item = room.furniture[name]
    assert item.kind == "screen"
    start, end = (np.asarray(corner) for corner in room.space.wall_ends(item.wall))
    along = np.append((end - start) / np.linalg.norm(end - start), 0.0) * item.size[0] / 2
    up = np.array([0.0, 0.0, item.size[1] / 2])
    middle = np.asarray(display_place(room, name))
    return np.stack(
        [middle - along - up, middle + along - up, middle + along + up, middle - along + up]
    )


def cameras(room: Room) -> dict[str, Array]:
    """Lens of every camera, by its id. [m]"""
    return {
        name: np.asarray(item.at, dtype=np.float64)
        for name, item in room.equipment.items()
        if item.kind == "camera"
    }


def faces(talkers: Sequence[Talker]) -> Array:
    """Where the mouths are, shape (talkers, 3). [m]"""
    return np.array([one.at for one in talkers]).reshape(-1, 3)

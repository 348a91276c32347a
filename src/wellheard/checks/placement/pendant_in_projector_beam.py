"""Nothing that hangs throws its shadow on the picture."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from wellheard.arrays import Array
from wellheard.checks.hanging import Cylinder, hung
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.separation import TOUCH, plan_distance
from wellheard.checks.wording import length
from wellheard.geometry import centroid
from wellheard.predict.evidence import Evidence
from wellheard.predict.talkers import display_place
from wellheard.room.document import Room

CODE = "pendant-in-projector-beam"


@rule(CODE, "warning", strength="house", cites="common practice, no source [C]")
def pendant_in_projector_beam(evidence: Evidence) -> Iterator[Draft]:
    """No hanging device stands in a projector's beam.

    The beam is the pyramid from the projector to the four corners of the nearest screen. A
    projector is a noise source of that kind, whose place counts as its lens, or an `overhead` of
    that kind, whose lens is taken in the middle of its underside. The housing and the rod or
    cable above it must both stay out. A hanging device with a projector and no screen is not
    assessed.
    """
    lenses = projectors(evidence.room)
    things = hung(evidence) if lenses else ()
    if not things:
        return
    screens = {
        name: np.asarray(display_place(evidence.room, name))
        for name, item in evidence.room.furniture.items()
        if item.kind == "screen"
    }
    for path, lens in lenses.items():
        name = path.rpartition(".")[2]
        if not screens:
            yield Draft(
                at=path,
                message=(
                    f"No screen says where {name} throws its picture: whether what hangs stands in "
                    "its beam is not assessed."
                ),
                remedy="Enter the projected picture under furniture, kind screen.",
                severity="note",
                status="not-assessed",
            )
            continue
        screen = min(screens, key=lambda one: float(np.linalg.norm(screens[one] - lens)))
        corners = _corners(evidence.room, screen)
        for thing in things:
            depth = depth_in_pyramid(thing.body, lens, corners)
            part = thing.id
            if depth <= TOUCH:
                depth = depth_in_pyramid(thing.rod, lens, corners)
                part = f"The rod or cable of {thing.id}"
            if depth <= TOUCH:
                continue
            yield Draft(
                at=f"devices.{thing.id}",
                message=(
                    f"{part} reaches {length(evidence, depth)} into the beam from {name} to "
                    f"{screen}; nothing may stand in it."
                ),
                value=depth,
                limit=0.0,
                unit="m",
                remedy=(
                    f"Move {thing.id} by {length(evidence, depth)} or more out of the beam, or "
                    "hang it behind the projector."
                ),
            )


def projectors(room: Room) -> dict[str, Array]:
    """Lens of every projector, by its path in the document. [m]"""
    found = {
        f"noise.sources.{name}": np.asarray(source.at, dtype=np.float64)
        for name, source in room.noise.sources.items()
        if source.kind == "projector"
    }
    stated = list(found.values())
    for name, item in room.overhead.items():
        if item.kind != "projector" or any(
            plan_distance((*lens[:2], 0.0), item.outline) <= TOUCH for lens in stated
        ):
            continue
        middle = centroid(np.asarray(item.outline, dtype=np.float64))
        bottom = room.space.height if item.bottom is None else item.bottom
        found[f"overhead.{name}"] = np.array([middle[0], middle[1], bottom])
    return found


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


def depth_in_pyramid(thing: Cylinder, apex: Array, base: Array) -> float:
    """How far a cylinder reaches in past the nearest side of a pyramid; 0 or less is outside. [m]

    Held against each plane by itself, so that one just off an edge counts as inside by up to
    0.4 of its radius.

    Examples
    --------
    >>> base = np.array([[4.0, -1, -1], [4.0, 1, -1], [4.0, 1, 1], [4.0, -1, 1]])
    >>> ball = Cylinder((2.0, 0.0, 0.0), radius=0.1, half=0.1)
    >>> round(depth_in_pyramid(ball, np.zeros(3), base), 2)  # 2 / √17 to a side, and its reach
    0.59
    """
    axis = base.mean(axis=0) - apex
    sides = np.cross(base - apex, np.roll(base, -1, axis=0) - apex)
    back = np.cross(base[1] - base[0], base[2] - base[1])
    normals = np.concatenate([sides, [back, axis]])
    inwards = np.concatenate([np.sign(sides @ axis), [-np.sign(back @ axis), 1.0]])
    lengths = np.linalg.norm(normals, axis=1)
    if not np.all(lengths * np.abs(inwards) > 1e-9):
        return 0.0  # The lens is in the plane of the screen: it lights nothing.
    normals = normals * (inwards / lengths)[:, None]
    origins = np.stack([apex, apex, apex, apex, base[0], apex])
    inside = ((np.asarray(thing.middle) - origins) * normals).sum(axis=1) + thing.reach(normals)
    if inside.min() <= 0:
        return 0.0
    return float(inside[:4].min())

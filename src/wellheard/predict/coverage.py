"""A promised quantity over the plan: what a talker at any point would get."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wellheard.arrays import Array, Mask
from wellheard.geometry.points import contains_points
from wellheard.predict import outbound
from wellheard.predict.evidence import Evidence
from wellheard.predict.ledger import Columns
from wellheard.predict.scene import Scene
from wellheard.predict.talkers import azimuth_vectors, facings_deg

QUANTITIES = ("direct_to_reverberant_db", "sti_outbound", "speech_to_noise_db")


@dataclass(frozen=True)
class Coverage:
    """Values of one quantity on a regular grid; NaN outside the room."""

    quantity: str
    x: Array
    y: Array
    values: Array
    """Shape (y, x)."""
    height: float
    facing: str


def coverage(
    scene: Scene, evidence: Evidence, *, quantity: str, spacing: float | None = None
) -> Coverage:
    """Middle values of a quantity for a seated talker anywhere in the room.

    Parameters
    ----------
    scene : Scene
        The room.
    evidence : Evidence
        Of the same document, with microphones.
    quantity : str
        One of ``QUANTITIES``.
    spacing : float, optional
        Of the grid; by default about 60 points along the longer side. [m]

    Notes
    -----
    The talker sits at 1.2 m and faces the worst of the facing words that seats of the document
    use (across where none does); the microphone with the best margin serves. The grid reaches
    one step beyond the outline, so that contours can be cut at the walls.
    """
    if quantity not in QUANTITIES:
        raise ValueError(f"quantity {quantity!r}; one of {', '.join(QUANTITIES)} is allowed")
    outline = np.asarray(scene.room.space.outline, dtype=np.float64)
    low, high = outline.min(axis=0), outline.max(axis=0)
    step = spacing or float(max(high - low)) / 60
    x = np.arange(low[0] - step, high[0] + 1.5 * step, step)
    y = np.arange(low[1] - step, high[1] + 1.5 * step, step)
    grid_x, grid_y = np.meshgrid(x, y)
    plan = np.stack([grid_x.ravel(), grid_y.ravel()], axis=-1)
    words = _facing_words(scene)
    rows = [
        (point, azimuth)
        for point, at in enumerate(plan)
        for azimuth in facings_deg(scene.room, (float(at[0]), float(at[1])), words)
    ]
    owner = np.array([p for p, _ in rows])
    asked = _with_mouths(scene, plan[owner], [a for _, a in rows])
    columns = Columns(
        asked,
        evidence.microphones,
        open_count=outbound.open_microphones(len(evidence.microphones)),
    )
    each = np.stack([_pick(found, quantity)[:, 0] for found in columns.found], axis=1)
    heard = each[np.arange(len(rows)), columns.best]
    values = np.full(len(plan), np.inf)
    np.minimum.at(values, owner, heard)
    return Coverage(
        quantity=quantity,
        x=x,
        y=y,
        values=values.reshape(grid_x.shape),
        height=SEATED,
        facing=" and ".join(words),
    )


SEATED = 1.2
"""Mouth height of the talker on a map [m]."""


def inside(scene: Scene, cover: Coverage) -> Mask:
    """Which points of the grid lie in the room, shape (y, x)."""
    outline = np.asarray(scene.room.space.outline, dtype=np.float64)
    grid_x, grid_y = np.meshgrid(cover.x, cover.y)
    return contains_points(outline, np.stack([grid_x, grid_y], axis=-1).reshape(-1, 2)).reshape(
        grid_x.shape
    )


def _facing_words(scene: Scene) -> tuple[str, ...]:
    used = {
        word
        for seat in scene.room.people.seats.values()
        for word in seat.facing
        if isinstance(word, str)
    }
    return tuple(sorted(used)) or ("across",)


def _with_mouths(scene: Scene, plan: Array, azimuths: list[float]) -> Scene:
    from dataclasses import replace

    mouths = np.column_stack([plan, np.full(len(plan), SEATED)])
    return replace(scene, mouths=mouths, facing=azimuth_vectors(azimuths))


def _pick(found: outbound.Quantities, quantity: str) -> Array:
    if quantity == "sti_outbound":
        return found.sti
    if quantity == "direct_to_reverberant_db":
        return found.direct_to_reverberant_db
    return found.speech_to_noise_db

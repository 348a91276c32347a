"""A promised quantity over the plan: what a talker at any point would get."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from wellheard.arrays import Array, Mask
from wellheard.geometry.points import contains_points
from wellheard.predict import outbound
from wellheard.predict.evidence import Evidence
from wellheard.predict.ledger import Columns
from wellheard.predict.scene import Scene
from wellheard.predict.talkers import azimuth_vectors, azimuths_deg

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
    scene: Scene, evidence: Evidence, *, spacing: float | None = None
) -> dict[str, Coverage]:
    """Middle values of every seat quantity for a seated talker anywhere in the room.

    Parameters
    ----------
    scene : Scene
        The room.
    evidence : Evidence
        Of the same document, with microphones.
    spacing : float, optional
        Of the grid; by default about 60 points along the longer side. [m]

    Returns
    -------
    dict of str to Coverage
        By the names of ``QUANTITIES``.

    Notes
    -----
    The talker sits at 1.2 m and faces each of the facing words that seats of the document use
    (across where none does); the worst counts, each quantity for itself. The microphone with the
    best margin serves. The grid reaches one step beyond the outline, so that contours can be cut
    at the walls.
    """
    outline = np.asarray(scene.room.space.outline, dtype=np.float64)
    low, high = outline.min(axis=0), outline.max(axis=0)
    step = spacing or float(max(high - low)) / 60
    x = np.arange(low[0] - step, high[0] + 1.5 * step, step)
    y = np.arange(low[1] - step, high[1] + 1.5 * step, step)
    grid_x, grid_y = np.meshgrid(x, y)
    plan = np.stack([grid_x.ravel(), grid_y.ravel()], axis=-1)
    words = _facing_words(scene)
    azimuths = azimuths_deg(scene.room, plan, words)
    asked = replace(
        scene,
        mouths=np.column_stack([plan, np.full(len(plan), SEATED)]).repeat(len(words), axis=0),
        facing=azimuth_vectors(azimuths.ravel()),
    )
    columns = Columns(
        asked,
        evidence.microphones,
        open_count=outbound.open_microphones(len(evidence.microphones)),
    )
    found: dict[str, Coverage] = {}
    for quantity in QUANTITIES:
        each = np.stack([_pick(one, quantity)[:, 0] for one in columns.found], axis=1)
        heard = each[np.arange(len(each)), columns.best].reshape(len(plan), len(words))
        found[quantity] = Coverage(
            quantity=quantity,
            x=x,
            y=y,
            values=heard.min(axis=1).reshape(grid_x.shape),
            height=SEATED,
            facing=" and ".join(words),
        )
    return found


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


def _pick(found: outbound.Quantities, quantity: str) -> Array:
    if quantity == "sti_outbound":
        return found.sti
    if quantity == "direct_to_reverberant_db":
        return found.direct_to_reverberant_db
    return found.speech_to_noise_db

"""Random rooms for comparisons: all invented, of the sizes that people meet in."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wellheard.acoustics.enclosure import Enclosure, box
from wellheard.arrays import Array
from wellheard.geometry.points import contains_points

HARD, SOFT = (0.10, 0.35), (0.30, 0.70)
"""Absorption of walls and floor, and of the ceiling, as it is drawn; every octave for itself."""


@dataclass(frozen=True, eq=False)
class Drawn:
    """A room with talkers and microphones.

    Parameters
    ----------
    enclosure : Enclosure
    sources : ndarray, shape (R, 3)
        At the height of mouths. [m]
    microphones : ndarray, shape (M, 3)
        Anywhere above tables. [m]
    """

    enclosure: Enclosure
    sources: Array
    microphones: Array


def random_box(
    seed: int, *, sources: int, microphones: int, scattering: float = 0.0, soft: bool = True
) -> Drawn:
    """A box of 3.5–10 by 3–8 by 2.4–3.6 m, its ceiling softer than the rest if ``soft``."""
    rng = np.random.default_rng(seed)
    size = rng.uniform([3.5, 3.0, 2.4], [10.0, 8.0, 3.6])
    absorption = rng.uniform(*HARD, (6, 7))
    if soft:
        absorption[1] = rng.uniform(*SOFT, 7)
    made = box((size[0], size[1], size[2]), absorption=absorption, scattering=scattering)
    margin = np.array([0.4, 0.4, 0.0])
    return Drawn(
        enclosure=made,
        sources=rng.uniform([0.4, 0.4, 1.1], [*(size - margin)[:2], 1.7], (sources, 3)),
        microphones=rng.uniform([0.4, 0.4, 0.8], size - margin - [0, 0, 0.1], (microphones, 3)),
    )


def random_l_shape(seed: int, *, sources: int, microphones: int, scattering: float = 0.0) -> Drawn:
    """A box of 6–11 by 5–9 m with a corner of a third to two thirds of each side cut out."""
    rng = np.random.default_rng(seed)
    length, width, height = rng.uniform([6.0, 5.0, 2.4], [11.0, 9.0, 3.4])
    kept_length, kept_width = rng.uniform(1 / 3, 2 / 3, 2) * [length, width]
    outline = np.array(
        [
            [0.0, 0.0],
            [length, 0.0],
            [length, kept_width],
            [kept_length, kept_width],
            [kept_length, width],
            [0.0, width],
        ]
    )
    walls = tuple(f"wall-{n}" for n in range(6))
    made = Enclosure(
        outline=outline,
        columns=(),
        height=float(height),
        names=("floor", "ceiling", *walls),
        absorption=rng.uniform(*HARD, (8, 7)),
        scattering=np.full(8, scattering),
    )
    return Drawn(
        enclosure=made,
        sources=_inside(made, rng, sources, (1.1, 1.7)),
        microphones=_inside(made, rng, microphones, (0.8, made.height - 0.1)),
    )


def _inside(
    enclosure: Enclosure, rng: np.random.Generator, count: int, heights: tuple[float, float]
) -> Array:
    corner = enclosure.outline.max(axis=0)
    found: list[Array] = []
    while len(found) < count:
        plan = rng.uniform(0.0, corner)
        beside = np.array([plan + step for step in ([0.3, 0], [-0.3, 0], [0, 0.3], [0, -0.3])])
        if np.all(contains_points(enclosure.outline, beside)):
            found.append(np.array([*plan, rng.uniform(*heights)]))
    return np.array(found)

"""Which places cannot both be taken, whoever talks."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from wellheard.arrays import Array, Mask
from wellheard.geometry.overlap import depth_of_overlap
from wellheard.geometry.polygons import TOUCH
from wellheard.place.places import Candidate
from wellheard.predict.housings import Box, microphone_box

CLASH = 0.5
"""Two new microphones never stand closer than this on the plan [m]."""


def on_its_own(candidate: Candidate) -> bool:
    """Whether it is the sound device of a computer all by itself.

    A computer uses one such device at a time, and no processor takes what it hears: it is alone
    in its space, or there is none.
    """
    built_in = candidate.product.built_in
    return built_in is not None and built_in.usb


def too_near(candidates: Sequence[Candidate]) -> Mask:
    """Pairs nearer than half a metre on the plan, shape (candidates, candidates)."""
    return _plan_distances(candidates) < CLASH - 1e-9


def apart_otherwise(
    candidates: Sequence[Candidate], *, loudspeaker: float | None, overlap: float | None
) -> Mask | None:
    """Pairs that exclude each other for another reason than half a metre on the plan.

    Parameters
    ----------
    candidates : sequence of Candidate
        Places, each with its product.
    loudspeaker : float or None
        Distance that a microphone keeps from a combined device, which plays; None where the
        rule is relaxed. [m]
    overlap : float or None
        Depth that two housings may share; None where the rule is relaxed. [m]

    Returns
    -------
    ndarray of bool, shape (candidates, candidates), or None
        None where there is no such pair.
    """
    found = np.zeros((len(candidates),) * 2, dtype=np.bool_)
    combined = np.flatnonzero([c.product.combined for c in candidates])
    if loudspeaker is not None and len(combined):
        place = np.array([c.at for c in candidates])
        apart = np.linalg.norm(place[combined, None] - place[None], axis=-1)
        found[combined] |= apart < loudspeaker - 1e-9
    alone = np.array([on_its_own(c) for c in candidates], dtype=np.bool_)
    found[alone] = True
    if overlap is not None:
        for one, other in _sharing(candidates, overlap):
            found[one, other] = True
    found |= found.T
    np.fill_diagonal(found, False)
    return found if bool(found.any()) else None


def _sharing(candidates: Sequence[Candidate], overlap: float) -> list[tuple[int, int]]:
    """Pairs half a metre apart or more whose housings reach into each other all the same."""
    reach = np.array([math.hypot(*c.product.size[:2]) / 2 for c in candidates])
    if not len(candidates) or 2 * reach.max() <= CLASH:
        return []
    distance = _plan_distances(candidates)
    meet = (distance >= CLASH - 1e-9) & (distance < reach[:, None] + reach[None])
    pairs = [(int(a), int(b)) for a, b in np.argwhere(np.triu(meet, k=1))]
    boxes = {i: _box(candidates[i]) for i in {i for pair in pairs for i in pair}}
    ones, others = [boxes[a] for a, _ in pairs], [boxes[b] for _, b in pairs]
    if not pairs:
        return []
    over = [min(a.top, b.top) - max(a.bottom, b.bottom) for a, b in zip(ones, others, strict=True)]
    aside = depth_of_overlap(
        np.stack([one.corners for one in ones]), np.stack([other.corners for other in others])
    )
    deep = np.minimum(over, aside) > overlap + TOUCH
    return [pair for pair, shared in zip(pairs, deep.tolist(), strict=True) if shared]


def _box(c: Candidate) -> Box:
    return microphone_box("", c.product, c.at, aim_deg=c.aim_deg, mounting=c.mounting)


def _plan_distances(candidates: Sequence[Candidate]) -> Array:
    at = np.array([c.at[:2] for c in candidates]).reshape(-1, 2)
    x, y = at.T
    return np.asarray(np.hypot(x[:, None] - x[None], y[:, None] - y[None]))

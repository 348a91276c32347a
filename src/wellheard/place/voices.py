"""From where the far end is heard: how many ears hear it away from their picture."""

from __future__ import annotations

import math

import numpy as np

from wellheard.arrays import Array
from wellheard.place.audience import Audience
from wellheard.place.objective import Index
from wellheard.predict import listening
from wellheard.predict.inbound import PRECEDENCE_DB, SUMMED
from wellheard.predict.talkers import display_place

CODE = "voice-not-from-picture"

AT_ONCE = 4000
"""Choices that are worked out side by side."""


class Voices:
    """The ears of one space, the pictures that they see, and when what arrives where."""

    def __init__(self, audience: Audience) -> None:
        scene = audience.scene
        room = scene.room
        self.audience = audience
        self.limit = room.targets.house_limit(CODE)
        pictures = [
            (np.asarray(display_place(room, name)), item.size[0])
            for name, item in room.furniture.items()
            if item.kind in ("display", "screen")
        ]
        ears = np.array([one.at for one in scene.talkers]).reshape(-1, 3)
        self.asked = [
            ear
            for ear in range(len(ears))
            if pictures and all(math.dist(ears[ear], at) >= wide for at, wide in pictures)
        ]
        self.judges = self.limit is not None and bool(self.asked)
        if not self.judges:
            return
        ears = ears[self.asked]
        at = np.array([one.at for one in audience.sources]).reshape(-1, 3)
        delay = np.array([one.delay for one in audience.sources])
        heard = audience.heard
        self.time = delay[:, None] + heard.distance[:, self.asked] / scene.propagation.speed
        trim = np.array([one.trim_db for one in audience.sources])
        self.level = listening.direct_dba(heard.direct[:, self.asked]) + trim[:, None]
        self.way = _unit(at[:, None] - ears[None])
        near = np.array(
            [min((p for p, _ in pictures), key=lambda p: math.dist(e, p)) for e in ears]
        )
        self.picture = _unit(near - ears)

    def away(self, choices: Index) -> Index:
        """Number of ears that hear each choice away from their picture.

        Parameters
        ----------
        choices : ndarray of int, shape (n, members)
            Candidates; −1 for none.
        """
        found = np.zeros(len(choices), dtype=np.intp)
        if not self.judges:
            return found
        owner = self.audience.owner
        always = np.flatnonzero(owner < 0)
        most = max((int(np.sum(owner == i)) for i in np.unique(choices) if i >= 0), default=1)
        own = np.full((self.audience.count + 1, most), -1, dtype=np.intp)
        for i in np.unique(choices):
            if i >= 0:
                mine = np.flatnonzero(owner == i)
                own[i, : len(mine)] = mine
        for start in range(0, len(choices), AT_ONCE):
            part = choices[start : start + AT_ONCE]
            sources = own[part].reshape(len(part), -1)
            sources = np.concatenate(
                [sources, np.broadcast_to(always, (len(part), len(always)))], axis=1
            )
            found[start : start + AT_ONCE] = self._away(sources)
        return found

    def _away(self, sources: Index) -> Index:
        """The same of sources, shape (n, sources); −1 for none."""
        silent = (sources < 0)[..., None]
        time = np.where(silent, np.inf, self.time[sources])
        level = np.where(silent, -np.inf, self.level[sources])
        order = np.argsort(time, axis=1, kind="stable")
        time = np.take_along_axis(time, order, axis=1)
        level = np.take_along_axis(level, order, axis=1)
        way = np.take_along_axis(self.way[sources], order[..., None], axis=1)
        when, loud = time[:, 0], level[:, 0]
        for i in range(1, time.shape[1]):
            takes_over = level[:, i] >= loud + PRECEDENCE_DB
            when = np.where(takes_over, time[:, i], when)
            loud = np.where(takes_over, level[:, i], loud)
        with np.errstate(invalid="ignore"):
            joined = np.abs(time - when[:, None]) <= SUMMED
            pressure = np.where(joined, 10 ** ((level - loud[:, None]) / 20), 0.0)
        voice = _unit((pressure[..., None] * way).sum(axis=1))
        cosine = np.clip((voice * self.picture).sum(axis=-1), -1.0, 1.0)
        assert self.limit is not None
        return np.sum(np.degrees(np.arccos(cosine)) > self.limit, axis=1)


def _unit(way: Array) -> Array:
    length = np.linalg.norm(way, axis=-1, keepdims=True)
    return np.asarray(way / np.maximum(length, 1e-9))

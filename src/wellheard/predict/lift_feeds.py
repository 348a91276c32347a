"""Which microphone's voices are sent to which loudspeaker, and how loud.

::

      ▽ l1      ▽ l2      ▽ l3        zone-minus: m1 is sent to l2 and l3, m2 to l1 and l3,
      ●         ●         ●           m3 to l1 and l2: nobody's own voice comes down on them
     m1        m2        m3
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from wellheard.acoustics.levels import energy
from wellheard.arrays import Array, Mask
from wellheard.predict.evidence import Outbound, PlacedMicrophone
from wellheard.predict.scene import Scene
from wellheard.predict.wayback import OverHead, PlacedLoudspeaker
from wellheard.signal.model import Lift as Way

OWN_ZONE = "lift-hears-itself"


@dataclass(frozen=True, eq=False)
class Feeds:
    """What a lift sends where.

    Attributes
    ----------
    gain_db : ndarray, shape (L, M)
        From microphone to loudspeaker; −∞ where it is not sent. [dB]
    free : ndarray of bool, shape (L, M)
        Where the document states no gain: what it is, is decided by the margin.
    in_use : bool
        Whether the document has a lift.
    over_head : tuple of OverHead
        Talking points above whose head their own microphone is played.
    ways : tuple of Way
        Of the document, by microphone and loudspeaker.
    """

    gain_db: Array
    free: Mask
    in_use: bool
    over_head: tuple[OverHead, ...]
    ways: tuple[Way, ...] = field(repr=False, default=())

    @property
    def sent(self) -> Mask:
        """Where anything is sent, shape (L, M)."""
        return np.isfinite(self.gain_db)

    def at(self, gain_db: float) -> Array:
        """Energy gains with the free ones at a gain, shape (L, M)."""
        return energy(np.where(self.free, gain_db, self.gain_db))


def feeds(
    scene: Scene,
    microphones: Sequence[PlacedMicrophone],
    rows: Sequence[Outbound],
    loudspeakers: Sequence[PlacedLoudspeaker],
) -> Feeds:
    """What the document sends where, or, without a lift in it, what zone-minus would.

    Parameters
    ----------
    scene : Scene
        The room.
    microphones : sequence of PlacedMicrophone
        M of them.
    rows : sequence of Outbound
        Who is served by what.
    loudspeakers : sequence of PlacedLoudspeaker
        L of them.

    Notes
    -----
    Zone-minus leaves out the loudspeaker that is a talker's nearest, for the microphone that
    serves that talker, where it is no farther than three metres: a voice that comes back from
    overhead stops its talker, one from the front of a hall does not. Talkers beyond the last rated
    distance of a microphone are not its own, see `own`. A microphone that would be left without
    any keeps the loudspeaker that is farthest from its talkers.
    """
    near = _own_zone(scene, microphones, rows, loudspeakers)
    index = {one.id: i for i, one in enumerate(microphones)}
    ways = tuple(way for way in scene.signal.lifts() if way.microphone in index)
    shape = (len(loudspeakers), len(microphones))
    if not ways:
        sent = _zone_minus(near, microphones, rows, loudspeakers)
        return Feeds(
            np.where(sent, 0.0, -np.inf), sent, in_use=False, over_head=_still(near, sent, index)
        )
    gain_db, free = np.full(shape, -np.inf), np.zeros(shape, dtype=np.bool_)
    for way in ways:
        stage = scene.room.processing.get(way.id)
        stated = stage is None or stage.kind != "lift" or stage.gain_db is not None
        for row, one in enumerate(loudspeakers):
            if one.device == way.loudspeaker:
                column = index[way.microphone]
                gain_db[row, column] = max(gain_db[row, column], way.gain_db if stated else 0.0)
                free[row, column] |= not stated
    return Feeds(
        gain_db, free, in_use=True, over_head=_still(near, np.isfinite(gain_db), index), ways=ways
    )


def own(microphones: Sequence[PlacedMicrophone], rows: Sequence[Outbound]) -> tuple[bool, ...]:
    """Whether each talker is within the last rated distance of the microphone that serves.

    A lectern's microphone is the best that the last row has where there is no other; nobody means
    to lift the last row by it.
    """
    last = {one.id: max(one.product.rated_distances, default=math.inf) for one in microphones}
    return tuple(row.path.distance <= last[row.path.microphone] + 1e-9 for row in rows)


_Near = tuple[tuple[OverHead, int, int], ...]


def _own_zone(
    scene: Scene,
    microphones: Sequence[PlacedMicrophone],
    rows: Sequence[Outbound],
    loudspeakers: Sequence[PlacedLoudspeaker],
) -> _Near:
    """Every talker's nearest loudspeaker, if it is near, with the talker's microphone."""
    within = scene.room.targets.limit_in_force(OWN_ZONE)
    column = {one.id: i for i, one in enumerate(microphones)}
    found = []
    for row, its in zip(rows, own(microphones, rows), strict=True):
        distance = [math.dist(one.at, row.talker.at) for one in loudspeakers]
        nearest = int(np.argmin(np.round(distance, 6)))
        if its and distance[nearest] < within - 1e-6:
            near = OverHead(
                talker=row.talker.id,
                microphone=row.path.microphone,
                loudspeaker=loudspeakers[nearest].id,
                distance=distance[nearest],
            )
            found.append((near, nearest, column[row.path.microphone]))
    return tuple(found)


def _still(near: _Near, sent: Mask, column: dict[str, int]) -> tuple[OverHead, ...]:
    """Those of them that are sent all the same."""
    return tuple(one for one, row, _ in near if sent[row, column[one.microphone]])


def _zone_minus(
    near: _Near,
    microphones: Sequence[PlacedMicrophone],
    rows: Sequence[Outbound],
    loudspeakers: Sequence[PlacedLoudspeaker],
) -> Mask:
    sent = np.ones((len(loudspeakers), len(microphones)), dtype=np.bool_)
    for _, row, column in near:
        sent[row, column] = False
    for column, one in enumerate(microphones):
        if not sent[:, column].any():
            own = [row.talker.at for row in rows if row.path.microphone == one.id]
            away = [min(math.dist(each.at, at) for at in own) for each in loudspeakers]
            sent[int(np.argmax(np.round(away, 6))), column] = True
    return sent

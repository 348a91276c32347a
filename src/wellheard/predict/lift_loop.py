"""The loop of a lift: how much of what loudspeakers play comes round, and what is left.

::

        ┌──► mixer ──► lift ──► loudspeakers ~ ~ ~ ┐
        │                                          room
        └───────────── microphones ◄ ~ ~ ~ ~ ~ ~ ~ ┘

With several microphones and loudspeakers that do not all get the same, the loop is a matrix: what
goes once round from microphone to microphone. Its energies are ``E = G·F·a``, with G of the room,
F of the lift and a of the mixer's channels; energies of ways that have nothing to do with each
other add, and the greatest eigenvalue of E is the mean loop gain.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wellheard.acoustics import mixing
from wellheard.acoustics.levels import energy, energy_level_db
from wellheard.acoustics.loop import OCTAVE_BANDWIDTH, peak_excess_db
from wellheard.acoustics.mixing import Sharing
from wellheard.arrays import Array, Mask
from wellheard.predict.coupling import Coupled
from wellheard.predict.lift_feeds import Feeds
from wellheard.predict.scene import Scene

NOTHING = 1e-30
"""Energy that stands for none."""

LEAST_GAIN_DB, MOST_GAIN_DB = -120.0, 120.0
"""Between these a gain is sought that leaves the wanted margin."""


@dataclass(frozen=True, eq=False)
class Loop:
    """What decides about howling, without the lift's own gains.

    Attributes
    ----------
    room : ndarray, shape (M, L, 7)
        Energy in each microphone's signal re that in the reference, of the element or beam that
        hears most.
    ratio : ndarray, shape (M, L, 7)
        Direct over reflected energy of it.
    time : ndarray, shape (7,)
        Decay times, which say how high the peaks stand. [s]
    channels : ndarray, shape (K, M)
        Power gains of the mixer's channels, in each of K cases.
    """

    room: Array
    ratio: Array
    time: Array
    channels: Array

    def excess_db(self, ratio: Array) -> Array:
        """By how much the peaks of responses exceed their mean in each octave. [dB]"""
        return peak_excess_db(
            bandwidth=OCTAVE_BANDWIDTH,
            reverberation_time=self.time,
            direct_to_reverberant=ratio,
        )


@dataclass(frozen=True)
class Verdict:
    """What a loop leaves at one setting.

    ``octave`` is an index, ``microphone`` and ``loudspeaker`` are those of the pair that brings
    most in it.
    """

    loop_gain_db: float
    excess_db: float
    octave: int
    microphone: int
    loudspeaker: int

    @property
    def margin_db(self) -> float:
        """Left before it howls."""
        return -(self.loop_gain_db + self.excess_db)


def loop_of(scene: Scene, coupled: Sequence[Coupled], feeds: Feeds) -> Loop:
    """The loop of some microphones; those that the lift does not take in open no channel.

    Parameters
    ----------
    scene : Scene
        With its decay times and the kind of its mixer.
    coupled : sequence of Coupled
        M microphones, as of `wellheard.predict.coupling.Coupling`.
    feeds : Feeds
        What is sent where.
    """
    room, direct = [], []
    for column, one in enumerate(coupled):
        gains = energy(one.gains_db)
        own = feeds.sent[:, column].astype(np.float64)
        worst = int(np.argmax(np.einsum("nlb,l->nb", gains, own).max(axis=1)))
        room.append(gains[worst])
        direct.append(one.direct_ratio[worst])
    return Loop(
        room=np.stack(room),
        ratio=np.stack(direct),
        time=scene.time,
        channels=channels(np.asarray(feeds.sent.any(axis=0)), sharing=scene.sharing),
    )


def channels(lifted: Mask, *, sharing: Sharing) -> Array:
    """Power gains of the channels with each lifted microphone open in turn, shape (K, M).

    Parameters
    ----------
    lifted : ndarray of bool, shape (M,)
        Which the lift takes in; 0 for the others.
    sharing : {"gating", "gain-sharing"}
        Of the mixer: gating holds the others down, sharing gain opens all alike at worst, or one
        alone.
    """
    taken = np.flatnonzero(lifted)
    cases = np.zeros((len(taken) + 1, len(lifted)))
    closed = energy(mixing.CLOSED_CHANNEL_DB) if sharing == "gating" else 0.0
    for case, column in enumerate(taken):
        cases[case, taken] = closed
        cases[case, column] = 1.0
    if sharing == "gating":
        return cases[:-1]
    cases[-1, taken] = 1.0 / len(taken)
    return cases


def verdict(loop: Loop, fed: Array) -> Verdict:
    """Where a loop howls first, and what is left.

    Parameters
    ----------
    loop : Loop
        Of the room and the mixer.
    fed : ndarray, shape (L, M)
        Energy gains of the lift.

    Returns
    -------
    Verdict

    Notes
    -----
    Of all pairs the direct sound of one alone, the strongest, evens the response out: that of the
    others adds to it in any phase, as reflections do. Where two zones close one loop through both,
    their peaks seldom meet at one frequency: the excess of one alone is on the safe side.
    """
    around = np.einsum("mlb,ln,kn->kbmn", loop.room, fed, loop.channels)
    gain_db = energy_level_db(np.maximum(np.abs(np.linalg.eigvals(around)).max(axis=-1), NOTHING))
    # What a loudspeaker brings to a microphone that is open, of all that is sent to it.
    sent = np.einsum("ln,kn->kl", fed, loop.channels)
    pairs = np.einsum("mlb,kl,km->kbml", loop.room, sent, loop.channels)
    share = np.moveaxis(loop.ratio / (1.0 + loop.ratio), -1, 0)
    direct = (pairs * share).reshape(*gain_db.shape, -1).max(axis=-1)
    rest = np.maximum(pairs.sum(axis=(-2, -1)) - direct, NOTHING)
    excess_db = loop.excess_db(direct / rest)
    reached = np.round(gain_db + excess_db, 9)
    case, octave = (int(i) for i in np.unravel_index(int(np.argmax(reached)), reached.shape))
    most = int(np.argmax(pairs[case, octave]))
    microphone, loudspeaker = np.unravel_index(most, pairs.shape[2:])
    return Verdict(
        loop_gain_db=float(gain_db[case, octave]),
        excess_db=float(excess_db[case, octave]),
        octave=octave,
        microphone=int(microphone),
        loudspeaker=int(loudspeaker),
    )


def most_gain_db(loop: Loop, feeds: Feeds, *, margin_db: float) -> float:
    """Gain of the free feeds that leaves a margin.

    Parameters
    ----------
    loop : Loop
        Of the room and the mixer.
    feeds : Feeds
        What is sent where; those with a stated gain keep it.
    margin_db : float
        Wanted. [dB]

    Returns
    -------
    float
        :data:`LEAST_GAIN_DB` where what is stated already takes the margin. [dB]
    """
    if bool(np.all(feeds.free[feeds.sent])):
        return verdict(loop, feeds.at(0.0)).margin_db - margin_db
    low, high = LEAST_GAIN_DB, MOST_GAIN_DB
    if verdict(loop, feeds.at(low)).margin_db < margin_db:
        return low
    while high - low > 1e-6:
        middle = 0.5 * (low + high)
        keeps = verdict(loop, feeds.at(middle)).margin_db >= margin_db
        low, high = (middle, high) if keeps else (low, middle)
    return low

"""Local voices through the loudspeakers: how loud before it howls, and what each seat gains.

::

    mouth ~~► microphone ─► mixer ─► lift ─► loudspeaker ~~► another ear
      └───────────────────── natural voice ─────────────────────┘
                  ▲                                 │
                  └ ~ ~ ~ ~ ~ ~ ~ loop ~ ~ ~ ~ ~ ~ ~┘
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from wellheard.acoustics.levels import a_weighted_level_db, energy, energy_level_db
from wellheard.arrays import Array
from wellheard.bands import OCTAVES
from wellheard.predict import lift_loop
from wellheard.predict.coupling import coupling
from wellheard.predict.delays import lift_parts
from wellheard.predict.evidence import Outbound, Path, PlacedMicrophone
from wellheard.predict.lift_feeds import Feeds, feeds, own
from wellheard.predict.lift_heard import Heard
from wellheard.predict.lift_reach import (
    Reach,
    equivalent_distance,
    farthest_pair,
    potential_db,
)
from wellheard.predict.outbound import LEAST_ENERGY
from wellheard.predict.scene import Scene
from wellheard.predict.surfaces import bands
from wellheard.predict.wayback import (
    Lift,
    Lifted,
    LoopPair,
    PlacedLoudspeaker,
    Playback,
)
from wellheard.room.document import Room

HOST_NOT_INCLUDED: Final = (
    "What a computer, codec or meeting service does to the voices by itself (noise reduction, "
    "level control, suppression of echo) is not included."
)
"""Stands wherever figures of a lift are shown."""

MARGIN, INCREASE, LEVEL = "stability-margin-db", "lift-increase-db", "lift-too-loud"
"""House limits: margin before howling, increase at a seat, level there."""


def lift(
    scene: Scene,
    microphones: Sequence[PlacedMicrophone],
    rows: Sequence[Outbound],
    paths: Sequence[Path],
    playback: Playback | None,
) -> Lift | None:
    """Lift of a document, or, where it has none, the most that the wanted margin leaves.

    Parameters
    ----------
    scene : Scene
        The room.
    microphones : sequence of PlacedMicrophone
        M of them.
    rows : sequence of Outbound
        The ledger, a row for every talking point.
    paths : sequence of Path
        Every talking point at every microphone.
    playback : Playback or None
        Loudspeakers as they are set.

    Returns
    -------
    Lift or None
        None without microphones, without loudspeakers that have a place, and where there is nobody
        to listen.

    Notes
    -----
    Gain 0 dB plays a voice that is at working level as loud as the far end at playback level.
    Energies of the natural voice and of the lifted one from every loudspeaker add. What comes
    round the loop a second time is left out: with six decibels of margin it is little. Of each ear
    the talker counts that it hears worst of those whose microphone is lifted and near enough to be
    meant for them; a talker looks the way that the ledger says. Ears hear alike from all sides.
    Gains are flat: filters that cut what howls first would leave more. What the host by itself
    does to the voices is not included, see :data:`HOST_NOT_INCLUDED`.
    """
    if playback is None or not microphones or not playback.loudspeakers or len(rows) < 2:
        return None
    room = scene.room
    sent = feeds(scene, microphones, rows, playback.loudspeakers)
    if not sent.sent.any():
        return None
    coupled = coupling(scene, microphones, rows, playback).microphones
    loop = lift_loop.loop_of(scene, coupled, sent)
    wanted = room.targets.limit_in_force(MARGIN)
    gain_db = (
        lift_loop.most_gain_db(loop, sent, margin_db=wanted)
        if sent.free.any()
        else float(sent.gain_db.max())
    )
    fed = sent.at(gain_db)
    found = lift_loop.verdict(loop, fed)
    heard = Heard.of(scene, microphones, rows, paths, playback, coupled)
    if not np.isfinite(heard.distance).any():
        return None
    its = own(microphones, rows)
    meant = np.asarray(sent.sent.any(axis=0))[heard.serving] & np.array(its)
    delay = _electronics(scene, microphones, playback.loudspeakers, sent)
    lifted = tuple(
        _row(scene, heard, playback.loudspeakers, fed, delay, ear, int(speaker))
        for ear, speaker in enumerate(heard.worst(meant))
        if speaker >= 0
    )
    nom = float(loop.channels.sum(axis=1).max())
    farthest = farthest_pair(
        scene,
        Reach(heard, sent, loop, coupled, microphones, playback, its, nom, wanted),
    )
    return Lift(
        in_use=sent.in_use,
        gain_db=float(energy_level_db(fed.max())),
        loop_gain_db=found.loop_gain_db,
        margin_db=found.margin_db,
        wanted_margin_db=wanted,
        octave=OCTAVES[found.octave],
        microphone=microphones[found.microphone].id,
        loudspeaker=playback.loudspeakers[found.loudspeaker].id,
        open_microphones=nom,
        potential_gain_db=potential_db(farthest, open_microphones=nom, margin_db=wanted),
        needed_gain_db=farthest.needed_db,
        equivalent_distance=equivalent_distance(scene),
        pairs=_pairs(loop, fed, microphones, playback.loudspeakers),
        rows=lifted,
        left_out=tuple(
            (mic.id, loud.id)
            for column, mic in enumerate(microphones)
            for row, loud in enumerate(playback.loudspeakers)
            if not sent.sent[row, column]
        ),
        excess_db=found.excess_db,
        advised_gain_db=_advised_db(room, found.margin_db - wanted, lifted, gain_db),
        stated=sent.in_use and not bool(sent.free.any()),
        over_head=sent.over_head,
        farthest=farthest,
        electronics=float(delay[sent.sent].max()),
    )


def _electronics(
    scene: Scene,
    microphones: Sequence[PlacedMicrophone],
    loudspeakers: Sequence[PlacedLoudspeaker],
    sent: Feeds,
) -> Array:
    """Delay without air from every microphone to every loudspeaker, shape (L, M) [s]."""
    ways = {(way.loudspeaker, way.microphone): way.path for way in sent.ways}
    late = [
        [
            sum(
                p.ms
                for p in lift_parts(scene.signal, mic, loud, way=ways.get((loud.device, mic.id)))
            )
            for mic in microphones
        ]
        for loud in loudspeakers
    ]
    return np.array(late) / 1000.0


def _row(
    scene: Scene,
    heard: Heard,
    loudspeakers: Sequence[PlacedLoudspeaker],
    fed: Array,
    delay: Array,
    ear: int,
    speaker: int,
) -> Lifted:
    natural = heard.natural[speaker, ear]
    each = heard.brought(fed, speaker, ear)
    natural_dba = float(a_weighted_level_db(energy_level_db(natural)))
    mine = int(heard.serving[speaker])
    loud = int(np.argmax(a_weighted_level_db(energy_level_db(np.maximum(each, LEAST_ENERGY)))))
    whole = each.sum(axis=0)
    if not np.any(fed[:, mine] > 0.0) or not np.any(whole > 0.0):
        return Lifted(
            talker=heard.talkers[ear],
            speaker=heard.talkers[speaker].id,
            natural_dba=natural_dba,
            lifted_dba=natural_dba,
            loudspeaker=None,
            natural_db=bands(energy_level_db(natural)),
        )
    travelled = heard.to_microphone[speaker, mine] + heard.to_ear[loud, ear]
    return Lifted(
        talker=heard.talkers[ear],
        speaker=heard.talkers[speaker].id,
        natural_dba=natural_dba,
        lifted_dba=float(a_weighted_level_db(energy_level_db(natural + whole))),
        loudspeaker=loudspeakers[loud].id,
        brought_dba=float(a_weighted_level_db(energy_level_db(whole))),
        after=float(
            delay[loud, mine] + (travelled - heard.distance[speaker, ear]) / scene.propagation.speed
        ),
        natural_db=bands(energy_level_db(natural)),
        brought_db=bands(energy_level_db(whole)),
    )


def _pairs(
    loop: lift_loop.Loop,
    fed: Array,
    microphones: Sequence[PlacedMicrophone],
    loudspeakers: Sequence[PlacedLoudspeaker],
) -> tuple[LoopPair, ...]:
    excess_db = loop.excess_db(loop.ratio)
    found = []
    for column, mic in enumerate(microphones):
        for row, loud in enumerate(loudspeakers):
            if fed[row, column] > 0.0:
                gain_db = energy_level_db(loop.room[column, row] * fed[row, column])
                margin_db = -(gain_db + excess_db[column, row])
                least = int(np.argmin(np.round(margin_db, 6)))
                found.append(
                    LoopPair(
                        microphone=mic.id,
                        loudspeaker=loud.id,
                        gain_bands_db=bands(gain_db),
                        margin_db=float(margin_db[least]),
                        octave=OCTAVES[least],
                        lift_db=float(energy_level_db(fed[row, column])),
                    )
                )
    return tuple(sorted(found, key=lambda one: round(one.margin_db, 6)))


def _advised_db(room: Room, left_db: float, rows: Sequence[Lifted], gain_db: float) -> float:
    """Gain at which margin, increase and level at every seat are as wanted at most.

    All feeds move together. A seat where the talker is louder than the wanted level by nature is
    held to the increase alone.
    """
    most = energy(room.targets.limit_in_force(INCREASE)) - 1.0
    least = left_db
    for row in rows:
        if row.brought_dba is not None:
            natural = energy(row.natural_dba)
            room_left = energy(room.targets.limit_in_force(LEVEL)) - natural
            allowed = min(natural * most, room_left) if room_left > 0.0 else natural * most
            allowed = max(allowed, natural * LEAST_ENERGY)  # where no increase at all is wanted
            least = min(least, float(energy_level_db(allowed)) - row.brought_dba)
    return gain_db + least

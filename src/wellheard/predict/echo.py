"""What each microphone sends back of the far end, and what a canceller must and can do about it.

::

    needed loss ◄────────── delay of the call, or the document's promise
        │
        ├── return loss         of the room, by itself
        └── must be added ───►  can be added: by the filter, and by suppression of its residue
                                    tail        the room outlasts the filter  ┐
                                    distortion  is not in the reference       ├ residues: they add
                                    noise       hides what is left            ┘
                                    rated, or practice                          caps them

What a sheet states is filter and suppression together, in single talk.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wellheard.acoustics import echo as physics
from wellheard.acoustics.levels import (
    a_weighted_level_db,
    energy,
    energy_level_db,
    sum_levels_db,
)
from wellheard.arrays import Array
from wellheard.catalog.products import Loudspeaker
from wellheard.predict import tolerances
from wellheard.predict.coupling import Coupled, coupling
from wellheard.predict.delays import after_reference
from wellheard.predict.echo_tails import Tails
from wellheard.predict.evidence import Outbound, Path, PlacedMicrophone, State
from wellheard.predict.scene import Scene
from wellheard.predict.surfaces import bands
from wellheard.predict.wayback import Echo, PlacedLoudspeaker, Playback
from wellheard.room.document import Room
from wellheard.signal.graph import Graph
from wellheard.signal.model import Canceller

TAIL_OCTAVES = slice(2, 5)
"""500 Hz, 1 and 2 kHz: where speech is strong and the decay is longest of what is sent."""

NO_LIMIT_DB = 120.0
"""More than any path loses. [dB]"""

LINEAR = "canceller-linear-db"
SUPPRESSION = "canceller-suppression-db"

PROMISED = "targets.echo_loss_db"
DELAY = "far_end.one_way_delay_ms"


def echoes(
    scene: Scene,
    microphones: Sequence[PlacedMicrophone],
    rows: Sequence[Outbound],
    paths: Sequence[Path],
    playback: Playback | None,
) -> tuple[Echo, ...]:
    """Echo of every microphone, worst first; none without loudspeakers.

    Parameters
    ----------
    scene : Scene
        The room.
    microphones : sequence of PlacedMicrophone
        M of them.
    rows : sequence of Outbound
        The ledger.
    paths : sequence of Path
        Every talker by every microphone.
    playback : Playback or None
        The loudspeakers as they are set.

    Notes
    -----
    Of a microphone's elements and beams in use the one with the least return loss counts, weighted
    over 300–3400 Hz. Everything is at working level: see `wellheard.predict.coupling.coupling`.
    """
    if playback is None or not playback.loudspeakers or not scene.talkers:
        return ()
    found = coupling(scene, microphones, rows, playback)
    each = [
        _echo(scene, placed, found.of(placed.id), paths, playback.loudspeakers)
        for placed in microphones
    ]
    return tuple(sorted(each, key=_lacking, reverse=True))


def lacking_db(one: Echo) -> float:
    """Loss that is missing after all that can be added [dB]; negative where some is left."""
    return one.must_add_db - (one.can_add_db or 0.0)


def _lacking(one: Echo) -> tuple[float, float, str]:
    return (round(lacking_db(one), 6), round(-one.return_loss_db, 6), one.microphone)


def needed_loss_db(room: Room) -> tuple[float, str]:
    """Loss that the far end needs between what it sends and what comes back, and where from [dB].

    What the document promises, else what the delay asks of an acceptable talker echo, less what
    the far talker's own terminal brings.
    """
    promised = room.targets.echo_loss_db
    if promised is not None:
        return promised, PROMISED
    asked = float(physics.telr_needed_db(room.far_end.one_way_delay_ms))
    return asked - physics.NOMINAL_TERMINAL_LOSS_DB, DELAY


def bounds(one: Echo) -> dict[str, float]:
    """What each known bound alone leaves the filter of a canceller to take away [dB].

    By name: ``tail``, ``distortion``, ``noise``, and ``rated`` (its sheet) or ``practice``.
    """
    found = {
        "tail": one.bound_tail_db,
        "distortion": one.bound_distortion_db,
        "noise": one.bound_noise_db,
        one.bound_practice_from: one.bound_practice_db,
    }
    return {name: bound for name, bound in found.items() if bound is not None}


def held_by(one: Echo) -> str:
    """Name of the bound that holds a canceller: its cap, or the largest residue."""
    residues = bounds(one)
    cap_db = residues.pop(one.bound_practice_from)
    if cap_db <= together_db(*residues.values()):
        return one.bound_practice_from
    return min(residues, key=lambda name: round(residues[name], 6))


def together_db(*losses_db: float) -> float:
    """Loss that several residues leave a filter together, 0 at least [dB].

    What outlasts the tail, what is in no reference and what noise hides are unlike each other, so
    their energies add: two alike leave 3.0 dB less than each alone, three 4.8 dB.

    Examples
    --------
    >>> round(together_db(33.0, 33.0), 2)
    29.99
    """
    return max(-float(sum_levels_db(-np.array(losses_db), axis=0)), 0.0)


@dataclass(frozen=True)
class _Cap:
    """What filter and suppression reach where nothing else holds them [dB], and where from."""

    linear_db: float
    suppression_db: float
    source: str


@dataclass(frozen=True)
class _Bounds:
    """What a canceller can take away by itself [dB], and the tail that it needs [s]."""

    tail_db: float | None
    tail_needed: float
    distortion_db: float
    noise_db: float
    cap: _Cap

    @property
    def linear_db(self) -> float:
        """What the filter takes away: what all known residues leave it, and no more than the cap.

        The cap adds to no residue: what is rated or usual is measured with residues of its own.
        """
        residues = (self.tail_db, self.distortion_db, self.noise_db)
        known = (bound for bound in residues if bound is not None)
        return min(together_db(*known), self.cap.linear_db)


def _canceller(signal: Graph, microphone: str) -> tuple[Canceller | None, bool]:
    """The first canceller that can hear the far end, and whether its reference is known.

    What is not in its reference it cannot cancel: one that listens to something else counts for
    nothing, however long its tail.
    """
    if not any(one.far_end for one in signal.playing()):
        return next(iter(signal.cancellers(microphone)), None), True
    for one in signal.cancellers(microphone):
        reference = signal.reference(one)
        named = reference.port is not None
        if reference.far_end or (named and not reference.known):
            return one, reference.known
    return None, True


def _cap(room: Room, canceller: Canceller | None) -> _Cap:
    """What the sheet states, or practice; a limit that the document sets goes before the sheet."""
    suppression_db = limit(room, SUPPRESSION)
    rated_db = None if canceller is None else canceller.loss_db
    own = room.targets.house_rules.get(LINEAR)
    if rated_db is None or (own is not None and own.limit is not None):
        return _Cap(limit(room, LINEAR), suppression_db, "practice")
    suppression_db = min(suppression_db, rated_db)
    return _Cap(rated_db - suppression_db, suppression_db, "rated")


def _echo(
    scene: Scene,
    placed: PlacedMicrophone,
    coupled: Coupled,
    paths: Sequence[Path],
    loudspeakers: Sequence[PlacedLoudspeaker],
) -> Echo:
    losses = physics.weighted_loss_db(-coupled.gain_bands_db)
    row = int(np.argmin(np.round(losses, 6)))
    needed_db, needed_from = needed_loss_db(scene.room)
    must_add_db = max(needed_db - float(losses[row]), 0.0)
    canceller, reference_known = _canceller(scene.signal, placed.id)
    cap = _cap(scene.room, canceller)
    tail = None if canceller is None else canceller.tail
    alone = physics.weighted_loss_db(-coupled.gains_db[row])
    echo_db = sum_levels_db(coupled.echo_db[row], axis=0)
    noise_dba = open_noise_dba(paths, coupled.talkers[row], placed.id)
    bulk = np.array(
        [
            bulk_delay(scene, placed, one, float(distance))
            for one, distance in zip(loudspeakers, coupled.arrival[row], strict=True)
        ]
    )
    found = _bounds(
        scene,
        coupled,
        row,
        cap=cap,
        tail=tail,
        linear_db=must_add_db - cap.suppression_db,
        bulk=bulk,
        echo_dba=float(a_weighted_level_db(echo_db)),
        noise_dba=noise_dba,
        distortion=distortion(scene.room, coupled.echo_db[row], loudspeakers),
    )
    can_add_db = None if canceller is None else found.linear_db + cap.suppression_db
    return Echo(
        microphone=placed.id,
        talker=coupled.talkers[row],
        return_loss_bands_db=bands(-coupled.gain_bands_db[row]),
        return_loss_db=float(losses[row]),
        by_loudspeaker_db=tuple(
            (one.id, float(loss)) for one, loss in zip(loudspeakers, alone, strict=True)
        ),
        echo_dba=float(a_weighted_level_db(echo_db)),
        speech_dba=float(coupled.speech_dba[row]),
        noise_dba=noise_dba,
        needed_db=needed_db,
        needed_from=needed_from,
        must_add_db=must_add_db,
        canceller=None if canceller is None else place_of(canceller),
        tail=tail,
        tail_needed=found.tail_needed,
        bound_tail_db=found.tail_db,
        bound_distortion_db=found.distortion_db,
        bound_noise_db=found.noise_db,
        bound_practice_db=cap.linear_db,
        bound_practice_from=cap.source,
        suppression_db=cap.suppression_db,
        stated_db=None if canceller is None else canceller.loss_db,
        can_add_db=can_add_db,
        state=_state(
            scene.room,
            must_add_db,
            can_add_db,
            known=bool(scene.signal.paths_of(placed.id)),
            tail_known=found.tail_db is not None and reference_known,
        ),
    )


def place_of(canceller: Canceller) -> str:
    """Port of a canceller, ``device.port``; of one that a device has by itself, the device."""
    return canceller.stage.at if canceller.stage.id else canceller.device


def limit(room: Room, code: str) -> float:
    """What a canceller is taken to do in this document; to relax a rule betters no device. [dB]"""
    return room.targets.limit_in_force(code)


def _bounds(
    scene: Scene,
    coupled: Coupled,
    row: int,
    *,
    cap: _Cap,
    tail: float | None,
    linear_db: float,
    bulk: Array,
    echo_dba: float,
    noise_dba: float,
    distortion: float,
) -> _Bounds:
    tails = Tails(
        energy=energy(coupled.echo_db[row, :, TAIL_OCTAVES]),
        ratio=coupled.direct_ratio[row, :, TAIL_OCTAVES],
        bulk=bulk,
        time=scene.time[TAIL_OCTAVES],
    )
    under_db = limit(scene.room, "canceller-under-noise-db")
    distortion_db = NO_LIMIT_DB
    if distortion > float(np.sqrt(energy(-NO_LIMIT_DB))):
        distortion_db = float(physics.distortion_limited_loss_db(distortion))
    noise_db = float(physics.noise_limited_loss_db(echo_dba, noise_db=noise_dba - under_db))
    needed = tails.needed(
        _asked_of_the_tail_db(
            min(max(linear_db, 0.0), cap.linear_db), others_db=together_db(distortion_db, noise_db)
        )
    )
    return _Bounds(
        tail_db=None if tail is None else float(np.min(tails.loss_db(tail))),
        tail_needed=float(np.max(needed)),
        distortion_db=distortion_db,
        noise_db=noise_db,
        cap=cap,
    )


def _asked_of_the_tail_db(linear_db: float, *, others_db: float) -> float:
    """Loss that the tail alone must allow so that all residues together allow what is asked [dB].

    Where the others leave more than that already no tail helps, and it answers for itself alone.
    """
    left = float(energy(-linear_db) - energy(-others_db))
    return linear_db if left <= 0.0 else -float(energy_level_db(left))


def bulk_delay(
    scene: Scene,
    placed: PlacedMicrophone,
    loudspeaker: PlacedLoudspeaker,
    distance: float,
) -> float:
    """From where the reference is picked off to where its echo arrives at the canceller [s].

    A device that cancels its own echo has lined up its own reference.
    """
    if loudspeaker.device == placed.id:
        return 0.0
    electronic = sum(part.ms for part in after_reference(scene.signal, loudspeaker)) / 1000.0
    return electronic + placed.product.latency_ms / 1000.0 + distance / scene.propagation.speed


def distortion(room: Room, echo_db: Array, loudspeakers: Sequence[PlacedLoudspeaker]) -> float:
    """Harmonic distortion of the echo: that of each loudspeaker by its share, as a ratio.

    Parameters
    ----------
    room : Room
        With the limit that stands for what no sheet states.
    echo_db : ndarray, shape (L, 7)
        Of each loudspeaker at the capsule. [dB]
    loudspeakers : sequence of PlacedLoudspeaker
        L of them.
    """
    usual = room.targets.house_limit("loudspeaker-distortion") or 0.0
    own = np.array([_stated_distortion(one, usual) for one in loudspeakers])
    share = energy(a_weighted_level_db(echo_db))
    return float(np.sqrt(np.sum(share * np.square(own)) / np.sum(share)))


def _stated_distortion(one: PlacedLoudspeaker, usual: float) -> float:
    if isinstance(one.product, Loudspeaker):
        stated = one.product.distortion
    else:
        stated = None if one.product.built_in is None else one.product.built_in.distortion
    return usual if stated is None else stated


def open_noise_dba(paths: Sequence[Path], talker: str, microphone: str) -> float:
    """Noise at the element or beam that a talker gets, no other microphone open [dB(A)]."""
    path = next(p for p in paths if p.talker == talker and p.microphone == microphone)
    parts = np.array(list(path.noise_parts_db.values()))
    return float(a_weighted_level_db(sum_levels_db(parts, axis=0)))


def _state(
    room: Room, must_add_db: float, can_add_db: float | None, *, known: bool, tail_known: bool
) -> State:
    """Judge a need against what can be done; levels of people vary."""
    if must_add_db <= 0.0:
        return "kept"
    if can_add_db is None:
        return "broken" if known else "not assessed"
    margin = can_add_db - must_add_db
    if margin < 0.0:
        return "broken"
    if not tail_known:
        return "not assessed"
    wanted = room.targets.chance
    chance = tolerances.chance_of(margin, tolerances.EFFORT_SIGMA_DB)
    return "at risk" if wanted is not None and chance < wanted else "kept"

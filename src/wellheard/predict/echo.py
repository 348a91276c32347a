"""What each microphone sends back of the far end, and what a canceller must and can do about it.

::

    needed loss ◄────────── delay of the call, or the document's promise
        │
        ├── return loss         of the room, by itself
        └── must be added ───►  can be added: least of the bounds, and suppression of the residue
                                    tail        the room outlasts the filter
                                    distortion  is not in the reference
                                    noise       hides what is left
                                    practice
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wellheard.acoustics import echo as physics
from wellheard.acoustics.levels import a_weighted_level_db, energy, sum_levels_db
from wellheard.arrays import Array
from wellheard.catalog.products import Loudspeaker, Microphone, Processor
from wellheard.predict import tolerances
from wellheard.predict.coupling import Coupled, coupling
from wellheard.predict.delays import after_reference
from wellheard.predict.evidence import Outbound, Path, PlacedMicrophone, State
from wellheard.predict.scene import Scene
from wellheard.predict.surfaces import bands
from wellheard.predict.wayback import Echo, PlacedLoudspeaker, Playback
from wellheard.room.document import Room
from wellheard.signal.graph import Graph, graph
from wellheard.signal.model import Canceller

TAIL_OCTAVES = slice(2, 5)
"""500 Hz, 1 and 2 kHz: where speech is strong and the decay is longest of what is sent."""

NO_LIMIT_DB = 120.0
"""More than any path loses. [dB]"""

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
    signal = graph(scene.room, scene.catalogue)
    found = coupling(scene, microphones, rows, playback)
    each = [
        _echo(scene, signal, placed, found.of(placed.id), paths, playback.loudspeakers)
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


@dataclass(frozen=True)
class _Bounds:
    """What a canceller can take away by itself [dB], and the tail that it needs [s]."""

    tail_db: float | None
    tail_needed: float
    distortion_db: float
    noise_db: float
    practice_db: float

    @property
    def least_db(self) -> float:
        """Least of those that are known."""
        known = (self.tail_db, self.distortion_db, self.noise_db, self.practice_db)
        return min(bound for bound in known if bound is not None)


def _echo(
    scene: Scene,
    signal: Graph,
    placed: PlacedMicrophone,
    coupled: Coupled,
    paths: Sequence[Path],
    loudspeakers: Sequence[PlacedLoudspeaker],
) -> Echo:
    losses = physics.weighted_loss_db(-coupled.gain_bands_db)
    row = int(np.argmin(np.round(losses, 6)))
    needed_db, needed_from = needed_loss_db(scene.room)
    must_add_db = max(needed_db - float(losses[row]), 0.0)
    suppression_db = limit(scene.room, "canceller-suppression-db")
    canceller = next(iter(signal.cancellers(placed.id)), None)
    tail = None if canceller is None else tail_of(scene, canceller)
    stated_db = None if canceller is None else stated_loss_db(scene, canceller)
    practice_db = _practice_db(scene.room, stated_db, suppression_db)
    alone = physics.weighted_loss_db(-coupled.gains_db[row])
    echo_db = sum_levels_db(coupled.echo_db[row], axis=0)
    noise_dba = open_noise_dba(paths, coupled.talkers[row], placed.id)
    loudest = int(np.argmin(alone))
    bulk = bulk_delay(
        scene, signal, placed, loudspeakers[loudest], float(coupled.arrival[row, loudest])
    )
    bounds = _bounds(
        scene,
        coupled,
        row,
        tail=tail,
        linear_db=must_add_db - suppression_db,
        practice_db=practice_db,
        bulk=bulk,
        echo_dba=float(a_weighted_level_db(echo_db)),
        noise_dba=noise_dba,
        distortion=distortion(scene.room, coupled.echo_db[row], loudspeakers),
    )
    can_add_db = None if canceller is None else bounds.least_db + suppression_db
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
        tail_needed=bounds.tail_needed,
        bound_tail_db=bounds.tail_db,
        bound_distortion_db=bounds.distortion_db,
        bound_noise_db=bounds.noise_db,
        bound_practice_db=bounds.practice_db,
        suppression_db=suppression_db,
        stated_db=stated_db,
        can_add_db=can_add_db,
        state=_state(
            scene.room,
            must_add_db,
            can_add_db,
            known=bool(signal.paths_of(placed.id)),
            tail_known=bounds.tail_db is not None,
        ),
    )


def place_of(canceller: Canceller) -> str:
    """Port of a canceller, ``device.port``; of one that a device has by itself, the device."""
    return canceller.stage.at if canceller.stage.id else canceller.device


def tail_of(scene: Scene, canceller: Canceller) -> float | None:
    """Longest echo that a canceller cancels; None where its sheet does not say. [s]"""
    product = scene.catalogue.product(scene.room.devices[canceller.device].product)
    if isinstance(product, Microphone) and product.built_in is not None:
        return product.built_in.canceller_tail
    return canceller.tail


def stated_loss_db(scene: Scene, canceller: Canceller) -> float | None:
    """Loss that a sheet says its canceller adds, filter and suppression; None where it does not."""
    product = scene.catalogue.product(scene.room.devices[canceller.device].product)
    if isinstance(product, Microphone):
        return None if product.built_in is None else product.built_in.canceller_loss_db
    return product.canceller_loss_db if isinstance(product, Processor) else None


def _practice_db(room: Room, stated_db: float | None, suppression_db: float) -> float:
    """Most that a filter takes away: as the document says, else the sheet, else practice. [dB]"""
    own = room.targets.house_rules.get("canceller-linear-db")
    if stated_db is None or own is not None:
        return limit(room, "canceller-linear-db")
    return max(stated_db - suppression_db, 0.0)


def limit(room: Room, code: str) -> float:
    """A house limit of a canceller in this document; a relaxed one limits nothing. [dB]"""
    stated = room.targets.house_limit(code)
    return NO_LIMIT_DB if stated is None else stated


def _bounds(
    scene: Scene,
    coupled: Coupled,
    row: int,
    *,
    tail: float | None,
    linear_db: float,
    practice_db: float,
    bulk: float,
    echo_dba: float,
    noise_dba: float,
    distortion: float,
) -> _Bounds:
    time, ratio = scene.time[TAIL_OCTAVES], coupled.ratio[row, TAIL_OCTAVES]
    needed = physics.tail_needed(
        min(max(linear_db, 0.0), practice_db),
        reverberation_time=time,
        direct_to_reverberant=ratio,
        bulk_delay=bulk,
    )
    reached = None
    if tail is not None:
        reached = physics.tail_limited_loss_db(
            tail, reverberation_time=time, direct_to_reverberant=ratio, bulk_delay=bulk
        )
    under_db = limit(scene.room, "canceller-under-noise-db")
    return _Bounds(
        tail_db=None if reached is None else float(np.min(reached)),
        tail_needed=float(np.max(needed)),
        distortion_db=float(physics.distortion_limited_loss_db(distortion)),
        noise_db=float(physics.noise_limited_loss_db(echo_dba, noise_db=noise_dba - under_db)),
        practice_db=practice_db,
    )


def bulk_delay(
    scene: Scene,
    signal: Graph,
    placed: PlacedMicrophone,
    loudspeaker: PlacedLoudspeaker,
    distance: float,
) -> float:
    """From where the reference is picked off to where its echo arrives at the canceller [s].

    A device that cancels its own echo has lined up its own reference.
    """
    if loudspeaker.device == placed.id:
        return 0.0
    electronic = sum(part.ms for part in after_reference(scene, signal, loudspeaker)) / 1000.0
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

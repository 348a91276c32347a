"""From loudspeakers to ears: what every seat hears of the far end, and how hard they work.

::

    playback level ──► level 1 m before a loudspeaker ──► level, STI, arrivals at every ear
                                     └──► peaks, power, tap of every loudspeaker
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from wellheard.acoustics import intelligibility, levels
from wellheard.acoustics.line import power_for
from wellheard.arrays import Array
from wellheard.catalog.products import Loudspeaker
from wellheard.predict import listening, promises, tolerances
from wellheard.predict.evidence import Quantity, State, Talker
from wellheard.predict.listening import Heard, Together
from wellheard.predict.listening_spread import Sigmas, sigmas
from wellheard.predict.loudspeakers import ears, placed_loudspeakers, played
from wellheard.predict.scene import Scene
from wellheard.predict.surfaces import bands
from wellheard.predict.talkers import display_place
from wellheard.predict.wayback import Arrival, Drive, Inbound, PlacedLoudspeaker, Playback
from wellheard.room.document import Room

USUAL_PLAYBACK_DBA = 70.0
"""Mean level at the ears where ``targets.playback_level_dba`` is null (common practice) [dBA]."""

PRECEDENCE_DB = 10.0
"""A later sound takes the voice over only where it is louder by this (Haas 1951, from memory, for
5–30 ms; common practice for a design) [dB]."""

SUMMED = 0.001
"""Loudspeakers that arrive within this of each other make one voice between them (summing
localization, from memory) [s]."""

SPEECH_2K = 4
"""The 2 kHz octave, by which coverage is judged."""


def playback(scene: Scene) -> Playback | None:
    """The far end in a room: the common level, every ear's row, every loudspeaker's drive.

    Parameters
    ----------
    scene : Scene
        The room, or one space of a room that divides.

    Returns
    -------
    Playback or None
        None where no loudspeaker has a place, or nobody is there to set a level for.

    Notes
    -----
    All loudspeakers play far-end speech at one level 1 m on their axes, shifted by the trims on
    their ways. It is set so that the energy mean of the A-weighted levels at all ears,
    seats and standing points, is ``targets.playback_level_dba``; 70 dBA where that is null.
    Loudspeakers are flat on their axes from 125 Hz to 8 kHz.
    """
    placed = placed_loudspeakers(scene.room, scene.catalogue, scene.talkers)
    if not placed or not scene.talkers:
        return None
    at = np.array([one.at for one in scene.talkers])
    heard = listening.together(scene, placed, played(scene, placed, ears(at)))
    target = scene.room.targets.playback_level_dba
    mean = USUAL_PLAYBACK_DBA if target is None else target
    level = listening.level_for_mean(heard, mean)
    speech_db = listening.far_end_speech_db(level)
    found = listening.middle(heard, speech_1m_db=speech_db, noise_db=listening.noise_db(scene, at))
    spread = sigmas(scene, heard, found, speech_1m_db=speech_db)
    return Playback(
        loudspeakers=placed,
        rows=_rows(scene, placed, heard, found, spread, speech_db),
        target_dba=mean,
        mean_dba=levels.mean_level_db(found.level_dba),
        level_1m_dba=level,
        speech_1m_db=bands(speech_db),
        uniformity=_uniformity(scene.room, found.level_dba, spread),
        uniformity_speech_db=float(np.ptp(found.speech_db[:, SPEECH_2K])),
        drives=tuple(drive(scene.room, one, speech_db) for one in placed),
    )


def _rows(
    scene: Scene,
    placed: Sequence[PlacedLoudspeaker],
    heard: Together,
    found: Heard,
    spread: Sigmas,
    speech_db: Array,
) -> tuple[Inbound, ...]:
    c50_db = listening.clarity_db(heard)
    pictures = [
        display_place(scene.room, name)
        for name, item in scene.room.furniture.items()
        if item.kind in ("display", "screen")
    ]
    rows = []
    for index, talker in enumerate(scene.talkers):
        arrivals = _arrivals(placed, heard, index, speech_db)
        source = heard_from(arrivals)
        sti = promises.quantity(
            "sti_inbound",
            float(found.sti[index]),
            float(spread.sti[index]),
            scene.room.targets.sti_inbound,
        )
        level = level_quantity(
            scene.room, float(found.level_dba[index]), float(spread.level_db[index])
        )
        promised = {q.name: q.chance for q in (sti, level) if q.chance is not None}
        rows.append(
            Inbound(
                talker=talker,
                sti=sti,
                level=level,
                levels_db=bands(found.speech_db[index]),
                noise_db=bands(found.noise_db[index]),
                c50_db=bands(c50_db[index]),
                modulation_transfer_index=bands(found.modulation_transfer_index[index]),
                direct_to_reverberant_db=float(found.direct_to_reverberant_db[index]),
                speech_to_noise_db=float(found.speech_to_noise_db[index]),
                arrivals=arrivals,
                heard_from=source,
                direction_deg=direction_deg(talker, placed, arrivals, source, pictures),
                chance=min(promised.values(), default=1.0),
                binds=min(promised, key=lambda name: promised[name], default=""),
                state=state(scene.room, sti, level),
                rating=intelligibility.rating_word(sti.value),
                category=intelligibility.category_letter(sti.value),
            )
        )
    return tuple(rows)


def level_quantity(room: Room, value: float, sigma: float) -> Quantity:
    """Level at an ear; its target is the nearer end of the promised range.

    Its chance is that of lying within the range.

    Examples
    --------
    >>> room = Room.model_validate(
    ...     {
    ...         "wellheard": 1,
    ...         "space": {"outline": [[0, 0], [5, 0], [5, 4], [0, 4]], "height": 2.7},
    ...         "people": {"seats": {}},
    ...     }
    ... )
    >>> level = level_quantity(room, 74.0, 1.0)
    >>> level.target, round(level.chance, 3)
    (75.0, 0.841)
    """
    promised = room.targets.listening_level_dba
    if promised is None:
        return promises.quantity("listening_level_dba", value, sigma, None)
    low, high = promised
    target = low if value - low <= high - value else high
    found = promises.quantity("listening_level_dba", value, sigma, target)
    under = tolerances.chance_of(high - value, sigma)
    over = tolerances.chance_of(value - low, sigma)
    return promises.with_chance(found, max(0.0, under + over - 1.0))


def missed(room: Room, one: Quantity) -> bool:
    """Whether STI is too low, or a level outside the promised range on either side."""
    promised = room.targets.listening_level_dba
    if one.name == "listening_level_dba" and promised is not None:
        return not promised[0] <= one.value <= promised[1]
    return one.margin is not None and one.margin < 0


def state(room: Room, *each: Quantity) -> State:
    """State of one or several of an ear's quantities."""
    return promises.state_of(
        room,
        missed=any(missed(room, one) for one in each),
        chances=[one.chance for one in each if one.chance is not None],
    )


def _arrivals(
    placed: Sequence[PlacedLoudspeaker], heard: Together, ear: int, speech_db: Array
) -> tuple[Arrival, ...]:
    """Every loudspeaker's direct sound at one ear, first to arrive first."""
    direct = listening.direct_dba(heard.direct[:, ear], speech_db)
    share = listening.direct_dba(heard.share[:, ear], speech_db)
    found = [
        Arrival(
            loudspeaker=one.id,
            distance=float(heard.distance[index, ear]),
            time=float(heard.time[index, ear]),
            level_dba=float(direct[index]),
            share_dba=float(share[index]),
        )
        for index, one in enumerate(placed)
    ]
    return tuple(sorted(found, key=lambda one: (one.time, one.loudspeaker)))


def heard_from(arrivals: Sequence[Arrival]) -> str:
    """Loudspeaker that a voice seems to come from, by the law of the first wavefront.

    The first to arrive, unless a later one is louder by `PRECEDENCE_DB` or more.

    Parameters
    ----------
    arrivals : sequence of Arrival
        First to arrive first, one at least.

    Examples
    --------
    >>> front = Arrival("front", 3.0, 0.009, 60.0, 66.0)
    >>> ceiling = Arrival("ceiling", 1.7, 0.020, 66.0, 68.0)
    >>> heard_from([front, ceiling])
    'front'
    """
    leads = arrivals[0]
    for one in arrivals[1:]:
        if one.level_dba >= leads.level_dba + PRECEDENCE_DB:
            leads = one
    return leads.loudspeaker


def direction_deg(
    talker: Talker,
    placed: Sequence[PlacedLoudspeaker],
    arrivals: Sequence[Arrival],
    source: str,
    pictures: Sequence[tuple[float, float, float]],
) -> float | None:
    """Angle between where a voice comes from and the nearest picture, seen from an ear [°].

    Loudspeakers that arrive within a millisecond of the one that leads draw the voice between
    them, by their sound pressures. None without a picture.
    """
    if not pictures:
        return None
    ear = np.asarray(talker.at)
    places = {one.id: np.asarray(one.at) for one in placed}
    leads = next(one for one in arrivals if one.loudspeaker == source)
    voice = np.zeros(3)
    for one in arrivals:
        if abs(one.time - leads.time) <= SUMMED:
            voice += 10 ** ((one.level_dba - leads.level_dba) / 20) * _unit(
                places[one.loudspeaker] - ear
            )
    picture = _unit(min((np.asarray(p) - ear for p in pictures), key=np.linalg.norm))
    return math.degrees(math.acos(float(np.clip(_unit(voice) @ picture, -1.0, 1.0))))


def _unit(way: Array) -> Array:
    return np.asarray(way / max(float(np.linalg.norm(way)), 1e-9))


def _uniformity(room: Room, level_dba: Array, spread: Sigmas) -> Quantity:
    """Loudest minus quietest ear; its chance is that of these two to be near enough."""
    loudest, quietest = int(np.argmax(level_dba)), int(np.argmin(level_dba))
    value = float(level_dba[loudest] - level_dba[quietest])
    sigma = 0.0
    if loudest != quietest:
        sigma = float(np.hypot(spread.apart_db[loudest], spread.apart_db[quietest]))
    promised = room.targets.uniformity_db
    found = promises.quantity("uniformity_db", value, sigma, promised)
    if promised is None:
        return found
    return promises.with_chance(found, tolerances.chance_of(promised - value, sigma))


def drive(room: Room, one: PlacedLoudspeaker, speech_1m_db: npt.ArrayLike) -> Drive:
    """How hard one loudspeaker works where a loudspeaker without trim plays such speech.

    Parameters
    ----------
    room : Room
        With its limit of ``speech-crest-db``.
    one : PlacedLoudspeaker
        With its trim.
    speech_1m_db : array_like, shape (7,)
        1 m on the axis of a loudspeaker without trim. [dB]

    Notes
    -----
    Peaks are the unweighted average with the crest of speech; the power is that of the peaks. The
    most that a pair plays is of both together, the sensitivity of each.
    """
    crest_db = room.targets.limit_in_force("speech-crest-db")
    own_db = np.asarray(speech_1m_db) + one.trim_db
    peak_db = float(levels.sum_levels_db(own_db)) + crest_db
    power = tap = None
    if isinstance(one.product, Loudspeaker) and not one.product.active:
        power = power_for(
            peak_db - crest_db,
            crest_db=crest_db,
            sensitivity_db=one.product.sensitivity_db,
            distance=1.0,
        )
        tap = next((t for t in sorted(one.product.taps_w) if t >= power), None)
    return Drive(
        loudspeaker=one.id,
        level_1m_dba=float(levels.a_weighted_level_db(own_db)),
        peak_1m_db=peak_db,
        max_level_db=one.max_level_db,
        headroom_db=one.max_level_db - peak_db,
        power_w=power,
        tap_w=tap,
    )

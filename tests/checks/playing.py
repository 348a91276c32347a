"""Playback made by hand for the cases of rules: what ears hear, without predicting it.

A case's ``playback`` may give ``ears`` by talking point (``sti``, ``level``, ``over_noise``,
``direction``, ``arrivals`` as rows [loudspeaker, m, ms, dBA], ``transfer`` for the index of every
octave), ``headroom`` [dB] and ``taps`` [W] by loudspeaker, ``mean`` [dBA] and ``uneven`` as value
and standard deviation [dB]. Distances are geometry; a loudspeaker of which nothing is said is heard
directly at 62 dBA 1 m away, and all of it is 6 dB more.
"""

from __future__ import annotations

import math
from typing import Any

from wellheard.catalog.catalogue import Catalogue
from wellheard.predict.evidence import Bands, Talker
from wellheard.predict.inbound import heard_from, level_quantity, state
from wellheard.predict.loudspeakers import placed_loudspeakers
from wellheard.predict.promises import quantity
from wellheard.predict.wayback import Arrival, Drive, Inbound, PlacedLoudspeaker, Playback
from wellheard.room.document import Room

FLAT: Bands = (60.0,) * 7


def playback_of(
    case: dict[str, Any], room: Room, catalogue: Catalogue, talkers: tuple[Talker, ...]
) -> Playback | None:
    """Playback of a case; None where no loudspeaker has a place."""
    placed = placed_loudspeakers(room, catalogue, talkers)
    if not placed or not talkers:
        return None
    given = case.get("playback", {})
    rows = tuple(_row(room, t, placed, given.get("ears", {}).get(t.id, {})) for t in talkers)
    levels = [row.level.value for row in rows]
    value, sigma = given.get("uneven", (max(levels) - min(levels), 1.0))
    return Playback(
        loudspeakers=placed,
        rows=rows,
        target_dba=given.get("mean", 70.0),
        mean_dba=given.get("mean", 70.0),
        level_1m_dba=68.0,
        speech_1m_db=FLAT,
        uniformity=_uniformity(room, value, sigma),
        uniformity_speech_db=value + 1.0,
        drives=tuple(
            _drive(one, given.get("headroom", {}).get(one.id, 15.0), given.get("taps", {}))
            for one in placed
        ),
    )


def _uniformity(room: Room, value: float, sigma: float) -> Any:
    found = quantity("uniformity_db", value, sigma, room.targets.uniformity_db)
    if found.chance is None:
        return found
    # The chance of not passing a limit is what that of reaching it leaves.
    return type(found)(**{**vars(found), "chance": 1.0 - found.chance})


def _row(
    room: Room, talker: Talker, placed: tuple[PlacedLoudspeaker, ...], given: dict[str, Any]
) -> Inbound:
    sti = quantity("sti_inbound", given.get("sti", 0.75), 0.03, room.targets.sti_inbound)
    level = level_quantity(room, given.get("level", 70.0), 1.5)
    arrivals = given.get("arrivals")
    if arrivals is None:
        arrivals = [_heard(one, math.dist(one.at, talker.at)) for one in placed]
    rows = tuple(
        sorted(
            (Arrival(n, m, ms / 1000, dba, dba + 6.0) for n, m, ms, dba in arrivals),
            key=lambda one: one.time,
        )
    )
    over_noise = given.get("over_noise", 25.0)
    quiet: Bands = (60.0 - over_noise,) * 7
    return Inbound(
        talker=talker,
        sti=sti,
        level=level,
        levels_db=FLAT,
        noise_db=quiet,
        c50_db=(10.0,) * 7,
        modulation_transfer_index=(given.get("transfer", 0.75),) * 7,
        direct_to_reverberant_db=-3.0,
        speech_to_noise_db=over_noise,
        arrivals=rows,
        heard_from=heard_from(rows),
        direction_deg=given.get("direction"),
        chance=min((q.chance for q in (sti, level) if q.chance is not None), default=1.0),
        binds="sti_inbound",
        state=state(room, sti, level),
        rating="excellent",
        category="B",
    )


def _heard(one: PlacedLoudspeaker, distance: float) -> list[Any]:
    ms = 1000 * (one.delay + distance / 343.0)
    return [one.id, distance, ms, 62.0 + one.trim_db - 20 * math.log10(max(distance, 0.1))]


def _drive(one: PlacedLoudspeaker, headroom_db: float, taps: dict[str, float]) -> Drive:
    tap = taps.get(one.device)
    return Drive(one.id, 68.0, 100.0 - headroom_db, 100.0, headroom_db, tap, tap)

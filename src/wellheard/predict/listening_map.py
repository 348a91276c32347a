"""What an ear anywhere on a plane would hear of the far end: middle values and low ends."""

from __future__ import annotations

from typing import Final

import numpy as np

from wellheard.arrays import Array
from wellheard.errors import InputError
from wellheard.predict import listening
from wellheard.predict.coverage import SEATED, Coverage, SeatValue, low_end, spread_out
from wellheard.predict.inbound import state
from wellheard.predict.listening_spread import sigmas
from wellheard.predict.loudspeakers import ears, played
from wellheard.predict.planes import Plane, free, level_plane
from wellheard.predict.scene import Scene
from wellheard.predict.wayback import Playback
from wellheard.room.document import Room

QUANTITIES: Final = ("sti_inbound", "listening_level_dba")
"""What can be mapped; both may be promised."""


def inbound_coverage(
    scene: Scene,
    playback: Playback,
    *,
    plane: Plane | None = None,
    spacing: float | None = None,
) -> dict[str, Coverage]:
    """STI and level for an ear anywhere on a plane, middle value and low end.

    Parameters
    ----------
    scene : Scene
        The room, or one space of a room that divides.
    playback : Playback
        Of the same.
    plane : Plane, optional
        By default level at 1.2 m, over all of the room.
    spacing : float, optional
        Widest distance of neighbours; by default what makes about 2 000 points. [m]

    Returns
    -------
    dict of str to Coverage
        By the names of ``QUANTITIES``.

    Raises
    ------
    InputError
        Nothing of the plane is in the room, or there are too many points.

    Notes
    -----
    The loudspeakers play at the level that the ledger sets them to. Points are the middles of even
    cells.
    """
    plane = level_plane(scene.room, SEATED) if plane is None else plane
    along, up = plane.grid(spacing, unit=scene.room.units)
    points = plane.points(along, up)
    inside = free(scene.room, points)
    if not inside.any():
        raise InputError("no point of the plane is inside the room and outside what is solid")
    values = _values(scene, playback, points[inside])
    return {
        quantity: Coverage(
            quantity=quantity,
            plane=plane,
            along=along,
            up=up,
            values=spread_out(value, inside),
            low=spread_out(low_end(quantity, value, sigma), inside),
            facing=(),
        )
        for quantity, (value, sigma) in values.items()
    }


def _values(scene: Scene, playback: Playback, points: Array) -> dict[str, tuple[Array, Array]]:
    """Middle value and standard deviation of every quantity at points, shape (points,)."""
    own = np.array([row.talker.at for row in playback.rows]).reshape(-1, 3)
    at = np.concatenate([points, own])
    heard = listening.together(
        scene, playback.loudspeakers, played(scene, playback.loudspeakers, ears(at))
    )
    speech_db = np.asarray(playback.speech_1m_db)
    found = listening.middle(heard, speech_1m_db=speech_db, noise_db=listening.noise_db(scene, at))
    spread = sigmas(scene, heard, found, speech_1m_db=speech_db, set_by=slice(len(points), len(at)))
    each = {
        "sti_inbound": (found.sti, spread.sti),
        "listening_level_dba": (found.level_dba, spread.level_db),
    }
    return {name: (v[: len(points)], s[: len(points)]) for name, (v, s) in each.items()}


def at_ears(room: Room, playback: Playback) -> dict[str, dict[str, SeatValue]]:
    """Both quantities at every talking point of the ledger, by its id."""
    return {
        row.talker.id: {
            one.name: SeatValue(
                one.value, one.low, None if one.target is None else state(room, one)
            )
            for one in (row.sti, row.level)
        }
        for row in playback.rows
    }

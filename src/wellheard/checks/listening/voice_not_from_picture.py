"""Voices that come from elsewhere than the faces."""

from __future__ import annotations

import math
from collections.abc import Iterator

from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.relaxation import limit_in_force
from wellheard.checks.wording import listed, place
from wellheard.predict.evidence import Evidence, Talker
from wellheard.predict.talkers import display_place
from wellheard.predict.wayback import Inbound

CODE = "voice-not-from-picture"


@rule(CODE, "note", strength="house", cites="", thresholds=(CODE,))
def voice_not_from_picture(evidence: Evidence) -> Iterator[Draft]:
    """The far end's voice comes from where its picture is.

    The voice is heard from the loudspeaker whose direct sound arrives first, unless another is
    10 dB louder; two that arrive within a millisecond draw it between them. Judged is the angle
    between it and the nearest picture, seen from each seat. Loudspeakers at the picture keep it,
    those in the ceiling do not, unless they are delayed behind one at the front. A note: speech
    is understood either way. Rooms without a picture have nothing to keep, and who is nearer to
    it than it is wide, as somebody who presents, is not asked.
    """
    if evidence.playback is None:
        return
    limit = limit_in_force(evidence, CODE)
    found: dict[str, list[Inbound]] = {}
    for row in evidence.playback.rows:
        away = row.direction_deg is not None and row.direction_deg > limit
        if away and not _beside(evidence, row.talker):
            found.setdefault(row.heard_from, []).append(row)
    devices = {one.id: one.device for one in evidence.playback.loudspeakers}
    for name, rows in found.items():
        worst = max(rows, key=lambda row: (row.direction_deg or 0.0, row.talker.id))
        angle = worst.direction_deg or 0.0
        yield Draft(
            at=f"devices.{devices[name]}",
            message=(
                f"At {listed([place(row.talker) for row in rows])} the far end is heard from "
                f"{name}, up to {angle:.0f}° from the picture; {limit:.0f}° are usual."
            ),
            value=angle,
            limit=limit,
            unit="deg",
            remedy=(
                f"Put loudspeakers at the picture, and delay {name} so that it arrives 5 to 15 ms "
                "after them."
            ),
        )


def _beside(evidence: Evidence, talker: Talker) -> bool:
    """Whether somebody is nearer to a picture than it is wide."""
    room = evidence.room
    return any(
        math.dist(talker.at, display_place(room, name)) < item.size[0]
        for name, item in room.furniture.items()
        if item.kind in ("display", "screen")
    )

"""Loudspeakers that are heard as an echo of another."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.relaxation import limit_in_force
from wellheard.checks.wording import decibels, listed, place
from wellheard.predict.evidence import Evidence
from wellheard.predict.wayback import Arrival, Inbound

CODE = "loudspeaker-late-arrival"
BELOW = "loudspeaker-late-arrival-db"

CLOSE = 0.010
"""How far apart the two arrive once they are set: within 5 to 15 ms (common practice) [s]."""


@rule(CODE, "warning", strength="house", cites="", thresholds=(CODE, BELOW))
def loudspeaker_late_arrival(evidence: Evidence) -> Iterator[Draft]:
    """No loudspeaker is heard as an echo of another.

    The direct sound of a second loudspeaker helps where it comes soon after the first, and
    disturbs where it comes more than 30 ms after it and is less than 10 dB weaker: distance (10 m
    are 29 ms) and delay stages add up. First is what the voice is heard from. The remedy is the
    delay that brings the earlier one to 10 ms before the later. One finding for each late
    loudspeaker, at the seat where it is worst.
    """
    if evidence.playback is None:
        return
    limit = limit_in_force(evidence, CODE)
    below_db = evidence.room.targets.house_limit(BELOW)
    if below_db is None:
        return
    worst: dict[str, list[tuple[float, Inbound, Arrival, Arrival]]] = {}
    for row in evidence.playback.rows:
        leads = next(one for one in row.arrivals if one.loudspeaker == row.heard_from)
        for one in row.arrivals:
            lag = one.time - leads.time
            if lag > limit and one.level_dba > leads.level_dba - below_db:
                worst.setdefault(one.loudspeaker, []).append((lag, row, leads, one))
    devices = {one.id: one.device for one in evidence.playback.loudspeakers}
    for name, found in worst.items():
        lag, row, leads, late = max(found, key=lambda each: (each[0], each[1].talker.id))
        where = listed([place(each[1].talker) for each in found])
        weaker = leads.level_dba - late.level_dba
        relation = f"{decibels(weaker)} weaker" if weaker >= 0 else f"{decibels(-weaker)} louder"
        yield Draft(
            at=f"devices.{devices[name]}",
            message=(
                f"At {place(row.talker)} loudspeaker {name} arrives {_ms(lag)} after "
                f"{leads.loudspeaker} and is {relation}: it is heard as an echo (at {where})."
            ),
            value=lag,
            limit=limit,
            unit="s",
            remedy=(
                f"Delay {leads.loudspeaker} by {_ms(lag - CLOSE)} more, turn {name} down by "
                f"{decibels(max(below_db - weaker, 0.0))}, or bring them nearer together."
            ),
        )


def _ms(seconds: float) -> str:
    return f"{1000 * seconds:.0f} ms"

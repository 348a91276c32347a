"""Loudspeakers that are heard as an echo of another."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.relaxation import limit_in_force
from wellheard.checks.wording import decibels, listed, place
from wellheard.predict.evidence import Evidence
from wellheard.predict.wayback import Arrival, Inbound, PlacedLoudspeaker

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
    delay that brings the two to 10 ms apart. One finding for each late loudspeaker, at the seat
    where it is worst.
    """
    if evidence.playback is None:
        return
    limit = limit_in_force(evidence, CODE)
    below_db = evidence.room.targets.house_limit(BELOW)
    if below_db is None:
        return
    worst: dict[str, list[tuple[float, Inbound, Arrival, Arrival]]] = {}
    for row in evidence.playback.rows:
        leads = row.leads
        for one in row.arrivals:
            lag = one.time - leads.time
            if lag > limit and one.level_dba > leads.level_dba - below_db:
                worst.setdefault(one.loudspeaker, []).append((lag, row, leads, one))
    placed = {one.id: one for one in evidence.playback.loudspeakers}
    for name, found in worst.items():
        lag, row, leads, late = max(found, key=lambda each: (each[0], each[1].talker.id))
        others = [place(each[1].talker) for each in found if each[1] is not row]
        too = f", and so it is at {listed(others)}" if others else ""
        weaker = leads.level_dba - late.level_dba
        relation = f"{decibels(weaker)} weaker" if weaker >= 0 else f"{decibels(-weaker)} louder"
        yield Draft(
            at=f"devices.{placed[name].device}",
            message=(
                f"At {place(row.talker)} loudspeaker {name} arrives {_ms(lag)} after "
                f"{leads.loudspeaker} and is {relation}: it is heard as an echo{too}."
            ),
            value=lag,
            limit=limit,
            unit="s",
            remedy=(
                f"{_delays(placed[name], leads.loudspeaker, lag - CLOSE)}, turn {name} down by "
                f"{decibels(max(below_db - weaker, 0.0))}, or bring them nearer together."
            ),
        )


def _delays(late: PlacedLoudspeaker, leads: str, seconds: float) -> str:
    """Which delay brings the two together: less of the late one's own, else more of the first's."""
    if late.delay > 0:
        return f"Delay {late.id} by {_ms(min(late.delay, seconds))} less"
    return f"Delay {leads} by {_ms(seconds)} more"


def _ms(seconds: float) -> str:
    return f"{1000 * seconds:.0f} ms"

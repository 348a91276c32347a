"""Playback that is louder than a meeting needs."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.acoustics.hearing import allowed_hours_niosh
from wellheard.checks.ears import dba, worst_of_each
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.relaxation import limit_in_force
from wellheard.checks.wording import place
from wellheard.predict.evidence import Evidence

CODE = "playback-level-high"

DAY = 24.0
"""[h]"""


@rule(CODE, "warning", strength="house", cites="", thresholds=(CODE,))
def playback_level_high(evidence: Evidence) -> Iterator[Draft]:
    """The far end is not played louder than ears bear for long.

    Average speech stays at or below 80 dBA at every seat. NIOSH recommends at most 8 hours a day
    at 85 dBA, and half the time for every 3 dB more; the message says how long that is here.
    Commissioning signals are another matter: begin 20 dB lower, warn people, keep a metre from
    every loudspeaker. The law of the place decides.
    """
    limit = limit_in_force(evidence, CODE)
    for owner, row in worst_of_each(evidence, lambda one: one.level.value):
        level = row.level.value
        if level <= limit:
            continue
        hours = float(allowed_hours_niosh(level))
        long = "no time limit in a day" if hours >= DAY else f"at most {_time(hours)} a day"
        yield Draft(
            at=owner,
            message=(
                f"{place(row.talker)} hears the far end at {dba(level)}; at most {dba(limit)} are "
                f"usual. NIOSH recommends {long} at that level."
            ),
            value=level,
            limit=limit,
            unit="dBA",
            remedy=(
                "Lower targets.playback_level_dba; have a limiter set before the amplifier. The "
                "law of the place decides."
            ),
        )


def _time(hours: float) -> str:
    return f"{hours:.1f} h" if hours >= 1.0 else f"{60 * hours:.0f} min"

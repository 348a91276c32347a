"""Speech transmission index of the far end, ear by ear."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.checks.ears import (
    brings_most,
    sti_without_noise,
    sti_without_reverberation,
    worst_of_each,
)
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.seat_targets import chance_of, lacking
from wellheard.checks.wording import decibels, percent, place, short_of
from wellheard.predict.evidence import Evidence
from wellheard.predict.wayback import Inbound

PROMISES = ("sti_inbound", "playback_level_dba", "listening_level_dba", "uniformity_db")
"""What cannot be judged without a loudspeaker."""


@rule(
    "target-missed-sti-inbound",
    "error",
    strength="house",
    cites="targets.sti_inbound of this document; STI after IEC 60268-16",
    relaxable=False,
)
def target_missed_sti_inbound(evidence: Evidence) -> Iterator[Draft]:
    """Every seat hears the far end at the promised STI.

    Judged with all loudspeakers at the playback level, their arrival times, the room's
    reverberation, its noise at the ear, hearing threshold and masking. An error where the
    predicted middle value misses the target, a warning ("at risk") where the value keeps it but
    the chance is below `targets.chance`. The remedy says what limits the seat: that without which
    the STI would be the higher. Where the document states a promise about listening and no
    loudspeaker has a place, nothing is assessed.
    """
    if evidence.playback is None:
        yield from _not_assessed(evidence)
        return
    target = evidence.room.targets.sti_inbound
    if target is None:
        return
    wanted = evidence.room.targets.chance
    for owner, row in worst_of_each(evidence, lambda one: -one.sti.value):
        chance = chance_of(row.sti, target)
        missed = row.sti.value < target
        if not missed and (wanted is None or chance >= wanted):
            continue
        value, likely = f"{row.sti.value:.2f}", percent(chance)
        if missed:
            value = short_of(value, f"{target:.2f}")
        if wanted is not None and chance < wanted:
            likely = short_of(likely, percent(wanted))
        asked = "" if wanted is None else f" ({percent(wanted)} wanted)"
        verb = "misses" if missed else "is at risk of missing"
        yield Draft(
            at=owner,
            message=(
                f"{place(row.talker)} {verb} STI {target:.2f} of the far end: {value}, "
                f"chance {likely}{asked}."
            ),
            value=row.sti.value,
            limit=target,
            remedy=_remedy(row, lacking(row.sti, target, wanted)),
            severity="error" if missed else "warning",
        )


def _not_assessed(evidence: Evidence) -> Iterator[Draft]:
    targets = evidence.room.targets
    stated = [
        name
        for name in PROMISES
        if name in targets.model_fields_set and getattr(targets, name) is not None
    ]
    if stated:
        yield Draft(
            at=f"targets.{stated[0]}",
            message=(
                "No loudspeaker has a place: what is promised about listening in this room is not "
                "assessed."
            ),
            remedy="Place loudspeakers, or set these promises to null.",
            severity="note",
            status="not-assessed",
        )


def _remedy(row: Inbound, lacking: float) -> str:
    quiet, dry = sti_without_noise(row), sti_without_reverberation(row)
    causes = (
        f"about {quiet:.2f} without noise, {dry:.2f} without reverberation; {lacking:.3f} are "
        "lacking"
    )
    if quiet >= dry:
        return (
            f"Noise limits it ({causes}): speech is {decibels(row.speech_to_noise_db)} over the "
            "noise there. Quieten the room, or play louder within the promised range."
        )
    return (
        f"Reverberation limits it ({causes}): bring a loudspeaker nearer than {brings_most(row)} "
        "is, take one of a narrower angle, or absorb more in the room."
    )

"""Mid-frequency reverberation time against the promise, or against the usual advice."""

from __future__ import annotations

import math
from collections.abc import Iterator
from statistics import NormalDist

from wellheard.acoustics.recommended import (
    LARGEST,
    LARGEST_INCLUSIVE,
    SMALLEST,
    recommended_time_communication,
    recommended_time_inclusive,
)
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.relaxation import limit_in_force
from wellheard.checks.wording import about, percent, volume
from wellheard.predict.evidence import Bands, Evidence
from wellheard.room.house_limits import HOUSE_LIMITS

CODE = "target-missed-reverberation"


@rule(CODE, "error", strength="house", cites="", thresholds=(CODE,))
def target_missed_reverberation(evidence: Evidence) -> Iterator[Draft]:
    """The room does not ring longer than promised or recommended.

    Judged is the mean of 500 Hz and 1 kHz. With `targets.reverberation` a longer
    time is an error, and one that keeps it with less than `targets.chance` a
    warning. Without it the time is compared with the recommendation of
    DIN 18041 for communication (A3, 0.32·lg V − 0.17 s): more than 1.2 times that
    is a warning. The inclusive value (A4, for hearing loss and second languages) is
    named beside it. Outside 30 to 5000 m³ the standard recommends nothing and
    the time is not assessed.
    """
    decay = evidence.reverberation
    time = _mid(decay.time)
    promised = evidence.room.targets.reverberation
    if promised is not None:
        yield from _against_promise(evidence, time, promised)
        return
    if not SMALLEST <= decay.volume <= LARGEST:
        yield Draft(
            at="space",
            message=(
                f"{time:.2f} s of reverberation in {volume(evidence, decay.volume)}: there is no "
                f"recommendation below {volume(evidence, SMALLEST)} or above "
                f"{volume(evidence, LARGEST)} to compare it with."
            ),
            value=time,
            unit="s",
            remedy="State a target under targets.reverberation.",
            severity="note",
            status="not-assessed",
        )
        return
    factor = limit_in_force(evidence, CODE)
    advised = recommended_time_communication(decay.volume)
    if time <= factor * advised:
        return
    inclusive = (
        f" (inclusive, A4: {recommended_time_inclusive(decay.volume):.2f} s)"
        if decay.volume <= LARGEST_INCLUSIVE
        else ""
    )
    yield Draft(
        at="space.finishes",
        message=(
            f"The room rings for {time:.2f} s at 500 Hz and 1 kHz, {time / advised:.1f} times the "
            f"{advised:.2f} s recommended for communication in "
            f"{volume(evidence, decay.volume)}{inclusive}."
        ),
        value=time,
        limit=factor * advised,
        unit="s",
        remedy=f"{_more_absorption(evidence, factor * advised)}; ceiling first, then walls.",
        severity="warning",
        source=f"{HOUSE_LIMITS[CODE].source}; use A3",
    )


def _against_promise(evidence: Evidence, time: float, promised: float) -> Iterator[Draft]:
    wanted = evidence.room.targets.chance
    sigma = _mid(evidence.reverberation.log_sigma)
    spread = math.log(promised / time)
    chance = NormalDist().cdf(spread / sigma) if sigma > 0 else float(spread >= 0)
    missed = time > promised
    if not missed and (wanted is None or chance >= wanted):
        return
    asked = "" if wanted is None else f" ({percent(wanted)} wanted)"
    reserve = 0.0 if wanted is None else NormalDist().inv_cdf(wanted) * sigma
    verb = "misses" if missed else "is at risk of missing"
    yield Draft(
        at="targets.reverberation",
        message=(
            f"The room {verb} {promised:.2f} s of reverberation: "
            f"{time:.2f} s at 500 Hz and 1 kHz, chance {percent(chance)}{asked}."
        ),
        value=time,
        limit=promised,
        unit="s",
        remedy=f"{_more_absorption(evidence, promised * math.exp(-reserve))}.",
        severity="error" if missed else "warning",
        source="targets.reverberation of this document",
    )


def _more_absorption(evidence: Evidence, time: float) -> str:
    """Equivalent absorption area that is lacking, by Sabine from the predicted times."""
    decay = evidence.reverberation
    now = _mid(decay.time)
    constant = 24 * math.log(10) / decay.speed_of_sound
    lacking = about(evidence, constant * decay.volume * (1 / time - 1 / now))
    return f"Add about {lacking} of equivalent absorption area at 500 Hz and 1 kHz"


def _mid(octaves: Bands) -> float:
    """Mean of 500 Hz and 1 kHz."""
    return (octaves[2] + octaves[3]) / 2

"""Lift that is too near to howling."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.checks.lifting import CAUTION, at, in_use, octave
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.wording import decibels, some_decibels
from wellheard.predict.evidence import Evidence

MARGIN = "stability-margin-db"
LOW = 250.0
"""Up to here a high-pass filter takes little from a voice (common practice, no source [C]) [Hz]."""


@rule("lift-howls", "error", strength="house", cites="", thresholds=(MARGIN,))
def lift_howls(evidence: Evidence) -> Iterator[Draft]:
    """A lift keeps its margin before it howls.

    What a loudspeaker plays comes back to the microphones: the loop of all pairs stays 6 dB below
    the gain at which it would howl, the peaks of the room's response included. Less is a warning,
    nothing left an error. Peaks are those to be expected of such a room; single rooms differ by
    two or three decibels, and people who move shift them. Filters that cut what howls first are
    not included.
    """
    found = in_use(evidence)
    if found is None or found.margin_db >= found.wanted_margin_db - 1e-6:
        return
    howls = found.margin_db < 0.0
    lower_db = found.wanted_margin_db - found.margin_db
    left = (
        f"The lift is {decibels(-found.margin_db)} beyond the gain at which it howls"
        if howls
        else f"The lift has {decibels(found.margin_db)} left before it howls"
    )
    yield Draft(
        at=at(evidence, found.microphone, found.loudspeaker),
        message=(
            f"{left}, first near {octave(found.octave)} from {found.loudspeaker} to "
            f"{found.microphone}; {decibels(found.wanted_margin_db)} are wanted. {CAUTION}"
        ),
        value=found.margin_db,
        limit=found.wanted_margin_db,
        unit="dB",
        remedy=(
            f"Lower the lift by {some_decibels(lower_db)}, leave {found.microphone} out of "
            f"{found.loudspeaker}, bring the microphone nearer to its talkers, or move the two "
            f"apart.{_filter(found.octave)}"
        ),
        severity="error" if howls else "warning",
    )


def _filter(octave_of_howl: float) -> str:
    if octave_of_howl > LOW:
        return ""
    return (
        " A high-pass filter in the lift takes that octave out of the loop; the figures here know "
        "no filters."
    )

"""Echo that neither the room nor a canceller takes away."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.checks.echoes import LEAST, only_tail_lacks, why_needed
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.wording import decibels, percent
from wellheard.predict import tolerances
from wellheard.predict.echo import bounds, held_by
from wellheard.predict.evidence import Evidence
from wellheard.predict.wayback import Echo

CODE = "echo-loss-missed"

REMEDIES = {
    "tail": "Take a canceller with a longer tail, or absorb more in the room",
    "distortion": "Take a loudspeaker that distorts less, or play less loudly",
    "noise": "Quieten the room",
    "rated": "Take a canceller that adds more, or weaken the echo before it is cancelled",
    "practice": (
        "Take a canceller whose sheet states that it adds more, or weaken the echo before it is "
        "cancelled"
    ),
}


@rule(
    CODE,
    "error",
    strength="house",
    cites="ITU-T G.107 talker echo relation [L], held where the acceptable curve of ITU-T G.131 "
    "passes [M], less the far terminal's 10 dB [L]; bounds of a canceller: common practice [C]",
    thresholds=(
        "canceller-linear-db",
        "canceller-suppression-db",
        "canceller-under-noise-db",
        "loudspeaker-distortion",
    ),
)
def echo_loss_missed(evidence: Evidence) -> Iterator[Draft]:
    """The far end hears no more of itself than the delay of the call allows.

    Needed is `targets.echo_loss_db`, or what the one-way delay asks. The room gives its return
    loss at playback level, weighted over 300–3400 Hz. A canceller adds what its tail, the
    loudspeakers' distortion and the noise at the microphone leave it, whose residues add as
    energies, and suppression of the residue: together no more than its sheet states, and where
    that states nothing no more than practice. An error where that is too little, a warning ("at
    risk") where talkers who are louder or quieter than usual may make it so. Where only the tail
    is to blame, `tail-too-short` says so instead; where nothing cancels, `canceller-missing`.
    """
    promised = evidence.room.targets.echo_loss_db
    if promised is not None and evidence.playback is None and not evidence.echo:
        yield Draft(
            at="targets.echo_loss_db",
            message=(
                f"An echo loss of {decibels(promised)} is promised, but no loudspeaker that has a "
                "place plays the far end: not assessed."
            ),
            limit=promised,
            unit="dB",
            remedy="Place the loudspeakers, or set targets.echo_loss_db to null.",
            severity="note",
            status="not-assessed",
        )
    for one in evidence.echo:
        if one.can_add_db is None or one.must_add_db <= 0.0:
            continue
        missing = one.must_add_db - one.can_add_db
        if missing > 0.0:
            if not only_tail_lacks(one):
                yield _draft(evidence, one, f"{decibels(missing)} are lacking", severity="error")
        elif one.bound_tail_db is None:
            yield Draft(
                at=f"devices.{one.microphone}",
                message=(
                    f"The tail of the canceller of {one.microphone} is not stated: whether it adds "
                    f"the {decibels(one.must_add_db)} of echo loss that are wanted is not assessed."
                ),
                limit=one.needed_db,
                unit="dB",
                remedy=f"Ask for the longest echo that {one.canceller} cancels.",
                severity="note",
                status="not-assessed",
            )
        elif one.state == "at risk":
            chance = tolerances.chance_of(-missing, tolerances.EFFORT_SIGMA_DB)
            spare = f"{decibels(-missing)} to spare, chance {percent(chance)}"
            yield _draft(evidence, one, f"at risk with {spare}", severity="warning")


def _draft(evidence: Evidence, one: Echo, verdict: str, *, severity: str) -> Draft:
    assert one.can_add_db is not None
    bound = held_by(one)
    return Draft(
        at=f"devices.{one.microphone}",
        message=(
            f"The echo that {one.microphone} sends back loses {decibels(one.return_loss_db)} in "
            f"the room and at most {decibels(one.can_add_db)} in the canceller of "
            f"{one.canceller}; {decibels(one.needed_db)} are needed ({why_needed(evidence)}): "
            f"{verdict}."
        ),
        value=one.return_loss_db + one.can_add_db,
        limit=one.needed_db,
        unit="dB",
        remedy=(
            f"{REMEDIES[bound]} ({_allows(one, bound)} and suppression "
            f"{decibels(one.suppression_db)}). Or {_apart(one)}, or play less loudly."
        ),
        severity="error" if severity == "error" else "warning",
    )


def _allows(one: Echo, bound: str) -> str:
    """What the bound that holds leaves the filter, and what all of them do, in words."""
    assert one.can_add_db is not None
    alone_db = bounds(one)[bound]
    if bound == "rated":
        return f"the sheet allows {decibels(alone_db)}"
    together = one.can_add_db - one.suppression_db
    if alone_db - together <= LEAST:
        return f"{bound} allows {decibels(alone_db)}"
    return f"{bound} alone allows {decibels(alone_db)}, with what else is left {decibels(together)}"


def _apart(one: Echo) -> str:
    """What would make the talkers louder re the loudspeakers, in words."""
    others = [(name, loss) for name, loss in one.by_loudspeaker_db if name != one.microphone]
    if not others:
        return f"seat people nearer to {one.microphone}"
    loud = min(others, key=lambda pair: pair[1])[0]
    return (
        f"bring {one.microphone} nearer to its talkers or farther from {loud}, take a narrower "
        "microphone"
    )

"""What comes back of the far end at every microphone, and what its canceller adds."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

from wellheard.measurement.canceller_trial import SETTLED_WITHIN_DB
from wellheard.measurement.results import CancellerResult, EchoLoss
from wellheard.predict.tolerances import EFFORT_SIGMA_DB
from wellheard.predict.wayback import Echo
from wellheard.proving.case import RESPONSES, Case, Flaw, sentence
from wellheard.proving.compare_inbound import SURROUNDINGS
from wellheard.proving.conditions import Way
from wellheard.proving.deciding import (
    CANCELLER_SIGMA_DB,
    LOSS_SIGMA_DB,
    Promise,
    Reading,
    Step,
    judged,
    predicted,
    shown,
    undecided,
)
from wellheard.proving.verdict import Compared

BACK: Final = ("far end", "loudspeaker", "microphone")
"""Where an echo may come from."""

AT_LEAST: Final = ("echo-in-noise", "near-end-talks")
"""Codes of faults after which a loss is so much at least: noise hides the rest."""

NOTHING_ADDED: Final = "nothing-added"
"""Code of the fault of a trial that began when the canceller had converged already."""

LOUDER = "Record it again with the far end louder, while the room is silent."


def rows(case: Case) -> Iterator[Compared]:
    """The loss that the far end needs, at every microphone that hears a loudspeaker."""
    for one in case.alike.promised.echo:
        yield _row(case, one)


def _row(case: Case, one: Echo) -> Compared:
    microphone = one.microphone
    promise = Promise(
        "echo_loss_db",
        microphone,
        "dB",
        (one.needed_db, None),
        f"Record a sweep from the far end at the output of {microphone}, its canceller switched "
        "off, and then what the canceller is given and sends while the far end talks.",
    )
    losses, flaws = _losses(case, microphone)
    trials = _trials(case, microphone)
    broken = case.flaw_of(case.recordings(("echo",), lambda way: _at(way, microphone)))
    broken = broken or _idle(trials)
    added = [t.added_db for t in trials.values() if _adds(t) and t.added_db is not None]
    reading = _reading(losses, trials, added)
    if reading is None:
        flaw = next((one for one in (*flaws, broken) if one is not None), None)
        if flaw is None:
            return undecided(promise, "Not measured.")
        return undecided(promise, flaw.why, decide=flaw.decide)
    there = case.alike.echo(microphone)
    tested = None
    steps: tuple[Step, ...] = ()
    if there is not None:
        can_add_db = (one.can_add_db or 0.0) if added else 0.0
        tested = predicted(
            "echo_loss_db",
            "dB",
            there.return_loss_db + can_add_db,
            EFFORT_SIGMA_DB,
            one.needed_db,
        )
        steps = (Step(SURROUNDINGS, one.return_loss_db - there.return_loss_db),)
    found = judged(promise, reading, tested=tested, steps=steps)
    if added or found.word == "kept" or one.canceller is None:
        return found
    if broken is not None:
        return undecided(promise, broken.why, decide=broken.decide, reading=reading, tested=tested)
    return undecided(
        promise,
        f"{found.why} What the canceller of {one.canceller} adds was not measured.",
        decide=f"Record what the canceller of {one.canceller} is given and sends while the far "
        "end talks, for ten seconds or longer.",
        reading=reading,
        tested=tested,
    )


def _reading(
    losses: dict[str, EchoLoss], trials: dict[str, CancellerResult], added: list[float]
) -> Reading | None:
    """What room and canceller take away together, as far as that was measured."""
    before = [one.loss_db for one in losses.values()]
    if not before:
        before = [t.before_db for t in trials.values() if t.before_db is not None and _adds(t)]
    if not before:
        return None
    loss_db = math.fsum(before) / len(before)
    more_db, sigma, lasting = 0.0, LOSS_SIGMA_DB, 0.0
    how = f"{shown(loss_db, 'dB')} in the room"
    if added:
        more_db = math.fsum(added) / len(added)
        sigma = math.hypot(LOSS_SIGMA_DB, CANCELLER_SIGMA_DB / math.sqrt(len(added)))
        lasting = LOSS_SIGMA_DB
        how += f", {shown(more_db, 'dB')} by the canceller"
    counted = trials if added or not losses else {}
    faults = [f for loss in losses.values() for f in loss.faults]
    faults += [f for trial in counted.values() for f in trial.faults]
    at_least = any(fault.code in AT_LEAST for fault in faults)
    return Reading(
        loss_db + more_db,
        sigma,
        (*losses, *counted),
        f"{how}, with the gains of that day.",
        lasting=lasting,
        count=max(len(added), 1),
        bound="least" if at_least else "",
        sharper=LOUDER if at_least else "",
    )


def _adds(trial: CancellerResult) -> bool:
    """Whether it began before the canceller had converged, so that it shows what that adds."""
    return trial.added_db is not None and trial.added_db >= SETTLED_WITHIN_DB


def _idle(trials: dict[str, CancellerResult]) -> Flaw | None:
    """Why the first trial that does not show what the canceller adds does not."""
    for name, trial in trials.items():
        fault = next((f for f in trial.faults if f.code == NOTHING_ADDED), None)
        if fault is not None:
            return Flaw(f"{name}: {fault.message}.", f"{sentence(fault.remedy)}, and record again.")
    return None


def _losses(case: Case, microphone: str) -> tuple[dict[str, EchoLoss], list[Flaw]]:
    """Return losses of all loudspeakers at a microphone by recording, nothing cancelling."""

    def fits(way: Way) -> bool:
        return _at(way, microphone) and way.source is not None and way.source.kind in BACK

    usable: dict[str, EchoLoss] = {}
    flaws: list[Flaw] = []
    for name in case.recordings(RESPONSES, fits):
        taken = case.taken(name)
        if isinstance(taken, Flaw):
            flaws.append(taken)
        elif not case.of_all_loudspeakers(name):
            flaws.append(
                Flaw(
                    f"{name} is of one of several loudspeakers; what is needed is of all.",
                    f"Record it from the far end at the output of {microphone}.",
                )
            )
        elif taken.echo is not None:
            fault = next((f for f in taken.echo.faults if f.severity == "error"), None)
            if fault is None:
                usable[name] = taken.echo
            else:
                flaws.append(Flaw(f"{name}: {fault.message}.", f"{sentence(fault.remedy)}."))
    return usable, flaws


def _trials(case: Case, microphone: str) -> dict[str, CancellerResult]:
    names = case.recordings(("echo",), lambda way: _at(way, microphone))
    each = {name: case.taken(name) for name in names}
    return {
        name: one.trial
        for name, one in each.items()
        if not isinstance(one, Flaw) and one.trial is not None
    }


def _at(way: Way, microphone: str) -> bool:
    return way.receiver is not None and (way.receiver.kind, way.receiver.id) == (
        "microphone",
        microphone,
    )

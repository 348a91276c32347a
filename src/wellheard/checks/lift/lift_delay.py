"""Lift that comes too late."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.checks.lifting import at, in_use
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.relaxation import limit_in_force
from wellheard.checks.wording import listed
from wellheard.predict.evidence import Evidence
from wellheard.predict.wayback import Lift

CODE, ECHO = "lift-delay", "lift-echo"


@rule(CODE, "warning", strength="house", cites="", thresholds=(CODE, ECHO))
def lift_delay(evidence: Evidence) -> Iterator[Draft]:
    """A lifted voice is not late.

    Microphone, processor, amplifier and loudspeaker take at most 20 ms together, as far as their
    sheets say. At no seat does the lifted voice come more than 30 ms after the natural one and
    louder than it: there it is heard as a second voice.
    """
    found = in_use(evidence)
    if found is None:
        return
    limit = limit_in_force(evidence, CODE)
    if found.electronics > limit + 1e-9:
        yield Draft(
            at=at(evidence),
            message=(
                f"A lifted voice takes {_ms(found.electronics)} through its devices; at most "
                f"{_ms(limit)} are usual."
            ),
            value=found.electronics,
            limit=limit,
            unit="s",
            remedy=(
                "Take the lift by a shorter way: out of the microphone's own processor, without "
                "noise reduction, and by fewer hops of networked audio."
            ),
        )
    yield from _second_voice(evidence, found)


def _second_voice(evidence: Evidence, found: Lift) -> Iterator[Draft]:
    limit = evidence.room.targets.house_limit(ECHO)
    if limit is None:
        return
    late = sorted(
        (
            (row.after, row)
            for row in found.rows
            if row.after is not None
            and row.brought_dba is not None
            and row.after > limit + 1e-9
            and row.brought_dba > row.natural_dba
        ),
        key=lambda each: -each[0],
    )
    if not late:
        return
    after, worst = late[0]
    yield Draft(
        at=at(evidence),
        message=(
            f"At {worst.talker.id} the lifted voice of {worst.speaker} comes {_ms(after)} after "
            f"the natural one and is louder: a second voice is heard. At most {_ms(limit)} are "
            f"usual. Over it: {listed([row.talker.id for _, row in late])}."
        ),
        value=after,
        limit=limit,
        unit="s",
        remedy="Lower the lift there, or take a way with less delay.",
    )


def _ms(seconds: float) -> str:
    return f"{1000.0 * seconds:.0f} ms"

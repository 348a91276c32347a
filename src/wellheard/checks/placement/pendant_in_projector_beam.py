"""Nothing that hangs throws its shadow on the picture."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.checks.hanging import hung
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.separation import TOUCH
from wellheard.checks.wording import length, some_length
from wellheard.predict.evidence import Evidence
from wellheard.predict.hanging import beams, projectors

CODE = "pendant-in-projector-beam"


@rule(CODE, "warning", strength="house", cites="common practice, no source [C]")
def pendant_in_projector_beam(evidence: Evidence) -> Iterator[Draft]:
    """No hanging device stands in a projector's beam.

    The beam is the pyramid from the projector to the four corners of the nearest screen. A
    projector is a noise source of that kind, whose place counts as its lens, or an `overhead` of
    that kind, whose lens is taken in the middle of its underside. The housing and the rod or
    cable above it must both stay out. A hanging device with a projector and no screen is not
    assessed.
    """
    lenses = projectors(evidence.room)
    things = hung(evidence) if lenses else ()
    if not things:
        return
    found = beams(evidence.room)
    if not found:
        for path in lenses:
            yield _not_assessed(path)
    for beam in found:
        for thing in things:
            depth = beam.light.depth(thing.body)
            part = thing.id
            if depth <= TOUCH:
                depth = beam.light.depth(thing.rod)
                part = f"The rod or cable of {thing.id}"
            if depth <= TOUCH:
                continue
            yield Draft(
                at=f"devices.{thing.id}",
                message=(
                    f"{part} reaches {length(evidence, depth)} into the beam from "
                    f"{beam.projector} to {beam.screen}; nothing may stand in it."
                ),
                value=depth,
                limit=0.0,
                unit="m",
                remedy=(
                    f"Move {thing.id} by "
                    f"{some_length(evidence, depth)} or more out of the beam, or "
                    "hang it behind the projector."
                ),
            )


def _not_assessed(path: str) -> Draft:
    return Draft(
        at=path,
        message=(
            f"No screen says where {path.rpartition('.')[2]} throws its picture: whether what "
            "hangs stands in its beam is not assessed."
        ),
        remedy="Enter the projected picture under furniture, kind screen.",
        severity="note",
        status="not-assessed",
    )

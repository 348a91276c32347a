"""The canceller in a computer's conference software."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.checks.cancelling import PRACTICE, said
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.wording import listed
from wellheard.predict.evidence import Evidence
from wellheard.signal.ports import split


@rule("canceller-of-computer", "note", strength="house", cites=PRACTICE)
def canceller_of_computer(evidence: Evidence) -> Iterator[Draft]:
    """Where a device cancels, the canceller of the computer's own software is off, or told of it.

    Conference software cancels echo by itself, behind everything else, and two cancellers in
    series pump. A document that says how it is set, with a canceller on the computer that is
    bypassed or not, is taken at its word; one that is not bypassed counts as the second.
    """
    graph = evidence.signal
    told = {split(s.on)[0] for s in evidence.room.processing.values() if s.kind == "canceller"}
    for name, unit in graph.units.items():
        if unit.equipment != "computer" or name in told:
            continue
        first = dict.fromkeys(
            path.cancellers[0]
            for microphone in graph.microphones
            for path in graph.paths_of(microphone)
            if name in path.devices and path.cancellers
        )
        if first:
            yield Draft(
                at=f"equipment.{name}",
                message=(
                    f"The conference software on {name} cancels echo by itself, behind "
                    f"{listed([said(stage) for stage in first], most=2)}."
                ),
                remedy=(
                    "Switch it off there, or tell it that the device cancels; then enter under "
                    f"processing a canceller on {name}.usb with bypassed: true."
                ),
            )

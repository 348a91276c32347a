"""Cables and stages at ports that are not there."""

from __future__ import annotations

import difflib
from collections.abc import Iterator

from wellheard.catalog.products import Processor
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.wording import listed
from wellheard.predict.evidence import Evidence
from wellheard.signal.ports import Unit, split


@rule("port-unknown", "error", strength="product", cites="the ports of the product")
def port_unknown(evidence: Evidence) -> Iterator[Draft]:
    """Every port that the document names is there.

    The ports of a device are those of its product; a computer has usb, network, line-out and
    hdmi-out, a codec line-in, hdmi-in and control besides, a display hdmi and control. Inside, at
    `far-end` and `send` of processors, combined devices, computers and codecs and at `microphone`
    and `loudspeaker` of combined ones, there are stages and references but no cables. Of other
    equipment nothing is known, and any name will do. What stands at a port that is not there is
    left out of the signal graph. Microphone ports above the last of a processor are found by
    `ports-exceeded`.
    """
    for name, link in evidence.room.links.items():
        for end in (link.from_, link.to):
            yield from _cable(evidence, name, end)
    for name, stage in evidence.room.processing.items():
        for role, port in (
            ("on", stage.on),
            ("reference", stage.reference),
            *((f"sources.{i}", source) for i, source in enumerate(stage.sources)),
        ):
            unit = _unit(evidence, port)
            if port is not None and unit is not None and not unit.knows(split(port)[1]):
                word = {"on": "works on", "reference": "listens to"}.get(role, "takes in")
                yield _draft(
                    f"processing.{name}.{role}",
                    f"Stage {name} {word} {port}",
                    unit,
                    split(port)[1],
                    unit.names,
                )


def _cable(evidence: Evidence, name: str, end: str) -> Iterator[Draft]:
    unit, port = _unit(evidence, end), split(end)[1]
    if unit is None or unit.open or port in unit.ports:
        return
    if isinstance(unit.product, Processor) and port.rstrip("0123456789") == "mic-":
        return  # ports-exceeded
    what = f"Link {name} ends at {end}"
    if port in unit.virtual:
        what += ", which is inside it"
    yield _draft(f"links.{name}", what, unit, port, tuple(unit.ports))


def _unit(evidence: Evidence, port: str | None) -> Unit | None:
    return None if port is None else evidence.signal.units.get(split(port)[0])


def _draft(at: str, what: str, unit: Unit, port: str, allowed: tuple[str, ...]) -> Draft:
    virtual = [name for name in unit.virtual if name in allowed]
    inside = f", and inside it {listed(virtual)}" if virtual else ""
    near = difflib.get_close_matches(port, allowed, n=1, cutoff=0.6)
    return Draft(
        at=at,
        message=(
            f"{what}, and {unit.id} has no such port: it has "
            f"{listed(_shortly(unit)) or 'none'}{inside}."
        ),
        remedy=f"Did you mean {unit.id}.{near[0]}?" if near else f"Name a port of {unit.id}.",
    )


def _shortly(unit: Unit) -> list[str]:
    """Ports by sort: ``mic-1 to mic-4`` for four of them."""
    return [
        names[0] if len(names) == 1 else f"{names[0]} to {names[-1]}"
        for names in unit.sorts.values()
    ]

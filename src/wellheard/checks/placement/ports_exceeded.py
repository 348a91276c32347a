"""Microphones against the ports of the processors."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator

from wellheard.catalog.products import Processor
from wellheard.checks import wiring
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.wording import listed
from wellheard.predict.evidence import Evidence, PlacedDevice, PlacedMicrophone
from wellheard.signal.matching import largest_matching, needs_port, stated_link

PORT = re.compile(r"mic-([0-9]+)")


@rule(
    "ports-exceeded",
    "error",
    strength="product",
    cites="the processor's microphone ports",
)
def ports_exceeded(evidence: Evidence) -> Iterator[Draft]:
    """Every microphone has a port of the right kind to end at.

    Stated links are held to the ports there are: no port above the
    last, none twice. The microphones without a link are then matched with what is
    free; those that no port of their kind is left for are named. A combined device that
    connects to a computer by itself needs none. Without a processor in the document
    the ports are not assessed.
    """
    needing = [m for m in evidence.microphones if needs_port(m.product)]
    known = wiring.processors(evidence)
    yield from _stated(evidence)
    if not needing:
        return
    if not known:
        yield Draft(
            at="devices",
            message=(
                f"No processor is in the document: ports for {len(needing)} "
                f"microphone{'s' if len(needing) > 1 else ''} are not assessed."
            ),
            value=float(len(needing)),
            remedy="Add the processor, new or owned.",
            severity="note",
            status="not-assessed",
        )
        return
    left = _unmatched(evidence, needing, known)
    if left:
        ports = sum(product.microphone_ports for _, product in known)
        kinds = sorted({m.product.link.kind for m in left})
        yield Draft(
            at="devices",
            message=(
                f"No {listed(kinds)} port is left for {listed([m.id for m in left])}: "
                f"{_many(len(needing), 'microphone')}, {_many(ports, 'port')} on "
                f"{listed([device.id for device, _ in known])}."
            ),
            value=float(len(needing)),
            limit=float(len(needing) - len(left)),
            remedy="Take a processor with more ports of that kind, or add one.",
        )


def _many(count: int, thing: str) -> str:
    return f"{count} {thing}{'' if count == 1 else 's'}"


def _stated(evidence: Evidence) -> Iterator[Draft]:
    """Links to a microphone port that does not exist, or that is taken."""
    ports = {d.id: d.product for d in evidence.others if isinstance(d.product, Processor)}
    used: Counter[str] = Counter()
    for name, link in evidence.room.links.items():
        for end in (link.from_, link.to):
            device, _, port = end.partition(".")
            number = PORT.fullmatch(port)
            if device not in ports or number is None:
                continue
            used[end] += 1
            there = ports[device].microphone_ports
            if not 1 <= int(number[1]) <= there:
                yield Draft(
                    at=f"links.{name}",
                    message=f"Link {name} ends at {end}; {device} has {there} microphone ports.",
                    value=float(number[1]),
                    limit=float(there),
                    remedy=f"Use mic-1 to mic-{there}, or a processor with more ports.",
                )
            elif used[end] == 2:
                yield Draft(
                    at=f"links.{name}",
                    message=f"Link {name} ends at {end}, where another link ends already.",
                    value=2.0,
                    limit=1.0,
                    remedy="Use a free port.",
                )


def _unmatched(
    evidence: Evidence,
    needing: list[PlacedMicrophone],
    known: tuple[tuple[PlacedDevice, Processor], ...],
) -> list[PlacedMicrophone]:
    """Microphones that stay without a port in a largest matching with the ports there are."""
    products = {device.id: product for device, product in known}
    ends: dict[str, str] = {}
    for microphone in needing:
        link = stated_link(evidence.room.links, microphone.id)
        if link is not None:
            ends[microphone.id] = link[2].partition(".")[0]

    def slots(microphone: PlacedMicrophone) -> list[tuple[str, int]]:
        end = ends.get(microphone.id, "")
        return [
            (name, i)
            for name, product in products.items()
            if microphone.product.link.kind in product.port_kinds
            and (end == name or end not in products)
            for i in range(product.microphone_ports)
        ]

    # Stated links first, so that those without one are the ones that are named.
    order = sorted(needing, key=lambda m: (m.id not in ends, m.id))
    matched = largest_matching({m.id: slots(m) for m in order})
    return [m for m in order if m.id not in matched]

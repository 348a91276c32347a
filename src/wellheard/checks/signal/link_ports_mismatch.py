"""Cables between ports that do not go together."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.catalog.ports import Port
from wellheard.catalog.products import Amplifier, Loudspeaker, Processor
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.predict.evidence import Evidence
from wellheard.signal.fitting import misfit
from wellheard.signal.ports import Unit, split


@rule("link-ports-mismatch", "error", strength="product", cites="the ports of the products")
def link_ports_mismatch(evidence: Evidence) -> Iterator[Draft]:
    """Both ends of a cable take the same kind of cable, and one gives what the other takes.

    Two inputs or two outputs make no connection, nor does microphone level on a line input, line
    level on a loudspeaker, or a USB port on another one that waits for a computer. The cable,
    where the document chooses one, must be of a kind that both ends take. An input, a
    microphone's link, a USB or a network socket of a device holds one cable, and the input of a
    pair of loudspeakers two; a line or loudspeaker output may feed several. Two microphones on
    one port of a processor are found by `ports-exceeded`, and ports that are not there by
    `port-unknown`. Of other equipment than computers and codecs nothing is assessed.
    """
    units = evidence.signal.units
    used: dict[str, list[str]] = {}
    for name, link in evidence.room.links.items():
        for end, other in ((link.from_, link.to), (link.to, link.from_)):
            unit = units.get(split(end)[0])
            port = unit.ports.get(split(end)[1]) if unit is not None else None
            if port is None or unit is None or not _holds_one(unit, port):
                continue
            on = used.setdefault(end, [])
            on.append(name)
            if len(on) > _cables(unit):
                yield Draft(
                    at=f"links.{name}",
                    message=(
                        f"Link {name} joins {end} to {other}, but link {on[0]} is on {end} "
                        f"already, and it holds {_CABLES[_cables(unit)]}."
                    ),
                    value=float(len(on)),
                    limit=float(_cables(unit)),
                    remedy=(
                        "Write every loudspeaker of a line as a link from the amplifier's output, "
                        f"which holds several, as from: {_output(evidence)}, to: {other}."
                        if _is_loudspeaker(unit) and _is_loudspeaker(units.get(split(other)[0]))
                        else f"Use a free port, or a mixer or splitter in front of {end}."
                    ),
                )
        wrong = misfit(link, units, evidence.catalogue.cables)
        if wrong is not None:
            yield Draft(
                at=f"links.{name}.cable" if wrong.of_cable else f"links.{name}",
                message=f"Link {name} joins {link.from_} to {link.to}: {wrong.says}.",
                remedy=wrong.gives,
            )


_CABLES = {1: "one cable", 2: "two cables"}


def _cables(unit: Unit) -> int:
    """Cables on an input: one for each of a pair of loudspeakers."""
    return min(unit.product.units, 2) if isinstance(unit.product, Loudspeaker) else 1


def _is_loudspeaker(unit: Unit | None) -> bool:
    return unit is not None and isinstance(unit.product, Loudspeaker)


def _output(evidence: Evidence) -> str:
    """An amplifier's output, to show what a link looks like."""
    for name, unit in evidence.signal.units.items():
        if isinstance(unit.product, Amplifier):
            return next((f"{name}.{p}" for p, q in unit.ports.items() if q.flow == "out"), name)
    return "amplifier.out"


def _holds_one(unit: Unit, port: Port) -> bool:
    if unit.has_far_end:
        return False  # a computer has several of a sort
    if port.flow == "in":
        # A processor's microphone ports have the rule about their number.
        return not (isinstance(unit.product, Processor) and port.name == "mic")
    return port.flow == "both" or port.signal not in ("line", "loudspeaker")

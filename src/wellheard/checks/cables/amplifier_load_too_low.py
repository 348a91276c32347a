"""Loudspeakers side by side on one output."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.catalog.products import Amplifier
from wellheard.checks import cabling, loudspeaker_lines
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.wording import listed
from wellheard.predict.evidence import Evidence
from wellheard.signal.ports import split


@rule(
    "amplifier-load-too-low",
    "error",
    strength="product",
    cites="least load of the amplifier's channels",
)
def amplifier_load_too_low(evidence: Evidence) -> Iterator[Draft]:
    """No channel of an amplifier drives less than the load it is made for.

    Loudspeakers on one output lie side by side: two of 8 Ω are 4 Ω. Below its least load an
    amplifier limits, switches off or fails. A pair on one cable is two. A channel that can drive a
    line instead, with loudspeakers that have taps, is judged as a line by `line-overloaded`. Links
    are judged as the document states them.
    """
    for port, several in cabling.hung(evidence).items():
        amplifier = evidence.signal.product(split(port)[0])
        if not isinstance(amplifier, Amplifier):
            continue
        if loudspeaker_lines.modes_of(evidence, port, several)[:1] != ("low-impedance",):
            continue
        there = loudspeaker_lines.load(several)
        if there >= loudspeaker_lines.least(amplifier):
            continue
        names = listed([one.device for one in several])
        yield Draft(
            at=f"links.{several[-1].link.id}",
            message=(
                f"{port} drives {names}: {there:.3g} Ω together; {amplifier.id} is made for "
                f"{amplifier.minimum_impedance:g} Ω and more."
            ),
            value=there,
            limit=amplifier.minimum_impedance,
            unit="Ω",
            remedy=(
                "Spread them over more channels, or take loudspeakers with taps and an amplifier "
                "for lines."
            ),
        )

"""Taps on one line against the power of its channel."""

from __future__ import annotations

import math
from collections.abc import Iterator

from wellheard.acoustics.line import amplifier_rating
from wellheard.catalog.products import Amplifier
from wellheard.checks import cabling, loudspeaker_lines
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.wording import listed
from wellheard.predict.evidence import Evidence
from wellheard.signal.ports import split


@rule(
    "line-overloaded",
    "error",
    strength="product",
    cites="power of the amplifier's channels; a reserve of 20 %, common practice, no source [C]",
)
def line_overloaded(evidence: Evidence) -> Iterator[Draft]:
    """The taps of a constant-voltage line take no more than 80 % of its channel's power.

    Taps are those that playback needs, the same for each half of a pair. Where they are not known
    the smallest of each loudspeaker count, and what even these pass is found; the rest is not
    assessed. The reserve is for what transformers and wires take, and for the loudspeaker that is
    added later.
    """
    for port, several in cabling.hung(evidence).items():
        amplifier = evidence.signal.product(split(port)[0])
        if not isinstance(amplifier, Amplifier):
            continue
        if loudspeaker_lines.modes_of(evidence, port, several)[:1] != ("constant-voltage",):
            continue
        taps = [loudspeaker_lines.tap_of(evidence, one) for one in several]
        least = [min(one.product.taps_w) for one in several]
        sure = [t if t is not None else small for t, small in zip(taps, least, strict=True)]
        drawn = math.fsum(t * one.units for t, one in zip(sure, several, strict=True))
        room = loudspeaker_lines.line_room(amplifier)
        names = listed([one.device for one in several])
        at = f"links.{several[-1].link.id}"
        if drawn > room * (1 + 1e-9):
            smallest = " even on their smallest taps" if None in taps else ""
            yield Draft(
                at=at,
                message=(
                    f"{port} feeds {names}, {drawn:g} W together{smallest}; "
                    f"{amplifier.channel_power_w:g} W less 20 % leave {room:g} W."
                ),
                value=drawn,
                limit=room,
                unit="W",
                remedy=(
                    f"Take an amplifier of {math.ceil(amplifier_rating([drawn]))} W a channel, "
                    "or spread them over more channels."
                ),
            )
        elif None in taps:
            yield Draft(
                at=at,
                message=(
                    f"Whether {port} can feed {names} is not assessed: the taps they are set to "
                    "are not known."
                ),
                limit=room,
                unit="W",
                remedy="Predict their playback, which needs seats and a promised level.",
                severity="note",
                status="not-assessed",
            )

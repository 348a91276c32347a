"""Loudspeakers that nobody has placed."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.catalog.products import Loudspeaker, Microphone
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.predict.evidence import Evidence


@rule(
    "loudspeaker-without-place",
    "note",
    strength="house",
    cites="the extent of this version",
    relaxable=False,
)
def loudspeaker_without_place(evidence: Evidence) -> Iterator[Draft]:
    """Every loudspeaker has a place of its own.

    One without `at`, as one that is only said to be in a piece of equipment, plays nothing in the
    prediction: level, STI, echo and lift are those of the others. It is not assessed, and neither
    is what it would add.
    """
    for name, device in evidence.room.devices.items():
        if device.at is not None:
            continue
        product = evidence.catalogue.product(device.product)
        built_in = isinstance(product, Microphone) and product.built_in is not None
        if isinstance(product, Loudspeaker) or built_in:
            yield Draft(
                at=f"devices.{name}",
                message=(
                    f"Loudspeaker {name} has no place of its own: what is heard of it, and its "
                    "echo, are not assessed."
                ),
                remedy=f"Give devices.{name}.at.",
                status="not-assessed",
            )

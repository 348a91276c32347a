"""Bundles of cables that carry much power."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.checks import cabling
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.predict.evidence import Evidence

CODE = "bundle-heating"
HIGH = 5
"""IEEE 802.3 class from which on all four pairs carry."""


@rule(CODE, "warning", strength="house", cites="", thresholds=(CODE,))
def bundle_heating(evidence: Evidence) -> Iterator[Draft]:
    """Not too many cables with high power lie in one bundle.

    In the middle of a bundle nothing carries the heat away. Cables of class 5 and higher that end
    at one switch are taken to lie together on their last metres. Above 60 W at the port electrical
    codes limit the current by gauge and size of bundle.
    """
    most = evidence.room.targets.limit_in_force(CODE)
    for name in cabling.switches(evidence):
        hot = [
            one
            for one in cabling.powered(evidence)
            if one.switch == name and (one.power_class or 0) >= HIGH
        ]
        if len(hot) <= most:
            continue
        yield Draft(
            at=f"devices.{name}",
            message=(
                f"{len(hot)} cables of class {HIGH} and higher end at {name}; a bundle holds "
                f"{most:g} at most."
            ),
            value=float(len(hot)),
            limit=most,
            remedy=(
                "Part them into bundles with air between them, in the tray and at the rack, and "
                "take solid copper of 23 gauge or thicker. Local code decides."
            ),
        )

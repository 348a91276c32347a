"""How far links run where a product does not say: usual and published limits."""

from __future__ import annotations

from dataclasses import dataclass

from wellheard import tables
from wellheard.catalog.ports import PortKind, Signal


@dataclass(frozen=True)
class LinkLimit:
    """Longest run of a kind of link where the product states none. [m]"""

    length: float
    says: str
    source: str
    trust: str


def link_limit(kind: PortKind, signal: Signal) -> LinkLimit | None:
    """Usual limit of a kind of link; None for a loudspeaker line, whose loss decides.

    Examples
    --------
    >>> link_limit("usb", "audio").length
    5.0
    """
    for row in tables.load("link_limits").rows:
        if (row["kind"], row["signal"]) == (kind, signal):
            return LinkLimit(float(row["length"]), row["says"], row["source"], row["trust"])
    return None

"""Which microphone ends at which processor, and how long the run is."""

from __future__ import annotations

from dataclasses import dataclass

from wellheard.catalog.products import Processor
from wellheard.predict.evidence import Evidence, PlacedDevice, PlacedMicrophone
from wellheard.schedules.runs import CableRun, Runs
from wellheard.signal.matching import ends_microphones, needs_port, stated_link


@dataclass(frozen=True)
class Run:
    """The cable of a microphone: where it ends, and its run, with no length where that is open."""

    to: str
    laid: CableRun

    @property
    def says(self) -> str:
        """How it runs, and what was taken for granted."""
        return "; ".join((self.laid.how, *self.laid.assumed))


def processors(evidence: Evidence) -> tuple[tuple[PlacedDevice, Processor], ...]:
    """Devices that microphones can end at: those that mix or cancel."""
    return tuple(
        (device, device.product)
        for device in evidence.others
        if isinstance(device.product, Processor) and ends_microphones(device.product)
    )


def run(evidence: Evidence, microphone: PlacedMicrophone, runs: Runs) -> Run | None:
    """The run of a microphone: that of its link, or the shortest to where it may end.

    Without a link it ends at the nearest processor with a matching port, a USB device at the
    nearest computer or codec; None where there is none with a place.
    """
    stated = stated_link(evidence.room.links, microphone.id)
    if stated is not None:
        _, link, port = stated
        return Run(port.partition(".")[0], runs.of_link(link))
    found = [Run(end, runs.run(microphone.id, end)) for end in _possible_ends(evidence, microphone)]
    known = [one for one in found if one.laid.length is not None]
    return min(known, key=lambda one: (one.laid.length or 0.0, one.to), default=None)


def _possible_ends(evidence: Evidence, microphone: PlacedMicrophone) -> list[str]:
    kind = microphone.product.link.kind
    if not needs_port(microphone.product):
        return [
            name
            for name, item in evidence.room.equipment.items()
            if item.kind in ("computer", "codec")
        ]
    return [
        device.id
        for device, product in processors(evidence)
        if device.at is not None and kind in product.port_kinds
    ]

"""Parts of the document that this version reads and does not predict with."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.wording import listed
from wellheard.predict.evidence import Evidence

PARTS = {
    "links": "only lengths and ports are held against them",
    "processing": "cancellers, mixers and gains are taken as the usual ones",
}
TARGETS = ("echo_loss_db", "price")


@rule(
    "not-used-yet",
    "note",
    strength="house",
    cites="the extent of this version",
    relaxable=False,
)
def not_used_yet(evidence: Evidence) -> Iterator[Draft]:
    """Everything in the document takes part in the prediction.

    Links and processing are read and kept, but the
    predictions of this version do not use them, nor a scattering that the document
    states. Promises about echo and price
    that the document itself states are not assessed, and neither is a microphone without a
    place.
    """
    room = evidence.room
    for part, instead in PARTS.items():
        entries = getattr(room, part)
        if entries:
            yield _draft(
                part,
                f"{part} ({listed(list(entries))}) are read but not used by the predictions of "
                f"this version: {instead}.",
                f"Judge what {part} change by hand.",
            )
    for name in TARGETS:
        if name in room.targets.model_fields_set and getattr(room.targets, name) is not None:
            yield _draft(
                f"targets.{name}",
                f"targets.{name} is promised, but this version does not predict it.",
                "Judge it by hand, or set it to null.",
            )
    placed = {microphone.id for microphone in evidence.microphones}
    for name, device in room.devices.items():
        if device.kind in ("microphone", "combined") and name not in placed:
            yield _draft(
                f"devices.{name}",
                f"Microphone {name} has no place and takes no part in the prediction.",
                f"Give devices.{name}.at, or let wellheard place do it.",
            )


def _draft(at: str, message: str, remedy: str) -> Draft:
    return Draft(at=at, message=message, remedy=remedy, status="not-assessed")

"""Loss in the wires of loudspeaker lines."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from wellheard.acoustics.line import line_loss_db, longest_line, tap_impedance
from wellheard.catalog.products import Amplifier
from wellheard.checks import cabling, loudspeaker_lines
from wellheard.checks.cabling import Hung
from wellheard.checks.loudspeaker_lines import Mode
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.wording import length, listed
from wellheard.predict.evidence import Evidence
from wellheard.signal.ports import split

CODE = "cable-too-thin"


@rule(CODE, "warning", strength="house", cites="", thresholds=(CODE,))
def cable_too_thin(evidence: Evidence) -> Iterator[Draft]:
    """No loudspeaker cable takes more than half a decibel on the way.

    20 lg(1 + R/Z), R of both wires at 20 °C by gauge, Z at the far end: a loudspeaker's
    impedance, or that of its tap. Each link is a cable of its own from the output of the
    amplifier. An output that can drive a line as well as low impedance is judged by what loses
    less. A tap is the one that playback needs; where that decides and is not known, and where
    what feeds a loudspeaker is no amplifier, the loss is not assessed.
    """
    for port, several in cabling.hung(evidence).items():
        modes = loudspeaker_lines.modes_of(evidence, port, several)
        for one in several:
            yield from _judged(evidence, port, one, modes)


def _judged(evidence: Evidence, port: str, one: Hung, modes: Sequence[Mode]) -> Iterator[Draft]:
    cable = one.link.cable
    run = cabling.runs_of(evidence).of_link(one.link.link)
    if cable is None or run.length is None or not modes:
        return
    limit_db = evidence.room.targets.limit_in_force(CODE)
    loads = [_load(evidence, port, one, mode) for mode in modes]
    load = max((known for known in loads if known is not None), default=None)
    lost_db = math.inf if load is None else line_loss_db(run.length, awg=cable.awg, load=load)
    if lost_db <= limit_db + 1e-9:
        return
    if load is None or None in loads:
        yield Draft(
            at=f"links.{one.link.id}",
            message=(
                f"What {cable.id} loses on the way to {one.device} is not assessed: the tap it is "
                "set to is not known."
            ),
            remedy="Predict its playback, which needs seats and a promised level.",
            severity="note",
            status="not-assessed",
        )
        return
    yield Draft(
        at=f"links.{one.link.id}.cable",
        message=(
            f"{one.link.words} loses {lost_db:.2f} dB in {length(evidence, run.length)} of "
            f"{cable.awg} gauge to {load:.3g} Ω; {limit_db:g} dB at most is usual."
        ),
        value=lost_db,
        limit=limit_db,
        unit="dB",
        remedy=_remedy(evidence, one, run.length, load, limit_db),
    )


def _load(evidence: Evidence, port: str, one: Hung, mode: Mode) -> float | None:
    """Impedance at the end of one cable; None where the tap is not known. [Ω]"""
    if mode == "low-impedance":
        return loudspeaker_lines.load([one])
    amplifier = evidence.signal.product(split(port)[0])
    tap = loudspeaker_lines.tap_of(evidence, one)
    if tap is None or not isinstance(amplifier, Amplifier):
        return None
    # The lower voltage has the lower impedance, and so the greater loss.
    return tap_impedance(tap * one.units, voltage=min(amplifier.line_voltages))


def _remedy(evidence: Evidence, one: Hung, metres: float, load: float, limit_db: float) -> str:
    assert one.link.cable is not None
    thicker = [
        other
        for other in evidence.catalogue.cables
        if other.status == "current"
        and set(other.carries) & set(one.link.kinds)
        and longest_line(awg=other.awg, load=load, loss_db=limit_db) >= metres
    ]
    most = longest_line(awg=one.link.cable.awg, load=load, loss_db=limit_db)
    shorter = f"keep it under {length(evidence, most)}"
    if thicker:
        return f"Take {listed([other.id for other in thicker])}, or {shorter}."
    lines = ", or drive it from a constant-voltage line" if one.product.taps_w else ""
    return f"No cable of the catalogue is thick enough: {shorter}{lines}."

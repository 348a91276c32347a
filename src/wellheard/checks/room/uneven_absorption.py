"""Disagreement of the reverberation models, and what scattering makes of it."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.relaxation import limit_in_force
from wellheard.predict.evidence import Bands, Evidence

CODE = "uneven-absorption"


@rule(
    CODE,
    "warning",
    strength="house",
    cites="Arau-Puchades 1988 against Sabine and Eyring; threshold common practice [C]",
    thresholds=(CODE,),
)
def uneven_absorption(evidence: Evidence) -> Iterator[Draft]:
    """The reverberation models agree.

    Sabine and Eyring assume absorption that is spread evenly, Arau-Puchades does not. Where
    they differ by more than a quarter at 500 Hz and 1 kHz, one pair of
    surfaces is much harder than the others and the true time
    depends on how much walls and furniture scatter: rays traced with little and with much
    scattering show by how far. Measured times end the question, and
    the rule with it.
    """
    limit = limit_in_force(evidence, CODE)
    decay = evidence.reverberation
    if decay.measured:
        return
    uneven = _mid(decay.arau_puchades)
    rivals = {"Sabine": _mid(decay.sabine), "Eyring": _mid(decay.eyring)}
    apart = {name: abs(uneven / time - 1) for name, time in rivals.items()}
    worst = max(apart, key=lambda name: apart[name])
    if apart[worst] <= limit:
        return
    smooth, rough = _mid(decay.smooth), _mid(decay.rough)
    times = {"Arau-Puchades": uneven, **rivals, "Fitzroy": _mid(decay.fitzroy)}
    named = ", ".join(f"{name} {time:.2f} s" for name, time in times.items())
    yield Draft(
        at="space.finishes",
        message=(
            f"Absorption is uneven: Arau-Puchades and {worst} differ by {100 * apart[worst]:.0f} % "
            f"at 500 Hz and 1 kHz ({named}). Traced rays give {smooth:.2f} s with little "
            f"scattering and {rough:.2f} s with much; {_mid(decay.time):.2f} s, with scattering "
            f"{decay.scattering:g}, is used."
        ),
        value=apart[worst],
        limit=limit,
        remedy="Absorb on the hard pair of surfaces, or measure the reverberation time.",
    )


def _mid(times: Bands) -> float:
    return (times[2] + times[3]) / 2

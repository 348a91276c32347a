"""How far a link runs where a product does not say, against open limits."""

from __future__ import annotations

import pytest

from wellheard.catalog import lines
from wellheard.catalog.products import PortKind, Signal


# USB 2.0 passive 5 m [L]; twisted-pair channel 90 + 10 m, ANSI/TIA-568.2-D [L]; unbalanced 3 m [C].
@pytest.mark.parametrize(
    ("kind", "signal", "metres"),
    [
        ("usb", "audio", 5),
        ("network", "audio", 100),
        ("network", "data", 100),
        ("unbalanced", "line", 3),
    ],
)
def test_usual_limit_of_a_link(kind: PortKind, signal: Signal, metres: float) -> None:
    found = lines.link_limit(kind, signal)

    assert found is not None
    assert found.length == metres
    assert found.source
    assert found.trust in "LMC"


def test_a_loudspeaker_line_has_no_limit_but_its_loss() -> None:
    assert lines.link_limit("low-impedance", "loudspeaker") is None

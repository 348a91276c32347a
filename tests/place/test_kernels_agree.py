"""What is placed does not hang on which kernels compute it: what decides is rounded first."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from wellheard.acoustics import compiled
from wellheard.place.microphones import place_microphones
from wellheard.place.proposal import Proposal
from wellheard.predict.scene import build
from wellheard.workflow.load import load

EXAMPLES = Path(__file__).parents[2] / "examples"


@pytest.mark.skipif(bool(compiled.missing()), reason="no C compiler was there")
@pytest.mark.parametrize("example", ["huddle-four", "ten-seats"])
def test_both_kernels_place_the_same_with_the_same_proof(example: str) -> None:
    loaded = load(EXAMPLES / example / f"{example}.room.yaml")
    found: list[Proposal] = []
    for kernel in ("compiled", "numpy"):
        with compiled.using(kernel):
            proposal = place_microphones(build(loaded.room, loaded.catalogue))
        found.append(replace(proposal, seconds=0.0))
    one, other = found
    assert one.devices == other.devices
    assert one.proof.certificate == other.proof.certificate
    assert one.worst == pytest.approx(other.worst, abs=2e-3)

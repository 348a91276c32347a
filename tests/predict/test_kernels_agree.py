"""A whole ledger by the compiled kernels and by their numpy twins."""

from __future__ import annotations

from collections import OrderedDict
from pathlib import Path

import pytest

from wellheard.acoustics import compiled
from wellheard.acoustics.compiled import Kernel
from wellheard.predict import ledger, propagation
from wellheard.predict.evidence import Evidence
from wellheard.room.devices import Device
from wellheard.workflow.load import load

ROOM = Path(__file__).parents[2] / "examples/ten-seats/ten-seats.room.yaml"


def ledger_with(kernel: Kernel) -> Evidence:
    """The example with two devices of different kinds, predicted from the first ray on."""
    loaded = load(ROOM)
    devices = {
        "head": Device(kind="microphone", product="ceiling-head-3", at=(2.4, 2.1, 2.74)),
        "array": Device(kind="microphone", product="ceiling-array-16", at=(4.2, 2.1, 2.74)),
    }
    room = loaded.room.model_copy(update={"devices": {**loaded.room.devices, **devices}})
    with compiled.using(kernel), pytest.MonkeyPatch.context() as patch:
        for remembered in ("_flights", "_tables"):
            patch.setattr(propagation, remembered, OrderedDict(), raising=False)
        return ledger.predict(room, loaded.catalogue, assumptions=False)


def test_the_ledger_of_an_example_is_the_same_by_either_kernel() -> None:
    """To 1e-4 in STI and 0.01 dB; sums in single precision leave no more."""
    if compiled.missing():
        pytest.skip(compiled.missing())
    fast, plain = (ledger_with(kernel) for kernel in ("compiled", "numpy"))
    assert fast.reverberation.time == pytest.approx(plain.reverberation.time, rel=1e-4)
    assert len(fast.paths) == len(plain.paths) == 20
    for one, other in zip(fast.paths, plain.paths, strict=True):
        assert one.sti == pytest.approx(other.sti, abs=1.01e-4)
        for name in ("direct_db", "early_db", "late_db", "noise_db", "speech_db", "c50_db"):
            assert getattr(one, name) == pytest.approx(getattr(other, name), abs=0.01), name
    for row, twin in zip(fast.outbound, plain.outbound, strict=True):
        assert row.path.microphone == twin.path.microphone
        assert row.state == twin.state
        for a, b in zip(row.quantities, twin.quantities, strict=True):
            assert a.sigma == pytest.approx(b.sigma, rel=1e-3)

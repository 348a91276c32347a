"""What the automatic mixer lets in beside the talker's own microphone."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from wellheard.catalog.catalogue import Catalogue
from wellheard.predict import ledger
from wellheard.predict.evidence import Evidence
from wellheard.room.document import Room

RoomOf = Callable[..., Room]

TWO = {
    f"m{i}": {"kind": "microphone", "product": "pendant-cardioid", "at": [2.0 * i, 2.2, 2.1]}
    for i in (1, 2)
}


def evidence(room_of: RoomOf, catalogue: Catalogue, processor: str | None) -> Evidence:
    devices: dict[str, Any] = dict(TWO)
    if processor is not None:
        devices["mix"] = {"kind": "processor", "product": processor}
    return ledger.predict(room_of({"devices": devices}), catalogue, assumptions=False)


@pytest.fixture(scope="module")
def gating(room_of: RoomOf, catalogue: Catalogue) -> Evidence:
    return evidence(room_of, catalogue, None)


@pytest.fixture(scope="module")
def sharing(room_of: RoomOf, catalogue: Catalogue) -> Evidence:
    return evidence(room_of, catalogue, "mixer-4")


def test_a_gating_mixer_opens_by_its_leak_whoever_talks(gating: Evidence) -> None:
    # Closed channels 15 dB down: 1 + 10^(−1.5) of two (common practice, no source).
    for row in gating.outbound:
        assert row.path.open_microphones == pytest.approx(1.0316228)


def test_shared_gain_lets_the_other_in_as_far_as_it_hears_the_room(sharing: Evidence) -> None:
    # Dugan 1975 [M]: power gains are shares of the summed power. With equal reverberation r at
    # both and direct sound d at one, its share is (d + r)/(d + 2r), so n = (d/r + 2)/(d/r + 1).
    for row in sharing.outbound:
        opened = row.path.open_microphones
        bands = np.asarray(row.path.direct_to_reverberant_bands_db)[2:6]
        before_mixer = 10 ** ((bands + 10 * np.log10(opened)).mean() / 10)
        assert opened == pytest.approx((before_mixer + 2) / (before_mixer + 1), rel=1e-6)
        assert 1.0 < opened < 2.0


def test_shared_gain_costs_more_ratio_than_a_gate_in_a_lively_room(
    gating: Evidence, sharing: Evidence
) -> None:
    # A gate holds the other 15 dB down, shared gain at the critical distance only 1.8 dB.
    for gate, share in zip(gating.outbound, sharing.outbound, strict=True):
        assert share.path.direct_to_reverberant_db < gate.path.direct_to_reverberant_db

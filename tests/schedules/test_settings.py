"""The digest of settings: what changes it, and what does not."""

from __future__ import annotations

import hashlib
import json

import pytest

from tests.schedules.rooms import BASE, read
from wellheard.schedules.settings import settings_of


def digest(*changes: tuple[str, str]) -> str:
    return settings_of(read(BASE, *changes)).digest


def test_equal_documents_have_equal_digests_in_eight_characters() -> None:
    found = settings_of(read(BASE))
    assert found.digest == digest()
    assert len(found.digest) == 64
    assert found.short == f"{found.digest[:4]}-{found.digest[4:8]}"


def test_it_is_sha_256_of_json_with_sorted_keys_written_by_hand() -> None:
    """A room of one device, its text written out here as the docstring says it is made."""
    text = (
        "wellheard: 1\nspace: {outline: [[0, 0], [4, 0], [4, 3], [0, 3]], height: 2.5}\n"
        "people: {seats: {s1: {at: [1, 1], facing: 0}}}\n"
        "devices: {m1: {kind: microphone, product: ceiling-head-3, at: [2, 2, 2.4], aim_deg: 90}}\n"
        "processing: {cut: {kind: filter, on: m1.link, gain_db: -3}}\n"
    )
    by_hand = {
        "form": 1,
        "devices": {
            "m1": {
                "kind": "microphone",
                "product": "ceiling-head-3",
                "equipment": None,
                "aim_deg": 90.0,
                "rotation_deg": 0.0,
            }
        },
        "links": [],
        "processing": {
            "cut": {
                "kind": "filter",
                "on": "m1.link",
                "sources": [],
                "reference": None,
                "bypassed": False,
                "gain_db": -3.0,
                "delay_ms": None,
            }
        },
        "playback_level_dba": 70.0,
    }
    wanted = json.dumps(by_hand, sort_keys=True, separators=(",", ":")).encode()
    assert settings_of(read(text)).digest == hashlib.sha256(wanted).hexdigest()


STAGE = "wellheard: 1\nprocessing: {lo: {kind: gain, on: m1.link, gain_db: 3}}"
UNSET = {
    "a name": ("title: Cockle Room", "title: Winkle Room"),
    "a place": ("at: [2, 2, 2.4]", "at: [2.2, 2, 2.4]"),
    "which end is which": ("from: m1.link, to: mixer.mic-1", "to: m1.link, from: mixer.mic-1"),
    "a cable": ("cable: twisted-pair", "cable: twisted-pair, length: 12"),
}
SET = {
    "a stage": ("wellheard: 1", STAGE),
    "another port": ("mixer.mic-1", "mixer.mic-2"),
    "an aim": ("at: [2, 2, 2.4]", "at: [2, 2, 2.4], rotation_deg: 30"),
    "the playback level": ("wellheard: 1", "wellheard: 1\ntargets: {playback_level_dba: 68}"),
}


@pytest.mark.parametrize("change", UNSET.values(), ids=UNSET)
def test_what_nobody_sets_leaves_it_as_it_is(change: tuple[str, str]) -> None:
    assert digest(change) == digest()


@pytest.mark.parametrize("change", SET.values(), ids=SET)
def test_what_is_set_changes_it(change: tuple[str, str]) -> None:
    assert digest(change) != digest()

"""Cables of a document as rules see them: runs made once, kinds and limits, what hangs on what."""

from __future__ import annotations

import gc
from typing import Any

import pytest

from wellheard.checks import cabling

PAIR = {
    "room": {
        "devices": {
            "pair": {"kind": "loudspeaker", "product": "display-pair", "at": [0.1, 2.3, 1.4]},
            "amp": {"kind": "amplifier", "product": "amplifier-2x40", "equipment": "rack"},
        },
        "links": {"l1": {"from": "amp.out-1", "to": "pair.in", "cable": "loudspeaker-pair-16"}},
    }
}


def test_routes_are_made_once_for_one_evidence(evidence_of: Any) -> None:
    one, other = evidence_of(PAIR), evidence_of(PAIR)
    assert cabling.runs_of(one) is cabling.runs_of(one)
    assert cabling.runs_of(one) is not cabling.runs_of(other)


def test_routes_go_with_their_evidence(evidence_of: Any) -> None:
    before = len(cabling._RUNS)
    evidence = evidence_of(PAIR)
    cabling.runs_of(evidence)
    assert len(cabling._RUNS) == before + 1
    del evidence
    gc.collect()
    assert len(cabling._RUNS) <= before


def test_a_pair_on_one_cable_is_two_and_on_two_cables_one_each(evidence_of: Any) -> None:
    (both,) = cabling.hung(evidence_of(PAIR))["amp.out-1"]
    assert both.units == 2
    links = {
        "l1": {"from": "amp.out-1", "to": "pair.in"},
        "l2": {"from": "pair.in", "to": "amp.out-2"},
    }
    found = cabling.hung(evidence_of({"room": {**PAIR["room"], "links": links}}))
    assert {port: [one.units for one in several] for port, several in found.items()} == {
        "amp.out-1": [1],
        "amp.out-2": [1],
    }


@pytest.mark.parametrize(
    ("cable", "kinds"),
    [
        ("", ("unbalanced", "balanced")),
        (", cable: microphone-pair", ("balanced",)),
        # Of a cable for something else the ports alone tell.
        (", cable: usb-cord-2", ("unbalanced", "balanced")),
    ],
)
def test_kind_of_a_link_is_what_ports_and_cable_have_in_common(
    evidence_of: Any, cable: str, kinds: tuple[str, ...]
) -> None:
    link = {"from": "pc.line-out", "to": "p.line-in-1"}
    if cable:
        link["cable"] = cable.removeprefix(", cable: ")
    evidence = evidence_of(
        {
            "room": {
                "equipment": {"pc": {"kind": "computer", "at": [3.0, 0.4, 0.5]}},
                "devices": {
                    "p": {"kind": "processor", "product": "processor-4", "equipment": "rack"}
                },
                "links": {"l1": link},
            }
        }
    )
    assert cabling.cables(evidence)[0].kinds == kinds


def test_of_an_end_about_which_nothing_is_known_the_other_tells(evidence_of: Any) -> None:
    evidence = evidence_of(
        {
            "room": {
                "equipment": {"plate": {"kind": "wall-plate", "at": [0.1, 1.0, 0.4]}},
                "devices": {
                    "p": {"kind": "processor", "product": "processor-4", "equipment": "rack"}
                },
                "links": {
                    "l1": {"from": "p.network", "to": "plate.a"},
                    "l2": {"from": "plate.b", "to": "rack.c", "cable": "twisted-pair"},
                    "l3": {"from": "plate.d", "to": "rack.e"},
                },
            }
        }
    )
    first, second, third = cabling.cables(evidence)
    assert first.kinds == ("network",)
    assert second.kinds == ("twisted-pair", "network")
    assert third.kinds == ()
    assert cabling.longest(evidence, third) is None

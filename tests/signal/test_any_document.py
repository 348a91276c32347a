"""Whatever a document connects, the graph stands: random cables and stages between its ports."""

from __future__ import annotations

import random
from typing import Any, get_args

import pytest

from wellheard.catalog.catalogue import Catalogue
from wellheard.room.processing import ProcessKind
from wellheard.signal.graph import graph
from wellheard.signal.ports import units_of

WORDS = [
    "head",
    "gooseneck",
    "array",
    "bar",
    "bridge",
    "processor",
    "mixer",
    "splitter",
    "usb",
    "amplifier",
    "line-amplifier",
    "network-amplifier",
    "ceiling",
    "active",
    "network",
    "switch",
    "repeater",
    "usb-extender",
]


@pytest.mark.parametrize("seed", range(60))
def test_every_way_begins_at_its_microphone_and_passes_no_port_twice(
    seed: int, made_room: Any
) -> None:
    chance = random.Random(seed)
    shipped = Catalogue.shipped()
    devices = ", ".join(f"d{i} {chance.choice(WORDS)}" for i in range(chance.randint(1, 9)))
    kinds = ["computer", "codec", "other", "rack"]
    equipment = {f"e{i}": chance.choice(kinds) for i in range(chance.randint(0, 3))}
    units = units_of(made_room(devices, "", equipment), shipped)
    ports = [f"{name}.{port}" for name, unit in units.items() for port in unit.names or ("any",)]
    ports += ["d0.nothing", "d0.mic-99"]
    cables = [chance.sample(ports, 2) for _ in range(chance.randint(0, 12))]
    stages: dict[str, dict[str, Any]] = {
        f"t{i}": {
            "kind": chance.choice(get_args(ProcessKind)),
            "on": chance.choice(ports),
            "reference": chance.choice([None, *ports]),
            "sources": chance.sample(ports, chance.randint(0, 2)),
            "bypassed": chance.random() < 0.2,
        }
        for i in range(chance.randint(0, 8))
    }
    room = made_room(devices, ", ".join(" ".join(pair) for pair in cables), equipment, **stages)
    made = graph(room, shipped)
    for microphone in made.microphones:
        for way in made.paths_of(microphone):
            assert way.ports[0].partition(".")[0] == microphone
            assert len(set(way.stages)) == len(way.stages)
            assert not any(s.id and room.processing[s.id].bypassed for s in way.stages)
        for canceller in made.cancellers(microphone):
            assert microphone in canceller.microphones
            known = made.reference(canceller).known
            unit = units.get((canceller.reference or "").partition(".")[0])
            assert known == (
                unit is not None and unit.knows((canceller.reference or "").partition(".")[2])
            )
    assert {one.loudspeaker for one in made.playing()} >= {
        lift.loudspeaker for lift in made.lifts()
    }
    assert graph(room, shipped).assumed == made.assumed

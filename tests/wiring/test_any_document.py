"""Whatever a document connects already, it is wired or told why not; what is locked stays."""

from __future__ import annotations

import random
from types import SimpleNamespace
from typing import Any, cast

import pytest

from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.products import Microphone, Processor
from wellheard.checks.signal.link_ports_mismatch import link_ports_mismatch
from wellheard.checks.signal.port_unknown import port_unknown
from wellheard.predict.evidence import Evidence
from wellheard.room import codec
from wellheard.room.document import Room
from wellheard.signal.graph import graph
from wellheard.signal.ports import units_of
from wellheard.wiring.asking import task_of
from wellheard.wiring.solve import solve
from wellheard.wiring.wired import wired_room

SHIPPED = Catalogue.shipped()


def _document(seed: int) -> Room:
    """Up to nine devices of any product, three pieces of equipment, and cables at random."""
    chance = random.Random(seed)
    devices: dict[str, dict[str, Any]] = {}
    for i in range(chance.randint(1, 9)):
        product = chance.choice(SHIPPED.products)
        place = [round(chance.uniform(0.2, 7.8), 2), round(chance.uniform(0.2, 4.8), 2), 2.2]
        devices[f"d{i}"] = {
            "kind": product.device_kinds[0],
            "product": product.id,
            "at": place,
            "owned": chance.random() < 0.3,
            "locked": chance.random() < 0.3,
        }
        if isinstance(product, Processor) and chance.random() < 0.5:
            del devices[f"d{i}"]["at"]
    kinds = ["computer", "codec", "camera", "other", "rack", "table-box", "wall-plate", "entry"]
    data: dict[str, Any] = {
        "wellheard": 1,
        "space": {
            "outline": [[0, 0], [8, 0], [8, 5], [0, 5]],
            "walls": ["south", "east", "north", "west"],
            "height": 2.8,
        },
        "people": {"seats": {"s1": {"at": [3, 2], "facing": 0}}},
        "furniture": {
            "picture": {"kind": "display", "wall": "west", "centre": [2.5, 1.4], "size": [1.6, 0.9]}
        },
        "equipment": {
            f"e{i}": {"kind": chance.choice(kinds), "at": [1.0 + i, 0.3, 0.6]}
            for i in range(chance.randint(0, 4))
        },
        "devices": devices,
    }
    units = units_of(Room.model_validate(data), SHIPPED)
    ports = [f"{name}.{port}" for name, unit in units.items() for port in unit.ports or ("any",)]
    data["links"] = {}
    for i in range(chance.randint(0, 8)):
        one, other = chance.sample(ports, 2)
        data["links"][f"k{i}"] = {"from": one, "to": other, "locked": chance.random() < 0.5}
    return Room.model_validate(data)


@pytest.mark.parametrize("seed", range(80))
def test_any_document_is_wired_or_told_why_not(seed: int) -> None:
    room = _document(seed)
    wired = solve(task_of(room, SHIPPED))
    done = wired_room(room, wired)
    assert codec.parse(codec.dump(done)) == done
    assert all(done.links[name] == link for name, link in room.links.items() if link.locked)
    assert all(name in done.devices for name, d in room.devices.items() if d.owned or d.locked)
    assert all(one.why and one.gives for one in wired.unwired)
    assert wired.proof.status == ("infeasible" if wired.unwired else "optimal")
    evidence = cast(
        "Evidence", SimpleNamespace(signal=graph(done, SHIPPED), room=done, catalogue=SHIPPED)
    )
    laid = {f"links.{name}" for name in done.links if name not in room.links}
    wrong = [*link_ports_mismatch(evidence), *port_unknown(evidence)]
    assert not [draft for draft in wrong if draft.at in laid]


@pytest.mark.parametrize("seed", range(80))
def test_every_microphone_and_loudspeaker_has_a_cable_or_a_reason(seed: int) -> None:
    room = _document(seed)
    wired = solve(task_of(room, SHIPPED))
    ends = {
        port.partition(".")[0] for link in wired.links.values() for port in (link.from_, link.to)
    }
    told = {one.port.partition(".")[0] for one in wired.unwired}
    for name, device in room.devices.items():
        product = SHIPPED.product(device.product)
        if isinstance(product, Microphone) or product.kind == "loudspeaker":
            assert name in ends | told

"""Whole systems as they are written down, held to the rules of the trade without the program.

Nothing here asks the task, the program or a rule: documents are read back and counted over.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator
from functools import cache

import pytest

from tests.wiring.systems import crowd, system
from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.products import Amplifier, AnyProduct, Loudspeaker, Microphone, Switch
from wellheard.room.document import Room
from wellheard.room.links import Link
from wellheard.schedules.whole import schedules
from wellheard.wiring.asking import task_of
from wellheard.wiring.solve import solve
from wellheard.wiring.wired import Wired, wired_room

SHIPPED = Catalogue.shipped()
DRAWN = [(sort, seed) for sort in ("system", "crowd") for seed in range(100, 116)]

OHM_PER_KM = {10: 3.277, 12: 5.211, 14: 8.285, 16: 13.174, 18: 20.948}
"""Of one wire of annealed copper at 20 °C: ASTM B258, as handbooks print it."""
DEVICE_W = {1: 3.84, 2: 6.49, 3: 12.95, 4: 25.5, 5: 40.0, 6: 51.0, 7: 62.0, 8: 71.3}
"""Left at the device by the classes of IEEE 802.3."""


@cache
def wired(sort: str, seed: int) -> tuple[Room, Wired]:
    room = (system if sort == "system" else crowd)(seed)
    found = solve(task_of(room, SHIPPED))
    return wired_room(room, found), found


def _products(room: Room) -> dict[str, AnyProduct]:
    return {name: SHIPPED.product(device.product) for name, device in room.devices.items()}


def _ends(room: Room) -> Iterator[tuple[str, str, Link]]:
    for link in room.links.values():
        yield link.from_, link.to, link
        yield link.to, link.from_, link


def _device(port: str) -> str:
    return port.partition(".")[0]


@pytest.mark.parametrize(("sort", "seed"), DRAWN)
def test_every_socket_holds_one_cable(sort: str, seed: int) -> None:
    """Outputs may feed several inputs, and a pair is two loudspeakers; all else is one plug."""
    room, _ = wired(sort, seed)
    products = _products(room)
    for port, number in Counter(here for here, _, _ in _ends(room)).items():
        product, socket = products.get(_device(port)), port.partition(".")[2]
        if product is None or socket.startswith(("out", "line-out")):
            continue
        assert number <= (product.units if isinstance(product, Loudspeaker) else 1), port


@pytest.mark.parametrize(("sort", "seed"), DRAWN)
def test_switches_have_ports_class_and_a_fifth_more_power_than_is_taken(
    sort: str, seed: int
) -> None:
    """A fifth of reserve is common practice, no source; classes are those of IEEE 802.3."""
    room, _ = wired(sort, seed)
    products = _products(room)
    for name, switch in products.items():
        if not isinstance(switch, Switch):
            continue
        others = [
            products.get(_device(far)) for near, far, _ in _ends(room) if _device(near) == name
        ]
        fed = [one for one in others if one is not None and one.powered_from == "network"]
        assert len(others) <= switch.network_ports
        assert len(fed) <= switch.poe_ports
        assert all(one.power_w <= DEVICE_W[one.poe_class or 0] for one in fed)
        assert all((one.poe_class or 9) <= (switch.supplies_class or 0) for one in fed)
        assert 1.2 * sum(one.power_w for one in fed) <= switch.poe_budget_w + 1e-9


@pytest.mark.parametrize(("sort", "seed"), DRAWN)
def test_amplifiers_drive_what_they_are_made_for_over_wires_that_lose_half_a_decibel(
    sort: str, seed: int
) -> None:
    """Loads side by side by 1/Z; 20 lg(1 + R/Z) of both wires; 0.5 dB is common practice."""
    room, _ = wired(sort, seed)
    products = _products(room)
    hung: dict[str, list[tuple[Loudspeaker, Link]]] = {}
    for near, far, link in _ends(room):
        there = products.get(_device(far))
        if isinstance(products.get(_device(near)), Amplifier) and isinstance(there, Loudspeaker):
            hung.setdefault(near, []).append((there, link))
    for port, several in hung.items():
        amplifier = products[_device(port)]
        assert isinstance(amplifier, Amplifier)
        together = 1 / math.fsum(1 / one.impedance for one, _ in several)
        driven = amplifier.minimum_impedance and together >= amplifier.minimum_impedance - 1e-9
        if amplifier.line_voltages:  # as a line, which only loudspeakers with taps take
            assert driven or all(one.taps_w for one, _ in several)
            continue
        assert driven
        for one, link in several:
            assert link.cable is not None
            assert link.length is not None
            loop = 2 * link.length / 1000 * OHM_PER_KM[SHIPPED.cable(link.cable).awg]
            assert 20 * math.log10(1 + loop / one.impedance) <= 0.5 + 1e-3


@pytest.mark.parametrize(("sort", "seed"), DRAWN)
def test_no_cable_is_longer_than_it_works_and_none_below_plenum_lies_in_moving_air(
    sort: str, seed: int
) -> None:
    """Links of microphones on twisted pair reach 30 m (100 ft), USB 5 m; a channel of twisted
    pair 100 m (ANSI/TIA-568.2-D); a void with return air wants plenum (NEC 300.22)."""
    room, _ = wired(sort, seed)
    products = _products(room)
    longest = {"twisted-pair": 100.0, "usb": 5.0, "hdmi": 5.0, "network": 100.0}
    for link in room.links.values():
        cable = SHIPPED.cable(link.cable or "")
        assert link.length is not None
        most = max(longest.get(kind, 300.0) for kind in cable.carries)
        ends = [products.get(_device(port)) for port in (link.from_, link.to)]
        if any(isinstance(p, Microphone) and p.link.kind == "twisted-pair" for p in ends):
            most = 30.0
        assert link.length <= most + 1e-6
        in_void = any(z >= room.space.height - 1e-9 for _, _, z in link.route or ())
        if in_void and room.space.ceiling.air_return and cable.length is None:
            assert "plenum" in cable.jackets


@pytest.mark.parametrize(("sort", "seed"), DRAWN)
def test_the_bill_of_what_is_wired_is_what_wiring_said_it_costs(sort: str, seed: int) -> None:
    """Each cable is told to the cent; a bill rounds its lines, so by no more than the cables."""
    room, found = wired(sort, seed)
    if set(found.links) - {part.id for part in found.parts}:
        pytest.skip("a cable of the document stays: it is billed, and was not bought")
    lines = schedules(room, SHIPPED).bill.lines
    billed = math.fsum(
        line.amount
        for line in lines
        if line.kind == "cable" or (line.kind == "labour" and not line.id.startswith("mount-"))
    )
    told = math.fsum(part.amount for part in found.parts if part.id in found.links)
    assert billed == pytest.approx(told, abs=0.005 * (len(found.links) + len(lines)))

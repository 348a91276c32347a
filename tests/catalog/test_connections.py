"""What connects to what. Every product is invented; the facts are the trade's (no source [C])."""

from __future__ import annotations

import pytest

from wellheard.catalog import connections
from wellheard.catalog.catalogue import Catalogue

SHIPPED = Catalogue.shipped()


def kinds(first: str, second: str) -> list[str]:
    found = connections.connections(SHIPPED.product(first), SHIPPED.product(second))
    return list(dict.fromkeys(c.kind for c in found))


@pytest.mark.parametrize(
    ("first", "second", "expected"),
    [
        ("ceiling-head-3", "bridge-2", ["twisted-pair"]),
        ("bridge-2", "ceiling-head-3", ["twisted-pair"]),
        ("table-boundary", "processor-4", ["balanced"]),
        ("ceiling-array-16", "processor-12", ["network"]),
        # A digital head has no plug for an analogue input, a passive loudspeaker none for a line.
        ("table-boundary", "bridge-2", []),
        ("ceiling-6", "processor-4", []),
        # Microphones do not feed each other, nor two computers' peripherals.
        ("ceiling-head-3", "ceiling-head-6", []),
        ("front-bar", "bridge-2", []),
    ],
)
def test_ports_decide(first: str, second: str, expected: list[str]) -> None:
    assert kinds(first, second) == expected


def test_every_connection_shares_a_kind_and_runs_one_way() -> None:
    for first in SHIPPED.products:
        for second in SHIPPED.products:
            for one in connections.connections(first, second):
                assert one.kind in one.from_port.kinds
                assert one.kind in one.to_port.kinds
                assert one.from_port.flow != "in"
                assert one.to_port.flow != "out"


def test_the_table_is_symmetric() -> None:
    everything = SHIPPED.products
    found = connections.table(everything, everything)
    for i, row in enumerate(found.kinds):
        for j, cell in enumerate(row):
            assert set(cell) == set(found.kinds[j][i]), (found.rows[i], found.columns[j])


def test_every_passive_loudspeaker_has_an_amplifier_and_every_microphone_a_way_on() -> None:
    def goes_on(one: str, others: tuple[str, ...]) -> bool:
        return any(kinds(one, other) for other in others)

    amplifiers = tuple(a.id for a in SHIPPED.amplifiers)
    processors = tuple(p.id for p in SHIPPED.processors)
    for speaker in SHIPPED.loudspeakers:
        if not speaker.active:
            assert goes_on(speaker.id, amplifiers), speaker.id
    for microphone in SHIPPED.microphones:
        if not microphone.combined:
            assert goes_on(microphone.id, processors), microphone.id


def test_a_device_powered_from_the_network_wants_a_switch_with_power() -> None:
    array, switch = SHIPPED.product("ceiling-array-16"), SHIPPED.product("switch-8")
    processor = SHIPPED.product("processor-12")

    assert [c.needs for c in connections.connections(array, switch)] == [""]
    for direct in connections.connections(array, processor):
        assert "class" in direct.needs
        assert array.id in direct.needs


def test_extenders_of_a_kind_come_shortest_first() -> None:
    found = connections.extenders_of("usb", SHIPPED)

    assert found
    assert all(one.carries == "usb" for one in found)
    assert [one.max_length for one in found] == sorted(one.max_length for one in found)

"""The sheet for the IT department: ports, addresses, traffic by hand, power, one clock."""

from __future__ import annotations

from ipaddress import ip_address

import pytest

from tests.schedules.rooms import BASE, NETWORK, read
from wellheard.catalog.catalogue import Catalogue
from wellheard.schedules.network import (
    PLACEHOLDERS,
    NetworkRow,
    NetworkSheet,
    kind_facts,
    network_sheet,
    protocols,
)
from wellheard.signal.ports import EQUIPMENT_PORTS

SHIPPED = Catalogue.shipped()


def sheet(text: str = NETWORK, *changes: tuple[str, str]) -> NetworkSheet:
    return network_sheet(read(text, *changes), SHIPPED)


def row(found: NetworkSheet, device: str) -> NetworkRow:
    (one,) = (each for each in found.rows if each.device == device)
    return one


def test_every_link_to_a_switch_is_a_row_with_its_port() -> None:
    found = {each.device: each.switch_port for each in sheet().rows}
    assert found == {
        "net": "",
        "a1": "net.network-1",
        "a2": "net.network-2",
        "l1": "net.network-3",
        "mixer": "net.network-4",
        "amp": "net.network-5",
        "bridge": "net.network-6",
        "building": "net.network-26",
    }


def test_a_stream_of_one_channel_is_counted_on_the_wire() -> None:
    # 24 bits at 48 kHz in packets of 1 ms: 144 bytes of samples, headers RTP 12 (RFC 3550), UDP 8
    # (RFC 768), IPv4 20 (RFC 791), Ethernet with tag and check 22, preamble and gap 20: 226 bytes,
    # 1000 times a second.
    found = sheet()
    assert row(found, "a1").sends_bps == pytest.approx(1.808e6)
    # The processor takes in two arrays, and from the bridge the far end: 3 × 1.808 Mbit/s. It sends
    # one channel to loudspeaker and amplifier, and the mix to the bridge.
    mixer = row(found, "mixer")
    assert mixer.receives_bps == pytest.approx(5.424e6)
    assert mixer.sends_bps == pytest.approx(3.616e6)
    assert mixer.bandwidth_bps == mixer.receives_bps
    bridge = row(found, "bridge")
    assert (bridge.sends, bridge.receives) == (1, 1)


def test_addresses_are_placeholders_and_each_is_given_once() -> None:
    # RFC 5737 keeps three ranges for documentation.
    given = [each.address for each in sheet().rows if each.address]
    assert len(set(given)) == len(given) == 7
    assert all(any(ip_address(one) in net for net in PLACEHOLDERS) for one in given)
    assert row(sheet(), "building").address == ""


def test_one_device_leads_the_clock_and_all_that_sound_follow() -> None:
    found = sheet()
    assert [each.device for each in found.rows if each.clock == "leads"] == ["mixer"]
    assert found.clock == "mixer"
    assert {each.device for each in found.rows if each.clock == "follows"} == {
        "a1",
        "a2",
        "l1",
        "amp",
        "bridge",
    }


def test_power_is_that_of_the_devices_and_their_classes() -> None:
    # IEEE 802.3 classes and sheet powers: arrays 3 and 9.5 W, loudspeaker 4 and 24 W, bridge 1
    # and 3.5 W.
    found = sheet()
    powers = {each.device: (each.poe_class, each.power_w) for each in found.rows if each.power_w}
    assert powers == {"a1": (3, 9.5), "a2": (3, 9.5), "l1": (4, 24.0), "bridge": (1, 3.5)}
    assert found.power_w == pytest.approx(46.5)


def test_only_what_sounds_uses_the_ports_of_sound() -> None:
    found = sheet()
    assert "audio" in row(found, "a1").protocols
    assert "audio" not in row(found, "net").protocols
    assert "groups" in row(found, "net").protocols
    # Registered ports: RTP 5004, PTP 319 and 320, DHCP 67 and 68, HTTPS 443 [M].
    ports = {one.id: one.ports for one in found.protocols}
    assert ports["audio"] == "5004"
    assert ports["clock"] == "319 and 320"
    assert ports["settings"] == "443"


def test_a_computer_on_the_switch_gets_the_ports_of_calls() -> None:
    change = ("  building:", "  pc: {kind: computer, at: [8.9, 2.5, 0.3]}\n  building:")
    link = ("from: building.a", "from: pc.network")
    found = sheet(NETWORK, change, link)
    assert row(found, "pc").protocols == ("address", "call", "call-media")
    assert row(found, "pc").address


def test_a_device_that_waits_for_its_power_is_listed_without_a_port() -> None:
    text = NETWORK.replace("  c01: {from: a1.link, to: net.network-1, cable: twisted-pair}\n", "")
    loose = row(sheet(text), "a1")
    assert loose.switch_port == ""
    assert loose.note == "no link of the document leads to it"


def test_a_link_without_a_switch_is_told_as_such() -> None:
    text = NETWORK.replace("to: net.network-3", "to: amp.network").replace(
        "  c05: {from: amp.network, to: net.network-5, cable: network-cord-3}\n", ""
    )
    assert row(sheet(text), "l1").note == "straight to amp.network, through no switch"


def test_a_room_without_a_network_has_no_rows() -> None:
    found = sheet(BASE)
    assert (found.rows, found.clock, found.protocols) == ((), "", ())


def test_every_kind_of_product_has_its_facts_and_every_protocol_known_kinds() -> None:
    kinds = {one.kind for one in SHIPPED.products}
    assert kinds == set(kind_facts())
    assert all(set(one.kinds) <= kinds | set(EQUIPMENT_PORTS) for one in protocols())

"""The system of a room: every device and cable of the document, and what is assumed, told apart."""

from __future__ import annotations

from dataclasses import dataclass

import pytest

from tests.drawings.diagram.conftest import hall
from wellheard.catalog.catalogue import Catalogue
from wellheard.drawings.diagram.columns import columns
from wellheard.drawings.diagram.model import End, Link, System
from wellheard.drawings.diagram.room import OUTSIDE, system_of
from wellheard.room import codec
from wellheard.room.links import Link as RoomLink


@pytest.fixture(scope="module")
def wired(catalogue: Catalogue) -> System:
    return system_of(hall(), catalogue)


def by_id(system: System) -> dict[str, Link]:
    return {link.id: link for link in system.links}


def test_every_device_and_every_cable_of_the_document_is_there_once(wired: System) -> None:
    room = hall()
    shown = [box.id for box in wired.boxes]
    assert sorted(shown) == sorted([*room.devices, "computer", "camera"])
    assert [link.id for link in wired.links] == list(room.links)
    assert not any(link.assumed for link in wired.links)


def test_a_cable_says_its_name_its_kind_and_its_length(wired: System) -> None:
    words = {key: link.label.replace("\u00a0", " ") for key, link in by_id(wired).items()}
    assert words["c01"] == "c01 · twisted pair · 12.50 m"
    assert words["c09"] == "c09 · twisted pair · 9.25 m"
    assert words["c13"] == "c13 · balanced · 1.50 m"
    assert words["c17"] == "c17 · USB · 2.00 m"
    assert words["c19"] == "c19 · loudspeaker line · 14.00 m"


def test_lengths_are_in_the_units_of_the_document(catalogue: Catalogue) -> None:
    feet = by_id(system_of(hall(units="ft"), catalogue))
    # 12.5 ft by hand: 12 ft 6 in
    document = hall(units="ft").links["c01"].length
    assert document == pytest.approx(12.5 * 0.3048)
    assert feet["c01"].label.endswith("12'-6\"")


def test_signals_run_out_of_outputs_whichever_end_the_document_names_first(wired: System) -> None:
    links = by_id(wired)
    assert links["c13"].start == End("branch", "line-out-1")
    assert links["c13"].end == End("main", "line-in-1")
    assert links["c14"].start == End("main", "line-out-2")
    assert links["c19"].start == End("amp", "out")
    assert not any(links[key].both for key in ("c01", "c13", "c14", "c19"))
    assert links["c16"].both  # network
    assert links["c17"].both  # USB


def test_microphones_and_sources_are_left_and_loudspeakers_and_the_far_end_right(
    wired: System,
) -> None:
    column = columns(wired)
    last = max(column.values())
    assert all(column[f"m{k}"] == 0 for k in range(1, 13))
    assert column["camera"] == 0
    assert all(column[f"l{k}"] == last for k in range(1, 9))
    assert column["computer"] == last
    assert 0 < column["main"] < min(column["amp"], column["switch"])


def test_a_box_has_its_product_and_its_place_under_its_name(wired: System) -> None:
    lines = {box.id: box.lines for box in wired.boxes}
    assert lines["main"] == ("main", "processor-12", "in rack")
    assert lines["m1"] == ("m1", "ceiling-head-3", "3.00 m above the floor")
    assert lines["camera"] == ("camera", "1.20 m above the floor")


def test_only_ports_with_a_cable_are_shown_and_numbered_ones_keep_their_order(
    wired: System,
) -> None:
    ports = {box.id: [port.name for port in box.ports] for box in wired.boxes}
    assert ports["main"][:8] == [f"mic-{k}" for k in range(1, 9)]
    assert set(ports["main"][8:]) == {"line-in-1", "line-out-1", "line-out-2", "usb", "network"}
    assert ports["switch"] == [f"network-{k}" for k in (1, 2, 4, 6, 8)]


def test_without_links_every_way_is_assumed_and_says_so(catalogue: Catalogue) -> None:
    room = hall(links=False)
    bare = system_of(room, catalogue)
    assert bare.links
    assert all(link.assumed and link.label.startswith("assumed") for link in bare.links)
    fed = {link.end.box for link in bare.links}
    assert {"main", "amp", *(f"l{k}" for k in range(1, 9))} <= fed
    sends = {link.start.box for link in bare.links}
    assert {f"m{k}" for k in range(1, 13)} <= sends


def test_a_computer_that_is_not_in_the_document_is_drawn_as_not_there(
    catalogue: Catalogue,
) -> None:
    room = hall(links=False, equipment={"rack": {"kind": "rack", "at": [0.3, 8, 0.5]}})
    system = system_of(room, catalogue)
    box = next(box for box in system.boxes if box.id == OUTSIDE)
    assert box.assumed
    assert box.lines[1] == "not in the document"
    assert any(OUTSIDE in (link.start.box, link.end.box) and link.both for link in system.links)


@dataclass(frozen=True)
class Run:
    length: float | None


@dataclass(frozen=True)
class Runs:
    def of_link(self, link: RoomLink) -> Run:
        return Run(7.0 if link.cable == "usb-cord-2" else None)


def test_a_length_that_the_document_leaves_open_comes_from_the_runs(catalogue: Catalogue) -> None:
    links = {
        "a": {"from": "main.usb", "to": "computer.usb", "cable": "usb-cord-2"},
        "b": {"from": "m1.link", "to": "main.mic-1", "cable": "twisted-pair"},
    }
    room = hall(links=False)
    room = type(room).model_validate({**room.model_dump(by_alias=True), "links": links})
    found = by_id(system_of(room, catalogue, runs=Runs()))
    assert found["a"].label.replace("\u00a0", " ") == "a · USB · 7.00 m"
    assert found["b"].label.replace("\u00a0", " ") == "b · twisted pair"


def test_an_extender_is_two_boxes_each_where_it_stands(catalogue: Catalogue) -> None:
    """One box at each end is what the catalogue says of the pair; its own cable joins them."""
    ends = [
        ("computer.hdmi-out-1", "x1.near", "hdmi-cord-2", 2.0),
        ("x1.run-near", "x1.run-far", "twisted-pair", 18.7),
        ("x1.far", "picture.hdmi-1", "hdmi-cord-2", 2.0),
    ]
    plain = hall(links=False).model_dump(mode="json", by_alias=True, exclude_unset=True)
    plain["devices"] = {
        "x1": {"kind": "other", "product": "hdmi-extender-70", "equipment": "rack"},
    }
    plain["furniture"] = {
        "picture": {"kind": "display", "wall": "w1", "centre": [4.0, 1.5], "size": [1.4, 0.8]}
    }
    plain["links"] = {
        f"c{k:02}": {"from": one, "to": other, "cable": cable, "length": length}
        for k, (one, other, cable, length) in enumerate(ends, start=1)
    }
    system = system_of(codec.from_data(plain), catalogue)
    lines = {box.id: box.lines for box in system.boxes}
    assert lines["x1"] == ("x1", "hdmi-extender-70", "in rack")
    assert lines["x1 far"] == ("x1 far", "hdmi-extender-70", "at picture")
    assert not any(box.assumed for box in system.boxes)
    column, links = columns(system), by_id(system)
    assert links["c02"].start == End("x1", "run-near")
    assert links["c02"].end == End("x1 far", "run-far")
    assert column["computer"] < column["x1"] < column["x1 far"] < column["picture"]

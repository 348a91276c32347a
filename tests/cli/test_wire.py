"""``wire``: where the document goes, what is said, and how it ends."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from wellheard.room import codec

if TYPE_CHECKING:
    from tests.cli.conftest import Wellheard

ROOM = """\
wellheard: 1
# a comment that stays
space: {outline: [[0, 0], [8, 0], [8, 5], [0, 5]], height: 2.8}
people: {seats: {s1: {at: [3, 2], facing: 0}}}
equipment: {rack: {kind: rack, at: [7.6, 0.4, 0.5]}}
devices:
  m1: {kind: microphone, product: ceiling-head-3, at: [2, 2.5, 2.8]}
"""


@pytest.fixture
def room(tmp_path: Path) -> Path:
    path = tmp_path / "small.room.yaml"
    path.write_text(ROOM, "utf-8")
    return path


def test_document_goes_to_stdout_and_the_summary_to_stderr(
    wellheard: Wellheard, room: Path
) -> None:
    ended = wellheard("wire", room)
    assert ended.code == 0
    wired = codec.parse(ended.out)
    assert [(link.from_, link.to) for link in wired.links.values()] == [
        ("m1.link", "p1.mic-1"),
        ("p1.usb", "computer.usb"),
    ]
    assert "# a comment that stays" in ended.out
    # What nothing comes to is not written, empty.
    assert "processing" not in ended.out
    assert "{}" not in ended.out
    assert "null" not in ended.out
    assert all(len(line) <= 100 for line in ended.err.splitlines())
    for said in (
        "To buy: p1 (bridge-2).",
        "Proven:",
        "computer is taken to be at rack",
        "lock out",
    ):
        assert said in " ".join(ended.err.split())
    assert room.read_text("utf-8") == ROOM


def test_a_room_without_devices_is_told_what_places_them(wellheard: Wellheard, room: Path) -> None:
    assert "wellheard design places them" not in " ".join(wellheard("wire", room).err.split())
    room.write_text(ROOM[: ROOM.index("devices:")], "utf-8")
    ended = wellheard("wire", room)
    assert ended.code == 0
    assert "wellheard design places them" in " ".join(ended.err.split())


def test_what_is_wired_so_already_is_not_told_as_new(wellheard: Wellheard, room: Path) -> None:
    assert "Nothing is new" not in wellheard("wire", room, "--in-place").err
    wired = room.read_text("utf-8")
    assert "Nothing is new" in wellheard("wire", room, "--in-place").err
    assert room.read_text("utf-8") == wired


def test_a_cable_has_the_number_of_its_label_everywhere(wellheard: Wellheard, room: Path) -> None:
    stated = "links: {to-computer: {from: p1.usb, to: computer.usb, locked: true}}\n"
    device = "  p1: {kind: processor, product: bridge-2, equipment: rack}\n"
    place = (
        "{rack: {kind: rack, at: [7.6, 0.4, 0.5]}, computer: {kind: computer, at: [7.2, 0.4, 0.5]}}"
    )
    text = ROOM.replace("{rack: {kind: rack, at: [7.6, 0.4, 0.5]}}", place)
    room.write_text(text + device + stated, "utf-8")
    told = wellheard("wire", room, "--in-place").err
    printed = {line.split()[0] for line in told.splitlines() if "p1.usb" in line}
    listed = wellheard("schedule", room, "--only", "cables").out
    labelled = {line.split()[0] for line in listed.splitlines() if "p1.usb" in line}
    assert printed == labelled == {"c02"}


EIGHTHS = frozenset("⅛¼⅜½⅝¾⅞")


def test_estimated_lengths_are_told_in_whole_inches(wellheard: Wellheard, room: Path) -> None:
    """No cable is cut to an eighth of an inch by an estimate: common practice, no source [C]."""
    feet = ROOM.replace("wellheard: 1\n", "wellheard: 1\nunits: ft\n")
    feet = feet.replace(
        "[[0, 0], [8, 0], [8, 5], [0, 5]], height: 2.8",
        "[[0, 0], [26, 0], [26, 16], [0, 16]], height: 9",
    )
    feet = (
        feet.replace("[3, 2]", "[10, 7]")
        .replace("[7.6, 0.4, 0.5]", "[25, 1.3, 1.6]")
        .replace("[2, 2.5, 2.8]", "[7, 8, 9]")
    )
    room.write_text(feet, "utf-8")
    told = [wellheard("wire", room, "--in-place").err, wellheard("schedule", room).out]
    for text in told:
        rows = [line for line in text.splitlines() if "twisted-pair" in line]
        assert rows
        assert all("'-" in row and not EIGHTHS & set(row) for row in rows)


def test_json_goes_to_stdout_instead(wellheard: Wellheard, room: Path) -> None:
    wiring = wellheard("wire", room, "--format", "json").json["wiring"]
    assert wiring["proof"]["status"] == "optimal"
    assert wiring["links"]["c01"]["from"] == "m1.link"
    assert wiring["unwired"] == []


def test_written_in_place_it_is_wired_the_same_again(wellheard: Wellheard, room: Path) -> None:
    assert wellheard("wire", room, "--in-place").code == 0
    once = room.read_text("utf-8")
    assert once != ROOM
    assert wellheard("wire", room, "--in-place").code == 0
    assert room.read_text("utf-8") == once


def test_output_leaves_the_document_as_it_is(
    wellheard: Wellheard, room: Path, tmp_path: Path
) -> None:
    to = tmp_path / "wired.room.yaml"
    ended = wellheard("wire", room, "-o", to)
    assert (ended.code, ended.out) == (0, "")
    assert codec.read(to).links
    assert room.read_text("utf-8") == ROOM


def test_what_cannot_be_wired_ends_with_one_and_the_rest_is_wired(
    wellheard: Wellheard, room: Path
) -> None:
    text = ROOM.replace("[8, 0], [8, 5]", "[90, 0], [90, 5]").replace("[7.6,", "[89.6,")
    more = "  m2: {kind: microphone, product: ceiling-head-3, at: [80, 2.5, 2.8]}\n"
    room.write_text(text + more, "utf-8")
    ended = wellheard("wire", room)
    assert ended.code == 1
    assert "Not wired: m1.link." in " ".join(ended.err.split())
    assert any(link.from_ == "m2.link" for link in codec.parse(ended.out).links.values())


@pytest.mark.parametrize("wrong", [("--time-limit", "0"), ("--in-place", "-o", "x.room.yaml")])
def test_wrong_use_is_refused_in_words(
    wellheard: Wellheard, room: Path, wrong: tuple[str, ...]
) -> None:
    ended = wellheard("wire", room, *wrong)
    assert ended.code == 2
    assert ended.err.strip()

"""``place``: where the document goes, and that nothing in it is lost on the way."""

from __future__ import annotations

import difflib
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from wellheard.room import codec
from wellheard.workflow import design
from wellheard.workflow.load import load

if TYPE_CHECKING:
    from tests.cli.conftest import Wellheard


def _lost(before: str, after: str) -> list[str]:
    return [
        line[2:]
        for line in difflib.ndiff(before.splitlines(), after.splitlines())
        if line.startswith("- ")
    ]


@pytest.fixture
def proposed(huddle: Path) -> str:
    """The document as it is placed, by the library."""
    return design.place(load(huddle)).text


def test_to_stdout_goes_the_document_and_nothing_else(
    wellheard: Wellheard, huddle: Path, proposed: str
) -> None:
    ended = wellheard("place", huddle)
    assert ended.code == 0
    room = codec.parse(ended.out)
    assert [d.kind for d in room.devices.values()].count("microphone") == 1
    assert "proven optimal" in ended.err
    assert ended.out == proposed


def test_what_was_placed_reads_again_and_is_placed_the_same(
    wellheard: Wellheard, placed: Path, tmp_path: Path
) -> None:
    again = tmp_path / "again.room.yaml"
    again.write_text(placed.read_text("utf-8"), "utf-8")
    ended = wellheard("place", again)
    assert ended.code == 0
    assert ended.out == placed.read_text("utf-8")


def test_in_place_does_not_overwrite_what_was_written_meanwhile(
    wellheard: Wellheard, huddle: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "a.room.yaml"
    path.write_text(huddle.read_text("utf-8"), "utf-8")
    place = design.place

    def long(*arguments: Any, **options: Any) -> design.Placed:
        placed = place(*arguments, **options)
        path.write_text(huddle.read_text("utf-8") + "# hers\n", "utf-8")
        return placed

    monkeypatch.setattr(design, "place", long)
    ended = wellheard("place", path, "--in-place")
    assert (ended.code, ended.out) == (2, "")
    assert ended.err.startswith(f"{path}: changed since it was read, and is left as it is; ")
    assert path.read_text("utf-8").endswith("# hers\n")


def test_in_place_keeps_every_comment_and_every_other_line(
    wellheard: Wellheard, huddle: Path, tmp_path: Path
) -> None:
    path = tmp_path / "a.room.yaml"
    before = huddle.read_text("utf-8")
    assert "#" in before
    path.write_text(before, "utf-8")
    path.chmod(0o640)
    ended = wellheard("place", path, "--in-place")
    assert (ended.code, ended.out) == (0, "")
    after = path.read_text("utf-8")
    assert after != before
    assert [line for line in _lost(before, after) if "#" in line] == []
    assert len(_lost(before, after)) <= 1  # at most the line that says which devices there are
    assert path.stat().st_mode & 0o777 == 0o640
    assert [p.name for p in tmp_path.iterdir()] == ["a.room.yaml"]


def test_output_writes_another_file_and_leaves_the_room(
    wellheard: Wellheard, huddle: Path, proposed: str, tmp_path: Path
) -> None:
    before = huddle.read_bytes()
    ended = wellheard("place", huddle, "-o", tmp_path / "b.room.yaml")
    assert (ended.code, ended.out) == (0, "")
    assert (tmp_path / "b.room.yaml").read_bytes() == proposed.encode()
    assert huddle.read_bytes() == before


def test_json_can_be_had_together_with_the_file(
    wellheard: Wellheard, huddle: Path, proposed: str, tmp_path: Path
) -> None:
    ended = wellheard("place", huddle, "-o", tmp_path / "b.room.yaml", "--format", "json")
    assert ended.code == 0
    assert set(ended.json["devices"]) <= set(codec.read(tmp_path / "b.room.yaml").devices)
    assert (tmp_path / "b.room.yaml").read_bytes() == proposed.encode()


def test_a_locked_microphone_stays_where_it_is_and_exit_1_says_the_promise_fails(
    wellheard: Wellheard, glass: Path
) -> None:
    ended = wellheard("place", glass)
    assert ended.code == 1
    assert codec.parse(ended.out).devices == codec.read(glass).devices
    assert "the promise cannot be met" in ended.err

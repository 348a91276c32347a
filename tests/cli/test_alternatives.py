"""``design --alternatives``: a table, fields, and a folder of each inside that of the design."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from wellheard.workflow.load import load

if TYPE_CHECKING:
    from tests.cli.conftest import Wellheard

pytestmark = pytest.mark.usefixtures("few_rays")


def test_each_alternative_is_a_document_in_a_folder_that_may_be_written_again(
    wellheard: Wellheard, huddle: Path, tmp_path: Path
) -> None:
    folder = tmp_path / "huddle"
    ended = wellheard("design", huddle, "-o", folder, "--alternatives", "2")
    assert ended.code == 0
    for said in ("to choose from", "Cheapest *", "* the design of this folder", "designs tried"):
        assert said in ended.out
    chosen = ended.out[ended.out.index("to choose from") :].split("\n\n")[0]
    assert all(len(line) <= 100 for line in chosen.splitlines())
    assert "Prices are of the whole bill" in chosen
    listed = json.loads((folder / "result.json").read_bytes())["alternatives"]
    assert len(listed) == 2
    for one in listed:
        room = load(folder / one["document"]).room
        placed = [d.product for d in room.devices.values() if d.product in one["devices"]]
        assert len(placed) == sum(one["devices"].values())
        assert room.links
    manifest = json.loads((folder / "manifest.json").read_bytes())
    assert {one["document"] for one in listed} <= set(manifest["files"])

    # Unchanged it may be replaced, by fewer files too; a note of somebody's inside is kept.
    note = folder / "alternatives" / "note.txt"
    note.write_text("mine", "utf-8")
    refused = wellheard("design", huddle, "-o", folder)
    assert refused.code == 2
    assert "note.txt" in refused.err
    note.unlink()
    again = wellheard("design", huddle, "-o", folder)
    assert again.code == 0
    assert "to choose from" not in again.out
    assert not (folder / "alternatives").exists()


def test_more_alternatives_than_there_may_be_are_refused(
    wellheard: Wellheard, huddle: Path, tmp_path: Path
) -> None:
    ended = wellheard("design", huddle, "-o", tmp_path / "huddle", "--alternatives", "10")
    assert ended.code == 2
    assert "0 to 9 are allowed" in ended.err

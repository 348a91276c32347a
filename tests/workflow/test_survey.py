"""A survey only looks: neither the file nor the room it says is another afterwards."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from wellheard.room import codec
from wellheard.workflow import survey
from wellheard.workflow.load import load

EXAMPLE = Path(__file__).parents[2] / "examples" / "huddle-four" / "huddle-four.room.yaml"


@pytest.mark.usefixtures("few_rays")
def test_the_document_is_not_changed_by_its_survey(tmp_path: Path) -> None:
    path = tmp_path / "it.room.yaml"
    shutil.copyfile(EXAMPLE, path)
    loaded = load(path)
    before = codec.dump(loaded.room)
    survey.survey(loaded)
    assert codec.dump(loaded.room) == before
    assert path.read_bytes() == EXAMPLE.read_bytes()

"""A folder of rooms with a shelf that nobody watches."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.workflow.shelf.rooms import TEXT
from wellheard.workflow.products import FOLDER_VARIABLE
from wellheard.workflow.shelf import Shelf


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    found = tmp_path / "rooms"
    (found / "sub").mkdir(parents=True)
    (found / "tide.room.yaml").write_text(TEXT)
    (found / "sub" / "moor.room.yaml").write_text(TEXT.replace("Tide", "Moor"))
    return found


@pytest.fixture
def own_catalogue(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Where the user's own products are, none yet."""
    folder = tmp_path / "own"
    monkeypatch.setenv(FOLDER_VARIABLE, str(folder))
    return folder


@pytest.fixture
def shelf(folder: Path) -> Iterator[Shelf]:
    opened = Shelf(folder, watch=False)
    yield opened
    opened.close()

"""One document and what opens its desk."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.workflow.desk.opening import TEXT, Opener


@pytest.fixture
def path(tmp_path: Path) -> Path:
    found = tmp_path / "tide.room.yaml"
    found.write_text(TEXT)
    return found


@pytest.fixture
def opened(path: Path) -> Iterator[Opener]:
    opener = Opener(path)
    yield opener
    opener.close()

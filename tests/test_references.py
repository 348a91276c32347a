"""Every source that a docstring cites is listed, with its edition, and every listing is used."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).parents[1]
REFERENCES: dict[str, Any] = tomllib.loads(
    (ROOT / "docs" / "references.toml").read_text(encoding="utf-8")
)
CITATION = re.compile(r"^\s*\.\. \[\d+\] (.+)$", re.MULTILINE)
KEY = re.compile(r"([a-z0-9][a-z0-9.-]*?)(?::([0-9]{4}))?(?=,|\.?$)")
CITED = [
    (f"{path.relative_to(ROOT)}: {line}", line)
    for path in sorted((ROOT / "src").rglob("*.py"))
    for line in CITATION.findall(path.read_text(encoding="utf-8"))
]


@pytest.mark.parametrize("line", [line for _, line in CITED], ids=[where for where, _ in CITED])
def test_every_citation_resolves(line: str) -> None:
    found = KEY.match(line)
    assert found is not None, f"{line!r} does not begin with key or key:edition and a comma"
    key, edition = found.groups()
    assert key in REFERENCES, f"{key!r} is not in docs/references.toml"
    editions = REFERENCES[key].get("editions", [])
    if editions:
        assert edition in editions, f"{key} has the editions {editions}, not {edition}"
    else:
        assert edition is None, f"{key} has no editions in docs/references.toml"


@pytest.mark.parametrize("key", list(REFERENCES))
def test_every_source_says_how_it_was_checked(key: str) -> None:
    source = REFERENCES[key]
    assert set(source) <= {"title", "editions", "checked", "trust"}
    assert source["title"]
    assert source["checked"]
    assert source["trust"] in {"L", "M", "C"}


@pytest.mark.parametrize("key", list(REFERENCES))
def test_every_source_is_cited_somewhere(key: str) -> None:
    cited = {found.group(1) for _, line in CITED if (found := KEY.match(line))}
    assert key in cited

"""Which leaves two rooms differ in, held against the leaves of their texts as YAML reads them."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import yaml

from wellheard.room import codec
from wellheard.room.operations import apply, changed_paths

EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*/*.room.yaml"))
DOCUMENTS = {path.parent.name: codec.load(path) for path in EXAMPLES}


def leaves(text: str) -> dict[str, Any]:
    """Leaves of a text by path, as another reader has them: its lists are leaves."""
    found: dict[str, Any] = {}

    def walk(path: str, value: Any) -> None:
        octaves = isinstance(value, dict) and all(str(k)[:1].isdecimal() for k in value)
        if isinstance(value, dict) and value and not octaves and path != "basis":
            for key, inside in value.items():
                walk(f"{path}.{key}" if path else str(key), inside)
        elif path == "basis":
            found.update({f"basis.{key}": word for key, word in value.items()})
        else:
            found[path] = value

    walk("", yaml.safe_load(text))
    return found


def differing(one: str, other: str) -> set[str]:
    a, b = leaves(one), leaves(other)
    return {path for path in {*a, *b} if a.get(path) != b.get(path)}


@pytest.mark.parametrize("name", DOCUMENTS)
@pytest.mark.parametrize(
    "operations",
    [
        [{"path": "title", "set": "Another"}],
        [{"path": "space.height", "set": 3.123}],
        [{"path": "targets.noise_nc", "set": 28}, {"path": "far_end.one_way_delay_ms", "set": 90}],
        [{"do": "move", "items": ["noise.sources"], "by": [0.1, 0.1]}],
        [{"do": "wall-length", "wall": 0, "typed": "13.5 m"}],
        [{"path": "noise.background", "set": {"levels_db": dict.fromkeys(
            ("125", "250", "500", "1000", "2000", "4000", "8000"), 30)}}],
        [{"path": "basis.space.climate", "set": "measured"}],
    ],
    ids=lambda operations: str(operations)[:40],
)  # fmt: skip
def test_what_changed_is_what_another_reader_finds_different(
    name: str, operations: list[dict[str, Any]]
) -> None:
    document = DOCUMENTS[name]
    if operations[0].get("items") == ["noise.sources"]:
        items = [f"noise.sources.{key}" for key in document.room.noise.sources]
        operations = [{**operations[0], "items": items}]
    done = apply(document.room, operations, unit="m")
    text = codec.edit(document, done.room)
    assert set(done.touched) == differing(document.text, text)


def test_taking_an_entry_away_meets_any_change_of_it() -> None:
    room = DOCUMENTS["huddle-four"].room
    gone = apply(room, [{"do": "remove", "items": ["people.seats.s1"]}], unit="m")
    # Its height is a default, and in no text; the two changes still meet.
    taller = apply(room, [{"path": "people.seats.s1.height", "set": 1.3}], unit="m")
    assert set(gone.touched) & set(taller.touched) == {"people.seats.s1.height"}
    other = apply(room, [{"path": "people.seats.s2.height", "set": 1.3}], unit="m")
    assert not set(gone.touched) & set(other.touched)


def test_a_room_differs_from_itself_in_nothing() -> None:
    for document in DOCUMENTS.values():
        assert changed_paths(document.room, codec.parse(document.text)) == frozenset()


def test_a_default_written_out_is_no_change() -> None:
    room = DOCUMENTS["huddle-four"].room
    done = apply(room, [{"path": "people.seats.s1.height", "set": 1.2}], unit="m")
    assert done.touched == ()

"""Ids that no catalogue has are told with their place, all at once."""

from __future__ import annotations

from pathlib import Path

import pytest

from wellheard.errors import DocumentError
from wellheard.workflow.load import load, load_text

BROKEN = """\
wellheard: 1
space:
  outline: [[0, 0], [5, 0], [5, 4], [0, 4]]
  height: 2.7
  finishes: {floor: carpet-tyle, walls: chair-wood-each}
people: {seats: {s1: {at: [2, 2]}}}
choices: {allow: [ceiling-head-9]}
devices:
  m1: {kind: loudspeaker, product: ceiling-head-3, at: [2, 2, 2.7]}
targets:
  house_rules: {microphone-near-wal: {relaxed: true, because: "why not"}}
"""


def test_every_id_that_does_not_resolve_is_told_with_its_place(tmp_path: Path) -> None:
    path = tmp_path / "a.room.yaml"
    path.write_text(BROKEN)
    with pytest.raises(DocumentError) as caught:
        load(path)
    said = [str(p).removeprefix(str(path)) for p in caught.value.problems]
    lines = BROKEN.splitlines()
    found = ("carpet-tyle", "chair-wood-each", "ceiling-head-9", "loudspeaker", "{relaxed")
    places = [
        next(f":{n}:{line.index(word) + 1}" for n, line in enumerate(lines, 1) if word in line)
        for word in found
    ]
    assert [line.split(": ")[0] for line in said] == places
    assert "did you mean carpet-tile" in said[0]
    # A chair is a catalogue finish, but counted in pieces: no wall is made of it.
    assert "no finish 'chair-wood-each'" in said[1]
    assert "did you mean ceiling-head" in said[2]
    assert "ceiling-head-3 is a microphone, not a loudspeaker" in said[3]
    assert "did you mean microphone-near-wall" in said[4]


def test_a_text_reads_as_if_it_stood_in_its_file(tmp_path: Path) -> None:
    path = tmp_path / "a.room.yaml"
    text = BROKEN.split("choices")[0].replace("carpet-tyle, walls: chair-wood-each", "carpet-tile")
    path.write_text(text)
    for raw in (text, text.encode()):
        assert load_text(raw, path).document == load(path).document
    with pytest.raises(DocumentError, match=r"a\.room\.yaml:5:"):
        load_text(BROKEN, path)


@pytest.mark.parametrize(
    ("code", "limit"),
    [
        ("speech-crest-db", "1e9"),
        ("acoustic-distance-quiet", "-1"),
        ("playback-level-high", "-40"),
        ("in-room-delay", "1e6"),
    ],
)
def test_a_limit_that_no_room_can_have_is_refused_with_what_is_allowed(
    code: str, limit: str, tmp_path: Path
) -> None:
    rule = f"  house_rules: {{{code}: {{limit: {limit}, because: why not}}}}\n"
    text = BROKEN.replace("carpet-tyle", "carpet-tile").replace("chair-wood-each", "plasterboard")
    text = text[: text.index("choices")] + "targets:\n" + rule
    with pytest.raises(DocumentError) as caught:
        load_text(text, tmp_path / "a.room.yaml")
    assert f"targets.house_rules.{code}.limit" in str(caught.value)
    assert " to " in str(caught.value)


COLOURED = """\
wellheard: 1
space: {outline: [[0, 0], [5, 0], [5, 4], [0, 4]], height: 2.7}
people: {seats: {s1: {at: [2, 2]}}}
devices:
  m1: {kind: microphone, product: ceiling-head-3, at: [2, 2, 2.7], colour: COLOUR}
"""


def test_a_colour_that_a_product_does_not_come_in_is_refused_with_those_it_does() -> None:
    text = COLOURED.replace("COLOUR", "green")
    with pytest.raises(DocumentError) as caught:
        load_text(text, "a.room.yaml")
    (said,) = map(str, caught.value.problems)
    assert said.startswith("a.room.yaml:5:")
    assert "ceiling-head-3 does not come in green; white or black" in said
    assert load_text(COLOURED.replace("COLOUR", "black"), "a").room.devices["m1"].colour == "black"


def test_a_colour_that_nothing_comes_in_is_refused() -> None:
    text = COLOURED.replace("COLOUR", "white") + "choices: {colour: blakc}\n"
    with pytest.raises(DocumentError) as caught:
        load_text(text, "a.room.yaml")
    (said,) = map(str, caught.value.problems)
    assert said.startswith("a.room.yaml:6:")
    assert "no product comes in blakc; a colour of the catalogue (did you mean black?)" in said

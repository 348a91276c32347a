"""What is said of documents that cannot be used, and that nothing worse ever happens."""

from __future__ import annotations

import random
import re
from pathlib import Path

import pytest

from wellheard.errors import DocumentError, InputError, Problem, WellheardError
from wellheard.room import codec

ROOT = Path(__file__).parents[2]
BROKEN = sorted((ROOT / "tests" / "cases" / "broken").glob("*.room.yaml"))
EXAMPLES = sorted(ROOT.glob("examples/*/*.room.yaml"))


def test_there_are_many_broken_documents() -> None:
    assert len(BROKEN) >= 100


@pytest.mark.parametrize("path", BROKEN, ids=lambda p: p.name.removesuffix(".room.yaml"))
def test_every_problem_is_said_with_its_place(path: Path) -> None:
    before = path.read_bytes()
    with pytest.raises(DocumentError) as caught:
        codec.parse(before, name=path.name)
    expected = path.with_name(path.name.replace(".room.yaml", ".expected")).read_text()
    assert str(caught.value) + "\n" == expected
    assert path.read_bytes() == before


@pytest.mark.parametrize("path", BROKEN, ids=lambda p: p.name.removesuffix(".room.yaml"))
def test_every_place_is_in_the_text(path: Path) -> None:
    with pytest.raises(DocumentError) as caught:
        codec.read(path)
    lines = re.split("\r\n|\r|\n", path.read_bytes().decode("utf-8", "replace"))
    for problem in caught.value.problems:
        assert problem.file == str(path)
        assert 1 <= problem.line <= len(lines)
        assert 1 <= problem.column <= len(lines[problem.line - 1]) + 1
        assert problem.what
        assert problem.allowed


def test_a_file_that_is_not_there_is_an_input_error(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"absent.*No such file.*; "):
        codec.load(tmp_path / "absent.room.yaml")
    with pytest.raises(InputError, match="; "):
        codec.load(tmp_path)


def test_a_file_past_two_megabytes_is_refused_before_it_is_parsed(tmp_path: Path) -> None:
    big = tmp_path / "big.room.yaml"
    big.write_bytes(b"wellheard: 1\nx-pad: [" + b"1," * 1_100_000 + b"1]\n")
    with pytest.raises(DocumentError, match=r"2\.2 MB; at most 2 MB"):
        codec.load(big)
    with pytest.raises(DocumentError, match="at most 2 MB"):
        codec.parse(big.read_bytes())


def test_an_alias_bomb_is_refused_and_not_expanded() -> None:
    rows = ["x-a0: &a0 [1, 1, 1, 1, 1, 1, 1, 1]"]
    rows += [f"x-a{i}: &a{i} [{', '.join([f'*a{i - 1}'] * 8)}]" for i in range(1, 12)]
    with pytest.raises(DocumentError) as caught:
        codec.parse("wellheard: 1\n" + "\n".join(rows))
    assert any("the alias *a0" in problem.what for problem in caught.value.problems)


@pytest.mark.parametrize(
    "text",
    ["[" * 100_000, "{a: " * 50_000, "- " * 100_000, "? " * 50_000, "a:\n" + " " * 9 + "-" * 9],
)
def test_no_nesting_exhausts_the_stack(text: str) -> None:
    with pytest.raises(DocumentError):
        codec.parse(text)


def test_data_without_text_has_the_same_problems_without_lines() -> None:
    with pytest.raises(DocumentError) as caught:
        codec.from_data(
            {
                "wellheard": 1,
                "space": {"outline": [[0, 0], [6, 0], [6, 4], [0, 4]], "hight": 2.7},
                "people": {"seats": {"s1": {"at": [2, 9]}}},
            },
            name="request",
        )
    assert [str(p) for p in caught.value.problems] == [
        "request: space.height: is missing; required: floor to ceiling [m]",
        "request: space.hight: unknown field; did you mean height?",
    ]


def test_a_position_is_known_for_every_reference_of_a_document() -> None:
    for path in EXAMPLES:
        document = codec.load(path)
        lines = document.text.splitlines()
        for where, _, name in document.room.references():
            line, column = document.position(where)
            if name in document.text:
                assert lines[line - 1][column - 1 :].startswith((name, "finishes", "ceiling")), (
                    where
                )


MUTATIONS = 480


def mutated(text: bytes, chance: random.Random) -> bytes:
    """A document after a slip of the keyboard, an editor, a disk or a merge."""
    lines = text.split(b"\n")
    for _ in range(chance.randint(1, 3)):
        at = chance.randrange(len(text) or 1)
        kind = chance.randrange(9)
        if kind == 0:
            text = text[:at] + bytes([chance.randrange(256)]) + text[at + 1 :]
        elif kind == 1:
            text = text[:at] + text[at + chance.randint(1, 40) :]
        elif kind == 2:
            text = (
                text[:at]
                + chance.choice([b"[", b"]", b"{", b"}", b":", b"\n", b"'", b"*a"])
                + text[at:]
            )
        elif kind == 3:
            chance.shuffle(lines)
            text = b"\n".join(lines)
        elif kind == 4:
            i = chance.randrange(len(lines))
            text = b"\n".join([*lines[:i], lines[i], lines[i], *lines[i + 1 :]])
        elif kind == 5:
            i = chance.randrange(len(lines))
            text = b"\n".join([*lines[:i], b"  " + lines[i], *lines[i + 1 :]])
        elif kind == 6:
            word = chance.choice(
                [b"null", b"-1e308", b"1e999", b"yes", b"[[]]", b"{}", b"''", b"9'-0\""]
            )
            colon = text.find(b": ", at)
            end = min(
                (e for e in (text.find(b",", colon), text.find(b"\n", colon)) if e > 0), default=at
            )
            text = text[: colon + 2] + word + text[end:] if colon > 0 else text
        elif kind == 7:
            text = text[:at]
        else:
            text = text.replace(
                chance.choice([b"0", b"1", b"2", b"4"]), chance.choice([b"-9", b"99", b""])
            )
    return text


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda p: p.stem)
def test_no_mutation_ends_in_anything_but_a_room_or_a_document_error(path: Path) -> None:
    chance = random.Random(path.name)
    original = path.read_bytes()
    read = refused = 0
    for _ in range(MUTATIONS // len(EXAMPLES)):
        text = mutated(original, chance)
        problems: tuple[Problem, ...] = ()
        try:
            room = codec.parse(text, name="mutant")
        except DocumentError as error:
            problems = error.problems
        else:
            read += 1
            assert codec.parse_data(codec.dump(room)) == room
            continue
        refused += 1
        assert problems
        assert all(str(problem).startswith("mutant:") for problem in problems)
    assert read
    assert refused
    assert path.read_bytes() == original


def test_document_errors_are_wellheard_errors() -> None:
    with pytest.raises(WellheardError):
        codec.parse("")

"""A change that was answered is on the disk once, and can be taken back."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.workflow.desk.opening import TEXT, Opener, change, put
from wellheard.errors import DocumentError, InputError, UsageError
from wellheard.room import codec
from wellheard.workflow.desk import Desk

# Commits ---------------------------------------------------------------------------------------


def test_a_commit_is_in_the_file_when_it_is_answered_and_keeps_every_remark(
    opened: Opener, path: Path
) -> None:
    desk = opened()
    first = desk.state
    done = desk.commit(
        [{"path": "people.seats.s1.at", "set": [2.5, 2]}, {"path": "space.height", "typed": "9"}],
        base=first.version,
        key="a",
        what="move s1",
        unit="ft",
    )
    text = path.read_text()
    assert text == TEXT.replace("at: [2, 2]", "at: [2.5, 2]").replace("2.7", "2.7432")
    assert codec.parse(text) == done.state.loaded.room
    assert done.state.loaded.document.text == text
    assert done.state.version > first.version
    assert (done.created, done.merged) == ((), False)
    assert (done.state.undo, done.state.redo) == ("move s1", "")
    assert desk.state == done.state


def test_what_is_added_is_named(opened: Opener) -> None:
    desk = opened()
    seat = [{"do": "add", "kind": "seat", "at": [4, 2]}]
    done = desk.commit(seat, base=desk.state.version, key="a", what="add a seat", unit="m")
    [item] = done.created
    assert item.removeprefix("people.seats.") in done.state.loaded.room.people.seats


@pytest.mark.parametrize(
    ("operations", "error", "said"),
    [
        (put("people.seats.s1.at", [60, 2]), DocumentError, "outside the room"),
        (put("space.height", "tall"), InputError, "space.height"),
        (put("space.colour", "blue"), InputError, "colour"),
        (put("space.finishes", {"floor": "carpet-tyle"}), DocumentError, "carpet-tile"),
        ([{"do": "dance"}], InputError, "dance"),
        ("nonsense", InputError, "operations"),
    ],
)
def test_what_makes_no_valid_document_changes_nothing(
    opened: Opener, path: Path, operations: Any, error: type[Exception], said: str
) -> None:
    desk = opened()
    before = desk.state
    with pytest.raises(error, match=said):
        desk.commit(operations, base=before.version, key="a", what="x", unit="m")
    assert path.read_text() == TEXT
    assert desk.state == before
    # The key is free: nothing was done under it.
    assert change(desk, "title", "Moor Room", "a").loaded.room.title == "Moor Room"


def test_a_change_that_changes_nothing_is_nothing_to_undo(opened: Opener) -> None:
    desk = opened()
    first = desk.state
    same = change(desk, "title", "Tide Room", "a")
    assert same.version > first.version
    assert same.undo == ""
    assert change(desk, "title", "Moor Room", "b", base=first.version).undo == "b"


def test_what_a_change_is_called_is_short_and_of_one_line(opened: Opener) -> None:
    desk = opened()
    what = "a\nb\x1b[2J" + "x" * 5000
    done = desk.commit(put("title", "M"), base=desk.state.version, key="a", what=what, unit="m")
    assert len(done.state.undo) < 900
    assert done.state.undo.isprintable()


@pytest.mark.parametrize("base", [0, -1, 10**9, "1", None, [1]])
def test_a_version_that_never_was_is_refused(opened: Opener, base: Any) -> None:
    desk = opened()
    with pytest.raises(InputError, match="load the room again"):
        desk.commit(put("title", "M"), base=base, key="a", what="x", unit="m")


@pytest.mark.parametrize("key", ["", "x" * 201, None, 7])
def test_a_key_is_a_short_text(opened: Opener, key: Any) -> None:
    desk = opened()
    with pytest.raises(UsageError, match="key"):
        desk.undo(key=key)


# Keys ------------------------------------------------------------------------------------------


def test_a_key_seen_before_answers_as_the_first_time_also_after_a_restart(
    opened: Opener, path: Path
) -> None:
    desk = opened()
    base = desk.state.version
    seat = [{"do": "add", "kind": "seat", "at": [4, 2]}]
    first = desk.commit(seat, base=base, key="a", what="add a seat", unit="m")
    assert desk.commit(seat, base=base, key="a", what="add a seat", unit="m") == first
    change(desk, "title", "Moor Room", "b")
    for _ in range(2):
        again = desk.commit(seat, base=base, key="a", what="add a seat", unit="m")
        assert (again.created, again.merged) == (first.created, first.merged)
        assert again.state.version == first.state.version
        assert again.state.loaded.document.text == first.state.loaded.document.text
        assert (again.state.undo, again.state.redo) == (first.state.undo, first.state.redo)
        assert len(desk.state.loaded.room.people.seats) == 3
        desk = opened()
    undone = desk.undo(key="c").state
    assert desk.undo(key="c").state.version == undone.version
    assert desk.state.loaded.room.title == "Tide Room"
    assert desk.state.loaded.room.people.seats.keys() == first.state.loaded.room.people.seats.keys()


# Undo and redo ---------------------------------------------------------------------------------


def test_undo_and_redo_go_all_the_way_across_a_restart(opened: Opener, path: Path) -> None:
    desk = opened()
    texts = [path.read_text()]
    for i in range(3):
        change(desk, "title", f"Room {i}", f"r{i}")
        texts.append(path.read_text())
    desk = opened()
    for i, text in enumerate(reversed(texts[:-1])):
        assert desk.state.undo == f"r{2 - i}"
        desk.undo(key=f"u{i}")
        assert path.read_text() == text
    with pytest.raises(UsageError, match="nothing to take back"):
        desk.undo(key="u9")
    desk = opened()
    for i, text in enumerate(texts[1:]):
        assert desk.state.redo == f"r{i}"
        desk.redo(key=f"d{i}")
        assert path.read_text() == text
    with pytest.raises(UsageError, match="nothing to do again"):
        desk.redo(key="d9")
    desk.undo(key="v")
    change(desk, "title", "Moor Room", "m")
    assert desk.state.redo == ""


STEPS = st.lists(
    st.tuples(
        st.sampled_from(["edit", "edit", "outside", "undo", "undo", "redo", "restart"]),
        st.integers(0, 3),
    ),
    max_size=12,
)


@settings(
    max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(steps=STEPS)
def test_any_sequence_agrees_with_a_list_of_texts(
    tmp_path_factory: pytest.TempPathFactory, steps: list[tuple[str, int]]
) -> None:
    path = tmp_path_factory.mktemp("model") / "tide.room.yaml"
    path.write_text(TEXT)
    desk = Desk.opened(path, folder=path.parent, key="tide")
    texts, at = [TEXT], 0
    for number, (step, value) in enumerate(steps):
        if step == "restart":
            desk.close()
            desk = Desk.opened(path, folder=path.parent, key="tide")
        elif step == "undo" and at:
            desk.undo(key=f"k{number}")
            at -= 1
        elif step == "redo" and at + 1 < len(texts):
            desk.redo(key=f"k{number}")
            at += 1
        elif step in ("edit", "outside"):
            new = TEXT.replace("Tide Room", f"Room {value}")
            if step == "edit":
                change(desk, "title", f"Room {value}", f"k{number}")
            else:
                path.write_text(new)
                desk.look()
            if new != texts[at]:
                texts[at + 1 :] = [new]
                at += 1
        assert path.read_text() == texts[at]
        assert desk.state.loaded.document.text == texts[at]
        assert bool(desk.state.undo) == (at > 0)
        assert bool(desk.state.redo) == (at + 1 < len(texts))
    desk.close()

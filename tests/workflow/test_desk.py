"""A change that was answered is on the disk, nobody's is lost, and the file is always valid."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from wellheard.errors import DocumentError, InputError, UsageError
from wellheard.room import codec
from wellheard.room.operations import apply
from wellheard.store.journal import Entry, Journal
from wellheard.workflow.desk import Conflict, Desk, State
from wellheard.workflow.record import Record

TEXT = """\
# A box, invented, with a remark that must stay.
wellheard: 1
title: Tide Room
units: m
space:
  outline: [[0, 0], [6, 0], [6, 4.5], [0, 4.5]]     # measured by nobody
  height: 2.7
people:
  seats:
    s1: {at: [2, 2], facing: 0}     # the chair
    s2: {at: [3, 2], facing: 0}
"""


@pytest.fixture
def path(tmp_path: Path) -> Path:
    found = tmp_path / "tide.room.yaml"
    found.write_text(TEXT)
    return found


class Opener:
    """Opens the desk of a file; again is after a restart."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.desks: list[Desk] = []

    def __call__(self) -> Desk:
        self.close()
        self.desks.append(Desk.opened(self.path, folder=self.path.parent, key="tide"))
        return self.desks[0]

    def close(self) -> None:
        while self.desks:
            self.desks.pop().close()


@pytest.fixture
def opened(path: Path) -> Iterator[Opener]:
    opener = Opener(path)
    yield opener
    opener.close()


def put(field: str, value: Any) -> list[dict[str, Any]]:
    return [{"path": field, "set": value}]


def change(desk: Desk, field: str, value: Any, key: str, base: int | None = None) -> State:
    version = desk.state.version if base is None else base
    return desk.commit(put(field, value), base=version, key=key, what=key, unit="m").state


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


# Several at a time -----------------------------------------------------------------------------


MERGES: list[tuple[Any, Any, str]] = [
    # theirs, yours, what the two come to: "both", or the path that they disagree about
    (put("title", "Moor Room"), put("space.height", 3.0), "both"),
    (put("people.seats.s1.at", [1, 1]), put("people.seats.s2.at", [4, 1]), "both"),
    (put("people.seats.s1.at", [1, 1]), put("people.seats.s1.facing", 90), "both"),
    (put("people.seats.s1.at", [1, 1]), put("people.seats.s1.at", [1, 1]), "both"),
    (
        [{"do": "add", "kind": "seat", "at": [4, 1]}],
        [{"do": "add", "kind": "seat", "at": [4, 3]}],
        "both",
    ),
    ([{"do": "remove", "items": ["people.seats.s1"]}], put("title", "Moor Room"), "both"),
    (put("title", "Moor Room"), put("title", "Fen Room"), "title"),
    (put("people.seats.s1.at", [1, 1]), put("people.seats.s1.at", [1, 3]), "people.seats.s1.at"),
    (
        [{"do": "move", "items": ["people.seats.s1"], "by": [1, 0]}],
        [{"do": "move", "items": ["people.seats.s1"], "by": [0, 1]}],
        "people.seats.s1.at",
    ),
    (
        [{"do": "remove", "items": ["people.seats.s1"]}],
        put("people.seats.s1.at", [1, 3]),
        "people.seats.s1",
    ),
    (
        put("people.seats.s1.at", [1, 3]),
        [{"do": "remove", "items": ["people.seats.s1"]}],
        "people.seats.s1",
    ),
    (
        [{"do": "corner-move", "corner": 2, "to": [6.5, 4.5]}],
        [{"do": "corner-move", "corner": 3, "to": [0, 5]}],
        "space.outline",
    ),
]


@pytest.mark.parametrize(("theirs", "yours", "outcome"), MERGES)
@pytest.mark.parametrize("how", ["commit", "outside"])
def test_two_changes_of_one_version_are_both_kept_or_the_second_is_told(
    opened: Opener, path: Path, theirs: Any, yours: Any, outcome: str, how: str
) -> None:
    desk = opened()
    base = desk.state.version
    if how == "commit":
        desk.commit(theirs, base=base, key="theirs", what="theirs", unit="m")
    else:
        document = desk.state.loaded.document
        path.write_text(codec.edit(document, apply(document.room, theirs, unit="m").room))
    if outcome == "both":
        done = desk.commit(yours, base=base, key="yours", what="yours", unit="m")
        assert done.merged
        # Each alone, one after the other, comes to the same.
        room = codec.parse(TEXT)
        for operations in (theirs, yours):
            room = apply(room, operations, unit="m").room
        assert codec.read(path) == room
        return
    with pytest.raises(Conflict) as caught:
        desk.commit(yours, base=base, key="yours", what="yours", unit="m")
    [clash] = caught.value.clashes
    assert clash.path == outcome
    assert clash.what
    assert clash.yours != clash.theirs
    before = path.read_text()
    assert desk.state.undo in ("theirs", "edited outside")
    assert desk.state.loaded.document.text == before


def test_a_clash_is_told_in_plain_words_and_in_the_unit_asked_for(
    opened: Opener,
) -> None:
    desk = opened()
    base = desk.state.version
    change(desk, "space.height", 3.048, "theirs")
    with pytest.raises(Conflict) as caught:
        desk.commit(put("space.height", 2.4384), base=base, key="k", what="x", unit="ft")
    [clash] = caught.value.clashes
    assert (clash.what, clash.yours, clash.theirs) == ("Ceiling height", "8'-0\"", "10'-0\"")
    assert "Ceiling height: yours 8'-0\", meanwhile 10'-0\"" in str(caught.value)


def test_a_merge_that_contradicts_itself_is_refused(opened: Opener, path: Path) -> None:
    desk = opened()
    base = desk.state.version
    smaller = [[0, 0], [3.5, 0], [3.5, 4.5], [0, 4.5]]
    change(desk, "space.outline", smaller, "theirs")
    before = path.read_text()
    with pytest.raises(DocumentError, match="outside the room"):
        change(desk, "people.seats.s1.at", [5, 2], "yours", base=base)
    assert path.read_text() == before


def test_a_whole_text_is_merged_like_operations(opened: Opener, path: Path) -> None:
    desk = opened()
    base = desk.state.version
    designed = TEXT + (
        "devices:\n  m1: {kind: microphone, product: ceiling-head-3, at: [3, 2.25, 2.7]}\n"
    )
    change(desk, "title", "Moor Room", "theirs")
    done = desk.commit_text(designed, base=base, key="a", what="accept the design")
    assert done.merged
    room = codec.read(path)
    assert (room.title, list(room.devices)) == ("Moor Room", ["m1"])
    assert "# the chair" in path.read_text()
    with pytest.raises(Conflict, match="Title: yours Fen Room, meanwhile Moor Room"):
        desk.commit_text(TEXT.replace("Tide", "Fen"), base=base, key="b", what="another whole text")
    with pytest.raises(DocumentError):
        desk.commit_text("wellheard: 1", base=done.state.version, key="c", what="half a text")
    whole = TEXT.replace("# the chair", "# the stool")
    desk.commit_text(whole, base=desk.state.version, key="d", what="a remark")
    assert path.read_text() == whole


def test_a_whole_text_in_other_units_is_merged_by_what_it_says(opened: Opener, path: Path) -> None:
    desk = opened()
    base = desk.state.version
    room = codec.parse(TEXT).model_copy(update={"units": "ft"})
    change(desk, "title", "Moor Room", "theirs")
    desk.commit_text(codec.dump(room), base=base, key="a", what="in feet")
    now = codec.read(path)
    assert now == room.model_copy(update={"title": "Moor Room"})


def test_one_desk_for_a_file_and_a_link_to_it(opened: Opener, path: Path) -> None:
    desk = opened()
    link = path.with_name("other.room.yaml")
    link.symlink_to(path)
    same = Desk.opened(link, folder=path.parent, key="other")
    assert same is desk
    same.close()
    assert change(desk, "title", "Moor Room", "a").loaded.room.title == "Moor Room"
    assert link.is_symlink()


def test_many_threads_lose_nothing(opened: Opener, path: Path) -> None:
    desk = opened()
    base = desk.state.version
    told: list[int] = []
    stop = desk.subscribe(lambda state: told.append(state.version))

    def work(name: str) -> None:
        for i in range(5):
            seat = [{"do": "add", "kind": "standing", "at": [4, 2]}]
            desk.commit(seat, base=base, key=f"{name}{i}", what="add", unit="m")

    threads = [threading.Thread(target=work, args=(name,)) for name in "abcd"]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    stop()
    assert len(codec.read(path).people.standing) == 20
    assert told == sorted(told)
    assert len(told) == 20
    desk.undo(key="u")
    assert len(told) == 20


def test_a_subscriber_that_fails_or_commits_itself_stops_nobody(opened: Opener, path: Path) -> None:
    desk = opened()
    told: list[str] = []

    def fail(state: State) -> None:
        raise RuntimeError

    def answer(state: State) -> None:
        told.append(state.loaded.room.title)
        if state.loaded.room.title == "Moor Room":
            change(desk, "title", "Fen Room", "b")

    desk.subscribe(fail)
    desk.subscribe(answer)
    change(desk, "title", "Moor Room", "a")
    assert told == ["Moor Room", "Fen Room"]


TWO = """
import sys
from pathlib import Path
from wellheard.room.operations import apply
from wellheard.store.journal import Entry, Journal
from wellheard.workflow.desk import Conflict, Desk
path, name, rounds = Path(sys.argv[1]), sys.argv[2], int(sys.argv[3])
desk = Desk.opened(path, folder=path.parent, key="tide")
print("ready", flush=True)
sys.stdin.readline()
for i in range(rounds):
    seat = [{"do": "add", "kind": "standing", "at": [4, 2]}]
    title = [{"path": "title", "set": f"{name}{i}"}]
    base = desk.state.version
    desk.commit(seat, base=base, key=f"{name}-seat-{i}", what="add", unit="m")
    try:
        desk.commit(title, base=base, key=f"{name}-title-{i}", what="title", unit="m")
        print(f"{name}{i}", flush=True)
    except Conflict:
        print("conflict", flush=True)
desk.close()
"""


def test_two_processes_on_one_file_lose_nothing(opened: Opener, path: Path) -> None:
    rounds = 8
    workers = [
        subprocess.Popen(
            [sys.executable, "-c", TWO, str(path), name, str(rounds)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            encoding="utf-8",
        )
        for name in ("a", "b")
    ]
    for worker in workers:
        assert worker.stdout is not None
        assert worker.stdout.readline() == "ready\n"
    said = []
    for worker in workers:
        assert worker.stdin is not None
        worker.stdin.write("\n")
        worker.stdin.flush()
    for worker in workers:
        out, _ = worker.communicate(timeout=120)
        assert worker.returncode == 0
        said.append(out.split())
    desk = opened()
    room = codec.read(path)
    assert len(room.people.standing) == 2 * rounds
    titles = [word for words in said for word in words if word != "conflict"]
    assert room.title in titles
    with desk._journal.writing():
        entries = desk._record.history.entries.values()
    done = [e for e in entries if e.kind == "edited"]
    # Everything that was answered is an entry, and nothing came from outside.
    assert len(done) == 2 * rounds + len(titles)
    assert {e.kind for e in entries} == {"opened", "edited"}


def test_what_another_process_did_is_noticed(opened: Opener, path: Path) -> None:
    desk = opened()
    told: list[State] = []
    desk.subscribe(told.append)
    code = (
        "import sys; from pathlib import Path; from wellheard.workflow.desk import Desk\n"
        "path = Path(sys.argv[1]); desk = Desk.opened(path, folder=path.parent, key='tide')\n"
        "desk.commit([{'path': 'title', 'set': 'Moor Room'}], base=desk.state.version, key='a',"
        " what='there', unit='m'); desk.close()"
    )
    subprocess.run([sys.executable, "-c", code, str(path)], check=True, timeout=60)
    desk.look()
    assert [s.loaded.room.title for s in told] == ["Moor Room"]
    assert desk.state.undo == "there"
    desk.undo(key="u")
    assert path.read_text() == TEXT


# Edits from outside ----------------------------------------------------------------------------


def test_an_edit_from_outside_is_noticed_and_can_be_undone(opened: Opener, path: Path) -> None:
    desk = opened()
    told: list[State] = []
    desk.subscribe(told.append)
    path.write_text(TEXT.replace("Tide", "Moor"))
    desk.look()
    desk.look()
    assert [s.loaded.room.title for s in told] == ["Moor Room"]
    assert desk.state.undo == "edited outside"
    desk.undo(key="u")
    assert path.read_text() == TEXT
    desk.redo(key="r")
    assert path.read_text() == TEXT.replace("Tide", "Moor")


def test_an_edit_in_the_same_tick_of_the_clock_as_a_save_is_noticed(
    opened: Opener, path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Time stamps of some file systems are seconds apart: nothing tells the two files apart.
    monkeypatch.setattr(Record, "_signature", lambda self: "always the same")
    desk = opened()
    change(desk, "title", "Fens Room", "a")
    desk.look()
    path.write_text(TEXT.replace("Tide", "Moor"))
    desk.look()
    assert desk.state.loaded.room.title == "Moor Room"


def test_a_file_that_rests_is_not_read_again(
    opened: Opener, path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    os.utime(path, (1e9, 1e9))
    desk = opened()

    def reading(self: Record) -> bytes:
        raise AssertionError

    monkeypatch.setattr(Record, "_found", reading)
    desk.look()


def test_an_edit_back_to_the_text_before_is_an_edit_and_no_crash(
    opened: Opener, path: Path
) -> None:
    desk = opened()
    change(desk, "title", "Moor Room", "a")
    opened.close()
    path.write_text(TEXT)  # nobody was looking
    desk = opened()
    assert path.read_text() == TEXT
    assert desk.state.undo == "edited outside"
    desk.undo(key="u")
    assert codec.read(path).title == "Moor Room"


@pytest.mark.parametrize(
    "text",
    [
        TEXT.replace("2.7", "tall"),
        TEXT.replace("[2, 2]", "[20, 2]"),
        "",
        "\0\1\2",
        "x" * 3_000_000,
        TEXT + "devices: {m1: {kind: microphone, product: no-such, at: [1, 1, 1]}}\n",
    ],
)
def test_an_edit_that_cannot_be_read_stops_changes_and_is_not_overwritten(
    opened: Opener, path: Path, text: str
) -> None:
    desk = opened()
    change(desk, "title", "Moor Room", "a")
    told: list[State] = []
    desk.subscribe(told.append)
    path.write_text(text)
    desk.look()
    [state] = told
    assert state.problems
    assert state.loaded.room.title == "Moor Room"
    for doing in (
        lambda: change(desk, "title", "Fen Room", "b"),
        lambda: desk.undo(key="c"),
        lambda: desk.commit_text(TEXT, base=desk.state.version, key="d", what="x"),
    ):
        with pytest.raises(InputError) as caught:
            doing()
        assert str(path) in str(caught.value)
        assert "mend the file, or put the last valid text back" in str(caught.value)
        assert caught.value.problems
    assert path.read_text() == text
    # Mended, it is an edit like any other.
    path.write_text(TEXT.replace("Tide", "Fell"))
    assert change(desk, "space.height", 3, "e").loaded.room.title == "Fell Room"
    assert desk.state.problems == ()


def test_a_message_about_an_edit_names_its_line(opened: Opener, path: Path) -> None:
    desk = opened()
    path.write_text(TEXT.replace("2.7", "tall"))
    line = TEXT.splitlines().index("  height: 2.7") + 1
    with pytest.raises(InputError, match=rf"{path.name}:{line}:11: space.height"):
        change(desk, "title", "Fen Room", "b")


def test_a_file_that_could_not_be_read_while_nobody_looked_shows_the_last_valid_state(
    opened: Opener, path: Path
) -> None:
    desk = opened()
    change(desk, "title", "Moor Room", "a")
    opened.close()
    path.write_text("nonsense")
    desk = opened()
    assert desk.state.problems
    assert desk.state.loaded.room.title == "Moor Room"
    desk.restore(key="r")
    assert codec.read(path).title == "Moor Room"


def test_a_file_that_could_never_be_read_has_no_desk(opened: Opener, path: Path) -> None:
    path.write_text("nonsense")
    with pytest.raises(InputError, match=r"nonsense|wellheard"):
        opened()
    path.write_text(TEXT)
    assert opened().state.loaded.room.title == "Tide Room"


def _kept(path: Path) -> list[Path]:
    trash = path.parent / ".wellheard" / "trash"
    return sorted(trash.iterdir()) if trash.exists() else []


def test_restoring_puts_the_last_valid_text_back_and_keeps_what_was_there(
    opened: Opener, path: Path
) -> None:
    desk = opened()
    change(desk, "title", "Moor Room", "a")
    valid = path.read_text()
    path.write_bytes(b"nonsense \xff")
    done = desk.restore(key="r")
    assert path.read_text() == valid
    assert done.state.problems == ()
    assert done.state.undo == "a"
    assert [p.read_bytes() for p in _kept(path)] == [b"nonsense \xff"]
    # Once is once: the same request again takes nothing else back.
    path.write_text("nonsense again")
    desk.restore(key="r")
    assert path.read_text() == "nonsense again"


def test_a_file_that_was_taken_away_is_told_and_can_be_put_back(opened: Opener, path: Path) -> None:
    desk = opened()
    path.unlink()
    desk.look()
    [problem] = desk.state.problems
    assert problem.what == "is no longer there"
    with pytest.raises(InputError, match="is no longer there"):
        change(desk, "title", "Moor Room", "a")
    assert not path.exists()
    desk.restore(key="r")
    assert path.read_text() == TEXT
    path.unlink()
    desk.look()
    path.write_text(TEXT.replace("Tide", "Fell"))
    desk.look()
    assert desk.state.problems == ()
    assert desk.state.loaded.room.title == "Fell Room"


@pytest.mark.parametrize("inside", [True, False])
def test_a_file_that_became_a_link_is_never_written_through(
    opened: Opener, path: Path, tmp_path_factory: pytest.TempPathFactory, inside: bool
) -> None:
    desk = opened()
    folder = path.parent if inside else tmp_path_factory.mktemp("elsewhere")
    other = folder / "other.yaml"
    other.write_text(TEXT.replace("Tide", "Fell"))
    path.unlink()
    path.symlink_to(other)
    desk.look()
    assert "leads to" in desk.state.problems[0].what
    assert desk.state.loaded.room.title == "Tide Room"
    with pytest.raises(InputError, match="leads to"):
        change(desk, "title", "Moor Room", "a")
    desk.restore(key="r")
    assert path.read_text() == TEXT
    assert not path.is_symlink()
    assert other.read_text() == TEXT.replace("Tide", "Fell")


def test_a_folder_that_became_a_link_is_never_written_through(tmp_path: Path) -> None:
    rooms, elsewhere = tmp_path / "rooms", tmp_path / "elsewhere"
    for folder in (rooms / "sub", elsewhere):
        folder.mkdir(parents=True)
        (folder / "tide.room.yaml").write_text(TEXT)
    desk = Desk.opened(rooms / "sub" / "tide.room.yaml", folder=rooms, key="tide")
    (rooms / "sub").rename(rooms / "was")
    (rooms / "sub").symlink_to(elsewhere)
    with pytest.raises(InputError, match="leads to"):
        change(desk, "title", "Moor Room", "a")
    with pytest.raises(InputError):
        desk.restore(key="r")
    assert (elsewhere / "tide.room.yaml").read_text() == TEXT
    desk.close()


def test_a_file_that_became_a_folder_is_told(opened: Opener, path: Path) -> None:
    desk = opened()
    path.unlink()
    path.mkdir()
    desk.look()
    assert desk.state.problems[0].what == "is no plain file by now"


@pytest.mark.parametrize("form", ["with a byte order mark", "with line ends of Windows"])
def test_a_file_as_other_editors_save_it_is_expected_as_it_is(
    opened: Opener, path: Path, form: str
) -> None:
    raw = TEXT.encode("utf-8-sig") if "mark" in form else TEXT.replace("\n", "\r\n").encode()
    path.write_bytes(raw)
    desk = opened()
    desk.look()
    assert (desk.state.undo, desk.state.problems) == ("", ())
    assert path.read_bytes() == raw
    change(desk, "title", "Moor Room", "a")
    desk.look()
    assert desk.state.undo == "a"
    assert "# the chair" in path.read_text()
    desk.undo(key="u")
    assert path.read_bytes() == raw


# Races with an edit from outside ---------------------------------------------------------------


def racing(monkeypatch: pytest.MonkeyPatch, write: Callable[[], object]) -> None:
    """Let somebody write to the file once between a change's entry and its saving."""
    settle, count = Record.settle, [0]

    def settling(self: Record) -> None:
        count[0] += 1
        if count[0] == 2:
            write()
        settle(self)

    monkeypatch.setattr(Record, "settle", settling)


def test_an_edit_between_entry_and_saving_that_says_something_else_is_merged(
    opened: Opener, path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk = opened()
    outside = TEXT.replace("the chair", "the stool").replace("2.7", "2.9")
    racing(monkeypatch, lambda: path.write_text(outside))
    done = desk.commit(
        put("title", "Moor Room"), base=desk.state.version, key="a", what="title", unit="m"
    )
    monkeypatch.undo()
    assert path.read_text() == outside.replace("Tide", "Moor")
    assert done.state.loaded.room.title == "Moor Room"
    assert desk.state.undo == "edited outside"
    assert desk.state.loaded.room.space.height == 2.9
    again = desk.commit(put("title", "Moor Room"), base=1, key="a", what="title", unit="m")
    assert again.state.version == done.state.version
    desk.undo(key="u")
    assert path.read_text() == TEXT.replace("Tide", "Moor")


def test_an_edit_in_the_moment_before_saving_is_merged(
    opened: Opener, path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk = opened()
    text, outside = Journal.text, TEXT.replace("2.7", "2.9")

    def late(self: Journal, entry: Entry) -> bytes:
        monkeypatch.setattr(Journal, "text", text)
        path.write_text(outside)  # after the file was found to be as expected
        return text(self, entry)

    monkeypatch.setattr(Journal, "text", late)
    change(desk, "title", "Moor Room", "a")
    assert path.read_text() == outside.replace("Tide", "Moor")


def test_a_file_that_never_rests_is_told(
    opened: Opener, path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk = opened()
    text, turns = Journal.text, iter(range(100))

    def restless(self: Journal, entry: Entry) -> bytes:
        found = text(self, entry)
        path.write_text(TEXT + f"# {next(turns)}\n")
        return found

    monkeypatch.setattr(Journal, "text", restless)
    with pytest.raises(InputError, match="is changed again and again"):
        change(desk, "title", "Moor Room", "a")
    monkeypatch.undo()
    desk.look()
    assert desk.state.problems == ()
    assert codec.read(path).title == "Moor Room"


def test_an_edit_between_entry_and_saving_that_disagrees_is_a_conflict_and_neither_is_lost(
    opened: Opener, path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk = opened()
    outside = TEXT.replace("Tide", "Fell")
    racing(monkeypatch, lambda: path.write_text(outside))
    with pytest.raises(Conflict, match="Title: yours Moor Room, meanwhile Fell Room"):
        change(desk, "title", "Moor Room", "a")
    monkeypatch.undo()
    assert path.read_text() == outside
    with pytest.raises(Conflict, match="Title: yours Moor Room, meanwhile Fell Room"):
        change(desk, "title", "Moor Room", "a")
    desk.undo(key="u")
    assert codec.read(path).title == "Moor Room"
    desk.undo(key="v")
    assert path.read_text() == TEXT


def test_an_edit_between_entry_and_saving_that_cannot_be_read_is_kept_and_told(
    opened: Opener, path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk = opened()
    racing(monkeypatch, lambda: path.write_text("nonsense"))
    with pytest.raises(InputError, match="The change is kept"):
        change(desk, "title", "Moor Room", "a")
    monkeypatch.undo()
    assert path.read_text() == "nonsense"
    # Mended by somebody who never saw the change: both hold.
    path.write_text(TEXT.replace("2.7", "2.9"))
    desk.look()
    room = codec.read(path)
    assert (room.title, room.space.height) == ("Moor Room", 2.9)
    assert change(desk, "title", "Moor Room", "a").loaded.room.title == "Moor Room"


def test_a_disk_that_is_full_for_a_while_loses_nothing(
    opened: Opener, path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk = opened()

    def full(source: str, destination: str) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", full)
    with pytest.raises(InputError, match="No space left on device"):
        change(desk, "title", "Moor Room", "a")
    assert path.read_text() == TEXT
    with pytest.raises(InputError, match="No space left on device"):
        change(desk, "title", "Fen Room", "b")
    monkeypatch.undo()
    desk.look()
    assert codec.read(path).title == "Moor Room"
    assert desk.state.problems == ()
    assert change(desk, "title", "Moor Room", "a").loaded.room.title == "Moor Room"


def test_what_cannot_be_saved_for_being_protected_is_no_entry(
    opened: Opener, path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk = opened()
    before = desk.state
    access = os.access
    monkeypatch.setattr(os, "access", lambda p, mode, **o: Path(p) != path and access(p, mode, **o))
    with pytest.raises(InputError, match="the file is write-protected; let it be written"):
        change(desk, "title", "Moor Room", "a")
    assert desk.state == before
    monkeypatch.undo()
    assert change(desk, "title", "Moor Room", "a").undo == "a"


def test_a_journal_that_cannot_be_written_changes_nothing(
    opened: Opener, path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk = opened()
    before = desk.state
    commit = desk._journal._commit

    def full() -> None:
        raise InputError("database or disk is full")

    monkeypatch.setattr(desk._journal, "_commit", full)
    with pytest.raises(InputError, match="disk is full"):
        change(desk, "title", "Moor Room", "a")
    desk._journal._base.execute("ROLLBACK")
    monkeypatch.setattr(desk._journal, "_commit", commit)
    assert path.read_text() == TEXT
    assert desk.state == before
    assert change(desk, "title", "Fen Room", "a").loaded.room.title == "Fen Room"
    assert desk.state.undo == "a"


def test_a_row_without_its_file_is_saved_when_the_document_is_opened_next(
    opened: Opener, path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk = opened()
    monkeypatch.setattr(Record, "_put", lambda self, over: True)
    desk.commit(put("title", "Moor Room"), base=desk.state.version, key="a", what="t", unit="m")
    monkeypatch.undo()
    assert path.read_text() == TEXT  # the process ended here
    desk = opened()
    assert codec.read(path).title == "Moor Room"
    assert (desk.state.undo, desk.state.problems) == ("t", ())

"""Several hands on one document: nobody's change is lost."""

from __future__ import annotations

import subprocess
import sys
import threading
from pathlib import Path
from typing import Any

import pytest

from tests.workflow.desk.opening import TEXT, Opener, change, put
from wellheard.errors import DocumentError
from wellheard.room import codec
from wellheard.room.operations import apply
from wellheard.workflow.desk import Conflict, Desk, State

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

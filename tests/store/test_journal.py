"""The journal keeps every text for ever, says what is wrong with it, and lets nobody change it."""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from wellheard.errors import InputError
from wellheard.store import journal as journals
from wellheard.store.journal import Journal


@pytest.fixture
def journal(tmp_path: Path) -> Iterator[Journal]:
    opened = Journal.opened(tmp_path)
    yield opened
    opened.close()


def test_what_was_written_is_there_after_it_was_closed(tmp_path: Path) -> None:
    first = Journal.opened(tmp_path)
    document = first.new_document("tide.room.yaml")
    made = first.append(document, "opened", text=b"one\n", key="k", what="opened", answer="{}")
    first.mark_saved(document, made.version)
    first.close()
    again = Journal.opened(tmp_path)
    assert again is not first
    assert again.document("tide.room.yaml") == document
    assert again.entries(document) == [made]
    assert again.by_key(document, "k") == made
    assert again.text(made) == b"one\n"
    assert again.saved(document) == made.version
    again.close()


def test_it_waits_for_the_disk_and_writes_ahead(tmp_path: Path, journal: Journal) -> None:
    # 2 is FULL: https://www.sqlite.org/pragma.html#pragma_synchronous [M]
    assert journal._base.execute("PRAGMA synchronous").fetchone() == (2,)
    assert journal._base.execute("PRAGMA journal_mode").fetchone() == ("wal",)


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE entries SET what = 'other'",
        "DELETE FROM entries",
        "UPDATE places SET place = 'other'",
        "DELETE FROM places",
        "UPDATE saved SET version = 7",
        "DELETE FROM saved",
        "DELETE FROM documents",
    ],
)
def test_no_row_is_ever_changed(tmp_path: Path, journal: Journal, statement: str) -> None:
    document = journal.new_document("tide.room.yaml")
    entry = journal.append(document, "opened", text=b"one\n")
    journal.mark_saved(document, entry.version)
    with sqlite3.connect(journal.path) as other, pytest.raises(sqlite3.IntegrityError):
        other.execute(statement)
    other.close()
    assert journal.text(entry) == b"one\n"


def test_a_block_that_fails_leaves_nothing(journal: Journal) -> None:
    document = journal.new_document("tide.room.yaml")

    def fail() -> None:
        with journal.writing():
            journal.append(document, "opened", text=b"one\n")
            raise RuntimeError

    with pytest.raises(RuntimeError):
        fail()
    assert journal.entries(document) == []


def test_a_key_is_taken_once_in_a_document_and_free_in_another(journal: Journal) -> None:
    one, other = journal.new_document("one.room.yaml"), journal.new_document("other.room.yaml")
    journal.append(one, "opened", text=b"one\n", key="k")
    journal.append(other, "opened", text=b"one\n", key="k")
    with pytest.raises(InputError):
        journal.append(one, "edited", text=b"two\n", key="k")
    assert [e.key for e in journal.entries(one)] == ["k"]


def test_a_process_has_one_journal_of_a_folder(tmp_path: Path, journal: Journal) -> None:
    link = tmp_path.parent / f"{tmp_path.name}-link"
    link.symlink_to(tmp_path)
    same = Journal.opened(link)
    assert same is journal
    same.close()
    assert journal.entries(1) == []  # still open: only one of two gave it back


def test_versions_grow_over_all_documents(journal: Journal) -> None:
    one, other = journal.new_document("one.room.yaml"), journal.new_document("other.room.yaml")
    versions = [journal.append(d, "opened", text=b"x").version for d in (one, other, one)]
    assert versions == sorted(set(versions))
    assert [e.version for e in journal.entries(one)] == [versions[0], versions[2]]
    assert [e.version for e in journal.entries(one, after=versions[0])] == [versions[2]]


def test_a_text_that_is_not_what_was_written_is_told(journal: Journal) -> None:
    document = journal.new_document("tide.room.yaml")
    entry = journal.append(document, "opened", text=b"one\n")
    with sqlite3.connect(journal.path) as other:
        other.execute("DROP TRIGGER entries_update")
        other.execute("UPDATE entries SET text = x'00'")
    other.close()
    with pytest.raises(InputError, match=r"damaged .*move this file away"):
        journal.text(entry)


def test_a_text_that_unpacks_to_gigabytes_is_not_unpacked(journal: Journal) -> None:
    import zlib

    document = journal.new_document("tide.room.yaml")
    entry = journal.append(document, "opened", text=b"one\n")
    packer = zlib.compressobj(9)
    bomb = b"".join(packer.compress(bytes(1 << 20)) for _ in range(64)) + packer.flush()
    with sqlite3.connect(journal.path) as other:
        other.execute("DROP TRIGGER entries_update")
        other.execute("UPDATE entries SET text = ?", (bomb,))
    other.close()
    with pytest.raises(InputError, match="damaged"):
        journal.text(entry)


@pytest.mark.parametrize(
    "what", [b"no database at all, " * 300, b"SQLite format 3\0" + b"\1" * 5000]
)
def test_a_damaged_journal_says_that_the_rooms_are_whole(tmp_path: Path, what: bytes) -> None:
    path = journals.place_of(tmp_path)
    path.parent.mkdir()
    path.write_bytes(what)
    with pytest.raises(InputError, match="the rooms beside it are whole"):
        Journal.opened(tmp_path)
    assert path.read_bytes() == what


def test_a_journal_of_a_newer_version_is_refused_and_left_alone(tmp_path: Path) -> None:
    Journal.opened(tmp_path).close()
    with sqlite3.connect(journals.place_of(tmp_path)) as other:
        other.execute("PRAGMA user_version = 2")
    other.close()
    with pytest.raises(InputError, match="newer than this tool knows"):
        Journal.opened(tmp_path)


@pytest.mark.parametrize("what", [".wellheard", ".wellheard/journal.sqlite3"])
def test_nothing_is_written_through_a_link_that_came_with_the_folder(
    tmp_path: Path, what: str
) -> None:
    folder, elsewhere = tmp_path / "rooms", tmp_path / "elsewhere"
    (folder / what).parent.mkdir(parents=True)
    elsewhere.mkdir()
    target = elsewhere if what == ".wellheard" else elsewhere / "file"
    (folder / what).symlink_to(target)
    with pytest.raises(InputError, match="is no plain f"):
        Journal.opened(folder)
    assert list(elsewhere.iterdir()) == []


def test_who_waits_too_long_for_another_process_is_told(tmp_path: Path, journal: Journal) -> None:
    other = sqlite3.connect(journal.path, isolation_level=None)
    journal._base.execute("PRAGMA busy_timeout = 50")
    other.execute("BEGIN IMMEDIATE")
    with pytest.raises(InputError, match="held by another process"):
        journal.new_document("tide.room.yaml")
    other.execute("ROLLBACK")
    other.close()
    assert journal.new_document("tide.room.yaml")


def test_many_threads_write_one_after_the_other(journal: Journal) -> None:
    document = journal.new_document("tide.room.yaml")

    def write() -> None:
        for _ in range(20):
            with journal.writing():
                count = len(journal.entries(document))
                journal.append(document, "edited", text=str(count).encode())

    threads = [threading.Thread(target=write) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    texts = [journal.text(e) for e in journal.entries(document)]
    assert texts == [str(n).encode() for n in range(80)]


def test_a_document_that_was_about_to_leave_is_still_where_it_was(
    tmp_path: Path, journal: Journal
) -> None:
    document = journal.new_document("tide.room.yaml")
    journal.move(document, ".wellheard/trash/a")
    # The process ended here: nothing was moved.
    assert journal.document("tide.room.yaml") == document
    (tmp_path / ".wellheard" / "trash").mkdir()
    (tmp_path / ".wellheard" / "trash" / "a").write_text("x")
    assert journal.document("tide.room.yaml") is None
    assert journal.moved_into(".wellheard/trash/") == [
        (document, ".wellheard/trash/a", "tide.room.yaml")
    ]
    journal.move(document, "tide.room.yaml")
    assert journal.document("tide.room.yaml") == document

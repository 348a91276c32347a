"""A folder is replaced whole or not at all, and nothing goes that is not ours."""

from __future__ import annotations

import errno
import os
import sys
import threading
from pathlib import Path

import pytest

from wellheard import files, folders
from wellheard.errors import InputError

OLD = {"x": b"old x", "y": b"old y", "list": b"x y"}
EXCHANGE = folders.exchange
NEW = {"x": b"new x", "z": b"new z", "list": b"x z"}


def check(folder: Path) -> None:
    """Refuse what the folder's own list does not name."""
    inside = {p.name for p in folder.iterdir()}
    listed = (folder / "list").read_text().split() if "list" in inside else []
    for name in inside - {"list", *listed}:
        raise InputError(f"{folder / name}: not ours; move it")


def save(folder: Path, contents: dict[str, bytes]) -> None:
    folders.save_folder(folder, contents, last="list", check=check)


def held(folder: Path) -> dict[str, bytes]:
    return {p.name: p.read_bytes() for p in folder.iterdir()}


def names(folder: Path) -> list[str]:
    return sorted(p.name for p in folder.iterdir())


def left(folder: Path, kind: str, contents: dict[str, bytes], of: str = "out") -> Path:
    """What a killed save would have left."""
    path = files.beside(folder / of, kind)
    path.mkdir()
    for name, data in contents.items():
        (path / name).write_bytes(data)
    return path


@pytest.fixture(params=["exchange", "two steps"])
def out(tmp_path: Path, request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder to be saved, on a system that exchanges names and on one that does not."""
    if request.param == "two steps":
        monkeypatch.setattr(folders, "exchange", lambda one, other: False)
    return tmp_path / "out"


@pytest.mark.skipif(sys.platform not in ("linux", "darwin"), reason="no such system call")
def test_this_system_exchanges_two_folders_in_one_step(tmp_path: Path) -> None:
    for name in ("a", "b"):
        (tmp_path / name).mkdir()
        (tmp_path / name / name).write_bytes(b"")
    assert folders.exchange(tmp_path / "a", tmp_path / "b")
    assert names(tmp_path / "a") == ["b"]
    assert names(tmp_path / "b") == ["a"]
    with pytest.raises(OSError, match="No such file"):
        folders.exchange(tmp_path / "a", tmp_path / "c")


def test_a_folder_is_made_with_its_parents_and_replaced(out: Path) -> None:
    deep = out / "of" / "many"
    save(deep, OLD)
    assert held(deep) == OLD
    save(deep, NEW)
    assert held(deep) == NEW
    assert names(deep.parent) == ["many"]


def test_the_mode_of_a_folder_is_kept(out: Path) -> None:
    save(out, OLD)
    out.chmod(0o750)
    save(out, NEW)
    assert out.stat().st_mode & 0o777 == 0o750


def test_what_is_put_there_at_the_last_moment_is_kept(
    out: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    save(out, OLD)
    sync = files.sync_folder

    def late(folder: Path) -> None:
        sync(folder)
        (out / "notes.txt").write_text("hers")

    monkeypatch.setattr(files, "sync_folder", late)
    with pytest.raises(InputError, match=r"out/notes\.txt: not ours"):
        save(out, NEW)
    assert held(out) == {**OLD, "notes.txt": b"hers"}
    assert names(out.parent) == ["out"]


def test_a_failure_at_the_swap_leaves_the_old_folder(
    out: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    save(out, OLD)
    rename = os.rename

    def fails(one: Path, other: Path) -> None:
        if Path(other) == out and "put" in Path(one).name:
            raise OSError(errno.EIO, os.strerror(errno.EIO))
        rename(one, other)

    def exchange(one: Path, other: Path) -> bool:
        raise OSError(errno.EIO, os.strerror(errno.EIO))

    monkeypatch.setattr(os, "rename", fails)
    if folders.exchange is EXCHANGE:
        monkeypatch.setattr(folders, "exchange", exchange)
    with pytest.raises(InputError, match="Input/output error; a folder that can be written"):
        save(out, NEW)
    assert held(out) == OLD
    assert names(out.parent) == ["out"]


def test_what_killed_saves_left_is_cleared_away(out: Path) -> None:
    save(out, OLD)
    left(out.parent, "new", {"x": b"ha"})
    left(out.parent, "put", NEW)
    left(out.parent, "put", {})
    left(out.parent, "old", OLD)
    save(out, NEW)
    assert names(out.parent) == ["out"]


def test_what_is_not_ours_or_of_another_folder_is_not_cleared_away(out: Path) -> None:
    hers = left(out.parent, "put", {**NEW, "notes.txt": b"hers"})
    other = left(out.parent, "old", OLD, of="other")
    save(out, OLD)
    assert held(hers) == {**NEW, "notes.txt": b"hers"}
    assert held(other) == OLD


def test_a_folder_that_lost_its_name_gets_it_back(tmp_path: Path) -> None:
    left(tmp_path, "old", OLD)
    left(tmp_path, "put", NEW)
    assert folders.recover(tmp_path / "out")
    assert held(tmp_path / "out") == OLD
    assert not folders.recover(tmp_path / "out")


def test_the_next_save_gives_a_folder_its_name_back_before_it_replaces_it(out: Path) -> None:
    left(out.parent, "old", {**OLD, "notes.txt": b"hers"})
    with pytest.raises(InputError, match="not ours"):
        save(out, NEW)
    assert held(out) == {**OLD, "notes.txt": b"hers"}


def test_a_folder_on_its_way_is_not_taken_for_lost(tmp_path: Path) -> None:
    old = left(tmp_path, "old", OLD)
    with files.writing_in(tmp_path):
        assert not folders.recover(tmp_path / "out")
    assert old.exists()


def test_there_is_nothing_to_recover_where_there_was_nothing(tmp_path: Path) -> None:
    assert not folders.recover(tmp_path / "out")
    assert not folders.recover(tmp_path / "nowhere" / "out")


def test_many_who_save_a_folder_at_once_leave_one_whole_folder(out: Path) -> None:
    failed: list[Exception] = []

    def saving(mark: str) -> None:
        try:
            for _ in range(10):
                save(out, {"x": mark.encode(), "y": mark.encode(), "list": b"x y"})
        except Exception as error:
            failed.append(error)

    threads = [threading.Thread(target=saving, args=[mark]) for mark in "abcd"]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert failed == []
    found = held(out)
    assert set(found) == {"x", "y", "list"}
    assert found["x"] == found["y"]
    save(out, NEW)
    assert held(out) == NEW
    assert names(out.parent) == ["out"]


def test_files_in_folders_inside_are_written_replaced_and_deleted_whole(tmp_path: Path) -> None:
    target = tmp_path / "made"

    def save_all(contents: dict[str, bytes]) -> None:
        folders.save_folder(target, contents, last="list", check=lambda folder: None)

    save_all({"a": b"1", "more/one/b": b"2", "list": b""})
    assert (target / "more" / "one" / "b").read_bytes() == b"2"
    save_all({"a": b"3", "other/b": b"4", "list": b""})
    inside = [p.relative_to(target).as_posix() for p in target.rglob("*") if p.is_file()]
    assert sorted(inside) == ["a", "list", "other/b"]
    assert names(tmp_path) == ["made"]

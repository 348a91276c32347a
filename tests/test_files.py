"""Files are read within bounds, and saved whole or not at all."""

from __future__ import annotations

import errno
import os
import stat
import subprocess
import sys
import tempfile
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from wellheard import files
from wellheard.errors import InputError

POSIX = pytest.mark.skipif(os.name == "nt", reason="Windows has neither pipes with names nor modes")
NOBODY = 65534


def read(path: Path, most: int = 100) -> bytes:
    return files.read_bytes(path, most=most, wanted="a text")


def names(folder: Path) -> list[str]:
    return sorted(p.name for p in folder.iterdir())


# Reading ---------------------------------------------------------------------------------------


def test_a_file_is_read_up_to_one_byte_past_the_limit(tmp_path: Path) -> None:
    path = tmp_path / "a"
    path.write_bytes(b"x" * 101)
    assert read(path, 101) == b"x" * 101
    assert read(path, 100) == b"x" * 101
    assert read(path, 10) == b"x" * 11


@POSIX
def test_a_device_without_an_end_is_read_up_to_the_limit() -> None:
    assert read(Path("/dev/zero")) == bytes(101)
    assert read(Path("/dev/null")) == b""


@POSIX
def test_a_pipe_that_nobody_writes_to_is_refused_and_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(InputError, match=r"pipe that nobody writes to; a text$"):
        read(tmp_path / "pipe")


@POSIX
def test_a_pipe_is_read_to_its_end_however_slowly_it_comes(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    write = "import sys, time\nwith open(sys.argv[1], 'w') as f:\n"
    write += " for word in ('one ', 'two'):\n  f.write(word); f.flush(); time.sleep(0.2)"
    with subprocess.Popen([sys.executable, "-c", write, pipe]):
        assert read(pipe) == b"one two"


@POSIX
def test_a_pipe_without_end_is_read_up_to_the_limit(tmp_path: Path) -> None:
    with subprocess.Popen(["yes"], stdout=subprocess.PIPE) as endless:
        assert endless.stdout is not None
        found = files.read_bytes(
            f"/dev/fd/{endless.stdout.fileno()}", most=200_000, wanted="a text"
        )
        endless.kill()
    assert len(found) == 200_001


@pytest.mark.parametrize(
    ("made", "said"),
    [
        (lambda p: None, "No such file"),
        (lambda p: p.mkdir(), "directory|Permission"),
        (lambda p: p.symlink_to(p), "symbolic links"),
        (lambda p: p.symlink_to("nowhere"), "No such file"),
    ],
    ids=["nothing", "a folder", "a link to itself", "a link to nothing"],
)
def test_what_is_no_file_is_said(tmp_path: Path, made: Callable[[Path], None], said: str) -> None:
    path = tmp_path / "a"
    made(path)
    with pytest.raises(InputError, match=f"a: .*({said}).*; a text$"):
        read(path)


def test_a_name_that_no_file_can_have_is_said() -> None:
    with pytest.raises(InputError, match="null"):
        files.read_bytes("a\0b", most=9, wanted="a text")


def test_a_file_that_is_cut_or_grows_while_it_is_read_is_not_used(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "a"
    plain = os.read
    for change in (b"x" * 5000, b"x" * 20_000):
        path.write_bytes(b"x" * 10_000)

        def changing(handle: int, size: int, change: bytes = change) -> bytes:
            data = plain(handle, min(size, 4096))
            path.write_bytes(change)
            return data

        monkeypatch.setattr(os, "read", changing)
        with pytest.raises(InputError, match="changed while it was read; run this again"):
            read(path, 100_000)


# Saving ----------------------------------------------------------------------------------------


def test_a_file_is_replaced_and_nothing_stays_beside(tmp_path: Path) -> None:
    files.save(tmp_path / "a", b"old")
    files.save(tmp_path / "a", b"new")
    assert (tmp_path / "a").read_bytes() == b"new"
    assert names(tmp_path) == ["a"]


def test_a_file_that_may_not_be_replaced_is_not(tmp_path: Path) -> None:
    files.save(tmp_path / "a", b"old", replace=False)
    with pytest.raises(InputError, match="exists already"):
        files.save(tmp_path / "a", b"new", replace=False)
    assert (tmp_path / "a").read_bytes() == b"old"
    assert names(tmp_path) == ["a"]


def test_a_file_that_appears_at_the_last_moment_is_not_replaced(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write = files.write_new

    def late(path: Path, data: bytes, **options: object) -> None:
        write(path, data)
        (tmp_path / "a").write_bytes(b"hers")

    monkeypatch.setattr(files, "write_new", late)
    with pytest.raises(InputError, match="exists already"):
        files.save(tmp_path / "a", b"new", replace=False)
    assert (tmp_path / "a").read_bytes() == b"hers"
    assert names(tmp_path) == ["a"]


def test_a_file_system_without_links_gets_the_file_too(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def none(*_: object) -> None:
        raise OSError(errno.EPERM, "Operation not permitted")

    monkeypatch.setattr(os, "link", none)
    files.save(tmp_path / "a", b"new", replace=False)
    assert (tmp_path / "a").read_bytes() == b"new"


def test_the_longest_name_that_a_file_can_have_can_be_saved(tmp_path: Path) -> None:
    name = "n" * 255
    files.save(tmp_path / name, b"old")
    files.save(tmp_path / name, b"new")
    assert (tmp_path / name).read_bytes() == b"new"


@POSIX
@pytest.mark.parametrize(
    ("made", "said"),
    [
        (lambda p: p.mkdir(), "a folder of that name exists"),
        (lambda p: os.mkfifo(p), "a device or pipe"),
        (lambda p: p.symlink_to("/dev/null"), "a device or pipe"),
        (lambda p: p.symlink_to(p), "symbolic links"),
    ],
    ids=["a folder", "a pipe", "a link to a device", "a link to itself"],
)
def test_what_is_no_plain_file_is_never_replaced(
    tmp_path: Path, made: Callable[[Path], None], said: str
) -> None:
    path = tmp_path / "a"
    made(path)
    before = os.lstat(path)
    with pytest.raises(InputError, match=f"{said}.*; "):
        files.save(path, b"new")
    assert os.lstat(path).st_ino == before.st_ino
    assert stat.S_IFMT(os.lstat(path).st_mode) == stat.S_IFMT(before.st_mode)
    assert names(tmp_path) == ["a"]


@pytest.fixture
def nobody(tmp_path: Path) -> Iterator[Path]:
    """A folder, and be somebody whom modes stop."""
    if os.name == "nt":
        pytest.skip("Windows has no such modes")
    if os.geteuid() != 0:
        yield tmp_path
        return
    # Folders above tmp_path are closed to others.
    with tempfile.TemporaryDirectory() as folder:
        os.chown(folder, NOBODY, NOBODY)
        os.seteuid(NOBODY)
        try:
            yield Path(folder)
        finally:
            os.seteuid(0)


def test_a_write_protected_file_is_not_replaced(nobody: Path) -> None:
    path = nobody / "a"
    path.write_bytes(b"old")
    path.chmod(0o444)
    with pytest.raises(InputError, match="write-protected; "):
        files.save(path, b"new")
    assert path.read_bytes() == b"old"
    assert names(nobody) == ["a"]


def test_a_folder_that_is_read_only_is_said(nobody: Path) -> None:
    path = nobody / "a"
    path.write_bytes(b"old")
    nobody.chmod(0o555)
    try:
        with pytest.raises(InputError, match="Permission denied; a folder that can be written to"):
            files.save(path, b"new")
        assert path.read_bytes() == b"old"
        assert names(nobody) == ["a"]
    finally:
        nobody.chmod(0o755)


def test_a_file_that_cannot_be_read_is_said(nobody: Path) -> None:
    path = nobody / "a"
    path.write_bytes(b"old")
    path.chmod(0o000)
    with pytest.raises(InputError, match="Permission denied; a text"):
        read(path)


FULL = """
import resource, sys
from pathlib import Path
from wellheard import files, folders
from wellheard.errors import InputError
resource.setrlimit(resource.RLIMIT_FSIZE, (10_000, 10_000))
where = Path(sys.argv[1])
data = b"x" * 10_001
for save in (
    lambda: files.save(where / "a", data),
    lambda: folders.save_folder(where / "out", {"a": data}, last="a", check=lambda p: None),
):
    try:
        save()
    except InputError as error:
        print(error)
"""


@POSIX
def test_a_file_too_large_for_the_disk_leaves_the_old_one(tmp_path: Path) -> None:
    (tmp_path / "a").write_bytes(b"old")
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "a").write_bytes(b"old")
    done = subprocess.run(
        [sys.executable, "-c", FULL, tmp_path], capture_output=True, encoding="utf-8", check=True
    )
    first, second = done.stdout.splitlines()
    assert first.startswith(f"{tmp_path / 'a'}: File too large; ")
    assert second.startswith(f"{tmp_path / 'out'}: File too large; ")
    assert (tmp_path / "a").read_bytes() == (tmp_path / "out" / "a").read_bytes() == b"old"
    assert names(tmp_path) == ["a", "out"]


@pytest.mark.parametrize("failing", ["replace", "fsync", "open"])
@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EIO, errno.EROFS, errno.EDQUOT])
def test_a_disk_that_fails_at_any_step_leaves_the_old_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, failing: str, number: int
) -> None:
    (tmp_path / "a").write_bytes(b"old")
    plain_open = os.open

    def fails(*arguments: object, **_: object) -> int:
        if failing == "open" and not arguments[1]:  # the folder itself, to be locked
            return plain_open(*arguments)  # type: ignore[arg-type]
        raise OSError(number, os.strerror(number))

    with monkeypatch.context() as broken:
        broken.setattr(os, failing, fails)
        with pytest.raises(InputError, match=f"{os.strerror(number)}; a folder that can be"):
            files.save(tmp_path / "a", b"new")
    assert (tmp_path / "a").read_bytes() == b"old"
    assert names(tmp_path) == ["a"]


# What is left ----------------------------------------------------------------------------------

LEFT = ".wellheard-new-0123456789ab-0123456789ab"


def test_what_a_dead_save_left_is_cleared_away_and_nothing_else(tmp_path: Path) -> None:
    hers = [".wellheard-notes", ".a.swp", ".wellheard-new-mine", f"{LEFT}.bak", f"x{LEFT}"]
    for name in (LEFT, *hers):
        (tmp_path / name).write_bytes(b"half")
    files.save(tmp_path / "a", b"new")
    assert names(tmp_path) == sorted(["a", *hers])


@POSIX
def test_what_a_living_save_writes_is_not_cleared_away(tmp_path: Path) -> None:
    with files.writing_in(tmp_path):
        (tmp_path / LEFT).write_bytes(b"half")
        files.save(tmp_path / "a", b"new")
        assert names(tmp_path) == [LEFT, "a"]
    files.save(tmp_path / "a", b"new")
    assert names(tmp_path) == ["a"]


def test_where_nothing_can_be_locked_only_what_is_old_is_cleared_away(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(files, "fcntl", None)
    (tmp_path / LEFT).write_bytes(b"half")
    files.save(tmp_path / "a", b"new")
    assert names(tmp_path) == [LEFT, "a"]
    os.utime(tmp_path / LEFT, (0, 0))
    files.save(tmp_path / "a", b"new")
    assert names(tmp_path) == ["a"]


def test_many_who_save_at_once_leave_one_whole_file(tmp_path: Path) -> None:
    texts = [bytes([65 + i]) * 100_000 for i in range(6)]

    def save(text: bytes) -> None:
        for _ in range(15):
            files.save(tmp_path / "a", text)

    failed = together(*(lambda t=text: save(t) for text in texts))
    assert failed == []
    assert (tmp_path / "a").read_bytes() in texts
    assert names(tmp_path) == ["a"]


def test_of_many_who_make_a_file_at_once_one_does(tmp_path: Path) -> None:
    texts = [bytes([65 + i]) * 1000 for i in range(8)]
    failed = together(
        *(lambda t=text: files.save(tmp_path / "a", t, replace=False) for text in texts)
    )
    assert len(failed) == len(texts) - 1
    assert all("exists already" in str(error) for error in failed)
    assert (tmp_path / "a").read_bytes() in texts
    assert names(tmp_path) == ["a"]


def together(*calls: Callable[[], None]) -> list[Exception]:
    """Call all at once and give what failed; locks and names do not care whose thread it is."""
    failed: list[Exception] = []

    def called(call: Callable[[], None]) -> None:
        try:
            call()
        except Exception as error:
            failed.append(error)

    threads = [threading.Thread(target=called, args=[call]) for call in calls]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return failed

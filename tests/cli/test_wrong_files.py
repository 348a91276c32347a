"""What is no room document: exit 2, one message, no traceback, nothing written."""

from __future__ import annotations

import os
import tempfile
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import openpyxl
import pytest

if TYPE_CHECKING:
    from tests.cli.conftest import Wellheard

SMALL = """\
wellheard: 1
space: {outline: [[0, 0], [4, 0], [4, 3], [0, 3]], height: 2.7}
people: {seats: {s1: {at: [1, 1]}}}
"""


def _missing(path: Path) -> None:
    """Leave it away."""


def _directory(path: Path) -> None:
    path.mkdir()


def _binary(path: Path) -> None:
    path.write_bytes(bytes(range(256)) * 40)


def _empty(path: Path) -> None:
    path.write_bytes(b"")


def _three_megabytes(path: Path) -> None:
    path.write_bytes(SMALL.encode() + b"# padding\n" * 300_000)


def _broken_yaml(path: Path) -> None:
    path.write_text("wellheard: 1\nspace: {outline: [[0, 0], [4, 0\n", "utf-8")


def _no_seats(path: Path) -> None:
    path.write_text(SMALL.replace("{seats: {s1: {at: [1, 1]}}}", "{effort: normal}"), "utf-8")


def _json_list(path: Path) -> None:
    path.write_text("[1, 2]\n", "utf-8")


def _pipe(path: Path) -> None:
    os.mkfifo(path)


def _device(path: Path) -> None:
    path.symlink_to("/dev/zero")


def _link_to_itself(path: Path) -> None:
    path.symlink_to(path)


def _link_to_nothing(path: Path) -> None:
    path.symlink_to(path.with_name("absent"))


def _pdf(path: Path) -> None:
    path.write_bytes(b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n1 0 obj\n")


def _png(path: Path) -> None:
    # The signature of PNG (ISO/IEC 15948, 5.2), then the length of a chunk.
    path.write_bytes(bytes([137, 80, 78, 71, 13, 10, 26, 10, 0, 0, 0, 13]))


def _jpeg(path: Path) -> None:
    path.write_bytes(b"\xff\xd8\xff\xe0\x00\x10JFIF\x00")


def _zip(path: Path) -> None:
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("notes.txt", "a room")


def _workbook(path: Path) -> None:
    openpyxl.Workbook().save(path)


def _result(path: Path) -> None:
    path.write_text('{"prediction": {"title": ""}, "placement": {}}\n', "utf-8")


def _manifest(path: Path) -> None:
    path.write_text('{"document": "ab", "schema": 1, "files": {"plan.svg": "ab"}}\n', "utf-8")


def _something_else(path: Path) -> None:
    path.write_text("services:\n  web: {image: a}\n", "utf-8")


def _products(path: Path) -> None:
    path.write_text("wellheard-products: 1\nmicrophones: {}\n", "utf-8")


WRONG: list[tuple[Callable[[Path], None], str]] = [
    (_missing, "No such file"),
    (_directory, "directory"),
    (_binary, ""),
    (_empty, ""),
    (_three_megabytes, "2 MB"),
    (_broken_yaml, "no valid YAML"),
    (_no_seats, "seat"),
    (_json_list, ""),
    (_pdf, "this is a PDF, not a room document"),
    (_png, "this is a picture (PNG), not a room document"),
    (_jpeg, "this is a picture (JPEG), not a room document"),
    (_zip, "this is a ZIP archive, not a room document"),
    (_workbook, "this is a spreadsheet (XLSX), not a room document"),
    (_result, "none of its fields belongs to a room document ('prediction', 'placement')"),
    (_manifest, "none of its fields belongs to a room document ("),
    (_something_else, "none of its fields belongs to a room document ('services')"),
    (_products, "this is a file of products"),
    (_link_to_itself, "symbolic links"),
    (_link_to_nothing, "No such file"),
]
if os.name != "nt":
    WRONG += [(_pipe, "a pipe that nobody writes to"), (_device, "2 MB")]


@pytest.mark.parametrize(("make", "said"), WRONG, ids=lambda v: getattr(v, "__name__", ""))
def test_a_wrong_file_is_named_with_what_is_wrong(
    wellheard: Wellheard, tmp_path: Path, make: Callable[[Path], None], said: str
) -> None:
    path = tmp_path / "wrong.room.yaml"
    make(path)
    before = sorted(p.name for p in tmp_path.iterdir())
    for asked in (
        ["check", path],
        ["predict", path, "--format", "json"],
        ["place", path, "--in-place"],
        ["design", path, "-o", tmp_path / "out"],
        ["publish", path, "-o", tmp_path / "out"],
        ["explain", path, "s1"],
    ):
        ended = wellheard(*asked)
        assert (ended.code, ended.out) == (2, "")
        assert ended.err.startswith(str(path))
        assert said in ended.err
        # where: what; what is allowed
        assert all("; " in line for line in ended.err.splitlines())
    assert sorted(p.name for p in tmp_path.iterdir()) == before


def test_a_name_that_a_terminal_would_obey_is_written_out(
    wellheard: Wellheard, tmp_path: Path
) -> None:
    for name in ("a\x1b[2J.room.yaml", "a\nb.room.yaml", "\u202eb.room.yaml"):
        path = tmp_path / name
        ended = wellheard("check", path)
        assert (ended.code, ended.out) == (2, "")
        path.write_text("wellheard: 1\n", "utf-8")
        ended = wellheard("check", path)
        assert ended.code == 2
        assert not set("\x1b\u202e") & set(ended.err)
        assert all(line.startswith(str(tmp_path)) for line in ended.err.splitlines())


def test_unknown_products_are_told_together_in_reading_order_with_what_was_meant(
    wellheard: Wellheard, tmp_path: Path
) -> None:
    path = tmp_path / "a.room.yaml"
    path.write_text(
        SMALL
        + "devices: {m1: {kind: microphone, product: ceiling-haed-3, at: [1, 1, 2.7]}}\n"
        + "choices: {allow: [pendant-cardiod]}\n",
        "utf-8",
    )
    ended = wellheard("check", path)
    assert ended.code == 2
    first, second = ended.err.splitlines()
    assert first.startswith(f"{path}:4:")
    assert "'ceiling-haed-3'" in first
    assert "did you mean ceiling-head-3" in first
    assert second.startswith(f"{path}:5:")
    assert "did you mean pendant-cardioid" in second


def test_a_product_of_another_kind_is_refused(wellheard: Wellheard, tmp_path: Path) -> None:
    path = tmp_path / "a.room.yaml"
    path.write_text(
        SMALL + "devices: {m1: {kind: microphone, product: bridge-2, at: [1, 1, 1]}}\n", "utf-8"
    )
    ended = wellheard("check", path)
    assert ended.code == 2
    assert "devices.m1.kind: bridge-2 is a processor, not a microphone" in ended.err


@pytest.fixture
def open_folder() -> Iterator[Path]:
    """A folder whose parents let everybody pass."""
    with tempfile.TemporaryDirectory() as name:
        os.chmod(name, 0o777)
        yield Path(name)


def test_a_file_that_may_not_be_read_is_said(
    wellheard: Wellheard, open_folder: Path, unprivileged: None
) -> None:
    path = open_folder / "a.room.yaml"
    path.write_text(SMALL, "utf-8")
    path.chmod(0)
    ended = wellheard("check", path)
    assert (ended.code, ended.out) == (2, "")
    assert ended.err.startswith(f"{path}: Permission denied; ")


def test_a_folder_that_may_not_be_written_to_is_said(
    wellheard: Wellheard,
    open_folder: Path,
    huddle: Path,
    unprivileged: None,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    path = open_folder / "a.room.yaml"
    path.write_text(huddle.read_text("utf-8"), "utf-8")
    monkeypatch.setenv("WELLHEARD_CATALOGUE", str(open_folder / "none"))
    shut = open_folder / "shut"
    shut.mkdir()
    shut.chmod(0o555)
    before = path.read_bytes()
    for asked in (
        ["design", path, "-o", shut / "out"],
        ["publish", path, "-o", shut / "deep" / "out"],
        ["place", path, "-o", shut / "b.room.yaml"],
        ["new", shut / "c.room.yaml"],
    ):
        ended = wellheard(*asked)
        assert (ended.code, ended.out) == (2, "")
        assert "Permission denied; " in ended.err
        assert str(shut) in ended.err
    assert list(shut.iterdir()) == []
    assert path.read_bytes() == before

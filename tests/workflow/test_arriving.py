"""Recordings that come in pieces arrive whole or not at all, and leave nothing behind."""

from __future__ import annotations

import os
import time
from pathlib import Path

import pytest

from wellheard.errors import InputError
from wellheard.workflow import arriving

KEY = "a1b2c3d4"


def test_pieces_in_order_make_the_file_and_one_sent_again_changes_nothing(tmp_path: Path) -> None:
    assert arriving.put_piece(tmp_path, KEY, 0, b"tide") == 4
    assert arriving.put_piece(tmp_path, KEY, 4, b" room") == 9
    assert arriving.put_piece(tmp_path, KEY, 4, b" room") == 9
    assert arriving.arrived(tmp_path, KEY, 9).read_bytes() == b"tide room"


def test_a_piece_that_does_not_follow_is_refused(tmp_path: Path) -> None:
    arriving.put_piece(tmp_path, KEY, 0, b"tide")
    with pytest.raises(InputError, match="send it again whole"):
        arriving.put_piece(tmp_path, KEY, 5, b"room")
    with pytest.raises(InputError, match="4 of 9 bytes have arrived"):
        arriving.arrived(tmp_path, KEY, 9)


def test_more_than_is_taken_is_refused_before_it_is_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(arriving, "LARGEST", 6)
    arriving.put_piece(tmp_path, KEY, 0, b"tide")
    with pytest.raises(InputError, match="a recording of more than"):
        arriving.put_piece(tmp_path, KEY, 4, b"room")
    assert [path.stat().st_size for path in tmp_path.iterdir()] == [4]


def test_only_so_many_are_on_their_way_and_those_given_up_go(tmp_path: Path) -> None:
    for number in range(arriving.MOST):
        arriving.put_piece(tmp_path, f"{KEY}{number}", 0, b"x")
    with pytest.raises(InputError, match="on their way already"):
        arriving.put_piece(tmp_path, KEY, 0, b"x")
    for path in tmp_path.iterdir():
        os.utime(path, (time.time() - 7200,) * 2)
    arriving.put_piece(tmp_path, KEY, 0, b"x")
    assert len(list(tmp_path.iterdir())) == 1
    arriving.forget(tmp_path, KEY)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("key", ["", "../../x", "short", "a/b/c/d/e/f", "k" * 65])
def test_a_key_is_never_part_of_a_path(tmp_path: Path, key: str) -> None:
    with pytest.raises(InputError, match="no key"):
        arriving.put_piece(tmp_path, key, 0, b"x")

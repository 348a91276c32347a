"""Rooms of a folder are found by name, nothing outside it is looked at, and keys are no paths."""

from __future__ import annotations

import os
import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wellheard.errors import InputError
from wellheard.store import listing as listings
from wellheard.store.listing import key_of, listing, names, slug

# Characters of a path segment that need no escaping: RFC 3986, 2.3 [M].
UNRESERVED = re.compile(r"[a-z0-9~-]+")


def made(folder: Path, *places: str) -> None:
    for place in places:
        (folder / place).parent.mkdir(parents=True, exist_ok=True)
        (folder / place).write_text("x")


def test_rooms_are_found_three_folders_deep_and_hidden_ones_are_not(tmp_path: Path) -> None:
    made(tmp_path, "a.room.yaml", "1/2/3/d.room.yaml", "1/2/3/4/e.room.yaml")
    made(tmp_path, ".b.room.yaml", ".wellheard/trash/c.room.yaml", "1/.git/f.room.yaml", "g.yaml")
    found = listing(tmp_path)
    assert [r.place for r in found.rooms] == ["1/2/3/d.room.yaml", "a.room.yaml"]
    assert found.complete


def test_a_link_out_of_the_folder_is_told_and_not_followed(tmp_path: Path) -> None:
    folder = tmp_path / "rooms"
    made(folder, "real.room.yaml", "sub/x.room.yaml")
    made(tmp_path, "secret.room.yaml", "elsewhere/y.room.yaml")
    (folder / "in.room.yaml").symlink_to(folder / "real.room.yaml")
    (folder / "out.room.yaml").symlink_to(tmp_path / "secret.room.yaml")
    (folder / "nowhere.room.yaml").symlink_to(folder / "gone")
    (folder / "round.room.yaml").symlink_to(folder / "round.room.yaml")
    (folder / "outside").symlink_to(tmp_path / "elsewhere")
    (folder / "twice").symlink_to(folder / "sub")
    found = {r.place: r for r in listing(folder).rooms}
    assert set(found) == {
        "in.room.yaml",
        "nowhere.room.yaml",
        "out.room.yaml",
        "real.room.yaml",
        "round.room.yaml",
        "sub/x.room.yaml",
    }
    assert found["in.room.yaml"].real == folder / "real.room.yaml"
    assert found["in.room.yaml"].problem == ""
    assert found["out.room.yaml"].problem == "a link out of this folder"
    assert found["out.room.yaml"].stamp == ()
    assert found["nowhere.room.yaml"].problem == "a link that leads nowhere"
    assert found["round.room.yaml"].problem


def test_what_is_no_file_is_told(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.room.yaml")
    (tmp_path / "folder.room.yaml").mkdir()
    [found] = listing(tmp_path).rooms
    assert (found.place, found.problem) == ("pipe.room.yaml", "no plain file")


def test_a_name_that_is_no_text_is_told(tmp_path: Path) -> None:
    path = os.fsencode(tmp_path) + b"/\xff.room.yaml"
    try:
        os.close(os.open(path, os.O_CREAT))
    except OSError:
        pytest.skip("this file system takes text only")
    [found] = listing(tmp_path).rooms
    assert found.problem == "a name that is no text"
    assert found.place.isprintable()
    assert UNRESERVED.fullmatch(found.key)


def test_more_rooms_than_are_listed_are_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    made(tmp_path, *(f"{i}.room.yaml" for i in range(6)))
    monkeypatch.setattr(listings, "MOST_ROOMS", 6)
    assert listing(tmp_path).complete
    monkeypatch.setattr(listings, "MOST_ROOMS", 5)
    found = listing(tmp_path)
    assert len(found.rooms) == 5
    assert not found.complete
    monkeypatch.setattr(listings, "MOST_LOOKED_AT", 2)
    assert len(listing(tmp_path).rooms) == 2


def test_a_folder_that_is_gone_is_an_input_error(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="a folder of room documents"):
        listing(tmp_path / "gone")


def test_a_key_changes_with_no_other_file_and_is_never_shared(tmp_path: Path) -> None:
    places = ["a-b.room.yaml", "a b.room.yaml", "a/b.room.yaml", "A-B.room.yaml", "a-b~1.room.yaml"]
    keys = [key_of(p) for p in places]
    assert len(set(keys)) == len(keys)
    made(tmp_path, *places)
    assert {r.place: r.key for r in listing(tmp_path).rooms} == dict(zip(places, keys, strict=True))


@given(st.text(max_size=300))
def test_no_title_makes_a_path(title: str) -> None:
    stem = slug(title)
    assert re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", stem)
    assert len(stem) <= 65
    assert key_of(f"{stem}.room.yaml") == stem


@given(st.text(min_size=1, max_size=100))
def test_no_key_needs_escaping_in_an_address(stem: str) -> None:
    assert UNRESERVED.fullmatch(key_of(f"{stem}.room.yaml"))


@pytest.mark.parametrize(
    ("title", "stem"),
    [
        ("../../etc/passwd", "etc-passwd"),
        ("<script>alert(1)</script>", "script-alert-1-script"),
        ("C:\\CON", "c-con"),
        ("nul", "room-nul"),
        ("COM1", "room-com1"),
        ("\0", "room"),
        ("\u202eedis", "edis"),
        ("🎙️", "room"),
        ("Über-Straße", "uber-strasse"),
        ("x" * 10_000, "x" * 60),
        (" . ", "room"),
    ],
)
def test_hostile_titles_become_harmless_names(title: str, stem: str) -> None:
    assert slug(title) == stem


def test_names_go_on_until_one_is_free() -> None:
    taken = {"tide.room.yaml", "tide-2.room.yaml"}
    assert next(n for n in names("tide") if n not in taken) == "tide-3.room.yaml"

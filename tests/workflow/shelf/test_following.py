"""What changes beside open rooms: products, files, folders."""

from __future__ import annotations

import threading
from pathlib import Path

import pytest

from tests.workflow.shelf.rooms import TEXT, keys, until
from wellheard.workflow import shelf as shelves
from wellheard.workflow.shelf import Shelf

# Products -----------------------------------------------------------------------------------------


RAIL = """\
wellheard-products: 1
accessories: {our-rail: {name: Our rail, price: %d, currency: EUR}}
"""


def test_products_that_change_are_taken_up_by_rooms_that_are_open(
    own_catalogue: Path, shelf: Shelf
) -> None:
    desk = shelf.desk("tide")
    told: list[int] = []
    desk.subscribe(lambda state: told.append(state.version))
    before = desk.state
    for price in (12, 15):
        own_catalogue.mkdir(exist_ok=True)
        (own_catalogue / "ours.products.yaml").write_text(RAIL % price)
        shelf.look()
        found = {a.id: a.price for a in desk.state.loaded.catalogue.accessories}
        assert found["our-rail"] == price
    # Pages ask anew by the version; the text, and what undo would take back, stay.
    assert told == sorted(set(told))
    assert len(told) == 2
    assert told[0] > before.version
    assert desk.state.loaded.document.text == before.loaded.document.text
    assert (desk.state.undo, desk.state.problems) == ("", ())
    shelf.look()
    assert len(told) == 2


def test_products_that_cannot_be_read_leave_an_open_room_as_it_is(
    own_catalogue: Path, shelf: Shelf
) -> None:
    desk = shelf.desk("tide")
    before = desk.state
    own_catalogue.mkdir(exist_ok=True)
    (own_catalogue / "torn.products.yaml").write_text("wellheard-products: 1\nmicrophones: {x: {}}")
    shelf.look()
    assert desk.state == before


def test_a_room_that_lacked_a_product_is_listed_once_it_is_there(
    own_catalogue: Path, shelf: Shelf, folder: Path
) -> None:
    octaves = ", ".join(f"{125 * 2**n}: 0.1" for n in range(7))
    text = TEXT.replace("height: 2.7", "height: 2.7, finishes: {floor: ours}")
    (folder / "fell.room.yaml").write_text(text)
    shelf.look()
    assert [c.name for c in shelf.rooms() if c.problems] == ["fell.room.yaml"]
    own_catalogue.mkdir(exist_ok=True)
    (own_catalogue / "ours.products.yaml").write_text(
        "wellheard-products: 1\n"
        f"finishes: {{ours: {{name: Ours, source: our own test, absorption: {{{octaves}}}}}}}\n"
    )
    shelf.look()
    assert not [c.name for c in shelf.rooms() if c.problems]


# The watcher -----------------------------------------------------------------------------------


def test_what_others_do_in_the_folder_is_noticed_and_told(folder: Path) -> None:
    shelf = Shelf(folder)
    changed = threading.Event()
    stop = shelf.subscribe(changed.set)
    desk = shelf.desk("tide")
    states: list[str] = []
    desk.subscribe(lambda state: states.append(state.loaded.room.title))
    (folder / "tide.room.yaml").write_text(TEXT.replace("Tide", "Fell"))
    until(lambda: states == ["Fell Room"])
    until(changed.is_set)
    changed.clear()
    (folder / "fen.room.yaml").write_text(TEXT)
    until(changed.is_set)
    assert "fen" in keys(shelf).values()
    changed.clear()
    (folder / "fen.room.yaml").unlink()
    until(lambda: "fen" not in keys(shelf).values())
    stop()
    watcher = shelf._watch
    assert watcher is not None
    shelf.close()
    shelf.close()
    assert not watcher.is_alive()


def test_a_subscriber_that_fails_stops_nobody(shelf: Shelf) -> None:
    told: list[int] = []

    def fail() -> None:
        raise RuntimeError

    shelf.subscribe(fail)
    stop = shelf.subscribe(lambda: told.append(1))
    shelf.rename("tide", "Fell Room")
    assert told
    stop()
    told.clear()
    shelf.rename("tide", "Fen Room")
    assert told == []


def test_of_very_many_rooms_some_are_read_later(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for i in range(5):
        (folder / f"r{i}.room.yaml").write_text(TEXT)
    monkeypatch.setattr(shelves, "AT_ONCE", -1.0)
    shelf = Shelf(folder)
    cards = shelf.rooms()
    assert len(cards) == 7
    assert not any(card.read for card in cards)
    assert cards[0].title in ("moor", "r0")
    shelf.subscribe(lambda: None)
    until(lambda: all(card.read for card in shelf.rooms()))
    shelf.close()


def test_a_folder_that_goes_away_for_a_moment_stops_no_watcher(
    folder: Path, tmp_path: Path
) -> None:
    shelf = Shelf(folder)
    desk = shelf.desk("tide")
    folder.rename(tmp_path / "away")
    until(lambda: bool(desk.state.problems))
    (tmp_path / "away").rename(folder)
    until(lambda: not desk.state.problems)
    shelf.close()

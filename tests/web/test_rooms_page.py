"""The page of all rooms: what stands on the cards, what is typed, made, named and taken away."""

from __future__ import annotations

import asyncio
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from nicegui import ui
from nicegui.testing import User

from tests.web.hands import HOSTILE, LONG, fire, press, tagged, texts, until
from wellheard.web.workbench import Workbench
from wellheard.workflow import cards


def room(title: str, **more: object) -> str:
    """A document with two seats and a microphone."""
    return json.dumps(
        {
            "wellheard": 1,
            "title": title,
            "space": {"outline": [[0, 0], [5, 0], [5, 4], [0, 4]], "height": 2.7},
            "people": {"seats": {"s1": {"at": [2, 1.4]}, "s2": {"at": [2, 2.6]}}},
            "devices": {
                "m1": {"kind": "microphone", "product": "ceiling-head-3", "at": [2, 2, 2.3]}
            },
            **more,
        }
    )


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder for rooms."""
    made = tmp_path / "rooms"
    made.mkdir()
    return made


@pytest.fixture
def workbench(folder: Path) -> Iterator[Workbench]:
    """A workbench over that folder, which the test fills before it opens a page."""
    bench = Workbench(folder, watch=False)
    yield bench
    bench.close()


def order(user: User) -> list[str]:
    """Titles of the cards as they stand on the shelves."""
    grid = next(e for e in tagged(user, "div") if "rooms" in e.classes)
    heads = [next(d for d in card.descendants() if d.tag == "h2") for card in grid]
    return [str(next(iter(head)).text) for head in heads]  # type: ignore[attr-defined]


async def test_a_card_says_what_a_room_is_and_how_it_fares(user: User, folder: Path) -> None:
    (folder / "small.room.yaml").write_text(room("Small Room"))
    await user.open("/")
    await user.should_see("Small Room", retries=LONG)
    await user.should_see("1 microphone", retries=LONG)
    expected = cards.predicted(load_of(folder / "small.room.yaml"))
    assert expected.worst is not None
    for state, count in expected.counts.items():
        await user.should_see(f"{count} {state}", retries=LONG)
    await user.should_see(f"STI {expected.worst.sti:.2f}", retries=LONG)
    said = texts(user)
    assert "5.0 × 4.0\u00a0m" in said
    assert "16 × 13\u00a0ft" in said
    assert "1 room, 2 places" in said


def load_of(path: Path) -> Any:
    """The document of a file."""
    from wellheard.workflow.load import load

    return load(path)


async def test_the_worst_room_comes_first_and_the_unreadable_before_it(
    user: User, folder: Path
) -> None:
    (folder / "a.room.yaml").write_text(room("Nobody hears", devices={}))
    # No promise is lower than STI 0; none of 0.99 is kept in a room.
    easy = {"sti_outbound": 0.01, "direct_to_reverberant_db": -40, "speech_to_noise_db": -40}
    hard = {"sti_outbound": 0.99}
    (folder / "b.room.yaml").write_text(room("Kept", targets=easy))
    (folder / "c.room.yaml").write_text(room("Broken", targets=hard))
    (folder / "d.room.yaml").write_text("wellheard: 1\ntitle: Torn\nspace: {height: tall}\n")
    await user.open("/")
    await user.should_see("2 broken", retries=LONG)
    await user.should_see("2 not assessed", retries=LONG)
    await user.should_see("2 kept", retries=LONG)
    await until(lambda: order(user) == ["d.room.yaml", "Broken", "Nobody hears", "Kept"])


async def test_a_room_that_cannot_be_read_says_why_and_stays(user: User, folder: Path) -> None:
    torn = room("Torn").replace("2.7", '"tall"')
    path = folder / "torn.room.yaml"
    path.write_text(torn)
    await user.open("/")
    await user.should_see("'tall' is no length", retries=LONG)
    assert "the file stays as it is" in texts(user)
    assert path.read_text() == torn
    labels = {e.props.get("aria-label") for e in tagged(user, "button")}
    assert not any("torn" in str(label) for label in labels)


async def test_an_empty_folder_shows_blank_paper_and_one_action(user: User, folder: Path) -> None:
    await user.open("/")
    await user.should_see("No room is drawn in this folder yet.", retries=LONG)
    press(user, "draw the first one")
    await until(lambda: list(folder.glob("*.room.yaml")))
    assert len(list(folder.glob("*.room.yaml"))) == 1


async def test_a_new_room_is_checked_field_by_field(user: User, folder: Path) -> None:
    await user.open("/")
    form = next(e for e in tagged(user, "form") if "new" in e.classes)
    typed = {"length": "tall", "width": "0.5 m", "height": "2.75 m", "seats": "99"}
    fire(user, form, "submit", typed)
    await user.should_see("length: 'tall' is no length", retries=LONG)
    await user.should_see("width: 0.50 m in width; 1.50 m to 60.00 m is allowed")
    await user.should_see("seats: 99 seats; 2 to 24 seats fit at one table")
    invalid = {e.props["name"] for e in tagged(user, "input", **{"aria-invalid": "true"})}
    assert invalid == {"length", "width", "seats"}
    assert not list(folder.glob("*.room.yaml"))


async def test_a_new_room_is_drawn_from_feet_as_typed(user: User, folder: Path) -> None:
    await user.open("/")
    form = next(e for e in tagged(user, "form") if "new" in e.classes)
    fire(
        user, form, "submit", {"length": "21'-4\"", "width": "5 m", "height": "9 ft", "seats": "6"}
    )
    await until(lambda: list(folder.glob("*.room.yaml")))
    made = load_of(next(folder.glob("*.room.yaml"))).room
    # 21 ft 4 in = 256 × 25.4 mm exactly
    assert made.space.outline[1][0] == pytest.approx(6.5024, abs=1e-9)
    assert made.space.height == pytest.approx(2.7432, abs=1e-9)
    assert len(made.people.seats) == 6


async def test_two_presses_at_once_make_one_room(user: User, folder: Path) -> None:
    await user.open("/")
    form = next(e for e in tagged(user, "form") if "new" in e.classes)
    typed = {"length": "6.4 m", "width": "4.6 m", "height": "2.75 m", "seats": "10"}
    fire(user, form, "submit", typed)
    fire(user, form, "submit", typed)
    await until(lambda: list(folder.glob("*.room.yaml")))
    await asyncio.sleep(0.5)  # a second room would be there by now
    assert len(list(folder.glob("*.room.yaml"))) == 1


async def test_a_form_that_is_none_makes_no_room(user: User, folder: Path) -> None:
    await user.open("/")
    form = next(e for e in tagged(user, "form") if "new" in e.classes)
    for sent in ("text", None, {"length": ["6"]}, {"length": 6}):
        fire(user, form, "submit", sent)
    await user.should_see("nothing is here", retries=LONG)
    assert not list(folder.glob("*.room.yaml"))


async def test_a_room_is_renamed_copied_deleted_and_brought_back(user: User, folder: Path) -> None:
    (folder / "small.room.yaml").write_text(room("Small Room"))
    await user.open("/")
    await user.should_see("Small Room", retries=LONG)
    press(user, "rename")
    await until(lambda: [e for e in tagged(user, "form") if "rename" in e.classes])
    form = next(e for e in tagged(user, "form") if "rename" in e.classes)
    fire(user, form, "submit", {"title": "  "})
    await user.should_see("nothing is here; write the name of the room", retries=LONG)
    fire(user, form, "submit", {"title": HOSTILE})
    await user.should_see(HOSTILE, retries=LONG)
    assert load_of(folder / "small.room.yaml").room.title == HOSTILE
    press(user, "duplicate")
    await user.should_see("2 rooms, 4 places", retries=LONG)
    press(user, "delete", f"delete {HOSTILE}")
    await user.should_see("1 room, 2 places", retries=LONG)
    await user.should_see("undo: bring back", retries=LONG)
    undo = next(e for e in tagged(user, "button") if str(e.text).startswith("undo: "))  # type: ignore[attr-defined]
    fire(user, undo, "click")
    await user.should_see("2 rooms, 4 places", retries=LONG)


async def test_names_are_shown_as_text_and_nothing_of_them_is_markup(
    user: User, folder: Path
) -> None:
    (folder / "evil.room.yaml").write_text(
        room(HOSTILE, project={"client": HOSTILE, "site": "<script>alert(1)</script>"})
    )
    await user.open("/")
    await user.should_see(HOSTILE, retries=LONG)
    await user.should_see("STI", retries=LONG)
    assert user.client is not None
    markup = [e.content for e in user.client.elements.values() if isinstance(e, ui.html)]
    assert markup
    assert not [text for text in markup if "onerror" in text or "alert" in text or "{{" in text]


async def test_a_prediction_is_remembered_beside_the_rooms(
    user: User, folder: Path, workbench: Workbench, monkeypatch: pytest.MonkeyPatch
) -> None:
    (folder / "small.room.yaml").write_text(room("Small Room"))
    await user.open("/")
    await user.should_see("STI", retries=LONG)
    kept = json.loads((folder / ".wellheard" / "cards.json").read_text())
    assert len(kept["cards"]) == 1

    def never(_: object) -> None:
        raise AssertionError("predicted again")

    monkeypatch.setattr(cards, "predicted", never)
    await user.open("/")
    await user.should_see("STI", retries=LONG)


async def test_an_example_becomes_a_room(user: User, folder: Path) -> None:
    await user.open("/")
    press(user, "ten seats")
    await until(lambda: list(folder.glob("*.room.yaml")))
    assert len(load_of(next(folder.glob("*.room.yaml"))).room.people.seats) == 10


async def test_a_hundred_rooms_are_all_there(user: User, folder: Path) -> None:
    for number in range(100):
        (folder / f"r{number:03d}.room.yaml").write_text(room(f"Room {number:03d}", devices={}))
    await user.open("/")
    await user.should_see("100 rooms, 200 places", retries=10 * LONG)
    assert len(tagged(user, "article")) == 100

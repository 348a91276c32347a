"""The page of one room: what stands on it, whose unit it speaks, and rooms that cannot be shown."""

from __future__ import annotations

import re
import uuid

from nicegui.testing import User

from tests.web.hands import HOSTILE, tagged, texts
from wellheard.drawings.symbols import library
from wellheard.web.pages.design import PALETTE
from wellheard.web.workbench import Workbench
from wellheard.workflow.figures import SHORT
from wellheard.workflow.maps import QUANTITIES

PAGE = "/rooms/ten-seats"


async def test_everything_that_can_be_placed_has_a_word_and_most_a_symbol(user: User) -> None:
    await user.open(PAGE)
    placed = [str(e.props["data-place"]) for e in tagged(user, "button") if "data-place" in e.props]
    assert len(placed) == len(set(placed)) >= len(PALETTE)
    for kind, word, symbol in PALETTE:
        assert kind in placed
        assert word in texts(user).splitlines()
        assert symbol in library()


async def test_every_quantity_that_can_be_mapped_is_offered(user: User) -> None:
    await user.open(PAGE)
    offered = [str(e.props["value"]) for e in tagged(user, "option")]
    assert [key for key in offered if key in QUANTITIES] == list(QUANTITIES)
    assert set(SHORT) == set(QUANTITIES)


async def test_its_parts_draw_the_room_of_the_address(user: User) -> None:
    await user.open(PAGE)
    assert user.client is not None
    rooms = [e.props["room"] for e in user.client.elements.values() if "room" in e.props]
    assert len(rooms) == 9
    assert set(rooms) == {"ten-seats"}


async def test_it_speaks_the_unit_of_its_document_until_one_is_chosen(user: User) -> None:
    await user.open(PAGE)
    (top,) = tagged(user, "header", **{"data-usual": "ft"})
    assert "top" in top.classes


async def test_a_hostile_title_is_text_and_no_markup(user: User, workbench: Workbench) -> None:
    desk = workbench.desk("ten-seats")
    desk.commit(
        [{"path": "title", "set": HOSTILE}],
        base=desk.state.version,
        key=str(uuid.uuid4()),
        what="name it",
        unit="m",
    )
    await user.open(PAGE)
    assert HOSTILE in texts(user)
    assert not [e for e in tagged(user, "img") if e.props.get("src") == "x"]


async def test_a_room_that_is_not_there_is_404_in_words(user: User) -> None:
    answer = await user.http_client.get("/rooms/nothing")
    assert answer.status_code == 404
    assert "This folder has no such room" in answer.text


async def test_a_room_that_cannot_be_read_says_why_and_stays_as_it_is(
    user: User, workbench: Workbench
) -> None:
    path = workbench.desk("huddle-four").path
    broken = path.with_name("broken.room.yaml")
    text = re.sub(
        r"(?m)^(\s*)height: .*$", r"\1height: very high", path.read_text("utf-8"), count=1
    )
    broken.write_text(text, "utf-8")
    workbench.shelf.look()
    await user.open("/rooms/broken")
    assert "This room cannot be read." in texts(user)
    assert "very high" in texts(user)
    assert broken.read_text("utf-8") == text

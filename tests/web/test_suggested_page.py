"""Wiring and treating a room: what is shown first, how it is taken, and that it is one change."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from nicegui.element import Element
from nicegui.testing import User

from tests.web.hands import fire, press, tagged, texts, until
from wellheard.web.pages.jobsheet import NOT_OF_NOW
from wellheard.web.workbench import Workbench
from wellheard.workflow import tasks

ROOMS = ("both-ways", "huddle-four")


@pytest.fixture
def workbench(put: Callable[..., Path]) -> Iterator[Workbench]:
    """One room that lacks a cable, and one too small for a recommended decay."""
    bench = Workbench(put(*ROOMS), watch=False)
    yield bench
    bench.close()


def sheet(user: User, name: str) -> Element:
    (found,) = tagged(user, "section", **{"aria-label": name})
    return found


def is_shown(element: Element) -> bool:
    return "hidden" not in element.props


def has_answer(user: User) -> bool:
    return any("ask-verdict" in e.classes for e in tagged(user, "div"))


async def test_a_wiring_is_shown_and_taken_as_one_change(user: User, workbench: Workbench) -> None:
    desk = workbench.desk("both-ways")
    before = desk.state
    await user.open("/rooms/both-ways")
    assert not is_shown(sheet(user, "Wire the room"))
    press(user, "Wire…")
    assert is_shown(sheet(user, "Wire the room"))
    await until(lambda: has_answer(user))
    assert "Proven: " in texts(user)
    assert desk.state.version == before.version, "what is suggested is no change"
    press(user, "accept")
    await until(lambda: desk.state.version != before.version)
    assert len(desk.state.loaded.room.links) > len(before.loaded.room.links)
    assert desk.state.undo == "wire the room"
    await until(lambda: not is_shown(sheet(user, "Wire the room")))
    desk.undo(key="take-it-back-1")
    assert desk.state.loaded.document.text == before.loaded.document.text


async def test_one_sheet_is_open_at_a_time_and_work_on_an_older_text_says_so(
    user: User, workbench: Workbench
) -> None:
    desk = workbench.desk("both-ways")
    await user.open("/rooms/both-ways")
    press(user, "Wire…")
    await until(lambda: has_answer(user))
    press(user, "treat…")
    assert is_shown(sheet(user, "Treat the room"))
    assert not is_shown(sheet(user, "Wire the room"))
    fire(user, sheet(user, "Treat the room"), "keydown.escape")
    assert not is_shown(sheet(user, "Treat the room"))
    base = desk.state.version
    title = [{"path": "title", "set": "Meanwhile"}]
    desk.commit(title, base=base, key="key-title-1", what="name it", unit="m")
    press(user, "Wire…")
    assert NOT_OF_NOW in texts(user)
    press(user, "accept")
    await until(lambda: desk.state.undo == "wire the room")
    assert desk.state.loaded.room.title == "Meanwhile", "what others did stays"


async def test_a_treatment_that_cannot_be_says_why_above_its_form(
    user: User, workbench: Workbench
) -> None:
    await user.open("/rooms/huddle-four")
    press(user, "treat…")
    form = next(e for e in tagged(user, "form") if "find a treatment" in texts_of(e))
    fire(user, form, "submit", {"curtains": "on"})
    assert workbench.jobs.last(tasks.TREAT, "huddle-four") is not None
    opened = sheet(user, "Treat the room")
    assert "find a treatment" not in texts_of(opened), "it is being worked out"
    # DIN 18041 recommends no time for a room below 30 m³, and this document promises none.
    await until(lambda: "No treatment: " in texts_of(opened))
    assert "targets.reverberation" in texts_of(opened)
    assert "find a treatment" in texts_of(opened)


def texts_of(element: Element) -> str:
    return "\n".join(str(getattr(e, "text", "")) for e in element.descendants())

"""Asking for a design: the form and its errors, the search, the offer and how it is taken."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from nicegui import ui
from nicegui.element import Element
from nicegui.testing import User

from tests.web.hands import HOSTILE, fire, press, tagged, texts, until
from wellheard.room import codec
from wellheard.web.workbench import Workbench
from wellheard.workflow import asking, offers, tasks
from wellheard.workflow.desk import Desk
from wellheard.workflow.load import load

PAGE = "/rooms/huddle-four"
PRODUCTS = Path(__file__).parents[1] / "cases" / "products" / "good" / "ours.products.yaml"


def desk_of(workbench: Workbench) -> Desk:
    return workbench.desk("huddle-four")


def form_of(user: User) -> Element:
    return next(e for e in tagged(user, "form") if "ask-form" in e.classes)


def filled(user: User, **changes: str | None) -> dict[str, str]:
    """What a browser sends of the form, as it was made but for some fields; null unticks."""
    sent: dict[str, Any] = {}
    for box in tagged(user, "input"):
        name = box.props.get("name")
        if not name or box.props.get("type") == "search":
            continue
        if box.props.get("type") == "checkbox":
            if box.props.get("checked"):
                sent[name] = "on"
        else:
            sent[name] = box.props.get(".defaultValue", "")
    for name, value in changes.items():
        field = name.replace("__", ":").replace("ceiling_", "ceiling-")
        if value is None:
            sent.pop(field, None)
        else:
            sent[field] = value
    return sent


async def opened(user: User) -> None:
    await user.open(PAGE)
    press(user, "Ask for a design…")


async def asked(user: User, **changes: str | None) -> None:
    await opened(user)
    fire(user, form_of(user), "submit", filled(user, **changes))
    await until(lambda: any("ask-offer" in e.classes for e in tagged(user, "div")))


def is_shown(element: Element) -> bool:
    return not element.props.get("hidden")


def sheet_of(user: User) -> Element:
    return next(e for e in tagged(user, "section") if "ask" in e.classes)


def problems(user: User) -> list[str]:
    return [
        getattr(e, "text", "")
        for e in tagged(user, "p", role="alert")
        if "wrong" in e.classes and is_shown(e)
    ]


async def test_the_form_is_filled_with_what_the_document_says(
    user: User, workbench: Workbench
) -> None:
    await opened(user)
    assert is_shown(sheet_of(user))
    sent = filled(user)
    room = desk_of(workbench).state.loaded.room
    ticked = {name.removeprefix("use:") for name in sent if name.startswith("use:")}
    assert set(room.choices.allow) == ticked or not room.choices.allow
    mountings = {name.removeprefix("mount:") for name in sent if name.startswith("mount:")}
    assert mountings == set(room.choices.mounting)
    assert float(sent["promise:sti_outbound"]) == room.targets.sti_outbound
    fire(user, sheet_of(user), "keydown.escape")
    assert not is_shown(sheet_of(user))


async def test_what_is_wrong_is_said_at_its_field_and_nothing_is_searched(
    user: User, workbench: Workbench
) -> None:
    await opened(user)
    sent = filled(user, promise__sti_outbound="2", time_limit=HOSTILE)
    fire(user, form_of(user), "submit", sent)
    found = problems(user)
    assert any(text == "2 is out of range; 0 to 1" for text in found)
    assert any(text.startswith("“<img src=x") and "1 to 600 seconds" in text for text in found)
    assert len(found) == 2
    assert workbench.jobs.last(tasks.DESIGN, "huddle-four") is None
    nothing = {name: text for name, text in sent.items() if not name.startswith(("use:", "mount:"))}
    fire(user, form_of(user), "submit", nothing)
    assert {"tick at least one microphone", "tick at least one mounting"} <= set(problems(user))


async def test_names_of_products_are_shown_as_text_and_found_by_search(
    user: User, workbench: Workbench
) -> None:
    folder = workbench.shelf.folder
    named = PRODUCTS.read_text("utf-8")
    (folder / PRODUCTS.name).write_text(named.replace("Lamp microphone", f"'{HOSTILE}'"), "utf-8")
    path = desk_of(workbench).path
    path.write_text(path.read_text("utf-8") + "\n# read again\n", "utf-8")
    desk_of(workbench).look()
    await opened(user)
    assert HOSTILE in texts(user)
    assert user.client is not None
    parsed = [e for e in user.client.elements.values() if isinstance(e, ui.html)]
    assert not any("onerror" in e.content for e in parsed)
    rows = [e for e in tagged(user, "tr") if any("ask-first" in c.classes for c in e)]
    assert len(rows) > 3
    (search,) = tagged(user, "input", type="search")
    fire(user, search, "input", "onerror")
    left = [row for row in rows if is_shown(row)]
    assert 0 < len(left) < len(rows)
    fire(user, search, "input", "")
    assert all(is_shown(row) for row in rows)


async def test_an_offer_says_what_it_is_and_is_taken_whole(
    user: User, workbench: Workbench
) -> None:
    desk = desk_of(workbench)
    before = desk.state
    await asked(user)
    job = workbench.jobs.last(tasks.DESIGN, "huddle-four")
    assert job is not None
    offer = job.result
    said = texts(user)
    assert offer.sentence in said
    assert offer.why in said
    assert "Proved: " in said
    for one in offer.devices:
        assert one.product in said
    assert desk.state.version == before.version, "an offer is no change"
    press(user, "accept all of it")
    await until(lambda: desk.state.version != before.version)
    assert desk.state.loaded.document.text == offers.accept(offer, with_wiring=True)
    assert desk.state.loaded.room.links, "it is wired with it"
    assert desk.state.undo == "accept a design"
    await until(lambda: not is_shown(sheet_of(user)))
    desk.undo(key="take-it-back-1")
    assert desk.state.loaded.document.text == before.loaded.document.text


async def test_its_wiring_is_shown_and_stays_away_where_the_tick_is_taken_off(
    user: User, workbench: Workbench
) -> None:
    desk = desk_of(workbench)
    before = desk.state
    await asked(user)
    job = workbench.jobs.last(tasks.DESIGN, "huddle-four")
    assert job is not None
    offer = job.result
    assert offer.wiring is not None
    assert offer.wiring.sentence in texts(user)
    for passage in offer.wiring.passages:
        assert passage.rows[0][0] in texts(user)
    (tick,) = [e for e in tagged(user, "input") if e.props.get("name") == "wiring"]
    assert tick.props["checked"] is True
    fire(user, tick, "change", False)
    press(user, "accept all of it")
    await until(lambda: desk.state.version != before.version)
    assert desk.state.loaded.document.text == offer.text
    assert desk.state.loaded.room.links == {}


async def test_choices_come_along_only_where_they_are_ticked(
    user: User, workbench: Workbench
) -> None:
    desk = desk_of(workbench)
    before = desk.state
    await asked(user, promise__sti_outbound="0.61")
    assert "Asked otherwise than the document says" in texts(user)
    (tick,) = [e for e in tagged(user, "input") if e.props.get("name") == "choices"]
    assert tick.props["checked"] is True
    fire(user, tick, "change", False)
    press(user, "accept all of it")
    await until(lambda: desk.state.version != before.version)
    assert desk.state.loaded.room.targets == before.loaded.room.targets
    assert desk.state.loaded.room.devices != before.loaded.room.devices


async def test_the_search_can_be_cancelled_and_asked_anew(user: User, workbench: Workbench) -> None:
    await opened(user)
    fire(user, form_of(user), "submit", filled(user))
    job = workbench.jobs.last(tasks.DESIGN, "huddle-four")
    assert job is not None
    assert "starting" in texts(user) or "of 5" in texts(user)
    press(user, "cancel")
    assert job.wait(30) == "cancelled"
    assert form_of(user) is not None
    assert workbench.jobs.last(tasks.DESIGN, "huddle-four") is None


async def test_a_search_that_cannot_be_says_why_above_the_form(
    user: User, workbench: Workbench
) -> None:
    await opened(user)
    sent = filled(user, mount__ceiling=None, mount__lectern="on")
    fire(user, form_of(user), "submit", sent)
    await until(lambda: any(text.startswith("No design: ") for text in problems(user)))
    assert "choices" in "\n".join(problems(user))
    assert "Traceback" not in texts(user)


async def test_what_others_changed_meanwhile_is_said_and_nothing_is_lost(
    user: User, workbench: Workbench
) -> None:
    desk = desk_of(workbench)
    base = desk.state
    await asked(user)
    job = workbench.jobs.last(tasks.DESIGN, "huddle-four")
    assert job is not None
    name = next(one.id for one in job.result.devices if one.what == "new")
    mine = codec.parse(job.result.text).devices[name]
    assert mine.at is not None
    x, y, z = mine.at
    theirs = mine.model_copy(update={"at": (x + 0.4, y, z)})
    room = base.loaded.room.model_copy(update={"devices": {name: theirs}})
    text = codec.edit(base.loaded.document, room)
    desk.commit_text(text, base=base.version, key="theirs-0001", what="by hand")
    press(user, "accept all of it")
    await until(lambda: "Nothing was changed. Ask anew, or mend this first:" in texts(user))
    assert desk.state.loaded.document.text == text
    assert any(name in getattr(e, "text", "") for e in tagged(user, "li"))
    press(user, "reject")
    assert form_of(user) is not None


@pytest.mark.parametrize("leave", [True, False])
async def test_work_that_nobody_waits_for_any_more_is_ended(
    user: User, workbench: Workbench, leave: bool
) -> None:
    workbench.jobs.most = 0  # it waits its turn for ever
    await opened(user)
    fire(user, form_of(user), "submit", filled(user))
    job = workbench.jobs.last(tasks.DESIGN, "huddle-four")
    assert job is not None
    first = user.client
    assert first is not None
    if not leave:
        await user.open(PAGE)  # another page of the same room waits for it too
    first.delete()
    assert job.state == ("cancelled" if leave else "waiting")


def test_the_form_reads_in_feet_where_the_reader_does(put: Callable[..., Path]) -> None:
    loaded = load(put("huddle-four") / "huddle-four.room.yaml")
    reach = {p.id: p.reach for p in asking.form(loaded, unit="ft").products}
    assert reach["ceiling-head-3"] == "to\u00a09'-10⅛\""  # 3.00 m is 118.11 in
    assert all(p.allowed != "any number" for p in asking.form(loaded, unit="ft").promises)


async def test_one_of_several_designs_is_taken_as_one_change(
    user: User, workbench: Workbench
) -> None:
    desk = desk_of(workbench)
    before = desk.state
    await opened(user)
    fire(user, form_of(user), "submit", filled(user, several="on"))
    await until(lambda: any("ask-designs" in e.classes for e in tagged(user, "table")))
    job = workbench.jobs.last(tasks.CHOOSE, "huddle-four")
    assert job is not None
    found = job.result
    assert len(found.designs) > 1
    said = texts(user)
    for one in found.designs:
        assert {one.name, one.price, one.chance, one.why} <= set(said.splitlines())
    assert len(tagged(user, "img", alt="Designs by price and chance, as in the table below")) == 2
    assert desk.state.version == before.version
    second = found.designs[1]
    press(user, "Take this one", f"Take this one: {second.name}")
    await until(lambda: desk.state.version != before.version)
    assert desk.state.loaded.document.text == second.text
    assert desk.state.loaded.room.links, "it is wired"
    assert desk.state.undo == f"take a design: {second.name}"

"""Versions of a room side by side: what can be chosen, what is told apart, what is drawn."""

from __future__ import annotations

from nicegui.testing import User

from tests.web.hands import HOSTILE, press, tagged, texts, until
from wellheard.web.jobs import Job
from wellheard.web.pages.compare import label
from wellheard.web.workbench import Workbench
from wellheard.workflow import tasks
from wellheard.workflow.asking import Asked

KEY = "huddle-four"
PAGE = f"/rooms/{KEY}/compare"


def move_a_seat(workbench: Workbench, *, title: str = "") -> int:
    """Change the room by hand; the version before."""
    desk = workbench.desk(KEY)
    before = desk.state
    seat = next(iter(before.loaded.room.people.seats))
    change = [{"do": "move", "items": [f"people.seats.{seat}"], "by": [0.25, 0]}]
    if title:
        change.append({"path": "title", "set": title})
    desk.commit(change, base=before.version, key="by-hand-01", what=f"move {seat}", unit="m")
    return before.version


async def compared(user: User, workbench: Workbench, name: str) -> Job:
    await user.open(f"{PAGE}?with={name}")
    job = workbench.jobs.last(tasks.COMPARE, label(KEY, name))
    assert job is not None
    await until(lambda: any("sides" in e.classes for e in tagged(user, "div")))
    return job


async def test_without_a_choice_it_says_what_to_do(user: User, workbench: Workbench) -> None:
    await user.open(PAGE)
    said = texts(user)
    assert "Choose what to set beside the room as it is now." in said
    assert "Other rooms" in said
    assert "Earlier" not in said, "there is one version only"
    await user.open(f"{PAGE}?with=version-4711")
    assert "There is no such version any more; choose another." in texts(user)


async def test_an_earlier_version_stands_beside_the_present_one(
    user: User, workbench: Workbench
) -> None:
    version = move_a_seat(workbench, title=HOSTILE)
    job = await compared(user, workbench, f"version-{version}")
    said = texts(user)
    assert "moves 0.25 m east" in said.replace("\u00a0", " ") or "moves" in said
    assert job.result.left.title != HOSTILE
    assert job.result.right.title == HOSTILE
    assert job.result.right.sentence in said
    pictures = [e.props["src"] for e in tagged(user, "img")]
    assert len(pictures) == 4
    for picture in pictures:
        answer = await user.http_client.get(picture)
        assert answer.status_code == 200
        assert answer.headers["content-type"].startswith("image/svg+xml")
        assert "<img" not in answer.text
        assert "onerror=alert(1)>" not in answer.text
    assert (await user.http_client.get(pictures[0].replace("left", "middle"))).status_code == 404
    assert (await user.http_client.get(pictures[0].replace("white", "pink"))).status_code == 404
    other = pictures[0].replace(f"/rooms/{KEY}/", "/rooms/ten-seats/")
    assert (await user.http_client.get(other)).status_code == 404


async def test_an_offer_stands_beside_the_room_as_it_is(user: User, workbench: Workbench) -> None:
    state = workbench.desk(KEY).state
    design = workbench.jobs.start(
        tasks.DESIGN,
        label=KEY,
        text=state.loaded.document.text,
        path=str(workbench.desk(KEY).path),
        asked=Asked(()),
        version=state.version,
    )
    assert design.wait(120) == "done"
    job = await compared(user, workbench, "offer")
    said = texts(user)
    assert "as offered" in said
    assert job.result.right.document != job.result.left.document
    assert job.result.price_step.endswith("more")
    for change in job.result.changes:
        assert change in said


async def test_another_room_can_stand_beside_it(user: User, workbench: Workbench) -> None:
    other = next(card.key for card in workbench.shelf.rooms() if card.key != KEY)
    job = await compared(user, workbench, f"room-{other}")
    assert job.result.right.title == workbench.desk(other).state.loaded.room.title
    assert job.result.changes


async def test_a_comparison_can_be_cancelled(user: User, workbench: Workbench) -> None:
    workbench.jobs.most = 0
    version = move_a_seat(workbench)
    await user.open(f"{PAGE}?with=version-{version}")
    press(user, "cancel")
    await until(lambda: "Cancelled. " in texts(user))
    assert "Compare again" in texts(user)


async def test_leaving_the_page_ends_its_work(user: User, workbench: Workbench) -> None:
    workbench.jobs.most = 0
    version = move_a_seat(workbench)
    await user.open(f"{PAGE}?with=version-{version}")
    job = workbench.jobs.last(tasks.COMPARE, label(KEY, f"version-{version}"))
    assert job is not None
    assert job.running
    assert user.client is not None
    user.client.delete()
    assert job.state == "cancelled"

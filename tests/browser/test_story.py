"""The main story in a real browser: from four numbers to documents, and nothing of it is lost."""

from __future__ import annotations

import re
import threading
from pathlib import Path

import pytest
from playwright.sync_api import Page, Response, expect

from tests.browser.conftest import OpenPage, Sheet, Watch
from tests.browser.server import Server
from wellheard.room import codec

SLOW = 90_000.0
"""What a search or a dossier may take on a busy machine. [ms]"""
UNDER = "([x, y]) => document.elementFromPoint(x, y)?.closest('.item')?.dataset.path"
"""Item that a pointer would take hold of."""
CUT_OFF = [r"ERR_CONNECTION", "ERR_EMPTY_RESPONSE", "ERR_INTERNET_DISCONNECTED", "WebSocket"]


@pytest.fixture(autouse=True)
def _patience() -> None:
    expect.set_options(timeout=30_000)


def _drawn(page: Page) -> None:
    """Wait for the plan and its figures."""
    expect(page.locator('.item[data-path="people.seats.s1"]')).to_be_visible()
    expect(page.locator(".ledger tr[data-path]").first).to_be_visible()


def _saved(page: Page) -> None:
    """Wait until everything is acknowledged."""
    expect(page.locator("[data-status]")).to_have_attribute("data-state", "saved")


def _middle(page: Page, path: str) -> tuple[float, float]:
    box = page.locator(f'.item[data-path="{path}"] > .symbol').bounding_box()
    assert box is not None
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def _drag(page: Page, path: str, dx: float, dy: float, *, drop: bool = True) -> None:
    for _ in range(100):  # a notice that comes or goes above the plan shifts it
        x, y = _middle(page, path)
        page.mouse.move(x, y)
        if page.evaluate(UNDER, [x, y]) == path:
            break
        page.wait_for_timeout(50)
    page.mouse.down()
    for step in range(1, 9):
        page.mouse.move(x + dx * step / 8, y + dy * step / 8)
    if drop:
        page.mouse.up()


def _seat(server: Server, room: str) -> tuple[float, float]:
    return codec.read(server.folder / f"{room}.room.yaml").people.seats["s1"].at


def _drag_seat(page: Page, server: Server, room: str, dx: float, dy: float) -> None:
    """Drag the first seat and wait until its new place is in the file."""
    before = _seat(server, room)
    _drag(page, "people.seats.s1", dx, dy)
    for _ in range(600):  # the page may still say that what was before is saved
        if _seat(server, room) != before:
            break
        page.wait_for_timeout(50)
    assert _seat(server, room) != before
    _saved(page)


def test_from_four_numbers_to_documents(standing: Server, open_page: OpenPage) -> None:
    page = open_page(standing)
    fields = page.locator("form.new input").all()
    for field, typed in zip(fields, ("3.6", "3.0", "2.6", "4"), strict=True):
        field.fill(typed)
    page.get_by_role("button", name="draw it").click()
    page.wait_for_url(re.compile(r"/rooms/new-room"))
    _drawn(page)
    expect(page.locator(".ledger tr[data-path]")).to_have_count(4)
    assert page.locator(".ledger tr[data-path]").first.get_attribute("data-state") == "not assessed"

    # one more seat, by hand
    page.locator('[data-place="seat"]').click()
    sheet = page.locator(".view svg").first.bounding_box()
    assert sheet is not None
    page.mouse.click(sheet["x"] + sheet["width"] * 0.3, sheet["y"] + sheet["height"] * 0.3)
    expect(page.locator(".ledger tr[data-path]")).to_have_count(5)
    page.keyboard.press("Escape")

    page.get_by_role("button", name="Ask for a design…").click()
    page.get_by_role("button", name="find a design").click()
    accept = page.get_by_role("button", name=re.compile("^accept")).first
    expect(accept).to_be_visible(timeout=SLOW)
    accept.click()
    microphone = page.locator('.item[data-path^="devices."]').first
    expect(microphone).to_be_visible()
    expect(page.locator(".ledger tr[data-path][data-state=kept]").first).to_be_visible()
    _saved(page)

    path = microphone.get_attribute("data-path") or ""
    before = page.locator(".ledger tr[data-path]").all_inner_texts()
    _drag(page, path, 60, 40)
    _saved(page)
    expect(page.locator("[data-do=undo]")).to_be_enabled()
    expect(page.locator(".ledger, table").first).not_to_have_attribute("aria-busy", "true")
    page.wait_for_function(
        "before => JSON.stringify([...document.querySelectorAll('.ledger tr[data-path]')]"
        ".map(r => r.innerText)) !== JSON.stringify(before)",
        arg=before,
    )
    text = (standing.folder / "new-room.room.yaml").read_text("utf-8")
    page.locator("[data-do=undo]").click()
    page.wait_for_function(
        "before => JSON.stringify([...document.querySelectorAll('.ledger tr[data-path]')]"
        ".map(r => r.innerText)) === JSON.stringify(before)",
        arg=before,
    )
    assert (standing.folder / "new-room.room.yaml").read_text("utf-8") != text
    page.reload()
    _drawn(page)
    expect(page.locator("[data-do=redo]")).to_be_enabled()
    assert page.locator(".ledger tr[data-path]").count() == 5

    page.get_by_role("link", name="Hand over").click()
    page.get_by_role("button", name="make the documents").click()
    expect(page.locator("main img").first).to_be_visible(timeout=SLOW)
    with page.expect_download() as got:
        page.get_by_role("link", name=re.compile("dossier|PDF", re.I)).first.click()
    assert Path(got.value.path()).read_bytes().startswith(b"%PDF")


def test_two_tabs_keep_both_hands_work_and_show_a_clash(
    standing: Server, room: str, open_page: OpenPage, watch: Watch
) -> None:
    watch.allowed += [*CUT_OFF, "409"]
    one, two = open_page(standing, f"/rooms/{room}"), open_page(standing, f"/rooms/{room}")
    _drawn(one)
    _drawn(two)
    _drag_seat(one, standing, room, 30, 0)
    moved = _seat(standing, room)
    # the second tab follows, and adds its own
    two.wait_for_function("Boolean(document.querySelector('[data-do=undo]:not([disabled])'))")
    _drag(two, "people.seats.s2", -30, 0)
    _saved(two)
    assert _seat(standing, room) == moved
    # both at once, cut off from one another: the later hears of the clash and nothing is lost
    expect(two.locator("[aria-busy=true]")).to_have_count(0)
    two.context.set_offline(True)
    _drag(two, "people.seats.s1", 0, -30)
    _drag_seat(one, standing, room, 30, 0)
    kept = _seat(standing, room)
    two.context.set_offline(False)
    expect(two.locator("[data-status]")).to_have_attribute("data-state", "conflict")
    assert _seat(standing, room) == kept


def test_what_is_done_without_a_connection_is_sent_when_there_is_one(
    standing: Server, room: str, open_page: OpenPage, watch: Watch
) -> None:
    watch.allowed += CUT_OFF
    page = open_page(standing, f"/rooms/{room}")
    _drawn(page)
    before = _seat(standing, room)
    page.context.set_offline(True)
    _drag(page, "people.seats.s1", 30, 0)
    expect(page.locator("[data-status]")).to_have_attribute("data-state", "waiting")
    assert _seat(standing, room) == before
    page.context.set_offline(False)
    _saved(page)
    assert _seat(standing, room) != before


def test_a_server_that_is_killed_has_lost_nothing_that_it_acknowledged(
    server: Server, open_page: OpenPage, watch: Watch
) -> None:
    watch.allowed += [*CUT_OFF, "404"]
    page = open_page(server, "/rooms/ten-seats")
    _drawn(page)
    acknowledged: list[str] = []

    def answered(response: Response) -> None:
        if "/commit" in response.url and response.status == 200:
            acknowledged.append(response.url)

    page.on("response", answered)
    stop = threading.Timer(1.5, server.kill9)
    stop.start()
    page.locator('.item[data-path="people.seats.s1"]').focus()
    for _ in range(24):
        page.keyboard.press("ArrowRight")
        page.wait_for_timeout(80)
    stop.join()
    first = len(acknowledged)
    x = _seat(server, "ten-seats")[0]
    server.restart()
    _saved(page)
    # every nudge of 5 cm (1 in on a sheet in feet) is in the file, those sent again included once
    seats = codec.read(server.folder / "ten-seats.room.yaml").people.seats
    assert seats["s1"].at[0] >= x
    assert first <= len(acknowledged)
    page.reload()
    _drawn(page)
    expect(page.locator("[data-do=undo]")).to_be_enabled()


def test_an_outside_edit_shows_and_an_unreadable_one_keeps_the_last_valid_drawing(
    standing: Server, room: str, open_page: OpenPage
) -> None:
    page = open_page(standing, f"/rooms/{room}")
    _drawn(page)
    path = standing.folder / f"{room}.room.yaml"
    text = path.read_text("utf-8")
    first = next(iter(codec.read(path).people.seats))
    gone = re.sub(rf"(?m)^ +{first}: .*\n", "", text, count=1)
    path.write_text(gone, "utf-8")
    expect(page.locator(f'.item[data-path="people.seats.{first}"]')).to_have_count(0)
    path.write_text(text.replace("height:", "heigth:"), "utf-8")
    expect(page.locator("[data-notice]")).to_contain_text("cannot be read")
    expect(page.locator('.item[data-path="people.seats.s2"]')).to_be_visible()
    path.write_text(text, "utf-8")
    expect(page.locator(f'.item[data-path="people.seats.{first}"]')).to_be_visible()


HOSTILE = "<img src=x onerror=alert(1)>{{7*7}}${1}\"'&</script>"


def test_hostile_names_are_shown_as_they_are_written(
    standing: Server, room: str, open_page: OpenPage
) -> None:
    path = standing.folder / f"{room}.room.yaml"
    text = re.sub(
        r"(?m)^title: .*$",
        f"title: '{HOSTILE.replace(chr(39), chr(39) * 2)}'",
        path.read_text("utf-8"),
    )
    path.write_text(text, "utf-8")
    page = open_page(standing)
    asked: list[str] = []
    page.on("dialog", lambda dialog: asked.append(dialog.message))
    expect(page.get_by_text(HOSTILE).first).to_be_visible()
    page.goto(standing.origin + f"/rooms/{room}")
    _drawn(page)
    expect(page.get_by_text(HOSTILE).first).to_be_visible()
    assert page.locator("img[src=x]").count() == 0
    assert asked == []


def test_everything_is_reached_and_done_by_keys_alone(
    standing: Server, room: str, open_page: OpenPage
) -> None:
    page = open_page(standing, f"/rooms/{room}")
    _drawn(page)
    before = _seat(standing, room)
    for _ in range(80):  # one stop for the sheet, whatever stands before it
        page.keyboard.press("Tab")
        if page.evaluate("Boolean(document.activeElement.closest('.item, .view svg'))"):
            break
    assert page.evaluate("document.activeElement.closest('.view') !== null")
    outline = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
    assert outline != "none" or page.locator(".focus").count()
    for _ in range(60):
        if page.evaluate("document.activeElement.dataset?.path") == "people.seats.s1":
            break
        page.keyboard.press("Tab")
    page.keyboard.press("ArrowRight")
    expect(page.locator("[data-do=undo]")).to_be_enabled()
    assert _seat(standing, room)[0] > before[0]
    page.keyboard.press("Control+z")
    page.wait_for_function("Boolean(document.querySelector('[data-do=redo]:not([disabled])'))")
    assert _seat(standing, room) == pytest.approx(before)
    page.keyboard.press("Enter")
    expect(page.locator('[data-body="item"]')).to_be_visible()


@pytest.mark.parametrize("sheet", ["white", "slate"])
def test_both_sheets_show_the_same_room(
    standing: Server, open_page: OpenPage, sheet: Sheet
) -> None:
    page = open_page(standing, "/rooms/ten-seats", sheet=sheet)
    _drawn(page)
    paper = page.evaluate("getComputedStyle(document.querySelector('.page')).backgroundColor")
    assert paper == {"white": "rgb(255, 255, 255)", "slate": "rgb(37, 49, 59)"}[sheet]
    # nothing is cut off at the smallest width that is promised
    page.set_viewport_size({"width": 1280, "height": 800})
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")

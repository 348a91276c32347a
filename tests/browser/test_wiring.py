"""The wiring beside the plan, and a change that mends a finding: looked at, taken, taken back."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import OpenPage
from tests.browser.server import Server, started
from wellheard.room import codec

ROOM = """\
wellheard: 1
title: Two Seats and a Cable
units: m
space: {outline: [[0, 0], [4, 0], [4, 3], [0, 3]], height: 2.7}
people: {seats: {s1: {at: [1.5, 1.5], facing: 0}, s2: {at: [2.6, 1.5], facing: 180}}}
equipment: {rack: {kind: rack, at: [3.7, 2.7, 0.6]}}
devices:
  mixer: {kind: processor, product: processor-4, equipment: rack}
  m1: {kind: microphone, product: ceiling-head-3, at: [2.0, 1.6, 2.7]}
links: {c01: {from: m1.link, to: mixer.mic-1, cable: twisted-pair}}
"""
SLOW = 90_000.0
"""What a search may take on a busy machine. [ms]"""


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """A server of that room, once for each test."""
    folder = tmp_path_factory.mktemp("wiring") / "rooms"
    folder.mkdir()
    for name in ("cable", "panel"):
        (folder / f"{name}.room.yaml").write_text(ROOM, encoding="utf-8")
    bare = ROOM[: ROOM.index("devices:")]
    (folder / "bare.room.yaml").write_text(bare, encoding="utf-8")
    with started(folder) as one:
        yield one


def opened(server: Server, open_page: OpenPage, name: str) -> tuple[Page, Path]:
    """The page of a room, and its file."""
    page = open_page(server, f"/rooms/{name}")
    page.set_default_timeout(SLOW)
    page.wait_for_selector(".ledger tbody tr")
    return page, server.folder / f"{name}.room.yaml"


def test_wiring_is_read_by_hand_and_keyboard_and_worked_out_as_one_change(
    server: Server, open_page: OpenPage
) -> None:
    page, path = opened(server, open_page, "cable")
    cables = page.locator(".plan-sheet .cable")
    expect(cables).to_have_count(0)
    page.get_by_role("button", name="Wiring", exact=True).click()
    expect(cables).to_have_count(1)  # a thin line on the plan, as long as one looks
    # a box chooses the device on the plan, by keyboard alone, and the schedule follows
    box = page.locator(".wiring-part").get_by_role("button", name="m1, ceiling-head-3")
    box.focus()
    page.keyboard.press("Enter")
    expect(box).to_have_attribute("aria-pressed", "true")
    chosen = page.locator(".plan-sheet .item[aria-selected=true]")
    expect(chosen).to_have_attribute("data-path", "devices.m1")
    expect(page.locator(".schedule tr.chosen")).to_have_count(1)
    # and back: what is let go or chosen on the plan is so in the diagram, large as well
    chosen.press("Space")
    expect(box).to_have_attribute("aria-pressed", "false")
    page.locator('.plan-sheet .item[data-path="devices.m1"]').press("Space")
    expect(box).to_have_attribute("aria-pressed", "true")
    page.get_by_role("button", name="large diagram").click()
    large = page.locator(".view .diagram-part")
    same = large.get_by_role("button", name="m1, ceiling-head-3")
    expect(same).to_have_attribute("aria-pressed", "true")
    drawn = large.locator("img")
    assert drawn.evaluate("image => image.decode().then(() => image.naturalWidth)") > 0
    # a small diagram fits between the paddings of its place
    assert large.evaluate("place => place.scrollWidth <= place.clientWidth")

    page.get_by_role("button", name="Wire…").click()
    sheet = page.get_by_role("dialog", name="Wire the room")
    expect(sheet).to_contain_text("Proven: ", timeout=SLOW)
    assert page.locator(".suggested").get_attribute("d"), "what is suggested is drawn"
    before = path.read_text("utf-8")
    sheet.get_by_role("button", name="accept").click()
    expect(sheet).to_be_hidden()
    expect(page.locator(".schedule tbody tr")).to_have_count(2, timeout=SLOW)
    assert set(codec.read(path).links) > {"c01"}
    assert not page.locator(".suggested").get_attribute("d")
    page.get_by_role("button", name="undo").click()
    expect(page.locator(".schedule tbody tr")).to_have_count(1, timeout=SLOW)
    assert path.read_text("utf-8") == before
    page.get_by_role("button", name="Findings", exact=True).click()
    expect(cables).to_have_count(0)


def test_a_room_without_devices_says_once_that_there_is_nothing_to_wire(
    server: Server, open_page: OpenPage
) -> None:
    page, _ = opened(server, open_page, "bare")
    page.get_by_role("button", name="Wiring", exact=True).click()
    expect(page.get_by_text("so there is nothing to wire").locator("visible=true")).to_have_count(1)


def test_a_change_that_was_tried_mends_its_finding_with_one_press(
    server: Server, open_page: OpenPage
) -> None:
    page, path = opened(server, open_page, "panel")
    entry = page.locator('.finds li[data-code="parallel-hard-walls"]').first
    change = entry.get_by_role("button", name="Make this change")
    expect(change).to_be_visible(timeout=SLOW)
    expect(entry).to_contain_text("Nothing is left of it")
    message = entry.get_attribute("data-message") or ""
    before = path.read_text("utf-8")
    change.focus()
    page.keyboard.press("Enter")
    # what was tried for the room as it was is not offered any more
    gone = page.locator(".finds li").filter(has_text=message)
    expect(gone).to_have_count(0, timeout=SLOW)
    assert codec.read(path).space.finishes.patches
    page.get_by_role("button", name="undo").click()
    expect(gone).to_have_count(1, timeout=SLOW)
    assert path.read_text("utf-8") == before

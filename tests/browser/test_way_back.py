"""The way back on the workbench: paths in and of the echo, the table beside the plan, the map."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import Watch
from tests.browser.server import started

ROOM = """\
wellheard: 1
title: Two Seats and a Voice
units: m
space: {outline: [[0, 0], [4, 0], [4, 3], [0, 3]], height: 2.7}
people: {seats: {s1: {at: [1.5, 1.5], facing: 0}, s2: {at: [2.6, 1.5], facing: 180}}}
equipment: {rack: {kind: rack, at: [3.7, 2.7, 0.6]}}
devices:
  mixer: {kind: processor, product: processor-4, equipment: rack}
  amp: {kind: amplifier, product: amplifier-2x40, equipment: rack}
  m1: {kind: microphone, product: ceiling-head-3, at: [2.0, 1.6, 2.7]}
  l1: {kind: loudspeaker, product: wall-8, at: [0.1, 1.5, 1.2], aim_deg: 0}
"""
ECHO = ["Far end", "Loudspeaker", "Air", "Capsule", "Gain", "Canceller", "Far end"]


@pytest.fixture
def bench(browser: Browser, watch: Watch, tmp_path: Path) -> Iterator[Page]:
    """The room, open."""
    folder = tmp_path / "rooms"
    folder.mkdir()
    (folder / "voice.room.yaml").write_text(ROOM, encoding="utf-8")
    with started(folder) as server:
        context = browser.new_context(viewport={"width": 1440, "height": 900})
        watch.hosts.add(urlsplit(server.origin).netloc)
        watch.over(context)
        page = context.new_page()
        page.goto(server.address)
        page.goto(f"{server.origin}/rooms/voice")
        page.wait_for_selector(".strip .station", timeout=90_000)
        yield page
        context.close()


def test_the_voice_is_followed_in_and_its_echo_back(bench: Page) -> None:
    page = bench
    ways = page.locator(".ways button")
    assert ways.all_inner_texts() == ["outbound", "inbound", "echo", "lift"]
    # by keyboard alone, and the focus stays on the word that was pressed
    ways.nth(1).focus()
    page.keyboard.press("Enter")
    expect(page.locator(".strip-part h2")).to_contain_text("Voice path, inbound")
    expect(page.locator(".ways [data-way=inbound]")).to_be_focused()
    expect(page.locator(".ways [data-way=inbound]")).to_have_attribute("aria-pressed", "true")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    expect(page.locator(".strip-part h2")).to_contain_text("Echo path")
    names = [words.partition("\n")[0] for words in page.locator(".station .name").all_inner_texts()]
    assert names == ECHO
    page.locator(".strip button.fig").last.click()
    sheet = page.get_by_role("dialog")
    for word in ("Source", "Limits"):
        expect(sheet).to_contain_text(word)
    page.keyboard.press("Escape")

    page.get_by_role("button", name="Way back").click()
    expect(page.locator(".back-part .echo tbody tr")).to_have_count(1)
    page.get_by_role("button", name="show m1 on the plan").click()
    expect(page.locator(".back-part tr.chosen")).to_have_count(1)

    page.locator('[data-choose="quantity"]').select_option("playback-level")
    marks = page.get_by_role("option", name=", level at the ears")
    expect(marks).to_have_count(2, timeout=60_000)
    assert "–" not in page.locator(".ledger tbody .c-inbound_level").all_inner_texts()

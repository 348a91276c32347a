"""Ledger, findings, voice path, panel and view in space by themselves in a browser, with answers
from files (``tests/web/js/fixture-parts``): invented figures, so that only what is shown counts."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from http.server import ThreadingHTTPServer
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import Watch, loaded
from tests.browser.test_plan_sheet import Files

FIXTURE = Path(__file__).parents[1] / "web" / "js" / "fixture-parts"
REFUSED = {
    "error": "refused",
    "problems": [
        {
            "where": "devices.m1.at",
            "what": "9 m is above the ceiling",
            "allowed": "at most 2.75 m",
        }
    ],
}


class Answers(Files):
    """The fixture of the parts at the root."""

    def translate_path(self, path: str) -> str:
        name = urlsplit(path).path.lstrip("/")
        return super().translate_path(path) if name.startswith("static/") else str(FIXTURE / name)


@pytest.fixture(scope="module")
def origin() -> Iterator[str]:
    """Serve the fixture."""
    server = ThreadingHTTPServer(("127.0.0.1", 0), Answers)
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    yield f"http://127.0.0.1:{server.server_port}"
    server.shutdown()
    thread.join()
    server.server_close()


@pytest.fixture(scope="module")
def tab(browser: Browser) -> Iterator[Page]:
    """One tab; to start one takes longer than most tests."""
    context = browser.new_context(viewport={"width": 1440, "height": 900})
    yield context.new_page()
    context.close()


@pytest.fixture
def parts(tab: Page, watch: Watch, origin: str) -> Iterator[Page]:
    """All parts of a room of four seats, painted."""
    with loaded(tab, watch, f"{origin}/parts.html") as page:
        page.wait_for_selector("html[data-ready]", state="attached")
        page.wait_for_selector(".strip .station")
        yield page


def rows(page: Page) -> list[str]:
    ids: list[str] = page.locator(".ledger tbody .c-id").all_inner_texts()
    return ids


def sent(page: Page) -> list[Any]:
    operations: list[Any] = page.evaluate("sent.map(({body}) => body.operations)")
    return operations


def answering(page: Page, answer: Any, status: int = 422) -> None:
    """Let the next edits be answered so."""
    page.evaluate(
        "([body, status]) => { window.answerTo = (name) =>"
        " name === 'commit' ? {status, body} : null; }",
        [answer, status],
    )


def test_the_ledger_is_worst_first_and_says_the_state_in_words(parts: Page) -> None:
    assert rows(parts) == ["s3", "s1", "s2", "s4"]
    assert parts.locator(".ledger .w").all_inner_texts() == [
        "broken",
        "at risk",
        "kept",
        "not assessed",
    ]
    unknown = parts.locator(".ledger tbody tr").last
    assert unknown.locator(".c-sti").inner_text() == "–"
    assert unknown.locator(".c-binds").inner_text() == "nothing faces it"
    assert unknown.locator(".filled, .hollow").count() == 0


def test_arrows_walk_the_ledger_and_enter_opens_the_path(parts: Page) -> None:
    parts.locator(".ledger tbody tr").first.focus()
    parts.keyboard.press("ArrowDown")
    parts.keyboard.press("ArrowDown")
    assert parts.evaluate("document.activeElement.dataset.path") == "people.seats.s2"
    assert parts.evaluate("desk.hovered") == "people.seats.s2"
    parts.keyboard.press("End")
    assert parts.evaluate("document.activeElement.dataset.path") == "people.seats.s4"
    parts.keyboard.press("Home")
    parts.keyboard.press("Enter")
    assert parts.evaluate("[...desk.selection]") == ["people.seats.s3"]
    assert parts.locator("tr[aria-selected=true] .c-id").inner_text() == "s3"


def test_ranges_hide_while_the_hand_moves_and_come_back(parts: Page) -> None:
    first = parts.locator(".ledger tbody tr").first
    live = {"rows": [{"path": "people.seats.s3", "sti": "0.66", "middle": 0.66}], "rest": False}
    parts.evaluate("live => desk.dispatchEvent(new CustomEvent('live', {detail: live}))", live)
    # The drawing leads: figures follow in the frame after it.
    expect(first.locator(".c-sti")).to_have_text("0.66")
    assert first.locator(".c-chance").inner_text() == ""
    assert not first.locator(".filled, .hollow").first.is_visible()
    assert rows(parts) == ["s3", "s1", "s2", "s4"]
    parts.evaluate("desk.drop()")
    assert first.locator(".c-sti").inner_text() == "0.60"
    assert first.locator(".hollow").is_visible()


def test_findings_are_worst_first_and_text_stays_text(parts: Page) -> None:
    texts = parts.locator(".finds li p:first-child").all_inner_texts()
    assert [text.partition(".")[0] for text in texts] == ["Broken", "At risk", "Not assessed"]
    assert "<b>s3</b>" in texts[0]
    parts.evaluate("desk.addEventListener('show', ({detail}) => { window.shown = detail; })")
    parts.locator(".finds li").nth(1).get_by_text("show").click()
    assert parts.evaluate("shown") == {"path": "devices.m1", "place": [2.4, 2]}
    assert parts.evaluate("[...desk.selection]") == ["devices.m1"]


def test_a_finding_of_the_room_opens_its_field(parts: Page) -> None:
    parts.locator(".finds li").last.get_by_text("open").click()
    assert parts.locator(".panel-row:has(:focus) label").inner_text() == "Region"


def test_a_figure_opens_its_working_and_escape_gives_the_focus_back(parts: Page) -> None:
    figure = parts.get_by_role("button", name="Level, Air: 54.6 dBA")
    figure.focus()
    parts.keyboard.press("Enter")
    sheet = parts.get_by_role("dialog")
    for words in ("L1 − 20 lg r", "2.30 m", "free field", "One talker."):
        assert words in sheet.inner_text()
    box = sheet.bounding_box()
    assert box is not None
    assert box["x"] >= 0
    assert box["y"] >= 0
    assert box["x"] + box["width"] <= 1440
    assert box["y"] + box["height"] <= 900
    parts.keyboard.press("Escape")
    assert sheet.count() == 0
    assert parts.evaluate("document.activeElement.getAttribute('aria-label')").startswith("Level")


def test_a_dash_opens_its_reason_and_a_station_all_its_steps(parts: Page) -> None:
    parts.get_by_role("button", name="Spare, Mouth: –").click()
    assert "there is nothing of it here" in parts.get_by_role("dialog").inner_text()
    parts.get_by_role("button", name="Air: show what is worked out there").click()
    assert parts.get_by_role("dialog").locator("summary").count() == 2
    assert parts.locator(".strip .st.bind").count() == 1


def test_a_refused_field_keeps_what_was_typed_and_says_what_is_allowed(parts: Page) -> None:
    parts.evaluate("desk.select(['devices.m1'])")
    answering(parts, REFUSED)
    field = parts.get_by_label("Height above the floor")
    field.fill("9 m")
    field.press("Enter")
    wrong = parts.locator(".panel-row .wrong:visible")
    wrong.wait_for()
    assert wrong.inner_text() == "9 m is above the ceiling; at most 2.75 m"
    assert field.input_value() == "9 m"
    assert field.get_attribute("aria-invalid") == "true"
    assert sent(parts) == [[{"path": "devices.m1.at.2", "typed": "9 m"}]]
    field.press("Escape")
    assert field.input_value() == "2.40 m"
    assert wrong.count() == 0


def test_choices_locks_and_removal_are_edits(parts: Page) -> None:
    parts.evaluate("desk.select(['devices.m1'])")
    parts.get_by_label("Product").select_option("ceiling-head-2")
    parts.get_by_role("button", name="lock", exact=True).click()
    parts.get_by_role("button", name="remove").click()
    parts.wait_for_function("sent.length === 3")
    assert sent(parts) == [
        [{"path": "devices.m1.product", "set": "ceiling-head-2"}],
        [{"path": "devices.m1.locked", "set": True}],
        [{"do": "remove", "items": ["devices.m1"]}],
    ]


def test_what_is_told_or_assumed_stands_in_italics(parts: Page) -> None:
    parts.evaluate("desk.select(['devices.m1'])")
    style = "element => getComputedStyle(element).fontStyle"
    assert parts.get_by_label("Height above the floor").evaluate(style) == "italic"
    assert parts.get_by_label("Product").evaluate(style) == "normal"


def test_the_view_in_space_turns_by_keys_and_says_where_one_stands(parts: Page) -> None:
    view = parts.locator(".solid-drawing")
    words = parts.locator(".solid-bar p")
    assert words.inner_text().startswith("Seen from the south-west, 35° above the floor.")
    before = view.screenshot()
    view.focus()
    for _ in range(9):
        parts.keyboard.press("ArrowRight")
    assert words.inner_text().startswith("Seen from the west,")
    assert view.screenshot() != before
    parts.get_by_role("button", name="from above").click()
    assert words.inner_text().startswith("Seen from above.")
    parts.keyboard.press("Home")


def test_a_seat_is_chosen_in_the_view_in_space(parts: Page) -> None:
    parts.get_by_role("button", name="from above").click()
    box = parts.locator(".solid-drawing").bounding_box()
    assert box is not None
    # 5 × 4 m from above: the picture is the plan, fitted with 36 px round its diagonal.
    scale = min((box["width"] - 72) / 41**0.5, (box["height"] - 72) / 41**0.5)
    x = box["x"] + box["width"] / 2 + scale * (3.4 - 2.5)
    y = box["y"] + box["height"] / 2 - scale * (1.2 - 2.0)
    parts.evaluate(
        "() => new Promise((drawn) => requestAnimationFrame(() => requestAnimationFrame(drawn)))"
    )
    parts.mouse.click(x, y)
    assert parts.evaluate("[...desk.selection]") == ["people.seats.s3"]

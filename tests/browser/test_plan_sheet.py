"""The plan by itself in a browser, at a desk without a server (``tests/web/js/fixture``)."""

from __future__ import annotations

import functools
import threading
from collections.abc import Iterator
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Browser, Page

from tests.browser.conftest import Watch, loaded
from wellheard.web.app import STATIC, symbols

FIXTURE = Path(__file__).parents[1] / "web" / "js" / "fixture"
FONTS = STATIC.parents[1] / "data" / "fonts"
INCH = 0.0254


class Files(SimpleHTTPRequestHandler):
    """The fixture at the root, and the application's own files where the application has them."""

    def translate_path(self, path: str) -> str:
        name = urlsplit(path).path.lstrip("/")
        if name.startswith("static/fonts/"):
            return str(FONTS / name.removeprefix("static/fonts/"))
        if name.startswith("static/"):
            return str(STATIC / name.removeprefix("static/"))
        return str(FIXTURE / name)

    def do_GET(self) -> None:  # the name is the handler's
        if urlsplit(self.path).path != "/static/symbols.json":
            super().do_GET()
            return
        self.send_response(200)
        self.send_header("Content-Type", "application/json")
        self.end_headers()
        self.wfile.write(bytes(symbols().body))

    def log_message(self, format: str, *args: Any) -> None:  # the name is the handler's
        """Say nothing."""


@pytest.fixture(scope="module")
def origin() -> Iterator[str]:
    """Serve the fixture."""
    server = ThreadingHTTPServer(("127.0.0.1", 0), functools.partial(Files))
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    yield f"http://127.0.0.1:{server.server_port}"
    server.shutdown()
    thread.join()
    server.server_close()


@pytest.fixture(scope="module")
def tab(browser: Browser) -> Iterator[Page]:
    """One tab, under fingers too; to start a tab takes longer than most tests."""
    context = browser.new_context(viewport={"width": 776, "height": 610}, has_touch=True)
    yield context.new_page()
    context.close()


@pytest.fixture
def sheet(tab: Page, watch: Watch, origin: str) -> Iterator[Page]:
    """A plan in feet, drawn, with its figures."""
    with loaded(tab, watch, f"{origin}/plan.html?unit=ft") as page:
        page.wait_for_selector("html[data-ready]", state="attached")
        page.wait_for_function("document.querySelectorAll('.item .figure').length === 11")
        yield page


def pixel(page: Page, path: str) -> tuple[float, float]:
    x, y = page.evaluate("p => sheet.view.toScreen(sheet.items.get(p).at)", path)
    return x, y


def shown(page: Page, path: str) -> str:
    text = page.locator(f'.item[data-path="{path}"]').get_attribute("transform")
    assert text is not None
    return text


def drag(page: Page, path: str, by: tuple[float, float]) -> None:
    x, y = pixel(page, path)
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + by[0], y + by[1], steps=6)
    page.wait_for_function("sheet.hand.pending === null")


def commits(page: Page) -> list[dict[str, Any]]:
    return page.evaluate("desk.commits")


def settled(page: Page, version: int = 2) -> None:
    page.wait_for_function(f"sheet.plan.version === {version}")


def test_a_drag_is_one_commit_and_a_ceiling_device_lands_on_the_tiles(sheet: Page) -> None:
    drag(sheet, "devices.m2", (66.0, -25.0))
    sheet.mouse.up()
    settled(sheet)
    (commit,) = commits(sheet)
    assert commit["what"] == "move m2"
    (move,) = commit["operations"]
    # Tiles of 2 ft from the corner: centres lie at odd feet, crossings at even ones.
    x, y = (feet + by / 0.3048 for feet, by in zip((13.0, 7.0), move["by"], strict=True))
    assert x == pytest.approx(round(x), abs=1e-4)
    assert y == pytest.approx(round(y), abs=1e-4)
    assert round(x) % 2 == round(y) % 2
    assert sheet.evaluate("desk.calls.at(-1)") == "drop"
    assert sheet.evaluate("sheet.mover.held.size") == 0


def test_what_was_let_go_stays_there_until_the_document_has_it(sheet: Page) -> None:
    drag(sheet, "people.seats.s5", (30.0, 40.0))
    before = shown(sheet, "people.seats.s5")
    sheet.mouse.up()
    assert shown(sheet, "people.seats.s5") == before
    settled(sheet)
    assert shown(sheet, "people.seats.s5") == before


def test_what_is_refused_goes_back(sheet: Page) -> None:
    sheet.evaluate("desk.refusing = [{where: '', what: 'no', allowed: ''}]")
    before = shown(sheet, "people.seats.s5")
    drag(sheet, "people.seats.s5", (30.0, 40.0))
    sheet.mouse.up()
    sheet.wait_for_function("sheet.mover.held.size === 0")
    assert shown(sheet, "people.seats.s5") == before


def test_esc_gives_everything_its_old_place_and_sends_nothing(sheet: Page) -> None:
    sheet.evaluate("desk.select(['devices.m2', 'people.seats.s4', 'furniture.table'])")
    before = [shown(sheet, "devices.m2"), shown(sheet, "people.seats.s4")]
    drag(sheet, "devices.m2", (90.0, 60.0))
    assert [shown(sheet, "devices.m2"), shown(sheet, "people.seats.s4")] != before
    assert sheet.locator(".furniture [transform]").count() == 1
    sheet.keyboard.press("Escape")
    sheet.mouse.up()
    assert [shown(sheet, "devices.m2"), shown(sheet, "people.seats.s4")] == before
    assert sheet.locator(".furniture [transform]").count() == 0
    assert commits(sheet) == []


def test_a_locked_device_stays_and_a_line_says_why(sheet: Page) -> None:
    before = shown(sheet, "devices.m1")
    drag(sheet, "devices.m1", (40.0, 40.0))
    sheet.mouse.up()
    assert shown(sheet, "devices.m1") == before
    assert commits(sheet) == []
    assert "m1 is locked" in sheet.locator(".plan-line").inner_text()
    assert sheet.locator('.item[data-path="devices.m1"] .padlock').count() == 1


def test_a_new_plan_leaves_drag_selection_focus_and_view_alone(sheet: Page) -> None:
    sheet.evaluate("sheet.zoom(1.3)")
    drag(sheet, "devices.m2", (50.0, 30.0))
    state = "[sheet.view.scale, [...desk.selection], document.activeElement.dataset.path]"
    before = sheet.evaluate(state), shown(sheet, "devices.m2")
    sheet.evaluate(
        "() => { const plan = structuredClone(desk.plan); plan.version = 5;"
        " plan.seats[0].at[0] += 0.3; desk.plan = plan; desk.emit('plan'); desk.emit('figures'); }"
    )
    assert (sheet.evaluate(state), shown(sheet, "devices.m2")) == before
    sheet.mouse.up()
    assert len(commits(sheet)) == 1


def test_while_a_hand_moves_one_of_many_only_that_one_is_touched(sheet: Page) -> None:
    sheet.evaluate(
        "() => { const plan = structuredClone(desk.plan); plan.version = 3;"
        " for (let k = 0; k < 100; k += 1) plan.seats.push({path: `people.seats.q${k}`,"
        " id: `q${k}`, at: [0.3 + 0.055 * k, 0.4 + 0.3 * (k % 4)], facing_deg: 90, words: ''});"
        " desk.plan = plan; desk.emit('plan'); }"
    )
    drag(sheet, "devices.m2", (12.0, 12.0))
    sheet.evaluate(
        "() => { window.touched = new Set(); new MutationObserver((all) => {"
        " for (const { target } of all) touched.add(target.closest('.item')?.dataset.path ?? '?');"
        " }).observe(sheet.list, {attributes: true, subtree: true, childList: true}); }"
    )
    x, y = pixel(sheet, "devices.m2")
    sheet.mouse.move(x + 120, y + 60, steps=8)
    sheet.wait_for_function("sheet.hand.pending === null")
    assert sheet.evaluate("[...touched]") == ["devices.m2"]
    sheet.keyboard.press("Escape")
    sheet.mouse.up()


def test_answers_to_a_moving_hand_are_painted_and_taken_back_with_esc(sheet: Page) -> None:
    drag(sheet, "devices.m2", (60.0, 30.0))
    figure = sheet.locator('.item[data-path="people.seats.s1"] .figure')
    old = figure.inner_html()
    sheet.evaluate(
        "desk.emit('live', {rest: false, map: {...desk.figures.map, labels: [], lines: []},"
        " rows: [], waits: '', marks: {'people.seats.s1': {state: 'at risk', figure: '0.11'}}})"
    )
    assert figure.inner_html() == "0.11"
    assert sheet.locator(".lines .promise").count() == 0
    sheet.keyboard.press("Escape")
    sheet.mouse.up()
    assert figure.inner_html() == old
    assert sheet.locator(".lines .promise").count() == 1


def test_a_rubber_band_chooses_and_delete_removes(sheet: Page) -> None:
    sheet.evaluate("desk.select([])")
    (x0, y0), (x1, y1) = pixel(sheet, "people.seats.s1"), pixel(sheet, "people.seats.s3")
    sheet.mouse.move(x0 - 8, y0 - 22)
    sheet.mouse.down()
    sheet.mouse.move(x1 + 15, y1 + 20, steps=5)
    sheet.mouse.up()
    chosen = [f"people.seats.s{k}" for k in (1, 2, 3)]
    assert sheet.evaluate("[...desk.selection]") == chosen
    sheet.keyboard.press("Delete")
    settled(sheet)
    assert commits(sheet)[0]["operations"] == [{"do": "remove", "items": chosen}]
    assert sheet.locator('.item[data-path="people.seats.s1"]').count() == 0


def test_keys_walk_move_turn_and_open(sheet: Page) -> None:
    sheet.keyboard.press("Tab")
    seen = []
    for _ in range(60):
        path = sheet.evaluate("document.activeElement.dataset.path ?? null")
        if path is None:
            break
        seen.append(path)
        sheet.keyboard.press("Tab")
    assert sorted(seen) == sorted(sheet.evaluate("[...sheet.items.keys()]"))
    assert seen.index("people.seats.s9") < seen.index("people.seats.s6")  # west before east
    assert seen.index("people.seats.s6") < seen.index("people.seats.s1")  # north before south
    sheet.evaluate("sheet.focus.to('people.seats.s2')")
    name = sheet.evaluate("document.activeElement.getAttribute('aria-label')")
    assert name == "seat s2, STI outbound 0.80, broken"
    sheet.keyboard.press("ArrowRight")
    sheet.keyboard.press("ArrowRight")
    sheet.keyboard.press("Shift+ArrowDown")
    settled(sheet)
    (move,) = commits(sheet)[0]["operations"]
    assert move == {
        "do": "move",
        "items": ["people.seats.s2"],
        "by": [pytest.approx(2 * INCH), pytest.approx(-10 * INCH)],
    }
    sheet.keyboard.press("[")
    sheet.keyboard.press("]")
    turns = [commit["operations"][0].get("by_deg") for commit in commits(sheet)[1:]]
    assert turns == [15, -15]
    sheet.evaluate("desk.addEventListener('open', (event) => { window.opened = event.detail; })")
    sheet.keyboard.press("Enter")
    assert sheet.evaluate("window.opened") == "people.seats.s2"


def test_the_wheel_zooms_about_the_pointer_and_nought_shows_all_again(sheet: Page) -> None:
    scale = sheet.evaluate("sheet.view.scale")
    under = sheet.evaluate("sheet.view.toPlan([300, 200])")
    sheet.mouse.move(300, 200)
    sheet.mouse.wheel(0, -400)
    sheet.wait_for_function(f"sheet.view.scale > {scale * 1.2}")
    assert sheet.evaluate("sheet.view.toPlan([300, 200])") == pytest.approx(under)
    sheet.evaluate("sheet.focus.onSheet()")
    sheet.keyboard.press("0")
    assert sheet.evaluate("sheet.view.scale") == pytest.approx(scale)


def test_two_fingers_zoom_and_one_moves_a_seat(sheet: Page) -> None:
    client = sheet.context.new_cdp_session(sheet)

    def touch(kind: str, *points: tuple[float, float]) -> None:
        ends = [{"x": x, "y": y, "id": k} for k, (x, y) in enumerate(points)]
        client.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": ends})

    scale = sheet.evaluate("sheet.view.scale")
    touch("touchStart", (300, 240))
    touch("touchStart", (300, 240), (400, 240))
    for k in range(1, 6):
        touch("touchMove", (300 - 10 * k, 240), (400 + 10 * k, 240))
    touch("touchEnd")
    sheet.wait_for_function(f"sheet.view.scale > {scale * 1.5}")
    assert commits(sheet) == []
    sheet.evaluate("sheet.fit()")
    sheet.wait_for_function("sheet.frames === 0")
    x, y = pixel(sheet, "people.seats.s5")
    touch("touchStart", (x, y))
    for k in range(1, 6):
        touch("touchMove", (x + 8 * k, y + 4 * k))
    touch("touchEnd")
    settled(sheet)
    assert commits(sheet)[0]["what"] == "move s5"


def test_a_typed_wall_length_is_sent_as_typed_and_refused_at_its_field(sheet: Page) -> None:
    sheet.evaluate("sheet.outline(true)")
    sheet.locator('[data-wall="1"]').click()
    sheet.evaluate(
        "desk.refusing = [{where: 'typed', what: \"'lots' is no length\","
        " allowed: 'a length such as 14 ft 6 in or 4.42 m'}]"
    )
    sheet.keyboard.type("lots")
    sheet.keyboard.press("Enter")
    alert = sheet.locator(".plan-field [role=alert]")
    sheet.wait_for_function("document.querySelector('.plan-field p').textContent !== ''")
    assert alert.inner_text() == "'lots' is no length; a length such as 14 ft 6 in or 4.42 m"
    sheet.evaluate("desk.refusing = null")
    sheet.locator(".plan-field input").fill("4.2 m")
    sheet.keyboard.press("Enter")
    settled(sheet)
    assert commits(sheet)[-1]["operations"] == [{"do": "wall-length", "wall": 1, "typed": "4.2 m"}]
    assert sheet.locator(".plan-field").count() == 0


def test_a_corner_is_dragged_with_both_lengths_in_sight(sheet: Page) -> None:
    sheet.evaluate("sheet.outline(true)")
    x, y = sheet.evaluate("sheet.view.toScreen(sheet.plan.outline[2])")
    sheet.mouse.move(x, y)
    sheet.mouse.down()
    sheet.mouse.move(x - 60, y + 4, steps=5)
    sheet.wait_for_function("sheet.hand.pending === null")
    assert sheet.locator(".wall-length.changing").count() == 2
    sheet.mouse.up()
    settled(sheet)
    (operation,) = commits(sheet)[0]["operations"]
    assert (operation["do"], operation["corner"]) == ("corner-move", 2)
    assert operation["to"][1] == pytest.approx(14 * 0.3048)  # level with its neighbour


def test_placing_goes_on_with_shift_and_ends_without(sheet: Page) -> None:
    sheet.evaluate("sheet.startPlacing('seat')")
    sheet.keyboard.down("Shift")
    sheet.mouse.click(300, 420)
    sheet.keyboard.up("Shift")
    assert sheet.evaluate("sheet.state.mode") == "place"
    sheet.mouse.click(400, 420)
    assert sheet.evaluate("sheet.state.mode") == "select"
    done = [commit["operations"][0] for commit in commits(sheet)]
    assert [one["do"] for one in done] == ["add", "add"]
    for one in done:
        for length in one["at"]:
            assert length / INCH == pytest.approx(round(length / INCH), abs=1e-3)


def test_names_from_a_document_are_never_markup(sheet: Page) -> None:
    sheet.evaluate(
        "() => { const plan = structuredClone(desk.plan);"
        " plan.title = '<img src=x onerror=alert(1)>';"
        " plan.devices[1].label = '<script>alert(1)</script>';"
        " desk.plan = plan; desk.emit('plan'); }"
    )
    assert sheet.locator("img, .plan script").count() == 0
    assert "<script>" in sheet.locator('.item[data-path="devices.m2"] .label').text_content()  # type: ignore[operator]


def test_both_sheets_are_one_drawing_in_other_colours(sheet: Page) -> None:
    def colours() -> list[str]:
        code = "s => getComputedStyle(document.querySelector(s)).fill"
        return [sheet.evaluate(code, name) for name in (".walls", ".ground", ".tints .b4")]

    white = colours()
    sheet.evaluate("document.documentElement.className = 'slate'")
    assert all(a != b for a, b in zip(white, colours(), strict=True))

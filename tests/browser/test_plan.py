"""An architect's plan in a browser: chosen, its unit told, one room taken over and designed in."""

from __future__ import annotations

from pathlib import Path

from ezdxf.filemanagement import new as new_drawing
from playwright.sync_api import Page, expect

from tests.browser.conftest import OpenPage
from tests.browser.server import Server
from wellheard.room import codec


def plan(folder: Path) -> Path:
    """Two rooms in millimetres, in a drawing that does not say so."""
    made = new_drawing("R2000", units=0)
    space = made.modelspace()
    for x in (0, 7000):
        corners = [(x, 0), (x + 6400, 0), (x + 6400, 4600), (x, 4600)]
        space.add_lwpolyline(corners, close=True, dxfattribs={"layer": "A-AREA"})
    path = folder / "level-3.dxf"
    made.saveas(path)
    return path


def test_a_room_of_a_plan_becomes_a_room_of_the_workbench(
    standing: Server, open_page: OpenPage, tmp_path: Path
) -> None:
    page: Page = open_page(standing, "/")
    page.get_by_role("link", name="from a plan").click()
    page.locator("input[type=file]").set_input_files(plan(tmp_path))
    page.get_by_role("button", name="6.40 m × 4.60 m, drawn in mm").click(timeout=60_000)
    page.get_by_role("radio").nth(1).check(timeout=60_000)
    picture = page.get_by_role("img", name="What was read of level-3.dxf")
    expect(picture).to_be_visible()
    assert picture.evaluate("image => image.naturalWidth") > 500
    before = set(standing.folder.glob("*.room.yaml"))
    page.get_by_label("Title").fill("Ebb Room")
    page.get_by_role("button", name="make this room").click()
    page.wait_for_url("**/rooms/ebb-room", timeout=60_000)
    (path,) = set(standing.folder.glob("*.room.yaml")) - before
    room = codec.read(path)
    assert room.title == "Ebb Room"
    assert room.space.outline == ((0, 0), (6.4, 0), (6.4, 4.6), (0, 4.6))


def test_a_plan_is_chosen_by_keyboard_alone(
    standing: Server, open_page: OpenPage, tmp_path: Path
) -> None:
    page: Page = open_page(standing, "/plan")
    choice = page.locator("input[type=file]")
    for _ in range(20):
        page.keyboard.press("Tab")
        if choice.evaluate("input => input === document.activeElement"):
            break
    expect(choice).to_be_focused()
    with page.expect_file_chooser() as opened:
        page.keyboard.press("Space")
    opened.value.set_files(plan(tmp_path))
    size = page.get_by_role("button", name="6.40 m × 4.60 m, drawn in mm")
    expect(size).to_be_visible(timeout=60_000)

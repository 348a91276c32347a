"""The workbench needs nothing but this machine, and outlives its own server."""

from __future__ import annotations

import pytest

from tests.browser.conftest import OpenPage, Sheet, Watch
from tests.browser.server import Server

PAGES = (
    "/",
    "/rooms/ten-seats",
    "/rooms/ten-seats/survey",
    "/rooms/ten-seats/documents",
    "/rooms/ten-seats/compare",
    "/catalogue",
)


@pytest.mark.parametrize("path", PAGES)
def test_a_page_asks_no_other_machine_and_meets_no_error(
    open_page: OpenPage, standing: Server, path: str
) -> None:
    # What it asked and met is judged by the fixture that watches.
    page = open_page(standing, path)
    page.wait_for_load_state("networkidle")
    assert page.title()
    assert page.locator("#app > *").count() > 0


@pytest.mark.parametrize("sheet", ["white", "slate"])
def test_a_page_comes_on_the_sheet_that_was_chosen(
    open_page: OpenPage, standing: Server, sheet: Sheet
) -> None:
    page = open_page(standing, "/", sheet=sheet)
    assert ("slate" in (page.locator("html").get_attribute("class") or "")) == (sheet == "slate")


def test_the_key_leaves_the_address_and_the_history(open_page: OpenPage, standing: Server) -> None:
    page = open_page(standing)
    assert page.url == standing.origin + "/"
    page.go_back()
    assert "token" not in page.url


def test_after_a_kill_the_browser_is_still_signed_in_and_the_old_key_opens_nothing(
    open_page: OpenPage, server: Server, watch: Watch
) -> None:
    watch.allowed += ["ERR_CONNECTION", "ERR_EMPTY_RESPONSE", "WebSocket", "401"]
    page = open_page(server)
    page.wait_for_load_state("networkidle")
    old = server.address
    server.kill9()
    server.restart()
    assert server.address != old
    # in another tab: this one loads itself again at a moment of its own
    tab = page.context.new_page()
    again = tab.goto(server.origin + "/")
    assert again is not None
    assert again.status == 200
    refused = tab.goto(old)
    assert refused is not None
    assert refused.status == 401
    tab.goto(server.origin + "/")
    tab.wait_for_load_state("networkidle")
    assert server.stop() == 130  # in time, although a page is open

"""The workbench as it is used: its server in a process of its own, a browser with nothing in it."""

from __future__ import annotations

import os
import re
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal, TypeAlias
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Browser, BrowserContext, ConsoleMessage, Page, sync_playwright

from tests.browser import install
from tests.browser.server import Server, started

EXAMPLES = Path(__file__).parents[2] / "examples"
REBOUND = "rooms.example"
"""A name that somebody else owns and points to this machine."""
QUIET = (
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-domain-reliability",
    "--disable-sync",
    "--no-first-run",
    "--no-pings",
    f"--host-resolver-rules=MAP {REBOUND} 127.0.0.1, MAP * ~NOTFOUND, "
    "EXCLUDE 127.0.0.1, EXCLUDE localhost",
)

Sheet: TypeAlias = Literal["white", "slate"]
CopyOf: TypeAlias = Callable[..., Path]
OpenPage: TypeAlias = Callable[..., Page]


@pytest.fixture(scope="module")
def copy_of(tmp_path_factory: pytest.TempPathFactory) -> CopyOf:
    """Give the function that copies examples into a folder of their own."""

    def copied(*names: str) -> Path:
        folder = tmp_path_factory.mktemp("browser") / "rooms"
        folder.mkdir()
        for name in names:
            shutil.copy(EXAMPLES / name / f"{name}.room.yaml", folder)
        return folder

    return copied


@pytest.fixture
def folder(copy_of: CopyOf) -> Path:
    """Two rooms to change."""
    return copy_of("ten-seats", "huddle-four")


@pytest.fixture
def server(folder: Path) -> Iterator[Server]:
    """A server of that folder, for tests that change something."""
    with started(folder) as one:
        yield one


@pytest.fixture(scope="module")
def standing(copy_of: CopyOf) -> Iterator[Server]:
    """A server of two rooms for all tests of a module that do not change these two."""
    with started(copy_of("ten-seats", "huddle-four")) as one:
        yield one


@pytest.fixture
def room(standing: Server) -> str:
    """A third room of that server, which only this test knows of and changes; its key."""
    key = f"room-{len(list(standing.folder.glob('*.room.yaml')))}"
    shutil.copy(
        EXAMPLES / "ten-seats" / "ten-seats.room.yaml", standing.folder / f"{key}.room.yaml"
    )
    return key


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """Start a browser without a past, and without a way to any other machine.

    One for each module: as long as it runs, no test of pages without a browser could have an event
    loop of its own in this process.
    """
    path = install.found()
    if path is None:
        if install.on_ci():
            pytest.fail(install.HOW)
        pytest.skip(install.HOW)
    root = hasattr(os, "geteuid") and os.geteuid() == 0
    options = [*QUIET, "--no-sandbox"] if root else list(QUIET)
    with sync_playwright() as playwright:
        one = playwright.chromium.launch(executable_path=path, args=options)
        yield one
        one.close()


@dataclass
class Watch:
    """What pages asked of other machines, and the errors that they met."""

    hosts: set[str] = field(default_factory=set)
    foreign: list[str] = field(default_factory=list)
    errors: list[str] = field(default_factory=list)
    allowed: list[str] = field(default_factory=list)
    """Patterns of errors that a test brings about on purpose."""

    def over(self, context: BrowserContext) -> None:
        """Watch every page of a context."""
        context.on("request", lambda request: self._asked(request.url))
        context.on("console", self._console)
        context.on("weberror", lambda error: self.errors.append(str(error.error)))

    def verdict(self) -> None:
        """Fail where there was anything."""
        assert self.foreign == []
        left = [e for e in self.errors if not any(re.search(p, e) for p in self.allowed)]
        assert left == []

    def _asked(self, url: str) -> None:
        parts = urlsplit(url)
        if parts.scheme not in ("data", "blob", "about") and parts.netloc not in self.hosts:
            self.foreign.append(url)

    def _console(self, message: ConsoleMessage) -> None:
        if message.type == "error":
            self.errors.append(f"{message.text} ({message.location.get('url', '')})")


@pytest.fixture
def watch() -> Iterator[Watch]:
    """What the pages of this test did; it fails in the end where that was more than it may be."""
    one = Watch()
    yield one
    one.verdict()


@contextmanager
def loaded(tab: Page, watch: Watch, address: str) -> Iterator[Page]:
    """Load a page in a tab that others have used, and leave nothing there of what was done."""
    watch.hosts.add(urlsplit(address).netloc)
    watch.over(tab.context)
    tab.goto(address)
    yield tab
    tab.evaluate("() => { localStorage.clear(); sessionStorage.clear(); }")
    tab.goto("about:blank")
    tab.mouse.up()
    tab.keyboard.up("Shift")
    tab.mouse.move(0, 0)


@pytest.fixture
def open_page(browser: Browser, watch: Watch) -> Iterator[OpenPage]:
    """Give the function that opens a page in a new context, signed in at a server."""
    contexts: list[BrowserContext] = []

    def opened(
        server: Server,
        path: str = "/",
        *,
        sheet: Sheet = "white",
        size: tuple[int, int] = (1440, 900),
    ) -> Page:
        context = browser.new_context(viewport={"width": size[0], "height": size[1]})
        contexts.append(context)
        watch.hosts.add(urlsplit(server.origin).netloc)
        watch.over(context)
        if sheet == "slate":
            context.add_cookies(
                [{"name": "wellheard-theme", "value": "slate", "url": server.origin}]
            )
        page = context.new_page()
        if path == "/":
            page.goto(server.address)
        else:  # signed in without a look at all rooms
            context.request.get(server.address, max_redirects=0)
            page.goto(server.origin + path)
        return page

    yield opened
    for context in contexts:
        context.close()


@pytest.fixture
def page(open_page: OpenPage, server: Server) -> Page:
    """The rooms of ``server``, in a window of 1440 × 900."""
    return open_page(server)

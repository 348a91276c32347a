"""The workbench as it is used: its server in a process of its own, a browser with nothing in it."""

from __future__ import annotations

import contextlib
import os
import re
import shutil
import signal
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal, TypeAlias
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Browser, BrowserContext, ConsoleMessage, Page, sync_playwright

from tests.browser import install

EXAMPLES = Path(__file__).parents[2] / "examples"
START = 60.0
"""How long a server may take to start on a busy machine. [s]"""
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


class Server:
    """``wellheard serve`` of a folder, which can be killed and started again."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.address = ""
        self._said = folder.parent / f"{folder.name}.stderr"
        self._start(0)

    @property
    def origin(self) -> str:
        """Scheme, host and port, as pages name it."""
        parts = urlsplit(self.address)
        return f"{parts.scheme}://{parts.netloc}"

    @property
    def port(self) -> int:
        """Where it listens."""
        return urlsplit(self.address).port or 0

    def kill9(self) -> None:
        """Kill it without a word."""
        self._process.kill()
        self._process.communicate()

    def stop(self) -> int:
        """End it as Ctrl-C does; its exit code."""
        self._process.send_signal(signal.SIGINT)
        self._process.communicate(timeout=30)
        return self._process.returncode

    def restart(self) -> None:
        """Start it again on the same port, as somebody does who kept the tab open."""
        if self._process.poll() is None:
            self.kill9()
        self._start(self.port)

    def end(self) -> None:
        """Let nothing outlive the test, and nothing pass that the server reported as a fault."""
        if self._process.poll() is None:
            self.kill9()
        said = self._said.read_text("utf-8")
        assert "Traceback" not in said, said

    def _start(self, port: int) -> None:
        code = "from wellheard.cli import main; main()"
        asked = ["serve", os.fspath(self.folder), "--no-open", "--port", str(port)]
        with self._said.open("a", encoding="utf-8") as said:
            self._process = subprocess.Popen(
                [sys.executable, "-c", code, *asked],
                stdout=subprocess.PIPE,
                stderr=said,
                encoding="utf-8",
                cwd=self.folder.parent,
            )
        self.address = _first_line(self._process)
        assert self.address.startswith("http://127.0.0.1:"), self._said.read_text("utf-8")


def _first_line(process: subprocess.Popen[str]) -> str:
    assert process.stdout is not None
    stop = threading.Timer(START, process.kill)
    stop.start()
    try:
        return process.stdout.readline().strip()
    finally:
        stop.cancel()


@contextlib.contextmanager
def serving(folder: Path) -> Iterator[Server]:
    """Serve a folder as long as the block lasts."""
    server = Server(folder)
    try:
        yield server
    finally:
        server.end()


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
    with serving(folder) as one:
        yield one


@pytest.fixture(scope="module")
def standing(copy_of: CopyOf) -> Iterator[Server]:
    """A server of two rooms for all tests of a module that change nothing."""
    with serving(copy_of("ten-seats", "huddle-four")) as one:
        yield one


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Start a browser without a past, and without a way to any other machine."""
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
        page.goto(server.address)
        if path != "/":
            page.goto(server.origin + path)
        return page

    yield opened
    for context in contexts:
        context.close()


@pytest.fixture
def page(open_page: OpenPage, server: Server) -> Page:
    """The rooms of ``server``, in a window of 1440 × 900."""
    return open_page(server)

"""The workbench in a process of its own, to be talked to, killed and started again."""

from __future__ import annotations

import contextlib
import os
import re
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlsplit

import pytest

START = 90.0
"""How long a server may take to start on a busy machine. [s]"""


RUN = """
from wellheard.cli import main
from wellheard.predict import sensitivity
sensitivity._effect = lambda *_: None
main()
"""
"""The command, but that no prediction tries what each assumption does to the worst seat: that takes
most of its time, and no test here reads the notes that say it."""


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

    def memory(self) -> int:
        """Memory that it keeps to itself and shares, where the system tells it; else 0. [byte]"""
        told = Path(f"/proc/{self._process.pid}/status")
        if not told.is_file():
            return 0
        found = re.search(r"VmRSS:\s+(\d+) kB", told.read_text("utf-8"))
        return 1024 * int(found.group(1)) if found else 0

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
        asked = ["serve", os.fspath(self.folder), "--no-open", "--port", str(port)]
        with self._said.open("a", encoding="utf-8") as said:
            self._process = subprocess.Popen(
                [sys.executable, "-c", RUN, *asked],
                stdout=subprocess.PIPE,
                stderr=said,
                encoding="utf-8",
                cwd=self.folder.parent,
            )
        self.address = _first_line(self._process)
        if not self.address.startswith("http://127.0.0.1:"):
            self.kill9()
            pytest.fail(f"the server did not start: {self._said.read_text('utf-8')}")


def _first_line(process: subprocess.Popen[str]) -> str:
    assert process.stdout is not None
    stop = threading.Timer(START, process.kill)
    stop.start()
    try:
        return process.stdout.readline().strip()
    finally:
        stop.cancel()


@contextlib.contextmanager
def started(folder: Path) -> Iterator[Server]:
    """Serve a folder as long as the block lasts."""
    server = Server(folder)
    try:
        yield server
    finally:
        server.end()

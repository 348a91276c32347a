"""The command that opens the workbench: what it says, where it listens, how it ends."""

from __future__ import annotations

import contextlib
import os
import re
import signal
import socket
import subprocess
import sys
import threading
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from wellheard.cli.app import run
from wellheard.errors import InputError
from wellheard.web import serving

LIGHT = """
import sys, time, threading
from pathlib import Path
from types import ModuleType
from tests.web.wire import Witness
from wellheard.web.guard import guarded
app = ModuleType("wellheard.web.app")
def build(folder, *, token, port):
    if "--busy" in sys.argv:
        threading.Thread(target=lambda: time.sleep(60)).start()
    return guarded(Witness(), Path(folder), token=token, port=port)
app.build = build
sys.modules["wellheard.web.app"] = app
from wellheard.cli.app import run
sys.exit(run([a for a in sys.argv[1:] if a != "--busy"]))
"""
"""The command with an application that loads at once: the pages have tests of their own."""
ROOT = Path(__file__).parents[2]


class Command:
    """``wellheard serve`` in a process of its own."""

    def __init__(self, *arguments: str | os.PathLike[str], **environ: str) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-c", LIGHT, "serve", *(os.fspath(a) for a in arguments)],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            encoding="utf-8",
            cwd=ROOT,
            env={**os.environ, **environ},
        )

    def address(self) -> str:
        """The first line of standard output."""
        assert self.process.stdout is not None
        stop = threading.Timer(60, self.process.kill)
        stop.start()
        try:
            return self.process.stdout.readline().strip()
        finally:
            stop.cancel()

    def ended(self) -> tuple[int, str, str]:
        """Exit code and what was said since."""
        out, err = self.process.communicate(timeout=60)
        return self.process.returncode, out, err


Start = Callable[..., Command]


@pytest.fixture
def start() -> Iterator[Start]:
    """Start the command; it does not outlive the test."""
    commands: list[Command] = []

    def started(*arguments: str | os.PathLike[str], **environ: str) -> Command:
        commands.append(Command(*arguments, **environ))
        return commands[-1]

    yield started
    for command in commands:
        with command.process as process:
            process.kill()


def test_the_address_alone_goes_to_stdout_and_opens_the_rooms(start: Start, tmp_path: Path) -> None:
    command = start(tmp_path, "--no-open", "--port", "0")
    address = command.address()
    opener = urllib.request.build_opener(urllib.request.HTTPCookieProcessor())
    with opener.open(address, timeout=10) as answer:
        assert answer.read() == b"reached"
        assert answer.url == address.partition("/enter")[0] + "/"
    command.process.send_signal(signal.SIGINT)
    code, out, err = command.ended()
    assert (code, out) == (130, "")
    assert err == f"{tmp_path}: open in the browser until Ctrl-C\nstopped; everything is saved\n"


@pytest.mark.parametrize("name", ["SIGINT", "SIGTERM"])
def test_an_end_is_said_and_comes_in_time_although_a_thread_computes(
    start: Start, tmp_path: Path, name: str
) -> None:
    command = start(tmp_path, "--no-open", "--port", "0", "--busy")
    command.address()
    start_of_end = time.monotonic()
    command.process.send_signal(signal.Signals[name])
    code, _, err = command.ended()
    assert code == 130
    assert err.splitlines()[-1] == "stopped; everything is saved"
    assert time.monotonic() - start_of_end < 30  # the thread sleeps for a minute


def test_an_open_connection_does_not_hold_up_the_end(start: Start, tmp_path: Path) -> None:
    command = start(tmp_path, "--no-open", "--port", "0")
    port = int(command.address().split(":")[2].partition("/")[0])
    with socket.create_connection(("127.0.0.1", port)) as line:
        line.sendall(b"GET / HTTP/1.1\r\nHost:")
        command.process.send_signal(signal.SIGINT)
        assert command.ended()[0] == 130


def test_it_listens_on_this_machine_only(start: Start, tmp_path: Path) -> None:
    command = start(tmp_path, "--no-open", "--port", "0")
    port = int(command.address().split(":")[2].partition("/")[0])
    listening = serving.listen(0)
    assert listening.getsockname()[0] == "127.0.0.1"
    listening.close()
    known = socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)
    for other in {str(found[4][0]) for found in known if not str(found[4][0]).startswith("127.")}:
        with pytest.raises(OSError):  # noqa: PT011 (the system's words differ)
            socket.create_connection((other, port), timeout=2)


def test_every_start_has_a_key_of_its_own_and_the_old_one_opens_nothing(
    start: Start, tmp_path: Path
) -> None:
    first = start(tmp_path, "--no-open", "--port", "0")
    old = first.address()
    port = old.split(":")[2].partition("/")[0]
    first.process.kill()
    first.ended()
    new = start(tmp_path, "--no-open", "--port", port).address()
    assert new != old
    with pytest.raises(urllib.error.HTTPError, match="401"):
        urllib.request.urlopen(old, timeout=10)


def test_a_browser_stays_signed_in_when_the_server_is_killed_and_started_again(
    start: Start, tmp_path: Path
) -> None:
    first = start(tmp_path, "--no-open", "--port", "0")
    address = first.address()
    opener = urllib.request.build_opener(urllib.request.HTTPCookieProcessor())
    opener.open(address, timeout=10).close()
    origin, port = address.partition("/enter")[0], address.split(":")[2].partition("/")[0]
    first.process.kill()
    first.ended()
    start(tmp_path, "--no-open", "--port", port).address()
    with opener.open(origin + "/rooms/a", timeout=10) as answer:
        assert answer.status == 200


def test_a_folder_is_served_once_at_a_time(start: Start, tmp_path: Path) -> None:
    first = start(tmp_path, "--no-open", "--port", "0")
    origin = first.address().partition("/enter")[0]
    code, out, err = start(tmp_path, "--no-open", "--port", "0").ended()
    assert (code, out) == (2, "")
    assert f"is served already, at {origin}/" in err
    assert "token" not in err


def test_a_port_that_is_taken_is_said(start: Start, tmp_path: Path) -> None:
    with contextlib.closing(serving.listen(0)) as taken:
        port = taken.getsockname()[1]
        code, out, err = start(tmp_path, "--no-open", "--port", str(port)).ended()
    assert (code, out) == (2, "")
    assert err.startswith(f"port {port}: is taken by another program; another port")


def test_without_a_port_the_usual_one_is_taken_or_another_that_is_said(
    start: Start, tmp_path: Path
) -> None:
    with contextlib.ExitStack() as stack:
        with contextlib.suppress(InputError):  # somebody else has it, which serves as well
            stack.enter_context(contextlib.closing(serving.listen(serving.USUAL_PORT)))
        command = start(tmp_path, "--no-open")
        port = command.address().split(":")[2].partition("/")[0]
        assert int(port) != serving.USUAL_PORT
        command.process.send_signal(signal.SIGINT)
        assert f"took {port}" in command.ended()[2]


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        (["absent"], "absent: no such folder; the folder of your rooms is wanted"),
        (["a.room.yaml"], "a file; name the folder that it is in"),
        ([".", "--port", "70000"], "a number from 0 to 65535"),
        ([".", "--port", "-1"], "--port"),
        ([".", "--port", "http"], "http"),
        ([".", "--no-token"], "--no-token"),
        ([".", "--host", "0.0.0.0"], "--host"),
    ],
)
def test_what_cannot_be_served_is_said_in_words(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    asked: list[str],
    said: str,
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "a.room.yaml").write_text("", "utf-8")
    assert run(["serve", *asked]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert said in told.err
    assert "Traceback" not in told.err
    assert not (tmp_path / ".wellheard" / "session").exists()


def test_a_folder_that_cannot_be_written_to_is_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "rooms").mkdir(mode=0o500)
    if os.geteuid() == 0:  # whom modes do not stop

        def refused(*_: object, **__: object) -> None:
            raise PermissionError(13, "Permission denied")

        monkeypatch.setattr(Path, "mkdir", refused)
    assert run(["serve", os.fspath(tmp_path / "rooms"), "--no-open"]) == 2
    assert "Permission denied; a folder that can be written to" in capsys.readouterr().err


def test_the_browser_is_opened_unless_it_is_not_wanted(start: Start, tmp_path: Path) -> None:
    seen = tmp_path / "seen"
    browser = tmp_path / "browser"
    browser.write_text(f'#!/bin/sh\nprintf "%s" "$1" > {seen}\n', "utf-8")
    browser.chmod(0o755)
    rooms = tmp_path / "rooms"
    rooms.mkdir()
    address = start(rooms, "--port", "0", BROWSER=os.fspath(browser)).address()
    until = time.monotonic() + 20
    while not (seen.exists() and seen.read_text()) and time.monotonic() < until:
        time.sleep(0.05)
    assert seen.read_text() == address


def test_a_browser_that_does_not_start_is_no_failure(start: Start, tmp_path: Path) -> None:
    command = start(tmp_path, "--port", "0", BROWSER="/absent/browser", DISPLAY="")
    address = command.address()
    with pytest.raises(urllib.error.HTTPError, match="401"):
        urllib.request.urlopen(address.partition("enter")[0], timeout=10)
    command.process.send_signal(signal.SIGINT)
    code, _, err = command.ended()
    assert code == 130
    assert "Traceback" not in err


def test_the_lock_of_a_folder_ends_with_its_holder(tmp_path: Path) -> None:
    said = re.escape("is served already, at http://127.0.0.1:1/;")
    with (
        serving.alone(tmp_path, 1),
        pytest.raises(InputError, match=said),
        serving.alone(tmp_path, 2),
    ):
        pass
    with serving.alone(tmp_path, 2):
        pass


def test_the_help_names_the_usual_port(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["serve", "--help"]) == 0
    assert str(serving.USUAL_PORT) in capsys.readouterr().out


def test_help_loads_nothing_of_the_web(capsys: pytest.CaptureFixture[str]) -> None:
    code = (
        "import sys; from wellheard.cli.app import run; run(['serve', '--help']);"
        "heavy = {'nicegui', 'uvicorn', 'fastapi', 'starlette'} & set(sys.modules);"
        "print('heavy:', *sorted(heavy))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60
    )
    assert done.stdout.splitlines()[-1] == "heavy:"

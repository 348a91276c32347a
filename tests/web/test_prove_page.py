"""Sessions of measurement on their page: begun, settled, and deleted only after being asked for."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
import yaml
from nicegui.testing import User

from tests.web import proved_at_once
from tests.web.hands import HOSTILE, fire, press, tagged, texts, until
from wellheard.web import policies
from wellheard.web.workbench import Workbench
from wellheard.workflow import proved, session_text

DEFAULTS = {
    "occupancy": "0",
    "climate.temperature_c": "21",
    "climate.humidity": "45",
    "source.sigma_db": "1",
    "signal.from_hz": "50",
    "signal.to_hz": "20000",
    "signal.seconds": "6",
    "signal.silence": "3",
    "signal.repeats": "1",
    "signal.level_dbfs": "−12",
    "directivity": "human",
}


@pytest.fixture
def folder(workbench: Workbench) -> Path:
    """A session of a room of the workbench."""
    loaded = workbench.desk("ten-seats").state.loaded
    name = session_text.begin(loaded, title="hand-over")
    return workbench.shelf.folder / "ten-seats.sessions" / name


def said(folder: Path) -> Any:
    return yaml.safe_load((folder / "session.yaml").read_text("utf-8"))


def submit(user: User, kind: str, typed: dict[str, str]) -> None:
    """Send the form of a part of the page."""
    part = next(e for e in tagged(user, "form") if kind in _classes_above(e))
    fire(user, part, "submit", typed)


def _classes_above(element: Any) -> set[str]:
    found: set[str] = set()
    while element is not None:
        found |= set(element.classes)
        slot = element.parent_slot
        element = slot.parent if slot is not None else None
    return found


async def test_empty_it_says_one_sentence_and_how_to_begin(user: User) -> None:
    await user.open("/rooms/ten-seats/prove")
    text = texts(user)
    assert "Nothing has been measured in this room yet." in text
    assert "A microphone hears everybody." in text
    assert "Prove" in text


async def test_a_session_that_is_begun_is_a_folder_beside_the_room(
    user: User, workbench: Workbench
) -> None:
    await user.open("/rooms/ten-seats/prove")
    submit(user, "prove-begin", {"title": HOSTILE, "date": "2026-11-26", "by": "A. Reader"})
    home = workbench.shelf.folder / "ten-seats.sessions"
    await until(lambda: list(home.glob("*/session.yaml")))
    (folder,) = home.iterdir()
    assert re.fullmatch("[a-z0-9-]+", folder.name)
    assert said(folder)["title"] == HOSTILE
    await user.open(f"/rooms/ten-seats/prove/{folder.name}")
    assert "Nothing is recorded in this session yet." in texts(user)


async def test_a_date_that_is_none_is_said_at_its_field(user: User, workbench: Workbench) -> None:
    await user.open("/rooms/ten-seats/prove")
    submit(user, "prove-begin", {"title": "x", "date": "26.11.", "by": ""})
    await until(lambda: "'26.11.' is no date" in texts(user))
    assert not (workbench.shelf.folder / "ten-seats.sessions").exists()


async def test_cautions_and_privacy_stand_before_the_microphone(user: User, folder: Path) -> None:
    await user.open("/rooms/ten-seats/prove/hand-over")
    text = texts(user)
    for words in ("turn the amplifier all the way down", "85 dB(A)", "with their consent"):
        assert words in text


async def test_how_it_was_measured_is_kept_and_problems_are_said_at_their_field(
    user: User, folder: Path
) -> None:
    await user.open("/rooms/ten-seats/prove/hand-over")
    typed = {**DEFAULTS, "occupancy": "150", "climate.temperature_c": "warm"}
    submit(user, "prove-settings", typed)
    await until(lambda: "'warm' is no number" in texts(user))
    submit(user, "prove-settings", {**typed, "climate.temperature_c": "24"})
    await until(lambda: "1.5" in texts(user))
    assert "climate" not in said(folder)
    ready = {**DEFAULTS, "occupancy": "50", "active-gate": "yes", "source.dba_at_1m": "68"}
    submit(user, "prove-settings", ready)
    await until(lambda: "saved" in texts(user))
    assert said(folder)["occupancy"] == 0.5
    assert said(folder)["processing"] == ["gate"]
    assert said(folder)["source"]["dba_at_1m"] == 68
    assert said(folder)["signal"]["level_dbfs"] == -12


async def test_a_planned_recording_is_offered_first(user: User, folder: Path) -> None:
    planned = "recordings: {r1: {file: r1.wav, kind: speech, to: far-end}}\n"
    with (folder / "session.yaml").open("a", encoding="utf-8") as file:
        file.write(planned)
    await user.open("/rooms/ten-seats/prove/hand-over")
    (fills,) = (e for e in tagged(user, "select") if e.props.get("name") == "fills")
    first = next(iter(fills))
    assert (first.props["value"], first.props["data-kind"]) == ("r1", "speech")
    assert "planned, not made yet" in texts(user)


async def test_a_session_is_deleted_only_after_its_files_were_told(
    user: User, folder: Path
) -> None:
    (folder / "take.wav").write_bytes(b"\0" * 2_000_000)
    await user.open("/rooms/ten-seats/prove/hand-over")
    press(user, "delete this session …")
    await until(lambda: "2 files, 2.0 MB, would be deleted" in texts(user))
    assert "take.wav (2.0 MB)" in texts(user)
    press(user, "keep them")
    await until(lambda: "take.wav" not in texts(user))
    assert (folder / "take.wav").is_file()
    press(user, "delete this session …")
    await until(lambda: "delete 2 files" in texts(user))
    press(user, "delete 2 files")
    await until(lambda: not folder.exists())


async def test_one_recording_is_deleted_with_its_file(user: User, folder: Path) -> None:
    with (folder / "session.yaml").open("a", encoding="utf-8") as file:
        file.write("recordings: {r1: {file: r1.wav, kind: noise}}\n")
    (folder / "r1.wav").write_bytes(b"x")
    await user.open("/rooms/ten-seats/prove/hand-over")
    press(user, "delete …", "Delete r1")
    await until(lambda: "delete it for good" in texts(user))
    assert (folder / "r1.wav").is_file()
    press(user, "delete it for good")
    await until(lambda: not (folder / "r1.wav").exists())
    assert "recordings" not in said(folder)


async def test_a_session_that_cannot_be_read_says_why_and_can_be_deleted(
    user: User, folder: Path
) -> None:
    (folder / "session.yaml").write_text("wellheard_session: 1\nocupancy: 1\n", "utf-8")
    await user.open("/rooms/ten-seats/prove/hand-over")
    assert "This session cannot be read." in texts(user)
    assert "did you mean occupancy?" in texts(user)
    assert "delete this session …" in texts(user)


async def test_a_session_that_is_not_there_is_said(user: User) -> None:
    await user.open("/rooms/ten-seats/prove/gone")
    assert "no session 'gone'" in texts(user)


def test_only_our_own_pages_may_ask_for_the_microphone_and_nothing_else() -> None:
    for path in (b"/rooms/x/prove", b"/static/js/capture/worklet.js"):
        said = dict(policies.headers([(b"Permissions-Policy", b"camera=*")], path))
        assert said[b"permissions-policy"] == b"microphone=(self), camera=(), geolocation=()"


# The verdict -----------------------------------------------------------------------------------


@pytest.fixture
def nook(folder: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A session with one recording, and somebody who proves it at once."""
    monkeypatch.setattr(proved, "PROVE", "tests.web.proved_at_once:proved_by_hand")
    with (folder / "session.yaml").open("a", encoding="utf-8") as file:
        file.write("recordings: {r0: {file: r0.wav, kind: noise}}\n")
    (folder / "r0.wav").write_bytes(b"x")
    return folder


def shown(user: User, element: Any) -> bool:
    """Whether an element and all above it are in sight."""
    while element is not None:
        if "hidden" in element.props:
            return False
        slot = element.parent_slot
        element = slot.parent if slot is not None else None
    return True


async def test_a_session_is_measured_and_held_against_the_promise(user: User, nook: Path) -> None:
    await user.open("/rooms/ten-seats/prove/hand-over")
    assert "Not held against the promise yet." in texts(user)
    press(user, "measure and prove")
    await until(lambda: "Not all that was promised is kept." in texts(user))
    rows = [e for e in tagged(user, "tbody") if "data-word" in e.props]
    assert [e.props["data-word"] for e in rows] == ["broken", "kept"]
    assert proved_at_once.HOSTILE in texts(user)  # as text

    pictures = [str(e.props["src"]) for e in tagged(user, "img") if ".white.svg" in e.props["src"]]
    assert len(pictures) == 1
    answer = await user.http_client.get(pictures[0])
    assert answer.headers["content-type"] == "image/svg+xml"
    (link,) = (e for e in tagged(user, "a") if e.props.get("download") == "verdict.json")
    address = str(link.props["href"])
    assert (await user.http_client.get(address)).json()["word"] == "broken"
    for wrong in (
        address.replace("/ten-seats/", "/huddle-four/"),
        pictures[0].replace("white", "red"),
    ):
        assert (await user.http_client.get(wrong)).status_code == 404

    (stale,) = (e for e in tagged(user, "p") if "has changed since" in getattr(e, "text", ""))
    assert not shown(user, stale)
    submit(user, "prove-settings", {**DEFAULTS, "occupancy": "25"})
    await until(lambda: shown(user, stale))


async def test_what_cannot_be_measured_says_why(user: User, nook: Path) -> None:
    await user.open("/rooms/ten-seats/prove/hand-over")
    (nook / "session.yaml").write_text("wellheard_session: 1\nocupancy: 1\n", "utf-8")
    press(user, "measure and prove")
    await until(lambda: "did you mean occupancy?" in texts(user))
    assert "measure and prove again" in texts(user)


async def test_without_a_recording_there_is_nothing_to_measure(user: User, folder: Path) -> None:
    await user.open("/rooms/ten-seats/prove/hand-over")
    (begin,) = (e for e in tagged(user, "button") if getattr(e, "text", "") == "measure and prove")
    assert "disabled" in begin.props
    (why,) = (e for e in tagged(user, "p") if "Record something first" in getattr(e, "text", ""))
    assert shown(user, why)

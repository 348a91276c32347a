"""What the capture of a page sends: recordings in pieces, taken in or refused in plain words."""

from __future__ import annotations

import base64
import io
from pathlib import Path
from typing import Any

import httpx
import numpy as np
import pytest
import soundfile
import yaml

from wellheard.web.workbench import Workbench
from wellheard.workflow import session_text

SESSION = "/api/rooms/ten-seats/sessions/hand-over"
KEY = "a1b2c3d4-0001"
RATE = 16000


@pytest.fixture
def folder(workbench: Workbench) -> Path:
    """A session of a room of the workbench."""
    loaded = workbench.desk("ten-seats").state.loaded
    name = session_text.begin(loaded, title="hand-over")
    return workbench.shelf.folder / "ten-seats.sessions" / name


def sound(seconds: float = 1.0) -> bytes:
    """A quiet noise as 32-bit floating WAV, as a page sends it; by another library."""
    made = io.BytesIO()
    samples = 0.1 * np.random.default_rng(3).standard_normal(int(seconds * RATE))
    soundfile.write(made, samples, RATE, format="WAV", subtype="FLOAT")
    return made.getvalue()


async def sent(
    client: httpx.AsyncClient, raw: bytes, about: dict[str, Any], *, key: str = KEY
) -> httpx.Response:
    """Send a recording in two pieces and say what it is of."""
    half = len(raw) // 2
    for at, piece in ((0, raw[:half]), (half, raw[half:])):
        body = {"key": key, "at": at, "piece": base64.b64encode(piece).decode()}
        assert (await client.post(f"{SESSION}/pieces", json=body)).status_code == 200
    body = {"key": key, "size": len(raw), "about": about}
    return await client.post(f"{SESSION}/recordings", json=body)


async def test_a_recording_sent_in_pieces_lies_in_the_session_to_the_byte(
    client: httpx.AsyncClient, folder: Path
) -> None:
    raw = sound()
    about = {"kind": "noise", "to": "1, 2, 3", "unit": "ft", "channel": "1", "level_db": "94"}
    answer = await sent(client, raw, about)
    assert answer.status_code == 200, answer.text
    assert answer.json()["id"] == "noise"
    assert answer.json()["words"] == "WAV, 32 bit floating, 16000 Hz, 1.0 s"
    assert (folder / "noise.wav").read_bytes() == raw
    said = yaml.safe_load((folder / "session.yaml").read_text("utf-8"))
    assert said["recordings"] == {"noise": {"file": "noise.wav", "kind": "noise", "to": [1, 2, 3]}}


async def test_who_did_not_hear_the_answer_gets_it_again_and_no_second_recording(
    client: httpx.AsyncClient, folder: Path
) -> None:
    raw = sound()
    first = await sent(client, raw, {"kind": "noise"})
    body = {"key": KEY, "size": len(raw), "about": {"kind": "noise"}}
    again = await client.post(f"{SESSION}/recordings", json=body)
    assert again.json() == first.json()
    assert len(list(folder.glob("*.wav"))) == 1


@pytest.mark.parametrize(
    ("raw", "about", "said"),
    [
        (b"wellheard: 1\n" * 9, {"kind": "noise"}, "neither WAV nor FLAC"),
        (None, {"kind": "noise", "to": "nobody"}, "no place 'nobody'"),
        (None, {"kind": "noise", "channel": "2"}, "channel 2"),
        (None, {"kind": "meter"}, "level"),
    ],
    ids=["no sound", "no place", "no channel", "no level"],
)
async def test_what_is_refused_is_said_and_leaves_nothing(
    client: httpx.AsyncClient,
    folder: Path,
    raw: bytes | None,
    about: dict[str, Any],
    said: str,
) -> None:
    before = (folder / "session.yaml").read_bytes()
    answer = await sent(client, raw or sound(), about)
    assert answer.status_code == 422
    assert said in answer.json()["message"]
    assert [path.name for path in folder.iterdir()] == ["session.yaml"]
    assert (folder / "session.yaml").read_bytes() == before


@pytest.mark.parametrize(
    ("body", "status"),
    [
        ({"key": "../../../x", "at": 0, "piece": ""}, 400),
        ({"key": KEY, "at": -1, "piece": ""}, 400),
        ({"key": KEY, "at": 9, "piece": "aaaa"}, 422),
        ({"key": KEY, "at": 0, "piece": "no base 64!"}, 422),
        ({"key": KEY, "at": 0, "piece": "", "more": 1}, 400),
    ],
)
async def test_a_piece_that_is_none_is_refused(
    client: httpx.AsyncClient, folder: Path, body: dict[str, Any], status: int
) -> None:
    answer = await client.post(f"{SESSION}/pieces", json=body)
    assert answer.status_code == status
    assert [path.name for path in folder.iterdir()] == ["session.yaml"]


@pytest.mark.parametrize("name", ["other", "..", "%2e%2e", "Hand-Over", "x" * 80])
async def test_there_is_nothing_below_a_session_that_is_none(
    client: httpx.AsyncClient, folder: Path, name: str
) -> None:
    address = f"/api/rooms/ten-seats/sessions/{name}/signal.wav"
    assert (await client.get(address)).status_code == 404


async def test_a_session_that_is_a_link_out_of_the_folder_is_none(
    client: httpx.AsyncClient, folder: Path, tmp_path: Path
) -> None:
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    (elsewhere / "session.yaml").write_text("wellheard_session: 1\n", "utf-8")
    (folder.parent / "linked").symlink_to(elsewhere)
    answer = await client.get("/api/rooms/ten-seats/sessions/linked/signal.wav")
    assert answer.status_code == 404


async def test_the_sweep_of_a_session_is_made_at_the_rate_of_the_player(
    client: httpx.AsyncClient, folder: Path
) -> None:
    settings = {"signal.seconds": 0.5, "signal.silence": 0.25, "signal.level_dbfs": -20.0}
    session_text.settle(folder, settings)
    answer = await client.get(f"{SESSION}/signal.wav?rate=44100")
    assert answer.headers["content-type"] == "audio/wav"
    samples, rate = soundfile.read(io.BytesIO(answer.content))
    assert rate == 44100
    # 10^(−20/20) of full scale; half a second and a quarter, to the nearest whole turn
    assert np.abs(samples).max() == pytest.approx(0.1, rel=0.01)
    assert len(samples) / rate == pytest.approx(0.75, abs=0.03)


async def test_a_player_that_cannot_carry_the_sweep_is_told_so(
    client: httpx.AsyncClient, folder: Path
) -> None:
    answer = await client.get(f"{SESSION}/signal.wav?rate=16000")
    assert answer.status_code == 422
    assert "8000 Hz or less" in answer.json()["message"]
    assert (await client.get(f"{SESSION}/signal.wav?kind=song")).status_code == 400


async def test_noise_is_shaped_like_speech_and_never_at_full_scale(
    client: httpx.AsyncClient, folder: Path
) -> None:
    answer = await client.get(f"{SESSION}/signal.wav?kind=speech&rate=48000")
    samples, _ = soundfile.read(io.BytesIO(answer.content))
    assert 0.05 < np.abs(samples).max() < 0.5

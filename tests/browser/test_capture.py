"""Recording in a browser: a microphone fed from a file gives that sound, or a plain refusal.

The browser's own stand-in for a microphone plays a file over and over, and may resample it; so
what was kept is held against the sound itself, worked out at the rate of what was kept.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest
import soundfile
import yaml
from playwright.sync_api import Browser, Page, expect, sync_playwright

from tests.browser import install
from tests.browser.conftest import QUIET, OpenPage
from tests.browser.server import Server

Sound = npt.NDArray[np.float64]

SECONDS = 1.0
LOW, HIGH = 200.0, 6000.0
PEAK = 0.25
SESSION = """wellheard_session: 1
title: Hand-over
signal: {seconds: 0.5, silence: 0.2, level_dbfs: -30}
"""
SAYS = """(changed) => {
  const own = MediaStreamTrack.prototype.getSettings;
  MediaStreamTrack.prototype.getSettings = function () {
    const all = { ...own.call(this), ...changed };
    for (const [name, value] of Object.entries(changed)) if (value === null) delete all[name];
    return all;
  };
}"""


def chirp(rate: float) -> Sound:
    """A sine that rises in a second as a logarithm, faded at both ends."""
    time = np.arange(int(rate * SECONDS)) / rate
    growth = np.log(HIGH / LOW) / SECONDS
    fade = np.clip(np.minimum(time, SECONDS - time) / 0.05, 0, 1)
    sine: Sound = np.sin(2 * np.pi * LOW / growth * np.expm1(growth * time))
    return PEAK * fade * sine


@pytest.fixture(scope="module")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    """Start a browser whose microphone plays that sound, and whose user allows everything."""
    path = install.found()
    if path is None:
        if install.on_ci():
            pytest.fail(install.HOW)
        pytest.skip(install.HOW)
    file = tmp_path_factory.mktemp("microphone") / "chirp.wav"
    soundfile.write(file, chirp(48000), 48000, subtype="PCM_16")
    stands_in = (
        "--no-sandbox",
        "--use-fake-ui-for-media-stream",
        "--use-fake-device-for-media-stream",
        f"--use-file-for-fake-audio-capture={file}",
    )
    with sync_playwright() as playwright:
        one = playwright.chromium.launch(executable_path=path, args=[*QUIET, *stands_in])
        yield one
        one.close()


@pytest.fixture
def folder_of(standing: Server) -> Path:
    """A session of a room of the server."""
    folder = standing.folder / "ten-seats.sessions" / "hand-over"
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "session.yaml").write_text(SESSION, "utf-8")
    return folder


def likeness(heard: Sound, sound: Sound) -> float:
    """Greatest correlation of a sound with equally long parts of what was heard, 0 to 1."""
    size = 1 << (len(heard) + len(sound)).bit_length()
    product = np.fft.irfft(np.fft.rfft(heard, size) * np.conj(np.fft.rfft(sound, size)), size)
    summed = np.concatenate(([0.0], np.cumsum(heard**2)))
    energy = summed[len(sound) :] - summed[: -len(sound)]
    return float(np.max(product[: len(energy)] / np.sqrt(energy * np.sum(sound**2) + 1e-12)))


def test_what_the_microphone_hears_is_in_the_session_while_the_sweep_is_played(
    standing: Server, open_page: OpenPage, folder_of: Path
) -> None:
    page = open_page(standing, "/rooms/ten-seats/prove/hand-over")
    page.get_by_label("From", exact=True).fill("far-end")
    page.get_by_role("button", name="open the microphone").click()
    expect(page.get_by_text("automatic gain control off")).to_be_visible()
    expect(page.locator(".capture-level")).to_contain_text("−12 dB")  # of 0.25

    page.get_by_label("play the sweep").check()
    record = page.get_by_role("button", name="record", exact=True)
    expect(record).to_be_disabled()  # before somebody has seen to the loudspeakers
    page.get_by_label("nobody is near a loudspeaker").check()
    with page.expect_response("**/signal.wav*") as signal:
        record.click()
    assert signal.value.ok
    expect(page.locator(".recording .capture-word")).to_contain_text(
        "everything in the room is kept"
    )
    page.get_by_role("button", name="keep it").click()
    expect(page.get_by_text("Kept as sweep-far-end: WAV, 32 bit floating")).to_be_visible()

    (recording,) = yaml.safe_load((folder_of / "session.yaml").read_text())["recordings"].values()
    assert recording["from"] == "far-end"
    assert "noise suppression" in recording["note"]
    heard, rate = soundfile.read(folder_of / recording["file"], always_2d=True)
    # lead of 0.5 s, sweep of 0.5 s, silence of 0.2 s, 1 s after it
    assert 2.1 < len(heard) / rate < 4.0
    for channel in heard.T:
        assert likeness(channel, chirp(rate)) > 0.98
        assert np.abs(channel).max() == pytest.approx(PEAK, rel=0.05)


@pytest.mark.parametrize(
    ("said", "why"),
    [
        ({"noiseSuppression": True}, "noise suppression is on"),
        ({"autoGainControl": None}, "does not say whether automatic gain control is off"),
    ],
    ids=["on", "unknown"],
)
def test_a_microphone_that_is_processed_is_refused_and_let_go(
    standing: Server,
    open_page: OpenPage,
    folder_of: Path,
    said: dict[str, bool | None],
    why: str,
) -> None:
    page: Page = open_page(standing, "/rooms/ten-seats/prove/hand-over")
    page.evaluate(SAYS, said)
    page.evaluate(
        """() => {
          const own = navigator.mediaDevices.getUserMedia.bind(navigator.mediaDevices);
          navigator.mediaDevices.getUserMedia = async (how) => (window.got = await own(how));
        }"""
    )
    page.get_by_role("button", name="open the microphone").click()
    expect(page.get_by_role("alert").filter(has_text=why)).to_be_visible()
    expect(page.get_by_role("button", name="record", exact=True)).to_be_hidden()
    assert page.evaluate("window.got.getTracks().map(t => t.readyState)") == ["ended"]

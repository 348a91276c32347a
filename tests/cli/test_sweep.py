"""``wellheard sweep`` as it is typed: signals as files, and the folder of a session."""

from __future__ import annotations

import re
import shutil
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
import soundfile

from wellheard.cli.app import run
from wellheard.measurement import audio
from wellheard.measurement.session import SessionFolder, parse_session
from wellheard.workflow.load import document_hash

if TYPE_CHECKING:
    from tests.cli.conftest import Wellheard

pytestmark = pytest.mark.usefixtures("few_rays")

ROOM = """
wellheard: 1
title: Lantern Room
units: ft
space: {outline: [[0, 0], [24, 0], [24, 14], [0, 14]], height: 9}
furniture: {table: {kind: table, outline: [[6, 5], [18, 5], [18, 9], [6, 9]], height: 2.4}}
people:
  effort: raised
  seats:
    s1: {at: [8, 4]}
    s2: {at: [12, 4]}
    s3: {at: [16, 4]}
    s4: {at: [8, 10]}
    s5: {at: [16, 10]}
  standing:
    presenter: {outline: [[20, 6], [22, 6], [22, 8], [20, 8]], facing: 180}
devices:
  m1: {kind: microphone, product: ceiling-head-3, at: [12, 7, 9]}
  l1: {kind: loudspeaker, product: ceiling-6, at: [7, 7, 9]}
  l2: {kind: loudspeaker, product: ceiling-6, at: [17, 7, 9]}
  mixer: {kind: processor, product: processor-4}
targets: {playback_level_dba: 72}
"""
DIVIDED = """
wellheard: 1
space: {outline: [[0, 0], [10, 0], [10, 5], [0, 5]], height: 2.7}
people: {seats: {s1: {at: [2, 2]}, s2: {at: [8, 2]}}}
partitions: {fold: {from: [5, 0], to: [5, 5], finish: wood-panel, stc: 45}}
arrangements: {joined: {open: [fold]}, split: {closed: [fold]}}
devices:
  m1: {kind: microphone, product: ceiling-head-3, at: [2, 3, 2.7]}
  m2: {kind: microphone, product: ceiling-head-3, at: [8, 3, 2.7]}
"""


@pytest.fixture(scope="module")
def room(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("rooms") / "lantern.room.yaml"
    path.write_text(ROOM, "utf-8")
    return path


@pytest.fixture(scope="module")
def planned(room: Path, tmp_path_factory: pytest.TempPathFactory) -> SessionFolder:
    """A session as it is planned without options; not to be changed."""
    folder = tmp_path_factory.mktemp("planned") / "s"
    assert run(["sweep", str(room), "-o", str(folder), "--seconds", "1"]) == 0
    return opened(folder)


def opened(folder: Path) -> SessionFolder:
    """A session of which nothing is recorded yet."""
    return parse_session((folder / "session.yaml").read_bytes(), folder / "session.yaml")


# One signal ---------------------------------------------------------------------------------------


def test_a_sweep_is_a_file_of_24_bit_that_says_what_it_is(
    wellheard: Wellheard, tmp_path: Path
) -> None:
    ended = wellheard("sweep", "-o", tmp_path / "a.wav", "--seconds", "2", "--level", "-6")
    assert ended.code == 0
    assert "50 Hz to 20000 Hz" in ended.out
    assert "volume all the way down" in ended.err
    info = soundfile.info(tmp_path / "a.wav")
    assert (info.subtype, info.samplerate, info.channels) == ("PCM_24", 48000, 1)
    samples = audio.read(tmp_path / "a.wav").samples
    assert np.abs(samples).max() == pytest.approx(10 ** (-6 / 20), rel=1e-3)


@pytest.mark.parametrize("kind", ["pink", "speech"])
def test_noise_is_a_flac_file_by_its_name_and_another_by_its_seed(
    wellheard: Wellheard, tmp_path: Path, kind: str
) -> None:
    for name, seed in (("a", "1"), ("b", "2"), ("c", "1")):
        path = tmp_path / f"{name}.flac"
        options = ("--kind", kind, "--seconds", "2", "--rate", "16000", "--seed", seed)
        assert wellheard("sweep", "-o", path, *options).code == 0
        assert soundfile.info(path).format == "FLAC"
    a, b, c = ((tmp_path / f"{n}.flac").read_bytes() for n in "abc")
    assert a == c != b


def test_each_output_has_a_file_in_which_the_others_are_silent(
    wellheard: Wellheard, tmp_path: Path
) -> None:
    options = ("--outputs", "3", "--seconds", "0.5", "--rate", "16000", "--to", "7000")
    answer = wellheard("sweep", "-o", tmp_path / "a.wav", *options, "--format", "json").json
    assert [Path(f["file"]).name for f in answer["files"]] == ["a-1.wav", "a-2.wav", "a-3.wav"]
    for number in range(3):
        samples = audio.read(tmp_path / f"a-{number + 1}.wav").samples
        assert [bool(samples[:, n].any()) for n in range(3)] == [n == number for n in range(3)]


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (("-o", "a.mp3"), "a name that ends in .wav or .flac"),
        (("-o", "a.wav", "--from", "30", "--kind", "pink"), "--from: is of a sweep"),
        (("-o", "a.wav", "--seed", "3"), "--seed: is of noise"),
        (("-o", "a.wav", "--places", "3"), "--places: is of a session; name the ROOM too"),
        (("-o", "a.wav", "--to", "30000"), "no more than half the rate"),
        (("-o", "a.wav", "--from", "5"), "--from: "),
        (("-o", "a.wav", "--level", "3"), "--level: "),
        (("-o", "a.wav", "--seconds", "0.2", "--fade", "0.2"), "no longer than the sweep"),
        (("-o", "a.wav", "--outputs", "65"), "1 to 64 are allowed"),
        (("-o", "a.flac", "--outputs", "9", "--seconds", "0.2"), "FLAC has 8 at most"),
        (("-o", "a.wav", "--kind", "pink", "--level", "-3"), "at most"),
        (("-o", "a.wav", "--kind", "pink", "--rate", "1000"), "8,000 to 192,000"),
        (("-o", "a.wav", "--kind", "pink", "--seconds", "nan"), "at least"),
        (("-o", "a.wav", "--kind", "speech", "--level", "nan"), "-80 to 0 dB"),
        (("-o", "a.wav", "--kind", "pink", "--seconds", "inf"), "at most 600 s"),
        (("-o", "a.wav", "--kind", "pink", "--seed", "-1"), "from 0 up"),
        (("-o", "a.wav", "--rate", "48000.5"), "a whole number"),
    ],
)
def test_what_cannot_be_made_is_refused_with_what_can(
    wellheard: Wellheard,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    options: tuple[str, ...],
    said: str,
) -> None:
    monkeypatch.chdir(tmp_path)
    ended = wellheard("sweep", *options)
    assert ended.code == 2
    assert said in ended.err
    assert list(tmp_path.iterdir()) == []


def test_a_file_that_exists_is_replaced_only_on_request(
    wellheard: Wellheard, tmp_path: Path
) -> None:
    path = tmp_path / "a.wav"
    path.write_text("mine")
    options = ("sweep", "-o", path, "--seconds", "0.5")
    assert "add --force" in wellheard(*options).err
    assert path.read_text() == "mine"
    assert wellheard(*options, "--force").code == 0
    assert audio.probe(path).channels == 1


# A session ----------------------------------------------------------------------------------------


def test_a_session_can_be_read_before_anything_is_recorded(
    planned: SessionFolder, room: Path
) -> None:
    session = planned.session
    assert session.room == document_hash(room.read_text("utf-8"))
    assert session.units == "ft"
    assert session.signal.seconds == 1.0
    # Raised speech is 68 dBA or so 1 m in front of the lips [L ANSI S3.5, summed by hand: 68.2].
    assert session.source.dba_at_1m == pytest.approx(66.5, abs=2.0)
    assert all(not planned.path(r.file).exists() for r in session.recordings.values())
    assert len({r.file for r in session.recordings.values()}) == len(session.recordings)


def test_everything_that_the_promise_is_compared_with_is_planned(planned: SessionFolder) -> None:
    recordings = planned.session.recordings.values()

    def ways(kind: str) -> set[tuple[Any, Any]]:
        return {(r.from_, r.to) for r in recordings if r.kind == kind}

    ears = {to for source, to in ways("speech") if source == "far-end"}
    assert len(ears) == 6
    assert {("far-end", ear) for ear in ears} <= ways("sweep")
    talkers = {source for source, to in ways("speech") if to == "m1"}
    assert {(mouth, "m1") for mouth in talkers} <= ways("sweep")
    assert "presenter.1" in talkers | ears
    assert (None, "m1") in ways("noise")
    assert len([to for _, to in ways("noise") if to != "m1"]) == 3
    assert ("far-end", "m1") in ways("sweep")
    # Each loudspeaker alone, once, at an ear of its own half of the room.
    alone = {source: to for source, to in ways("sweep") if source in ("l1", "l2")}
    assert alone["l1"] in ("s1", "s4")
    assert alone["l2"] in ("s3", "s5", "presenter.1")
    assert all((r.calibration is None) == (r.to == "m1") for r in recordings)
    assert all(r.facing_deg is not None for r in recordings if r.from_ in talkers)


def test_noise_comes_first_and_echo_last(planned: SessionFolder) -> None:
    recordings = list(planned.session.recordings.values())
    assert [r.file for r in recordings] == sorted(r.file for r in recordings)
    kinds = [r.kind for r in recordings]
    assert kinds[: kinds.count("noise")] == ["noise"] * kinds.count("noise")
    assert [(r.kind, r.from_, r.to) for r in recordings[-2:]] == [
        ("sweep", "far-end", "m1"),
        ("echo", "far-end", "m1"),
    ]


def test_the_plan_says_where_how_loud_and_what_to_beware_of(planned: SessionFolder) -> None:
    text = (planned.folder / "plan.txt").read_text("utf-8")
    flat = " ".join(text.split())
    for said in ("Measuring Lantern Room", "72 dBA (slow)", "NIOSH", "volume all the way down"):
        assert said in flat
    assert "law of the place" in flat
    assert "alarms" in flat
    # Places are in the document's own unit, and every recording stands in the plan.
    assert "west 8'-0\", south 4'-0\"" in flat
    # The canceller's near end talks from somewhere.
    echo = text[text.index("-sweep-far-end-m1.wav") :]
    assert "Test talker at " in echo[: echo.index("signals/echo.wav, all")]
    for recording in planned.session.recordings.values():
        assert f"{recording.file}:" in flat
    assert max(map(len, text.splitlines())) <= 92
    # The loudest place is not more quiet than what is expected at an ear.
    loudest = int(re.findall(r"Loudest place: .*?about (\d+) dBA", flat)[0])
    assert loudest >= max(map(int, re.findall(r"expected (\d+) dBA", flat)))


def test_what_is_played_is_in_the_folder(planned: SessionFolder) -> None:
    files = sorted(p.name for p in (planned.folder / "signals").iterdir())
    assert files == ["echo.wav", "speech.wav", "sweep.wav"]
    # 30 s of speech: twice the 15 s that a level of it takes at least [L].
    assert audio.probe(planned.folder / "signals" / "speech.wav").seconds == 30.0


def test_fewer_places_and_a_loop_back_are_planned_on_request(
    wellheard: Wellheard, room: Path, tmp_path: Path
) -> None:
    options = ("--seconds", "1", "--places", "1", "--loopback")
    ended = wellheard("sweep", room, "-o", tmp_path / "s", *options)
    assert "law of the" in ended.err
    assert max(map(len, ended.err.splitlines()[:-1])) <= 100
    assert ended.err.splitlines()[-1].startswith(f"Now read {tmp_path / 's' / 'plan.txt'}")
    assert f"{tmp_path / 's' / 'session.yaml'}" in ended.out
    recordings = opened(tmp_path / "s").session.recordings.values()
    talkers = {r.from_ for r in recordings if r.to == "m1"} - {None, "far-end"}
    assert len(talkers) == 1
    said = " ".join((tmp_path / "s" / "plan.txt").read_text("utf-8").split())
    assert "Not measured: " in said
    assert "on channel 2 what is played" in said
    assert {r.loopback for r in recordings if r.kind in ("sweep", "echo")} == {2}
    assert {r.loopback for r in recordings if r.kind in ("noise", "speech")} == {None}


def test_a_session_with_recordings_is_never_planned_over(
    wellheard: Wellheard, planned: SessionFolder, room: Path, tmp_path: Path
) -> None:
    folder = tmp_path / "s"
    shutil.copytree(planned.folder, folder)
    again = ("sweep", room, "-o", folder, "--seconds", "1")
    assert "add --force" in wellheard(*again).err
    (folder / "plan.txt").write_text("scribbled over")
    assert wellheard(*again, "--force").code == 0
    assert (folder / "plan.txt").read_bytes() == (planned.folder / "plan.txt").read_bytes()
    recording = folder / "01-noise-s1.wav"
    recording.write_bytes(b"precious")
    before = (folder / "session.yaml").read_bytes()
    ended = wellheard(*again, "--force", "--places", "1")
    assert ended.code == 2
    assert "nothing that may be a recording is touched" in ended.err
    assert recording.read_bytes() == b"precious"
    assert (folder / "session.yaml").read_bytes() == before


def test_a_room_that_divides_is_measured_as_it_stands(wellheard: Wellheard, tmp_path: Path) -> None:
    path = tmp_path / "two.room.yaml"
    path.write_text(DIVIDED, "utf-8")
    command = ("sweep", path, "-o", tmp_path / "s", "--seconds", "1", "--format", "json")
    ended = wellheard(*command)
    assert ended.code == 2
    assert "--arrangement joined" in ended.err
    assert "joined, split" in wellheard(*command, "--arrangement", "odd").err
    answer = wellheard(*command, "--arrangement", "split").json
    # Nobody is heard through the wall.
    ways = {(r["from"], r["to"]) for r in answer["recordings"] if r["from"]}
    assert ways == {("s1", "m1"), ("s2", "m2")}
    assert opened(tmp_path / "s").session.arrangement == "split"
    assert "stands as in arrangement split" in (tmp_path / "s" / "plan.txt").read_text("utf-8")


def test_a_canceller_gets_a_signal_for_both_ends(planned: SessionFolder) -> None:
    echo = next(r for r in planned.session.recordings.values() if r.kind == "echo")
    assert echo.processing == ("canceller",)
    folder = planned.folder
    samples = audio.read(folder / "signals" / "echo.wav").samples

    def loud(span: tuple[float, float] | None) -> list[bool]:
        assert span is not None
        part = samples[round(span[0] * 48000) : round(span[1] * 48000)]
        return [bool(np.sqrt((part[:, n] ** 2).mean()) > 0.05) for n in (0, 1)]

    assert loud((1.0, 19.0)) == [True, False]
    assert loud(echo.near_alone) == [False, True]
    assert loud(echo.both) == [True, True]
    assert loud((50.0, 59.0)) == [True, False]


def test_a_room_without_devices_has_nothing_to_measure(
    wellheard: Wellheard, tmp_path: Path
) -> None:
    path = tmp_path / "bare.room.yaml"
    path.write_text(ROOM[: ROOM.index("devices:")], "utf-8")
    ended = wellheard("sweep", path, "-o", tmp_path / "s")
    assert ended.code == 2
    assert "place them first" in ended.err
    assert not (tmp_path / "s").exists()


def test_a_session_goes_to_no_file_and_no_folder_of_others(
    wellheard: Wellheard, room: Path, tmp_path: Path
) -> None:
    (tmp_path / "file").write_text("x")
    broken = wellheard("sweep", room, "-o", tmp_path / "s", "--rate", "44100.5")
    assert "44100.5 samples a second; a whole number" in broken.err
    assert not (tmp_path / "s").exists()
    assert "no folder; name a folder" in wellheard("sweep", room, "-o", tmp_path / "file").err
    assert "holds file" in wellheard("sweep", room, "-o", tmp_path, "--force").err

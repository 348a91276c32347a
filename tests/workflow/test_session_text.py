"""A session is begun, settled and filled by what was typed, and its text stays its writer's."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import soundfile
import yaml

from wellheard.errors import DocumentError, InputError
from wellheard.measurement.session import FILE, load_session
from wellheard.workflow import session_text
from wellheard.workflow.load import Loaded, load
from wellheard.workflow.session_text import About

EXAMPLES = Path(__file__).parents[2] / "examples"
RATE = 16000


@pytest.fixture
def room(tmp_path: Path) -> Loaded:
    """A room in feet, in a folder of its own."""
    text = (EXAMPLES / "ten-seats" / "ten-seats.room.yaml").read_text("utf-8")
    path = tmp_path / "tide.room.yaml"
    path.write_text(text, "utf-8")
    return load(path)


@pytest.fixture
def folder(room: Loaded, tmp_path: Path) -> Path:
    """A session of that room."""
    return tmp_path / "tide.sessions" / session_text.begin(room, title="Hand-over", by="A. Reader")


@pytest.fixture
def sound(folder: Path) -> Callable[..., Path]:
    """Write a quiet noise of a second to the folder of the session."""

    def written(form: str = "WAV", *, channels: int = 1) -> Path:
        path = folder / ".arriving-a1b2c3d4"
        samples = 0.1 * np.random.default_rng(7).standard_normal((RATE, channels))
        soundfile.write(path, samples, RATE, format=form, subtype="PCM_24")
        return path

    return written


def said(folder: Path) -> dict[str, object]:
    """What another reader of YAML finds in the session."""
    data = yaml.safe_load((folder / FILE).read_text("utf-8"))
    assert isinstance(data, dict)
    return data


def test_a_session_lies_beside_its_room_under_its_title_and_a_second_under_another_name(
    room: Loaded, tmp_path: Path
) -> None:
    day = datetime.date(2026, 11, 26)
    names = [session_text.begin(room, title="Übergabe, 2nd try", date=day) for _ in range(2)]
    assert names == ["ubergabe-2nd-try", "ubergabe-2nd-try-2"]
    found = load_session(tmp_path / "tide.sessions" / names[0])
    assert (found.session.title, found.session.date) == ("Übergabe, 2nd try", day)
    assert found.session.units == "ft"


@pytest.mark.parametrize("title", ["", "  ", "bell\x07", "x" * 500])
def test_a_title_that_is_none_makes_no_folder(room: Loaded, tmp_path: Path, title: str) -> None:
    with pytest.raises(InputError):
        session_text.begin(room, title=title)
    assert not (tmp_path / "tide.sessions").exists()


def test_a_setting_changes_its_line_and_leaves_comments(folder: Path) -> None:
    text = (folder / FILE).read_text("utf-8") + "occupancy: 0.5 # three of six\n"
    (folder / FILE).write_text(text, "utf-8")
    session_text.settle(folder, {"climate.temperature_c": 24.0, "processing": ["gate"]})
    after = (folder / FILE).read_text("utf-8")
    assert after.startswith(text)
    assert said(folder)["climate"] == {"temperature_c": 24}
    session_text.settle(folder, {"processing": None})
    assert "processing" not in said(folder)


def test_a_setting_that_is_none_is_told_by_its_path_and_nothing_is_written(folder: Path) -> None:
    before = (folder / FILE).read_bytes()
    with pytest.raises(DocumentError) as told:
        session_text.settle(folder, {"occupancy": 1.5, "climate.humidity": -1})
    assert {problem.path for problem in told.value.problems} == {"occupancy", "climate.humidity"}
    assert (folder / FILE).read_bytes() == before


def test_a_file_becomes_a_recording_of_the_places_that_were_typed(
    folder: Path, sound: Callable[..., Path], room: Loaded
) -> None:
    seat = next(iter(room.room.people.seats))
    about = About("sweep", from_=seat, to="1.2, 2 m, 1.1", unit="m", note="door shut")
    taken = session_text.take_in(folder, sound(), about, room.room)
    assert (taken.id, taken.words) == (f"sweep-{seat}", "WAV, 24 bit, 16000 Hz, 1.0 s")
    (recording,) = load_session(folder).session.recordings.values()
    assert recording.to == pytest.approx((1.2, 2.0, 1.1))
    assert recording.file == f"sweep-{seat}.wav"
    assert {path.name for path in folder.iterdir()} == {FILE, recording.file}
    again = session_text.take_in(folder, sound("FLAC"), about, room.room)
    assert again.id == f"sweep-{seat}-2"
    assert (folder / f"sweep-{seat}-2.flac").is_file()


def test_a_bare_length_typed_in_the_units_of_the_session_stays_bare(
    folder: Path, sound: Callable[..., Path], room: Loaded
) -> None:
    about = About("noise", to="4, 6, 3.5", unit="ft")
    session_text.take_in(folder, sound(), about, room.room)
    assert said(folder)["recordings"] == {
        "noise": {"file": "noise.wav", "kind": "noise", "to": [4, 6, 3.5]}
    }


def test_a_place_that_the_room_lacks_is_refused_with_what_was_meant(
    folder: Path, sound: Callable[..., Path], room: Loaded
) -> None:
    seat = next(iter(room.room.people.seats))
    file = sound()
    with pytest.raises(InputError, match=r"from: no place 'zz' in this room; an id"):
        session_text.take_in(folder, file, About("sweep", from_="zz", to=seat), room.room)
    assert file.exists()
    assert "recordings" not in said(folder)


def test_what_is_no_sound_is_no_recording(folder: Path, room: Loaded) -> None:
    file = folder / ".arriving-a1b2c3d4"
    file.write_text("wellheard: 1\n", "utf-8")
    with pytest.raises(InputError, match="neither WAV nor FLAC"):
        session_text.take_in(folder, file, About("noise", to=""), room.room)


def test_a_planned_recording_gets_its_file_and_so_do_those_of_its_other_channels(
    folder: Path, sound: Callable[..., Path], room: Loaded
) -> None:
    planned = "recordings:\n" + "".join(
        f"  r{n}: {{file: both.wav, kind: noise, channel: {n}}}\n" for n in (1, 2)
    )
    (folder / FILE).write_text((folder / FILE).read_text("utf-8") + planned, "utf-8")
    about = About("sweep", fills="r2")
    taken = session_text.take_in(folder, sound("FLAC", channels=2), about, room.room)
    assert taken.id == "r2"
    found = load_session(folder).session.recordings
    assert [one.file for one in found.values()] == ["r2.flac", "r2.flac"]
    with pytest.raises(InputError, match="no recording that waits"):
        session_text.take_in(folder, sound(), about, room.room)


def test_a_calibrator_gives_a_calibration_and_a_recording_needs_a_level(
    folder: Path, sound: Callable[..., Path], room: Loaded
) -> None:
    session_text.take_in(folder, sound(), About("calibrator", level_db=94.0), room.room)
    assert said(folder)["calibration"] == {
        "calibrator": {"file": "calibrator.wav", "channel": 1, "level_db": 94}
    }
    about = About("noise", calibration="calibrator")
    session_text.take_in(folder, sound(), about, room.room)
    with pytest.raises(DocumentError, match="is by calibration calibrator"):
        session_text.take_out(folder, "calibrator")
    session_text.take_out(folder, "noise")
    session_text.take_out(folder, "calibrator")
    assert [path.name for path in folder.iterdir()] == [FILE]


def test_a_file_that_another_recording_names_stays(
    folder: Path, sound: Callable[..., Path], room: Loaded
) -> None:
    session_text.take_in(folder, sound(channels=2), About("noise"), room.room)
    text = (folder / FILE).read_text("utf-8") + "  other: {file: noise.wav, kind: noise}\n"
    (folder / FILE).write_text(text, "utf-8")
    session_text.take_out(folder, "noise")
    assert (folder / "noise.wav").is_file()
    session_text.take_out(folder, "other")
    assert not (folder / "noise.wav").exists()
    with pytest.raises(InputError, match="no recording 'other'"):
        session_text.take_out(folder, "other")

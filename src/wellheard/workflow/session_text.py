"""What ``session.yaml`` says, begun and changed: settings, and recordings taken in and out."""

from __future__ import annotations

import contextlib
import copy
import datetime
import os
import re
import threading
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from itertools import count
from pathlib import Path
from typing import Any, Final, Literal, TypeAlias

from wellheard import files
from wellheard.errors import InputError
from wellheard.forms.refusals import near
from wellheard.forms.source import read_file
from wellheard.forms.writing import block
from wellheard.measurement import audio, faults
from wellheard.measurement.results import Fault
from wellheard.measurement.session import FILE, Recording, SessionFolder, parse_session
from wellheard.predict.talkers import talkers
from wellheard.room.document import Room
from wellheard.room.writing import changed
from wellheard.store.listing import slug
from wellheard.units import Unit
from wellheard.workflow.load import Loaded, document_hash
from wellheard.workflow.sessions import session_path, unnamed_text

RecordedKind: TypeAlias = Literal[
    "sweep", "impulse-response", "noise", "speech", "echo", "calibrator", "meter"
]
"""What a file can be taken in as: a recording, or what tells the sensitivity of a microphone."""

KINDS: Final[dict[RecordedKind, str]] = {
    "sweep": "the sweep",
    "speech": "speech-shaped noise",
    "noise": "the room in silence",
    "echo": "a canceller at work",
    "impulse-response": "an impulse response",
    "calibrator": "a calibrator",
    "meter": "steady noise, read on a meter",
}
"""In the order in which they are offered."""

FAR_END: Final = "far-end"
HEAD = (
    "# A session of measurement. Its recordings lie in this folder, and nowhere else: they may\n"
    "# hold voices, so hand them on only to who may hear them.\n"
)
_NUMBERED = 1000
_BARE = re.compile(r"[-+]?[0-9]+(?:\.[0-9]+)?")
_lock = threading.Lock()
"""One change of a session at a time."""


@dataclass(frozen=True)
class About:
    """What a file is of, as it was typed.

    Attributes
    ----------
    kind : str
        One of ``KINDS``.
    fills : str
        Id of a recording that the session has planned, and whose file this is; the rest then
        stays as planned. '' is a recording of its own.
    from_, to : str
        Where sound came from and where it was taken: an id, or three lengths with commas; '' for
        what has none.
    channel : int
        Of the file, from 1.
    loopback : int or None
        Channel with what was played, or with what the far end sent.
    calibration : str
        Which one applies, '' for none; of a calibrator or meter the id that it gets.
    level_db : float or None
        What the calibrator gives, or what the meter read in dBA.
    note : str
    unit : {"m", "ft"}
        Of bare lengths.
    """

    kind: RecordedKind
    fills: str = ""
    from_: str = ""
    to: str = ""
    channel: int = 1
    loopback: int | None = None
    calibration: str = ""
    level_db: float | None = None
    note: str = ""
    unit: Unit = "m"


@dataclass(frozen=True)
class TakenIn:
    """A file that is part of a session now.

    Attributes
    ----------
    id : str
        Of the recording, or of the calibration.
    words : str
        What the file holds.
    faults : tuple of Fault
        What can be heard in it at once.
    """

    id: str
    words: str
    faults: tuple[Fault, ...]


def begin(loaded: Loaded, *, title: str, by: str = "", date: datetime.date | None = None) -> str:
    """Begin a session beside a document; returns the name of its folder.

    Raises
    ------
    InputError, DocumentError
        The title is no short text, or the folder cannot be made.
    """
    shown = title.strip() or (date.isoformat() if date else "")
    if not shown:
        raise InputError("title: nothing; what is measured, in a few words, or a date")
    said: dict[str, Any] = {"wellheard_session": 1, "title": title.strip()}
    if date is not None:
        said["date"] = date.isoformat()
    if by.strip():
        said["by"] = by.strip()
    said |= {"room": document_hash(unnamed_text(loaded)), "units": loaded.room.units}
    text = HEAD + block(said)
    stem = slug(shown)[:34].rstrip("-")
    for name in (stem, *(f"{stem}-{n}" for n in range(2, _NUMBERED))):
        folder = session_path(loaded.document.name, name)
        parse_session(text, folder / FILE)
        try:
            folder.parent.mkdir(exist_ok=True)
            folder.mkdir()
        except FileExistsError:
            continue
        except OSError as error:
            raise InputError(
                f"{folder}: {files.reason(error)}; a folder that can be written to"
            ) from None
        files.save(folder / FILE, text.encode(), replace=False)
        return name
    raise InputError(f"{stem}: {_NUMBERED} sessions of that name; give it another title")


def is_session(folder: Path) -> bool:
    """Whether a folder holds a session."""
    return (folder / FILE).is_file()


def opened(folder: Path) -> SessionFolder:
    """Session of a folder as it is now, whether or not its recordings are there.

    Raises
    ------
    InputError, DocumentError
        There is none, or it cannot be used.
    """
    file = folder / FILE
    return parse_session(read_file(file, what="a session of measurement"), file)


def settle(folder: Path, settings: Mapping[str, Any]) -> SessionFolder:
    """Set fields of a session; None takes one out, so that it is as usual.

    Raises
    ------
    DocumentError
        A setting is none; the session is as it was.
    """

    def set_all(data: dict[str, Any]) -> None:
        for path, value in settings.items():
            _set(data, path.split("."), value)

    return _edited(folder, set_all)


def take_in(folder: Path, file: Path, about: About, room: Room) -> TakenIn:
    """Make a file that lies in the folder of a session a recording of it.

    Parameters
    ----------
    folder : Path
        Of the session.
    file : Path
        Gets a name of its own there.
    about : About
        What it is of.
    room : Room
        Whose places it names.

    Raises
    ------
    InputError, DocumentError
        The file is no recording that can be read, or is not said to be of anything. It lies where
        it was.
    """
    channel = about.channel
    if about.fills:
        channel = _planned(opened(folder), about.fills).channel
    else:
        _known_places(about, room)
    heard = audio.read(file, channel=channel)
    found = faults.of_recording(heard.samples[:, 0], heard.rate, bits=heard.bits)
    given = _put(folder, file, about, ".flac" if heard.encoding.startswith("FLAC") else ".wav")
    words = f"{heard.encoding}, {heard.rate:g} Hz, {heard.seconds:.1f} s"
    return TakenIn(given, words, found)


def _put(folder: Path, file: Path, about: About, ending: str) -> str:
    """Name a file in the session and give it that name; returns the id of the recording."""
    with _lock:
        was = opened(folder)
        if about.fills:
            given, before = about.fills, _planned(was, about.fills).file
            name = before if before.lower().endswith(ending) else f"{given}{ending}"
            text = _with(was, lambda data: _renamed(data, before, name))
        else:
            given = _free(was, _stem(about), ending)
            name = f"{given}{ending}"
            text = _with(was, lambda data: _add(data, given, about, name))
        _saved_with(folder, text, file, folder / name)
    return given


def _saved_with(folder: Path, text: str, file: Path, target: Path) -> None:
    """Give a file its name and save what names it: both or neither."""
    if os.path.lexists(target):
        raise InputError(f"{target}: exists already; delete that recording first")
    try:
        target.parent.mkdir(exist_ok=True)
        os.rename(file, target)
    except OSError as error:
        raise InputError(f"{target}: {files.reason(error)}; record it again") from None
    try:
        files.save(folder / FILE, text.encode())
    except InputError:
        os.rename(target, file)
        raise


def _add(data: dict[str, Any], given: str, about: About, file: str) -> None:
    if about.kind in ("calibrator", "meter"):
        data.setdefault("calibration", {})[given] = _calibration(about, file)
    else:
        entry = _recording(about, file, data.get("units", "m"))
        data.setdefault("recordings", {})[given] = entry


def _renamed(data: dict[str, Any], before: str, name: str) -> None:
    """Every recording of a file, one for each channel, names it as it is called now."""
    for entry in data["recordings"].values():
        if entry["file"] == before:
            entry["file"] = name


def planned(found: SessionFolder) -> dict[str, Recording]:
    """Recordings that a session names and that are not made yet."""
    return {
        name: recording
        for name, recording in found.session.recordings.items()
        if not found.path(recording.file).is_file()
    }


def _planned(found: SessionFolder, name: str) -> Recording:
    waiting = planned(found)
    if name not in waiting:
        raise InputError(f"{name!r:.60} is no recording that waits for its file; choose it anew")
    return waiting[name]


def take_out(folder: Path, recording: str) -> None:
    """Delete one recording, or one calibration that no recording uses, with its files.

    Raises
    ------
    InputError, DocumentError
        There is none of that name, or another recording needs it.
    """
    with _lock:
        was = opened(folder)
        part = "recordings" if recording in was.session.recordings else "calibration"
        if recording not in getattr(was.session, part):
            raise InputError(f"no recording {recording!r} in this session; it may be gone already")
        going = set(_files_of(was, part, recording))
        text = _with(was, lambda data: _remove(data, part, recording))
        files.save(folder / FILE, text.encode())
        staying = set(_all_files(parse_session(text, folder / FILE)))
        for name in sorted(going - staying):
            with contextlib.suppress(FileNotFoundError):
                os.unlink(folder / name)


def places(room: Room) -> tuple[tuple[str, str], ...]:
    """Places of a room that a recording may name: id and words."""
    devices = ((name, device.kind) for name, device in room.devices.items())
    talking = ((one.id, one.kind) for one in talkers(room))
    return (*devices, *talking, (FAR_END, "the other room"))


def _known_places(about: About, room: Room) -> None:
    known = dict(places(room))
    for word, at in (("from", about.from_), ("to", about.to)):
        if at and "," not in at and at not in known:
            raise InputError(
                f"{word}: no place {at!r:.60} in this room; "
                f"{near(at, known, else_='an id of the room, or a point as in 1.2, 3, 1.1')}"
            )


def _stem(about: About) -> str:
    if about.kind in ("calibrator", "meter"):
        return about.calibration or about.kind
    kind = "response" if about.kind == "impulse-response" else about.kind
    ends = (end for end in (about.from_, about.to) if end and "," not in end)
    return slug("-".join((kind, *ends)))[:34].rstrip("-")


def _free(found: SessionFolder, stem: str, ending: str) -> str:
    """An id that nothing in the session has, and no file in its folder."""
    taken = {*found.session.recordings, *found.session.calibration}
    names = (stem if n == 1 else f"{stem}-{n}" for n in count(1))
    return next(
        name
        for name in names
        if name not in taken and not os.path.lexists(found.path(f"{name}{ending}"))
    )


def _recording(about: About, file: str, units: Unit) -> dict[str, Any]:
    said: dict[str, Any] = {"file": file, "kind": about.kind}
    unit = "" if about.unit == units else f" {about.unit}"
    said |= {key: _at(at, unit) for key, at in (("from", about.from_), ("to", about.to)) if at}
    if about.channel != 1:
        said["channel"] = about.channel
    if about.loopback is not None:
        said["loopback"] = about.loopback
    if about.calibration:
        said["calibration"] = about.calibration
    return said | ({"note": about.note} if about.note else {})


def _calibration(about: About, file: str) -> dict[str, Any]:
    level = "level_db" if about.kind == "calibrator" else "level_dba"
    return {"file": file, "channel": about.channel, level: about.level_db}


def _at(text: str, unit: str) -> Any:
    """A place as the session has it; a unit goes behind lengths that have none."""
    if "," not in text:
        return text
    return [_length(part.strip(), unit) for part in text.strip("[] ").split(",")]


def _length(text: str, unit: str) -> str | float:
    if not _BARE.fullmatch(text):
        return text
    return f"{text}{unit}" if unit else float(text)


def _set(data: dict[str, Any], steps: list[str], value: Any) -> None:
    for step in steps[:-1]:
        below = data.get(step)
        if not isinstance(below, dict):
            if value is None:
                return
            below = data[step] = {}
        data = below
    if value is None:
        data.pop(steps[-1], None)
    else:
        data[steps[-1]] = value


def _remove(data: dict[str, Any], part: str, name: str) -> None:
    del data[part][name]
    if not data[part]:
        del data[part]


def _edited(folder: Path, change: Callable[[dict[str, Any]], None]) -> SessionFolder:
    with _lock:
        text = _with(opened(folder), change)
        files.save(folder / FILE, text.encode())
    return parse_session(text, folder / FILE)


def _with(was: SessionFolder, change: Callable[[dict[str, Any]], None]) -> str:
    """Text of a session after a change that leaves it one."""
    old = was.source.data
    new = copy.deepcopy(old)
    change(new)
    text = changed(was.source, old, new)
    parse_session(text, was.folder / FILE)
    return text


def _files_of(found: SessionFolder, part: str, name: str) -> Iterator[str]:
    if part == "recordings":
        recording = found.session.recordings[name]
        named = [recording.file, recording.far]
    else:
        calibration = found.session.calibration[name]
        named = [calibration.file, calibration.after]
    yield from filter(None, named)


def _all_files(found: SessionFolder) -> Iterator[str]:
    for part in ("recordings", "calibration"):
        for name in getattr(found.session, part):
            yield from _files_of(found, part, name)

"""A session of measurement: what was played and recorded where, as ``session.yaml`` says it.

The file lies in a folder with its recordings. Bare lengths are in its own ``units``. Places are
ids of the room document that was measured, or points in its coordinates.
"""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import Annotated, Any, Final, Literal, Self, TypeAlias

from pydantic import (
    AfterValidator,
    BeforeValidator,
    Discriminator,
    Field,
    Tag,
    ValidationError,
    WithJsonSchema,
    model_validator,
)

from wellheard.errors import DocumentError, InputError, Problem
from wellheard.forms.fields import (
    Date,
    Frozen,
    Id,
    Line,
    Number,
    Port,
    SpacePoint,
    Text,
    declared_unit,
    items,
    refuse,
    shown,
)
from wellheard.forms.refusals import Form
from wellheard.forms.source import Source, read_file, read_source
from wellheard.room.noise import Levels
from wellheard.room.people import Directivity
from wellheard.room.space import Climate
from wellheard.units import Unit

VERSION: Final = 1
FILE: Final = "session.yaml"
MOST_RECORDINGS: Final = 500

Kind: TypeAlias = Literal["sweep", "impulse-response", "noise", "speech", "echo"]
"""Of a recording: of a sweep, an impulse response already, the room in silence, steady
speech-shaped noise, or what a canceller was given and what it sent."""

Active: TypeAlias = Literal["canceller", "gate", "mixer", "leveller", "noise-reduction", "codec"]
"""Processing that was active in a path while it was recorded."""

NOT_LINEAR: Final[frozenset[Active]] = frozenset(
    ("canceller", "gate", "leveller", "noise-reduction", "codec")
)
"""With one of these in the path, nothing that supposes a linear and unchanging path can be told
[L IEC 60268-16, indirect method]. An automatic mixer that is held open is linear."""


def _version(value: Any) -> Any:
    if isinstance(value, bool) or value != VERSION:
        refuse(f"{shown(value)} is no version of a session that this program knows", f"{VERSION}")
    return value


def _inside(value: Any) -> Any:
    """Name of a file in the folder of the session, or in one inside it."""
    if not isinstance(value, str) or not value or len(value) > 200:
        refuse(f"{shown(value)} is no name of a file", "a WAV or FLAC file beside session.yaml")
    path = PurePosixPath(value)
    if path.is_absolute() or ".." in path.parts or "\\" in value or ":" in value or "\0" in value:
        refuse(f"{shown(value)} leads out of the folder", "a file beside session.yaml")
    return value


def _place_form(value: Any) -> str:
    if isinstance(value, list | tuple):
        return "=point"
    return "=port" if isinstance(value, str) and "." in value else "=id"


def _stretch(value: tuple[float, float]) -> tuple[float, float]:
    if not 0.0 <= value[0] < value[1]:
        refuse(f"from {value[0]:g} s to {value[1]:g} s", "two times, the earlier first")
    return value


FileName = Annotated[str, BeforeValidator(_inside), WithJsonSchema({"type": "string"})]
At = Annotated[
    Annotated[Id, Tag("=id")]
    | Annotated[Port, Tag("=port")]
    | Annotated[SpacePoint, Tag("=point")],
    Discriminator(_place_form),
]
"""An id of a seat, a point of a standing area (``presenter.1``), a device or ``far-end``; or a
point."""
Channel = Annotated[int, Field(ge=1, le=64)]
Stretch = Annotated[tuple[Number, Number], BeforeValidator(items), AfterValidator(_stretch)]
"""Of a recording, from when to when [s]."""


class SweepSignal(Frozen):
    """The exponential sweep that was played.

    Its instantaneous frequency rises from ``from_hz`` to ``to_hz`` in ``seconds``; silence follows
    each of its ``repeats``.
    """

    from_hz: Annotated[Number, Field(ge=10, le=1000)] = Field(default=50.0, description="[Hz]")
    to_hz: Annotated[Number, Field(ge=1000, le=96000)] = Field(default=20000.0, description="[Hz]")
    seconds: Annotated[Number, Field(ge=0.1, le=120)] = Field(default=6.0, description="[s]")
    silence: Annotated[Number, Field(ge=0, le=30)] = Field(
        default=3.0, description="After each sweep [s]"
    )
    fade: Annotated[Number, Field(ge=0, le=1)] = Field(
        default=0.02, description="In and out, at both ends [s]"
    )
    repeats: Annotated[int, Field(ge=1, le=20)] = 1
    level_dbfs: Annotated[Number, Field(ge=-80, le=0)] = Field(
        default=-12.0, description="Peak of the sweep re full scale [dB]"
    )
    rate: Annotated[Number, Field(ge=8000, le=192000)] = Field(
        default=48000.0, description="Of the player [Hz]"
    )

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if not self.from_hz * 2 <= self.to_hz <= self.rate / 2:
            refuse(
                f"a sweep from {self.from_hz:g} to {self.to_hz:g} Hz at {self.rate:g} Hz",
                "an octave at least, and no more than half the rate",
            )
        if 2 * self.fade > self.seconds:
            refuse(f"fades of {self.fade:g} s", "together no longer than the sweep")
        return self


class TestSource(Frozen):
    """What stood for the talker."""

    __test__ = False  # no test, whatever its name

    directivity: Directivity = Field(
        default="human",
        description="human: of a talker or a small loudspeaker like one; omni: alike all round",
    )
    levels_db_at_1m: Levels | None = Field(
        default=None,
        description="Free-field octave levels 1 m in front while recordings of kind speech were "
        "made [dB]",
    )
    dba_at_1m: Annotated[Number, Field(ge=30, le=130)] | None = Field(
        default=None, description="The same as one figure, of speech-shaped noise [dBA]"
    )
    sigma_db: Annotated[Number, Field(ge=0, le=10)] = Field(
        default=1.0, description="How far that level may be off, one standard deviation [dB]"
    )

    @model_validator(mode="after")
    def _one_level(self) -> Self:
        if self.levels_db_at_1m is not None and self.dba_at_1m is not None:
            refuse("levels_db_at_1m and dba_at_1m together", "one of them")
        return self


class CalibrationFiles(Frozen):
    """What tells the sensitivity of one microphone and its input, in exactly one way."""

    file: FileName | None = Field(
        default=None, description="Of a calibrator, or of steady noise read on a meter beside"
    )
    after: FileName | None = Field(default=None, description="The same again at the end")
    channel: Channel = 1
    level_db: Annotated[Number, Field(ge=60, le=140)] | None = Field(
        default=None, description="Of the calibrator, at 1 kHz [dB]"
    )
    level_dba: Annotated[Number, Field(ge=20, le=130)] | None = Field(
        default=None, description="What the meter beside read, slow [dBA]"
    )
    full_scale_db: Annotated[Number, Field(ge=60, le=200)] | None = Field(
        default=None,
        description="Level of a full-scale sine, stated by whoever knows [dB]; without a file",
    )

    @model_validator(mode="after")
    def _one_way(self) -> Self:
        ways = [
            n for n in ("level_db", "level_dba", "full_scale_db") if getattr(self, n) is not None
        ]
        if len(ways) != 1:
            refuse(
                " and ".join(ways) + " together" if ways else "no level",
                "exactly one of level_db, level_dba, full_scale_db",
            )
        if (self.file is None) != (self.full_scale_db is not None):
            refuse(
                "a file and a stated sensitivity" if self.file else "no file",
                "a file with level_db or level_dba, or full_scale_db alone",
            )
        return self


class Instrument(Frozen):
    """What was measured with."""

    name: Line
    serial: Line = ""
    calibrated: Line = ""


class Recording(Frozen):
    """One recording of the session."""

    file: FileName
    kind: Kind
    from_: At | None = Field(
        default=None,
        alias="from",
        description="Where sound came from: a seat, a point, a loudspeaker, or far-end",
    )
    to: At | None = Field(
        default=None, description="Where it was taken: a microphone's output, a seat, or a point"
    )
    channel: Channel = Field(default=1, description="Of the file, from 1")
    loopback: Channel | None = Field(
        default=None, description="Channel with what was played, for delay, polarity and drift"
    )
    far: FileName | None = Field(
        default=None,
        description="Of kind echo: another file with what the far end sent; null is channel "
        "loopback of the same file",
    )
    calibration: Id | None = Field(
        default=None, description="Which calibration applies; null: none"
    )
    processing: Annotated[tuple[Active, ...], BeforeValidator(items)] | None = Field(
        default=None, description="What was active in this path; null is the session's"
    )
    facing_deg: Annotated[Number, Field(ge=-360, le=360)] | None = Field(
        default=None, description="Where the source faced; null is as the document says [deg]"
    )
    near_alone: Stretch | None = Field(
        default=None, description="Of kind echo: when only the near end talks [s, s]"
    )
    both: Stretch | None = Field(
        default=None, description="Of kind echo: when both ends talk [s, s]"
    )
    note: Text = ""

    @model_validator(mode="after")
    def _of_its_kind(self) -> Self:
        for name in ("far", "near_alone", "both"):
            if self.kind != "echo" and getattr(self, name) is not None:
                refuse(f"{name} of a recording of kind {self.kind}", "of kind echo alone")
        return self


def _not_too_many(value: Any) -> Any:
    if isinstance(value, dict) and len(value) > MOST_RECORDINGS:
        refuse(f"{len(value)} recordings", f"at most {MOST_RECORDINGS} in one session")
    return value


class Session(Frozen):
    """What was measured, when, with what, and in which state the room was."""

    wellheard_session: Annotated[
        int, BeforeValidator(_version), WithJsonSchema({"const": VERSION})
    ] = Field(description="Version of this form")
    title: Line = ""
    date: Date | None = None
    by: Line = Field(default="", description="Who measured")
    room: Line = Field(
        default="", description="First letters of the hash of the room document measured"
    )
    units: Unit = Field(default="m", description="Of every bare length")
    note: Text = ""
    arrangement: Id | None = Field(
        default=None, description="Of a room that divides: how it stood while it was measured"
    )
    occupancy: Annotated[Number, Field(ge=0, le=1)] = Field(
        default=0.0, description="Share of seats taken while it was measured, 0-1"
    )
    climate: Climate = Field(default_factory=Climate)
    processing: Annotated[tuple[Active, ...], BeforeValidator(items)] = Field(
        default=(), description="What was active in every path that does not say otherwise"
    )
    signal: SweepSignal = Field(default_factory=SweepSignal)
    source: TestSource = Field(default_factory=TestSource)
    calibration: dict[Id, CalibrationFiles] = Field(default_factory=dict)
    instruments: Annotated[tuple[Instrument, ...], BeforeValidator(items)] = ()
    recordings: Annotated[dict[Id, Recording], BeforeValidator(_not_too_many)] = Field(
        default_factory=dict
    )

    @model_validator(mode="after")
    def _known_calibrations(self) -> Self:
        for name, one in self.recordings.items():
            if one.calibration is not None and one.calibration not in self.calibration:
                known = ", ".join(self.calibration) or "none is there"
                refuse(f"recording {name} is by calibration {one.calibration}", f"one of: {known}")
        return self

    def active_in(self, recording: str) -> tuple[Active, ...]:
        """Processing that was active in the path of a recording."""
        own = self.recordings[recording].processing
        return self.processing if own is None else own

    def linear(self, recording: str) -> bool:
        """Whether the path of a recording was linear and did not change."""
        return not NOT_LINEAR.intersection(self.active_in(recording))

    def pair(self, recording: str) -> tuple[object, ...]:
        """What tells its pair of source and microphone from others; itself where that is not said.

        Two recordings of one pair are no two places.
        """
        one = self.recordings[recording]
        return (recording,) if one.from_ is None or one.to is None else (one.from_, one.to)


FORM: Final = Form(Session)


@dataclass(frozen=True)
class SessionFolder:
    """A session with the folder that holds its recordings."""

    session: Session
    source: Source
    folder: Path

    @property
    def name(self) -> str:
        """Of the folder."""
        return self.folder.resolve().name

    def path(self, file: str) -> Path:
        """Of a file of the session."""
        return self.folder / file

    def problem(self, path: str, what: str, allowed: str) -> Problem:
        """Something that is wrong at a dotted path of ``session.yaml``."""
        steps = tuple(int(s) if s.isdecimal() else s for s in path.split(".") if s)
        return self.source.problem(steps, what, allowed)


def load_session(path: str | os.PathLike[str]) -> SessionFolder:
    """Session of a folder, or of the ``session.yaml`` in it.

    Raises
    ------
    InputError
        There is none, or it cannot be read.
    DocumentError
        Every problem in it, with line and column. Recordings need not be there yet.
    """
    where = Path(path)
    file = where / FILE if where.is_dir() else where
    if where.is_dir() and not os.path.lexists(file):
        raise InputError(
            f"{where}: holds no {FILE}, so it is no session; name the folder of one, or have one "
            "planned: wellheard sweep ROOM -o FOLDER"
        )
    return parse_session(read_file(file, what="a session of measurement"), file)


def parse_session(text: bytes | str, file: Path) -> SessionFolder:
    """Session that a text says, whether or not its recordings are there.

    Parameters
    ----------
    text : bytes or str
        Of ``session.yaml``.
    file : Path
        Where it lies, for messages and for the folder of its recordings; not opened.

    Raises
    ------
    DocumentError
        Every problem in it, with line and column.
    """
    source, problems = read_source(
        text, name=os.fspath(file), wanted="a session: wellheard_session: 1 …", levels=9
    )
    data = source.data
    if problems and not isinstance(data, dict):
        raise DocumentError(problems)
    if isinstance(data, dict) and "wellheard" in data and "wellheard_session" not in data:
        raise DocumentError(
            [source.problem(("wellheard",), "a room document", "the folder of a session", key=True)]
        )
    session, found = _understood(data)
    problems += [source.problem(r.path, r.what, r.allowed, key=r.key) for r in found]
    if problems or session is None:
        raise DocumentError(sorted(dict.fromkeys(problems), key=lambda p: (p.line, p.column)))
    return SessionFolder(session, source, file.parent)


def _understood(data: Any) -> tuple[Session | None, list[Any]]:
    if not isinstance(data, dict):
        data = {}
    unit = data.get("units", "m")
    with declared_unit("ft" if unit == "ft" else "m"):
        try:
            return Session.model_validate(data, by_name=False, by_alias=True), []
        except ValidationError as error:
            return None, list(FORM.refusals(error.errors(include_url=False)))

"""What the capture of a page sends and asks for: recordings in pieces, and signals to play."""

from __future__ import annotations

import base64
import binascii
from collections import OrderedDict
from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import Annotated, Any, TypeAlias

from fastapi import APIRouter, Request
from fastapi.responses import Response
from pydantic import BeforeValidator, Field

from wellheard.errors import InputError
from wellheard.units import Unit
from wellheard.web.answers import Body, Gone, answering, body_of, json_answer
from wellheard.web.workbench import Workbench
from wellheard.workflow import arriving, playing, session_text, sessions
from wellheard.workflow.desk import Desk

LONGEST_PIECE = 3_000_000
"""Of base 64; what the guard lets through is a little more."""
REMEMBERED = 32
"""Answers that are kept for who did not hear them and asks again."""

DeskOf: TypeAlias = Callable[[str], Awaitable[Desk]]
Key = Annotated[str, Field(min_length=8, max_length=64, pattern=r"^[A-Za-z0-9-]+$")]


def _typed(value: Any) -> Any:
    """A number of a form; nothing typed is none."""
    if not isinstance(value, str):
        return value
    return value.strip().replace(",", ".") or None


Channel: TypeAlias = Annotated[Annotated[int, Field(ge=1, le=64)] | None, BeforeValidator(_typed)]
Level: TypeAlias = Annotated[Annotated[float, Field(ge=20, le=140)] | None, BeforeValidator(_typed)]


class Piece(Body):
    """The next bytes of a recording."""

    key: Key
    at: int = Field(ge=0)
    piece: str = Field(max_length=LONGEST_PIECE)


class Told(Body):
    """What a recording is of, as a form has it."""

    kind: session_text.RecordedKind = "sweep"
    fills: str = Field(default="", max_length=60)
    from_: str = Field(default="", max_length=120, alias="from")
    to: str = Field(default="", max_length=120)
    channel: Channel = 1
    loopback: Channel = None
    calibration: str = Field(default="", max_length=60)
    level_db: Level = None
    note: str = Field(default="", max_length=1000)
    unit: Unit = "m"

    def about(self) -> session_text.About:
        """The same for who takes it in."""
        return session_text.About(
            kind=self.kind,
            fills=self.fills.strip(),
            from_=self.from_.strip(),
            to=self.to.strip(),
            channel=self.channel or 1,
            loopback=self.loopback,
            calibration=self.calibration.strip(),
            level_db=self.level_db,
            note=self.note.strip(),
            unit=self.unit,
        )


class Arrived(Body):
    """A recording that has been sent whole."""

    key: Key
    size: int = Field(ge=1)
    about: Told


def declare(routes: APIRouter, workbench: Workbench, desk_of: DeskOf) -> None:
    """Declare what is asked for below a session of a room."""
    answers: OrderedDict[str, dict[str, Any]] = OrderedDict()
    below = "/rooms/{room}/sessions/{session}"

    async def folder_of(room: str, session: str) -> tuple[Desk, Path]:
        desk = await desk_of(room)
        return desk, session_folder(workbench, desk, session)

    @routes.post(f"{below}/pieces")
    @answering
    async def piece(room: str, session: str, request: Request) -> Response:
        sent = Piece.model_validate(await body_of(request))
        _, folder = await folder_of(room, session)
        there = await workbench.slowly(
            arriving.put_piece, folder, sent.key, sent.at, _bytes(sent.piece)
        )
        return json_answer({"there": there})

    @routes.post(f"{below}/recordings")
    @answering
    async def recording(room: str, session: str, request: Request) -> Response:
        sent = Arrived.model_validate(await body_of(request))
        if sent.key in answers:
            return json_answer(answers[sent.key])
        desk, folder = await folder_of(room, session)

        def taken() -> session_text.TakenIn:
            file = arriving.arrived(folder, sent.key, sent.size)
            try:
                model = desk.state.loaded.room
                return session_text.take_in(folder, file, sent.about.about(), model)
            finally:
                arriving.forget(folder, sent.key)

        found = await workbench.slowly(taken)
        answers[sent.key] = answer = {
            "id": found.id,
            "words": found.words,
            "faults": [{"message": f.message, "remedy": f.remedy} for f in found.faults],
        }
        while len(answers) > REMEMBERED:
            answers.popitem(last=False)
        return json_answer(answer)

    @routes.get(f"{below}/signal.wav")
    @answering
    async def signal(
        room: str, session: str, kind: playing.Played = "sweep", rate: float = 48000.0
    ) -> Response:
        _, folder = await folder_of(room, session)
        made = await workbench.slowly(playing.signal, folder, kind, rate)
        return Response(made, media_type="audio/wav")


def session_folder(workbench: Workbench, desk: Desk, session: str) -> Path:
    """Folder of a session of an open room.

    Raises
    ------
    Gone
        There is none, or it leads out of the folder of the rooms.
    """
    try:
        folder = sessions.session_path(desk.path, session)
        if session_text.is_session(folder) and folder.resolve().is_relative_to(
            workbench.shelf.folder
        ):
            return folder
    except InputError:
        pass
    raise Gone(f"no session {session!r:.60} of this room; go back to its sessions")


def _bytes(piece: str) -> bytes:
    try:
        return base64.b64decode(piece, validate=True)
    except (binascii.Error, ValueError):
        raise InputError("a piece that is no base 64; send it again") from None

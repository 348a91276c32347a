"""What the scripts of a page ask for and send, as JSON over HTTP."""

from __future__ import annotations

import json
import logging
from collections.abc import Awaitable, Callable, Mapping, Sequence
from functools import wraps
from typing import Annotated, Any, TypeAlias

from fastapi import APIRouter, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import Response
from pydantic import BaseModel, ConfigDict, Field, ValidationError

from wellheard.drawings.tokens import ThemeName
from wellheard.errors import InputError, Problem, WellheardError
from wellheard.units import Unit
from wellheard.web.remedies import remedies_of
from wellheard.web.workbench import Workbench
from wellheard.workflow import planmodel, solid
from wellheard.workflow.desk import Committed, Conflict, Desk
from wellheard.workflow.maps import QUANTITIES
from wellheard.workflow.sections import section_picture

MOST_OPERATIONS = 2_000
MOST_MOVES = 500
FARTHEST = 10_000.0
"""Of a place that something is moved to, from the origin. [m]"""
_log = logging.getLogger(__name__)

Answer: TypeAlias = Callable[..., Awaitable[Response]]
Metres: TypeAlias = Annotated[float, Field(ge=-FARTHEST, le=FARTHEST)]


class _Body(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class Commit(_Body):
    """A change to a document; see `wellheard.room.operations`."""

    base: int = Field(ge=0)
    key: str = Field(min_length=8, max_length=64, pattern=r"^[A-Za-z0-9-]+$")
    what: str = Field(default="", max_length=200)
    unit: Unit = "m"
    operations: list[dict[str, Any]] = Field(min_length=1, max_length=MOST_OPERATIONS)
    exact: bool = False


class Step(_Body):
    """A wish to undo, to redo, or to put the last valid text back."""

    key: str = Field(min_length=8, max_length=64, pattern=r"^[A-Za-z0-9-]+$")


class Moves(_Body):
    """Where things are while a hand moves them; nothing is saved."""

    seq: int = Field(ge=0)
    moves: dict[str, list[Metres] | dict[str, list[Metres]]] = Field(max_length=MOST_MOVES)
    unit: Unit = "m"
    quantity: str = "sti"
    worst: bool = False
    rest: bool = False


def router(workbench: Workbench) -> APIRouter:
    """Routes below ``/api``."""
    routes = APIRouter(prefix="/api")

    async def desk_of(room: str) -> Desk:
        try:
            return await workbench.surely(workbench.desk, room)
        except KeyError:
            raise _Gone(f"no room {room!r} in this folder; go back to the rooms") from None

    @routes.get("/rooms/{room}/plan")
    @_answering
    async def plan(room: str, unit: Unit = "m") -> Response:
        desk = await desk_of(room)
        state = desk.state
        drawn = await workbench.quickly(planmodel.plan, state.loaded, unit=unit)
        return _json(
            {
                **drawn,
                "version": state.version,
                "saved_at": f"{state.saved_at:%H:%M:%S}",
                "undo": state.undo,
                "redo": state.redo,
                "problems": [_problem(one) for one in state.problems],
            }
        )

    @routes.get("/rooms/{room}/figures")
    @_answering
    async def figures(
        room: str, unit: Unit = "m", quantity: str = "sti", worst: bool = False
    ) -> Response:
        desk = await desk_of(room)
        state = desk.state
        live = workbench.live(desk, state)
        found = await workbench.slowly(
            live.figures, unit=unit, quantity=_quantity(quantity), worst=worst
        )
        workbench.ahead(live.prepare)
        return _json({**found, "version": state.version})

    @routes.get("/rooms/{room}/path/{seat}")
    @_answering
    async def path(room: str, seat: str, unit: Unit = "m", way: str = "outbound") -> Response:
        desk = await desk_of(room)
        state = desk.state
        live = workbench.live(desk, state)
        opened = await workbench.slowly(live.path, seat, unit=unit, way=way)
        return _json({**opened, "version": state.version})

    @routes.get("/rooms/{room}/solid")
    @_answering
    async def bodies(room: str) -> Response:
        loaded = (await desk_of(room)).state.loaded
        return _json(await workbench.quickly(solid.solid, loaded))

    @routes.get("/rooms/{room}/section.svg")
    @_answering
    async def section(
        room: str,
        unit: Unit = "m",
        quantity: str = "sti",
        worst: bool = False,
        theme: ThemeName = "white",
    ) -> Response:
        drawn = await workbench.slowly(
            section_picture,
            (await desk_of(room)).state.loaded,
            quantity=_quantity(quantity),
            worst=worst,
            theme=theme,
            unit=unit,
        )
        return Response(drawn, media_type="image/svg+xml")

    @routes.get("/rooms/{room}/wiring")
    @_answering
    async def wiring(room: str, unit: Unit = "m") -> Response:
        desk = await desk_of(room)
        state = desk.state
        found = await workbench.slowly(workbench.live(desk, state).wiring.answer, unit=unit)
        return _json({**found, "version": state.version})

    @routes.get("/rooms/{room}/wiring.svg")
    @_answering
    async def diagram(room: str, unit: Unit = "m", theme: ThemeName = "white") -> Response:
        sheet = workbench.live(await desk_of(room)).wiring
        drawn = await workbench.slowly(sheet.picture, unit=unit, theme=theme)
        return Response(drawn, media_type="image/svg+xml")

    @routes.get("/rooms/{room}/remedies")
    @_answering
    async def remedies(room: str) -> Response:
        return _json(remedies_of(workbench, await desk_of(room)))

    @routes.post("/rooms/{room}/commit")
    @_answering
    async def commit(room: str, request: Request) -> Response:
        body = Commit.model_validate(await _body(request))
        desk = await desk_of(room)
        done = await workbench.surely(
            desk.commit,
            body.operations,
            base=body.base,
            key=body.key,
            what=body.what,
            unit=body.unit,
            exact=body.exact,
        )
        return _committed(done)

    def stepping(step: Callable[..., Committed]) -> Answer:
        @_answering
        async def taken(room: str, request: Request) -> Response:
            key = Step.model_validate(await _body(request)).key
            return _committed(await workbench.surely(step, await desk_of(room), key=key))

        return taken

    for step in (Desk.undo, Desk.redo, Desk.restore):
        address = f"/rooms/{{room}}/{step.__name__}"
        routes.add_api_route(address, stepping(step), methods=["POST"])

    @routes.post("/rooms/{room}/live")
    @_answering
    async def moved(room: str, request: Request) -> Response:
        body = Moves.model_validate(await _body(request))
        live = workbench.live(await desk_of(room))
        workbench.asked()
        ask = live.rested if body.rest else live.moved
        on = workbench.slowly if body.rest else workbench.quickly
        found = await on(
            ask,
            body.moves,
            unit=body.unit,
            quantity=_quantity(body.quantity),
            worst=body.worst,
        )
        if not body.rest:
            workbench.look_ahead(live, body.moves, body.unit, body.quantity, body.worst)
        return _json({**found, "seq": body.seq, "rest": body.rest})

    @routes.api_route("/{rest:path}", methods=["GET", "HEAD", "POST"])
    @_answering
    async def anything_else(rest: str) -> Response:
        raise _Gone("nothing is asked for at this address")

    return routes


# Forms of answers ------------------------------------------------------------------------------


class _Gone(WellheardError):
    """There is nothing of this name."""


def _answering(ask: Answer) -> Answer:
    """The same, every error as JSON of one form."""

    @wraps(ask)
    async def answer(*args: Any, **kwargs: Any) -> Response:
        try:
            return await ask(*args, **kwargs)
        except Conflict as error:
            clashes = [
                {"path": c.path, "yours": c.yours, "theirs": c.theirs, "what": c.what}
                for c in error.clashes
            ]
            return _error(409, "conflict", str(error), clashes=clashes)
        except _Gone as error:
            return _error(404, "no-room", str(error))
        except InputError as error:
            problems = [_problem(one) for one in error.problems]
            return _error(422, "refused", str(error), problems=problems)
        except ValidationError as error:
            return _misread(error.errors())
        except WellheardError as error:
            return _error(422, "refused", str(error), problems=[])
        except Exception as error:
            # Whoever sent an edit would send it again for ever if this looked like a server that
            # is only starting.
            _log.exception("an answer could not be made")
            what = f"an error of Wellheard itself ({type(error).__name__}: {error})"
            return _error(500, "own-fault", what)

    return answer


async def _body(request: Request) -> Any:
    if request.headers.get("content-type", "").partition(";")[0].strip() != "application/json":
        raise InputError("the body is not said to be application/json; send it so")
    try:
        return json.loads(await request.body())
    except (ValueError, RecursionError):
        raise InputError("the body is no JSON; send JSON") from None


def _quantity(word: str) -> str:
    if word not in QUANTITIES:
        raise InputError(f"no quantity {word!r}; {', '.join(QUANTITIES)}")
    return word


def _committed(done: Committed) -> Response:
    state = done.state
    return _json(
        {
            "version": state.version,
            "saved_at": f"{state.saved_at:%H:%M:%S}",
            "created": list(done.created),
            "merged": done.merged,
            "notes": list(done.notes),
            "undo": state.undo,
            "redo": state.redo,
        }
    )


def _problem(one: Problem) -> dict[str, str]:
    return {"where": one.path, "what": one.what, "allowed": one.allowed}


def _json(content: Mapping[str, Any], status: int = 200) -> Response:
    text = json.dumps(content, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    return Response(text, status, media_type="application/json")


async def not_understood(request: Request, error: Exception) -> Response:
    """A parameter that is none, in the form of all errors."""
    assert isinstance(error, RequestValidationError)
    return _misread(error.errors())


def _misread(errors: Sequence[Any]) -> Response:
    first = errors[0]
    where = ".".join(str(step) for step in first["loc"])
    return _error(400, "not-understood", f"{where}: {first['msg']}")


def _error(status: int, code: str, message: str, **more: Any) -> Response:
    return _json({"error": code, "message": message, **more}, status)

"""What the scripts of a page ask for and send, as JSON over HTTP."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Any, TypeAlias

from fastapi import APIRouter, Request
from fastapi.responses import Response
from pydantic import Field

from wellheard.drawings.tokens import ThemeName
from wellheard.errors import InputError
from wellheard.units import Unit
from wellheard.web import recordings
from wellheard.web.answers import (
    Answer,
    Body,
    Gone,
    answering,
    body_of,
    json_answer,
    problem_data,
)
from wellheard.web.remedies import remedies_of
from wellheard.web.workbench import Workbench
from wellheard.workflow import planmodel, solid
from wellheard.workflow.desk import Committed, Desk
from wellheard.workflow.maps import QUANTITIES
from wellheard.workflow.sections import section_picture

MOST_OPERATIONS = 2_000
MOST_MOVES = 500
FARTHEST = 10_000.0
"""Of a place that something is moved to, from the origin. [m]"""

Metres: TypeAlias = Annotated[float, Field(ge=-FARTHEST, le=FARTHEST)]


class Commit(Body):
    """A change to a document; see `wellheard.room.operations`."""

    base: int = Field(ge=0)
    key: str = Field(min_length=8, max_length=64, pattern=r"^[A-Za-z0-9-]+$")
    what: str = Field(default="", max_length=200)
    unit: Unit = "m"
    operations: list[dict[str, Any]] = Field(min_length=1, max_length=MOST_OPERATIONS)
    exact: bool = False


class Step(Body):
    """A wish to undo, to redo, or to put the last valid text back."""

    key: str = Field(min_length=8, max_length=64, pattern=r"^[A-Za-z0-9-]+$")


class Moves(Body):
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
            raise Gone(f"no room {room!r} in this folder; go back to the rooms") from None

    @routes.get("/rooms/{room}/plan")
    @answering
    async def plan(room: str, unit: Unit = "m") -> Response:
        desk = await desk_of(room)
        state = desk.state
        drawn = await workbench.quickly(planmodel.plan, state.loaded, unit=unit)
        return json_answer(
            {
                **drawn,
                "version": state.version,
                "saved_at": f"{state.saved_at:%H:%M:%S}",
                "undo": state.undo,
                "redo": state.redo,
                "problems": [problem_data(one) for one in state.problems],
            }
        )

    @routes.get("/rooms/{room}/figures")
    @answering
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
        return json_answer({**found, "version": state.version})

    @routes.get("/rooms/{room}/path/{seat}")
    @answering
    async def path(room: str, seat: str, unit: Unit = "m", way: str = "outbound") -> Response:
        desk = await desk_of(room)
        state = desk.state
        live = workbench.live(desk, state)
        opened = await workbench.slowly(live.path, seat, unit=unit, way=way)
        return json_answer({**opened, "version": state.version})

    @routes.get("/rooms/{room}/solid")
    @answering
    async def bodies(room: str) -> Response:
        loaded = (await desk_of(room)).state.loaded
        return json_answer(await workbench.quickly(solid.solid, loaded))

    @routes.get("/rooms/{room}/section.svg")
    @answering
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
    @answering
    async def wiring(room: str, unit: Unit = "m") -> Response:
        desk = await desk_of(room)
        state = desk.state
        found = await workbench.slowly(workbench.live(desk, state).wiring.answer, unit=unit)
        return json_answer({**found, "version": state.version})

    @routes.get("/rooms/{room}/wiring.svg")
    @answering
    async def diagram(room: str, unit: Unit = "m", theme: ThemeName = "white") -> Response:
        sheet = workbench.live(await desk_of(room)).wiring
        drawn = await workbench.slowly(sheet.picture, unit=unit, theme=theme)
        return Response(drawn, media_type="image/svg+xml")

    @routes.get("/rooms/{room}/remedies")
    @answering
    async def remedies(room: str) -> Response:
        return json_answer(remedies_of(workbench, await desk_of(room)))

    @routes.post("/rooms/{room}/commit")
    @answering
    async def commit(room: str, request: Request) -> Response:
        body = Commit.model_validate(await body_of(request))
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
        @answering
        async def taken(room: str, request: Request) -> Response:
            key = Step.model_validate(await body_of(request)).key
            return _committed(await workbench.surely(step, await desk_of(room), key=key))

        return taken

    for step in (Desk.undo, Desk.redo, Desk.restore):
        address = f"/rooms/{{room}}/{step.__name__}"
        routes.add_api_route(address, stepping(step), methods=["POST"])

    @routes.post("/rooms/{room}/live")
    @answering
    async def moved(room: str, request: Request) -> Response:
        body = Moves.model_validate(await body_of(request))
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
        return json_answer({**found, "seq": body.seq, "rest": body.rest})

    recordings.declare(routes, workbench, desk_of)

    @routes.api_route("/{rest:path}", methods=["GET", "HEAD", "POST"])
    @answering
    async def anything_else(rest: str) -> Response:
        raise Gone("nothing is asked for at this address")

    return routes


def _quantity(word: str) -> str:
    if word not in QUANTITIES:
        raise InputError(f"no quantity {word!r}; {', '.join(QUANTITIES)}")
    return word


def _committed(done: Committed) -> Response:
    state = done.state
    return json_answer(
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

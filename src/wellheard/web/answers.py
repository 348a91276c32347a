"""The forms that answers to scripts have: JSON, and every error as JSON of one form."""

from __future__ import annotations

import json
import logging
from collections.abc import Awaitable, Callable, Mapping, Sequence
from functools import wraps
from typing import Any, TypeAlias

from fastapi import Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import Response
from pydantic import BaseModel, ConfigDict, ValidationError

from wellheard.errors import InputError, Problem, WellheardError
from wellheard.workflow.desk import Conflict

_log = logging.getLogger(__name__)

Answer: TypeAlias = Callable[..., Awaitable[Response]]


class Body(BaseModel):
    """What a script sends; nothing but what is known."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class Gone(WellheardError):
    """There is nothing of this name."""


def answering(ask: Answer) -> Answer:
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
            return error_answer(409, "conflict", str(error), clashes=clashes)
        except Gone as error:
            return error_answer(404, "no-room", str(error))
        except InputError as error:
            problems = [problem_data(one) for one in error.problems]
            return error_answer(422, "refused", str(error), problems=problems)
        except ValidationError as error:
            return misread(error.errors())
        except WellheardError as error:
            return error_answer(422, "refused", str(error), problems=[])
        except Exception as error:
            # Whoever sent an edit would send it again for ever if this looked like a server that
            # is only starting.
            _log.exception("an answer could not be made")
            what = f"an error of Wellheard itself ({type(error).__name__}: {error})"
            return error_answer(500, "own-fault", what)

    return answer


async def body_of(request: Request) -> Any:
    """What was sent, read as JSON.

    Raises
    ------
    InputError
        It is none, or is not said to be.
    """
    if request.headers.get("content-type", "").partition(";")[0].strip() != "application/json":
        raise InputError("the body is not said to be application/json; send it so")
    try:
        return json.loads(await request.body())
    except (ValueError, RecursionError):
        raise InputError("the body is no JSON; send JSON") from None


def problem_data(one: Problem) -> dict[str, str]:
    """What is wrong in a document, as plain data."""
    return {"where": one.path, "what": one.what, "allowed": one.allowed}


def json_answer(content: Mapping[str, Any], status: int = 200) -> Response:
    """An answer; a number that is none is a fault, not ``NaN``."""
    text = json.dumps(content, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    return Response(text, status, media_type="application/json")


def misread(errors: Sequence[Any]) -> Response:
    """A body or parameter that is not as it should be, by the first thing that is wrong."""
    first = errors[0]
    where = ".".join(str(step) for step in first["loc"])
    return error_answer(400, "not-understood", f"{where}: {first['msg']}")


def error_answer(status: int, code: str, message: str, **more: Any) -> Response:
    """The one form of errors."""
    return json_answer({"error": code, "message": message, **more}, status)


async def not_understood(request: Request, error: Exception) -> Response:
    """A parameter that is none, in the form of all errors."""
    assert isinstance(error, RequestValidationError)
    return misread(error.errors())

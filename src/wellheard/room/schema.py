"""JSON Schema of the document as it is written, for editors that complete and check."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from wellheard.room.document import Room

DIALECT = "https://json-schema.org/draft/2020-12/schema"


def json_schema() -> dict[str, Any]:
    """Schema of a room document, draft 2020-12.

    Returns
    -------
    dict
        Lengths may be numbers or text; required fields are those of the document. It knows the
        form only: whether a seat is inside the room, reading tells.

    Examples
    --------
    >>> schema = json_schema()
    >>> schema["$schema"], schema["required"]
    ('https://json-schema.org/draft/2020-12/schema', ['wellheard', 'space', 'people'])
    """
    schema = Room.model_json_schema(by_alias=True, mode="validation")
    for part in _parts(schema):
        # Keys of a collection have a pattern; others are not allowed.
        if "patternProperties" in part:
            part.setdefault("additionalProperties", False)
    schema["additionalProperties"] = False
    schema["patternProperties"] = {"^x-": {}}
    schema["title"] = "Wellheard room document"
    schema["description"] = "One meeting room: plan, people, noise, devices and what is promised."
    return {"$schema": DIALECT, **schema}


def _parts(schema: Any) -> Iterator[dict[str, Any]]:
    if isinstance(schema, dict):
        yield schema
        for part in schema.values():
            yield from _parts(part)
    elif isinstance(schema, list):
        for part in schema:
            yield from _parts(part)

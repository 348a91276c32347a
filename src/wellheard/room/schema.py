"""JSON Schema of the document as it is written, for editors that complete and check."""

from __future__ import annotations

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
    schema["additionalProperties"] = False
    schema["patternProperties"] = {"^x-": {}}
    schema["title"] = "Wellheard room document"
    schema["description"] = "One meeting room: plan, people, noise, devices and what is promised."
    return {"$schema": DIALECT, **schema}

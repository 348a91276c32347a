"""From the document's own version to the one that this tool works with.

There has been one version so far, so there is nothing to migrate yet: `MIGRATIONS` is empty, and
a test demands an entry in it for every version below `SCHEMA`. A migration takes and returns the
plain data of a document; it never guesses, and what it cannot carry over it refuses.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from wellheard.forms.fields import shown
from wellheard.forms.refusals import Refusal
from wellheard.room.document import SCHEMA

MIGRATIONS: Mapping[int, Callable[[dict[str, Any]], dict[str, Any]]] = {}
"""From version *n* to *n* + 1, by *n*."""


def version_refusal(data: Mapping[str, Any]) -> Refusal | None:
    """Why data of this version cannot be read at all, if so.

    Examples
    --------
    >>> version_refusal({"wellheard": 1}) is None
    True
    >>> version_refusal({"wellheard": 2}).what
    'version 2 is newer than this tool, which knows 1'
    """
    path = ("wellheard",)
    write = f"write wellheard: {SCHEMA}"
    if "wellheard" not in data:
        return Refusal(path, "the schema version is missing", write)
    version = data["wellheard"]
    if isinstance(version, bool) or not isinstance(version, int):
        return Refusal(path, f"{shown(version)} is no schema version", write)
    if version > SCHEMA:
        return Refusal(
            path,
            f"version {version} is newer than this tool, which knows {SCHEMA}",
            "read it with a newer Wellheard; nothing was changed or left out",
        )
    if version < SCHEMA and version not in MIGRATIONS:
        return Refusal(path, f"there is no schema version {version}", write)
    return None


def migrated(data: dict[str, Any]) -> dict[str, Any]:
    """Data in the newest version; what is in it already comes back as it is."""
    while data["wellheard"] < SCHEMA:
        data = MIGRATIONS[data["wellheard"]](data)
    return data

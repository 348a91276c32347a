"""Tools and small material that an installer brings, and what has to occur for each to be needed.

Common practice: which of them a house uses is for the house to say.
"""

from __future__ import annotations

import functools
from dataclasses import dataclass
from typing import Literal, TypeAlias, get_args

from wellheard import tables
from wellheard.catalog.rows import Row
from wellheard.errors import CatalogError

Occasion: TypeAlias = Literal[
    "always",
    "overhead",
    "cut",
    "tile",
    "hole",
    "drill",
    "wall",
    "table",
    "cable",
    "pair",
    "analogue",
    "rack",
    "mains",
    "sound",
    "settings",
    "void",
]
ToolKind: TypeAlias = Literal["tool", "material"]


@dataclass(frozen=True)
class Tool:
    """One of them.

    Parameters
    ----------
    what : str
        In words; ``{height}``, ``{holes}`` and ``{bonds}`` are for who prints it to fill in.
    when : str
        What has to occur.
    why : str
        Empty where it says itself.
    """

    id: str
    what: str
    when: Occasion
    kind: ToolKind
    why: str


@functools.cache
def shipped() -> tuple[Tool, ...]:
    """Return the list that comes with the program.

    Raises
    ------
    CatalogError
        The packaged table is damaged.

    Examples
    --------
    >>> [tool.id for tool in shipped() if tool.when == "wall"]
    ['level']
    """
    table = tables.load("tools")
    try:
        return tuple(_tool(Row(table, row)) for row in table.by("id").values())
    except ValueError as error:
        raise CatalogError(f"tools.csv: {error}") from error


def _tool(row: Row) -> Tool:
    when = next((one for one in get_args(Occasion) if one == row.text("when")), None)
    kind = next((one for one in get_args(ToolKind) if one == row.text("kind")), None)
    if when is None or kind is None:
        raise ValueError(
            f"{row.text('id')}: {row.text('when')!r} or {row.text('kind')!r} is not known; "
            f"when is one of {', '.join(get_args(Occasion))}, kind tool or material"
        )
    return Tool(row.text("id"), row.text("what"), when, kind, row.text("why"))

"""Tables, lecterns, displays, screens, soft seats, cupboards: told apart by ``kind``."""

from __future__ import annotations

from typing import Annotated, Any, Literal, TypeAlias

from pydantic import Discriminator, Field, Tag

from wellheard.forms.fields import (
    Extent,
    Frozen,
    Id,
    Outline,
    PlanPoint,
    Size,
)


class Table(Frozen):
    """A table top."""

    kind: Literal["table"]
    outline: Outline
    height: Extent = Field(default=0.74, description="Top above the floor [m]")


class Lectern(Frozen):
    """A standing desk for one talker."""

    kind: Literal["lectern"]
    at: PlanPoint
    height: Extent = Field(default=1.1, description="Top above the floor [m]")


class Display(Frozen):
    """A lit picture on a wall."""

    kind: Literal["display"]
    wall: Id
    centre: PlanPoint = Field(
        description="Along the wall from its first corner, and above the floor [m]"
    )
    size: Size = Field(description="Width and height of the picture [m]")


class Screen(Frozen):
    """A projected picture on a wall."""

    kind: Literal["screen"]
    wall: Id
    centre: PlanPoint = Field(
        description="Along the wall from its first corner, and above the floor [m]"
    )
    size: Size = Field(description="Width and height of the picture [m]")


class Soft(Frozen):
    """Soft seating: sofas, upholstered benches."""

    kind: Literal["soft"]
    outline: Outline
    height: Extent = Field(default=0.8, description="[m]")


class Cupboard(Frozen):
    """A closed piece of furniture: sideboard, cupboard, credenza."""

    kind: Literal["cupboard"]
    outline: Outline
    height: Extent = Field(default=0.8, description="[m]")


KINDS: dict[str, type[Frozen]] = {
    "table": Table,
    "lectern": Lectern,
    "display": Display,
    "screen": Screen,
    "soft": Soft,
    "cupboard": Cupboard,
}


def _kind(value: Any) -> str | None:
    kind = value.get("kind") if isinstance(value, dict) else getattr(value, "kind", None)
    return f"={kind}" if isinstance(kind, str) else None


Furniture: TypeAlias = Annotated[
    Annotated[Table, Tag("=table")]
    | Annotated[Lectern, Tag("=lectern")]
    | Annotated[Display, Tag("=display")]
    | Annotated[Screen, Tag("=screen")]
    | Annotated[Soft, Tag("=soft")]
    | Annotated[Cupboard, Tag("=cupboard")],
    Discriminator(_kind),
]
"""One piece of furniture; ``isinstance`` or ``kind`` tells which."""
Picture: TypeAlias = Display | Screen
"""What people look at."""

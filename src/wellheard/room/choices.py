"""What may be chosen: products, mountings, new holes; and what the far end is like."""

from __future__ import annotations

from typing import Annotated, Literal, TypeAlias

from pydantic import BeforeValidator, Field

from wellheard.forms.fields import Flag, Frozen, Id, Ids, Length, Number, items
from wellheard.room.devices import DeviceKind
from wellheard.room.noise import Background, nc_30

Mounting: TypeAlias = Literal["ceiling", "table", "lectern", "wall", "front"]
MOUNTINGS: tuple[Mounting, ...] = ("ceiling", "table", "lectern", "wall", "front")


class Choices(Frozen):
    """Limits on what a solver may propose."""

    allow: Ids = Field(default=(), description="Only these products; empty allows all")
    prefer: Ids = Field(default=(), description="First among equals")
    exclude: Ids = Field(default=(), description="Never these products")
    mounting: Annotated[tuple[Mounting, ...], BeforeValidator(items)] = Field(default=MOUNTINGS)
    max_drop: Length | None = Field(
        default=None, description="Longest drop below the ceiling [m]; null: as the product allows"
    )
    new_holes: Flag = Field(default=True, description="New holes in ceiling and walls are allowed")
    colour: Id | None = Field(
        default=None,
        description="Wanted of every product that comes in it; null: the first of each product",
    )
    spares: dict[DeviceKind, Annotated[Number, Field(ge=0, le=1)]] = Field(
        default_factory=dict,
        description="By kind of device: share of each product that is bought besides, rounded up",
    )


class FarEnd(Frozen):
    """The other side of the call."""

    one_way_delay_ms: Annotated[Number, Field(ge=0, le=2000)] = Field(
        default=150.0, description="Mouth to ear, network and all [ms]"
    )
    picture_delay_ms: Annotated[Number, Field(ge=0, le=5000)] | None = Field(
        default=None, description="Camera to display, network and all [ms]; null is unknown"
    )
    listening_level_dba: Annotated[Number, Field(ge=40, le=90)] = Field(
        default=65.0, description="Speech level that is listened at there [dBA]"
    )
    noise: Background = Field(default_factory=nc_30, description="Of the room there")

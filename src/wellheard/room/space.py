"""The room itself: plan, height, ceiling, climate, surfaces."""

from __future__ import annotations

import math
from typing import Annotated, Any, Literal, TypeAlias

from pydantic import (
    BeforeValidator,
    Field,
    SerializationInfo,
    SerializerFunctionWrapHandler,
    WithJsonSchema,
    WrapSerializer,
)

from wellheard.forms.fields import (
    LENGTH_SCHEMA,
    Extent,
    Flag,
    Frozen,
    Id,
    Ids,
    Length,
    LengthRule,
    Number,
    Outline,
    PlanPoint,
    Size,
    default_unit,
    document_unit,
    refuse,
    shown,
)
from wellheard.room.finishes import DecayTimes, Finishes, FinishRef, InlineFinish
from wellheard.room.isolation import Isolation
from wellheard.units import FOOT

CeilingKind: TypeAlias = Literal["tiles", "hard", "open"]

CEILING_FINISH: dict[CeilingKind, str] = {
    "tiles": "ceiling-mineral-tile",
    "hard": "ceiling-plasterboard",
    "open": "concrete",
}
"""Finish of a ceiling when the document names none."""
WALL_FINISH = "plasterboard"


def _module(value: Any) -> Any:
    if isinstance(value, list | tuple):
        if len(value) != 2:
            refuse(f"{shown(value)} is no tile size", "one length, or two in square brackets")
        return tuple(value)
    return (value, value)


def _module_as_written(
    size: tuple[float, float], handler: SerializerFunctionWrapHandler, info: SerializationInfo
) -> Any:
    sides = handler(size)
    return sides[0] if document_unit(info) is not None and size[0] == size[1] else sides


Module = Annotated[
    Size,
    BeforeValidator(_module),
    WrapSerializer(_module_as_written),
    WithJsonSchema(
        {
            "anyOf": [
                *LENGTH_SCHEMA["anyOf"],
                {"type": "array", "items": LENGTH_SCHEMA, "minItems": 2, "maxItems": 2},
            ]
        }
    ),
]
"""Tile size, written as one length where it is square. [m]"""


def _usual_module() -> tuple[float, float]:
    return (2 * FOOT, 2 * FOOT) if default_unit() == "ft" else (0.6, 0.6)


class Ceiling(Frozen):
    """A flat ceiling: its kind, its grid of tiles, and the void above."""

    kind: CeilingKind = Field(default="tiles")
    module: Module = Field(
        default_factory=_usual_module, description="Tile size in x and y before rotation [m]"
    )
    origin: PlanPoint = Field(default=(0.0, 0.0), description="One crossing of grid lines [m]")
    rotation_deg: Annotated[Number, Field(ge=-180, le=180)] = Field(
        default=0.0, description="Of the grid, anticlockwise [deg]"
    )
    void_depth: Length | None = Field(
        default=None, description="Ceiling to structure [m]; null is unknown"
    )
    air_return: Flag | None = Field(
        default=None, description="The void carries return air; null is unknown"
    )


class Climate(Frozen):
    """Air of the room."""

    temperature_c: Annotated[Number, Field(ge=-20, le=50)] = Field(
        default=21.0, description="[deg C]"
    )
    humidity: Annotated[Number, Field(ge=0, le=1)] = Field(
        default=0.45, description="Relative humidity, 0-1"
    )


class Obstacle(Frozen):
    """Something solid from the floor up: a column, a cupboard, a partial wall."""

    outline: Outline
    finish: FinishRef = Field(default=WALL_FINISH)
    height: Extent | None = Field(default=None, description="[m]; null reaches the ceiling")


def wall_names(count: int) -> tuple[str, ...]:
    """Names of walls that were given none."""
    return tuple(f"w{i}" for i in range(count))


def _usual_walls(data: dict[str, Any]) -> tuple[str, ...]:
    return wall_names(len(data["outline"]))


class Space(Frozen):
    """An extruded polygon with one flat ceiling.

    Wall *i* runs from corner *i* to corner *i* + 1, with the room on its left.
    """

    outline: Outline = Field(description="Counter-clockwise corners [m]")
    walls: Ids = Field(default_factory=_usual_walls, description="Name of each wall, in order")
    height: Annotated[float, LengthRule(at_least=1.8, at_most=30.0)] = Field(
        description="Floor to ceiling [m]"
    )
    ceiling: Ceiling = Field(default_factory=Ceiling)
    climate: Climate = Field(default_factory=Climate)
    scattering: Annotated[Number, Field(ge=0, le=1)] = Field(
        default=0.3, description="Share of reflected energy that is scattered, 0-1"
    )
    finishes: Finishes = Field(default_factory=Finishes)
    obstacles: dict[Id, Obstacle] = Field(default_factory=dict)
    isolation: dict[Id, Isolation] = Field(
        default_factory=dict, description="By wall name: what it keeps from the neighbours"
    )
    measured_reverberation: DecayTimes | None = Field(
        default=None, description="Decay time by octave, in place of the predicted one [s]"
    )

    def wall_finish(self, name: str) -> str | InlineFinish:
        """Finish of the wall called ``name``, its patches left out of account."""
        if name not in self.walls:
            raise KeyError(f"no wall {name!r}; walls are {', '.join(self.walls)}")
        walls = self.finishes.walls
        return walls.get(name, WALL_FINISH) if isinstance(walls, dict) else walls

    @property
    def floor_finish(self) -> str | InlineFinish:
        """Finish of the floor."""
        return self.finishes.floor

    @property
    def ceiling_finish(self) -> str | InlineFinish:
        """Finish of the ceiling: the one given, else the usual one of its kind."""
        return self.finishes.ceiling or CEILING_FINISH[self.ceiling.kind]

    def wall_ends(self, name: str) -> tuple[tuple[float, float], tuple[float, float]]:
        """First and last point of the wall called ``name``. [m]"""
        i = self.walls.index(name)
        return self.outline[i], self.outline[(i + 1) % len(self.outline)]

    def on_wall(self, name: str, along: float, height: float) -> tuple[float, float, float]:
        """Point of the wall called ``name``, so far from its first corner and so high. [m]"""
        (x0, y0), (x1, y1) = self.wall_ends(name)
        share = along / math.dist((x0, y0), (x1, y1))
        return (x0 + (x1 - x0) * share, y0 + (y1 - y0) * share, height)

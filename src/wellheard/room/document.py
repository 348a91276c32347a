"""The whole document."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Any, Literal, Self, TypeAlias

from pydantic import (
    AfterValidator,
    BeforeValidator,
    ConfigDict,
    Field,
    ModelWrapValidatorHandler,
    WithJsonSchema,
    model_validator,
)
from pydantic_core import PydanticCustomError

from wellheard.forms.fields import (
    Free,
    FreeMap,
    Frozen,
    Id,
    Line,
    Text,
    declared_unit,
    refuse,
    shown,
)
from wellheard.room.arrangements import Arrangement, Partition
from wellheard.room.choices import Choices, FarEnd
from wellheard.room.devices import Device
from wellheard.room.equipment import Equipment
from wellheard.room.finishes import InlineFinish
from wellheard.room.furniture import Furniture
from wellheard.room.links import Link
from wellheard.room.noise import Noise
from wellheard.room.overhead import Overhead
from wellheard.room.people import People
from wellheard.room.processing import Processing
from wellheard.room.project import Project, Site
from wellheard.room.space import Space
from wellheard.room.targets import Targets
from wellheard.units import Unit

SCHEMA = 1
"""Newest version of the document that this tool reads and writes."""

Basis: TypeAlias = Literal["told", "drawing", "measured", "assumed"]


def _version(value: Any) -> int:
    if isinstance(value, bool) or not isinstance(value, int):
        refuse(f"{shown(value)} is no version", f"wellheard: {SCHEMA}")
    if value > SCHEMA:
        refuse(
            f"version {value} is newer than this tool knows",
            f"up to {SCHEMA}; a newer Wellheard reads it, nothing was trimmed",
        )
    if value < 1:
        refuse(f"there is no version {value}", f"wellheard: {SCHEMA}")
    return value


def _extension(key: str) -> str:
    if not key.startswith("x-"):
        raise PydanticCustomError("unknown_field", "unknown field", {"key": key})
    return key


class Room(Frozen):
    """One room: what it is, who is in it, what is promised, and the design so far.

    Everything inside is SI. Read one with `wellheard.room.codec`; data that came as JSON goes
    through ``Room.model_validate``. Bare lengths in such data are in its ``units``; arguments
    that are already models, and ``model_copy``, are metres. Fields that begin with ``x-`` are
    kept in ``model_extra`` and ignored.
    """

    model_config = ConfigDict(extra="allow")
    __pydantic_extra__: dict[Annotated[str, AfterValidator(_extension)], Free]

    wellheard: Annotated[int, BeforeValidator(_version), WithJsonSchema({"const": SCHEMA})] = Field(
        description="Schema version"
    )
    title: Line = ""
    project: Project = Field(default_factory=Project)
    site: Site = Field(default_factory=Site)
    units: Unit = Field(default="m", description="Of every bare length in the document")
    space: Space = Field(description="Plan, height, ceiling and surfaces")
    furniture: dict[Id, Furniture] = Field(default_factory=dict)
    people: People = Field(description="At least one seat or standing area")
    noise: Noise = Field(default_factory=Noise)
    overhead: dict[Id, Overhead] = Field(default_factory=dict)
    equipment: dict[Id, Equipment] = Field(default_factory=dict)
    far_end: FarEnd = Field(default_factory=FarEnd)
    choices: Choices = Field(default_factory=Choices)
    devices: dict[Id, Device] = Field(default_factory=dict)
    links: dict[Id, Link] = Field(default_factory=dict)
    processing: dict[Id, Processing] = Field(default_factory=dict)
    partitions: dict[Id, Partition] = Field(default_factory=dict)
    arrangements: dict[Id, Arrangement] = Field(default_factory=dict)
    targets: Targets = Field(default_factory=Targets)
    basis: dict[Text, Basis] = Field(default_factory=dict)
    measurements: dict[Id, FreeMap] = Field(
        default_factory=dict, description="Sessions of measurement, attached later"
    )
    history: dict[Id, FreeMap] = Field(default_factory=dict, description="Decisions worth keeping")

    @model_validator(mode="wrap")
    @classmethod
    def _in_declared_units(cls, data: Any, handler: ModelWrapValidatorHandler[Self]) -> Self:
        if not isinstance(data, dict):
            return handler(data)
        unit: Unit = "ft" if data.get("units") == "ft" else "m"
        with declared_unit(unit):
            return handler(data)

    def references(self) -> Iterator[tuple[str, Literal["finish", "product", "cable"], str]]:
        """Every catalogue id in the document, as (path, kind of thing, id), in document order."""
        finishes = self.space.finishes
        named: list[tuple[str, str | InlineFinish | None]] = [
            ("space.finishes.floor", self.space.floor_finish),
            ("space.finishes.ceiling", self.space.ceiling_finish),
        ]
        if isinstance(finishes.walls, dict):
            named += [(f"space.finishes.walls.{wall}", f) for wall, f in finishes.walls.items()]
        else:
            named.append(("space.finishes.walls", finishes.walls))
        named += [
            (f"space.finishes.patches.{i}.finish", p.finish) for i, p in finishes.patches.items()
        ]
        named += [
            (f"space.obstacles.{i}.finish", o.finish) for i, o in self.space.obstacles.items()
        ]
        named += [(f"partitions.{i}.finish", p.finish) for i, p in self.partitions.items()]
        for path, finish in named:
            if isinstance(finish, str):
                yield path, "finish", finish
        for name in ("allow", "prefer", "exclude"):
            for i, product in enumerate(getattr(self.choices, name)):
                yield f"choices.{name}.{i}", "product", product
        for key, device in self.devices.items():
            yield f"devices.{key}.product", "product", device.product
        for key, link in self.links.items():
            if link.cable is not None:
                yield f"links.{key}.cable", "cable", link.cable

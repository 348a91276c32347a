"""What surfaces are made of: a catalogue id, or absorption written in the document."""

from __future__ import annotations

from typing import Annotated, Any, Literal, TypeAlias

from pydantic import (
    BeforeValidator,
    Discriminator,
    Field,
    PlainSerializer,
    SerializationInfo,
    Tag,
    WithJsonSchema,
)

from wellheard.bands import OCTAVES
from wellheard.forms.fields import (
    Extent,
    Frozen,
    Id,
    Length,
    Number,
    Outline,
    document_unit,
    refuse,
    shown,
)


def by_band(value: Any, *, optional: tuple[float, ...] = ()) -> dict[float, Any]:
    """Mapping by octave with its keys as numbers, complete from 125 Hz to 8 kHz.

    Keys may be numbers or, as in JSON, text. Values are left as found.
    """
    names = ", ".join(f"{band:g}" for band in (*optional, *OCTAVES))
    if not isinstance(value, dict):
        refuse(f"{shown(value)} is no set of octave figures", f"a mapping of the bands {names}")
    known = {float(band) for band in (*optional, *OCTAVES)}
    figures: dict[float, Any] = {}
    for key, figure in value.items():
        try:
            band = float(key) if not isinstance(key, bool) else -1.0
        except (TypeError, ValueError):
            band = -1.0
        if band not in known:
            refuse(f"{shown(key)} is no octave band here", f"the bands {names}")
        if band in figures:
            refuse(f"the band {band:g} is there twice", "each band once")
        figures[band] = figure
    missing = [band for band in OCTAVES if band not in figures]
    if missing:
        refuse(
            f"no figure for {', '.join(f'{band:g}' for band in missing)} Hz",
            f"one for each of {', '.join(f'{band:g}' for band in OCTAVES)} Hz",
        )
    return dict(sorted(figures.items()))


def _seven(value: Any) -> Any:
    if isinstance(value, list | tuple):
        if len(value) != len(OCTAVES):
            refuse(f"{len(value)} figures", "seven, for the octaves 125 to 8000 Hz")
        return tuple(value)
    return tuple(by_band(value).values())


def seven_schema(figure: dict[str, Any]) -> dict[str, Any]:
    """JSON Schema of seven octave figures, by band or in order."""
    return {
        "anyOf": [
            {
                "type": "object",
                "properties": {f"{band:g}": figure for band in OCTAVES},
                "required": [f"{band:g}" for band in OCTAVES],
                "additionalProperties": False,
            },
            {"type": "array", "items": figure, "minItems": 7, "maxItems": 7},
        ]
    }


def _bands_as_written(figures: tuple[float, ...], info: SerializationInfo) -> Any:
    if document_unit(info) is None:
        return list(figures)
    return {f"{band:g}": figure for band, figure in zip(OCTAVES, figures, strict=True)}


_Ratio = Annotated[Number, Field(ge=0, le=1.2)]
_Time = Annotated[Number, Field(gt=0.02, le=20)]

Absorption = Annotated[
    tuple[_Ratio, _Ratio, _Ratio, _Ratio, _Ratio, _Ratio, _Ratio],
    BeforeValidator(_seven),
    PlainSerializer(_bands_as_written),
    WithJsonSchema(seven_schema({"type": "number", "minimum": 0, "maximum": 1.2})),
]
"""Absorption coefficient by octave, 125 to 8000 Hz; chamber values may pass 1."""
DecayTimes = Annotated[
    tuple[_Time, _Time, _Time, _Time, _Time, _Time, _Time],
    BeforeValidator(_seven),
    PlainSerializer(_bands_as_written),
    WithJsonSchema(seven_schema({"type": "number", "exclusiveMinimum": 0.02, "maximum": 20})),
]
"""Decay time by octave, 125 to 8000 Hz. [s]"""


class InlineFinish(Frozen):
    """A finish that no catalogue has, written where it is used."""

    absorption: Absorption = Field(description="Random-incidence absorption by octave, 0-1.2")


def _finish_form(value: Any) -> str:
    return "=inline" if isinstance(value, dict | InlineFinish) else "=id"


FinishRef = Annotated[
    Annotated[Id, Tag("=id")] | Annotated[InlineFinish, Tag("=inline")],
    Discriminator(_finish_form),
]
"""A catalogue id, or absorption by octave."""


class Patch(Frozen):
    """A rectangle of another finish on a wall: window, door, board, panel."""

    wall: Id = Field(description="Name of the wall")
    from_: Length = Field(alias="from", description="Along the wall from its first corner [m]")
    to: Extent = Field(description="Along the wall from its first corner [m]")
    bottom: Length = Field(default=0.0, description="Above the floor [m]")
    top: Extent = Field(description="Above the floor [m]")
    finish: FinishRef


class LevelPatch(Frozen):
    """A part of the ceiling or of the floor with another finish: raft, tiles, carpet."""

    surface: Literal["ceiling", "floor"]
    outline: Outline = Field(description="Of its plan [m]")
    finish: FinishRef


def _patch_form(value: Any) -> str:
    level = "surface" in value if isinstance(value, dict) else isinstance(value, LevelPatch)
    return "=level" if level else "=wall"


AnyPatch: TypeAlias = Annotated[
    Annotated[Patch, Tag("=wall")] | Annotated[LevelPatch, Tag("=level")],
    Discriminator(_patch_form),
]
"""On a wall, or on what is level: told apart by ``surface``, which a wall patch does not have."""


def _walls_form(value: Any) -> str:
    if isinstance(value, InlineFinish) or (isinstance(value, dict) and "absorption" in value):
        return "=inline"
    return "=map" if isinstance(value, dict) else "=id"


class Finishes(Frozen):
    """What floor, ceiling and walls are made of."""

    floor: FinishRef = Field(default="carpet-tile")
    ceiling: FinishRef | None = Field(
        default=None, description="By the kind of ceiling unless given"
    )
    walls: Annotated[
        Annotated[Id, Tag("=id")]
        | Annotated[InlineFinish, Tag("=inline")]
        | Annotated[dict[Id, FinishRef], Tag("=map")],
        Discriminator(_walls_form),
    ] = Field(default="plasterboard", description="One finish, or one by wall name")
    patches: dict[Id, AnyPatch] = Field(default_factory=dict)

    @property
    def wall_patches(self) -> dict[str, Patch]:
        """Patches on walls, by id."""
        return {key: one for key, one in self.patches.items() if isinstance(one, Patch)}

    @property
    def level_patches(self) -> dict[str, LevelPatch]:
        """Patches of ceiling and floor, by id."""
        return {key: one for key, one in self.patches.items() if isinstance(one, LevelPatch)}

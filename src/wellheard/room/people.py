"""Who talks and listens, from where, which way they face, and how loudly."""

from __future__ import annotations

from typing import Annotated, Any, Literal, TypeAlias

from pydantic import BeforeValidator, Field, PlainSerializer, SerializationInfo, WithJsonSchema

from wellheard.forms.fields import (
    Frozen,
    Id,
    LengthRule,
    Number,
    Outline,
    PlanPoint,
    document_unit,
    refuse,
    shown,
)
from wellheard.room.assistive import AssistiveListening

Effort: TypeAlias = Literal["quiet", "normal", "raised", "loud"]
Directivity: TypeAlias = Literal["human", "omni"]
FacingWord: TypeAlias = Literal["display", "across"]


def _facings(value: Any) -> tuple[float | str, ...]:
    several = value if isinstance(value, list | tuple) else (value,)
    if not 1 <= len(several) <= 8:
        refuse(f"a list of {len(several)} facings", "one to eight")
    for one in several:
        if isinstance(one, bool) or not isinstance(one, int | float | str):
            refuse(f"{shown(one)} is no facing", "degrees, display, across, or a list of these")
        if isinstance(one, str) and one not in ("display", "across"):
            refuse(f"{shown(one)} is no facing", "degrees, display, across, or a list of these")
        if not isinstance(one, str) and not -360 <= one <= 360:
            refuse(f"{one:g} degrees", "-360 to 360, anticlockwise from +x")
    return tuple(one if isinstance(one, str) else float(one) for one in several)


def _facings_as_written(facings: tuple[float | str, ...], info: SerializationInfo) -> Any:
    one = document_unit(info) is not None and len(facings) == 1
    return facings[0] if one else list(facings)


_FACING_SCHEMA: dict[str, Any] = {
    "anyOf": [
        {"type": "number", "minimum": -360, "maximum": 360},
        {"enum": ["display", "across"]},
    ]
}
Facing = Annotated[
    tuple[float | FacingWord, ...],
    BeforeValidator(_facings),
    PlainSerializer(_facings_as_written),
    WithJsonSchema(
        {
            "anyOf": [
                *_FACING_SCHEMA["anyOf"],
                {"type": "array", "items": _FACING_SCHEMA, "minItems": 1, "maxItems": 8},
            ]
        }
    ),
]
"""Azimuths in degrees or words; always a tuple, of which the worst counts."""
MouthHeight = Annotated[float, LengthRule(at_least=0.5, at_most=2.2)]


class Seat(Frozen):
    """One place where somebody sits, talks and listens."""

    at: PlanPoint = Field(description="Head on the plan [m]")
    height: MouthHeight = Field(default=1.2, description="Mouth and ear height [m]")
    facing: Facing = Field(
        default=("across",),
        description="Degrees, 'display', 'across' or a list: the worst counts",
    )


class Standing(Frozen):
    """An area in which somebody stands and talks."""

    outline: Outline = Field(description="Where the head may be on the plan [m]")
    height: MouthHeight = Field(default=1.6, description="Mouth and ear height [m]")
    facing: Facing = Field(
        default=("across",),
        description="Degrees, 'display', 'across' or a list: the worst counts",
    )


class People(Frozen):
    """Everybody in the room."""

    effort: Effort = Field(default="normal", description="Vocal effort")
    directivity: Directivity = Field(default="human", description="omni is a measuring source")
    occupancy: Annotated[Number, Field(ge=0, le=1)] = Field(
        default=0.7, description="Share of seats taken, for absorption, 0-1"
    )
    seats: dict[Id, Seat] = Field(default_factory=dict)
    standing: dict[Id, Standing] = Field(default_factory=dict)
    assistive_listening: AssistiveListening | None = Field(
        default=None, description="What brings sound to hearing aids; null is none known"
    )

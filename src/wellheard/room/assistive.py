"""Assistive listening: what there is, and how many receivers a law asks for."""

from __future__ import annotations

from itertools import pairwise
from typing import Annotated, Any, Literal, Self, TypeAlias

from pydantic import BeforeValidator, Field, WithJsonSchema, model_validator

from wellheard.forms.fields import Frozen, Text, refuse, shown

MOST = 10_000
"""Largest number of seats or receivers that is taken for one."""

System: TypeAlias = Literal["loop", "infrared", "radio", "network"]


def _count(value: Any) -> int:
    if isinstance(value, bool) or not isinstance(value, int | float) or value != value // 1:
        refuse(f"{shown(value)} is no number of things", "a whole number")
    if not 0 <= value <= MOST:
        refuse(f"{value:g} is out of all reason", f"0 to {MOST}")
    return int(value)


Count = Annotated[
    int,
    BeforeValidator(_count),
    WithJsonSchema({"type": "integer", "minimum": 0, "maximum": MOST}),
]
"""How many of something."""


class AssistiveListening(Frozen):
    """The system that brings sound to hearing aids and receivers."""

    system: System
    feed: Text | None = Field(
        default=None,
        description="Where its sound comes from: device.port, or words; null is not known yet",
    )
    receivers: Count | None = Field(default=None, description="Receivers to lend; null is unknown")
    hearing_aid_compatible: Count | None = Field(
        default=None, description="Of these with a neck loop or the like; null is unknown"
    )

    @model_validator(mode="after")
    def _compatible_ones_are_receivers(self) -> Self:
        given, compatible = self.receivers, self.hearing_aid_compatible
        if given is not None and compatible is not None and compatible > given:
            refuse(
                f"{compatible} of {given} receivers are hearing-aid compatible",
                "at most as many as there are receivers",
            )
        return self


def _steps(value: Any) -> tuple[Any, ...]:
    if not isinstance(value, list | tuple) or not value:
        refuse(
            f"{shown(value)} is no table of receivers",
            "rows [seats up to, receivers, hearing-aid compatible ones]",
        )
    for row in value:
        if not isinstance(row, list | tuple) or len(row) != 3:
            refuse(
                f"{shown(row)} is no row of it",
                "three whole numbers, [seats up to, receivers, hearing-aid compatible ones]",
            )
    rows = [tuple(map(_count, row)) for row in value]
    for seats, receivers, compatible in rows:
        if compatible > receivers:
            refuse(
                f"{compatible} of {receivers} receivers up to {seats} seats are hearing-aid "
                "compatible",
                "at most as many as there are receivers",
            )
    for before, after in pairwise(rows):
        if after[0] <= before[0]:
            refuse(f"{after[0]} seats after {before[0]}", "more seats from row to row")
    return tuple(rows)


ReceiverSteps = Annotated[
    tuple[tuple[Count, Count, Count], ...],
    BeforeValidator(_steps),
    WithJsonSchema(
        {
            "type": "array",
            "minItems": 1,
            "items": {
                "type": "array",
                "items": {"type": "integer", "minimum": 0, "maximum": MOST},
                "minItems": 3,
                "maxItems": 3,
            },
        }
    ),
]
"""Rows: up to so many seats, so many receivers, so many of them hearing-aid compatible."""

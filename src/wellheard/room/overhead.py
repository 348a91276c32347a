"""What is on or under the ceiling already, and how far to stay away from it."""

from __future__ import annotations

from typing import Literal, TypeAlias

from pydantic import Field

from wellheard.forms.fields import Frozen, Length, Outline

OverheadKind: TypeAlias = Literal[
    "luminaire", "sprinkler", "beam", "duct", "air-outlet", "detector", "projector", "other"
]


class Overhead(Frozen):
    """A part of the ceiling where nothing may be mounted."""

    outline: Outline
    clearance: Length = Field(default=0.0, description="Kept free around it [m]")
    kind: OverheadKind = Field(default="other")
    bottom: Length | None = Field(
        default=None, description="Underside above the floor [m]; null is flush with the ceiling"
    )

"""Where equipment lives, and what the customer brings."""

from __future__ import annotations

from typing import Annotated, Literal, TypeAlias

from pydantic import Field

from wellheard.forms.fields import Frozen, Number, SpacePoint, Text

EquipmentKind: TypeAlias = Literal[
    "rack", "table-box", "wall-plate", "entry", "computer", "codec", "camera", "other"
]


class Equipment(Frozen):
    """A place that cables end at."""

    kind: EquipmentKind
    at: SpacePoint
    note: Text = Field(default="", description="How it connects, what it is for")
    rack_units: Annotated[Number, Field(ge=0, le=60)] | None = Field(
        default=None,
        description="Free height in a rack for what the design adds [1.75 in]; null is unknown",
    )

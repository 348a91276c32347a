"""Where equipment lives, and what the customer brings."""

from __future__ import annotations

from typing import Literal, TypeAlias

from pydantic import Field

from wellheard.forms.fields import Frozen, SpacePoint, Text

EquipmentKind: TypeAlias = Literal[
    "rack", "table-box", "wall-plate", "entry", "computer", "codec", "camera", "other"
]


class Equipment(Frozen):
    """A place that cables end at."""

    kind: EquipmentKind
    at: SpacePoint
    note: Text = Field(default="", description="How it connects, what it is for")

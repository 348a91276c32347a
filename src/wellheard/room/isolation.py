"""What a wall keeps from the neighbours, and how quiet they have it."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from wellheard.forms.fields import Frozen, Number
from wellheard.room.noise import Background


class Isolation(Frozen):
    """One wall as a neighbour meets it: its sound transmission class, and the noise beyond."""

    stc: Annotated[Number, Field(ge=0, le=90)] | None = Field(
        default=None,
        description="Sound transmission class (ASTM E413) or weighted reduction Rw as built, "
        "doors included; null is unknown",
    )
    outside: Background | None = Field(
        default=None, description="Steady noise on the other side; null is unknown"
    )

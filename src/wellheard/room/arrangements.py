"""Rooms that divide: partitions, and the arrangements one set of devices must satisfy."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from wellheard.forms.fields import Frozen, Ids, Number, PlanPoint
from wellheard.room.finishes import FinishRef


class Partition(Frozen):
    """A wall that opens."""

    from_: PlanPoint = Field(alias="from")
    to: PlanPoint
    finish: FinishRef = Field(default="wood-panel")
    stc: Annotated[Number, Field(ge=0, le=90)] | None = Field(
        default=None, description="Sound transmission class; null is unknown"
    )


class Arrangement(Frozen):
    """A state of the partitions."""

    open: Ids = ()
    closed: Ids = ()

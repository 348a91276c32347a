"""Signal processing that matters to the promise: where each stage runs and what it hears."""

from __future__ import annotations

from typing import Annotated, Literal, TypeAlias

from pydantic import Field

from wellheard.forms.fields import Frozen, Number, Port

ProcessKind: TypeAlias = Literal[
    "canceller",
    "mixer",
    "gain",
    "filter",
    "delay",
    "leveller",
    "limiter",
    "noise-reduction",
    "other",
]


class Processing(Frozen):
    """One stage of processing."""

    kind: ProcessKind
    on: Port = Field(description="Port whose signal it works on, device.port")
    reference: Port | None = Field(default=None, description="Port a canceller listens to")
    gain_db: Annotated[Number, Field(ge=-120, le=120)] | None = Field(
        default=None, description="[dB]"
    )
    delay_ms: Annotated[Number, Field(ge=0, le=2000)] | None = Field(
        default=None, description="[ms]"
    )

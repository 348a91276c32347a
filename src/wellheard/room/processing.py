"""Signal processing that matters to the promise: where each stage runs and what it hears."""

from __future__ import annotations

from typing import Annotated, Literal, TypeAlias

from pydantic import BeforeValidator, Field

from wellheard.forms.fields import Frozen, Number, Port, items

ProcessKind: TypeAlias = Literal[
    "canceller",
    "mixer",
    "gain",
    "volume",
    "mute",
    "lift",
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
    sources: Annotated[tuple[Port, ...], BeforeValidator(items)] = Field(
        default=(), description="Ports that a mixer or a lift takes in; empty is all of its device"
    )
    reference: Port | None = Field(default=None, description="Port a canceller listens to")
    gain_db: Annotated[Number, Field(ge=-120, le=120)] | None = Field(
        default=None, description="[dB]"
    )
    delay_ms: Annotated[Number, Field(ge=0, le=2000)] | None = Field(
        default=None, description="[ms]"
    )

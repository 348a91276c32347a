"""Signal processing that matters to the promise: where each stage runs and what it hears."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Annotated, Literal, TypeAlias

from pydantic import BeforeValidator, Field

from wellheard.forms.fields import Flag, Frozen, Number, Port, items

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
    on: Port = Field(
        description="Port whose signal it works on, device.port: a port of its product, or inside "
        "it far-end (what arrives from the far end) or send (what goes there)"
    )
    sources: Annotated[tuple[Port, ...], BeforeValidator(items)] = Field(
        default=(), description="Ports that a mixer or a lift takes in; empty is all of its device"
    )
    reference: Port | None = Field(
        default=None,
        description="Port a canceller listens to, behind all stages on that port: an output that "
        "plays, an input, far-end; null is what its device plays of the far end",
    )
    bypassed: Flag = Field(
        default=False,
        description="It is there and switched off, as a processor's own canceller where the "
        "microphone cancels",
    )
    gain_db: Annotated[Number, Field(ge=-120, le=120)] | None = Field(
        default=None, description="[dB]"
    )
    delay_ms: Annotated[Number, Field(ge=0, le=2000)] | None = Field(
        default=None, description="[ms]"
    )


def keeping(stages: Mapping[str, Processing], here: Callable[[str], bool]) -> dict[str, Processing]:
    """Stages all of whose devices are still there; ``here`` says so of a device.

    A mixer or a lift loses the sources that are gone. One that has lost them all goes too: left
    without any, it would take in everything.
    """

    def stays(port: str | None) -> bool:
        return port is None or here(port.partition(".")[0])

    kept = {}
    for name, stage in stages.items():
        sources = tuple(port for port in stage.sources if stays(port))
        if stays(stage.on) and stays(stage.reference) and bool(sources) == bool(stage.sources):
            same = sources == stage.sources
            kept[name] = stage if same else stage.model_copy(update={"sources": sources})
    return kept

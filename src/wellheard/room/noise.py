"""Steady noise: the background, and sources with a place."""

from __future__ import annotations

from typing import Annotated, Literal, Self, TypeAlias

from pydantic import BeforeValidator, Field, PlainSerializer, WithJsonSchema, model_validator

from wellheard.bands import NOISE_OCTAVES, OCTAVES
from wellheard.forms.fields import Frozen, Id, Number, SpacePoint, refuse
from wellheard.room.finishes import by_band

SourceKind: TypeAlias = Literal["air-outlet", "projector", "display", "fan-coil", "other"]

Level = Annotated[Number, Field(ge=-20, le=130)]
Levels = Annotated[
    dict[float, Level],
    BeforeValidator(lambda value: by_band(value, optional=NOISE_OCTAVES[:2])),
    PlainSerializer(lambda levels: {f"{band:g}": level for band, level in levels.items()}),
    WithJsonSchema(
        {
            "type": "object",
            "properties": {
                f"{band:g}": {"type": "number", "minimum": -20, "maximum": 130}
                for band in NOISE_OCTAVES
            },
            "required": [f"{band:g}" for band in OCTAVES],
            "additionalProperties": False,
        }
    ),
]
"""Level by nominal octave [Hz]: 125 to 8000, and 31.5 and 63 where known. [dB]"""


def _one_form(model: Frozen, forms: tuple[str, ...]) -> None:
    given = [name for name in forms if getattr(model, name) is not None]
    if len(given) != 1:
        refuse(
            f"{' and '.join(given)} together" if given else "no level",
            f"exactly one of {', '.join(forms)}",
        )


class Background(Frozen):
    """Steady noise that is everywhere the same, in exactly one form."""

    nc: Annotated[Number, Field(ge=0, le=75)] | None = Field(default=None, description="NC number")
    dba: Annotated[Number, Field(ge=0, le=100)] | None = Field(default=None, description="[dBA]")
    levels_db: Levels | None = Field(default=None, description="By octave [dB]")

    @model_validator(mode="after")
    def _in_one_form(self) -> Self:
        _one_form(self, ("nc", "dba", "levels_db"))
        return self


class NoiseSource(Frozen):
    """Something with a place that makes steady noise."""

    kind: SourceKind
    at: SpacePoint
    dba_at_1m: Annotated[Number, Field(ge=0, le=110)] | None = Field(
        default=None, description="Free-field level at 1 m [dBA]"
    )
    levels_db_at_1m: Levels | None = Field(
        default=None, description="Free-field level at 1 m by octave [dB]"
    )

    @model_validator(mode="after")
    def _in_one_form(self) -> Self:
        _one_form(self, ("dba_at_1m", "levels_db_at_1m"))
        return self


def nc_30() -> Background:
    """Background assumed where none is told: the usual limit for ceiling pickup."""
    return Background(nc=30.0)


class Noise(Frozen):
    """What is heard when nobody talks."""

    background: Background = Field(default_factory=nc_30)
    sources: dict[Id, NoiseSource] = Field(default_factory=dict)

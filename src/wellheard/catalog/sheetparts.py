"""Parts of a data sheet: what several fields make together, and how they are written."""

from __future__ import annotations

from typing import Annotated, Any, ClassVar, Literal, Self

from pydantic import BeforeValidator, ConfigDict, Field, model_validator

from wellheard.catalog import products
from wellheard.catalog.finishes import Octaves
from wellheard.catalog.ranges import ascends
from wellheard.catalog.sheetfields import Amount, Run, Share
from wellheard.forms.fields import Flag, Frozen, Id, Number, items, refuse


class Typed(Frozen):
    """Base of all that is typed from a data sheet; built when the first one is read."""

    model_config = ConfigDict(defer_build=True)


class Part(Typed):
    """Part of a data sheet; ``makes`` is what it becomes."""

    makes: ClassVar[type]

    def made(self) -> Any:
        """The dataclass that it becomes."""
        return self.makes(**self.values())

    def values(self) -> dict[str, Any]:
        """Its fields as that dataclass has them."""
        return {name: _made(getattr(self, name)) for name in type(self).model_fields}


def _made(value: Any) -> Any:
    if isinstance(value, Part):
        return value.made()
    return tuple(map(_made, value)) if isinstance(value, tuple) else value


def _octave(hertz: int, *, unit: str = "") -> Any:
    return Field(alias=str(hertz), description=f"{hertz} Hz{unit}")


class Absorption(Part):
    """Absorption by octave, as the document writes it."""

    makes = tuple
    b125: Amount = _octave(125)
    b250: Amount = _octave(250)
    b500: Amount = _octave(500)
    b1000: Amount = _octave(1000)
    b2000: Amount = _octave(2000)
    b4000: Amount = _octave(4000)
    b8000: Amount | None = Field(
        default=None, alias="8000", description="8000 Hz; repeats 4000 Hz where none is published"
    )

    def made(self) -> Octaves:
        """125 Hz to 8 kHz."""
        last = self.b4000 if self.b8000 is None else self.b8000
        return (self.b125, self.b250, self.b500, self.b1000, self.b2000, self.b4000, last)


class Directivity(Part):
    """Directivity index, or level, by octave. [dB]"""

    makes = tuple
    b125: Number = _octave(125, unit=" [dB]")
    b250: Number = _octave(250, unit=" [dB]")
    b500: Number = _octave(500, unit=" [dB]")
    b1000: Number = _octave(1000, unit=" [dB]")
    b2000: Number = _octave(2000, unit=" [dB]")
    b4000: Number = _octave(4000, unit=" [dB]")
    b8000: Number = _octave(8000, unit=" [dB]")

    def made(self) -> Octaves:
        """125 Hz to 8 kHz."""
        return (
            self.b125,
            self.b250,
            self.b500,
            self.b1000,
            self.b2000,
            self.b4000,
            self.b8000,
        )


class FittingSheet(Typed):
    """What one way of mounting takes."""

    labour: Amount = Field(description="Labour, in the product's currency")
    accessories: Annotated[tuple[Id, ...], BeforeValidator(items)] = ()


class ElementSheet(Part):
    """One capsule."""

    makes = products.Element
    azimuth_deg: Annotated[Number, Field(ge=-360, le=360)] = Field(description="[°] from the aim")
    elevation_deg: Annotated[Number, Field(ge=-90, le=90)] = Field(
        description="[°], negative downwards"
    )
    pattern_a: Annotated[Number, Field(ge=0, le=1)] = Field(
        description="1 omni, 0.5 cardioid, 0.366 supercardioid, 0 bidirectional"
    )


class BeamSheet(Part):
    """A beam that follows the talker."""

    makes = products.Beam
    directivity_index_db: Directivity = Field(description="By octave, {125: 1.5, …, 8000: 9}")
    steer_limit_deg: Annotated[Number, Field(gt=0, le=180)] = Field(
        description="Largest angle from the rest axis [°]"
    )
    elevation_deg: Annotated[Number, Field(ge=-90, le=90)] = Field(
        description="Of the rest axis [°]: −90 for a ceiling array, 0 for a bar"
    )
    design: products.BeamDesign = Field(
        default="delay-and-sum", description="Weights of the capsules, where positions are given"
    )


class LinkSheet(Part):
    """The connection to the next device."""

    makes = products.Link
    kind: Literal["twisted-pair", "balanced", "unbalanced", "network", "usb"] = Field(
        description="Kind of cable"
    )
    max_length: Run = Field(description="Longest cable [m]")


class BuiltInSheet(Part):
    """What else is in the housing of a combined device."""

    makes = products.BuiltIn
    max_level_db: Number = Field(description="Of its loudspeaker at 1 m [dB]")
    angle_deg: Annotated[Number, Field(gt=0, le=360)] = Field(description="−6 dB coverage [°]")
    coupling_db: Number = Field(
        description="Its loudspeaker at its own microphone re the level at 1 m [dB]"
    )
    canceller: Flag = Field(description="Whether it cancels its own echo")
    usb: Flag = Field(description="Whether it connects to a computer by itself")
    canceller_tail: Annotated[Number, Field(gt=0)] | None = None
    canceller_loss_db: Annotated[Number, Field(gt=0)] | None = None
    latency_ms: Amount = 0.0
    distortion: Share | None = None


class PolarSheet(Part):
    """How a loudspeaker falls off beside its axis."""

    makes = products.Polar
    angles_deg: Annotated[
        tuple[Annotated[Number, Field(ge=0, le=180)], ...], BeforeValidator(items)
    ] = Field(description="From the axis, ascending from 0 to 90 or more [°]")
    levels_db: Annotated[tuple[Directivity, ...], BeforeValidator(items)] = Field(
        description="Of each angle by octave, re the axis, {125: 0, …, 8000: -12} [dB]"
    )

    @model_validator(mode="after")
    def _all_round(self) -> Self:
        angles, levels = self.angles_deg, [one.made() for one in self.levels_db]
        if len(angles) != len(levels):
            refuse(f"{len(levels)} rows of levels for {len(angles)} angles", "one for each angle")
        if not angles or angles[0] != 0 or angles[-1] < 90 or not ascends(angles):
            refuse(
                f"angles {', '.join(f'{angle:g}' for angle in angles) or 'missing'}",
                "ascending from 0° to 90° at least, to 180° for what hangs or stands free",
            )
        if any(levels[0]):
            refuse("levels on the axis are not 0", "0 dB in every octave at 0°: levels re the axis")
        return self

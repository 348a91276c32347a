"""Data sheets as a user types them: each field with its limits, and the entry that it becomes.

Fields are named as in the catalogue's dataclasses. What has no default here is required: it is
what prediction, mounting or price needs. A default that is taken is listed, never silent.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Annotated, Any, Literal, Self, TypeAlias, get_args

from pydantic import BeforeValidator, Field, model_validator

from wellheard.catalog import products
from wellheard.catalog.finishes import Finish
from wellheard.catalog.products import (
    Accessory,
    Amplifier,
    AnyProduct,
    Cable,
    Extender,
    Jacket,
    Loudspeaker,
    Microphone,
    Mounting,
    PortKind,
    PowerFrom,
    Processor,
    Selects,
    Status,
    Switch,
)
from wellheard.catalog.sheetfields import (
    Amount,
    Amounts,
    Box,
    Count,
    Currency,
    Fits,
    Kinds,
    Lengths,
    Name,
    Names,
    Run,
    Share,
    Stated,
    Steps,
    Tile,
    Whole,
)
from wellheard.catalog.sheetparts import (
    Absorption,
    BeamSheet,
    BuiltInSheet,
    ElementSheet,
    FittingSheet,
    LinkSheet,
    Part,
    PolarSheet,
)
from wellheard.forms.fields import (
    Date,
    Extent,
    Flag,
    Frozen,
    Id,
    Length,
    Number,
    SpacePoint,
    Text,
    items,
    refuse,
)
from wellheard.forms.source import Path

Entry: TypeAlias = Finish | AnyProduct | Accessory | Cable


class Sheet(Part):
    """A whole data sheet; its id is its key."""

    name: Name = Field(description="Name for people")

    def entry(self, entry_id: str) -> Any:
        """The catalogue's entry of this id."""
        return self.makes(id=entry_id, **self.values())


class FinishSheet(Sheet):
    """A finish: what a surface absorbs."""

    makes = Finish
    absorption: Absorption = Field(description="By octave, {125: 0.1, …, 8000: 0.5}")
    per_item: Flag = False
    source: Stated = Field(description="Where the figures come from, to be found again")
    trust: Literal["L", "M", "C"] = "C"
    scattering: Annotated[Number, Field(ge=0, le=1)] | None = None
    note: Text = ""

    def values(self) -> dict[str, Any]:
        """Its fields, and whether 8 kHz is its own."""
        return {**super().values(), "extrapolated": self.absorption.b8000 is None}


class ProductSheet(Sheet):
    """What every product has."""

    price: Amount = Field(description="List price without tax")
    currency: Currency = Field(description="Three letters, as in EUR")
    price_date: Date = Field(description="The day the price was stated, as in 2026-01-31")
    size: Box = Field(description="[width, depth, height] [m]")
    weight_kg: Annotated[Number, Field(gt=0)] = Field(description="Weight [kg]")
    power_w: Amount = Field(description="Most that it draws [W]; 0 if none")
    fittings: dict[Mounting, FittingSheet] = Field(
        description="Each way to mount it, the usual one first: {ceiling: {labour: 95}}",
        min_length=1,
    )
    fits: Fits = ()
    cutout: Extent | None = None
    module: Tile | None = None
    plenum: Flag | None = None
    powered_from: PowerFrom = "none"
    poe_class: Annotated[Whole, Field(ge=1, le=8)] | None = None
    status: Status = "current"
    last_orders: Date | None = None
    successor: Id | None = None
    lead_time_weeks: Amount = 0.0
    colours: Names = ()
    warranty_years: Amount = 0.0
    minimum_firmware: Text = ""
    selectable: Flag = True
    by_name: Flag = False
    note: Text = ""

    def values(self) -> dict[str, Any]:
        """Its fields; fittings in order."""
        fittings = tuple(
            products.Fitting(mounting=mounting, accessories=one.accessories, labour=one.labour)
            for mounting, one in self.fittings.items()
        )
        return {**super().values(), "fittings": fittings, "successor": self.successor or ""}

    @model_validator(mode="after")
    def _power(self) -> Self:
        if self.poe_class is not None and self.powered_from != "network":
            refuse(
                f"poe_class {self.poe_class}, but powered_from {self.powered_from}",
                "poe_class only with powered_from: network",
            )
        return self


class MicrophoneSheet(ProductSheet):
    """A microphone."""

    makes = Microphone
    selects: Selects = Field(description="best element, steered beam or single")
    elements: Annotated[tuple[ElementSheet, ...], BeforeValidator(items)] = ()
    beam: BeamSheet | None = None
    boundary: Flag = False
    rated_distances: Steps = ()
    drops: Lengths = ()
    stem: Length = 0.0
    self_noise_dba: Number = Field(description="Equivalent noise [dBA]")
    overload_db: Number = Field(description="Highest sound level [dB]")
    link: LinkSheet = Field(description="{kind: twisted-pair, max_length: 30}")
    built_in: BuiltInSheet | None = None
    positions: Annotated[tuple[SpacePoint, ...], BeforeValidator(items)] = ()
    sensitivity_mv_pa: Annotated[Number, Field(gt=0)] | None = None
    sensitivity_dbfs: Number | None = None
    latency_ms: Amount = 0.0

    @model_validator(mode="after")
    def _directivity(self) -> Self:
        wanted = {
            "single": ("one element and no beam", len(self.elements) == 1 and not self.beam),
            "best element": (
                "two or more elements and no beam",
                len(self.elements) > 1 and not self.beam,
            ),
            "steered beam": ("a beam and no elements", bool(self.beam) and not self.elements),
        }
        words, right = wanted[self.selects]
        if not right:
            beam = "a beam" if self.beam else "no beam"
            count = len(self.elements)
            refuse(
                f"selects: {self.selects}, with {count} element{'' if count == 1 else 's'} "
                f"and {beam}",
                f"{words}: without it no directivity is known",
            )
        if self.selectable and not self.rated_distances:
            refuse(
                "no rated_distances",
                "three lengths, [clear, usual, last resort], or selectable: false",
            )
        return self


class ProcessorSheet(ProductSheet):
    """A processor."""

    makes = Processor
    microphone_ports: Count = Field(description="How many microphones connect")
    port_kinds: Kinds = Field(description="Kinds of link that its microphone ports take")
    canceller: Flag = Field(description="Whether it has an echo canceller")
    canceller_tail: Amount = Field(description="Longest echo it cancels [s]; 0 without canceller")
    automatic_mixer: Flag = Field(description="Whether it holds unused channels down")
    mixer: products.MixerKind | None = Field(
        default=None, description="How its automatic mixer does that; gating if it does not say"
    )
    line_inputs: Count = Field(description="Analogue inputs")
    outputs: Count = Field(description="Analogue outputs")
    usb: Flag = Field(description="Whether it connects to a computer")
    network_audio: Flag = Field(description="Whether it takes networked audio")
    latency_ms: Amount = Field(description="Microphone port to computer [ms]")
    rack_units: Amount = 0.0
    canceller_loss_db: Annotated[Number, Field(gt=0)] | None = None
    clip_dbu: Number | None = None
    preamp_noise_dbu: Number | None = None


class LoudspeakerSheet(ProductSheet):
    """A loudspeaker."""

    makes = Loudspeaker
    sensitivity_db: Number = Field(description="At 1 W and 1 m [dB]")
    max_level_db: Number = Field(description="At 1 m [dB]")
    angle_deg: Annotated[Number, Field(gt=0, le=360)] = Field(description="−6 dB coverage [°]")
    impedance: Annotated[Number, Field(gt=0)] = Field(description="Nominal [Ω]")
    taps_w: Amounts = ()
    drops: Lengths = ()
    active: Flag = False
    units: Annotated[Whole, Field(ge=1, le=2)] = 1
    latency_ms: Amount = 0.0
    distortion: Share | None = None
    polar: PolarSheet | None = None


class AmplifierSheet(ProductSheet):
    """An amplifier."""

    makes = Amplifier
    channels: Annotated[Whole, Field(ge=1, le=1024)] = Field(description="How many")
    channel_power_w: Annotated[Number, Field(gt=0)] = Field(description="Of each channel [W]")
    minimum_impedance: Amount = Field(description="Smallest load [Ω]; 0 where it feeds lines only")
    line_voltages: Amounts = ()
    network_audio: Flag = False
    rack_units: Amount = 0.0
    latency_ms: Amount = 0.0
    input_sensitivity_dbu: Number | None = None


class SwitchSheet(ProductSheet):
    """A network switch."""

    makes = Switch
    network_ports: Annotated[Whole, Field(ge=1, le=1024)] = Field(description="How many")
    poe_ports: Count = Field(description="Of these, how many supply power")
    supplies_class: Annotated[Whole, Field(ge=1, le=8)] | None = None
    poe_budget_w: Amount = Field(description="For all ports together [W]")
    managed: Flag = Field(description="Whether multicast filtering and priority can be set")
    fan: Flag = Field(description="Whether it has a fan")
    rack_units: Amount = 0.0


class ExtenderSheet(ProductSheet):
    """An extender."""

    makes = Extender
    carries: PortKind = Field(description="Kind of link at its two ends")
    over: PortKind = Field(description="Kind of cable in between")
    max_length: Run = Field(description="Longest run in between [m]")
    passes_power: Flag = Field(description="Whether power of the link comes through")
    latency_ms: Amount = 0.0


class CableSheet(Sheet):
    """A cable, by the metre or of fixed length."""

    makes = Cable
    carries: Annotated[Kinds, Field(min_length=1)] = Field(description="Kinds of link")
    price: Amount = Field(description="Of both ends made up, or of the cord")
    price_per_metre: Amount = Field(description="Of each metre; 0 for a cord")
    currency: Currency = Field(description="Three letters, as in EUR")
    price_date: Date = Field(description="The day the price was stated, as in 2026-01-31")
    jackets: Annotated[tuple[Jacket, ...], BeforeValidator(items)] = Field(
        description="plenum, riser, general: fire ratings it can be bought with", min_length=1
    )
    surcharges_per_metre: Amounts = ()
    outer_diameter: Extent = Field(description="[m]")
    awg: Annotated[Whole, Field(ge=0, le=40)] = Field(description="American wire gauge")
    pairs: Annotated[Whole, Field(ge=1, le=1000)] = Field(description="How many")
    max_length: Run = Field(description="Longest channel [m]")
    length: Run | None = None
    status: Status = "current"
    note: Text = ""

    @model_validator(mode="after")
    def _one_for_each(self) -> Self:
        ordered = [jacket for jacket in get_args(Jacket) if jacket in self.jackets]
        if list(self.jackets) != ordered:
            refuse(
                f"jackets: {', '.join(self.jackets)}",
                f"each once, the highest first: {', '.join(ordered)}",
            )
        if self.surcharges_per_metre and len(self.surcharges_per_metre) != len(self.jackets):
            refuse(
                f"{len(self.surcharges_per_metre)} surcharges_per_metre for "
                f"{len(self.jackets)} jackets",
                "one for each jacket, or none",
            )
        return self


class AccessorySheet(Sheet):
    """A part that a mounting needs."""

    makes = Accessory
    price: Amount = Field(description="Of one, without tax")
    price_per_metre: Amount = 0.0
    currency: Currency = Field(description="Three letters, as in EUR")
    fits: Fits = ()
    needed: Literal["always", "drop", "flush"] = "always"
    note: Text = ""


SHEETS: Mapping[str, type[Sheet]] = {
    "finishes": FinishSheet,
    "microphones": MicrophoneSheet,
    "processors": ProcessorSheet,
    "loudspeakers": LoudspeakerSheet,
    "amplifiers": AmplifierSheet,
    "switches": SwitchSheet,
    "extenders": ExtenderSheet,
    "cables": CableSheet,
    "accessories": AccessorySheet,
}
"""Data sheets by the name of their collection, which is also the catalogue's."""


def kind_of(entry: Entry) -> str:
    """Name of the collection that an entry belongs to.

    Examples
    --------
    >>> from wellheard.catalog.catalogue import Catalogue
    >>> kind_of(Catalogue.shipped().finish("carpet-tile"))
    'finishes'
    """
    return next(kind for kind, sheet in SHEETS.items() if sheet.makes is type(entry))


def taken(part: Frozen, at: Path = ()) -> Iterator[tuple[Path, Any]]:
    """Every default that a data sheet takes, with its path, in the order of the fields."""
    for name, info in type(part).model_fields.items():
        path = (*at, info.alias or name)
        value = getattr(part, name)
        if name not in part.model_fields_set:
            yield path, value
        elif isinstance(value, Frozen):
            yield from taken(value, path)
        elif isinstance(value, dict):
            for key, below in value.items():
                yield from taken(below, (*path, key))

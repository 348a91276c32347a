"""Microphones, loudspeakers and the electronics behind them, each placed or housed."""

from __future__ import annotations

from typing import Annotated, Literal, TypeAlias

from pydantic import Field

from wellheard.forms.fields import Date, Flag, Frozen, Id, Number, SpacePoint

DeviceKind: TypeAlias = Literal[
    "microphone", "loudspeaker", "combined", "processor", "amplifier", "bridge", "switch", "other"
]


class Installed(Frozen):
    """Since when a device has been there."""

    date: Date | None = None


class Device(Frozen):
    """One device of the design, or one the customer already owns."""

    kind: DeviceKind
    product: Id = Field(description="Catalogue id")
    at: SpacePoint | None = Field(default=None, description="Acoustic centre [m]")
    equipment: Id | None = Field(default=None, description="Equipment it is housed in")
    aim_deg: Annotated[Number, Field(ge=-360, le=360)] | None = Field(
        default=None, description="Azimuth of its axis, anticlockwise from +x [deg]; null is down"
    )
    rotation_deg: Annotated[Number, Field(ge=-360, le=360)] = Field(
        default=0.0, description="About the vertical, anticlockwise [deg]"
    )
    locked: Flag = Field(default=False, description="No solver moves it")
    owned: Flag = Field(default=False, description="The customer has it: costs nothing")
    installed: Installed | None = None
    colour: Id | None = Field(
        default=None, description="One that its product comes in; null: as choices.colour says"
    )

"""Cables from port to port."""

from __future__ import annotations

from typing import Annotated

from pydantic import BeforeValidator, Field

from wellheard.forms.fields import Flag, Frozen, Id, LengthRule, Port, SpacePoint, items


class Link(Frozen):
    """One cable."""

    from_: Port = Field(
        alias="from", description="device.port; computers and codecs of the equipment count"
    )
    to: Port = Field(description="device.port, as from; which end is which makes no difference")
    cable: Id | None = Field(default=None, description="Catalogue id; null is not chosen yet")
    length: Annotated[float, LengthRule(above=0.0, at_most=2000.0)] | None = Field(
        default=None, description="Including service loops [m]; null is not known yet"
    )
    locked: Flag = False
    route: Annotated[tuple[SpacePoint, ...], BeforeValidator(items)] | None = Field(
        default=None, description="Corners of the run [m]"
    )

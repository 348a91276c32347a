"""Products: what a device, a cable or an accessory of the catalogue is.

Every product, product name and price in the shipped catalogue is invented and generic: figures
such as a working engineer expects, of no real device.
"""

from __future__ import annotations

from typing import TypeAlias

from wellheard.catalog.electronics import Amplifier, Extender, MixerKind, Processor, Switch
from wellheard.catalog.loudspeakers import Loudspeaker, Polar
from wellheard.catalog.microphones import (
    Beam,
    BeamDesign,
    BuiltIn,
    Element,
    Link,
    Microphone,
    Selects,
)
from wellheard.catalog.parts import Accessory, Cable, Jacket
from wellheard.catalog.ports import Flow, Port, PortKind, Signal
from wellheard.catalog.product import (
    CEILING_FITS,
    FITS,
    MOUNTINGS,
    Fit,
    Fitting,
    Mounting,
    PowerFrom,
    Product,
    Status,
    Vector,
)

__all__ = [
    "CEILING_FITS",
    "FITS",
    "MOUNTINGS",
    "Accessory",
    "Amplifier",
    "AnyProduct",
    "Beam",
    "BeamDesign",
    "BuiltIn",
    "Cable",
    "Element",
    "Extender",
    "Fit",
    "Fitting",
    "Flow",
    "Jacket",
    "Link",
    "Loudspeaker",
    "Microphone",
    "MixerKind",
    "Mounting",
    "Polar",
    "Port",
    "PortKind",
    "PowerFrom",
    "Processor",
    "Product",
    "Selects",
    "Signal",
    "Status",
    "Switch",
    "Vector",
]

AnyProduct: TypeAlias = Microphone | Processor | Loudspeaker | Amplifier | Switch | Extender

"""Loudspeakers, as far as distances, levels and wiring need them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

from wellheard.catalog.ports import Port, PortKind
from wellheard.catalog.product import Product


@dataclass(frozen=True, kw_only=True)
class Loudspeaker(Product):
    """A loudspeaker, as far as distances and levels need it.

    Parameters
    ----------
    sensitivity_db : float
        At 1 W and 1 m. [dB]
    max_level_db : float
        At 1 m. [dB]
    angle_deg : float
        Nominal −6 dB coverage at 2–4 kHz. [°]
    impedance : float
        Nominal. [Ω]
    taps_w : tuple of floats
        Transformer taps for constant-voltage lines; empty if it has none. [W]
    active : bool
        It has its own amplifier; its sensitivity and impedance are then those of its driver.
    drops : tuple of floats
        Allowed lengths below the ceiling, ascending, 0 is flush; empty if it never hangs. [m]
    """

    kind: ClassVar[Literal["loudspeaker"]] = "loudspeaker"
    sensitivity_db: float
    max_level_db: float
    angle_deg: float
    impedance: float
    taps_w: tuple[float, ...] = ()
    active: bool = False
    drops: tuple[float, ...] = ()

    @property
    def device_kinds(self) -> tuple[str, ...]:
        """Kinds that a document may call such a device."""
        return ("loudspeaker",)

    @property
    def ports(self) -> tuple[Port, ...]:
        """A line input where it has its own amplifier, else what its amplifier feeds."""
        if self.active:
            if self.powered_from == "network":
                return (Port(name="in", kinds=("network",), signal="audio", flow="both"),)
            return (Port(name="in", kinds=("balanced", "unbalanced"), signal="line", flow="in"),)
        kinds: tuple[PortKind, ...] = ("low-impedance",)
        if self.taps_w:
            kinds = ("low-impedance", "constant-voltage")
        return (Port(name="in", kinds=kinds, signal="loudspeaker", flow="in"),)

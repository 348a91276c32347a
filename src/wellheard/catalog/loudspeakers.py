"""Loudspeakers, as far as distances, levels and wiring need them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal

from wellheard.catalog.finishes import Octaves
from wellheard.catalog.ports import Port, PortKind
from wellheard.catalog.product import Hanging


@dataclass(frozen=True, kw_only=True)
class Polar:
    """How a loudspeaker falls off beside its axis, taken as the same all round it.

    Parameters
    ----------
    angles_deg : tuple of A floats
        From the axis, ascending from 0 to 90 or more. [°]
    levels_db : tuple of A times 7 floats
        125 Hz to 8 kHz, re the axis, whose own are 0. [dB]
    """

    angles_deg: tuple[float, ...]
    levels_db: tuple[Octaves, ...]


@dataclass(frozen=True, kw_only=True)
class Loudspeaker(Hanging):
    """A loudspeaker, as far as distances and levels need it.

    Parameters
    ----------
    sensitivity_db : float
        At 1 W and 1 m, of each of its units. [dB]
    max_level_db : float
        At 1 m, of all its units together. [dB]
    angle_deg : float
        Nominal −6 dB coverage at 2–4 kHz; what radiates off axis where there is no polar. [°]
    impedance : float
        Nominal. [Ω]
    taps_w : tuple of floats
        Transformer taps for constant-voltage lines; empty if it has none. [W]
    active : bool
        It has its own amplifier; its sensitivity and impedance are then those of its driver.
    units : int
        Sources that one of it is: a pair is 2. Price and weight are of all, size is of each.
    latency_ms : float
        From its input to the air, of one that takes audio from the network. [ms]
    distortion : float or None
        Total harmonic distortion 12 dB below ``max_level_db``, where speech just keeps its peaks,
        200 Hz and up; ratio, 0.01 is 1 %. None: its sheet does not say.
    polar : Polar or None
        None: nothing but ``angle_deg`` is known.
    """

    kind: ClassVar[Literal["loudspeaker"]] = "loudspeaker"
    sensitivity_db: float
    max_level_db: float
    angle_deg: float
    impedance: float
    taps_w: tuple[float, ...] = ()
    active: bool = False
    units: int = 1
    latency_ms: float = 0.0
    distortion: float | None = None
    polar: Polar | None = None

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

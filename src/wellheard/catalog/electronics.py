"""What sits behind microphones and loudspeakers: processors, amplifiers, switches, extenders."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Literal, TypeAlias, cast

from wellheard.catalog.ports import Port, PortKind, Signal
from wellheard.catalog.product import Product

MixerKind: TypeAlias = Literal["gating", "gain-sharing"]


@dataclass(frozen=True, kw_only=True)
class Processor(Product):
    """A processor: microphone links in, one mixed and echo-cancelled signal out.

    Parameters
    ----------
    microphone_ports : int
    port_kinds : tuple of str
        Link kinds its microphone ports take.
    canceller : bool
        Has an echo canceller.
    canceller_tail : float
        Longest echo it cancels; 0 without canceller. [s]
    canceller_loss_db : float or None
        Echo loss that its canceller adds in single talk, linear cancelling and suppression of the
        residue together; None: it has none, or its sheet does not say. [dB]
    automatic_mixer : bool
        Holds unused channels down.
    mixer : {"gating", "gain-sharing"} or None
        How: opening one channel, or giving each its share of one open channel. None where it mixes
        nothing, or its sheet does not say; see `sharing`.
    line_inputs, outputs : int
        Analogue.
    usb, network_audio : bool
    latency_ms : float
        Microphone port to computer. [ms]
    rack_units : float
        0 if it needs no rack space.
    clip_dbu : float or None
        Level at its analogue inputs and outputs that is digital full scale, at 0 dB gain; None: it
        has none, or its sheet does not say. [dBu]
    preamp_noise_dbu : float or None
        Equivalent input noise of its analogue microphone ports, 150 Ω, 20 Hz to 20 kHz; None: it
        has none, or its sheet does not say. [dBu]
    """

    kind: ClassVar[Literal["processor"]] = "processor"
    microphone_ports: int
    port_kinds: tuple[str, ...]
    canceller: bool
    canceller_tail: float
    automatic_mixer: bool
    line_inputs: int
    outputs: int
    usb: bool
    network_audio: bool
    latency_ms: float
    rack_units: float
    mixer: MixerKind | None = None
    canceller_loss_db: float | None = None
    clip_dbu: float | None = None
    preamp_noise_dbu: float | None = None

    @property
    def sharing(self) -> MixerKind | None:
        """Kind of its automatic mixer; gating, the usual one, where its sheet does not say.

        None where it has no automatic mixer.
        """
        return (self.mixer or "gating") if self.automatic_mixer else None

    @property
    def device_kinds(self) -> tuple[str, ...]:
        """Kinds that a document may call such a device."""
        return ("processor", "bridge") if self.usb else ("processor",)

    @property
    def ports(self) -> tuple[Port, ...]:
        """Microphone ports by kind of signal, line, computer and network, as far as it has them."""
        found: list[Port] = []
        analogue = tuple(k for k in self.port_kinds if k in ("balanced", "unbalanced"))
        digital = tuple(k for k in self.port_kinds if k not in analogue)
        if self.microphone_ports:
            found.append(
                Port(
                    name="mic",
                    kinds=cast(tuple[PortKind, ...], (*digital, *analogue)),
                    signal="microphone",
                    flow="in",
                    count=self.microphone_ports,
                )
            )
        if self.line_inputs:
            found.append(
                Port(
                    name="line-in",
                    kinds=("balanced", "unbalanced"),
                    signal="line",
                    flow="in",
                    count=self.line_inputs,
                )
            )
        if self.outputs:
            found.append(
                Port(
                    name="line-out",
                    kinds=("balanced",),
                    signal="line",
                    flow="out",
                    count=self.outputs,
                )
            )
        if self.usb:
            found.append(Port(name="usb", kinds=("usb",), signal="audio", flow="both"))
        if self.network_audio:
            found.append(Port(name="network", kinds=("network",), signal="audio", flow="both"))
        return tuple(found)


@dataclass(frozen=True, kw_only=True)
class Amplifier(Product):
    """A power amplifier for loudspeakers.

    Parameters
    ----------
    channels : int
    channel_power_w : float
        Continuous, of each channel into ``minimum_impedance`` or on a line. [W]
    minimum_impedance : float
        Smallest load of a channel; 0 where it feeds lines only. [Ω]
    line_voltages : tuple of floats
        Constant-voltage lines it feeds, such as 70.7 and 100; empty if none. [V]
    network_audio : bool
        Takes networked audio as well as line level.
    rack_units : float
        0 if it needs no rack space.
    latency_ms : float
        From its input to its output. [ms]
    input_sensitivity_dbu : float or None
        Level at its line input that gives its full power, its own gain fully open; what comes over
        the network gives that at digital full scale. None: its sheet does not say. [dBu]
    """

    kind: ClassVar[Literal["amplifier"]] = "amplifier"
    channels: int
    channel_power_w: float
    minimum_impedance: float
    line_voltages: tuple[float, ...] = ()
    network_audio: bool = False
    rack_units: float
    latency_ms: float = 0.0
    input_sensitivity_dbu: float | None = None

    @property
    def device_kinds(self) -> tuple[str, ...]:
        """Kinds that a document may call such a device."""
        return ("amplifier",)

    @property
    def ports(self) -> tuple[Port, ...]:
        """Line inputs, loudspeaker outputs, and the network where it has it."""
        kinds: list[PortKind] = []
        if self.minimum_impedance:
            kinds.append("low-impedance")
        if self.line_voltages:
            kinds.append("constant-voltage")
        found = [
            Port(
                name="in",
                kinds=("balanced", "unbalanced"),
                signal="line",
                flow="in",
                count=self.channels,
            ),
            Port(
                name="out",
                kinds=tuple(kinds),
                signal="loudspeaker",
                flow="out",
                count=self.channels,
            ),
        ]
        if self.network_audio:
            found.append(Port(name="network", kinds=("network",), signal="audio", flow="both"))
        return tuple(found)


@dataclass(frozen=True, kw_only=True)
class Switch(Product):
    """A network switch.

    Parameters
    ----------
    network_ports : int
    poe_ports : int
        Of these, how many supply power.
    supplies_class : int or None
        Highest IEEE 802.3 class that each of them supplies.
    poe_budget_w : float
        For all of them together. [W]
    managed : bool
        Multicast filtering and priority can be set, as networked audio wants.
    fan : bool
        It is heard.
    rack_units : float
    """

    kind: ClassVar[Literal["switch"]] = "switch"
    network_ports: int
    poe_ports: int
    supplies_class: int | None
    poe_budget_w: float
    managed: bool
    fan: bool
    rack_units: float

    @property
    def device_kinds(self) -> tuple[str, ...]:
        """Kinds that a document may call such a device."""
        return ("switch",)

    @property
    def ports(self) -> tuple[Port, ...]:
        """Its network ports."""
        return (
            Port(
                name="network",
                kinds=("network",),
                signal="data",
                flow="both",
                count=self.network_ports,
            ),
        )


@dataclass(frozen=True, kw_only=True)
class Extender(Product):
    """A pair of boxes, or one in the middle, that carries a link farther than its own limit.

    Parameters
    ----------
    carries : str
        Kind of link at its two ends.
    over : str
        Kind of cable in between.
    max_length : float
        Longest run in between. [m]
    passes_power : bool
        Power of the link comes through.
    latency_ms : float
        [ms]
    """

    kind: ClassVar[Literal["extender"]] = "extender"
    carries: PortKind
    over: PortKind
    max_length: float
    passes_power: bool
    latency_ms: float

    @property
    def device_kinds(self) -> tuple[str, ...]:
        """Kinds that a document may call such a device."""
        return ("other",)

    @property
    def ports(self) -> tuple[Port, ...]:
        """One end in, the other out; of a pair of boxes also the cable of its own between them."""
        ends = tuple(
            Port(name=name, kinds=(self.carries,), signal=_extended(self.carries), flow="both")
            for name in ("near", "far")
        )
        if self.over == self.carries:
            return ends
        between = tuple(
            Port(name=name, kinds=(self.over,), signal="extension", flow="both")
            for name in ("run-near", "run-far")
        )
        return (*ends, *between)


def _extended(kind: PortKind) -> Signal:
    """What an extender for a kind of link passes on."""
    signals: dict[PortKind, Signal] = {
        "balanced": "microphone",
        "unbalanced": "microphone",
        "hdmi": "picture",
        "control": "control",
    }
    return signals.get(kind, "audio")

"""Ports: what a product can be connected by."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias

PortKind: TypeAlias = Literal[
    "twisted-pair",
    "balanced",
    "unbalanced",
    "network",
    "usb",
    "low-impedance",
    "constant-voltage",
    "hdmi",
    "control",
]
"""What runs in the cable of a port: a maker's own digital link on twisted pair, balanced or
unbalanced analogue, networked audio or data, USB, loudspeaker lines, pictures over HDMI, or serial
control (RS-232)."""
Signal: TypeAlias = Literal[
    "microphone", "line", "loudspeaker", "audio", "data", "picture", "control", "extension"
]
"""What a port passes on: microphone or line level, loudspeaker power, digital audio, data,
pictures, control; or what runs between the two boxes of an extender, which nothing else takes."""
SILENT: frozenset[Signal] = frozenset({"picture", "control", "extension"})
"""Signals that are no part of a voice's way."""
Flow: TypeAlias = Literal["in", "out", "both"]


@dataclass(frozen=True, kw_only=True)
class Port:
    """Ports of one sort on a product.

    Parameters
    ----------
    name : str
        As written in ``links`` before the number, ``mic`` for mic-1, mic-2, …; alone where there
        is one.
    kinds : tuple of str
        Kinds of cable any of them takes.
    signal, flow : str
        What passes, and which way: out of the product, into it, or both.
    count : int
    """

    name: str
    kinds: tuple[PortKind, ...]
    signal: Signal
    flow: Flow
    count: int = 1

    @property
    def names(self) -> tuple[str, ...]:
        """Name of every single port.

        Examples
        --------
        >>> Port(name="mic", kinds=("balanced",), signal="microphone", flow="in", count=2).names
        ('mic-1', 'mic-2')
        """
        if self.count == 1:
            return (self.name,)
        return tuple(f"{self.name}-{i}" for i in range(1, self.count + 1))

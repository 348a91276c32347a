"""What wiring is asked: who wants a port, which electronics have one, and the ways between.

A task is plain data. Whoever has it can count every answer to it, which is what the tests do.

::

    microphones ──► hubs ══ root ──► computer        branch hubs hang on the root
                     │        ├────► amplifiers ──► loudspeakers
    network ends ──► switches ┘      line out or network
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal, TypeAlias

from wellheard.catalog.parts import Jacket

Point: TypeAlias = tuple[float, float, float]


@dataclass(frozen=True)
class Leg:
    """One cable of a way.

    Parameters
    ----------
    cable : str
        Catalogue id.
    jacket : {"plenum", "riser", "general"} or None
        None for cords.
    length : float
        Service loops included. [m]
    route : tuple of points
        Corners; empty where it runs as it likes.
    cents : int
        Cable and work.
    """

    cable: str
    jacket: Jacket | None
    length: float
    route: tuple[Point, ...]
    cents: int


@dataclass(frozen=True)
class Way:
    """How one port is led to another: a cable, or cables with an extender between them.

    Parameters
    ----------
    legs : tuple of Leg
        One; with a repeater two, before and behind it; with a pair of boxes three, a cord at
        each end and the run between the boxes. None: a cable of the document that stays.
    extender : str
        Product between them; empty for none.
    extender_cents : int
        Installed.
    housed : str
        Equipment that the extender goes into; empty for none.
    at : point or None
        Where a repeater sits, or the near one of two boxes that nothing houses. [m]
    turned : bool
        The near one of two boxes is at the second end.
    assumed : tuple of str
        What was taken to be so, as sentences.
    """

    legs: tuple[Leg, ...] = ()
    extender: str = ""
    extender_cents: int = 0
    housed: str = ""
    at: Point | None = None
    turned: bool = False
    assumed: tuple[str, ...] = ()

    @property
    def cents(self) -> int:
        """Installed price."""
        return self.extender_cents + sum(leg.cents for leg in self.legs)

    @property
    def electronics(self) -> int:
        """Extenders in it."""
        return int(bool(self.extender))

    @property
    def millimetres(self) -> int:
        """Of all its cables together."""
        return sum(round(1000 * leg.length) for leg in self.legs)


STAYS = Way()
"""A cable of the document that is not touched."""


@dataclass(frozen=True)
class Site:
    """Electronics of one product in one place: one that is there, or as many as are bought.

    Parameters
    ----------
    key : str
        Id of the device that is there, else product and place.
    product : str
    place : str
        What its cables end at: the device itself, or the equipment it is housed in.
    there : bool
    cents : int
        Of one, installed; 0 of one that is there.
    most : int
        How many at most; 1 of one that is there.
    counts : bool
        A device more, where it is used: neither owned nor locked.
    """

    key: str
    product: str
    place: str
    there: bool
    cents: int
    most: int
    counts: bool = True


@dataclass(frozen=True)
class Hub:
    """A processor that ends microphones, with what is free of it.

    Parameters
    ----------
    site : Site
    microphones, line_inputs, outputs : int
        Ports.
    network : bool
    computer : Way or None
        From its USB port to the computer or codec; None: it cannot be the root.
    computer_end : str
        Port there.
    power : (int, int)
        Class of IEEE 802.3 and milliwatts that a switch keeps for each; 0: powered otherwise.
    """

    site: Site
    microphones: int
    line_inputs: int
    outputs: int
    network: bool
    computer: Way | None
    computer_end: str
    power: tuple[int, int] = (0, 0)

    @property
    def branches(self) -> bool:
        """Whether it can hang on another hub: its mix goes out, the far end comes in."""
        return self.line_inputs > 0 and self.outputs > 0


@dataclass(frozen=True)
class AmplifierSite:
    """A power amplifier, with the channels that are free.

    Parameters
    ----------
    site : Site
    channels : int
    network : bool
        It takes what it plays from the network too.
    fed : bool
        A cable that stays feeds it already.
    power : (int, int)
        Class of IEEE 802.3 and milliwatts that a switch keeps for each; 0: powered otherwise.
    """

    site: Site
    channels: int
    network: bool
    fed: bool
    power: tuple[int, int] = (0, 0)

    @property
    def heard(self) -> str:
        """Column that counts those which take what they play from the network.

        One that is powered from there is on it in any case, and may be fed by lines all the same.
        """
        return "hears" if self.power[0] else "on-network"


@dataclass(frozen=True)
class SwitchSite:
    """One network switch.

    Parameters
    ----------
    site : Site
        ``most`` is 1.
    ports, powered_ports : int
        Free ones, and those of them that supply power.
    power_class : int
        Highest that a port supplies; 0 is none.
    budget_mw : int
        Left for the devices, each with its reserve. [mW]
    building : Way
        Cable to where the network of the building comes in; none where that is unknown.
    building_end : str
        Port there; empty where it is unknown.
    """

    site: Site
    ports: int
    powered_ports: int
    power_class: int
    budget_mw: int
    building: Way
    building_end: str


@dataclass(frozen=True)
class MicrophoneNeed:
    """A microphone that ends at a hub.

    Parameters
    ----------
    id, port : str
        Device, and the port that its cable leaves.
    network : bool
        It comes over the network, and takes a channel of its hub all the same.
    ways : mapping of str to Way
        By hub; of one on the network the hubs that hear it, without cables.
    why_not : str
        Where no hub can be reached: why.
    """

    id: str
    port: str
    network: bool
    ways: Mapping[str, Way]
    why_not: str = ""


@dataclass(frozen=True)
class Feed:
    """One way for channels of an amplifier site to feed loudspeakers of a product.

    Parameters
    ----------
    key : str
    amplifier, loudspeaker : str
        Site and product.
    tap_w : float or None
        None at low impedance. [W]
    per_channel : int
        Units, of which a pair is two, on one channel.
    """

    key: str
    amplifier: str
    loudspeaker: str
    tap_w: float | None
    per_channel: int


@dataclass(frozen=True)
class PassiveNeed:
    """A loudspeaker without an amplifier of its own.

    ``ways`` has, by feed, the cable of each of its units.
    """

    id: str
    port: str
    product: str
    units: int
    ways: Mapping[str, Way]
    why_not: str = ""


@dataclass(frozen=True)
class LineNeed:
    """A loudspeaker with an amplifier of its own that takes line level; ``ways`` by hub."""

    id: str
    port: str
    ways: Mapping[str, Way]
    why_not: str = ""


@dataclass(frozen=True)
class NetworkNeed:
    """A device that lives on the network.

    Parameters
    ----------
    id, port : str
    of : {"microphone", "loudspeaker", "other"}
        A microphone wants its switch only where a hub hears it; a loudspeaker is fed by the root.
    power_class : int
        IEEE 802.3; 0: powered otherwise.
    need_mw : int
        What the switch keeps for it, reserve or cable losses included. [mW]
    ways : mapping of str to Way
        By place of switches.
    """

    id: str
    port: str
    of: Literal["microphone", "loudspeaker", "other"]
    power_class: int
    need_mw: int
    ways: Mapping[str, Way]
    why_not: str = ""


@dataclass(frozen=True)
class StraightNeed:
    """What goes to one of a few ports by a cable of its own: USB, a camera, a picture.

    Parameters
    ----------
    id, port : str
    ways : mapping of str to Way
        By the port at the other end.
    """

    id: str
    port: str
    sort: Literal["usb", "camera", "picture"]
    ways: Mapping[str, Way]
    why_not: str = ""


@dataclass(frozen=True)
class Task:
    """All of it.

    Parameters
    ----------
    hubs, amplifiers, switches : tuples of sites
    microphones, passive, line, network, straight : tuples of needs
    feeds : tuple of Feed
    room_for : mapping of str to int
        Cables that each far port of `straight` takes.
    between_hubs : mapping of (str, str) to (Way, Way)
        From a branch to the root, and back.
    to_amplifier : mapping of (str, str) to Way
        Of one channel: by amplifier site and hub.
    hub_to_switch, amplifier_to_switch : mapping of (str, str) to Way
        By site and place of switches.
    between_switches : mapping of (str, str) to Way
        By switch and the switch it hangs on.
    spare : mapping of str to (int, int)
        Extenders of the document that no cable that stays is on, by product: those that are owned
        or locked, and others. They are used before one is bought.
    hints : frozenset of frozenset of str
        Pairs of devices that an unlocked link of the document joins: preferred among equals.
    assumed : tuple of str
    """

    hubs: tuple[Hub, ...]
    amplifiers: tuple[AmplifierSite, ...]
    switches: tuple[SwitchSite, ...]
    microphones: tuple[MicrophoneNeed, ...]
    feeds: tuple[Feed, ...]
    passive: tuple[PassiveNeed, ...]
    line: tuple[LineNeed, ...]
    network: tuple[NetworkNeed, ...]
    straight: tuple[StraightNeed, ...]
    room_for: Mapping[str, int]
    between_hubs: Mapping[tuple[str, str], tuple[Way, Way]]
    to_amplifier: Mapping[tuple[str, str], Way]
    hub_to_switch: Mapping[tuple[str, str], Way]
    amplifier_to_switch: Mapping[tuple[str, str], Way]
    between_switches: Mapping[tuple[str, str], Way]
    spare: Mapping[str, tuple[int, int]] = field(default_factory=dict)
    hints: frozenset[frozenset[str]] = frozenset()
    assumed: tuple[str, ...] = ()
    scope: str = ""
    stage: object = field(default=None, repr=False, compare=False)

    @property
    def wanted(self) -> int:
        """Needs in all."""
        return sum(
            map(len, (self.microphones, self.passive, self.line, self.network, self.straight))
        )

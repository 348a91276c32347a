"""Products: what a microphone, processor, loudspeaker or accessory is.

Every product, product name and price in the shipped catalogue is invented and generic: figures
such as a working engineer expects, of no real device.

Axes of a microphone are relative to the device's aim: azimuth anticlockwise from it, elevation
negative downwards.

::

        aim ──►  azimuth 0           ceiling ───────┬───────
       ╱                                            │ drop
      ◄ azimuth 120                              ───●───►  elevation 0
       ╲                                            ↘  elevation −30
        ► azimuth 240
"""

from __future__ import annotations

import datetime
import math
from dataclasses import dataclass
from typing import ClassVar, Literal, TypeAlias

from wellheard.catalog.finishes import Octaves

Mounting: TypeAlias = Literal[
    "ceiling", "table", "lectern", "wall", "front", "stand", "rack", "table-box"
]
MOUNTINGS: tuple[Mounting, ...] = (
    "ceiling",
    "table",
    "lectern",
    "wall",
    "front",
    "stand",
    "rack",
    "table-box",
)

Fit: TypeAlias = Literal["tile", "hole", "hard", "open"]
"""How a device holds to a ceiling: in or on a lay-in tile, in a cut hole, screwed to a hard
surface, or hung from open structure."""
FITS: tuple[Fit, ...] = ("tile", "hole", "hard", "open")

CEILING_FITS: dict[str, tuple[Fit, ...]] = {
    "tiles": ("tile", "hole"),
    "hard": ("hole", "hard"),
    "open": ("open",),
}
"""Which fits a ceiling kind of the room document allows, the kindest to the ceiling first."""

Selects: TypeAlias = Literal["best element", "steered beam", "single"]
Status: TypeAlias = Literal["current", "last orders", "discontinued"]
Vector: TypeAlias = tuple[float, float, float]


@dataclass(frozen=True, kw_only=True)
class Element:
    """One capsule of first order, ``M(θ) = A + (1 − A)·cos θ`` about its axis.

    Parameters
    ----------
    azimuth_deg : float
        From the device's aim, anticlockwise. [°]
    elevation_deg : float
        Negative downwards. [°]
    pattern_a : float
        A: 1 omni, 0.7 subcardioid, 0.5 cardioid, 0.366 supercardioid, 0.25 hypercardioid,
        0 bidirectional.
    """

    azimuth_deg: float
    elevation_deg: float
    pattern_a: float

    @property
    def random_energy_efficiency(self) -> float:
        """Energy from all directions re the same from the axis, ``A² + (1 − A)²/3``.

        Examples
        --------
        >>> cardioid = Element(azimuth_deg=0, elevation_deg=0, pattern_a=0.5)
        >>> round(cardioid.random_energy_efficiency, 4)
        0.3333
        """
        return self.pattern_a**2 + (1 - self.pattern_a) ** 2 / 3


@dataclass(frozen=True, kw_only=True)
class Beam:
    """A beam that follows the talker.

    Within ``steer_limit_deg`` of its rest axis (azimuth 0, ``elevation_deg``) the beam points at
    the talker and its gain there is 1; beyond, it cannot reach. That the directivity of a real
    array falls towards the limit is not modelled.

    Parameters
    ----------
    directivity_index_db : tuple of 7 floats
        125 Hz to 8 kHz. [dB]
    steer_limit_deg : float
        Largest angle from the rest axis. [°]
    elevation_deg : float
        Of the rest axis: −90 for a ceiling array, 0 for a bar. [°]
    """

    directivity_index_db: Octaves
    steer_limit_deg: float
    elevation_deg: float


@dataclass(frozen=True, kw_only=True)
class Link:
    """The connection to the next device: its kind of cable and how long it may be [m]."""

    kind: str
    max_length: float


@dataclass(frozen=True, kw_only=True)
class BuiltIn:
    """What else sits in the housing of a combined device.

    Parameters
    ----------
    max_level_db : float
        Of its loudspeaker at 1 m. [dB]
    angle_deg : float
        Nominal −6 dB coverage at 2–4 kHz. [°]
    coupling_db : float
        Rated level of its own loudspeaker at its own microphone, re the loudspeaker's level at
        1 m. [dB]
    canceller : bool
        Whether it cancels its own echo.
    usb : bool
        Whether it connects to a computer by itself.
    """

    max_level_db: float
    angle_deg: float
    coupling_db: float
    canceller: bool
    usb: bool


@dataclass(frozen=True, kw_only=True)
class Fitting:
    """What one way of mounting takes: accessories by id, and labour in the product's currency."""

    mounting: Mounting
    accessories: tuple[str, ...]
    labour: float


@dataclass(frozen=True, kw_only=True)
class Product:
    """What every product has.

    Parameters
    ----------
    id, name : str
        Id for documents, name for people; both invented.
    price, currency, price_date : float, str, date
        List price without tax, and the day it was stated.
    size : tuple of 3 floats
        Width, depth, height. [m]
    weight_kg, power_w : float
        [kg], [W]
    fittings : tuple of Fitting
        Each way it may be mounted, the usual one first.
    fits : tuple of {"tile", "hole", "hard", "open"}
        How it can hold to a ceiling, the usual one first; empty if it never does.
    cutout : float or None
        Diameter or edge of the hole a flush ceiling device needs. [m]
    status : {"current", "last orders", "discontinued"}
    lead_time_weeks, warranty_years : float
    colours : tuple of str
    minimum_firmware : str
        Empty if it has none.
    selectable : bool
        False: a solver never chooses it.
    note : str
    """

    id: str
    name: str
    price: float
    currency: str
    price_date: datetime.date
    size: Vector
    weight_kg: float
    power_w: float
    fittings: tuple[Fitting, ...]
    fits: tuple[Fit, ...] = ()
    cutout: float | None = None
    status: Status = "current"
    lead_time_weeks: float = 0.0
    colours: tuple[str, ...] = ()
    warranty_years: float = 0.0
    minimum_firmware: str = ""
    selectable: bool = True
    note: str = ""

    @property
    def mountings(self) -> tuple[Mounting, ...]:
        """The ways it may be mounted, the usual one first."""
        return tuple(fitting.mounting for fitting in self.fittings)

    @property
    def accessories(self) -> dict[Mounting, tuple[str, ...]]:
        """Accessory ids by mounting, before ceiling kind and drop thin them out."""
        return {fitting.mounting: fitting.accessories for fitting in self.fittings}

    @property
    def labour(self) -> dict[Mounting, float]:
        """Labour by mounting, in `currency`."""
        return {fitting.mounting: fitting.labour for fitting in self.fittings}

    def fits_for_ceiling(self, kind: str, *, new_holes: bool = True) -> tuple[Fit, ...]:
        """Return the ways it can hold to a ceiling of this kind, kindest to the ceiling first.

        Parameters
        ----------
        kind : {"tiles", "hard", "open"}
            As in the room document.
        new_holes : bool
            False: nothing may be cut. A lay-in tile is replaced, not cut, so "tile" stays.

        Returns
        -------
        tuple of {"tile", "hole", "hard", "open"}
            Empty if it cannot be mounted there.

        Raises
        ------
        KeyError
            No such kind of ceiling.
        """
        return tuple(
            fit for fit in CEILING_FITS[kind] if fit in self.fits and (new_holes or fit != "hole")
        )


@dataclass(frozen=True, kw_only=True)
class Microphone(Product):
    """A microphone: one capsule, several of which the best is taken, or a steered beam.

    Parameters
    ----------
    selects : {"best element", "steered beam", "single"}
    elements : tuple of Element
        Empty for a steered beam.
    beam : Beam or None
    boundary : bool
        The capsule lies in a table top. See Notes.
    rated_distances : tuple of floats
        Talker distances: clear, usual, last resort; empty where none is rated (the ideal
        measuring microphone). [m]
    drops : tuple of floats
        Allowed lengths below the ceiling, ascending, 0 is flush; empty if it never hangs. [m]
    stem : float
        Height of the capsule above the base it stands on. [m]
    self_noise_dba, overload_db : float
        Equivalent noise [dBA] and highest sound level [dB].
    link : Link
    built_in : BuiltIn or None
        What else is in the housing of a combined device.

    Notes
    -----
    Boundary. Sound from the half space above reaches a capsule in a rigid surface with twice the
    free-field pressure, from whichever direction, so the doubling cancels in every ratio of
    direct to reverberant sound; what remains is that only half the directions exist. Relative to
    the (doubled) direct sound, diffuse sound counts half:
    ``REE = (A² + (1 − A)²/3) / 2``, which is 0.5 for a half-omni (DI 3.01 dB). Exact by symmetry
    where A = 1 or the axis lies in the surface. It asks for a surface of more than half a
    wavelength (1.4 m at 125 Hz), so on a small table the lowest octaves are flattered, and for
    talkers above the surface: for those below, it is wrong.
    """

    kind: ClassVar[Literal["microphone"]] = "microphone"
    selects: Selects
    elements: tuple[Element, ...] = ()
    beam: Beam | None = None
    boundary: bool = False
    rated_distances: tuple[float, ...] = ()
    drops: tuple[float, ...] = ()
    stem: float = 0.0
    self_noise_dba: float
    overload_db: float
    link: Link
    built_in: BuiltIn | None = None

    @property
    def combined(self) -> bool:
        """Loudspeaker, microphone and canceller share one housing; exempt from separation."""
        return self.built_in is not None

    @property
    def usual_distance(self) -> float:
        """Rated talker distance of the usual step, which designs keep to; ∞ if unrated. [m]"""
        if not self.rated_distances:
            return math.inf
        return self.rated_distances[min(1, len(self.rated_distances) - 1)]

    @property
    def patterns(self) -> tuple[float, ...]:
        """A of each axis; 1 for a steered beam, which points wherever the talker is."""
        if self.beam is not None:
            return (1.0,)
        return tuple(element.pattern_a for element in self.elements)

    def axes(self, aim_deg: float = 0.0) -> tuple[Vector, ...]:
        """Return unit vectors of the elements, or the rest axis of the beam, in the room.

        Parameters
        ----------
        aim_deg : float
            Azimuth of the device, anticlockwise from +x. [°]

        Returns
        -------
        tuple of (x, y, z)
            One for each of `patterns`.
        """
        if self.beam is not None:
            return (_unit_vector(aim_deg, self.beam.elevation_deg),)
        return tuple(
            _unit_vector(aim_deg + element.azimuth_deg, element.elevation_deg)
            for element in self.elements
        )

    def random_energy_efficiencies(self) -> tuple[Octaves, ...]:
        """Return, for each of `patterns`, the random energy efficiency per octave."""
        if self.beam is not None:
            a, b, c, d, e, f, g = (10 ** (-di / 10) for di in self.beam.directivity_index_db)
            return ((a, b, c, d, e, f, g),)
        half = 0.5 if self.boundary else 1.0
        return tuple(_flat(half * one.random_energy_efficiency) for one in self.elements)

    def random_energy_efficiency(self) -> Octaves:
        """Return the energy taken from a diffuse field re the same from the axis, per octave.

        All elements of a shipped product are alike; of unlike ones the mean is given (use
        `random_energy_efficiencies` for each).

        Returns
        -------
        tuple of 7 floats
            125 Hz to 8 kHz, ratio.
        """
        each = self.random_energy_efficiencies()
        a, b, c, d, e, f, g = (math.fsum(band) / len(each) for band in zip(*each, strict=True))
        return (a, b, c, d, e, f, g)

    def directivity_index_db(self) -> Octaves:
        """Return −10·lg of the random energy efficiency per octave. [dB]"""
        a, b, c, d, e, f, g = (-10 * math.log10(r) for r in self.random_energy_efficiency())
        return (a, b, c, d, e, f, g)


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
    automatic_mixer : bool
        Holds unused channels down.
    line_inputs, outputs : int
        Analogue.
    usb, network_audio : bool
    latency_ms : float
        Microphone port to computer. [ms]
    rack_units : float
        0 if it needs no rack space.
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
    """

    kind: ClassVar[Literal["loudspeaker"]] = "loudspeaker"
    sensitivity_db: float
    max_level_db: float
    angle_deg: float
    impedance: float
    taps_w: tuple[float, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Accessory:
    """A part that a mounting needs.

    Parameters
    ----------
    price : float
        Of one. A part sold by length costs ``price + price_per_metre · drop``.
    fits : tuple of {"tile", "hole", "hard", "open"}
        Needed only with these; empty: with any.
    needed : {"always", "drop", "flush"}
        Always, only where the device hangs, or only where it does not.
    """

    id: str
    name: str
    price: float
    price_per_metre: float = 0.0
    currency: str
    fits: tuple[Fit, ...] = ()
    needed: Literal["always", "drop", "flush"] = "always"
    note: str = ""

    def is_needed(self, *, fit: Fit | None, drop: float) -> bool:
        """Return whether a device held by ``fit`` and hanging by ``drop`` [m] needs it."""
        if self.fits and fit not in self.fits:
            return False
        return self.needed == "always" or (self.needed == "drop") == (drop > 0)


AnyProduct: TypeAlias = Microphone | Processor | Loudspeaker


def _unit_vector(azimuth_deg: float, elevation_deg: float) -> Vector:
    azimuth, elevation = math.radians(azimuth_deg), math.radians(elevation_deg)
    level = math.cos(elevation)
    return (level * math.cos(azimuth), level * math.sin(azimuth), math.sin(elevation))


def _flat(value: float) -> Octaves:
    return (value, value, value, value, value, value, value)

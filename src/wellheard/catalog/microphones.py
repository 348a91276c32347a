"""Microphones: capsules, heads, beams, and what shares their housing.

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

import math
from dataclasses import dataclass
from typing import ClassVar, Literal, TypeAlias, cast

from wellheard.catalog.finishes import Octaves
from wellheard.catalog.ports import Port, PortKind, Signal
from wellheard.catalog.product import Hanging, Vector

Selects: TypeAlias = Literal["best element", "steered beam", "single"]
BeamDesign: TypeAlias = Literal["delay-and-sum", "superdirective"]


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
    the talker and its gain there is 1; beyond, it stays at the limit.

    Parameters
    ----------
    directivity_index_db : tuple of 7 floats
        125 Hz to 8 kHz, on the rest axis in free air; the whole of what is known of a beam whose
        product has no `Microphone.positions`. [dB]
    steer_limit_deg : float
        Largest angle from the rest axis. [°]
    elevation_deg : float
        Of the rest axis: −90 for a ceiling array, 0 for a bar. [°]
    design : {"delay-and-sum", "superdirective"}
        How its capsules are weighted, where their positions are known.
    """

    directivity_index_db: Octaves
    steer_limit_deg: float
    elevation_deg: float
    design: BeamDesign = "delay-and-sum"


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
    canceller_tail : float or None
        Longest echo it cancels; None: its sheet does not say. [s]
    canceller_loss_db : float or None
        Echo loss that its canceller adds in single talk, linear cancelling and suppression of the
        residue together; None: its sheet does not say. [dB]
    latency_ms : float
        From the computer to the air. [ms]
    distortion : float or None
        Total harmonic distortion of its loudspeaker 12 dB below ``max_level_db``, ratio; None: its
        sheet does not say.
    """

    max_level_db: float
    angle_deg: float
    coupling_db: float
    canceller: bool
    usb: bool
    canceller_tail: float | None = None
    canceller_loss_db: float | None = None
    latency_ms: float = 0.0
    distortion: float | None = None


@dataclass(frozen=True, kw_only=True)
class Microphone(Hanging):
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
    stem : float
        Height of the capsule above the base it stands on. [m]
    self_noise_dba, overload_db : float
        Equivalent noise [dBA] and highest sound level [dB]; of an array those of its beam on the
        rest axis, which is quieter than its capsules.
    link : Link
    built_in : BuiltIn or None
        What else is in the housing of a combined device.
    positions : tuple of (x, y, z)
        Capsules of an array from its acoustic centre, x along the aim; empty if its sheet gives
        none. Where they are given, an array's beams are computed from them, and its sheet's
        directivity index is what a reader compares. [m]
    sensitivity_mv_pa : float or None
        Of an analogue one, unloaded, at 1 kHz; None: digital, or its sheet does not say. [mV/Pa]
    sensitivity_dbfs : float or None
        Of a digital one, its output at 94 dB sound level, gain at its base setting; None: analogue,
        or its sheet does not say. [dBFS]
    latency_ms : float
        From the air to its link. [ms]

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
    stem: float = 0.0
    self_noise_dba: float
    overload_db: float
    link: Link
    built_in: BuiltIn | None = None
    positions: tuple[Vector, ...] = ()
    sensitivity_mv_pa: float | None = None
    sensitivity_dbfs: float | None = None
    latency_ms: float = 0.0

    @property
    def device_kinds(self) -> tuple[str, ...]:
        """Kinds that a document may call such a device."""
        return ("microphone", "combined") if self.combined else ("microphone",)

    @property
    def ports(self) -> tuple[Port, ...]:
        """Its link; a device with a computer's connection speaks both ways."""
        kind = cast(PortKind, self.link.kind)
        if self.built_in is not None and self.built_in.usb:
            return (Port(name="usb", kinds=(kind,), signal="audio", flow="both"),)
        signal: Signal = "microphone" if kind in ("balanced", "unbalanced") else "audio"
        return (Port(name="link", kinds=(kind,), signal=signal, flow="out"),)

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


def _unit_vector(azimuth_deg: float, elevation_deg: float) -> Vector:
    azimuth, elevation = math.radians(azimuth_deg), math.radians(elevation_deg)
    level = math.cos(elevation)
    return (level * math.cos(azimuth), level * math.sin(azimuth), math.sin(elevation))


def _flat(value: float) -> Octaves:
    return (value, value, value, value, value, value, value)

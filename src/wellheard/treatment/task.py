"""What is asked of a treatment: a decay by octave, products, and where they may go."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np

from wellheard.acoustics.recommended import (
    LARGEST,
    LONGEST_RE_RECOMMENDED,
    SMALLEST,
    recommended_time_communication,
)
from wellheard.arrays import Array
from wellheard.catalog.treatments import Treatment
from wellheard.errors import InputError
from wellheard.geometry.rectangles import Rectangle
from wellheard.predict.surfaces import MOST_ABSORBED
from wellheard.room.document import Room
from wellheard.room.house_limits import HOUSE_LIMITS
from wellheard.units import FOOT

CODE = "target-missed-reverberation"

Surface: TypeAlias = Literal["wall", "ceiling", "floor"]


@dataclass(frozen=True)
class DecayTarget:
    """Longest decay times by octave, 125 Hz to 8 kHz [s], and where they come from."""

    time: tuple[float, ...]
    because: str

    def tightened(self, factor: float) -> DecayTarget:
        """The same target times a factor."""
        return DecayTarget(tuple(factor * t for t in self.time), self.because)


def decay_target(room: Room, volume: float, *, reserve: float = 1.0) -> DecayTarget:
    """Target of a document, else what is recommended for communication.

    Parameters
    ----------
    room : Room
        ``targets.reverberation`` is the longest time at 500 Hz and 1 kHz.
    volume : float
        [m³]
    reserve : float
        Share of a promised time that is aimed at, so that it is kept with the wanted chance.

    Raises
    ------
    InputError
        Nothing is promised, and nothing recommended for so small or large a room.

    Notes
    -----
    The other octaves may be as much longer as the tolerance of din18041:2016, group A, lets them:
    at 125 Hz by 1.45/1.2.
    """
    shape = np.asarray(LONGEST_RE_RECOMMENDED) / LONGEST_RE_RECOMMENDED[2]
    promised = room.targets.reverberation
    if promised is not None:
        longest, because = promised * reserve, f"targets.reverberation, {promised:.2f} s"
        if reserve < 1:
            because += f", with a reserve for its chance: {longest:.2f} s"
    elif SMALLEST <= volume <= LARGEST:
        advised = recommended_time_communication(volume)
        factor = room.targets.limit_in_force(CODE)
        longest = factor * advised
        because = (
            f"nothing is promised: {factor:g} times the {advised:.2f} s that DIN 18041 recommends "
            f"for communication in {_size(room, volume)}; {HOUSE_LIMITS[CODE].source}"
        )
    else:
        raise InputError(
            f"{_size(room, volume)}: no decay is promised, and none is recommended below "
            f"{_size(room, SMALLEST)} or above {_size(room, LARGEST)}; state targets.reverberation"
        )
    return DecayTarget(tuple((longest * shape).tolist()), because)


def _size(room: Room, volume: float) -> str:
    return f"{volume / FOOT**3:.0f} ft³" if room.units == "ft" else f"{volume:.0f} m³"


@dataclass(frozen=True)
class Bay:
    """One free rectangle of a surface, for modules of one product.

    Parameters
    ----------
    surface : {"wall", "ceiling", "floor"}
    name : str
        Wall, else the surface again.
    rectangle : Rectangle
        On a wall along it and above the floor; else in the room's own axes. [m]
    absorption : tuple of 7 floats
        Of what is there now.
    turn_deg : float
        Of the axes of a ceiling bay against x. [°]
    cell : tuple of float, optional
        Of the ceiling's grid, where tiles are changed. [m]
    burden : int
        How much worse it is than other bays, at the same price.
    """

    surface: Surface
    name: str
    rectangle: Rectangle
    absorption: tuple[float, ...]
    turn_deg: float = 0.0
    cell: tuple[float, float] | None = None
    burden: int = 0


@dataclass(frozen=True)
class Option:
    """One product in one bay.

    Parameters
    ----------
    bay : int
        Index of the bay.
    product : Treatment
    columns, rows : int
        How many modules fit beside and above each other.
    width, height : float
        Of one module as it is laid there. [m]
    price : int
        Of one module, installed. [currency]
    gain : tuple of 7 floats
        Absorption area that one module adds. [m²]
    """

    bay: int
    product: Treatment
    columns: int
    rows: int
    width: float
    height: float
    price: int
    gain: tuple[float, ...]

    @property
    def most(self) -> int:
        """Modules that fit."""
        return self.columns * self.rows

    @property
    def area(self) -> float:
        """Of one module [m²]."""
        return self.width * self.height


LEAST_CURTAIN = 1.8
"""A curtain hangs where so much of the height of a wall is free. [m]"""


def option(index: int, bay: Bay, product: Treatment, *, floor_area: float) -> Option | None:
    """How a product fits a bay; None where it does not."""
    sizes = _module(bay, product, floor_area)
    place = bay.rectangle
    fits = [(_fit(place.width, w), _fit(place.height, h), w, h) for w, h in sizes]
    if bay.surface == "floor":
        fits = [(1, 1, *sizes[0])]
    if not any(fit[0] * fit[1] for fit in fits):
        return None
    columns, rows, width, height = max(fits, key=lambda fit: fit[0] * fit[1])
    area = width * height
    absorbing = np.minimum(product.finish.absorption, MOST_ABSORBED)
    gain = area * (absorbing - np.minimum(bay.absorption, MOST_ABSORBED))
    return Option(
        bay=index,
        product=product,
        columns=columns,
        rows=rows,
        width=width,
        height=height,
        price=product.installed(area),
        gain=tuple(gain.tolist()),
    )


def _fit(side: float, module: float) -> int:
    return math.floor(side / module + 1e-6)


def _module(bay: Bay, product: Treatment, floor_area: float) -> list[tuple[float, float]]:
    """Ways to turn a module."""
    if bay.surface == "floor":
        return [(floor_area, 1.0)]
    if bay.cell is not None:
        return [bay.cell]
    if product.width is None:
        return []
    if product.height is None:
        tall = bay.rectangle.height
        return [(product.width, tall)] if tall >= LEAST_CURTAIN else []
    return [(product.width, product.height), (product.height, product.width)]


@dataclass(frozen=True)
class Decay:
    """What Eyring's formula needs of a room, by octave where it says so.

    Parameters
    ----------
    volume, surface : float
        [m³], [m²]
    absorbing : ndarray, shape (7,)
        Absorption area of the surfaces as they are. [m²]
    objects : ndarray, shape (7,)
        Absorption area of people and things. [m²]
    air : ndarray, shape (7,)
        Power attenuation. [1/m]
    constant : float
        24 ln 10 / c. [s/m]
    """

    volume: float
    surface: float
    absorbing: Array
    objects: Array
    air: Array
    constant: float

    def time(self, added: Array) -> Array:
        """Decay with so much absorption area added, shape (7,) [s].

        Examples
        --------
        >>> zero = np.zeros(7)
        >>> room = Decay(100.0, 130.0, np.full(7, 13.0), zero, zero, 0.161)
        >>> room.time(zero).round(3)[:1], room.time(np.full(7, 13.0)).round(3)[:1]
        (array([1.175]), array([0.555]))
        """
        mean = np.minimum((self.absorbing + added) / self.surface, MOST_ABSORBED)
        exponent = -self.surface * np.log1p(-mean)
        return np.asarray(
            self.constant * self.volume / (exponent + self.objects + 4 * self.air * self.volume)
        )

    def lacking(self, time: Array) -> Array:
        """Absorption area to add for these decay times, below 0 where there is enough. [m²]

        Notes
        -----
        ``T ≤ t`` just where the mean absorption is at least
        ``1 − exp(−(K·V/t − A_objects − 4mV)/S)``: linear in what is added.
        """
        wanted = self.constant * self.volume / np.asarray(time) - self.objects
        wanted = (wanted - 4 * self.air * self.volume) / self.surface
        mean = -np.expm1(-wanted)
        return np.asarray(self.surface * mean - self.absorbing)

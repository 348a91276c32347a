"""Reverberation of a room document: every model, the chosen one, and how sure it is."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial

import numpy as np

from wellheard.acoustics import air, field
from wellheard.acoustics import reverberation as models
from wellheard.arrays import Array
from wellheard.bands import EXACT_OCTAVES
from wellheard.catalog.catalogue import Catalogue
from wellheard.predict import tolerances
from wellheard.predict.enclosures import enclosure
from wellheard.predict.evidence import Reverberation, Surface
from wellheard.predict.propagation import Propagation, propagation
from wellheard.predict.surfaces import (
    MOST_ABSORBED,
    air_volume,
    bands,
    object_area,
    objects,
    surfaces,
)
from wellheard.room.document import Room

MID = slice(2, 4)
"""500 Hz and 1 kHz within the seven octaves."""

MODEL = "ray tracing"
MEASURED = "measured"

MEETING_ROOM_PATH_SPREAD = 0.38
"""Relative variance γ² of free paths in rooms of meeting-room shape: middle of 0.36–0.41 (own
Monte Carlo of the reference values; Kuttruff's printed list is close)."""


def predict(room: Room, catalogue: Catalogue) -> Reverberation:
    """Reverberation times of the room as occupied, see :func:`sounded`."""
    return sounded(room, catalogue)[0]


def sounded(room: Room, catalogue: Catalogue) -> tuple[Reverberation, Propagation]:
    """Reverberation times of the room as occupied, and the rays that they come from.

    The decay is that of rays traced through the room as it is, at the stated scattering; what
    scattering does to it is part of its spread. A measured reverberation in the document takes
    its place: all absorption is then scaled per octave until the model reproduces it. Finishes
    that were calibrated to a decay are as sure as that is. The formulas of the statistical models
    stand beside it, as a check.
    """
    rows = surfaces(room, catalogue)
    volume = air_volume(room)
    climate = room.space.climate
    speed = float(air.speed_of_sound(climate.temperature_c))
    attenuation = air.power_attenuation(
        np.asarray(EXACT_OCTAVES), temperature_c=climate.temperature_c, humidity=climate.humidity
    )
    items = objects(room, catalogue, occupancy=room.people.occupancy)
    statistical = _Models(rows, object_area(items), volume, attenuation, speed)
    stated = room.space.measured_reverberation
    measured = None if stated is None else np.asarray(stated, dtype=np.float64)
    sound = propagation(
        enclosure(room, catalogue),
        speed=speed,
        air=attenuation,
        measured_time=measured,
    )
    time = sound.time if measured is None else measured
    if tolerances.is_as_built(room):
        # What is known is the decay; other scattering would have been given other absorption.
        sound = sound.reproducing(time)
    empty = replace(sound, enclosure=enclosure(room, catalogue, occupancy=0.0))
    scattered = sound.of_scattering
    sigma = np.asarray(tolerances.decay_log_sigma(room))
    above = below = tolerances.NORMAL_90 * sigma
    if measured is None:
        # Little scattering may lengthen the decay more than much of it shortens it.
        above = np.hypot(above, np.log(np.maximum(scattered.smooth / time, 1.0)))
        below = np.hypot(below, np.log(np.maximum(time / scattered.rough, 1.0)))
    # The absorption that reproduces a measured decay, and so the level, still hangs on scattering.
    level_sigma = np.hypot(sigma, tolerances.level_log_sigma(room, scattered.log_energy_sigma))
    sigma = np.hypot(sigma, scattered.log_time_sigma)
    mid_time = float(np.mean(time[MID]))
    area = field.sabine_constant(speed) * volume / float(np.mean(sound.level_time[MID]))
    found = Reverberation(
        time=bands(time),
        model=MODEL if measured is None else MEASURED,
        low=bands(time * np.exp(-below)),
        high=bands(time * np.exp(above)),
        smooth=bands(scattered.smooth),
        rough=bands(scattered.rough),
        scattering=room.space.scattering,
        sabine=bands(statistical.sabine),
        eyring=bands(statistical.eyring),
        arau_puchades=bands(statistical.arau),
        fitzroy=bands(statistical.fitzroy),
        kuttruff=bands(statistical.kuttruff),
        unoccupied=bands(empty.time if measured is None else time),
        level_time=bands(sound.level_time),
        volume=volume,
        surface=statistical.total,
        floor_area=_floor_area(rows),
        mean_absorption=bands(statistical.mean),
        air_power_attenuation=bands(attenuation),
        schroeder_frequency=float(field.schroeder_frequency(mid_time, volume=volume)),
        mean_free_path=float(field.mean_free_path(volume, area=statistical.total)),
        critical_distance=float(field.critical_distance(area)),
        speed_of_sound=speed,
        surfaces=rows,
        objects=items,
        log_sigma=bands(sigma),
        level_log_sigma=bands(level_sigma),
        measured=measured is not None,
        exponent=bands(sound.exponent),
        reproduced=sound.reached,
    )
    return found, sound


def _floor_area(rows: tuple[Surface, ...]) -> float:
    """Of the floor and its patches [m²]; a wall may bear the same name."""
    level = [row for row in rows if row.axis[2] == 1.0]
    return sum(r.area for r in level if r.name == "floor" or r.name.startswith("floor: "))


class _Models:
    """One room state through all models; arrays of shape (7,)."""

    def __init__(
        self,
        rows: tuple[Surface, ...],
        item_area: Array,
        volume: float,
        attenuation: Array,
        speed: float,
    ) -> None:
        areas = np.array([row.area for row in rows])
        stated = np.array([row.absorption for row in rows])
        absorption = np.minimum(stated, 1.0)
        axes = np.array([row.axis for row in rows])
        axis_area = (areas[:, None] * axes).sum(axis=0)
        pairs = np.einsum("s,sx,sb->xb", areas, axes, absorption) / axis_area[:, None]
        pairs = np.minimum(pairs, MOST_ABSORBED)
        self.total = float(areas.sum())
        surface_mean = (areas[:, None] * absorption).sum(axis=0) / self.total
        self.mean = surface_mean + item_area / self.total
        whole = np.array([self.total])
        even = np.minimum(surface_mean, MOST_ABSORBED)[None]

        def times(model: Callable[..., Array], by_area: Array, by_absorption: Array) -> Array:
            return model(
                volume=volume,
                areas=by_area,
                absorption=by_absorption,
                objects=item_area,
                air=attenuation,
                speed_of_sound=speed,
            )

        # Only Sabine's formula can take the coefficients above 1 that an edge effect makes.
        self.sabine = times(models.reverberation_time_sabine, areas, stated)
        self.eyring = times(models.reverberation_time_eyring, whole, even)
        self.fitzroy = times(models.reverberation_time_fitzroy, axis_area, pairs)
        self.arau = times(models.reverberation_time_arau_puchades, axis_area, pairs)
        self.kuttruff = times(
            partial(models.reverberation_time_kuttruff, path_variance=MEETING_ROOM_PATH_SPREAD),
            whole,
            even,
        )

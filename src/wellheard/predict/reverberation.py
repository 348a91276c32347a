"""Reverberation of a room document: every model, the chosen one, and how sure it is."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import numpy as np

from wellheard.acoustics import air, field
from wellheard.acoustics import reverberation as models
from wellheard.arrays import Array
from wellheard.bands import EXACT_OCTAVES
from wellheard.catalog.catalogue import Catalogue
from wellheard.predict import tolerances
from wellheard.predict.evidence import Reverberation, Surface, level_time
from wellheard.predict.surfaces import air_volume, bands, object_area, objects, surfaces
from wellheard.room.document import Room

MID = slice(2, 4)
"""500 Hz and 1 kHz within the seven octaves."""

MODEL = "Arau-Puchades"
MEASURED = "measured"

MEETING_ROOM_PATH_SPREAD = 0.38
"""Relative variance γ² of free paths in rooms of meeting-room shape: middle of 0.36–0.41 (own
Monte Carlo of the reference values; Kuttruff's printed list is close)."""

MOST_ABSORBED = 0.99
"""Mean absorption of a whole room, or of a pair of faces, above which the logarithms of the models
say nothing: with 1 they would let no sound at all come back, whatever the rest is (common
practice)."""


def predict(room: Room, catalogue: Catalogue) -> Reverberation:
    """Reverberation times of the room as occupied, by the models that apply.

    Arau-Puchades predicts the decay: it becomes Eyring's where absorption is even and stands
    between Sabine and Fitzroy where one pair of surfaces is soft. Objects absorb on all three
    axes alike. A measured reverberation in the document takes its place. The steady level of
    reverberant sound, and the critical distance with it, is Eyring's, or that of a measured
    decay, see :func:`wellheard.predict.evidence.level_time`.
    """
    rows = surfaces(room, catalogue)
    volume = air_volume(room)
    climate = room.space.climate
    speed = float(air.speed_of_sound(climate.temperature_c))
    attenuation = air.power_attenuation(
        np.asarray(EXACT_OCTAVES), temperature_c=climate.temperature_c, humidity=climate.humidity
    )
    items = objects(room, catalogue, occupancy=room.people.occupancy)
    occupied = _Models(rows, object_area(items), volume, attenuation, speed)
    bare = _Models(
        rows,
        object_area(objects(room, catalogue, occupancy=0.0)),
        volume,
        attenuation,
        speed,
    )
    measured = room.space.measured_reverberation
    time = occupied.arau if measured is None else np.asarray(measured, dtype=np.float64)
    sigma = _log_sigma(room, occupied)
    spread = np.exp(tolerances.NORMAL_90 * sigma)
    mid_time = float(np.mean(time[MID]))
    even, uneven = bands(occupied.eyring), bands(occupied.arau)
    by_level = (
        even if measured is None else level_time(bands(time), eyring=even, arau_puchades=uneven)
    )
    area = field.sabine_constant(speed) * volume / float(np.mean(by_level[MID]))
    return Reverberation(
        time=bands(time),
        model=MODEL if measured is None else MEASURED,
        low=bands(time / spread),
        high=bands(time * spread),
        sabine=bands(occupied.sabine),
        eyring=even,
        arau_puchades=uneven,
        fitzroy=bands(occupied.fitzroy),
        kuttruff=bands(occupied.kuttruff),
        unoccupied=bands(bare.arau if measured is None else time),
        volume=volume,
        surface=occupied.total,
        floor_area=next((r.area for r in rows if r.name == "floor"), 0.0),
        mean_absorption=bands(occupied.mean),
        air_power_attenuation=bands(attenuation),
        schroeder_frequency=float(field.schroeder_frequency(mid_time, volume=volume)),
        mean_free_path=float(field.mean_free_path(volume, area=occupied.total)),
        critical_distance=float(field.critical_distance(area)),
        speed_of_sound=speed,
        surfaces=rows,
        objects=items,
        log_sigma=bands(sigma),
        measured=measured is not None,
    )


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


def _log_sigma(room: Room, occupied: _Models) -> Array:
    stated = np.asarray(tolerances.decay_log_sigma(room))
    if room.space.measured_reverberation is not None:
        return stated
    models_differ = np.log(occupied.arau / occupied.eyring) / (2 * tolerances.NORMAL_90)
    return np.hypot(stated, models_differ)

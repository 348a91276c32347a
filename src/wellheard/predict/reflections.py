"""What the room adds to the direct sound of one path: its first reflections, then its decay."""

from __future__ import annotations

import math

import numpy as np

from wellheard.acoustics import directivity, levels
from wellheard.acoustics.directivity import TALKER_DIRECTIVITY_INDEX_DB
from wellheard.acoustics.enclosure import FIRST_WALL
from wellheard.acoustics.image_ways import Arrival, arrivals
from wellheard.arrays import Array
from wellheard.bands import SPEECH_BANDS
from wellheard.predict.evidence import Evidence, Outbound, PlacedMicrophone
from wellheard.predict.outbound import response
from wellheard.predict.pickup import Choice, Pickup, pickup
from wellheard.predict.scene import Scene
from wellheard.predict.stages import Stage, Working, figures
from wellheard.predict.surfaces import bands, object_area

STRONGEST = 5
"""Reflections that are told one by one."""

EARLY = 0.05
"""What arrives up to here after the direct sound helps the words [s]."""

JOINED = 0.001
"""What arrives up to here belongs to the direct sound [s]."""

IMAGES = "image sources in energy, Allen and Berkley 1979 and Borish 1984, from memory [M]"
RAYS = "ray tracing, Krokstad, Strøm and Sørsdal 1968, from memory [M]"


def early(scene: Scene, evidence: Evidence, row: Outbound) -> Stage:
    """Reflections that arrive within 50 ms of the direct sound, the strongest by name."""
    path = row.path
    rows = [
        Working(
            "early reflections re 1 m in front",
            path.early_db,
            "dB",
            "10 lg(n Σ Eᵢ), 1–50 ms after the direct sound; Eᵢ = D(angle) G(angle) "
            "Π(1 − α)(1 − s) / rᵢ² e^(−m rᵢ), and what is scattered in that time",
            (
                ("s", f"{scene.reverberation.scattering:g} of every surface"),
                ("n", f"{row.path.open_microphones:.3f} open microphones"),
            ),
            f"{IMAGES}; {RAYS}",
        )
    ]
    for number, (arrival, level_db) in enumerate(_strongest(scene, evidence, row), start=1):
        later = 1000 * (arrival.length - path.distance) / scene.propagation.speed
        rows.append(
            Working(
                f"reflection {number}: {_way(scene, arrival)}",
                bands(level_db),
                "dB",
                "its energy re the direct sound in plain sight",
                (
                    (
                        "later by",
                        f"{later:.1f} ms" + (", with the direct sound" if later < 1 else ""),
                    ),
                    ("its way", f"{arrival.length:.2f} m"),
                ),
                IMAGES,
            )
        )
    return Stage("Early", tuple(rows))


def late(scene: Scene, evidence: Evidence, row: Outbound) -> Stage:
    """The decay of the room and what it leaves at the microphone."""
    decay = evidence.reverberation
    path = row.path
    human = scene.room.people.directivity == "human"
    rows = [
        Working(
            "reverberation time",
            decay.time,
            "s",
            "T20 of the mean energy of rays traced through the room"
            if not decay.measured
            else "measured",
            (
                ("V", f"{decay.volume:.1f} m³"),
                ("S", f"{decay.surface:.1f} m²"),
                ("scattering", f"{decay.scattering:g}"),
                ("Aₒ, people and furniture", figures(object_area(decay.objects)) + " m²"),
                ("occupied", f"{100 * scene.room.people.occupancy:.0f} % of the seats"),
            ),
            RAYS if not decay.measured else "the document, space.measured_reverberation",
        ),
    ]
    if decay.measured:
        rows.append(
            Working(
                "factor on the absorption exponents",
                decay.exponent,
                "",
                "the factor on −ln(1 − α) of every surface with which rays decay as measured",
                (("reproduced", "yes" if decay.reproduced else "not in every octave"),),
                RAYS,
            )
        )
    rows += [
        Working(
            "decay time that sets the level",
            decay.level_time,
            "s",
            "13.8155 ∫ e dt, e the mean energy of the rays",
            (),
            RAYS,
        ),
        Working(
            "late reflections re 1 m in front",
            path.late_db,
            "dB",
            "10 lg(n · 4πc/V ∫ e(t) e^(−mct) dt · 10^(−DI/10) · REE), later than 50 ms",
            (
                (
                    "DI of the talker",
                    figures(np.asarray(TALKER_DIRECTIVITY_INDEX_DB)) + " dB" if human else "0 dB",
                ),
                ("REE", "random energy efficiency of the microphone"),
                ("n", f"{row.path.open_microphones:.3f} open microphones"),
            ),
            f"{RAYS}; {IMAGES} up to 60 ms",
        ),
        Working(
            "direct-to-reverberant ratio by octave",
            path.direct_to_reverberant_bands_db,
            "dB",
            "direct − 10 lg(early + late)",
            (),
            "definition",
        ),
        Working(
            "C50 by octave",
            path.c50_db,
            "dB",
            "10 lg((direct + early)/late)",
            (),
            "ISO 3382-1:2009, definition [L]",
        ),
    ]
    return Stage("Late", tuple(rows))


def heard_by(placed: PlacedMicrophone, row: Outbound) -> tuple[Pickup, Choice]:
    """How a microphone hears, and which of its elements or beams the talker of a row gets."""
    taken = pickup(placed.product)
    way = np.asarray(row.talker.at) - np.asarray(placed.at)
    towards = way / max(float(np.linalg.norm(way)), 1e-9)
    return taken, taken.choose(np.array([placed.aim_deg]), towards[None, None])


def _strongest(scene: Scene, evidence: Evidence, row: Outbound) -> list[tuple[Arrival, Array]]:
    """The strongest single reflections in the speech octaves with their levels re direct."""
    placed = next(m for m in evidence.microphones if m.id == row.path.microphone)
    taken, chosen = heard_by(placed, row)
    mouth, at = np.asarray(row.talker.at), np.asarray(placed.at)
    angle = math.radians(row.path.facing_deg)
    facing = np.array([math.cos(angle), math.sin(angle), 0.0])
    direct_db = -np.asarray(row.path.talker_pattern_db) - levels.energy_level_db(
        np.maximum(chosen.on_axis[0, 0], 1e-12)
    )
    found = []
    for one in arrivals(
        scene.propagation.walls,
        mouth,
        at,
        limit_path=row.path.distance + EARLY * scene.propagation.speed,
    ).found:
        if one.order == 0 or one.length < row.path.distance + JOINED * scene.propagation.speed:
            continue
        if taken.upper_only and one.arrival[2] < 0:
            continue
        off = np.arccos(np.clip(one.departure @ facing, -1.0, 1.0))
        spoken_db = (
            directivity.talker_level_db(off)
            if scene.room.people.directivity == "human"
            else np.zeros(7)
        )
        gain = response(taken, chosen, one.arrival[None, None])[0, 0]
        air = np.exp(-scene.propagation.air * (one.length - row.path.distance))
        energy = gain * one.energy * air * (row.path.distance / one.length) ** 2
        found.append(
            (one, spoken_db + levels.energy_level_db(np.maximum(energy, 1e-12)) + direct_db)
        )
    found.sort(key=lambda pair: -float(np.mean(pair[1][SPEECH_BANDS])))
    return found[:STRONGEST]


def _way(scene: Scene, arrival: Arrival) -> str:
    names = scene.propagation.enclosure.names
    walls = range(FIRST_WALL, FIRST_WALL + len(scene.room.space.walls))
    return ", ".join(
        f"wall {names[hit]}" if hit in walls else names[hit] for hit in arrival.surfaces
    )

"""One inbound path opened stage by stage: every number with formula, inputs and source."""

from __future__ import annotations

import math

import numpy as np

from wellheard.acoustics import levels
from wellheard.acoustics.speech import sii_octave_importance
from wellheard.catalog.products import Loudspeaker
from wellheard.predict import listening, outbound
from wellheard.predict.evidence import Bands, Evidence, Quantity
from wellheard.predict.inbound import PRECEDENCE_DB, USUAL_PLAYBACK_DBA
from wellheard.predict.loudspeakers import ears, played, radiated
from wellheard.predict.noise import spectrum_words
from wellheard.predict.pickup import looked_up
from wellheard.predict.scene import Scene
from wellheard.predict.stages import (
    PRACTICE,
    Stage,
    Working,
    chance_words,
    decibels,
    figures,
    place_words,
    signed,
)
from wellheard.predict.surfaces import bands
from wellheard.predict.wayback import Drive, Inbound, PlacedLoudspeaker, Playback
from wellheard.predict.working import AIR, S35, STI


def inbound_stages(scene: Scene, evidence: Evidence, row: Inbound) -> tuple[Stage, ...]:
    """From the far end to the promise, for one ear of the playback.

    Parameters
    ----------
    scene : Scene
        The room.
    evidence : Evidence
        With the playback that ``row`` is of.
    row : Inbound
        Of the ear.
    """
    playback = evidence.playback
    assert playback is not None
    placed = next(one for one in playback.loudspeakers if one.id == row.heard_from)
    return (
        _far_end(scene, playback),
        _gain(playback),
        _loudspeaker(playback, placed, row),
        _air(scene, playback, placed, row),
        _ear(row),
        _noise(scene, row),
        _promise(row),
    )


def _far_end(scene: Scene, playback: Playback) -> Stage:
    promised = scene.room.targets.playback_level_dba
    return Stage(
        "Far end",
        (
            Working(
                "speech of the far end at 0 dBA",
                bands(listening.far_end_speech_db()),
                "dB",
                "octave levels of normal effort, shifted to an A-weighted level of 0 dBA",
                (),
                S35 + "; 125 Hz common practice [C]",
            ),
            Working(
                "playback level, mean over the ears",
                playback.target_dba,
                "dBA",
                "what the energy mean of the A-weighted levels at all ears is set to",
                (("ears", str(len(playback.rows))),),
                f"{USUAL_PLAYBACK_DBA:g} dBA where nothing is stated, {PRACTICE}"
                if promised is None
                else "the document, targets.playback_level_dba",
            ),
        ),
    )


def _gain(playback: Playback) -> Stage:
    return Stage(
        "Gain",
        (
            Working(
                "level 1 m before a loudspeaker without trim",
                playback.level_1m_dba,
                "dBA",
                "playback level − 10 lg(mean over the ears of Σ over loudspeakers of what arrives)",
                (
                    ("playback level", f"{playback.target_dba:.1f} dBA"),
                    ("loudspeakers", str(len(playback.loudspeakers))),
                ),
                "energies of loudspeakers add; one common level, shifted by their trims",
            ),
            Working(
                "speech there by octave",
                playback.speech_1m_db,
                "dB",
                "speech at 0 dBA + level",
                (),
                "sum; loudspeakers flat on their axis from 125 Hz to 8 kHz",
            ),
        ),
    )


def _loudspeaker(playback: Playback, placed: PlacedLoudspeaker, row: Inbound) -> Stage:
    drive = next(one for one in playback.drives if one.loudspeaker == placed.id)
    away = np.asarray(row.talker.at) - np.asarray(placed.at)
    cosine = float(np.asarray(placed.axis) @ away) / max(float(np.linalg.norm(away)), 1e-9)
    pattern, _ = radiated(placed.product, placed.flush)
    towards = looked_up(pattern[None], np.zeros(1, dtype=np.intp), np.array([cosine]))[0]
    angle = math.degrees(math.acos(min(1.0, max(-1.0, cosine))))
    measured = isinstance(placed.product, Loudspeaker) and placed.product.polar is not None
    rows = [
        Working(
            "level on its axis at 1 m",
            drive.level_1m_dba,
            "dBA",
            "level without trim + trim",
            (
                ("loudspeaker", f"{placed.id}, {placed.product.name}"),
                ("trim", decibels(placed.trim_db)),
            ),
            "gain stages on its way that others do not share; the two of a pair share one level",
        ),
        Working(
            "radiation towards the ear",
            bands(levels.energy_level_db(np.maximum(towards, outbound.LEAST_ENERGY))),
            "dB",
            "its octave polars"
            if measured
            else "cosⁿ about the axis, −6 dB at half the stated angle at 2 and 4 kHz",
            (("angle off its axis", f"{angle:.0f}°"), ("stands at", place_words(placed.at))),
            "product data" + ("" if measured else "; law of the lobe derived"),
        ),
        *_headroom(drive),
    ]
    return Stage("Loudspeaker", tuple(rows))


def _headroom(drive: Drive) -> tuple[Working, ...]:
    peak = Working(
        "headroom at the peaks of speech",
        drive.headroom_db,
        "dB",
        "most at 1 m − (average, unweighted, + crest of speech)",
        (
            ("most at 1 m", decibels(drive.max_level_db)),
            ("peaks at 1 m", decibels(drive.peak_1m_db)),
        ),
        f"product data; crest {PRACTICE}",
    )
    if drive.power_w is None:
        return (peak,)
    tap = "none is enough, or it has none" if drive.tap_w is None else f"{drive.tap_w:g} W"
    power = Working(
        "power at the peaks",
        drive.power_w,
        "W",
        "10^((level + crest − sensitivity)/10)",
        (("smallest tap that gives it", tap),),
        "definition of sensitivity, 1 W and 1 m",
    )
    return (peak, power)


def _air(scene: Scene, playback: Playback, placed: PlacedLoudspeaker, row: Inbound) -> Stage:
    leads = row.leads
    climate = scene.room.space.climate
    others = tuple(
        (one.loudspeaker, f"{one.level_dba:.1f} dBA after {1000 * one.time:.1f} ms")
        for one in row.arrivals
        if one.loudspeaker != leads.loudspeaker
    )
    heard = played(scene, playback.loudspeakers, ears(np.array([row.talker.at])))
    index = [one.id for one in playback.loudspeakers].index(placed.id)
    reflected = heard.early[index, 0] + heard.late[index, 0]
    return Stage(
        "Air",
        (
            Working(
                "distance to the ear",
                leads.distance,
                "m",
                "straight line from acoustic centre to ear",
                (("loudspeaker", placed.id), ("ear", place_words(row.talker.at))),
                "geometry",
            ),
            Working(
                "power attenuation m of the air",
                scene.reverberation.air_power_attenuation,
                "1/m",
                "by temperature and humidity at exact mid-bands",
                (("air", f"{climate.temperature_c:g} °C, {100 * climate.humidity:.0f} %"),),
                AIR,
            ),
            Working(
                "direct sound re 1 m on the axis",
                bands(levels.energy_level_db(heard.direct[index, 0])),
                "dB",
                "10 lg(D(angle) e^(−m r) / r² + Σ Eᵢ), Eᵢ reflections within 1 ms of it"
                + (", bent round what is in the way" if heard.screened[index, 0] else ""),
                (("r", f"{leads.distance:.2f} m"),),
                "inverse square law",
            ),
            Working(
                "its reflections re 1 m on the axis",
                bands(levels.energy_level_db(np.maximum(reflected, outbound.LEAST_ENERGY))),
                "dB",
                "image sources of its first 60 ms, traced rays for the rest",
                (),
                "as from mouths to microphones",
            ),
            Working(
                "direct sound at the ear",
                leads.level_dba,
                "dBA",
                "10 lg Σ 10^((speech + trim + direct + A)/10)",
                others,
                "energy sum; the others are heard too",
            ),
            Working(
                "time since it left the far end's last device",
                1000.0 * leads.time,
                "ms",
                "devices and delay stages + r/c",
                (
                    ("c", f"{scene.propagation.speed:.1f} m/s"),
                    ("delay stages on its own input", f"{1000 * placed.delay:.1f} ms"),
                ),
                "data sheets and geometry",
            ),
        ),
    )


def _ear(row: Inbound) -> Stage:
    rows = [
        Working(
            "speech at the ear",
            row.levels_db,
            "dB",
            "10 lg Σ over loudspeakers of 10^((speech + trim + direct and reflected)/10)",
            (("loudspeakers", str(len(row.arrivals))),),
            "energy sum; an ear hears alike from all sides",
        ),
        Working(
            "direct over reflected sound",
            row.direct_to_reverberant_db,
            "dB",
            "mean of 500 Hz–4 kHz, direct sound of all loudspeakers",
            (),
            "definition",
        ),
        Working(
            "clarity C50 by octave",
            row.c50_db,
            "dB",
            "10 lg(energy up to 50 ms after the first direct sound / the rest)",
            (),
            "ISO 3382-1, from memory [M]",
        ),
    ]
    if row.direction_deg is not None:
        rows.append(
            Working(
                "angle between voice and picture",
                row.direction_deg,
                "°",
                "between where the voice seems to come from and the nearest picture",
                (("voice from", row.heard_from),),
                f"the first wavefront leads up to {PRECEDENCE_DB:g} dB, Haas 1951 [M]",
            )
        )
    return Stage("Ear", tuple(rows))


def _noise(scene: Scene, row: Inbound) -> Stage:
    sources = tuple(
        (one.id, figures(one.speech_octaves_db()) + " dB at 1 m") for one in scene.sources
    )
    return Stage(
        "Noise",
        (
            Working(
                "noise at the ear",
                row.noise_db,
                "dB",
                "10 lg Σ of background and every located source, direct and diffuse",
                (("background", spectrum_words(scene.room.noise.background)), *sources),
                "energy sum; steady diffuse field",
            ),
            Working(
                "speech over noise",
                row.speech_to_noise_db,
                "dB",
                "Σ wₖ (speech − noise) over 250 Hz–4 kHz, w = "
                + figures(sii_octave_importance()[1:6] / sii_octave_importance()[1:6].sum(), 3),
                (),
                S35 + ", octave importance",
            ),
        ),
    )


def _promise(row: Inbound) -> Stage:
    return Stage(
        "Promise",
        (
            Working(
                "modulation transfer index by octave",
                row.modulation_transfer_index,
                "",
                "mean over 14 modulation frequencies of (10 lg(m/(1 − m)) + 15)/30, clipped; every "
                "loudspeaker by its time, with noise, masking and threshold of hearing",
                (),
                STI,
            ),
            _quantity(row.sti, "STI", "Σ αₖ MTIₖ − Σ βₖ √(MTIₖ MTIₖ₊₁)", STI),
            _quantity(
                row.level,
                "level of speech",
                "10 lg Σ 10^((speech + A)/10)",
                "IEC 61672-1 [L]; its chance is that of lying within the promised range",
            ),
        ),
    )


def _quantity(found: Quantity, name: str, formula: str, source: str) -> Working:
    places = 2 if not found.unit else 1
    low, high = (f"{value:.{places}f}" for value in (found.low, found.high))
    inputs = [("10–90 %", signed(f"{low} to {high}")), ("σ", f"{found.sigma:.3g}")]
    if found.target is not None and found.chance is not None:
        inputs += [
            ("promised", signed(f"{found.target:g}")),
            ("chance", chance_words(found.chance)),
        ]
    value: float | Bands = found.value
    return Working(name, value, found.unit, formula, tuple(inputs), source)

"""One outbound path opened stage by stage: every number with formula, inputs and source."""

from __future__ import annotations

import math
from pathlib import PurePath

import numpy as np

from wellheard.acoustics import levels
from wellheard.acoustics.mixing import CLOSED_CHANNEL_DB
from wellheard.acoustics.speech import sii_octave_importance
from wellheard.catalog.products import Microphone
from wellheard.predict import reflections
from wellheard.predict.evidence import Bands, Evidence, Outbound, PlacedMicrophone
from wellheard.predict.noise import located_sources, spectrum_words
from wellheard.predict.outbound import NEAREST, SELF_NOISE_SHAPE_DB
from wellheard.predict.scene import Scene
from wellheard.predict.stages import (
    Stage,
    Working,
    a_weighted,
    chance_words,
    figures,
    percent,
    place_words,
    signed,
)
from wellheard.predict.surfaces import bands

KOCON = "Kocon & Monson 2018, JASA 144 EL7, Table 1, via an open copy [L]"
S35 = "ANSI S3.5-1997, via phonometry and mosqito [L]"
STI = "IEC 60268-16:2020, full method, via phonometry [L]"
BEAM = "beam from the places of the capsules, or from the sheet's directivity index; see pickup"
AIR = "ISO 9613-1:1993, via python-acoustics [L]"


def outbound_stages(scene: Scene, evidence: Evidence, row: Outbound) -> tuple[Stage, ...]:
    """From the mouth to the promise, for the ledger's ``row``."""
    return (
        mouth(scene),
        _air(scene, row),
        reflections.early(scene, evidence, row),
        reflections.late(scene, evidence, row),
        _capsule(evidence, row),
        _noise(evidence, row),
        _mixer(scene, evidence, row),
        _far_end(scene, row),
        _promise(scene, row),
    )


def mouth(scene: Scene, *who: tuple[str, str]) -> Stage:
    """What leaves the lips; ``who`` is said beside the effort."""
    return Stage(
        "Mouth",
        (
            Working(
                "speech in front of the lips at 1 m",
                bands(scene.speech_db),
                "dB",
                "octave levels of the stated vocal effort",
                (("vocal effort", scene.room.people.effort), *who),
                S35 + "; 125 Hz and quiet effort common practice [C]",
            ),
            a_weighted(float(levels.a_weighted_level_db(scene.speech_db))),
        ),
    )


def _air(scene: Scene, row: Outbound) -> Stage:
    path = row.path
    room = scene.room
    climate = room.space.climate
    return Stage(
        "Air",
        (
            Working(
                "distance to the microphone",
                path.distance,
                "m",
                "straight line from mouth to acoustic centre",
                (("mouth", place_words(row.talker.at)), ("microphone", path.microphone)),
                "geometry",
            ),
            Working(
                "angle off the mouth's axis",
                path.off_axis_deg,
                "°",
                "between the facing and the line to the microphone",
                (("facing", f"{path.facing_deg:.0f}°, the worst of those stated"),),
                "geometry",
            ),
            Working(
                "talker's directivity towards the microphone",
                path.talker_pattern_db,
                "dB",
                "piecewise linear in angle between measured angles",
                (("angle", f"{path.off_axis_deg:.0f}°"), ("talker", room.people.directivity)),
                KOCON
                if room.people.directivity == "human"
                else "the document, people.directivity: the same in every direction",
            ),
            Working(
                "power attenuation m of the air",
                scene.reverberation.air_power_attenuation,
                "1/m",
                "by temperature and humidity at exact mid-bands",
                (("air", f"{climate.temperature_c:g} °C, {percent(climate.humidity)}"),),
                AIR,
            ),
            Working(
                "direct sound re 1 m in front",
                path.direct_db,
                "dB",
                "10 lg(D(angle) G e^(−m r) / r² + Σ Eᵢ), Eᵢ reflections within 1 ms of it"
                + (", bent round what is in the way" if path.screened else ""),
                (
                    ("r", f"{path.distance:.2f} m"),
                    ("G, mean 500 Hz–4 kHz", signed(f"{path.pattern_db:.1f} dB")),
                    ("m", "of the air, above"),
                ),
                "inverse square law",
            ),
        ),
    )


def _capsule(evidence: Evidence, row: Outbound) -> Stage:
    path = row.path
    placed = next(m for m in evidence.microphones if m.id == path.microphone)
    product = placed.product
    taken, chosen = reflections.heard_by(placed, row)
    rows = [
        Working(
            "microphone's response towards the talker",
            path.pattern_db,
            "dB",
            "20 lg(A + (1 − A) cos θ) of the best element"
            if product.beam is None
            else "0 dB within the steering limit, "
            + ("its flank beyond it" if product.positions else "−12 dB beyond it"),
            (
                ("product", f"{product.id} ({_whose(evidence, product)})"),
                *_direction(product, path.element),
                ("θ", f"{off_element_deg(row, placed):.1f}°"),
            ),
            "first-order patterns, closed form [L]" if product.beam is None else BEAM,
        ),
        Working(
            "random energy efficiency",
            bands(taken.diffuse[chosen.pattern[0, 0]]),
            "",
            _efficiency_formula(product),
            (),
            "first-order patterns, closed form [L]"
            if product.beam is None
            else BEAM
            if product.positions
            else f"product data ({_whose(evidence, product)})",
        ),
        Working(
            "speech after the mixer, direct and reverberant",
            path.speech_db,
            "dB",
            "speech at 1 m + 10 lg(direct + reverberant)",
            (("reverberant", "early and late, of all n open microphones"),),
            "energy sum",
        ),
        Working(
            "the same, A-weighted",
            path.speech_level_dba,
            "dBA",
            "A-weighted sum",
            (),
            "IEC 61672-1",
        ),
    ]
    return Stage("Capsule", tuple(rows))


def _noise(evidence: Evidence, row: Outbound) -> Stage:
    placed = next(m for m in evidence.microphones if m.id == row.path.microphone)
    return Stage(
        "Noise",
        tuple(
            _noise_row(evidence, placed, origin, values)
            for origin, values in row.path.noise_parts_db.items()
        ),
    )


def _direction(product: Microphone, element: int) -> tuple[tuple[str, str], ...]:
    """Which capsule was taken, or how far the beam can be steered."""
    if product.beam is not None:
        return (("steering limit", f"{product.beam.steer_limit_deg:g}° from the rest axis"),)
    return (("element", f"{element + 1} of {max(1, len(product.elements))}"),)


def off_element_deg(row: Outbound, placed: PlacedMicrophone) -> float:
    """Angle from the axis of the used element, or a beam's rest axis, to the talker [°]."""
    axis = np.asarray(placed.product.axes(placed.aim_deg)[row.path.element])
    towards = np.asarray(row.talker.at) - np.asarray(placed.at)
    cosine = float(axis @ towards) / max(float(np.linalg.norm(towards)), NEAREST)
    return math.degrees(math.acos(min(1.0, max(-1.0, cosine))))


def _efficiency_formula(product: Microphone) -> str:
    if product.positions:
        return "mean of the beam towards this talker over all directions"
    if product.beam is not None:
        return "10^(−DI/10)"
    return "(A² + (1 − A)²/3)/2, in a table top" if product.boundary else "A² + (1 − A)²/3"


def _whose(evidence: Evidence, product: Microphone) -> str:
    """Whose figures a product's are: invented with the catalogue, or from a user's own file."""
    origin = evidence.catalogue.origin(product.id)
    return "invented" if origin is None else f"from {PurePath(origin.file).name}"


def _noise_row(evidence: Evidence, placed: PlacedMicrophone, origin: str, values: Bands) -> Working:
    name = f"noise at the capsule from {origin}"
    if origin == "background":
        return Working(
            name,
            values,
            "dB",
            "octave levels of the background + 10 lg REE",
            (("told as", evidence.noise.told_as),),
            spectrum_words(evidence.room.noise.background),
        )
    if origin == "self-noise":
        return Working(
            name,
            values,
            "dB",
            f"rated self-noise − {-SELF_NOISE_SHAPE_DB:g} dB in every octave"
            + (
                ", and what the beam makes of its capsules' own" if placed.product.positions else ""
            ),
            (("rated self-noise", f"{placed.product.self_noise_dba:g} dBA"),),
            f"product data ({_whose(evidence, placed.product)}); shape common practice [C]",
        )
    source = next(s for s in located_sources(evidence.room) if s.id == origin)
    return Working(
        name,
        values,
        "dB",
        "level at 1 m + 10 lg(G²/r² + 16π/A · 10^(−DI/10) · e^(−0.04 r/Tₗ) · REE)",
        (
            ("level at 1 m", figures(source.speech_octaves_db()) + " dB"),
            ("r", f"{math.dist(source.at, placed.at):.2f} m"),
            ("DI of the source", f"{source.directivity_index_db:.1f} dB"),
            ("G", "response of the same element or beam towards the source"),
        ),
        f"{spectrum_words(evidence.room.noise.sources[origin])}; steady diffuse field",
    )


def _mixer(scene: Scene, evidence: Evidence, row: Outbound) -> Stage:
    count = ("N", str(len(evidence.microphones)))
    if scene.sharing == "gating":
        formula = "n = 1 + (N − 1) · 10^(closed/10)"
        inputs = (count, ("closed channels", signed(f"{CLOSED_CHANNEL_DB:g} dB")))
        source = "gating mixer, common practice [C]"
    else:
        formula = "n = (g + N)/(g + 1), g direct over reverberant energy, mean of 500 Hz–4 kHz"
        inputs = (count, ("the others hear", "the room as loud as this one"))
        source = "gain sharing: Dugan 1975, from memory [M]"
    return Stage(
        "Mixer",
        (
            Working(
                "equivalent open microphones",
                row.path.open_microphones,
                "",
                formula,
                inputs,
                source,
            ),
            Working(
                "noise after the mixer",
                row.path.noise_db,
                "dB",
                "10 lg(n Σ noise at the capsule)",
                (),
                "energy sum",
            ),
            Working(
                "speech over noise by octave",
                bands(np.asarray(row.path.speech_db) - np.asarray(row.path.noise_db)),
                "dB",
                "speech − noise",
                (),
                "definition",
            ),
        ),
    )


def _far_end(scene: Scene, row: Outbound) -> Stage:
    path = row.path
    far = scene.room.far_end
    return Stage(
        "Far end",
        (
            Working(
                "gain to the listening level",
                path.far_end_gain_db,
                "dB",
                "listening level − A-weighted speech after the mixer",
                (("listening level", f"{far.listening_level_dba:g} dBA"),),
                "definition; codec and processing are outside this figure",
            ),
            Working(
                "speech at the far ear", path.far_end_speech_db, "dB", "speech + gain", (), "sum"
            ),
            Working(
                "noise of the far-end room",
                bands(scene.far_end_noise_db),
                "dB",
                "octave levels as told",
                (),
                f"far_end.noise; {spectrum_words(far.noise)}",
            ),
            Working(
                "noise at the far ear",
                path.far_end_noise_db,
                "dB",
                "10 lg(10^((noise + gain)/10) + 10^(far-end room noise/10))",
                (),
                "energy sum",
            ),
            Working(
                "modulation transfer index by octave",
                path.modulation_transfer_index,
                "",
                "mean over 14 modulation frequencies of (10 lg(m/(1 − m)) + 15)/30, clipped; "
                "m = |D + Σ Eᵢ e^(−j2πF tᵢ)|/(D + Σ Eᵢ) · I/(I + Iₙ + Iₐₘ + Iᵣₜ), "
                "D direct, Eᵢ reflections, tᵢ after the direct sound",
                (
                    ("masking", "from signal plus noise of the next lower octave"),
                    ("threshold", "46, 27, 12, 6.5, 7.5, 8, 12 dB"),
                ),
                STI,
            ),
        ),
    )


def _promise(scene: Scene, row: Outbound) -> Stage:
    rows = []
    formulas = {
        "sti_outbound": ("STI", "Σ αₖ MTIₖ − Σ βₖ √(MTIₖ MTIₖ₊₁)", STI),
        "direct_to_reverberant_db": (
            "direct-to-reverberant ratio",
            "mean of 500 Hz, 1, 2 and 4 kHz",
            "definition of the target",
        ),
        "speech_to_noise_db": (
            "speech to noise",
            "Σ wₖ (speech − noise) over 250 Hz–4 kHz, w = "
            + figures(sii_octave_importance()[1:6] / sii_octave_importance()[1:6].sum(), 3),
            S35 + ", octave importance",
        ),
    }
    for quantity in row.quantities:
        name, formula, source = formulas[quantity.name]
        inputs: list[tuple[str, str]] = [
            ("10–90 %", signed(f"{quantity.low:.2f} to {quantity.high:.2f}")),
            ("σ", f"{quantity.sigma:.3g}"),
        ]
        if quantity.target is not None and quantity.chance is not None:
            inputs += [
                ("promised", signed(f"{quantity.target:g}")),
                ("chance", chance_words(quantity.chance)),
            ]
        rows.append(Working(name, quantity.value, quantity.unit, formula, tuple(inputs), source))
    return Stage("Promise", tuple(rows))

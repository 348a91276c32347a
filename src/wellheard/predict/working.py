"""One outbound path opened stage by stage: every number with formula, inputs and source."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wellheard.acoustics import levels
from wellheard.acoustics.directivity import TALKER_DIRECTIVITY_INDEX_DB
from wellheard.acoustics.field import BARRON_SLOPE, sabine_constant
from wellheard.acoustics.speech import sii_octave_importance
from wellheard.bands import OCTAVES
from wellheard.predict.evidence import Bands, Evidence, Outbound
from wellheard.predict.outbound import CLOSED_CHANNEL_DB
from wellheard.predict.scene import Scene
from wellheard.predict.surfaces import bands

KOCON = "Kocon & Monson 2018, JASA 144 EL7, Table 1, via an open transcription [L]"
S35 = "ANSI S3.5-1997, via phonometry and mosqito [L]"
STI = "IEC 60268-16:2020, full method, via phonometry [L]"
BARRON = "Barron & Lee 1988, from memory [M]; steady diffuse field, Kuttruff, Room Acoustics"
AIR = "ISO 9613-1:1993, via python-acoustics [L]"


@dataclass(frozen=True)
class Working:
    """One number of a path: what it is, how it comes about, and who says so."""

    quantity: str
    value: float | Bands
    unit: str
    formula: str
    inputs: tuple[tuple[str, str], ...]
    source: str


@dataclass(frozen=True)
class Stage:
    """One station of the path and its numbers."""

    name: str
    rows: tuple[Working, ...]


def outbound_stages(scene: Scene, evidence: Evidence, row: Outbound) -> tuple[Stage, ...]:
    """Mouth, air, room, capsule, mixer, far end, promise, for the ledger's ``row``."""
    return (
        _mouth(scene),
        _air(scene, row),
        _room(scene, evidence, row),
        _capsule(evidence, row),
        _mixer(evidence, row),
        _far_end(scene, row),
        _promise(scene, row),
    )


def _mouth(scene: Scene) -> Stage:
    effort = scene.room.people.effort
    return Stage(
        "Mouth",
        (
            Working(
                "speech in front of the lips at 1 m",
                bands(scene.speech_db),
                "dB",
                "octave levels of the stated vocal effort",
                (("vocal effort", effort),),
                S35 + "; 125 Hz and quiet effort common practice [C]",
            ),
            Working(
                "the same, A-weighted",
                float(levels.a_weighted_level_db(scene.speech_db)),
                "dBA",
                "10 lg Σ 10^((L + A)/10)",
                (),
                "IEC 61672-1 [L]",
            ),
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
                (("mouth", _point(row.talker.at)), ("microphone", path.microphone)),
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
                KOCON,
            ),
            Working(
                "direct sound re 1 m in front",
                path.direct_db,
                "dB",
                "D(angle) + 20 lg G − 20 lg r − 4.34 m r",
                (
                    ("r", f"{path.distance:.2f} m"),
                    ("G, mean 500 Hz–4 kHz", f"{path.pattern_db:.1f} dB"),
                    ("m", f"air at {climate.temperature_c:g} °C, {climate.humidity:.0%}"),
                ),
                AIR,
            ),
        ),
    )


def _room(scene: Scene, evidence: Evidence, row: Outbound) -> Stage:
    decay = evidence.reverberation
    area = sabine_constant(decay.speed_of_sound) * decay.volume / np.asarray(decay.time)
    human = scene.room.people.directivity == "human"
    return Stage(
        "Room",
        (
            Working(
                "reverberation time",
                decay.time,
                "s",
                "Π Tₖ^(Sₖ/S) over the three pairs of surfaces"
                if not decay.measured
                else "measured",
                (
                    ("V", f"{decay.volume:.1f} m³"),
                    ("S", f"{decay.surface:.1f} m²"),
                    ("occupied", f"{scene.room.people.occupancy:.0%} of the seats"),
                ),
                "Arau-Puchades 1988, via phonometry and python-acoustics [L]"
                if not decay.measured
                else "the document, space.measured_reverberation",
            ),
            Working(
                "equivalent absorption area",
                bands(area),
                "m²",
                "A = 24 ln 10 / c · V / T",
                (("c", f"{decay.speed_of_sound:.1f} m/s"),),
                "ISO 3382-2 relation [L]",
            ),
            Working(
                "reverberant sound re 1 m in front",
                row.path.reverberant_db,
                "dB",
                "10 lg(16π/A · 10^(−DI/10) · e^(−0.04 r/T) · REE · n)",
                (
                    (
                        "DI of the talker",
                        _list(TALKER_DIRECTIVITY_INDEX_DB) + " dB" if human else "0 dB",
                    ),
                    (f"e^(−{BARRON_SLOPE:g} r/T)", f"r = {row.path.distance:.2f} m"),
                    ("REE", "random energy efficiency of the microphone"),
                    ("n", f"{evidence.open_microphones:.3f} open microphones"),
                ),
                BARRON,
            ),
            Working(
                "direct-to-reverberant ratio by octave",
                row.path.direct_to_reverberant_bands_db,
                "dB",
                "direct − reverberant",
                (),
                "definition",
            ),
            Working(
                "C50 by octave",
                row.path.c50_db,
                "dB",
                "10 lg((g + 1 − e^(−0.69/T)) / e^(−0.69/T)), g direct over reverberant energy",
                (),
                "ISO 3382-1:2009, ideal decay [L]",
            ),
        ),
    )


def _capsule(evidence: Evidence, row: Outbound) -> Stage:
    path = row.path
    placed = next(m for m in evidence.microphones if m.id == path.microphone)
    product = placed.product
    rows = [
        Working(
            "microphone's response towards the talker",
            path.pattern_db,
            "dB",
            "20 lg(A + (1 − A) cos θ) of the best element"
            if product.beam is None
            else "0 dB within the steering limit, −12 dB beyond it",
            (
                ("product", f"{product.id} (invented)"),
                ("element", f"{path.element + 1} of {max(1, len(product.elements))}"),
            ),
            "first-order patterns, closed form [L]",
        ),
        Working(
            "random energy efficiency",
            product.random_energy_efficiencies()[path.element],
            "",
            "A² + (1 − A)²/3" if product.beam is None else "10^(−DI/10)",
            (),
            "first-order patterns, closed form [L]",
        ),
        Working(
            "speech at the capsule, direct and reverberant",
            path.speech_db,
            "dB",
            "speech at 1 m + 10 lg(direct + reverberant)",
            (),
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
    for origin, values in path.noise_parts_db.items():
        rows.append(
            Working(
                f"noise at the capsule from {origin}",
                values,
                "dB",
                _NOISE_FORMULA.get(
                    origin, "level at 1 m + 10 lg(pattern/r² + 16π/A e^(−0.04 r/T) REE)"
                ),
                (("told as", evidence.noise.told_as),) if origin == "background" else (),
                _NOISE_SOURCE.get(origin, "the document; steady diffuse field"),
            )
        )
    return Stage("Capsule", tuple(rows))


_NOISE_FORMULA = {
    "background": "octave levels of the background + 10 lg REE",
    "self-noise": "rated self-noise, equal in every octave",
}
_NOISE_SOURCE = {
    "background": "ANSI/ASA S12.2-2019 Table 1 where told as NC, via phonometry [L]",
    "self-noise": "product data (invented); shape common practice [C]",
}


def _mixer(evidence: Evidence, row: Outbound) -> Stage:
    count = len(evidence.microphones)
    return Stage(
        "Mixer",
        (
            Working(
                "equivalent open microphones",
                evidence.open_microphones,
                "",
                "n = 1 + (N − 1) · 10^(closed/10)",
                (("N", str(count)), ("closed channels", f"{CLOSED_CHANNEL_DB:g} dB")),
                "gating mixer, common practice [C]",
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
                "listening level − A-weighted speech at the capsule",
                (("listening level", f"{far.listening_level_dba:g} dBA"),),
                "definition; codec and processing are outside this figure",
            ),
            Working(
                "speech at the far ear", path.far_end_speech_db, "dB", "speech + gain", (), "sum"
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
                "m = |g + 1/(1 + j2πFT/13.8155)|/(1 + g) · I/(I + Iₙ + Iₐₘ + Iᵣₜ)",
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
            + _list(sii_octave_importance()[1:6] / sii_octave_importance()[1:6].sum(), 3),
            S35 + ", octave importance",
        ),
    }
    for quantity in row.quantities:
        name, formula, source = formulas[quantity.name]
        inputs: list[tuple[str, str]] = [
            ("10–90 %", f"{quantity.low:.2f} to {quantity.high:.2f}"),
            ("σ", f"{quantity.sigma:.3g}"),
        ]
        if quantity.target is not None and quantity.chance is not None:
            inputs += [
                ("promised", f"{quantity.target:g}"),
                ("chance", f"{quantity.chance:.0%}"),
            ]
        rows.append(Working(name, quantity.value, quantity.unit, formula, tuple(inputs), source))
    return Stage("Promise", tuple(rows))


def octave_labels() -> tuple[str, ...]:
    """Heads of the seven columns."""
    return tuple(f"{f:g}" if f < 1000 else f"{f / 1000:g}k" for f in OCTAVES)


def _point(at: tuple[float, float, float]) -> str:
    return f"({at[0]:.2f}, {at[1]:.2f}, {at[2]:.2f}) m"


def _list(values: object, places: int = 1) -> str:
    return ", ".join(f"{v:.{places}f}" for v in np.asarray(values, dtype=np.float64))

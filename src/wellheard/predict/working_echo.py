"""The echo of one microphone opened stage by stage: every number with formula and source."""

from __future__ import annotations

import numpy as np

from wellheard.acoustics import echo as physics
from wellheard.acoustics import levels
from wellheard.predict.coupling import Coupled, coupling
from wellheard.predict.echo import PROMISED, TAIL_OCTAVES, held_by
from wellheard.predict.evidence import Evidence
from wellheard.predict.scene import Scene
from wellheard.predict.stages import (
    PRACTICE,
    Stage,
    Working,
    a_weighted,
    decibels,
    figures,
    place_words,
    signed,
)
from wellheard.predict.surfaces import bands
from wellheard.predict.wayback import Echo, PlacedLoudspeaker, Playback
from wellheard.predict.working import S35
from wellheard.predict.working_level import WORKING_DBFS

G107 = "ITU-T G.107 (7-22) [L], held at 14.4 dB: 55 dB at 300 ms after G.131, from memory [M]"
G122 = "ITU-T G.122 B.4, trapezoid over 300–3400 Hz, from memory [M]"


def echo_stages(scene: Scene, evidence: Evidence, echo: Echo) -> tuple[Stage, ...]:
    """From the far end back to it, for one microphone.

    Parameters
    ----------
    scene : Scene
        The room.
    evidence : Evidence
        With the playback that causes the echo.
    echo : Echo
        Of the microphone.
    """
    playback = evidence.playback
    assert playback is not None
    coupled = coupling(scene, evidence.microphones, evidence.outbound, playback).of(echo.microphone)
    row = coupled.talkers.index(echo.talker)
    loudest = min(echo.by_loudspeaker_db, key=lambda each: each[1])[0]
    index = [one.id for one in playback.loudspeakers].index(loudest)
    return (
        _far_end(playback),
        _loudspeaker(playback, playback.loudspeakers[index], echo),
        _air(scene, coupled, row, index, playback.loudspeakers[index]),
        _capsule(coupled, row, echo),
        _gain(coupled, row, echo),
        _canceller(scene, coupled, row, echo),
        _promise(scene, echo),
    )


def _far_end(playback: Playback) -> Stage:
    return Stage(
        "Far end",
        (
            Working(
                "speech in the reference",
                WORKING_DBFS,
                "dBFS",
                "working level: average speech, while loudspeakers play at playback level",
                (("playback level", f"{playback.target_dba:.1f} dBA, mean over the ears"),),
                PRACTICE,
            ),
            Working(
                "speech 1 m before a loudspeaker without trim",
                playback.speech_1m_db,
                "dB",
                "octave levels of normal effort at the level that gives the ears their mean",
                (("level", f"{playback.level_1m_dba:.1f} dBA"),),
                S35 + "; see the inbound path",
            ),
        ),
    )


def _loudspeaker(playback: Playback, placed: PlacedLoudspeaker, echo: Echo) -> Stage:
    return Stage(
        "Loudspeaker",
        (
            Working(
                "level of the one that is heard most, on its axis at 1 m",
                playback.level_1m_dba + placed.trim_db,
                "dBA",
                "level without trim + trim",
                (
                    ("loudspeaker", f"{placed.id}, {placed.product.name}"),
                    ("trim", decibels(placed.trim_db)),
                    ("stands at", place_words(placed.at)),
                ),
                "gain stages on its way that others do not share",
            ),
            Working(
                "its return loss alone",
                min(loss for _, loss in echo.by_loudspeaker_db),
                "dB",
                "as below, with this loudspeaker alone",
                tuple((name, decibels(loss)) for name, loss in echo.by_loudspeaker_db),
                G122,
            ),
        ),
    )


def _air(scene: Scene, coupled: Coupled, row: int, index: int, placed: PlacedLoudspeaker) -> Stage:
    ratio_db = levels.energy_level_db(coupled.direct_ratio[row, index])
    own = placed.device == coupled.microphone
    return Stage(
        "Air",
        (
            Working(
                "distance from that loudspeaker to the microphone",
                float(coupled.arrival[row, index]),
                "m",
                "straight line" if not own else "in one housing",
                (
                    (
                        "sound takes",
                        f"{1000 * coupled.arrival[row, index] / scene.propagation.speed:.1f} ms",
                    ),
                ),
                "geometry",
            ),
            Working(
                "direct over reflected sound there",
                bands(ratio_db),
                "dB",
                "rated coupling over the diffuse field of the room"
                if own
                else "direct sound with both patterns over image sources and traced rays",
                (),
                "product data" if own else "as from mouths to microphones",
            ),
        ),
    )


def _capsule(coupled: Coupled, row: int, echo: Echo) -> Stage:
    echo_db = levels.sum_levels_db(coupled.echo_db[row], axis=0)
    return Stage(
        "Capsule",
        (
            Working(
                "echo at the capsule",
                bands(echo_db),
                "dB",
                "10 lg Σ over loudspeakers of 10^((speech + trim + direct and reflected)/10)",
                (
                    ("element or beam", f"that of {echo.talker}"),
                    ("of those in use", "the one with the least return loss"),
                ),
                "energy sum",
            ),
            a_weighted(echo.echo_dba),
            Working(
                "speech of the talker there",
                echo.speech_dba,
                "dBA",
                "as on the outbound path, no other microphone open",
                (("talker", echo.talker),),
                S35,
            ),
            Working(
                "echo over speech",
                echo.echo_to_speech_db,
                "dB",
                "echo − speech, A-weighted",
                (),
                "definition; up to 10 dB is " + PRACTICE,
            ),
            Working(
                "noise there",
                echo.noise_dba,
                "dBA",
                "energy sum of all that the outbound path names",
                (),
                "as on the outbound path",
            ),
        ),
    )


def working_level(coupled: Coupled) -> Working:
    """Level at a microphone's capsule that its gain brings to working level."""
    who = "the talkers that it serves" if coupled.serves else "all talkers, it serves nobody"
    return Working(
        "level at the capsule that lies at working level",
        coupled.working_dba,
        "dBA",
        "mean of the A-weighted levels of its talkers − stated gains",
        (("talkers", f"{len(coupled.talkers)}: {who}"),),
        signed(f"{WORKING_DBFS:g} dBFS for average speech, {PRACTICE}"),
    )


def _gain(coupled: Coupled, row: int, echo: Echo) -> Stage:
    return Stage(
        "Gain",
        (
            working_level(coupled),
            Working(
                "return loss by octave",
                echo.return_loss_bands_db,
                "dB",
                "−(echo − speech at 0 dBA − level that lies at working level)",
                (("at 0 dBA", figures(_speech_at_0(coupled, row)) + " dB"),),
                "level in the reference − level in the microphone's signal",
            ),
            Working(
                "return loss, weighted",
                echo.return_loss_db,
                "dB",
                "3.24 − 10 lg Σ (Aᵢ + Aᵢ₋₁)(lg fᵢ − lg fᵢ₋₁), A = 10^(−loss/10)",
                (),
                G122,
            ),
        ),
    )


def _speech_at_0(coupled: Coupled, row: int) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    """Octaves of far-end speech at 0 dBA, from levels and gains of one loudspeaker."""
    return np.asarray(coupled.echo_db[row, 0] - coupled.gains_db[row, 0] - coupled.working_dba)


def _canceller(scene: Scene, coupled: Coupled, row: int, echo: Echo) -> Stage:
    time = scene.time[TAIL_OCTAVES]
    ratio = coupled.ratio[row, TAIL_OCTAVES]
    rows = [
        Working(
            "tail that is needed",
            1000.0 * echo.tail_needed,
            "ms",
            "(loss − 10 lg(1 + g)) · T/60 + bulk delay, longest of 500 Hz, 1 and 2 kHz",
            (
                ("loss", "what must be added − suppression, and what distortion and noise cost"),
                ("T", figures(time, 2) + " s"),
                ("g, direct over reflected", figures(levels.energy_level_db(ratio)) + " dB"),
                *_several(echo),
            ),
            "exponential decay, derived",
        ),
    ]
    if echo.bound_tail_db is not None and echo.tail is not None:
        rows.append(
            Working(
                "what its tail leaves it to cancel",
                echo.bound_tail_db,
                "dB",
                "60 t/T + 10 lg(1 + g), least of 500 Hz, 1 and 2 kHz",
                (("t", f"{1000 * echo.tail:.0f} ms, less the bulk delay"), *_several(echo)),
                "exponential decay, derived; tail of the data sheet",
            )
        )
    rows += [
        Working(
            "what distortion leaves it to cancel",
            echo.bound_distortion_db,
            "dB",
            "−20 lg(harmonic distortion)",
            (("loudspeakers", "each by its share of the echo"),),
            f"derived; where no sheet states it {PRACTICE}",
        ),
        Working(
            "what noise leaves it to cancel",
            echo.bound_noise_db,
            "dB",
            "echo − noise + what slow adaptation averages out",
            (),
            PRACTICE,
        ),
        _cap(echo),
        Working(
            "suppression of the residue",
            echo.suppression_db,
            "dB",
            "on top of what the filter takes away",
            (),
            PRACTICE,
        ),
    ]
    if echo.can_add_db is not None:
        rows.append(
            Working(
                "what can be added",
                echo.can_add_db,
                "dB",
                "−10 lg Σ 10^(−bound/10) of tail, distortion and noise, at most what is "
                f"{'rated' if _rated(echo) else 'reached in practice'}; + suppression",
                (("canceller", echo.canceller or ""), ("held by", held_by(echo))),
                "residues of unlike causes add as energies",
            )
        )
    return Stage("Canceller", tuple(rows))


def _several(echo: Echo) -> tuple[tuple[str, str], ...]:
    """How the tail counts where several loudspeakers bring the echo."""
    if len(echo.by_loudspeaker_db) < 2:
        return ()
    how = "each with its own g and bulk delay; what is left of each adds by its share of the echo"
    return (("loudspeakers", how),)


def _rated(echo: Echo) -> bool:
    return echo.bound_practice_from == "rated"


def _cap(echo: Echo) -> Working:
    """Most that the filter takes away, by its sheet or by practice."""
    if not _rated(echo):
        return Working(
            "most that is reached in practice",
            echo.bound_practice_db,
            "dB",
            "linear echo cancelling alone",
            (),
            PRACTICE,
        )
    return Working(
        "most that is rated",
        echo.bound_practice_db,
        "dB",
        "echo loss that it adds in single talk − suppression",
        (
            ("echo loss it adds", decibels(echo.bound_practice_db + echo.suppression_db)),
            ("suppression", decibels(echo.suppression_db)),
        ),
        "data sheet",
    )


def _promise(scene: Scene, echo: Echo) -> Stage:
    delay_ms = scene.room.far_end.one_way_delay_ms
    promised = echo.needed_from == PROMISED
    asked = float(physics.telr_needed_db(delay_ms))
    left = "nothing cancels it" if echo.can_add_db is None else decibels(echo.can_add_db)
    return Stage(
        "Promise",
        (
            Working(
                "loss that the far end needs",
                echo.needed_db,
                "dB",
                "as promised" if promised else "echo loudness rating needed at the delay − 10 dB",
                ()
                if promised
                else (
                    ("one-way delay", f"{delay_ms:g} ms"),
                    ("rating", decibels(asked)),
                    ("far talker's terminal", decibels(physics.NOMINAL_TERMINAL_LOSS_DB)),
                ),
                f"the document, {PROMISED}" if promised else G107,
            ),
            Working(
                "what must be added",
                echo.must_add_db,
                "dB",
                "needed − return loss, 0 at least",
                (("return loss", decibels(echo.return_loss_db)),),
                "sum",
            ),
            Working(
                "what is left after it",
                (echo.can_add_db or 0.0) - echo.must_add_db,
                "dB",
                "can be added − must be added",
                (("can be added", signed(left)), ("state", echo.state)),
                "levels of people vary: see the wanted chance",
            ),
        ),
    )

"""Lift for one ear opened stage by stage: every number with formula, inputs and source."""

from __future__ import annotations

import math

from wellheard.acoustics import mixing
from wellheard.predict.coupling import coupling
from wellheard.predict.evidence import Evidence, Outbound
from wellheard.predict.lift import HOST_NOT_INCLUDED, INCREASE, LEVEL
from wellheard.predict.scene import Scene
from wellheard.predict.stages import PRACTICE, Stage, Working, a_weighted, decibels, place_words
from wellheard.predict.wayback import FarthestPair, Lift, Lifted, PlacedLoudspeaker
from wellheard.predict.working import mouth
from wellheard.predict.working_echo import working_level
from wellheard.predict.working_level import open_level_dba
from wellheard.room.document import Room

FOUR_DISTANCES = "Davis and Patronis, Sound System Engineering, via an open room-acoustics code [L]"
PEAKS = "Schroeder 1964 and Rice 1948; see the acoustics of loops"


def lift_stages(scene: Scene, evidence: Evidence, lifted: Lifted) -> tuple[Stage, ...]:
    """From the mouth that an ear hears worst, through the loudspeakers, to that ear.

    Parameters
    ----------
    scene : Scene
        The room.
    evidence : Evidence
        With the lift that ``lifted`` is of.
    lifted : Lifted
        Of the ear.
    """
    found, playback = evidence.lift, evidence.playback
    assert found is not None
    assert playback is not None
    row = next(one for one in evidence.outbound if one.talker.id == lifted.speaker)
    placed = next((o for o in playback.loudspeakers if o.id == lifted.loudspeaker), None)
    stages = [
        mouth(
            scene, ("talker", f"{row.talker.id}, heard worst at {lifted.talker.id} without lift")
        ),
        _air(row, lifted),
        _capsule(scene, evidence, row),
        _gain(scene, found, row, placed, lifted),
    ]
    if placed is not None:
        stages += [
            _loudspeaker(playback.level_1m_dba, placed),
            _air_back(scene, found, lifted, placed),
        ]
    return (*stages, _ear(scene.room, lifted), _loop(found))


def _air(row: Outbound, lifted: Lifted) -> Stage:
    path = row.path
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
                "direct sound there re 1 m in front",
                path.direct_db,
                "dB",
                "as on the outbound path",
                (),
                "inverse square law, both directivities",
            ),
            Working(
                "distance to the ear",
                math.dist(row.talker.at, lifted.talker.at),
                "m",
                "straight line from mouth to ear",
                (("ear", place_words(lifted.talker.at)),),
                "geometry",
            ),
        ),
    )


def _capsule(scene: Scene, evidence: Evidence, row: Outbound) -> Stage:
    assert evidence.playback is not None
    coupled = coupling(scene, evidence.microphones, evidence.outbound, evidence.playback).of(
        row.path.microphone
    )
    speech_dba = open_level_dba(scene, row.path)
    return Stage(
        "Capsule",
        (
            Working(
                "speech at the capsule",
                speech_dba,
                "dBA",
                "direct and reflected sound, no other microphone open",
                (("element or beam", f"that of {row.talker.id}"),),
                "as on the outbound path",
            ),
            working_level(coupled),
            Working(
                "this voice re working level",
                speech_dba - coupled.working_dba,
                "dB",
                "speech − working level",
                (),
                "difference",
            ),
        ),
    )


def _gain(
    scene: Scene, found: Lift, row: Outbound, placed: PlacedLoudspeaker | None, lifted: Lifted
) -> Stage:
    own = [
        pair
        for pair in found.pairs
        if pair.microphone == row.path.microphone
        and (placed is None or pair.loudspeaker == placed.id)
    ]
    how = (
        "as the document states"
        if found.stated
        else f"the most that {decibels(found.wanted_margin_db)} of margin leave"
    )
    sent = placed.id if placed is not None else "no loudspeaker"
    rows = [
        Working(
            "gain of the lift",
            own[0].lift_db if own else found.gain_db,
            "dB",
            "0 dB plays a voice at working level as loud as the far end",
            (("from", row.path.microphone), ("to", sent), ("gain", how)),
            "the document, processing" if found.stated else "stability margin, see the loop",
        )
    ]
    if scene.sharing == "gating":
        rows.append(
            Working(
                "channels of the other microphones",
                mixing.CLOSED_CHANNEL_DB,
                "dB",
                "held down while this one is open",
                (("open microphones", f"{found.open_microphones:.2f}"),),
                f"gating mixer, {PRACTICE}",
            )
        )
    else:
        rows.append(
            Working(
                "gains of all channels together",
                0.0,
                "dB",
                "Σ over channels of their power gains is 1, each by what it hears",
                (("open microphones", f"{found.open_microphones:.2f}"),),
                "gain sharing: Dugan 1975, from memory [M]",
            )
        )
    return Stage("Gain", tuple(rows))


def _loudspeaker(level_1m_dba: float, placed: PlacedLoudspeaker) -> Stage:
    return Stage(
        "Loudspeaker",
        (
            Working(
                "level of the far end 1 m on the axis of what brings most",
                level_1m_dba + placed.trim_db,
                "dBA",
                "common level at playback level + trim",
                (
                    ("loudspeaker", f"{placed.id}, {placed.product.name}"),
                    ("trim", decibels(placed.trim_db)),
                    ("stands at", place_words(placed.at)),
                ),
                "the inbound path; the lift plays with the same trims",
            ),
        ),
    )


def _air_back(scene: Scene, found: Lift, lifted: Lifted, placed: PlacedLoudspeaker) -> Stage:
    distance = math.dist(placed.at, lifted.talker.at)
    rows = [
        Working(
            "distance from loudspeaker to ear",
            distance,
            "m",
            "straight line",
            (("sound takes", f"{1000 * distance / scene.propagation.speed:.1f} ms"),),
            "geometry",
        )
    ]
    if lifted.after is not None:
        rows.append(
            Working(
                "lifted voice after the natural one",
                1000.0 * lifted.after,
                "ms",
                "(mouth to microphone + loudspeaker to ear − mouth to ear)/c + devices",
                (("devices, longest way", f"{1000 * found.electronics:.1f} ms"),),
                "geometry and data sheets",
            )
        )
    return Stage("Air back", tuple(rows))


def _ear(room: Room, lifted: Lifted) -> Stage:
    rows = [
        Working(
            "natural voice at the ear",
            lifted.natural_db,
            "dB",
            "10 lg(direct + reflected) + speech, mouth to an ear that hears alike from all sides",
            (("looks", "the way that the ledger has the talker look"),),
            "image sources and traced rays, as to microphones",
        ),
        a_weighted(lifted.natural_dba),
    ]
    if lifted.brought_db is not None and lifted.brought_dba is not None:
        rows += [
            Working(
                "what the loudspeakers bring",
                lifted.brought_db,
                "dB",
                "10 lg Σ over microphones and loudspeakers of voice re working level · channel · "
                "lift · playback",
                (),
                "energies add; what comes round the loop again is left out",
            ),
            a_weighted(lifted.brought_dba, "the same, A-weighted together"),
        ]
    rows += [
        Working(
            "both voices",
            lifted.lifted_dba,
            "dBA",
            "10 lg(10^(natural/10) + 10^(brought/10))",
            (("at most", f"{room.targets.limit_in_force(LEVEL):g} dBA"),),
            f"energy sum; limit {PRACTICE}",
        ),
        Working(
            "how much louder",
            lifted.gain_db,
            "dB",
            "both − natural",
            (("at most", decibels(room.targets.limit_in_force(INCREASE))),),
            f"difference; limit {PRACTICE}",
        ),
    ]
    return Stage("Ear", tuple(rows))


def _loop(found: Lift) -> Stage:
    strongest = next(
        (
            pair
            for pair in found.pairs
            if (pair.microphone, pair.loudspeaker) == (found.microphone, found.loudspeaker)
        ),
        found.pairs[0],
    )
    rows = [
        Working(
            "loop of the strongest pair by octave",
            strongest.gain_bands_db,
            "dB",
            "lift + return gain: level in the microphone's signal − level in what is sent",
            (("from", strongest.loudspeaker), ("to", strongest.microphone)),
            "as the echo of that microphone",
        ),
        Working(
            "loop gain where it howls first",
            found.loop_gain_db,
            "dB",
            "10 lg of the greatest eigenvalue of (room · lift · channels), energies",
            (
                ("octave", f"{found.octave:g} Hz"),
                ("open microphones", f"{found.open_microphones:.2f}"),
            ),
            "derived; the same mix to all loudspeakers gives the sum over pairs + 10 lg NOM",
        ),
        Working(
            "peaks over that mean",
            found.excess_db,
            "dB",
            "highest peak to be expected in the octave, by its width, decay and direct sound",
            (),
            PEAKS,
        ),
        Working(
            "margin before it howls",
            found.margin_db,
            "dB",
            "−(loop gain + peaks)",
            (("wanted", decibels(found.wanted_margin_db)),),
            f"wanted margin {PRACTICE}. {HOST_NOT_INCLUDED}",
        ),
        Working(
            "gain that margin, increase and level leave",
            found.advised_gain_db,
            "dB",
            "least of the three, all moved together",
            (),
            PRACTICE,
        ),
    ]
    if found.farthest is not None:
        rows += _four_distances(found, found.farthest)
    return Stage("Loop", tuple(rows))


def _four_distances(found: Lift, pair: FarthestPair) -> list[Working]:
    distances = (
        ("talker to listener", f"{pair.talker_to_listener:.2f} m"),
        ("talker to microphone", f"{pair.talker_to_microphone:.2f} m"),
        ("loudspeaker to listener", f"{pair.loudspeaker_to_listener:.2f} m"),
        ("loudspeaker to microphone", f"{pair.loudspeaker_to_microphone:.2f} m"),
    )
    changes = (
        ("talker to listener", decibels(pair.talker_to_listener_db)),
        ("talker to microphone", decibels(pair.talker_to_microphone_db)),
        ("loudspeaker to listener", decibels(pair.loudspeaker_to_listener_db)),
        ("loudspeaker to microphone", decibels(pair.loudspeaker_to_microphone_db)),
    )
    near = (("equivalent acoustic distance", f"{found.equivalent_distance:.2f} m"),)
    who = (("pair", f"{pair.speaker} to {pair.listener}, the farthest apart"),)
    return [
        Working(
            "potential acoustic gain",
            found.potential_gain_db,
            "dB",
            "Δ(talker→microphone) − Δ(loudspeaker→microphone) + Δ(loudspeaker→listener) − "
            "Δ(talker→listener) − 10 lg NOM − margin",
            (*who, *changes),
            FOUR_DISTANCES + "; level changes of A-weighted speech in this room",
        ),
        Working(
            "the same by distances alone",
            pair.direct_potential_db,
            "dB",
            "20 lg(D0 · D1/(Ds · D2)) − 10 lg NOM − margin",
            distances,
            FOUR_DISTANCES,
        ),
        Working(
            "needed acoustic gain",
            found.needed_gain_db,
            "dB",
            "level of a talker at the equivalent distance − natural level",
            (*who, *near),
            FOUR_DISTANCES + f"; distance by noise {PRACTICE}",
        ),
        Working(
            "needed by distances alone",
            pair.direct_needed_db,
            "dB",
            "20 lg(D0/equivalent distance)",
            near,
            FOUR_DISTANCES,
        ),
    ]

"""Levels from pascal to full scale and back, against hand calculations in dBV, dBu and watts."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from wellheard.catalog.products import Amplifier
from wellheard.predict import ledger
from wellheard.predict.coupling import coupling
from wellheard.predict.diagram import level_diagrams
from wellheard.predict.inbound import drive
from wellheard.predict.scene import Scene
from wellheard.predict.wayback import LevelDiagram, LevelStage, Playback

Levels = Callable[[Scene, float], Playback]
Rooms = Callable[[dict[str, Any]], Scene]

NECK = {"kind": "microphone", "product": "gooseneck", "at": [8, 8, 1.2]}
HEAD = {"kind": "microphone", "product": "ceiling-head-3", "at": [8, 8, 1.2]}
BOX = {"kind": "loudspeaker", "product": "wall-8", "at": [10.4, 8, 1.2]}
PROCESSOR = {"kind": "processor", "product": "processor-4"}
AMPLIFIER = {"kind": "amplifier", "product": "amplifier-2x40"}


def _scene(dead_room_of: Rooms, devices: dict[str, Any], **over: Any) -> Scene:
    seats = {"seats": {"s1": {"at": [6, 8], "facing": 0}}}
    return dead_room_of({"people": seats, "devices": devices, **over})


def _diagrams(scene: Scene, playback: Playback | None = None) -> tuple[LevelDiagram, ...]:
    found = ledger.evidence(scene, assumptions=False)
    return level_diagrams(scene, found.microphones, found.outbound, found.paths, playback)


def _stage(diagram: LevelDiagram, name: str) -> LevelStage:
    return next(stage for stage in diagram.stages if stage.name == name)


def _known(value: float | None) -> float:
    assert value is not None
    return value


def test_an_analogue_microphone_gives_the_volts_of_its_sensitivity(dead_room_of: Rooms) -> None:
    """10 mV/Pa is −40 dB re 1 V/Pa: 60 dB are −73.98 dBV, −71.76 dBu [L]; clips at 134 dB."""
    (found,) = _diagrams(_scene(dead_room_of, {"m1": NECK, "p1": PROCESSOR}))
    capsule, output = _stage(found, "capsule"), _stage(found, "microphone output")
    assert output.unit == "dBu"
    assert _known(output.level) == pytest.approx(_known(capsule.level) - 60 - 71.76, abs=0.01)
    assert output.clip == pytest.approx(134 - 60 - 71.76, abs=0.01)


def test_the_recommended_gain_brings_average_speech_to_working_level(dead_room_of: Rooms) -> None:
    """Full scale at +24 dBu, −20 dBFS at +4 dBu (SMPTE RP 155 [M]): 75.76 dB for 60 dBA."""
    (found,) = _diagrams(_scene(dead_room_of, {"m1": NECK, "p1": PROCESSOR}))
    capsule = _stage(found, "capsule")
    wanted = 4.0 + 71.76 + 60.0 - _known(capsule.level)
    assert found.recommended_gain_db == pytest.approx(wanted, abs=0.01)
    assert found.stated_gain_db is None
    assert _stage(found, "preamplifier").level == pytest.approx(4.0)
    converter = _stage(found, "converter")
    assert converter.level == pytest.approx(-20.0)
    assert converter.headroom_db == pytest.approx(20.0)


def test_the_noise_of_the_preamplifier_adds_to_that_of_the_microphone(dead_room_of: Rooms) -> None:
    """−127 dBu at 10 mV/Pa are −127 + 37.78 + 93.98 = 4.8 dB of sound [L form]."""
    (found,) = _diagrams(_scene(dead_room_of, {"m1": NECK, "p1": PROCESSOR}))
    capsule, after = _stage(found, "capsule"), _stage(found, "converter")
    both = 10 * math.log10(10 ** (_known(capsule.noise) / 10) + 10 ** (4.76 / 10))
    assert after.over_noise_db == pytest.approx(_known(capsule.level) - both, abs=0.01)


def test_a_stated_gain_takes_the_place_of_the_recommended_one(
    dead_room_of: Rooms, playback_at: Levels
) -> None:
    """Ten decibels more than recommended: −10 dBFS, 10 dB of headroom, 10 dB more echo."""
    devices = {"m1": NECK, "p1": PROCESSOR, "l1": BOX}
    plain = _scene(dead_room_of, devices)
    advised = _known(_diagrams(plain)[0].recommended_gain_db)
    stage = {"pre": {"kind": "gain", "on": "p1.mic-1", "gain_db": advised + 10.0}}
    scene = _scene(dead_room_of, devices, processing=stage)
    found = _diagrams(scene)[0]
    assert found.stated_gain_db == pytest.approx(advised + 10.0)
    assert found.recommended_gain_db == pytest.approx(advised)
    assert _stage(found, "converter").level == pytest.approx(-10.0)
    assert _stage(found, "converter").headroom_db == pytest.approx(10.0)
    gains = []
    for one in (plain, scene):
        known = ledger.evidence(one, assumptions=False)
        heard = coupling(one, known.microphones, known.outbound, playback_at(one, 70.0))
        gains.append(heard.of("m1").gains_db)
    assert gains[1] - gains[0] == pytest.approx(10.0)


def test_a_digital_microphone_gives_full_scale_levels_and_sets_itself(dead_room_of: Rooms) -> None:
    """−27 dBFS at 94 dB: 60 dB are −61 dBFS; it clips at 120 dB, −1 dBFS."""
    (found,) = _diagrams(_scene(dead_room_of, {"m1": HEAD, "p1": PROCESSOR}))
    capsule, output = _stage(found, "capsule"), _stage(found, "microphone output")
    assert output.unit == "dBFS"
    assert output.level == pytest.approx(_known(capsule.level) - 60 - 61)
    assert output.clip == pytest.approx(-1.0)
    assert found.recommended_gain_db is None
    assert _stage(found, "converter").level == pytest.approx(-20.0)


def test_a_stated_gain_trims_a_digital_microphone(dead_room_of: Rooms) -> None:
    trim = {"trim": {"kind": "gain", "on": "m1.link", "gain_db": -6}}
    scene = _scene(dead_room_of, {"m1": HEAD, "p1": PROCESSOR}, processing=trim)
    (found,) = _diagrams(scene)
    assert found.stated_gain_db == -6.0
    assert _stage(found, "converter").level == pytest.approx(-26.0)
    assert _stage(found, "send").level == pytest.approx(-26.0)


def test_a_gain_behind_the_canceller_moves_what_is_sent_and_nothing_before(
    dead_room_of: Rooms,
) -> None:
    later = {"out": {"kind": "gain", "on": "p1.send", "gain_db": 3}}
    scene = _scene(dead_room_of, {"m1": HEAD, "p1": PROCESSOR}, processing=later)
    (found,) = _diagrams(scene)
    assert found.stated_gain_db is None
    assert _stage(found, "converter").level == pytest.approx(-20.0)
    assert _stage(found, "send").level == pytest.approx(-17.0)


def test_a_missing_figure_is_not_assessed_and_no_number_stands_in(dead_room_of: Rooms) -> None:
    scene = _scene(dead_room_of, {"m1": NECK, "p1": PROCESSOR})
    mute = replace(
        scene.catalogue,
        microphones=tuple(
            replace(one, sensitivity_mv_pa=None) for one in scene.catalogue.microphones
        ),
    )
    (found,) = _diagrams(replace(scene, catalogue=mute))
    output = _stage(found, "microphone output")
    assert (output.level, output.noise, output.clip) == (None, None, None)
    assert "not assessed" in output.formula
    assert "gooseneck" in output.formula
    assert found.recommended_gain_db is None
    assert _stage(found, "converter").noise is None


def _playing(scene: Scene, playback: Playback) -> Playback:
    drives = tuple(drive(scene.room, one, playback.speech_1m_db) for one in playback.loudspeakers)
    return replace(playback, drives=drives)


def test_an_amplifier_gives_the_watts_that_the_sensitivity_asks_for(
    dead_room_of: Rooms, playback_at: Levels
) -> None:
    """90 dB at 1 W: 10^((L − 90)/10) W into 8 Ω, V = √(P·Z); 40 W into 4 Ω clip at 12.65 V."""
    scene = _scene(dead_room_of, {"l1": BOX, "p1": PROCESSOR, "a1": AMPLIFIER})
    (found,) = _diagrams(scene, _playing(scene, playback_at(scene, 70.0)))
    loudspeaker, amplifier = _stage(found, "loudspeaker"), _stage(found, "amplifier")
    volts = math.sqrt(10 ** ((_known(loudspeaker.level) - 90) / 10) * 8)
    assert amplifier.level == pytest.approx(20 * math.log10(volts / math.sqrt(0.6)), abs=0.01)
    assert amplifier.clip == pytest.approx(20 * math.log10(12.65 / math.sqrt(0.6)), abs=0.01)


def test_the_setting_of_an_amplifier_takes_the_line_to_that_power(
    dead_room_of: Rooms, playback_at: Levels
) -> None:
    """Line at +4 dBu; the amplifier's full power wants its rated sensitivity, fully open."""
    scene = _scene(dead_room_of, {"l1": BOX, "p1": PROCESSOR, "a1": AMPLIFIER})
    (found,) = _diagrams(scene, _playing(scene, playback_at(scene, 70.0)))
    line, amplifier = _stage(found, "line output"), _stage(found, "amplifier")
    assert line.level == pytest.approx(4.0)
    product = scene.catalogue.product("amplifier-2x40")
    assert isinstance(product, Amplifier)
    rated = _known(product.input_sensitivity_dbu)
    below_full_db = _known(amplifier.headroom_db)
    assert found.recommended_gain_db == pytest.approx(rated - 4.0 - below_full_db)


def test_without_an_amplifier_in_the_document_its_stage_is_not_assessed(
    dead_room_of: Rooms, playback_at: Levels
) -> None:
    scene = _scene(dead_room_of, {"l1": BOX, "p1": PROCESSOR})
    (found,) = _diagrams(scene, _playing(scene, playback_at(scene, 70.0)))
    assert _stage(found, "amplifier").level is None
    assert "not assessed" in _stage(found, "amplifier").formula


def test_the_inbound_way_starts_at_working_level_and_ends_at_the_ear(
    dead_room_of: Rooms, playback_at: Levels
) -> None:
    scene = _scene(dead_room_of, {"l1": BOX, "p1": PROCESSOR, "a1": AMPLIFIER})
    (found,) = _diagrams(scene, _playing(scene, playback_at(scene, 70.0)))
    assert [stage.name for stage in found.stages] == [
        "reference",
        "line output",
        "amplifier",
        "loudspeaker",
        "ear",
    ]
    assert found.stages[0].level == -20.0
    assert found.stages[-1].unit == "dBA"
    assert _stage(found, "loudspeaker").clip == 112.0

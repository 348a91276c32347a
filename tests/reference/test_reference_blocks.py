"""No block of the reference values is forgotten: each is tested, or its later part is named."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest

HERE = Path(__file__).parent
TESTS = HERE.parent
FILES = ("reference_values.json", "worked_examples.json")
REFERENCE: dict[str, Any] = json.loads((HERE / FILES[0]).read_text())
WORKED: dict[str, Any] = json.loads((HERE / FILES[1]).read_text())

# block → the test file that checks it; a block inside check_cases carries a dot
TESTED = {
    "bands_octave_hz": "test_bands.py",
    "bands_octave_exact_hz": "test_bands.py",
    "weighting": "test_bands.py",
    "air_absorption_db_per_km": "acoustics/test_air.py",
    "nc_curves": "acoustics/test_noise.py",
    "nc_curves_older": "acoustics/test_noise.py",
    "rc_mark2": "acoustics/test_noise.py",
    "nr_curves": "acoustics/test_noise.py",
    "noise_shapes": "acoustics/test_noise.py",
    "speech_s35": "acoustics/test_speech.py",
    "speech_iso3382_3": "acoustics/test_levels.py",
    "speech_iec60268_16": "acoustics/test_speech.py",
    "sti": "acoustics/test_intelligibility.py",
    "microphone_patterns": "acoustics/test_directivity.py",
    "talker_directivity": "acoustics/test_directivity.py",
    "check_cases.reverberation": "acoustics/test_reverberation.py",
    "check_cases.octave_room": "acoustics/test_reverberation.py",
    "check_cases.simulation_room_A": "acoustics/test_field.py",
    "check_cases.simulation_room_B": "acoustics/test_reverberation.py",
    "check_cases.barron": "acoustics/test_field.py",
    "check_cases.room_modes": "acoustics/test_modes.py",
    "check_cases.nc": "acoustics/test_noise.py",
    "check_cases.c50_exponential": "acoustics/test_decay.py",
    "check_cases.u50": "acoustics/test_intelligibility.py",
    "awg": "electrics/test_drop.py",
    "check_cases.line_loss": "electrics/test_drop.py",
    "poe": "electrics/test_poe.py",
    "conduit_fill_percent": "electrics/test_pathways.py",
    "emt_total_area_in2": "electrics/test_pathways.py",
}
# block → the part of the program that will need it, or that checks it from a source of its own
LATER = {
    "din18041": "targets of the room",
    "room_noise_targets": "targets of the room",
    "echo": "echo path",
    "hearing": "loudspeakers",
    "ceiling_coverage": "loudspeakers",
    "ceiling_support_lb": "mounting",
    "filters_octave_class1": "measurement",
    "uncertainty_iso3382_2": "measurement",
    "positions_iso3382_2": "measurement",
    "jnd_iso3382_1": "measurement",
    "kuttruff_gamma2": "ray tracing: nothing computes free paths yet",
    "lombard": "raised voices: no function raises one yet",
    "check_cases.sii": "speech intelligibility index: only its tables are here",
    "check_cases.pag": "voice lift",
    "check_cases.nag": "voice lift",
    "check_cases.tclw": "echo path",
    "check_cases.aec_tail": "echo path",
    "check_cases.noisy_decay": "measurement",
    "check_cases.double_slope": "measurement",
    "check_cases.ess": "measurement",
    "check_cases.sti_external": "measurement",
    "check_cases.image_sources": "image sources",
    "check_cases.din_a3": "targets of the room",
}
NO_FIGURES = {"_about", "_sources_of_lists", "check_cases.alpha_order", "check_cases.source",
              "check_cases.pag_source"}  # fmt: skip


def blocks() -> dict[str, Any]:
    inside = {f"check_cases.{key}": value for key, value in REFERENCE["check_cases"].items()}
    return {**{k: v for k, v in REFERENCE.items() if k != "check_cases"}, **inside}


def test_every_block_is_tested_or_named_for_later() -> None:
    assert set(TESTED) | set(LATER) | NO_FIGURES == set(blocks())
    assert not set(TESTED) & set(LATER)


@pytest.mark.parametrize("block", list(TESTED))
def test_the_named_test_file_reads_the_block(block: str) -> None:
    text = (TESTS / TESTED[block]).read_text(encoding="utf-8")
    assert f'["{block.rpartition(".")[2]}"]' in text


@pytest.mark.parametrize("block", list(WORKED))
def test_every_worked_example_is_read_by_some_test(block: str) -> None:
    if block == "_about":
        return
    files = [path for path in TESTS.rglob("test_*.py") if path != Path(__file__)]
    assert any(f'WORKED["{block}"]' in path.read_text(encoding="utf-8") for path in files)


@pytest.mark.parametrize("block", [key for key in blocks() if key not in NO_FIGURES])
def test_every_block_names_its_source_and_trust(block: str) -> None:
    value = blocks()[block]
    text = json.dumps(value) if isinstance(value, dict) else ""
    text += REFERENCE["_sources_of_lists"].get(block, "")
    if block.startswith("check_cases."):
        assert block.count(".") == 1
    assert re.search(r"\[[LMC][\] ]", text), f"{block} has no source with a trust mark"


@pytest.mark.parametrize("block", [key for key in WORKED if key != "_about"])
def test_every_worked_example_names_its_source_and_trust(block: str) -> None:
    assert re.match(r"\[[LMC][\] ]", WORKED[block]["source"])

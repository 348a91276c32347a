"""Opened paths of the way back add up: every number is what its formula makes of those before it.

Formulas are those that the stages print, worked out again here; A-weights are of IEC 61672-1 [L].
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest

from wellheard.predict import ledger
from wellheard.predict.evidence import Evidence
from wellheard.predict.scene import Scene
from wellheard.predict.stages import Stage
from wellheard.predict.working_echo import echo_stages
from wellheard.predict.working_inbound import inbound_stages
from wellheard.predict.working_lift import lift_stages

A_WEIGHT_DB = np.array([-16.1, -8.6, -3.2, 0.0, 1.2, 1.0, -1.1])

ROOM: dict[str, Any] = {
    "furniture": {
        "picture": {"kind": "display", "wall": "west", "centre": [2.2, 1.4], "size": [1.6, 0.9]}
    },
    "people": {
        "seats": {"s2": {"at": [4.6, 1.4], "facing": 180}, "s3": {"at": [4.6, 3.1], "facing": 180}}
    },
    "noise": {"sources": {"fan": {"kind": "projector", "at": [3.0, 3.0, 2.4], "dba_at_1m": 34}}},
    "equipment": {"rack": {"kind": "rack", "at": [5.7, 0.3, 0.5]}},
    "devices": {
        "m1": {"kind": "microphone", "product": "ceiling-head-3", "at": [2.4, 2.2, 2.1]},
        "m2": {"kind": "microphone", "product": "ceiling-head-3", "at": [4.4, 2.2, 2.1]},
        "l1": {"kind": "loudspeaker", "product": "ceiling-6", "at": [1.0, 2.2, 2.7]},
        "l2": {"kind": "loudspeaker", "product": "ceiling-6", "at": [5.4, 2.2, 2.7]},
        "p": {"kind": "processor", "product": "processor-4", "equipment": "rack"},
    },
    "processing": {
        "trim": {"kind": "gain", "on": "l2.in", "gain_db": -2.0},
        "voices": {
            "kind": "lift",
            "on": "l2.in",
            "sources": ["m1.link", "m2.link"],
            "gain_db": -20.0,
        },
    },
}


@dataclass
class Opened:
    """Stages of one path and what they were opened from."""

    stages: tuple[Stage, ...]
    evidence: Evidence

    def __getitem__(self, start: str) -> Any:
        (found,) = [r for s in self.stages for r in s.rows if r.quantity.startswith(start)]
        return np.asarray(found.value) if isinstance(found.value, tuple) else found.value

    def inputs(self, start: str) -> dict[str, str]:
        (found,) = [r for s in self.stages for r in s.rows if r.quantity.startswith(start)]
        return dict(found.inputs)

    @property
    def names(self) -> list[str]:
        return [stage.name for stage in self.stages]


@pytest.fixture(scope="module")
def room(scene_of: Callable[..., Scene]) -> tuple[Scene, Evidence]:
    scene = scene_of(ROOM)
    return scene, ledger.evidence(scene, assumptions=False)


def a_weighted(levels_db: Any) -> float:
    return 10 * math.log10(float(np.sum(10 ** ((np.asarray(levels_db) + A_WEIGHT_DB) / 10))))


def number(text: str) -> float:
    return float(text.split()[0].replace("−", "-"))


def test_every_number_says_how_and_who(room: tuple[Scene, Evidence]) -> None:
    scene, found = room
    assert found.playback is not None
    assert found.lift is not None
    for stages in (
        inbound_stages(scene, found, found.playback.rows[0]),
        echo_stages(scene, found, found.echo[0]),
        lift_stages(scene, found, found.lift.rows[0]),
    ):
        for stage in stages:
            assert stage.rows
            for row in stage.rows:
                assert row.quantity
                assert row.formula
                assert row.source
                assert "-" not in "".join(v for _, v in row.inputs if v[:1] in "-−")
                assert np.all(np.isfinite(np.asarray(row.value)))


@pytest.mark.parametrize("seat", ["s1", "s2", "s3"])
def test_inbound_path_adds_up(seat: str, room: tuple[Scene, Evidence]) -> None:
    scene, found = room
    assert found.playback is not None
    row = found.playback.row(seat)
    path = Opened(inbound_stages(scene, found, row), found)
    assert path.names == ["Far end", "Gain", "Loudspeaker", "Air", "Ear", "Noise", "Promise"]
    speech = path["speech there by octave"]
    level = path["level 1 m before"]
    assert a_weighted(speech) == pytest.approx(level, abs=0.05)
    assert path["speech of the far end"] + level == pytest.approx(speech, abs=1e-9)
    trim = number(path.inputs("level on its axis")["trim"])
    assert path["level on its axis"] == pytest.approx(level + trim, abs=0.05)
    at_ear = speech + trim + path["direct sound re 1 m"]
    assert path["direct sound at the ear"] == pytest.approx(a_weighted(at_ear), abs=0.05)
    energy = 10 ** (path["direct sound re 1 m"] / 10) + 10 ** (path["its reflections"] / 10)
    one = speech + trim + 10 * np.log10(energy)
    assert np.all(one <= path["speech at the ear"] + 1e-6)  # the other one is heard too
    assert path["level of speech"] == pytest.approx(a_weighted(path["speech at the ear"]), abs=0.05)
    assert path["distance to the ear"] == pytest.approx(
        math.dist(
            next(o.at for o in found.playback.loudspeakers if o.id == row.heard_from),
            row.talker.at,
        )
    )
    # STI of IEC 60268-16:2020, male weights [L], from the indices that are printed.
    alpha = (0.085, 0.127, 0.230, 0.233, 0.309, 0.224, 0.173)
    beta = (0.085, 0.078, 0.065, 0.011, 0.047, 0.095)
    m = path["modulation transfer index"]
    sti = float(alpha @ m - beta @ np.sqrt(m[:-1] * m[1:]))
    assert path["STI"] == pytest.approx(sti, abs=0.001)
    assert path["angle between voice and picture"] == row.direction_deg


@pytest.mark.parametrize("which", [0, 1])
def test_echo_path_adds_up(which: int, room: tuple[Scene, Evidence]) -> None:
    scene, found = room
    path = Opened(echo_stages(scene, found, found.echo[which]), found)
    assert path.names == [
        "Far end", "Loudspeaker", "Air", "Capsule", "Gain", "Canceller", "Promise"
    ]  # fmt: skip
    working = path["level at the capsule that lies"]
    at_0 = [
        float(v)
        for v in path.inputs("return loss by octave")["at 0 dBA"].replace("−", "-")[:-3].split(", ")
    ]
    echo = path["echo at the capsule"]
    assert path["return loss by octave"] == pytest.approx(-(echo - at_0 - working), abs=0.06)
    assert path["the same, A-weighted"] == pytest.approx(a_weighted(echo), abs=0.05)
    assert path["echo over speech"] == pytest.approx(
        path["the same, A-weighted"] - path["speech of the talker there"]
    )
    must = max(0.0, path["loss that the far end needs"] - path["return loss, weighted"])
    assert path["what must be added"] == pytest.approx(must)
    residues = [
        path[start] for start in ("what its tail leaves", "what distortion leaves", "what noise")
    ]
    left = -10.0 * math.log10(sum(10.0 ** (-bound / 10.0) for bound in residues))
    suppression = path["suppression of the residue"]
    assert path["what can be added"] == pytest.approx(
        min(left, path["most that is rated"]) + suppression
    )
    rated = number(path.inputs("most that is rated")["echo loss it adds"])
    assert path["most that is rated"] == pytest.approx(rated - suppression)
    held = path.inputs("what can be added")["held by"]
    assert held == ("tail" if left < path["most that is rated"] else "rated")
    assert path["what is left after it"] == pytest.approx(path["what can be added"] - must)
    each = [number(loss) for loss in path.inputs("its return loss alone").values()]
    assert path["its return loss alone"] == pytest.approx(min(each), abs=0.06)
    assert path["return loss, weighted"] <= min(each) + 0.06


@pytest.mark.parametrize("seat", ["s1", "s2", "s3"])
def test_lift_path_adds_up(seat: str, room: tuple[Scene, Evidence]) -> None:
    scene, found = room
    assert found.lift is not None
    row = found.lift.row(seat)
    path = Opened(lift_stages(scene, found, row), found)
    assert path.names == [
        "Mouth", "Air", "Capsule", "Gain", "Loudspeaker", "Air back", "Ear", "Loop"
    ]  # fmt: skip
    assert path["this voice re working level"] == pytest.approx(
        path["speech at the capsule"] - path["level at the capsule that lies"]
    )
    assert path["gain of the lift"] == pytest.approx(-20.0)
    natural, brought = path["natural voice"], path["what the loudspeakers bring"]
    assert path["the same, A-weighted together"] == pytest.approx(a_weighted(brought), abs=0.05)
    both = a_weighted(10 * np.log10(10 ** (natural / 10) + 10 ** (brought / 10)))
    assert path["both voices"] == pytest.approx(both, abs=0.05)
    assert path["how much louder"] == pytest.approx(row.gain_db)
    assert path["margin before it howls"] == pytest.approx(
        -(path["loop gain where"] + path["peaks over"])
    )
    ways = {k: number(v) for k, v in path.inputs("potential acoustic gain").items() if k != "pair"}
    nom = number(path.inputs("loop gain where")["open microphones"])
    wanted = number(path.inputs("margin before it howls")["wanted"])
    potential = (
        ways["talker to microphone"]
        - ways["loudspeaker to microphone"]
        + ways["loudspeaker to listener"]
        - ways["talker to listener"]
        - 10 * math.log10(nom)
        - wanted
    )
    assert path["potential acoustic gain"] == pytest.approx(potential, abs=0.25)
    d = {k: number(v) for k, v in path.inputs("the same by distances").items()}
    direct = (
        20
        * math.log10(
            d["talker to listener"]
            * d["loudspeaker to microphone"]
            / (d["talker to microphone"] * d["loudspeaker to listener"])
        )
        - 10 * math.log10(nom)
        - wanted
    )
    assert path["the same by distances alone"] == pytest.approx(direct, abs=0.1)
    near = number(path.inputs("needed by distances")["equivalent acoustic distance"])
    assert path["needed by distances alone"] == pytest.approx(
        20 * math.log10(d["talker to listener"] / near), abs=0.05
    )

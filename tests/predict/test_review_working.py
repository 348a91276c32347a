"""The printed formula of the decay, filled in with what is printed beside it, gives the decay."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from wellheard.predict import ledger
from wellheard.predict.scene import Scene
from wellheard.predict.working import outbound_stages


def test_the_printed_decay_formula_gives_the_printed_decay(
    scene_of: Callable[..., Scene],
) -> None:
    """Arau-Puchades 1988 with objects and air in every denominator, by hand."""
    scene = scene_of(
        {
            "people": {
                "occupancy": 0.5,
                "seats": {"s1": {"at": [2, 2]}, "s2": {"at": [4, 2]}, "s3": {"at": [3, 3]}},
            },
            "devices": {
                "m1": {"kind": "microphone", "product": "ceiling-head-3", "at": [3, 2, 2.7]}
            },
        }
    )
    found = ledger.evidence(scene, assumptions=False)
    stages = outbound_stages(scene, found, found.outbound[0])
    rows: dict[str, Any] = {r.quantity: r for s in stages for r in s.rows}
    printed = rows["reverberation time"]
    assert "Tₖ = 24 ln 10 / c · V / (−S ln(1 − αₖ) + Aₒ + 4 m V)" in printed.formula
    inputs = dict(printed.inputs)
    volume = float(inputs["V"].split()[0])
    total = float(inputs["S"].split()[0])
    area_o = np.array([float(v) for v in inputs["Aₒ, people and furniture"][:-3].split(", ")])
    speed = float(dict(rows["equivalent absorption area"].inputs)["c"].split()[0])
    air = np.asarray(rows["power attenuation m of the air"].value)
    time = np.ones(7)
    for k in range(3):
        faces = [(s.area * s.axis[k], np.array(s.absorption)) for s in found.reverberation.surfaces]
        area = sum(a for a, _ in faces)
        alpha = sum(a * b for a, b in faces) / area
        one = (
            24 * math.log(10) / speed * volume
            / (-total * np.log(1 - alpha) + area_o + 4 * air * volume)
        )  # fmt: skip
        time *= one ** (area / total)
    assert printed.value == pytest.approx(time, rel=0.005)  # inputs are printed with one decimal

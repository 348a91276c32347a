"""What must hold in every room, whatever its figures."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from wellheard.predict import ledger
from wellheard.predict.evidence import Evidence, Path
from wellheard.predict.scene import Scene

FEW = settings(
    max_examples=12,
    deadline=None,
    derandomize=True,
    database=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
BANDS = ("125", "250", "500", "1000", "2000", "4000", "8000")
PRODUCTS = st.sampled_from(["ceiling-head-2", "ceiling-head-3", "ceiling-head-6", "omni-reference"])
ANGLE = st.floats(0, 360)


def evidence(scene_of: Callable[..., Scene], **over: Any) -> Evidence:
    return ledger.evidence(scene_of(over), assumptions=False)


def alone(found: Evidence) -> Path:
    (path,) = found.paths
    return path


def box(size: tuple[float, float, float]) -> dict[str, Any]:
    x, y, z = size
    return {"outline": [[0, 0], [x, 0], [x, y], [0, y]], "height": z}


BIG = {"space": box((20, 20, 6)), "people": {"seats": {"s1": {"at": [10, 10], "facing": 0}}}}


@FEW
@given(
    product=PRODUCTS,
    azimuth=ANGLE,
    rise=st.floats(0.05, 1.2),
    near=st.floats(0.4, 3.0),
    farther=st.floats(0.05, 3.0),
)
def test_farther_on_the_same_ray_the_direct_sound_is_never_louder(
    scene_of: Callable[..., Scene],
    product: str,
    azimuth: float,
    rise: float,
    near: float,
    farther: float,
) -> None:
    def at(r: float) -> list[float]:
        up = math.sin(rise)
        level = math.cos(rise)
        turn = math.radians(azimuth)
        return [
            10 + r * level * math.cos(turn),
            10 + r * level * math.sin(turn),
            min(1.2 + r * up, 6.0),
        ]

    if 1.2 + (near + farther) * math.sin(rise) > 6.0:
        return
    first, second = (
        alone(
            evidence(
                scene_of,
                **BIG,
                devices={"m1": {"kind": "microphone", "product": product, "at": at(r)}},
            )
        )
        for r in (near, near + farther)
    )
    # Reflections may grow towards a wall; the direct sound may not, anywhere.
    assert np.all(np.subtract(second.direct_db, first.direct_db) < 0)


@FEW
@given(
    low=st.lists(st.floats(0.02, 0.9), min_size=7, max_size=7),
    more=st.lists(st.floats(0.0, 0.5), min_size=7, max_size=7),
    where=st.sampled_from(["floor", "ceiling", "walls"]),
    product=PRODUCTS,
)
def test_a_more_absorbing_finish_never_lowers_the_direct_to_reverberant_ratio(
    scene_of: Callable[..., Scene], low: list[float], more: list[float], where: str, product: str
) -> None:
    def ratio(alpha: list[float]) -> Path:
        finish = {"absorption": dict(zip(BANDS, alpha, strict=True))}
        return alone(
            evidence(
                scene_of,
                space={"finishes": {where: finish}},
                devices={"m1": {"kind": "microphone", "product": product, "at": [3, 2.5, 2.4]}},
            )
        )

    hard = ratio(low)
    soft = ratio([min(0.99, a + b) for a, b in zip(low, more, strict=True)])
    assert np.all(
        np.subtract(soft.direct_to_reverberant_bands_db, hard.direct_to_reverberant_bands_db)
        >= -1e-9
    )


@FEW
@given(
    nc=st.floats(15, 60),
    more=st.floats(0, 10),
    product=PRODUCTS,
    effort=st.sampled_from(["normal", "raised"]),
)
def test_a_louder_background_never_raises_speech_over_noise_or_sti(
    scene_of: Callable[..., Scene], nc: float, more: float, product: str, effort: str
) -> None:
    quiet, loud = (
        alone(
            evidence(
                scene_of,
                noise={"background": {"nc": value}},
                people={"effort": effort},
                devices={"m1": {"kind": "microphone", "product": product, "at": [3, 2.5, 2.4]}},
            )
        )
        for value in (nc, nc + more)
    )
    assert loud.speech_to_noise_db <= quiet.speech_to_noise_db + 1e-9
    assert loud.sti <= quiet.sti + 1e-9
    assert loud.direct_to_reverberant_db == quiet.direct_to_reverberant_db


@FEW
@given(turn=ANGLE, product=PRODUCTS, x=st.floats(0.6, 5.4), y=st.floats(0.6, 3.9))
def test_turning_the_room_turns_no_figure(
    scene_of: Callable[..., Scene], turn: float, product: str, x: float, y: float
) -> None:
    angle = math.radians(turn)

    def moved(at: list[float]) -> list[float]:
        return [
            at[0] * math.cos(angle) - at[1] * math.sin(angle),
            at[0] * math.sin(angle) + at[1] * math.cos(angle),
            *at[2:],
        ]

    corners: list[list[float]] = [[0, 0], [6, 0], [6, 4.5], [0, 4.5]]

    def path(*, turned: bool) -> Path:
        put: Callable[[list[float]], list[float]] = moved if turned else list
        device: dict[str, Any] = {
            "kind": "microphone",
            "product": product,
            "at": put([x, y, 2.5]),
        }
        if product != "omni-reference":
            device["rotation_deg"] = (turn + 180) % 360 - 180 if turned else 0
        return alone(
            evidence(
                scene_of,
                space={"outline": [put(c) for c in corners]},
                people={
                    "seats": {
                        "s1": {"at": put([2, 2]), "facing": (30 + (turn if turned else 0)) % 360}
                    }
                },
                devices={"m1": device},
            )
        )

    plain, other = path(turned=False), path(turned=True)
    # To the last decimal that counts.
    assert abs(plain.sti - other.sti) < 1.5e-4
    assert abs(plain.direct_to_reverberant_db - other.direct_to_reverberant_db) < 1.5e-3


@FEW
@given(
    sti=st.floats(0.3, 0.9),
    ratio=st.floats(-12, 3),
    noise=st.floats(5, 30),
    chance=st.floats(0.55, 0.95),
)
def test_a_harder_promise_is_never_likelier_and_moves_no_prediction(
    scene_of: Callable[..., Scene], sti: float, ratio: float, noise: float, chance: float
) -> None:
    devices = {"m1": {"kind": "microphone", "product": "ceiling-head-3", "at": [3, 2.5, 2.7]}}

    def row(by: float) -> Any:
        targets = {
            "sti_outbound": min(1.0, sti + 0.05 * by),
            "direct_to_reverberant_db": ratio + by,
            "speech_to_noise_db": noise + by,
            "chance": chance,
        }
        (found,) = evidence(scene_of, devices=devices, targets=targets).outbound
        return found

    easy, hard = row(0), row(1)
    assert hard.chance <= easy.chance
    for a, b in zip(easy.quantities, hard.quantities, strict=True):
        assert a.value == b.value
        assert b.chance <= a.chance

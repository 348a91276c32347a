"""Margins of rows at candidates: targets, reach, open microphones, and promises of nothing."""

from __future__ import annotations

from collections.abc import Callable
from statistics import NormalDist
from typing import Any

import numpy as np
import pytest

from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.products import Microphone
from wellheard.place import candidates
from wellheard.place.objective import UNREACHED, Objective
from wellheard.predict import ledger
from wellheard.predict.scene import Scene

FLUSH = {"choices": {"max_drop": 0}}


@pytest.fixture(scope="session")
def objective_of(scene_of: Callable[..., Scene], catalogue: Catalogue) -> Callable[..., Objective]:
    def made(*products: str, **over: Any) -> Objective:
        scene = scene_of({**FLUSH, **over})
        found = tuple(p for p in catalogue.microphones if p.id in products)
        return Objective(scene, candidates.microphones(scene, found).allowed)

    return made


def test_a_margin_is_the_clearance_in_deviations_beyond_the_wanted_chance(
    objective_of: Callable[..., Objective],
) -> None:
    made = objective_of("ceiling-head-3")
    found = made.quantities(1)
    wanted = NormalDist().inv_cdf(0.8)
    by_hand = np.min(
        [
            (found.sti - 0.62) / found.sti_sigma - wanted,
            (found.direct_to_reverberant_db + 6) / found.direct_to_reverberant_sigma_db - wanted,
            (found.speech_to_noise_db - 15) / found.speech_to_noise_sigma_db - wanted,
        ],
        axis=0,
    )
    assert made.margins(1)[made.reach] == pytest.approx(by_hand[made.reach])


def test_without_a_wanted_chance_the_middle_value_decides(
    objective_of: Callable[..., Objective],
) -> None:
    made = objective_of("ceiling-head-3", targets={"chance": None})
    found = made.quantities(1)
    holds = (
        (found.sti >= 0.62)
        & (found.direct_to_reverberant_db >= -6)
        & (found.speech_to_noise_db >= 15)
    )
    assert np.array_equal((made.margins(1) >= 0)[made.reach], holds[made.reach])


def test_margins_are_those_of_the_ledger(
    objective_of: Callable[..., Objective], scene_of: Callable[..., Scene]
) -> None:
    """A candidate alone in the room: its chance in the ledger is Φ of its margin, shifted."""
    made = objective_of("ceiling-head-3")
    wanted = NormalDist().inv_cdf(0.8)
    for index in (0, 7, len(made.candidates) - 1):
        place = made.candidates[index]
        device = {"kind": "microphone", "product": place.product.id, "at": list(place.at)}
        evidence = ledger.evidence(scene_of({"devices": {"m1": device}}), assumptions=False)
        if made.reach[0, index]:
            chance = NormalDist().cdf(made.margins(1)[0, index] + wanted)
            assert evidence.outbound[0].chance == pytest.approx(chance, abs=1e-9)


def test_beyond_the_usual_rated_distance_nobody_is_served(
    objective_of: Callable[..., Objective], catalogue: Catalogue
) -> None:
    """Three capsules: 1.5, 3.0, 4.6 m; the second is the usual one."""
    made = objective_of("ceiling-head-3")
    product = catalogue.product("ceiling-head-3")
    assert isinstance(product, Microphone)
    assert product.usual_distance == 3.0
    assert np.array_equal(made.reach, made.distance <= 3.0 + 1e-9)
    assert np.all(made.margins(1)[~made.reach] == UNREACHED)
    assert (~made.reach).any()
    assert made.reach.any()


def test_a_loudspeaker_nearer_than_the_talker_ends_service(
    objective_of: Callable[..., Objective],
) -> None:
    speaker = {"kind": "loudspeaker", "product": "ceiling-6", "at": [4.5, 2.0, 2.7]}
    made = objective_of("ceiling-head-3", devices={"ls": speaker})
    at = np.array([c.at for c in made.candidates])
    nearest = np.linalg.norm(at - [4.5, 2.0, 2.7], axis=1)
    assert np.array_equal(made.reach, made.rated & (made.distance <= nearest[None] + 1e-9))
    assert (made.rated & ~made.reach).any()
    relaxed = {"loudspeaker-nearer-than-talkers": {"relaxed": True, "because": "muted"}}
    freed = objective_of(
        "ceiling-head-3", devices={"ls": speaker}, targets={"house_rules": relaxed}
    )
    assert np.array_equal(freed.reach, freed.rated)


def test_more_open_microphones_never_help(objective_of: Callable[..., Objective]) -> None:
    made = objective_of("ceiling-head-2", "ceiling-head-6")
    for count in range(1, 6):
        step = made.margins(count + 1) - made.margins(count)
        assert np.all(step <= 1e-12)


def test_with_nothing_promised_the_clearest_microphone_within_reach_is_best(
    objective_of: Callable[..., Objective],
) -> None:
    nothing = {"sti_outbound": None, "direct_to_reverberant_db": None, "speech_to_noise_db": None}
    made = objective_of("ceiling-head-3", targets=nothing)
    margins = made.margins(1)
    assert np.all(margins[made.reach] >= 0)
    best = int(np.argmax(margins[0]))
    ratio = made.quantities(1).direct_to_reverberant_db[0]
    assert ratio[best] == ratio[made.reach[0]].max()


def test_products_side_by_side_are_those_each_alone(
    objective_of: Callable[..., Objective],
) -> None:
    both = objective_of("ceiling-head-2", "ceiling-head-3")
    for name in ("ceiling-head-2", "ceiling-head-3"):
        alone = objective_of(name)
        own = [i for i, c in enumerate(both.candidates) if c.product.id == name]
        assert both.margins(2)[:, own] == pytest.approx(alone.margins(2))


def test_a_row_is_a_talker_looking_one_way(objective_of: Callable[..., Objective]) -> None:
    seats = {"s1": {"facing": [0, 90, 180]}, "s2": {"at": [4, 2], "facing": 0}}
    made = objective_of("ceiling-head-3", people={"seats": seats})
    assert made.margins(1).shape[0] == 4
    assert made.scene.row_talker == (0, 0, 0, 1)

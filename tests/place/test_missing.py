"""What cannot be held is said: who misses it, by how much, and what would mend it."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from wellheard.errors import InputError
from wellheard.place import candidates
from wellheard.place.microphones import place_microphones, products_of_choice
from wellheard.place.objective import Objective
from wellheard.place.proposal import Shortfall
from wellheard.place.shortfall import REACH, would_have_to_give
from wellheard.predict import tolerances
from wellheard.predict.scene import Scene
from wellheard.room import edit

BIG_TILES = {"ceiling": {"kind": "tiles", "module": 0.9, "origin": [0, 0]}}
FOUR: dict[str, Any] = {
    "s1": {"at": [1.2, 1.3], "facing": [0, 90]},
    "s2": {"at": [4.7, 1.3], "facing": [180, 90]},
    "s3": {"at": [4.7, 3.2], "facing": [180, 270]},
    "s4": {"at": [1.2, 3.2], "facing": [0, 270]},
}
FLUSH = {"allow": ["ceiling-head-3"], "mounting": ["ceiling"], "max_drop": 0}


@pytest.fixture(scope="module")
def bare(scene_of: Callable[..., Scene]) -> Scene:
    """Four people in a bare room in which the ratio is the trouble."""
    hard = {"absorption": {str(f): 0.08 for f in (125, 250, 500, 1000, 2000, 4000, 8000)}}
    return scene_of(
        {
            "space": {**BIG_TILES, "finishes": {"floor": hard, "ceiling": hard, "walls": hard}},
            "people": {"seats": FOUR},
            "choices": FLUSH,
            "targets": {"sti_outbound": None},
        }
    )


def best_margins(scene: Scene, target: str) -> Any:
    """Best margin of one target at any place within reach, for each row."""
    products = products_of_choice(scene)
    made = Objective(scene, candidates.microphones(scene, products).allowed)
    return np.where(made.reach, made.by_target(1)[target], -np.inf).max(axis=1)


def within_reach_db(over: dict[str, Any], count: int, scene_of: Callable[..., Scene]) -> float:
    """Ratio that with so many open each row's best place has at just the wanted chance."""
    scene = scene_of(over)
    made = Objective(scene, candidates.microphones(scene, products_of_choice(scene)).allowed)
    known = made.quantities(count)
    wanted = tolerances.deviations_for(scene.room.targets.chance or 0.5)
    sure = known.direct_to_reverberant_db - wanted * known.direct_to_reverberant_sigma_db
    return float(np.where(made.reach, sure, -np.inf).max(axis=1).min())


def test_a_shortfall_names_seat_target_and_amount(bare: Scene) -> None:
    found = place_microphones(bare)
    assert found.proof.status == "infeasible"
    assert not found.proof.fewer_is_impossible
    assert found.shortfalls
    assert found.proof.binding == ("direct_to_reverberant_db",)
    for short in found.shortfalls:
        assert short.talker in FOUR
        assert short.target == "direct_to_reverberant_db"
        assert short.unit == "dB"
        assert short.target_value == -6.0
        assert short.best_chance < 0.8
        assert short.lacking > 0
        own = [r for r, t in enumerate(bare.row_talker) if bare.talkers[t].id == short.talker]
        assert best_margins(bare, short.target)[own].min() < 0
    chances = [s.best_chance for s in found.shortfalls]
    assert chances == sorted(chances)


def test_the_stated_reverberation_would_be_enough(
    bare: Scene, scene_of: Callable[..., Scene]
) -> None:
    found = place_microphones(bare)
    (said,) = [s for s in found.would_have_to_give if "reverberation time" in s]
    match = re.search(r"about ([\d.]+) s instead of ([\d.]+) s", said)
    assert match
    then, now = float(match[1]), float(match[2])
    time = np.asarray(bare.reverberation.time)
    assert now == pytest.approx((time[2] + time[3]) / 2, abs=0.005)

    def told(factor: float) -> Scene:
        """The room told so many times its decay, trusted as much as before."""
        space = {"measured_reverberation": tuple((factor * time).tolist())}
        space_of = bare.room.space.model_copy(update=space)
        made = scene_of(bare.room.model_copy(update={"space": space_of}))
        was, now = bare.reverberation, made.reverberation
        trusted = replace(now, log_sigma=was.log_sigma, level_log_sigma=was.level_log_sigma)
        return replace(made, reverberation=trusted)

    assert best_margins(told(then / now), "direct_to_reverberant_db").min() >= -0.05
    # And it asks for no more than about what is needed.
    assert best_margins(told(1.12 * then / now), "direct_to_reverberant_db").min() < 0


def test_the_stated_lower_target_would_be_met(bare: Scene, scene_of: Callable[..., Scene]) -> None:
    found = place_microphones(bare)
    (said,) = [s for s in found.would_have_to_give if "target would have to be" in s]
    match = re.search(r"have to be (−?\d+) dB", said)
    assert match
    lower = float(match[1].replace("−", "-"))
    easier = scene_of(edit.with_targets(bare.room, direct_to_reverberant_db=lower))
    assert best_margins(easier, "direct_to_reverberant_db").min() >= 0
    harder = scene_of(edit.with_targets(bare.room, direct_to_reverberant_db=lower + 1))
    assert best_margins(harder, "direct_to_reverberant_db").min() < 0


def test_the_stated_fall_of_noise_would_be_enough(scene_of: Callable[..., Scene]) -> None:
    levels = {
        str(f): v
        for f, v in zip(
            (125, 250, 500, 1000, 2000, 4000, 8000), (60, 55, 50, 46, 44, 42, 40), strict=True
        )
    }
    over: dict[str, Any] = {
        "space": BIG_TILES,
        "people": {"seats": FOUR},
        "choices": FLUSH,
        "noise": {"background": {"nc": "absent", "levels_db": levels}},
        "targets": {"sti_outbound": None, "direct_to_reverberant_db": None},
    }
    loud = scene_of(over)
    found = place_microphones(loud)
    assert {s.target for s in found.shortfalls} == {"speech_to_noise_db"}
    (said,) = found.would_have_to_give
    match = re.search(r"fall by about (\d+) dB", said)
    assert match
    fall = float(match[1])
    over["noise"] = {
        "background": {"nc": "absent", "levels_db": {f: v - fall for f, v in levels.items()}}
    }
    # Capsules keep their own noise, which is 30 dB below this background.
    assert best_margins(scene_of(over), "speech_to_noise_db").min() >= -0.05
    over["noise"] = {
        "background": {"nc": "absent", "levels_db": {f: v - fall + 1.2 for f, v in levels.items()}}
    }
    assert best_margins(scene_of(over), "speech_to_noise_db").min() < 0


def test_a_talker_out_of_reach_is_told_the_usual_rated_distance(
    scene_of: Callable[..., Scene],
) -> None:
    """A lamp over one end: the nearest place to s1 is beyond 3.0 m, and 4.6 m is no help."""
    lamp = {"outline": [[0.1, 0.1], [4.6, 0.1], [4.6, 4.4], [0.1, 4.4]]}
    found = place_microphones(
        scene_of(
            {
                "space": BIG_TILES,
                "people": {"seats": FOUR},
                "choices": FLUSH,
                "overhead": {"l": lamp},
            }
        )
    )
    far = [s for s in found.shortfalls if s.target == REACH]
    assert {s.talker for s in far} == {"s1", "s4"}
    for short in far:
        assert short.target_value == 3.0
        assert short.best_value > 3.0
        assert short.lacking == pytest.approx(short.best_value - 3.0)
        at = np.array(short.at)
        mouth = np.array([*FOUR[short.talker]["at"], 1.2])
        assert float(np.linalg.norm(at - mouth)) == pytest.approx(short.best_value)
    assert any("within its rated distance" in s for s in found.would_have_to_give)


def test_a_loudspeaker_in_the_way_is_named_as_such(scene_of: Callable[..., Scene]) -> None:
    speakers = {
        f"l{i}": {"kind": "loudspeaker", "product": "ceiling-6", "at": [x, 2.2, 1.9]}
        for i, x in enumerate((1.4, 3.0, 4.6))
    }
    found = place_microphones(
        scene_of(
            {
                "space": BIG_TILES,
                "people": {"seats": FOUR},
                "choices": FLUSH,
                "devices": speakers,
                "targets": {
                    "house_rules": {"microphone-near-loudspeaker": {"limit": 0.5, "because": "x"}}
                },
            }
        )
    )
    assert {s.target for s in found.shortfalls} >= {"loudspeaker-nearer-than-talkers"}
    assert any("loudspeaker" in s for s in found.would_have_to_give)


def test_a_further_microphone_that_opens_the_mixer_too_far_is_said_so(
    scene_of: Callable[..., Scene],
) -> None:
    """Each seat has a place that would just do, but not with one more microphone open."""
    over = {"space": BIG_TILES, "people": {"seats": FOUR}, "choices": FLUSH}
    target = np.mean([within_reach_db(over, count, scene_of) for count in (4, 5)])
    scene = scene_of({**over, "targets": {"direct_to_reverberant_db": float(target)}})
    found = place_microphones(scene)
    assert found.proof.status == "infeasible"
    made = Objective(scene, candidates.microphones(scene, products_of_choice(scene)).allowed)
    assert made.margins(1).max(axis=1).min() >= 0
    assert made.margins(found.count + 1).max(axis=1).min() < 0
    assert {s.target for s in found.shortfalls} == {"served-together"}
    assert any("opens the mixer too far" in s for s in found.would_have_to_give)


def test_a_shortfall_is_judged_with_the_microphones_that_are_open(
    scene_of: Callable[..., Scene],
) -> None:
    """Alone each seat has a place that would do; with four open s1 and s4 have none."""
    over = {"space": BIG_TILES, "people": {"seats": FOUR}, "choices": FLUSH}
    target = np.mean([within_reach_db(over, count, scene_of) for count in (1, 4)])
    scene = scene_of({**over, "targets": {"direct_to_reverberant_db": float(target)}})
    found = place_microphones(scene)
    made = Objective(scene, candidates.microphones(scene, products_of_choice(scene)).allowed)
    assert made.margins(1).max(axis=1).min() >= 0
    assert found.count == 4
    assert [s.talker for s in found.shortfalls] == ["s1", "s4"]
    for short in found.shortfalls:
        assert short.target == "direct_to_reverberant_db"
        assert 0 < short.lacking < 1
        assert short.best_chance < 0.8
    (said,) = [s for s in found.would_have_to_give if "target would have to be" in s]
    (lower,) = re.findall(r"have to be −(\d+) dB", said)
    easier = scene_of({**over, "targets": {"direct_to_reverberant_db": -float(lower)}})
    assert place_microphones(easier).proof.status == "optimal"


def test_those_who_are_in_each_others_way_are_named(scene_of: Callable[..., Scene]) -> None:
    """Two talkers, each with one place that serves, 0.4 m apart: new microphones keep 0.5 m."""
    dead = {"absorption": {str(f): 0.95 for f in (125, 250, 500, 1000, 2000, 4000, 8000)}}
    lectern = {"kind": "lectern", "height": 1.1}
    found = place_microphones(
        scene_of(
            {
                "space": {"finishes": {"floor": dead, "ceiling": dead, "walls": dead}},
                "people": {
                    "seats": {
                        "s1": {"at": [2.0, 2.0], "facing": 180},
                        "s2": {"at": [3.0, 2.0], "facing": 0},
                    }
                },
                "furniture": {
                    "a": {**lectern, "at": [2.3, 2.0]},
                    "b": {**lectern, "at": [2.7, 2.0]},
                },
                "choices": {"allow": ["gooseneck"], "mounting": ["lectern"]},
                "targets": {"sti_outbound": None, "direct_to_reverberant_db": None},
            }
        )
    )
    (short,) = found.shortfalls
    assert short.target == "served-together"
    assert short.lacking == 0
    assert short.best_chance >= 0.8
    assert any("not together with the others" in s for s in found.would_have_to_give)


def test_sentences_name_few_talkers_and_count_the_rest(bare: Scene) -> None:
    def short(name: str) -> Shortfall:
        return Shortfall(
            name, "speech_to_noise_db", 10.0, 15.0, "dB", 0.1, (0, 0, 2.7), "ceiling-head-3", 5.5
        )

    few = would_have_to_give(bare, tuple(short(f"s{i}") for i in range(3)))
    many = would_have_to_give(bare, tuple(short(f"s{i}") for i in range(9)))
    assert "s0, s1, s2" in few[0]
    assert "and 6 more" in many[0]
    assert "6 dB" in few[0]


def test_a_product_that_only_hangs_lower_than_is_allowed_is_named_with_its_drops(
    scene_of: Callable[..., Scene],
) -> None:
    choices = {"allow": ["pendant-cardioid"], "mounting": ["ceiling"], "max_drop": 0.2}
    with pytest.raises(InputError) as caught:
        place_microphones(scene_of({"people": {"seats": FOUR}, "choices": choices}))
    assert str(caught.value) == (
        "choices.max_drop: pendant-cardioid hangs by 0.30 m, 0.60 m, 0.90 m, 1.20 m or 1.50 m, "
        "and at most 0.20 m is allowed; allow a longer drop or another product"
    )

"""What an open input might be instead, against documents edited by hand and predicted anew."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from typing import Any

import pytest

from wellheard.catalog.catalogue import Catalogue
from wellheard.predict import alternative_finishes, ledger, sensitivity
from wellheard.predict.alternatives import Subject, Trial
from wellheard.predict.evidence import Evidence
from wellheard.predict.parts import PartEvidence, build_parts, over_all
from wellheard.predict.sensitivity import Moved, Sensitivity
from wellheard.room.document import Room

Z90 = 1.2815515655446004  # normal tables: ten per cent lie beyond it [M]
TABLE = [[2, 1.7], [4.4, 1.7], [4.4, 2.9], [2, 2.9]]
GLAZING = {
    "wall": "north",
    "from": 1,
    "to": 3,
    "bottom": 0.9,
    "top": 2.2,
    "finish": "double-glazing",
}
BASE: dict[str, Any] = {
    "space": {"finishes": {"patches": {"glazing": GLAZING}}},
    "furniture": {
        "table": {"kind": "table", "outline": TABLE, "height": 0.74},
        "picture": {"kind": "display", "wall": "west", "centre": [2.2, 1.4], "size": [1.4, 0.8]},
    },
    "people": {
        "effort": "normal",
        "occupancy": 0.5,
        "seats": {
            "s1": {"at": [2.6, 1.4], "height": 1.2, "facing": ["across", "display"]},
            "s2": {"at": [3.8, 3.2], "height": 1.2, "facing": "across"},
        },
    },
    "noise": {
        "background": {"dba": 34, "nc": "absent"},
        "sources": {"vent": {"kind": "air-outlet", "at": [1, 1, 2.7], "dba_at_1m": 30}},
    },
    "far_end": {"noise": {"nc": 30}, "listening_level_dba": 65},
    "devices": {"m1": {"kind": "microphone", "product": "ceiling-head-3", "at": [3.4, 2.4, 2.7]}},
}

Found = tuple[Evidence, dict[str, Sensitivity]]


@pytest.fixture(scope="session")
def found_of(room_of: Callable[..., Room], catalogue: Catalogue) -> Callable[..., Found]:
    """Give the function that predicts a room and tries what is open in it, or some of that."""

    def made(over: dict[str, Any] | None = None, *topics: str) -> Found:
        evidence = ledger.predict(room_of(_over(BASE, over or {})), catalogue, assumptions=False)
        return evidence, tried(evidence, *topics)

    return made


def tried(evidence: Evidence, *topics: str) -> dict[str, Sensitivity]:
    """What is open in a room, of these topics, or of all where none is named."""

    def some(make: Callable[[Subject], Iterator[Trial]]) -> Callable[[Subject], Iterator[Trial]]:
        return lambda subject: (t for t in make(subject) if not topics or t.topic in topics)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sensitivity, "_TRIALS", tuple(some(make) for make in sensitivity._TRIALS))
        return {s.topic: s for s in sensitivity.sensitivities(evidence)}


@pytest.fixture(scope="session")
def base(found_of: Callable[..., Found]) -> Found:
    return found_of()


def _over(under: dict[str, Any], over: dict[str, Any]) -> dict[str, Any]:
    both = {k: v for k, v in over.items() if isinstance(v, dict) and isinstance(under.get(k), dict)}
    return {**under, **over, **{k: _over(under[k], v) for k, v in both.items()}}


SHIFT = Z90 * 0.15  # a told seat may be off by σ 0.15 m
AWAY = math.hypot(2.6 - 3.4, 1.4 - 2.4)
FURTHER = [2.6 - SHIFT * 0.8 / AWAY, 1.4 - SHIFT * 1.0 / AWAY]
WALL = Z90 * 0.1
HAND: list[tuple[str, int, dict[str, Any]]] = [
    ("finish:floor", 0, {"space": {"finishes": {"floor": "wood-floor"}}}),
    ("finish:floor", 1, {"space": {"finishes": {"floor": "carpet-heavy"}}}),
    (
        "finish:wall:east",
        0,
        {
            "space": {
                "finishes": {
                    "walls": {
                        "south": "plasterboard",
                        "east": "glass-front",
                        "north": "plasterboard",
                        "west": "plasterboard",
                    }
                }
            }
        },
    ),
    (
        "finish:window:glazing",
        0,
        {"space": {"finishes": {"patches": {"glazing": {"finish": "blinds"}}}}},
    ),
    (
        "ceiling-kind",
        0,
        {"space": {"ceiling": {"kind": "hard"}, "finishes": {"ceiling": "ceiling-plasterboard"}}},
    ),
    ("occupancy", 0, {"people": {"occupancy": 0.3}}),
    ("effort", 0, {"people": {"effort": "quiet"}}),
    ("noise-background", 1, {"noise": {"background": {"dba": 36.5}}}),
    ("noise-source:vent", 1, {"noise": {"sources": {"vent": {"dba_at_1m": 32.5}}}}),
    ("far-end-noise", 1, {"far_end": {"noise": {"nc": 32.5}}}),
    ("far-end-level", 0, {"far_end": {"listening_level_dba": 60}}),
    ("humidity", 1, {"space": {"climate": {"humidity": 0.7}}}),
    ("temperature", 1, {"space": {"climate": {"temperature_c": 26}}}),
    ("positions", 0, {"people": {"seats": {"s1": {"at": FURTHER}}}}),
    (
        "mouths-seated",
        0,
        {
            "people": {
                "seats": {
                    "s1": {"height": 1.2 - Z90 * 0.05},
                    "s2": {"height": 1.2 - Z90 * 0.05},
                }
            }
        },
    ),
    (
        "facing-seated",
        1,
        {"people": {"seats": {"s1": {"facing": "display"}, "s2": {"facing": "display"}}}},
    ),
    (
        "facing-seated",
        2,
        {"people": {"seats": {"s1": {"facing": [0, 180]}, "s2": {"facing": [0, 180]}}}},
    ),
    (
        "ceiling-height",
        1,
        {
            "space": {"height": 2.7 + Z90 * 0.08},
            "devices": {"m1": {"at": [3.4, 2.4, 2.7 + Z90 * 0.08]}},
            "noise": {"sources": {"vent": {"at": [1, 1, 2.7 + Z90 * 0.08]}}},
        },
    ),
    (
        "plan",
        1,
        {
            "space": {
                "outline": [
                    [-WALL, -WALL],
                    [6 + WALL, -WALL],
                    [6 + WALL, 4.5 + WALL],
                    [-WALL, 4.5 + WALL],
                ]
            }
        },
    ),
]


@pytest.mark.parametrize(("topic", "index", "over"), HAND, ids=[f"{t}-{i}" for t, i, _ in HAND])
def test_an_effect_is_that_of_the_document_edited_by_hand(
    base: Found,
    room_of: Callable[..., Room],
    catalogue: Catalogue,
    topic: str,
    index: int,
    over: dict[str, Any],
) -> None:
    evidence, found = base
    moved = found[topic].moved[index]
    other = ledger.predict(room_of(_over(BASE, over)), catalogue, assumptions=False)
    worst = evidence.worst()
    assert worst is not None
    same = next(o for o in other.outbound if o.talker.id == worst.talker.id)
    assert moved.effect_db == pytest.approx(
        same.path.direct_to_reverberant_db - worst.path.direct_to_reverberant_db, abs=1e-6
    )
    assert moved.effect_sti == pytest.approx(same.path.sti - worst.path.sti, abs=1e-7)
    assert moved.effect_speech_to_noise_db == pytest.approx(
        same.path.speech_to_noise_db - worst.path.speech_to_noise_db, abs=1e-6
    )
    assert moved.chance == pytest.approx(min(o.chance for o in other.outbound), abs=1e-6)
    assert moved.weight > 0 or (topic, index) == ("facing-seated", 1)  # the worst already


def test_the_deciding_figures_are_those_of_the_ledger(base: Found, catalogue: Catalogue) -> None:
    evidence, _ = base
    quick = sensitivity.judged(evidence.room, catalogue)
    assert set(quick) == {o.talker.id for o in evidence.outbound}
    for row in evidence.outbound:
        one = quick[row.talker.id]
        assert one.sti == row.sti.value
        assert one.direct_to_reverberant_db == row.direct_to_reverberant.value
        assert one.speech_to_noise_db == row.speech_to_noise.value
        assert one.chance == row.chance


def test_the_worst_seat_here_is_the_one_that_the_hand_edits_move(base: Found) -> None:
    worst = base[0].worst()
    assert worst is not None
    assert worst.talker.id == "s1"


def test_a_measured_decay_as_predicted_changes_nothing_but_the_chance(base: Found) -> None:
    evidence, found = base
    as_taken, long, short = found["reverberation"].moved
    worst = evidence.worst()
    assert worst is not None
    assert as_taken.effect_db == pytest.approx(0, abs=1e-9)
    assert as_taken.effect_sti == pytest.approx(0, abs=1e-9)
    # A narrower range moves a chance away from one half, whichever side it is on.
    assert abs(as_taken.chance - 0.5) > abs(worst.chance - 0.5)
    assert long.effect_sti < 0 < short.effect_sti


SOME = ("plan", "ceiling-height", "positions", "mouths-seated", "noise-background")


def test_inputs_are_ranked_by_how_far_they_move_the_worst_seat(
    base: Found, found_of: Callable[..., Found]
) -> None:
    for _, found in (base, found_of({"targets": {"sti_outbound": None}}, *SOME, "ceiling-kind")):
        weights = [s.weight for s in found.values()]
        assert weights == sorted(weights, reverse=True)
        assert weights[0] > 1


def test_the_weight_is_the_largest_shift_in_standard_deviations_of_its_own(base: Found) -> None:
    evidence, found = base
    worst = evidence.worst()
    assert worst is not None
    for one in found.values():
        for moved in one.moved:
            least = max(
                abs(moved.effect_db) / worst.direct_to_reverberant.sigma,
                abs(moved.effect_sti) / worst.sti.sigma,
                abs(moved.effect_speech_to_noise_db) / worst.speech_to_noise.sigma,
            )
            assert moved.weight >= least - 1e-12
    quiet: Moved = found["effort"].moved[0]
    assert quiet.effect_db == pytest.approx(0, abs=1e-9)


def test_what_was_drawn_or_measured_is_not_asked(found_of: Callable[..., Found]) -> None:
    for basis in ("drawing", "measured"):
        _, found = found_of(
            {"basis": {"space": basis, "people": basis, "noise": basis, "far_end": basis}}
        )
        left = {"ceiling-kind", "finish:window:glazing", "reverberation", "scattering"}
        assert set(found) - left == {"table-tops"}  # furniture has no basis here
        assert {s.standing for t, s in found.items() if t not in ("table-tops",)} <= {"left out"}


def farthest(one: Sensitivity) -> float:
    """Largest shift of the three, one in a hundred of STI for half a decibel."""
    return max(
        max(abs(m.effect_db), 50 * abs(m.effect_sti), abs(m.effect_speech_to_noise_db))
        for m in one.moved
    )


def test_a_told_value_is_tried_within_less_than_an_assumed_one(
    found_of: Callable[..., Found],
) -> None:
    paths = ("space", "people", "noise")
    one, told = found_of({"basis": dict.fromkeys(paths, "told")}, *SOME)
    other, assumed = found_of({"basis": dict.fromkeys(paths, "assumed")}, *SOME)
    for topic in SOME:
        assert farthest(assumed[topic]) > farthest(told[topic]) > 0
        assert (told[topic].standing, assumed[topic].standing) == ("told", "assumed")
    # Told plasterboard is tried against its neighbours, assumed against all that walls are.
    assert against(one, "finish:wall:east") == ["glass-front", "wood-panel"]
    assert against(other, "finish:wall:east") == [
        "concrete",
        "glass-front",
        "wood-panel",
        "fabric-panel",
    ]


def trials(evidence: Evidence) -> dict[str, Trial]:
    """What would be tried of the finishes, without trying it."""
    worst = evidence.worst()
    assert worst is not None
    return {t.topic: t for t in alternative_finishes.finishes(Subject(evidence, worst))}


def against(evidence: Evidence, topic: str) -> list[str]:
    return [one.text for one in trials(evidence)[topic].alternatives]


def test_a_default_is_not_vouched_for_by_what_surrounds_it(
    found_of: Callable[..., Found],
) -> None:
    _, found = found_of({"basis": {"space": "drawing"}}, "ceiling-kind", "finish:floor")
    assert found["ceiling-kind"].standing == "left out"
    assert "finish:floor" not in found


def test_a_surface_with_figures_of_its_own_is_tried_with_less_and_more(
    found_of: Callable[..., Found],
) -> None:
    flat = {str(f): 0.3 for f in (125, 250, 500, 1000, 2000, 4000, 8000)}
    over = {"space": {"finishes": {"floor": {"absorption": flat}}}}
    _, found = found_of(over, "finish:floor")
    less, more = found["finish:floor"].moved
    assert less.effect_db < 0 < more.effect_db


def test_many_walls_alike_are_one_question(
    room_of: Callable[..., Room], catalogue: Catalogue
) -> None:
    corners = [
        [3 + 3 * math.cos(math.tau * i / 20), 2.25 + 2.2 * math.sin(math.tau * i / 20)]
        for i in range(20)
    ]
    walls = {f"w{i}": "plasterboard" for i in range(19)} | {"w19": "concrete"}
    patches = {"glazing": {**GLAZING, "wall": "w1", "from": 0, "to": 0.5}}
    over = _over(
        BASE,
        {
            "space": {
                "outline": corners,
                "walls": [f"w{i}" for i in range(20)],
                "finishes": {"walls": walls, "patches": patches},
            },
            "furniture": {"picture": {"wall": "w3", "centre": [0.4, 1.4], "size": [0.5, 0.4]}},
        },
    )
    found = ledger.predict(room_of(over), catalogue, assumptions=False)
    asked = sorted(topic for topic in trials(found) if topic.startswith("finish:wall:"))
    assert asked == ["finish:wall:all of concrete", "finish:wall:all of plasterboard"]


def test_an_outlet_that_nobody_mentioned_is_tried_where_there_is_no_source(
    found_of: Callable[..., Found], room_of: Callable[..., Room], catalogue: Catalogue
) -> None:
    evidence, found = found_of({"noise": {"sources": "absent"}}, "noise-sources")
    (moved,) = found["noise-sources"].moved
    assert moved.effect_speech_to_noise_db < 0
    away = math.hypot(3 - 3.4, 2.25 - 2.4)
    place = [3.4 - 1.5 * 0.4 / away, 2.4 - 1.5 * 0.15 / away, 2.7]
    outlet = {"kind": "air-outlet", "at": place, "dba_at_1m": 35}
    noisy = ledger.predict(
        room_of(_over(BASE, {"noise": {"sources": {"vent": outlet}}})),
        catalogue,
        assumptions=False,
    )
    quiet, loud = evidence.outbound[0].path, noisy.outbound[0].path
    assert moved.effect_speech_to_noise_db == pytest.approx(
        loud.speech_to_noise_db - quiet.speech_to_noise_db, abs=1e-6
    )


def test_table_tops_matter_where_a_microphone_stands_on_one(
    found_of: Callable[..., Found],
) -> None:
    device = {"m1": {"product": "table-boundary", "at": [3.2, 2.3, 0.74]}}
    _, found = found_of({"devices": device}, "table-tops")
    assert max(abs(m.effect_db) for m in found["table-tops"].moved) > 0.02


def test_every_alternative_says_what_it_is_and_where_it_comes_from(base: Found) -> None:
    for one in base[1].values():
        assert one.moved, one.topic
        assert one.value
        for moved in one.moved:
            assert moved.text
            assert moved.source


def test_without_a_microphone_nothing_is_tried(
    room_of: Callable[..., Room], catalogue: Catalogue
) -> None:
    room = room_of({k: v for k, v in BASE.items() if k != "devices"})
    assert sensitivity.sensitivities(ledger.predict(room, catalogue)) == ()


FOLD: dict[str, Any] = {
    "partitions": {
        "fold": {"from": [3, 0], "to": [3, 4.5], "finish": "wood-panel", "stc": 40},
    },
    "arrangements": {"joined": {"open": ["fold"]}, "split": {"closed": ["fold"]}},
    "people": {"seats": {"s1": {"at": [1.5, 1.4], "facing": 0}, "s2": {"at": [4.6, 3.2]}}},
    "furniture": "absent",
    "space": {"finishes": {"patches": "absent"}},
    "devices": {
        "m1": {"kind": "microphone", "product": "ceiling-head-3", "at": [1.6, 2.2, 2.7]},
        "m2": {"kind": "microphone", "product": "ceiling-head-3", "at": [4.4, 2.2, 2.7]},
    },
}


def test_in_a_room_that_divides_every_arrangement_is_tried(
    room_of: Callable[..., Room], catalogue: Catalogue
) -> None:
    def whole(over: dict[str, Any]) -> Evidence:
        room = room_of(_over(_over(BASE, FOLD), over))
        each = [
            PartEvidence(s.part, ledger.evidence(s.scene, assumptions=False))
            for s in build_parts(room, catalogue)
        ]
        assert len(each) == 3
        return over_all(room, catalogue, each)

    now = whole({})
    quick = sensitivity.judged(now.room, catalogue)
    assert {o.talker.id: o.chance for o in now.outbound} == {k: v.chance for k, v in quick.items()}
    found = tried(now, "plan", "reverberation", "noise-background")
    assert set(found) == {"noise-background"}
    then = whole({"noise": {"background": {"dba": 36.5}}})
    worst = now.worst()
    assert worst is not None
    same = next(o for o in then.outbound if o.talker.id == worst.talker.id)
    louder = found["noise-background"].moved[1]
    assert louder.effect_sti == pytest.approx(same.path.sti - worst.path.sti, abs=1e-7)
    assert louder.chance == pytest.approx(min(o.chance for o in then.outbound), abs=1e-6)

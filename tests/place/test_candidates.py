"""Where microphones may stand: places by mounting, and every rule that refuses one."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.products import Microphone
from wellheard.place import candidates
from wellheard.place.candidates import Candidate, Options
from wellheard.place.rules import Rules
from wellheard.predict.scene import Scene
from wellheard.signal.mounted import held_by

TABLE = {"kind": "table", "outline": [[2, 1.5], [4, 1.5], [4, 2.5], [2, 2.5]], "height": 0.74}
PICTURE = {"kind": "display", "wall": "west", "centre": [2.25, 1.4], "size": [1.6, 0.9]}


@pytest.fixture(scope="session")
def options_of(scene_of: Callable[..., Scene], catalogue: Catalogue) -> Callable[..., Options]:
    def made(product: str, **over: Any) -> Options:
        found = catalogue.product(product)
        assert isinstance(found, Microphone)
        return candidates.microphones(scene_of(over), (found,))

    return made


@pytest.fixture(scope="session")
def refused_of(scene_of: Callable[..., Scene], catalogue: Catalogue) -> Callable[..., str]:
    """Code that refuses one place, '' where none does."""

    def made(
        at: tuple[float, float, float],
        *,
        product: str = "ceiling-head-3",
        mounting: str = "ceiling",
        **over: Any,
    ) -> str:
        scene = scene_of(over)
        found = catalogue.product(product)
        assert isinstance(found, Microphone)
        drop = scene.room.space.height - at[2] if mounting == "ceiling" else None
        fits = held_by(scene.room, found) if mounting == "ceiling" else ()
        fit = fits[0] if fits else None
        return Rules(scene).refuses(Candidate(found, at, 0.0, mounting, drop, fit))

    return made


def plan(options: Options) -> set[tuple[float, float]]:
    return {(round(c.at[0], 6), round(c.at[1], 6)) for c in options.allowed}


FLUSH = {"choices": {"max_drop": 0}}


def test_whole_tiles_are_the_places_of_a_tiled_ceiling(options_of: Callable[..., Options]) -> None:
    """6 × 4.5 m, tiles of 0.6 m from the corner: 10 × 7 whole ones; rows nearer than 0.5 m go."""
    found = options_of("ceiling-head-3", **FLUSH)
    xs = {round(0.3 + 0.6 * i, 6) for i in range(10)} - {0.3, 5.7}
    ys = {round(0.3 + 0.6 * i, 6) for i in range(7)} - {0.3}  # 3.9 is 0.6 m from the wall
    assert plan(found) == {(x, y) for x in xs for y in ys}
    assert found.refused == {"microphone-near-wall": 70 - len(xs) * len(ys)}
    assert "tile" in found.places


def test_a_turned_grid_keeps_its_tiles_whole(options_of: Callable[..., Options]) -> None:
    turned = options_of(
        "ceiling-head-3",
        space={"ceiling": {"kind": "tiles", "module": 0.6, "rotation_deg": 30, "origin": [1, 1]}},
        **FLUSH,
    )
    assert turned.allowed
    angle = math.radians(30)
    for x, y in plan(turned):
        u = (x - 1) * math.cos(angle) + (y - 1) * math.sin(angle)
        v = -(x - 1) * math.sin(angle) + (y - 1) * math.cos(angle)
        # At the centre but for the step of the tape, 5 mm each way.
        assert (u / 0.6) % 1 == pytest.approx(0.5, abs=0.0071 / 0.6)
        assert (v / 0.6) % 1 == pytest.approx(0.5, abs=0.0071 / 0.6)


def test_tiles_of_a_grid_that_is_not_square_are_met(options_of: Callable[..., Options]) -> None:
    found = options_of(
        "ceiling-head-3",
        space={"ceiling": {"kind": "tiles", "module": [0.6, 1.2], "origin": [0, 0]}},
        **FLUSH,
    )
    assert {y for _, y in plan(found)} == {0.6, 1.8, 3.0}


def test_a_hard_ceiling_is_tried_on_a_grid(options_of: Callable[..., Options]) -> None:
    """27 m² at 0.4 m would be over 150 places, at 0.5 m it is 12 × 9 = 108."""
    found = options_of("ceiling-head-3", space={"ceiling": {"kind": "hard"}}, **FLUSH)
    xs = sorted({x for x, _ in plan(found)})
    assert np.diff(xs) == pytest.approx(0.5)
    assert len(found.allowed) + sum(found.refused.values()) <= candidates.MOST_OPEN_PLACES


def test_without_new_holes_a_hard_ceiling_takes_what_is_screwed_to_it(
    options_of: Callable[..., Options],
) -> None:
    kept = options_of(
        "ceiling-head-3",
        space={"ceiling": {"kind": "hard"}},
        choices={"max_drop": 0, "new_holes": False},
    )
    assert {c.fit for c in kept.allowed} == {"hard"}
    free = options_of("ceiling-head-3", space={"ceiling": {"kind": "hard"}}, **FLUSH)
    assert {c.fit for c in free.allowed} == {"hole"}


def test_drops_are_the_products_up_to_the_longest_allowed(
    options_of: Callable[..., Options],
) -> None:
    found = options_of("ceiling-head-3", choices={"max_drop": 0.35}, space={"height": 3.4})
    assert {c.drop for c in found.allowed} == {0, 0.15, 0.35}
    for c in found.allowed:
        assert c.at[2] == pytest.approx(3.4 - (c.drop or 0))


def test_table_capsules_stand_on_tables_clear_of_the_edge(
    options_of: Callable[..., Options],
) -> None:
    found = options_of("table-boundary", furniture={"table": TABLE})
    assert found.allowed
    for c in found.allowed:
        assert 2.2 - 1e-6 <= c.at[0] <= 3.8 + 1e-6
        assert 1.7 - 1e-6 <= c.at[1] <= 2.3 + 1e-6
        assert c.at[2] == pytest.approx(0.74)
        assert c.mounting == "table"


def test_a_lectern_has_one_place_at_its_stems_end(options_of: Callable[..., Options]) -> None:
    lectern = {"kind": "lectern", "at": [5, 3.5], "height": 1.1}
    found = options_of(
        "gooseneck", furniture={"lectern": lectern}, choices={"mounting": ["lectern"]}
    )
    (only,) = found.allowed
    assert only.at == pytest.approx((5, 3.5, 1.45))
    towards = math.degrees(math.atan2(2 - 3.5, 2 - 5)) % 360
    assert only.aim_deg == pytest.approx(towards)


def test_a_bar_goes_above_and_below_the_picture_and_looks_into_the_room(
    options_of: Callable[..., Options],
) -> None:
    found = options_of("front-bar", furniture={"picture": PICTURE}, choices={"mounting": ["front"]})
    heights = sorted(c.at[2] for c in found.allowed)
    assert heights == pytest.approx([1.4 - 0.45 - 0.1 - 0.045, 1.4 + 0.45 + 0.1 + 0.045])
    for c in found.allowed:
        assert c.aim_deg == pytest.approx(0.0)
        assert c.at[:2] == pytest.approx((0.05, 2.25))


def test_mountings_that_are_not_chosen_have_no_places(options_of: Callable[..., Options]) -> None:
    assert options_of("ceiling-head-3", choices={"mounting": ["table"]}).allowed == ()


def test_new_microphones_keep_half_a_metre_and_locked_ones_stay_as_they_are(
    options_of: Callable[..., Options],
) -> None:
    old = {"kind": "microphone", "product": "ceiling-head-3", "locked": True}
    found = options_of(
        "ceiling-head-3",
        devices={"a": {**old, "at": [2.1, 2.0, 2.7]}, "b": {**old, "at": [2.4, 2.0, 2.7]}},
        space={"ceiling": {"module": 0.3, "kind": "tiles"}},
        **FLUSH,
    )
    assert found.locked == (0, 1)
    assert [c.id for c in found.allowed[:2]] == ["a", "b"]
    at = np.array([c.at[:2] for c in found.allowed])
    near = {
        (i, j)
        for i in range(len(at))
        for j in range(i + 1, len(at))
        if math.dist(at[i], at[j]) < 0.5 - 1e-9
    } - {(0, 1)}
    assert set(found.conflicts()) == near
    assert any(i == 0 for i, _ in near)


def test_a_microphone_that_is_not_locked_is_set_free(options_of: Callable[..., Options]) -> None:
    loose = {"kind": "microphone", "product": "ceiling-head-3", "at": [3, 2, 2.7]}
    assert options_of("ceiling-head-3", devices={"m1": loose}, **FLUSH).locked == ()


def not_a_computers_own(product: Microphone) -> Microphone:
    """The same bar as if a processor took what it hears."""
    assert product.built_in is not None
    return replace(product, built_in=replace(product.built_in, usb=False))


def test_a_bar_and_a_head_keep_the_distance_of_a_loudspeaker(
    scene_of: Callable[..., Scene], catalogue: Catalogue
) -> None:
    bar = not_a_computers_own(catalogue.microphone("front-bar"))
    products = (bar, catalogue.microphone("ceiling-head-3"))
    found = candidates.microphones(
        scene_of({"furniture": {"picture": PICTURE}, "space": {"height": 2.4}, **FLUSH}), products
    )
    pairs = {frozenset(p) for p in found.conflicts()}
    for i, a in enumerate(found.allowed):
        for j, b in enumerate(found.allowed[:i]):
            if {a.product.id, b.product.id} == {"front-bar", "ceiling-head-3"}:
                assert (frozenset((i, j)) in pairs) is (math.dist(a.at, b.at) < 1.2 - 1e-9)
    assert any(
        found.allowed[i].product is not found.allowed[j].product for i, j in map(tuple, pairs)
    )


def test_a_computers_own_device_is_alone(
    scene_of: Callable[..., Scene], catalogue: Catalogue
) -> None:
    """A computer takes sound from one device at a time: common practice, no source [C]."""
    products = (catalogue.microphone("table-unit"), catalogue.microphone("ceiling-head-3"))
    found = candidates.microphones(scene_of({"furniture": {"table": TABLE}, **FLUSH}), products)
    pairs = {frozenset(p) for p in found.conflicts()}
    units = {i for i, c in enumerate(found.allowed) if c.product.id == "table-unit"}
    heads = set(range(len(found.allowed))) - units
    assert len(units) > 1
    assert len(heads) > 1
    assert {p for p in pairs if p & units} == {
        frozenset((i, j)) for i in units for j in range(len(found.allowed)) if i != j
    }
    assert not all(frozenset((i, j)) in pairs for i in heads for j in heads if i != j)


def test_two_computers_own_devices_stay_where_both_are_locked(
    scene_of: Callable[..., Scene], catalogue: Catalogue
) -> None:
    unit = {"kind": "microphone", "product": "table-unit", "locked": True}
    found = candidates.microphones(
        scene_of(
            {
                "furniture": {"table": TABLE},
                "devices": {
                    "a": {**unit, "at": [2.4, 2.0, 0.76]},
                    "b": {**unit, "at": [3.6, 2.0, 0.76]},
                },
                **FLUSH,
            }
        ),
        (catalogue.microphone("ceiling-head-3"),),
    )
    pairs = {frozenset(p) for p in found.conflicts()}
    assert found.locked == (0, 1)
    assert frozenset((0, 1)) not in pairs
    assert all(frozenset((0, i)) in pairs for i in range(2, len(found.allowed)))


def test_panels_on_a_grid_finer_than_they_are_never_lie_in_one_another(
    scene_of: Callable[..., Scene], catalogue: Catalogue
) -> None:
    """Panels 0.595 m wide, half a metre apart on a hard ceiling, would share 0.095 m."""
    found = candidates.microphones(
        scene_of({"space": {"ceiling": {"kind": "hard"}}}),
        (catalogue.microphone("ceiling-array-16"),),
    )
    pairs = {frozenset(p) for p in found.conflicts()}
    met = 0
    for i, a in enumerate(found.allowed):
        for j, b in enumerate(found.allowed[:i]):
            along, across = abs(a.at[0] - b.at[0]), abs(a.at[1] - b.at[1])
            assert (frozenset((i, j)) in pairs) is (max(along, across) < 0.595 - 0.01 - 1e-6)
            met += frozenset((i, j)) in pairs
    assert met


LAMP = {"outline": [[2.5, 2.0], [3.5, 2.0], [3.5, 2.5], [2.5, 2.5]]}
VENT = {"kind": "air-outlet", "at": [3.0, 2.0, 2.7], "dba_at_1m": 28}
FAN = {"kind": "projector", "at": [3.0, 2.0, 2.5], "dba_at_1m": 36}
SPEAKER = {"kind": "loudspeaker", "product": "ceiling-6", "at": [3.0, 2.0, 2.7]}
TALL = {"space": {"height": 4.0}}

REFUSED: dict[str, tuple[tuple[float, float, float], dict[str, Any], str]] = {
    "in a lamp": ((3.0, 2.2, 2.7), {"overhead": {"l": LAMP}}, "microphone-in-keep-out"),
    "housing over a lamp's clearance": (
        (3.74, 2.2, 2.7),  # 0.24 m off, clearance 0.2 m, housing 0.055 m
        {"overhead": {"l": {**LAMP, "clearance": 0.2}}},
        "microphone-in-keep-out",
    ),
    "by the wall": ((0.49, 2.0, 2.7), {}, "microphone-near-wall"),
    "by a column": (
        (3.0, 3.4, 2.7),
        {"space": {"obstacles": {"c": {"outline": [[2.8, 2.6], [3.2, 2.6], [3.2, 3], [2.8, 3]]}}}},
        "microphone-near-wall",
    ),
    "by a beam": (
        (3.0, 2.9, 2.7),
        {"overhead": {"b": {**LAMP, "kind": "beam", "bottom": 2.4}}},
        "microphone-near-wall",
    ),
    "by a duct": (
        (3.0, 2.9, 2.5),
        {"overhead": {"d": {**LAMP, "kind": "duct", "bottom": 2.4}}},
        "microphone-near-wall",
    ),
    "in a walkway": ((3.0, 2.0, 2.1), {}, "head-height-under-pendant"),
    "low over a table": (
        (3.0, 2.0, 1.8),
        {"furniture": {"t": TABLE}},
        "head-height-under-pendant",
    ),
    "in the picture's way": (
        (3.0, 2.0, 2.2),
        {"furniture": {"p": {**PICTURE, "centre": [2.25, 1.7]}}},
        "sight-line-crossed",
    ),
    "by an outlet": (
        (3.9, 2.0, 2.7),
        {"noise": {"sources": {"v": VENT}}},
        "microphone-near-air-outlet",
    ),
    "in an outlet's stream": (
        (3.0, 2.0, 2.6),
        {"noise": {"sources": {"v": {**VENT, "at": [3.0, 2.0, 4.0]}}}, **TALL},
        "microphone-near-air-outlet",
    ),
    "by an outlet of unknown noise": (
        (3.9, 2.2, 2.7),
        {"overhead": {"v": {**LAMP, "kind": "air-outlet"}}},
        "microphone-near-air-outlet",
    ),
    "by a fan": ((4.4, 2.0, 2.7), {"noise": {"sources": {"f": FAN}}}, "microphone-near-fan"),
    "by a projector of unknown noise": (
        (4.4, 2.2, 2.7),
        {"overhead": {"p": {**LAMP, "kind": "projector", "bottom": 2.4}}},
        "microphone-near-fan",
    ),
    "by a loudspeaker": (
        (4.1, 2.0, 2.7),
        {"devices": {"ls": SPEAKER}},
        "microphone-near-loudspeaker",
    ),
    "by a bar that stays": (
        (1.0, 2.25, 2.5),
        {
            "devices": {
                "bar": {
                    "kind": "microphone",
                    "product": "front-bar",
                    "at": [0.05, 2.25, 2.2],
                    "locked": True,
                }
            }
        },
        "microphone-near-loudspeaker",
    ),
    "too far from the processor": (
        (3.0, 2.0, 2.7),
        {
            "space": {"outline": [[0, 0], [40, 0], [40, 4.5], [0, 4.5]]},
            "equipment": {
                "rack": {"kind": "rack", "at": [39, 1, 0.5]},
                "box": {"kind": "table-box", "at": [3, 2, 0.7]},
            },
            "devices": {"mixer": {"kind": "processor", "product": "bridge-2", "equipment": "rack"}},
        },
        "cable-too-long",
    ),
}


@pytest.mark.parametrize("case", REFUSED)
def test_a_place_is_refused_by_the_rule_it_breaks(
    case: str, refused_of: Callable[..., str]
) -> None:
    at, over, code = REFUSED[case]
    assert refused_of(at, **over) == code


ALLOWED: dict[str, tuple[tuple[float, float, float], dict[str, Any]]] = {
    "beside a lamp": ((3.56, 2.2, 2.7), {"overhead": {"l": LAMP}}),
    "half a metre from the wall": ((0.5, 2.0, 2.7), {}),
    "above a chest that ends below it": (
        (3.0, 2.8, 2.7),
        {
            "space": {
                "obstacles": {
                    "c": {"outline": [[2.8, 2.6], [3.2, 2.6], [3.2, 3], [2.8, 3]], "height": 1.2}
                }
            }
        },
    ),
    "far below a beam": (
        (3.0, 2.9, 3.0),
        {"overhead": {"b": {**LAMP, "kind": "beam", "bottom": 3.6}}, **TALL},
    ),
    "a beam in the ceiling's plane": (
        (3.0, 2.9, 2.7),
        {"overhead": {"b": {**LAMP, "kind": "beam"}}},
    ),
    "at 2.1 m in a walkway": ((3.0, 2.0, 2.13), {}),
    "over a table": ((3.0, 2.0, 1.9), {"furniture": {"t": TABLE}}),
    "over a cupboard": (
        (3.0, 2.0, 1.9),
        {"furniture": {"c": {"kind": "cupboard", "outline": TABLE["outline"]}}},
    ),
    "flush in front of a tall picture": (
        (3.0, 2.0, 2.7),
        {"furniture": {"p": {**PICTURE, "centre": [2.25, 2.2]}}},
    ),
    "beside the stream": (
        (4.0, 2.0, 2.6),
        {"noise": {"sources": {"v": {**VENT, "at": [3.0, 2.0, 4.0]}}}, **TALL},
    ),
    "an outlet overhead whose noise is stated elsewhere": (
        (4.05, 2.2, 2.7),
        {"overhead": {"v": {**LAMP, "kind": "air-outlet"}}, "noise": {"sources": {"v": VENT}}},
    ),
    "1.2 m from a loudspeaker": ((4.2, 2.0, 2.7), {"devices": {"ls": SPEAKER}}),
    "by a bar that goes": (
        (1.0, 2.25, 2.5),
        {
            "devices": {
                "bar": {"kind": "microphone", "product": "front-bar", "at": [0.05, 2.25, 2.2]}
            }
        },
    ),
    "by the wall with leave": (
        (0.2, 2.0, 2.7),
        {
            "targets": {
                "house_rules": {"microphone-near-wall": {"relaxed": True, "because": "soft"}}
            }
        },
    ),
    "by an outlet with leave": (
        (3.0, 2.0, 2.7),
        {
            "noise": {"sources": {"v": VENT}},
            "targets": {
                "house_rules": {"microphone-near-air-outlet": {"relaxed": True, "because": "slow"}}
            },
        },
    ),
    "with another limit": (
        (0.3, 2.0, 2.7),
        {"targets": {"house_rules": {"microphone-near-wall": {"limit": 0.3, "because": "soft"}}}},
    ),
}


@pytest.mark.parametrize("case", ALLOWED)
def test_a_place_that_breaks_no_rule_is_allowed(case: str, refused_of: Callable[..., str]) -> None:
    at, over = ALLOWED[case]
    assert refused_of(at, **over) == ""


def test_what_is_refused_and_what_is_allowed_are_all_places(
    options_of: Callable[..., Options],
) -> None:
    plain = options_of("ceiling-head-3", **FLUSH)
    lamp = options_of("ceiling-head-3", overhead={"l": LAMP}, **FLUSH)
    assert len(plain.allowed) + sum(plain.refused.values()) == 70
    assert len(lamp.allowed) + sum(lamp.refused.values()) == 70
    assert lamp.refused["microphone-in-keep-out"] > 0

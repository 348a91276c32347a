"""Where devices stand in a room that divides: locked ones, walls, tables, pictures, cables."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from wellheard.catalog.catalogue import Catalogue
from wellheard.place import candidates
from wellheard.place.candidates import Candidate, Options
from wellheard.place.microphones import place_microphones, products_of_choice
from wellheard.place.proposal import Proposal
from wellheard.place.rows import Rows
from wellheard.place.spaces import Spaces
from wellheard.predict.devices import placed_microphones
from wellheard.predict.parts import PartScene
from wellheard.predict.scene import Scene

FOLD = 4.8
"""Where the partition of the room of these tests stands [m]."""

Divided = Callable[..., tuple[Scene, tuple[PartScene, ...]]]


def placed(made: tuple[Scene, tuple[PartScene, ...]]) -> Proposal:
    return place_microphones(made[0], parts=made[1])


def options_of(made: tuple[Scene, tuple[PartScene, ...]]) -> Options:
    scene, parts = made
    return candidates.microphones(scene, products_of_choice(scene), parts)


def test_a_locked_microphone_serves_its_own_side(divided: Divided) -> None:
    old = {"kind": "microphone", "product": "ceiling-head-3", "at": [3.3, 2.1, 2.7]}
    found = placed(divided(devices={"old": {**old, "locked": True}}))
    assert found.proof.status == "optimal"
    assert [d.id for d in found.devices] == ["old", "m1"]
    assert found.devices[1].at[0] > FOLD


def test_two_locked_microphones_on_one_side_still_leave_the_other_to_serve(
    divided: Divided,
) -> None:
    old = {"kind": "microphone", "product": "ceiling-head-3", "locked": True}
    devices = {
        "one": {**old, "at": [3.3, 2.1, 2.7]},
        "two": {**old, "at": [1.5, 2.1, 2.7]},
    }
    found = placed(divided(devices=devices))
    assert found.count == 3
    assert found.proof.status == "optimal"
    assert found.proof.fewer_is_impossible


def test_a_locked_microphone_looks_one_way_in_every_arrangement(divided: Divided) -> None:
    """A device does not turn when a partition closes, whoever is then on its side."""
    old = {"kind": "microphone", "product": "front-bar", "at": [2.4, 4.7, 1.2], "locked": True}
    seats = {"s1": {"at": [2.4, 2.4], "facing": 90}, "s2": {"at": [8.4, 2.4], "facing": 90}}
    scene, parts = divided(devices={"old": old}, people={"seats": seats})
    made = Rows(Spaces.of(scene, parts), options_of((scene, parts)))
    first = {b.space.name: b.objective.candidates[0] for b in made.blocks}
    assert first["split.a"] == first["joined"]
    assert first["split.a"].id == "old"
    assert first["split.b"].id is None
    for part in parts[:2]:
        placed = placed_microphones(part.scene.room, scene.catalogue, part.scene.talkers)
        assert placed[0].aim_deg == first["joined"].aim_deg


def test_a_locked_microphone_on_the_partition_is_mixed_on_one_side(divided: Divided) -> None:
    old = {"kind": "microphone", "product": "ceiling-head-3", "at": [FOLD, 2.1, 2.7]}
    scene, parts = divided(devices={"old": {**old, "locked": True}})
    holding = dict(
        zip([p.part.name for p in parts], options_of((scene, parts)).holding, strict=True)
    )
    assert holding["joined"][0]
    assert holding["split.a"][0] != holding["split.b"][0]


def test_a_closed_partition_is_a_wall_for_every_arrangement(divided: Divided) -> None:
    """Usual distance from a wall 0.5 m: tiles 0.3 m from the partition go, 0.9 m stay."""
    found = options_of(divided())
    away = {round(abs(c.at[0] - FOLD), 3) for c in found.allowed}
    assert min(away) == 0.9
    undivided = candidates.microphones(divided()[0], products_of_choice(divided()[0]))
    assert min(round(abs(c.at[0] - FOLD), 3) for c in undivided.allowed) == 0.3
    assert found.refused["microphone-near-wall"] > undivided.refused["microphone-near-wall"]


def test_nothing_hangs_through_a_partition_even_where_the_rule_of_walls_is_relaxed(
    divided: Divided,
) -> None:
    relaxed = {"microphone-near-wall": {"relaxed": True, "because": "the ceiling is absorbent"}}
    shifted = {"from": [4.5, 0], "to": [4.5, 4.8]}  # through the middle of a row of tiles
    found = options_of(divided(targets={"house_rules": relaxed}, partitions={"fold": shifted}))
    assert min(abs(c.at[0] - 4.5) for c in found.allowed) == pytest.approx(0.6)


def test_a_space_where_nobody_sits_asks_for_no_microphone_but_keeps_its_partition(
    divided: Divided,
) -> None:
    """Split, the east half is a store; joined, its far corner may hold a microphone."""
    found = options_of(divided(people={"seats": {"s1": {"at": [3.6, 2.4], "facing": 0}}}))
    assert min(abs(c.at[0] - FOLD) for c in found.allowed) == pytest.approx(0.9)
    assert any(c.at[0] > FOLD for c in found.allowed)
    one = placed(divided(people={"seats": {"s1": {"at": [3.6, 2.4], "facing": 0}}}))
    assert one.count == 1
    assert one.devices[0].at[0] < FOLD


def test_nothing_is_mounted_on_a_partition(divided: Divided) -> None:
    picture = {"kind": "display", "wall": "west", "centre": [2.4, 1.4], "size": [1.6, 0.9]}
    found = options_of(
        divided(
            choices={"allow": ["front-bar"], "mounting": ["wall", "front"]},
            furniture={"picture": picture},
        )
    )
    assert found.allowed
    assert all(abs(c.at[0] - FOLD) > c.product.size[0] / 2 for c in found.allowed)


def test_tables_on_both_sides_are_tried_from_their_own_middle(divided: Divided) -> None:
    """A table cut by the partition has places on each piece that a hand can reach."""
    long = {
        "kind": "table",
        "outline": [[2.8, 1.8], [6.8, 1.8], [6.8, 3.0], [2.8, 3.0]],
        "height": 0.74,
    }
    found = options_of(
        divided(
            furniture={"table": long},
            choices={"allow": ["table-boundary"], "mounting": ["table"]},
        )
    )
    body = max(found.allowed[0].product.size[:2]) / 2
    assert {c.at[0] < FOLD for c in found.allowed} == {True, False}
    assert all(abs(c.at[0] - FOLD) >= body - 1e-9 for c in found.allowed)


def test_a_picture_is_in_the_way_only_where_it_is_seen(
    divided: Divided, halves: dict[str, Any]
) -> None:
    """Split alone: pendants that would cross the picture's top hang on the other side."""
    picture = {"kind": "display", "wall": "west", "centre": [2.4, 1.9], "size": [1.6, 1.2]}
    choices = {"allow": ["pendant-cardioid"], "mounting": ["ceiling"]}
    space = {**halves["space"], "height": 3.2}
    found = options_of(
        divided(
            space=space,
            furniture={"picture": picture},
            choices=choices,
            arrangements={"split": {"closed": ["fold"]}},
        )
    )
    west = min(c.at[2] for c in found.allowed if c.at[0] < FOLD)
    east = min(c.at[2] for c in found.allowed if c.at[0] > FOLD)
    assert west > east
    together = options_of(divided(space=space, furniture={"picture": picture}, choices=choices))
    assert min(c.at[2] for c in together.allowed if c.at[0] > FOLD) == west


def test_cables_run_above_a_partition(divided: Divided, halves: dict[str, Any]) -> None:
    """The only processor stands in the east; what is too far for joined is too far for split."""
    rack = {"rack": {"kind": "rack", "at": [9.2, 0.4, 0.5]}}
    bridge = {"core": {"kind": "processor", "product": "bridge-2", "equipment": "rack"}}
    wide = {**halves["space"], "outline": [[0, 0], [9.6, 0], [9.6, 4.8], [0, 4.8]], "height": 2.7}
    split = divided(
        space=wide,
        equipment=rack,
        devices=bridge,
        arrangements={"split": {"closed": ["fold"]}},
        targets={"house_rules": {"service-loop": {"limit": 60, "because": "kept for a move"}}},
    )
    scene, parts = split
    found = candidates.microphones(scene, products_of_choice(scene), parts)
    plain = candidates.microphones(scene, products_of_choice(scene))
    assert found.refused.get("cable-too-long", 0) > 0
    here = {c.at for c in found.allowed}
    assert here == {c.at for c in plain.allowed if abs(c.at[0] - FOLD) > 0.5}


def test_devices_that_never_share_a_space_are_in_nobodys_way(catalogue: Catalogue) -> None:
    head = catalogue.microphone("ceiling-head-3")

    def candidate(x: float) -> Candidate:
        return Candidate(head, (x, 2.0, 2.7), 0.0, "ceiling", 0.0, "tile")

    def pair(holding: list[list[bool]]) -> list[tuple[int, int]]:
        both = (candidate(4.6), candidate(5.0))
        return Options(both, (), {}, "", np.array(holding)).conflicts()

    assert pair([[True, True]]) == [(0, 1)]
    assert pair([[True, False], [False, True]]) == []
    assert pair([[True, True], [True, False], [False, True]]) == [(0, 1)]


def test_a_computers_own_device_is_alone_in_each_space_that_it_shares(
    divided: Divided, catalogue: Catalogue
) -> None:
    """Behind a partition that is never open there is another computer."""
    table = {"kind": "table", "height": 0.74}
    west = {**table, "outline": [[3.0, 2.7], [4.4, 2.7], [4.4, 3.7], [3.0, 3.7]]}
    east = {**table, "outline": [[5.4, 2.7], [6.6, 2.7], [6.6, 3.7], [5.4, 3.7]]}
    over: dict[str, Any] = {
        "furniture": {"west": west, "east": east},
        "targets": {
            "house_rules": {"microphone-near-papers": {"relaxed": True, "because": "no papers"}}
        },
        "choices": {"mounting": ["table"], "allow": ["table-unit"]},
    }
    unit = (catalogue.microphone("table-unit"),)
    for arrangements, met in (
        ({"joined": {"open": ["fold"]}, "split": {"closed": ["fold"]}}, True),
        ({"split": {"closed": ["fold"]}}, False),
    ):
        scene, parts = divided(**over, arrangements=arrangements)
        found = candidates.microphones(scene, unit, parts)
        sides = [c.at[0] < FOLD for c in found.allowed]
        assert {True, False} == set(sides)
        pairs = set(found.conflicts())
        for j in range(len(sides)):
            for i in range(j):
                assert ((i, j) in pairs) is (met or sides[i] == sides[j])


def test_each_side_of_a_partition_that_is_never_open_takes_a_computers_own(
    divided: Divided,
) -> None:
    table = {"kind": "table", "height": 0.74}
    west = {**table, "outline": [[3.0, 1.9], [4.4, 1.9], [4.4, 2.9], [3.0, 2.9]]}
    east = {**table, "outline": [[5.2, 1.9], [6.6, 1.9], [6.6, 2.9], [5.2, 2.9]]}
    over: dict[str, Any] = {
        "furniture": {"west": west, "east": east},
        "targets": {
            "house_rules": {"microphone-near-papers": {"relaxed": True, "because": "no papers"}}
        },
        "choices": {"mounting": ["table"], "allow": ["table-unit"]},
    }
    apart = placed(divided(**over, arrangements={"split": {"closed": ["fold"]}}))
    assert apart.proof.status == "optimal"
    assert [d.at[0] < FOLD for d in apart.devices] == [True, False]
    both = placed(divided(**over))
    assert both.proof.status == "infeasible"
    assert both.count == 1

"""One set of devices for a room that divides: each talker served in every arrangement."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from wellheard.arrays import Array, Mask
from wellheard.catalog.catalogue import Catalogue
from wellheard.errors import InputError
from wellheard.place import candidates, reached, rows
from wellheard.place.candidates import Candidate, Options
from wellheard.place.certificate import verify
from wellheard.place.microphones import place_microphones, products_of_choice
from wellheard.place.objective import Objective
from wellheard.place.proposal import Proposal
from wellheard.place.rows import Rows
from wellheard.place.spaces import Spaces
from wellheard.place.task import Task
from wellheard.predict import ledger
from wellheard.predict.devices import placed_microphones
from wellheard.predict.outbound import open_microphones
from wellheard.predict.parts import PartScene, build_parts
from wellheard.predict.scene import Scene
from wellheard.room import edit
from wellheard.room.devices import Device
from wellheard.room.document import Room

FOLD = 4.8
"""Where the partition of these rooms stands: the same for all, half way [m]."""
DEAD = {"absorption": {str(f): 0.85 for f in (125, 250, 500, 1000, 2000, 4000, 8000)}}
BOTH = {"joined": {"open": ["fold"]}, "split": {"closed": ["fold"]}}
HALVES: dict[str, Any] = {
    "space": {
        "outline": [[0, 0], [9.6, 0], [9.6, 4.8], [0, 4.8]],
        "ceiling": {"kind": "tiles", "module": 0.6, "origin": [0, 0]},
        "finishes": {"floor": DEAD, "ceiling": DEAD, "walls": DEAD},
    },
    "people": {
        "seats": {"s1": {"at": [3.6, 2.4], "facing": 0}, "s2": {"at": [6.0, 2.4], "facing": 180}}
    },
    "choices": {"allow": ["ceiling-head-3"], "mounting": ["ceiling"], "max_drop": 0},
    "partitions": {"fold": {"from": [FOLD, 0], "to": [FOLD, 4.8]}},
    "arrangements": BOTH,
}
"""Two people in a dead room, either side of a partition, within reach of one head."""

Divided = Callable[..., tuple[Scene, tuple[PartScene, ...]]]


@pytest.fixture
def divided(scene_of: Callable[..., Scene], catalogue: Catalogue) -> Divided:
    """Give the function that makes such a room, and its parts, ready."""

    def made(**over: Any) -> tuple[Scene, tuple[PartScene, ...]]:
        scene = scene_of({**HALVES, **over})
        return scene, build_parts(scene.room, catalogue)

    return made


def proposed(made: tuple[Scene, tuple[PartScene, ...]], **options: Any) -> Proposal:
    return place_microphones(made[0], parts=made[1], **options)


def with_devices(scene: Scene, proposal: Proposal) -> Room:
    """The document with what was proposed, aims and all."""
    devices = {
        d.id: scene.room.devices[d.id]
        if d.locked
        else Device(kind="microphone", product=d.product, at=d.at, aim_deg=d.aim_deg or None)
        for d in proposal.devices
    }
    return edit.replacing_devices(scene.room, {"microphone"}, devices)


@pytest.mark.practice
def test_each_half_of_a_divided_room_needs_a_microphone_of_its_own(divided: Divided) -> None:
    """One serves both while the partition is open. Common practice, no source."""
    joined = proposed(divided(arrangements={"joined": {"open": ["fold"]}}))
    assert joined.count == 1
    found = proposed(divided())
    assert found.proof.status == "optimal"
    assert found.count == 2
    assert [d.at[0] < FOLD for d in found.devices] == [True, False]
    assert found.proof.fewer_is_impossible
    assert found.proof.fewer is not None
    assert found.proof.fewer.target == "no-microphone-in-space"
    assert found.proof.fewer.worst_sti == 0.0
    assert found.proof.fewer.worst_chance == 0.0
    assert found.proof.fewer.missed in (("s1 (split)",), ("s2 (split)",))
    assert found.proof.binding == ("no-microphone-in-space",)


def test_the_certificate_names_seats_and_arrangement(divided: Divided) -> None:
    certificate = proposed(divided()).proof.certificate
    assert certificate is not None
    assert certificate.verified
    assert certificate.statement == (
        "Seats s1 (split) and s2 (split) need 2 different microphones: no allowed place serves "
        "both of them."
    )


def test_a_certificate_holds_in_whole_numbers_whichever_microphones_are_open(
    divided: Divided,
) -> None:
    scene, parts = divided()
    spaces = Spaces.of(scene, parts)
    task = Task.of(
        spaces, candidates.microphones(scene, products_of_choice(scene), parts), by_price=False
    )
    certificate = proposed((scene, parts)).proof.certificate
    assert certificate is not None
    assert verify(lambda n: task.hopeful(n) >= 0, certificate)


def test_the_scope_names_arrangements_and_what_counts_as_open(divided: Divided) -> None:
    scope = proposed(divided()).proof.scope
    assert "every arrangement (joined; split: split.a and split.b)" in scope
    assert "of the undivided room and of each part of it" in scope
    assert "every microphone counts as open on both sides of it" in scope
    open_only = proposed(divided(arrangements={"joined": {"open": ["fold"]}})).proof.scope
    assert "counts as open" not in open_only


def test_a_room_without_arrangements_is_its_own_only_part(
    divided: Divided, catalogue: Catalogue
) -> None:
    scene, parts = divided(arrangements="absent", partitions="absent")
    assert len(parts) == 1
    assert proposed((scene, parts)) == place_microphones(scene)


def test_names_carry_the_arrangement_only_where_ids_meet(divided: Divided) -> None:
    def names(made: tuple[Scene, tuple[PartScene, ...]]) -> list[str]:
        scene, parts = made
        options = candidates.microphones(scene, products_of_choice(scene), parts)
        return Rows(Spaces.of(scene, parts), options).names

    seats = {"s1": {"at": [3.6, 2.4], "facing": [0, 90]}, "s2": {"at": [6.0, 2.4]}}
    assert names(divided(people={"seats": seats})) == [
        "s1 facing 0° (joined)",
        "s1 facing 90° (joined)",
        "s2 (joined)",
        "s1 facing 0° (split)",
        "s1 facing 90° (split)",
        "s2 (split)",
    ]
    assert names(divided(arrangements={"split": {"closed": ["fold"]}})) == ["s1", "s2"]
    strip = {"outline": [[4.4, 1], [5.2, 1], [5.2, 1.4], [4.4, 1.4]], "facing": 90}
    across = names(
        divided(
            people={"seats": {}, "standing": {"front": strip}},
            arrangements={"split": {"closed": ["fold"]}},
        )
    )
    assert "front.1 (split.a)" in across
    assert "front.1 (split.b)" in across
    assert len(set(across)) == len(across)


# What is proposed holds ------------------------------------------------------------------------


def test_what_is_proposed_keeps_every_seat_in_every_arrangement(
    divided: Divided, catalogue: Catalogue
) -> None:
    scene, parts = divided(
        people={
            "seats": {
                f"s{i}": {"at": [x, y], "facing": [0, 90, 180]}
                for i, (x, y) in enumerate([(1.5, 1.5), (3.6, 3.4), (6, 1.4), (8.2, 3.3)])
            }
        }
    )
    found = proposed((scene, parts))
    assert found.proof.status == "optimal"
    worst: dict[str, float] = {}
    for part in build_parts(with_devices(scene, found), catalogue):
        evidence = ledger.evidence(part.scene, assumptions=False)
        assert {o.state for o in evidence.outbound} == {"kept"}, part.part.name
        worst[part.part.name] = min(o.sti.value for o in evidence.outbound)
    assert set(worst) == {"joined", "split.a", "split.b"}
    # The figures that the proposal states are those of the ledger, which opens only those there.
    assert found.worst["sti_outbound"] == pytest.approx(min(worst.values()), abs=1e-6)


def test_counting_every_microphone_as_open_costs_no_more_than_the_mixer_lets_through(
    divided: Divided,
) -> None:
    """With N counted and n there the ratio loses 10 lg of N's open ones over n's.

    Eight against one: 10 lg(1 + 7·10^−1.5) = 0.87 dB, by hand; four against two 0.26 dB.
    """
    assert 10 * np.log10(open_microphones(8) / open_microphones(1)) == pytest.approx(
        0.868, abs=5e-4
    )
    assert 10 * np.log10(open_microphones(4) / open_microphones(2)) == pytest.approx(
        0.258, abs=5e-4
    )
    scene, parts = divided(targets={"sti_outbound": None, "speech_to_noise_db": None})
    options = candidates.microphones(scene, products_of_choice(scene), parts)
    made = Rows(Spaces.of(scene, parts), options)
    for block in made.blocks[1:]:
        for counted in (2, 4, 8):
            bound = made.margins(counted)[block.rows][:, block.columns]
            for there in range(1, counted + 1):
                real = block.objective.margins(there)
                reach = block.objective.reach
                sigma = block.objective.quantities(there).direct_to_reverberant_sigma_db
                lost_db = ((real - bound) * sigma)[reach]
                most_db = 10 * np.log10(open_microphones(counted) / open_microphones(there))
                assert lost_db.min() >= -1e-9
                assert lost_db.max() <= most_db + 1e-9


def test_the_bounds_enclose_every_number_of_open_microphones(divided: Divided) -> None:
    scene, parts = divided()
    options = candidates.microphones(scene, products_of_choice(scene), parts)
    made = Rows(Spaces.of(scene, parts), options)
    for block in made.blocks:
        low = made.margins(5)[block.rows][:, block.columns]
        high = made.hopeful(5)[block.rows][:, block.columns]
        # While the partition is open there is nothing to guess.
        numbers = (5,) if block.space.name == "joined" else range(1, 6)
        for there in numbers:
            real = block.objective.margins(there)
            assert (low <= real).all()
            assert (real <= high).all()
        if block.space.name == "joined":
            assert np.array_equal(low, high)


def pairs_fail(count: int, near: Mask) -> Array:
    """Margins made up: near ones serve, but never two in one space."""
    return np.where(near, 1.0 if count == 1 else -0.2, -1.0)


def test_what_holds_with_the_microphones_that_are_open_is_not_given_up(
    divided: Divided, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each half is served by its own microphone alone, and by none with two open.

    Margins are made up; the arrangement is split only, so never are two open in one space.
    """

    class MadeUp(Objective):
        def margins(self, count: int) -> Any:
            return pairs_fail(count, self.distance < 2.0)

    for module in (rows, reached):
        monkeypatch.setattr(module, "Objective", MadeUp)
    found = proposed(divided(arrangements={"split": {"closed": ["fold"]}}))
    assert found.proof.status == "optimal"
    assert found.count == 2
    assert found.proof.fewer_is_impossible
    assert not found.shortfalls
    assert "those microphones count as open that are on the same side" in found.proof.scope


def test_what_fails_with_the_microphones_that_are_open_is_not_called_served(
    divided: Divided, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Joined, two are open and fail, and one cannot be on both sides of the partition."""

    class MadeUp(Objective):
        def margins(self, count: int) -> Any:
            return pairs_fail(count, self.distance < 3.0)

    for module in (rows, reached):
        monkeypatch.setattr(module, "Objective", MadeUp)
    found = proposed(divided())
    assert found.proof.status == "infeasible"
    assert found.shortfalls
    assert found.proof.certificate is None


# Promises that one arrangement breaks ------------------------------------------------------------


def evenly(alpha: float) -> dict[str, dict[str, float]]:
    return {"absorption": {str(f): alpha for f in (125, 250, 500, 1000, 2000, 4000, 8000)}}


def test_the_arrangement_that_cannot_be_served_is_named(divided: Divided) -> None:
    """All that absorbs is on the west wall: the partition takes it from the eastern half."""
    bare = evenly(0.02)
    walls = {"west": evenly(0.85), "east": evenly(0.3), "south": evenly(0.1), "north": evenly(0.1)}
    found = proposed(
        divided(
            space={
                **HALVES["space"],
                "finishes": {"floor": bare, "ceiling": bare, "walls": walls},
            },
            partitions={"fold": {**HALVES["partitions"]["fold"], "finish": bare}},
            targets={
                "direct_to_reverberant_db": -8,
                "sti_outbound": None,
                "speech_to_noise_db": None,
            },
        )
    )
    assert found.proof.status == "infeasible"
    (short,) = found.shortfalls
    assert (short.talker, short.seat, short.part) == ("s2 (split)", "s2", "split.b")
    assert short.at[0] > FOLD
    assert found.proof.binding == ("direct_to_reverberant_db",)
    first, second = found.would_have_to_give
    assert first.startswith("The room (split.b) would need")
    assert "nearer to s2 (split)" in first
    assert second.endswith("dB for split.b.")


def test_a_space_without_any_place_is_named_with_its_rules(divided: Divided) -> None:
    lamp = {"outline": [[4.8, 0], [9.6, 0], [9.6, 4.8], [4.8, 4.8]]}
    with pytest.raises(InputError, match=r"no place in split\.b .*microphone-in-keep-out \d+"):
        proposed(divided(overhead={"lamp": lamp}))


def test_a_price_limit_counts_the_one_set_of_devices_once(divided: Divided) -> None:
    one = proposed(divided(arrangements={"joined": {"open": ["fold"]}}))
    assert one.price is not None
    kept = proposed(divided(targets={"price": 2 * one.price + 1}))
    assert kept.proof.status == "optimal"
    assert kept.price == pytest.approx(2 * one.price)
    assert kept.proof.certificate is not None
    assert kept.proof.certificate.measure == "price"
    assert kept.proof.certificate.verified
    broken = proposed(divided(targets={"price": 2 * one.price - 1}))
    assert broken.proof.status == "infeasible"
    assert broken.proof.binding == ("no-microphone-in-space", "price")


# Locked devices ----------------------------------------------------------------------------------


def test_a_locked_microphone_serves_its_own_side(divided: Divided) -> None:
    old = {"kind": "microphone", "product": "ceiling-head-3", "at": [3.3, 2.1, 2.7]}
    found = proposed(divided(devices={"old": {**old, "locked": True}}))
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
    found = proposed(divided(devices=devices))
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


# Places ------------------------------------------------------------------------------------------


def options_of(made: tuple[Scene, tuple[PartScene, ...]]) -> Options:
    scene, parts = made
    return candidates.microphones(scene, products_of_choice(scene), parts)


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
    one = proposed(divided(people={"seats": {"s1": {"at": [3.6, 2.4], "facing": 0}}}))
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


def test_a_picture_is_in_the_way_only_where_it_is_seen(divided: Divided) -> None:
    """Split alone: pendants that would cross the picture's top hang on the other side."""
    picture = {"kind": "display", "wall": "west", "centre": [2.4, 1.9], "size": [1.6, 1.2]}
    choices = {"allow": ["pendant-cardioid"], "mounting": ["ceiling"]}
    space = {**HALVES["space"], "height": 3.2}
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


def test_cables_run_above_a_partition(divided: Divided) -> None:
    """The only processor stands in the east; what is too far for joined is too far for split."""
    rack = {"rack": {"kind": "rack", "at": [9.2, 0.4, 0.5]}}
    bridge = {"core": {"kind": "processor", "product": "bridge-2", "equipment": "rack"}}
    wide = {**HALVES["space"], "outline": [[0, 0], [9.6, 0], [9.6, 4.8], [0, 4.8]], "height": 2.7}
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
    for arrangements, met in ((BOTH, True), ({"split": {"closed": ["fold"]}}, False)):
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
    apart = proposed(divided(**over, arrangements={"split": {"closed": ["fold"]}}))
    assert apart.proof.status == "optimal"
    assert [d.at[0] < FOLD for d in apart.devices] == [True, False]
    both = proposed(divided(**over))
    assert both.proof.status == "infeasible"
    assert both.count == 1

"""One set of devices for a room that divides: each talker served in every arrangement."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from wellheard.acoustics import mixing
from wellheard.arrays import Array, Mask
from wellheard.catalog.catalogue import Catalogue
from wellheard.errors import InputError
from wellheard.place import candidates, reached, rows
from wellheard.place.certificate import verify
from wellheard.place.microphones import place_microphones, products_of_choice
from wellheard.place.objective import Objective
from wellheard.place.proposal import Proposal
from wellheard.place.rows import Rows
from wellheard.place.spaces import Spaces
from wellheard.place.task import Task
from wellheard.predict import ledger, outbound
from wellheard.predict.parts import PartScene, build_parts
from wellheard.predict.scene import Scene
from wellheard.room import edit
from wellheard.room.devices import Device
from wellheard.room.document import Room

pytestmark = pytest.mark.usefixtures("few_rays")

FOLD = 4.8
"""Where the partition of the room of these tests stands [m]."""

Divided = Callable[..., tuple[Scene, tuple[PartScene, ...]]]


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


def opened(count: int) -> float:
    return mixing.most_open_microphones(count, sharing="gating")


def test_counting_every_microphone_as_open_costs_no_more_than_the_mixer_lets_through(
    divided: Divided,
) -> None:
    """With N counted and n there the ratio loses 10 lg of N's open ones over n's.

    Eight against one: 10 lg(1 + 7·10^−1.5) = 0.87 dB, by hand; four against two 0.26 dB.
    """
    assert 10 * np.log10(opened(8) / opened(1)) == pytest.approx(0.868, abs=5e-4)
    assert 10 * np.log10(opened(4) / opened(2)) == pytest.approx(0.258, abs=5e-4)
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
                most_db = 10 * np.log10(opened(counted) / opened(there))
                assert lost_db.min() >= -1e-9
                # Ratios are rounded before they are compared.
                assert lost_db.max() <= most_db + 10.0**-outbound.LEVEL_DECIMALS


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


def test_the_arrangement_that_cannot_be_served_is_named(
    divided: Divided, halves: dict[str, Any]
) -> None:
    """All that absorbs is on the west wall: the partition takes it from the eastern half."""
    bare = evenly(0.02)
    walls = {"west": evenly(0.85), "east": evenly(0.3), "south": evenly(0.1), "north": evenly(0.1)}
    found = proposed(
        divided(
            space={
                **halves["space"],
                "finishes": {"floor": bare, "ceiling": bare, "walls": walls},
            },
            partitions={"fold": {**halves["partitions"]["fold"], "finish": bare}},
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

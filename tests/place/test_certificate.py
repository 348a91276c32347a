"""Certificates: they hold, they are checked without the solver, and tampering is noticed."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from wellheard.arrays import Array, Mask
from wellheard.place import certificate as certificate_module
from wellheard.place.certificate import Certificate, exhausted, verify
from wellheard.place.certify import cheaper_is_impossible, fewer_is_impossible
from wellheard.place.solve import fewest_then_best


def always(serves: Mask) -> Callable[[int], Array]:
    table = np.where(serves, 1.0, -1.0)
    return lambda n: table


def random_cover(seed: int, share: float = 0.3) -> Mask:
    """A random table in which every seat has a candidate."""
    rng = np.random.default_rng(seed)
    serves: Mask = rng.random((12, 25)) < share
    serves[np.arange(12), rng.integers(0, 25, 12)] = True
    return serves


def test_seats_far_apart_need_a_device_each() -> None:
    serves = np.zeros((5, 7), dtype=np.bool_)
    for seat in range(5):
        serves[seat, seat : seat + 3] = True
    count = fewest_then_best(always(serves)).count
    assert count == 2  # 0–2 share candidate 2, 3 and 4 share candidate 4
    proof = fewer_is_impossible(always(serves), count, names=["Ada", "Bo", "Cy", "Di", "Ed"])
    assert proof.kind == "seats"
    assert len(proof.seats) == 2
    assert proof.weights == ("1", "1")
    assert proof.total == "2"
    assert proof.verified
    assert verify(serves, proof)
    assert proof.statement.endswith(
        "need 2 different microphones: no allowed place serves both of them."
    )


def test_fano_plane_is_proven_by_thirds(fano: Mask) -> None:
    """Each point lies on 3 of 7 lines, and any two lines meet: no whole weights prove three."""
    proof = fewer_is_impossible(always(fano), 3)
    assert proof.kind == "weights"
    assert Fraction(proof.total) > 2
    assert proof.verified
    assert verify(fano, proof)
    assert "1/3" in proof.statement
    # The textbook weights, written by hand, pass the same check.
    by_hand = replace(proof, seats=tuple(range(7)), weights=("1/3",) * 7, total="7/3")
    assert verify(fano, by_hand)


def test_steiner_triples_need_a_search(steiner_9: Mask) -> None:
    """The relaxation stops at 3 (a third on each point), so weights cannot prove five."""
    proof = fewer_is_impossible(always(steiner_9), 5)
    assert proof.kind == "search"
    assert proof.verified
    assert proof.nodes > 1
    assert verify(steiner_9, proof)
    assert "exact arithmetic" not in proof.statement
    assert "Weights on the seats alone do not prove it" in proof.statement
    # A quarter on each triple is the best there is. It proves three, and three is not more
    # than three.
    quarters = replace(
        proof, kind="weights", seats=tuple(range(12)), weights=("1/4",) * 12, total="3"
    )
    assert verify(steiner_9, replace(quarters, claim="2", counts=(1, 2)))
    assert not verify(steiner_9, replace(quarters, claim="3", counts=(1, 3)))
    assert not verify(np.delete(steiner_9, range(1, 12), axis=0), proof)


def test_a_search_that_is_too_long_says_so(steiner_27: Mask) -> None:
    proof = fewer_is_impossible(always(steiner_27), 18, node_limit=50)
    leading = proof
    assert leading.kind == "search"
    assert not leading.verified
    assert "too long to repeat" in leading.statement
    assert not verify(steiner_27, proof, node_limit=50)


@pytest.mark.parametrize("block", range(4))
def test_every_fewest_of_random_tables_is_proven_and_verifies(block: int) -> None:
    for seed in range(10 * block, 10 * block + 10):
        serves = random_cover(seed, share=(0.1, 0.2, 0.3)[seed % 3])
        count = fewest_then_best(always(serves)).count
        proof = fewer_is_impossible(always(serves), count)
        assert proof.verified, seed
        assert verify(serves, proof), seed
        assert proof.claim == str(count - 1), seed


def test_tampering_is_noticed(fano: Mask) -> None:
    proof = fewer_is_impossible(always(fano), 3)
    spoiled = [
        replace(proof, claim="3", counts=(1, 3)),
        replace(proof, weights=("2", *proof.weights[1:])),
        replace(proof, weights=("-1", *proof.weights[1:])),
        replace(proof, weights=proof.weights[1:], seats=proof.seats[1:]),
        replace(proof, total="4"),
        replace(proof, seats=(proof.seats[0], *proof.seats[:-1])),
        replace(proof, seats=(99, *proof.seats[1:])),
        replace(proof, kind="seats"),
        replace(proof, counts=(2, 2)),
        replace(proof, kind="trivial"),
    ]
    assert verify(fano, proof)
    for number, wrong in enumerate(spoiled):
        assert not verify(fano, wrong), number
    better = fano.copy()
    better[:, 0] = True
    assert not verify(better, proof)


def test_a_claim_that_is_too_high_is_refused(fano: Mask) -> None:
    with pytest.raises(ValueError, match="3 devices serve every seat: 4 is not the fewest"):
        fewer_is_impossible(always(fano), 4)


def test_one_device_or_the_locked_ones_are_trivial() -> None:
    serves = np.ones((2, 3), dtype=np.bool_)
    proof = fewer_is_impossible(always(serves), 1)
    assert (proof.kind, proof.verified) == ("trivial", True)
    assert verify(serves, proof)
    locked = fewer_is_impossible(always(serves), 2, forced=[0, 1])
    assert locked.kind == "trivial"
    assert verify(serves, locked, forced=[0, 1])
    assert not verify(serves, locked)


def test_locks_that_make_the_difference_are_searched_with() -> None:
    """Candidate 0 serves all, but the locked candidate 1 serves nobody."""
    serves = np.array([[True, False, True], [True, False, False]])
    solution = fewest_then_best(always(serves), forced=[1, 2])
    assert solution.count == 3
    proof = fewer_is_impossible(always(serves), 3, forced=[1, 2])
    assert proof.kind == "search"
    assert "locked devices" in proof.statement
    assert verify(serves, proof, forced=[1, 2])
    assert not verify(serves, proof)


def test_conflicts_that_make_the_difference_are_searched_with() -> None:
    """Two candidates serve two seats each, but stand too close together."""
    serves = np.zeros((4, 4), dtype=np.bool_)
    serves[[0, 1], 0] = serves[[2, 3], 1] = serves[0, 2] = serves[1, 3] = True
    assert fewest_then_best(always(serves)).count == 2
    solution = fewest_then_best(always(serves), conflicts=[(0, 1)])
    assert solution.chosen == (1, 2, 3)
    proof = fewer_is_impossible(always(serves), 3, conflicts=[(0, 1)])
    assert proof.kind == "search"
    assert "distances between devices" in proof.statement
    assert verify(serves, proof, conflicts=[(0, 1)])
    assert not verify(serves, proof)


def test_weights_hold_under_locks_and_conflicts_too(fano: Mask) -> None:
    """More rules only rule out more, so a proof without them stands."""
    solution = fewest_then_best(always(fano), conflicts=[(0, 1)])
    proof = fewer_is_impossible(always(fano), solution.count, conflicts=[(0, 1)])
    assert proof.kind == "weights"
    assert verify(fano, proof)


def test_each_number_is_ruled_out_with_its_own_margins() -> None:
    """One device alone serves pairs that two no longer serve; both numbers must be spoken of."""
    rng = np.random.default_rng(4)
    found = 0
    for _ in range(30):
        base = rng.normal(0.0, 1.0, (8, 12))

        def margins(n: int, base: Array = base) -> Array:
            return base - 0.25 * (n - 1)

        solution = fewest_then_best(margins)
        if solution.status != "optimal" or solution.count < 3:
            continue
        proof = fewer_is_impossible(margins, solution.count)
        assert proof.verified
        assert proof.falling is True
        assert verify(lambda n, m=margins: m(n) >= 0, proof)  # type: ignore[misc]
        spoken = {
            n for part in (proof, *proof.also) for n in range(part.counts[0], part.counts[1] + 1)
        }
        assert spoken >= set(range(1, solution.count))
        found += bool(proof.also)
    assert found > 0  # some need more than one proof


def test_margins_that_grow_are_noticed_and_said() -> None:
    far = np.array([[1.0, -1.0, -1.0], [-1.0, 1.0, -1.0], [-1.0, -1.0, 1.0]])
    solution = fewest_then_best(lambda n: far + (0.5 if n == 2 else 0.0))
    assert solution.count == 3
    low = np.where(far > 0, 1.0, -1.0)
    first = low.copy()
    first[0, 0] = -1.0
    proof = fewer_is_impossible(lambda n: first if n == 1 else low, 3)
    assert proof.falling is False
    assert "grow with the number" in proof.statement
    assert verify(lambda n: (first if n == 1 else low) >= 0, proof)


def test_a_vouch_is_recorded_as_such() -> None:
    serves = np.eye(3, dtype=np.bool_)
    assert fewer_is_impossible(always(serves), 3, falling=True).falling is None


def test_least_price_is_proven_by_weights_in_money() -> None:
    for seed in range(20):
        serves = random_cover(seed, share=0.15)
        prices = np.random.default_rng(seed).choice([250, 400, 600], 25).tolist()
        solution = fewest_then_best(always(serves), prices=prices)
        assert solution.price is not None
        proof = cheaper_is_impossible(always(serves), prices, solution.price)
        assert proof.measure == "price"
        assert proof.verified, seed
        assert Fraction(proof.claim) == solution.price - 50
        assert verify(serves, proof, prices=prices), seed
        cheaper = [price - 60 for price in prices]
        assert not verify(serves, proof, prices=cheaper), seed


def test_prices_in_hundredths_stay_exact() -> None:
    serves = np.eye(2, dtype=np.bool_)
    prices = [0.10, 0.25]
    solution = fewest_then_best(always(serves), prices=prices)
    assert solution.price == 0.35
    proof = cheaper_is_impossible(always(serves), prices, solution.price)
    assert (proof.claim, proof.total) == ("3/10", "7/20")
    assert "0.35" in proof.statement
    assert verify(serves, proof, prices=prices)
    with pytest.raises(ValueError, match="needs the prices"):
        verify(serves, proof)


def test_what_one_already_owns_costs_nothing_in_the_proof() -> None:
    serves = np.array([[True, True, False], [False, True, True]])
    prices = [0, 500, 300]
    solution = fewest_then_best(always(serves), prices=prices)
    assert (solution.chosen, solution.price) == ((0, 2), 300)
    proof = cheaper_is_impossible(always(serves), prices, 300)
    assert proof.verified
    assert verify(serves, proof, prices=prices)


def test_the_check_uses_no_solver_and_no_array_library() -> None:
    source = certificate_module.__file__
    assert source is not None
    with open(source, encoding="utf-8") as file:
        text = file.read()
    imports = [line for line in text.splitlines() if line.startswith(("import ", "from "))]
    assert not any(
        word in line for line in imports for word in ("numpy", "highspy", "milp", "programs")
    )


def test_the_exact_search_counts_what_the_enumeration_finds(steiner_9: Mask, fano: Mask) -> None:
    for table, fewest in ((steiner_9, 5), (fano, 3)):
        rows, cost = table.tolist(), [1] * table.shape[1]
        assert exhausted(rows, cost, fewest - 1, [], [], 10**5) is not None
        assert exhausted(rows, cost, fewest, [], [], 10**5) is None


def test_the_json_holds_plain_values_only(fano: Mask) -> None:
    proof = fewer_is_impossible(always(fano), 3)
    loaded = json.loads(json.dumps(proof.to_json()))
    assert loaded["kind"] == "weights"
    assert loaded["weights"] == list(proof.weights)
    assert loaded["counts"] == [1, 2]
    assert isinstance(proof, Certificate)

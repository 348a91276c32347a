"""The likeliest parameters and what is known of them, by hand and by chance."""

from __future__ import annotations

import numpy as np
import pytest

from wellheard.proving.as_built_solve import Linear

WIDE = np.full(2, -9.0), np.full(2, 9.0)
NOTHING = np.zeros((1, 1))


def two_groups(low: float = -9.0) -> Linear:
    """One octave, two finishes: σ of 0.2 and 0.1, shares 0.6 and 0.3, a decay known to 5 %."""
    return Linear(
        np.diag([0.04, 0.01]),
        np.array([[-0.6, -0.3]]),
        np.array([[0.0025]]),
        np.array([low, -9.0]),
        WIDE[1],
    )


def test_two_finishes_share_a_longer_decay_as_worked_by_hand() -> None:
    """S = .36·.04 + .09·.01 + .0025 = .0178; x₁ = −.6·.04/S·.1, x₂ = −.3·.01/S·.1."""
    value, free = two_groups().likeliest(np.array([0.1]))
    assert value == pytest.approx([-0.0024 / 0.0178, -0.0003 / 0.0178], rel=1e-9)
    assert free.all()


def test_what_is_left_of_the_variance_is_as_worked_by_hand() -> None:
    """.04 − .024²/.0178, .01 − .003²/.0178, and −.024·.003/.0178 between them."""
    known = two_groups().known(np.array([True, True]), NOTHING)
    assert known[0, 0] == pytest.approx(0.04 - 0.024**2 / 0.0178, rel=1e-9)
    assert known[1, 1] == pytest.approx(0.01 - 0.003**2 / 0.0178, rel=1e-9)
    assert known[0, 1] == pytest.approx(-0.024 * 0.003 / 0.0178, rel=1e-9)
    decided = two_groups().decided(NOTHING)
    assert decided == pytest.approx([0.0144 / 0.0178, 0.0009 / 0.0178], rel=1e-9)


def test_a_finish_at_its_bound_leaves_the_rest_to_the_other() -> None:
    """.1 − .6·.1 = .04 is left: x₂ = −.3·.01/(.0009 + .0025)·.04."""
    value, free = two_groups(low=-0.1).likeliest(np.array([0.1]))
    assert value == pytest.approx([-0.1, -0.003 / 0.0034 * 0.04], rel=1e-9)
    assert free.tolist() == [False, True]


def test_a_bound_lets_go_of_what_would_come_back_inside() -> None:
    """Two measurements; a first guess that leaves the bounds on both sides comes back on one."""
    linear = Linear(
        np.eye(2), np.array([[1.0, 2.0], [1.0, -1.0]]), 1e-4 * np.eye(2), np.zeros(2) - 0.5, WIDE[1]
    )
    value, _ = linear.likeliest(np.array([0.0, -3.0]))
    # Least squares with x₁ = −.5: minimum of (−.5 + 2y)² + (−.5 − y + 3)² at y = .7.
    assert value == pytest.approx([-0.5, 0.7], abs=1e-3)


def test_two_alike_finishes_are_known_by_their_sum_alone() -> None:
    linear = Linear(np.eye(2), np.array([[1.0, 1.0]]), np.array([[1e-8]]), *WIDE)
    known = linear.known(np.array([True, True]), NOTHING)
    assert known[0, 1] / known[0, 0] == pytest.approx(-1.0, abs=1e-6)
    assert np.ones(2) @ known @ np.ones(2) == pytest.approx(0.0, abs=1e-6)
    assert linear.decided(NOTHING) == pytest.approx([0.5, 0.5], abs=1e-6)


def test_what_is_said_to_be_known_holds_for_decays_drawn_at_random() -> None:
    """Errors over their σ have a variance of 1, what is held and not known included."""
    rng = np.random.default_rng(7)
    linear, held = two_groups(), 0.01
    sigma = np.sqrt(np.diag(linear.known(np.array([True, True]), np.array([[held]]))))
    off = []
    for _ in range(2000):
        truth = rng.normal(size=2) * [0.2, 0.1]
        noise = rng.normal() * np.sqrt(0.0025) + rng.normal() * np.sqrt(held)
        found, _ = linear.likeliest(linear.jacobian @ truth + noise)
        off.append((found - truth) / sigma)
    # χ² of 2000 draws: the variance of its mean is 2/2000, three deviations are 0.095.
    assert np.var(off, axis=0) == pytest.approx([1.0, 1.0], abs=0.095)

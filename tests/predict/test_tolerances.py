"""How sure each input is, and what a chance means."""

from __future__ import annotations

from collections.abc import Callable
from statistics import NormalDist

import pytest

from wellheard.catalog.catalogue import Catalogue
from wellheard.predict import ledger, reverberation
from wellheard.predict.tolerances import (
    NORMAL_90,
    basis_of,
    chance_of,
    decay_log_sigma,
    deviations_for,
    mouth_sigma,
)
from wellheard.room.document import Room

HEAD = {"m1": {"kind": "microphone", "product": "ceiling-head-3", "at": [3, 2.1, 2.7]}}


def test_the_longest_stated_path_says_how_an_input_is_known(room_of: Callable[..., Room]) -> None:
    room = room_of({"basis": {"space": "drawing", "space.finishes": "measured"}})
    assert basis_of(room, "space.finishes") == "measured"
    assert basis_of(room, "space.height") == "drawing"


def test_what_is_given_is_told_and_what_is_left_out_assumed(room_of: Callable[..., Room]) -> None:
    assert basis_of(room_of(), "noise.background") == "told"
    assert basis_of(room_of({"noise": "absent"}), "noise.background") == "assumed"
    assert basis_of(room_of(), "people.seats") == "told"


@pytest.mark.parametrize(("margin", "sigma"), [(0, 1), (1, 1), (-1, 2), (3.3, 1.7), (0.84, 1)])
def test_a_chance_is_a_normal_probability(margin: float, sigma: float) -> None:
    assert chance_of(margin, sigma) == pytest.approx(NormalDist().cdf(margin / sigma), abs=1e-12)


def test_without_spread_a_chance_is_all_or_nothing() -> None:
    assert chance_of(0.0, 0.0) == 1.0
    assert chance_of(-1e-9, 0.0) == 0.0


def test_ten_to_ninety_percent_is_1_28_deviations_each_way() -> None:
    """Normal tables: z(0.9) = 1.2816, z(0.8) = 0.8416 [M]."""
    assert pytest.approx(1.2816, abs=5e-5) == NORMAL_90
    assert deviations_for(0.8) == pytest.approx(0.8416, abs=5e-5)
    assert deviations_for(0.5) == 0


def test_a_default_is_assumed_whatever_is_said_of_what_surrounds_it(
    room_of: Callable[..., Room],
) -> None:
    room = room_of(
        {
            "noise": "absent",
            "basis": {"noise": "measured", "people.seats": "drawing", "space": "drawing"},
        }
    )
    assert basis_of(room, "noise.background") == "assumed"
    assert basis_of(room, "people.seats.s1.at") == "drawing"
    assert basis_of(room, "people.seats.s1.height") == "assumed"
    assert basis_of(room, "space.scattering") == "assumed"


def test_a_basis_of_the_very_path_vouches_for_a_default(room_of: Callable[..., Room]) -> None:
    room = room_of({"noise": "absent", "basis": {"noise.background": "measured"}})
    assert basis_of(room, "noise.background") == "measured"


@pytest.mark.parametrize("surface", ["floor", "ceiling", "walls", "walls.w1"])
def test_a_surface_less_known_than_the_rest_widens_the_decay(
    room_of: Callable[..., Room], surface: str
) -> None:
    walls = dict.fromkeys(("w0", "w1", "w2", "w3"), "plasterboard")
    finishes = {"floor": "carpet-tile", "ceiling": "ceiling-mineral-tile", "walls": walls}

    def sigma(**basis: str) -> tuple[float, ...]:
        named = {f"space.finishes{k}": v for k, v in basis.items()}
        return decay_log_sigma(room_of({"space": {"finishes": finishes}, "basis": named}))

    drawn, assumed = sigma(**{"": "drawing"}), sigma(**{"": "assumed"})
    assert sigma(**{"": "drawing", f".{surface}": "assumed"}) == assumed
    # One surface that is better known than the rest settles nothing.
    assert sigma(**{"": "drawing", f".{surface}": "measured"}) == drawn


def test_a_seat_less_known_than_the_rest_widens_the_place_of_all(
    room_of: Callable[..., Room],
) -> None:
    heights = {"people.seats.s1.height": "measured"}
    drawn = room_of({"basis": {"people.seats": "drawing", **heights}})
    guessed = {"people.seats": "drawing", "people.seats.s1.at": "assumed", **heights}
    assert mouth_sigma(drawn) == 0.1
    assert mouth_sigma(room_of({"basis": guessed})) == 0.25


@pytest.mark.parametrize(
    ("path", "quantity", "sigma"),
    [
        ("space.finishes", "direct_to_reverberant", "log_sigma"),
        ("noise.background", "speech_to_noise", ""),
        ("people.seats", "direct_to_reverberant", ""),
    ],
)
def test_the_basis_of_an_input_sets_the_range_of_the_prediction(
    room_of: Callable[..., Room], catalogue: Catalogue, path: str, quantity: str, sigma: str
) -> None:
    """Measured is surer than drawn or told, told than assumed (common practice [C])."""
    widths = {}
    for basis in ("measured", "drawing", "told", "assumed"):
        over = {"devices": HEAD, "people": {"seats": {"s1": {"height": 1.2}}}}
        found = ledger.predict(
            room_of({**over, "basis": {path: basis}}), catalogue, assumptions=False
        )
        widths[basis] = getattr(found.outbound[0], quantity).sigma
        if sigma:
            assert found.reverberation.log_sigma[3] > 0
    assert widths["measured"] < widths["drawing"] <= widths["told"] < widths["assumed"]


TIMES = {str(f): 0.5 for f in (125, 250, 500, 1000, 2000, 4000, 8000)}


@pytest.mark.parametrize(
    ("basis", "factor"),
    [(None, 1), ("measured", 1), ("told", 2), ("drawing", 5), ("assumed", 5)],
)
def test_a_decay_in_the_document_was_measured_unless_it_says_otherwise(
    room_of: Callable[..., Room], catalogue: Catalogue, basis: str | None, factor: float
) -> None:
    """ISO 3382-2 clause 7 [L] for a measured one; a told one is common practice [C]."""
    stated = {} if basis is None else {"space.measured_reverberation": basis}
    room = room_of(
        {"space": {"measured_reverberation": TIMES}, "basis": {"space": "assumed", **stated}}
    )
    found = reverberation.predict(room, catalogue)
    assert found.log_sigma[3] == pytest.approx(0.04 * factor)
    assert decay_log_sigma(room)[3] == found.log_sigma[3]


def test_a_mouth_is_no_surer_than_its_height(room_of: Callable[..., Room]) -> None:
    """Seats measured to 8 cm; where nothing is said of the chairs, mouths to 10 cm [C]."""
    basis = {"people.seats": "measured"}
    assert mouth_sigma(room_of({"basis": basis})) == pytest.approx(0.1)
    tall = {"people": {"seats": {"s1": {"height": 1.2}}}, "basis": basis}
    assert mouth_sigma(room_of(tall)) == pytest.approx(0.08)
    assert mouth_sigma(room_of()) == pytest.approx(0.15)

"""Level, bend and decay together tell another finish from other scattering.

What was measured is the engine's own, of a room that differs in one thing: whether the search finds
that thing again is asked here, not whether the engine is right.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from tests.proving.given import ROOM, response
from wellheard.acoustics import late
from wellheard.arrays import Array
from wellheard.bands import OCTAVES
from wellheard.catalog.catalogue import Catalogue
from wellheard.measurement import averages
from wellheard.measurement.results import Decay
from wellheard.measurement.session import SessionFolder
from wellheard.measurement.taken import SessionResults, Taken
from wellheard.predict import reverberation
from wellheard.proving.alike import Alike
from wellheard.proving.as_built import AsBuilt, Calibrated, calibrate
from wellheard.proving.as_built_data import BEND_SIGMA, Measured, data
from wellheard.proving.conditions import surroundings, ways
from wellheard.room.document import Room

pytestmark = pytest.mark.usefixtures("few_rays")

SWEEPS = {
    "near": {"kind": "sweep", "from": "s1", "to": "m1", "facing_deg": 0},
    "far": {"kind": "sweep", "from": "s2", "to": "m1", "facing_deg": 0},
}
ELSEWHERE = {k: {**v, "file": f"{k}.wav", "from": [5.0, 0.5, 1.2]} for k, v in SWEEPS.items()}
CLIMATE = {"temperature_c": 20, "humidity": 0.5}

Took = Callable[..., SessionResults]


def with_space(**over: Any) -> Room:
    finishes = {**ROOM["space"]["finishes"], **over.pop("finishes", {})}
    return Room.model_validate({**ROOM, "space": {**ROOM["space"], **over, "finishes": finishes}})


def rung(truth: Room, catalogue: Catalogue) -> tuple[Array, Array]:
    """T20 and T30 of a room by the engine, shape (7,) each."""
    _, sound = reverberation.sounded(truth, catalogue)
    t30 = late.reverberation_times(sound.table, speed=sound.speed, air=sound.air, high_db=-35.0)
    return sound.time, t30


@pytest.fixture
def took(catalogue: Catalogue, session_of: Callable[..., SessionFolder]) -> Took:
    """Give the function that measures a room that is known."""

    def made(truth: Room, recordings: Mapping[str, Any] = SWEEPS, **over: Any) -> SessionResults:
        source = {"directivity": "omni"}
        folder = session_of(recordings, **{"climate": CLIMATE, "source": source, **over})
        t20, t30 = rung(surroundings(truth, folder.session), catalogue)
        alike = Alike(truth, catalogue, folder.session)
        where, _ = ways(truth, catalogue, alike.talkers, folder.session)
        taken = {}
        for name, recording in folder.session.recordings.items():
            tested = alike.tested(recording, where[name], mixed=False)
            assert tested is not None
            decays = tuple(
                Decay(o, a, a, b, 60.0, 0.0, 0.0, a, tested.c50_db, 0.7)
                for o, a, b in zip(OCTAVES, t20, t30, strict=True)
            )
            taken[name] = Taken("sweep", response=replace(response(), decays=decays))
        each = [one.response.decays for one in taken.values() if one.response] * 3
        means = averages.spatial_mean_t20(each), averages.spatial_mean_t30(each)
        return SessionResults(folder, taken, {}, {}, *means)

    return made


@pytest.fixture
def built(catalogue: Catalogue, took: Took) -> Callable[..., AsBuilt]:
    """Give the function that calibrates a document to what another room is like."""

    def made(document: Room, truth: Room, **over: Any) -> AsBuilt:
        return calibrate(document, catalogue, took(truth, **over), say=lambda _: None)

    return made


def of(found: AsBuilt, name: str) -> Calibrated:
    return next(one for one in found.groups if one.name == name)


def taken_of(found: AsBuilt) -> str:
    return next(one.other for one in found.accounts if one.taken)


def test_a_ceiling_that_is_another_one_is_found_and_scattering_left_where_it_was(
    built: Callable[..., AsBuilt], catalogue: Catalogue
) -> None:
    """Plasterboard where mineral tiles were promised: more than half way to it, in every octave."""
    document = with_space(scattering=0.3)
    truth = with_space(scattering=0.3, finishes={"ceiling": "ceiling-plasterboard"})
    found = built(document, truth)
    assert taken_of(found) == "ceiling"
    ceiling = of(found, "ceiling")
    real = catalogue.finish("ceiling-plasterboard").absorption
    for octave in range(1, 7):
        way = ceiling.before[octave] - real[octave]
        assert abs(ceiling.after[octave] - real[octave]) < 0.5 * way
        assert abs(ceiling.after[octave] - real[octave]) < 3.0 * ceiling.sigma[octave]
    assert 0.2 <= found.scattering.after <= 0.5
    assert found.clarity is not None
    assert found.clarity.before_db - found.clarity.measured_db > 3.0
    assert found.clarity.after_db == pytest.approx(found.clarity.measured_db, abs=1.0)
    assert any("another finish than ceiling-mineral-tile" in said for said in found.cautions)


@pytest.mark.parametrize("real", [0.1, 0.15])
def test_a_room_that_only_scatters_otherwise_is_not_blamed_on_a_finish(
    built: Callable[..., AsBuilt], real: float
) -> None:
    found = built(with_space(scattering=0.3), with_space(scattering=real))
    assert taken_of(found) == ""
    assert abs(np.log(found.scattering.after / real)) < 0.5 * abs(np.log(0.3 / real))
    for one in found.groups:
        assert one.after[2:6] == pytest.approx(one.before[2:6], abs=0.1)


def test_a_room_as_documented_stays_as_it_is(built: Callable[..., AsBuilt]) -> None:
    found = built(with_space(scattering=0.3), with_space(scattering=0.3))
    assert [one.other for one in found.accounts] == [""]
    assert found.scattering.after == 0.3
    assert not any(one.written for one in found.groups)


@pytest.mark.parametrize(
    ("change", "counts"),
    [
        ({}, True),
        ({"source": {"directivity": "human"}}, True),
        ({"processing": ["mixer"]}, False),
        ({"recordings": ELSEWHERE}, False),
    ],
)
def test_clarity_counts_where_the_direct_sound_is_known(
    catalogue: Catalogue, took: Took, change: dict[str, Any], counts: bool
) -> None:
    room = with_space(scattering=0.3)
    results = took(room)
    session = results.folder.session
    form = {**session.model_dump(by_alias=True, exclude_unset=True), **change}
    changed = type(session).model_validate(form)
    folder = replace(results.folder, session=changed)
    found = calibrate(room, catalogue, replace(results, folder=folder), say=lambda _: None)
    assert (found.clarity is not None) is counts
    assert any("C50 could not be used" in said for said in found.notes) is not counts


def test_chance_that_t20_and_t30_share_is_not_counted_twice() -> None:
    """0.5 s at 1 kHz, six places [ISO 3382-2, clause 7].

    σ(T20) = .88·.5·√(1.19/(6·710·.5)) = .01040, σ(T30) = .55·.5·√(1.152/2130) = .00640: of their
    ratio .0208² − .0128², and with ln T20 it varies by as much the other way.
    """
    decay = tuple(Decay(o, 0.5, 0.5, 0.5, 60.0, 0.0, 0.0, 0.5, 5.0, 0.7) for o in OCTAVES)
    each = [decay] * 6
    t20, t30 = averages.spatial_mean_t20(each), averages.spatial_mean_t30(each)
    known = data(Measured("", t20, t30, None))
    by_chance = (0.01040 / 0.5) ** 2 - (0.00640 / 0.5) ** 2
    assert known.values[7:] == pytest.approx(np.zeros(7), abs=1e-12)
    assert known.noise[10, 10] - BEND_SIGMA**2 == pytest.approx(by_chance, rel=0.01)
    assert known.noise[10, 3] == pytest.approx(-by_chance, rel=0.01)
    # T20 itself: its own chance, and 4 % of the model.
    assert known.noise[3, 3] == pytest.approx((0.01040 / 0.5) ** 2 + 0.04**2, rel=0.01)

"""What the range of the worst place is made of, and what a survey would leave of it."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import astuple, fields, replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from wellheard.predict import ledger, outbound, spread, tolerances
from wellheard.predict.evidence import SEAT_TARGETS, Evidence
from wellheard.predict.scene import Scene
from wellheard.predict.sureness import (
    DRAWN_COVERAGE,
    EFFORT,
    FINISHES,
    MEASURED_DECAY,
    MODEL,
    NOISE,
    SCATTERING,
    TALKER,
    Cause,
    Sureness,
    sureness,
    together,
)

SEATS = {
    "s1": {"at": [2.0, 2.0], "facing": 0},
    "s2": {"at": [4.6, 3.4], "facing": 180},
    "s3": {"at": [5.4, 1.0], "facing": 90},
}
HEADS = {
    "m1": {"kind": "microphone", "product": "ceiling-head-3", "at": [2.4, 2.25, 2.7]},
    "m2": {"kind": "microphone", "product": "ceiling-head-3", "at": [4.4, 2.25, 2.7]},
}
TOLD: dict[str, Any] = {"people": {"seats": SEATS}, "devices": HEADS}
TIMES = {"125": 0.7, "250": 0.6, "500": 0.5, "1000": 0.5, "2000": 0.5, "4000": 0.45, "8000": 0.4}
TARGETS = {"sti_outbound": 0.62, "direct_to_reverberant_db": -3, "speech_to_noise_db": 15}

Opened = tuple[Scene, Evidence, Sureness]


@pytest.fixture(scope="module")
def opened(scene_of: Callable[..., Scene]) -> Callable[..., Opened]:
    """Give the function that predicts a room and opens its range."""

    def made(over: dict[str, Any] | None = None, *, part: str = "", **basis: str) -> Opened:
        room = {**TOLD, "targets": {**TARGETS, "chance": 0.8}, **(over or {})}
        scene = scene_of({**room, "basis": {k.replace("__", "."): v for k, v in basis.items()}})
        evidence = ledger.evidence(scene, assumptions=False)
        found = sureness(scene, evidence, part=part)
        assert found is not None
        return scene, evidence, found

    return made


def cause(found: Sureness, name: str) -> Cause:
    return next(c for c in found.causes if c.name == name)


@pytest.mark.parametrize(
    "over", [{}, {"space": {"measured_reverberation": TIMES}}], ids=["predicted", "measured"]
)
def test_the_squares_of_all_causes_add_up_to_the_ledgers_own(
    opened: Callable[..., Opened], over: dict[str, Any]
) -> None:
    """Independent errors add as squares (JCGM 100:2008, 5.1.2 [M])."""
    _, evidence, found = opened(over)
    worst = evidence.worst()
    assert worst is not None
    assert found.worst is worst
    for name, quantity in zip(SEAT_TARGETS, worst.quantities, strict=True):
        squares = sum(c.sigma.of(name) ** 2 for c in found.causes)
        assert math.sqrt(squares) == pytest.approx(quantity.sigma, rel=1e-9)
        assert found.whole.of(name) == pytest.approx(quantity.sigma, rel=1e-9)
    assert sum(c.share for c in found.causes) == pytest.approx(1.0)


def test_every_path_of_a_room_is_accounted_for(opened: Callable[..., Opened]) -> None:
    scene, evidence, _ = opened()
    for placed in evidence.microphones:
        at, aim = np.asarray([placed.at]), np.asarray([placed.aim_deg])
        paths = outbound.transfer(scene, placed.product, at, aim)
        whole = spread.quantities(scene, paths, microphones=2)
        parts = spread.budget(scene, paths, microphones=2).values()
        for field, sigma in (
            ("sti", whole.sti_sigma),
            ("direct_to_reverberant_db", whole.direct_to_reverberant_sigma_db),
            ("speech_to_noise_db", whole.speech_to_noise_sigma_db),
            ("c50_db", whole.c50_sigma_db),
            ("speech_level_db", whole.speech_level_sigma_db),
        ):
            squares = sum(np.square(getattr(part, field)) for part in parts)
            np.testing.assert_allclose(np.sqrt(squares), sigma, rtol=1e-9)


def test_effort_and_noise_are_what_the_tolerances_say_by_hand(
    opened: Callable[..., Opened],
) -> None:
    """A voice 3 dB softer is 3 dB nearer the noise; so is noise of 2 dB told, 4 dB assumed [C]."""
    _, _, told = opened()
    assert cause(told, EFFORT).sigma.speech_to_noise_db == pytest.approx(3.0)
    assert cause(told, NOISE).sigma.speech_to_noise_db == pytest.approx(2.0)
    assert cause(told, EFFORT).sigma.direct_to_reverberant_db == 0.0
    _, _, assumed = opened(noise__background="assumed")
    assert cause(assumed, NOISE).sigma.speech_to_noise_db == pytest.approx(4.0)


def test_the_talkers_part_is_reckoned_by_hand(opened: Callable[..., Opened]) -> None:
    """1 dB for the turn and 20 lg(1 + σ/r) for the place, as squares; 15 cm for a told seat [C]."""
    _, evidence, found = opened()
    worst = evidence.worst()
    assert worst is not None
    place_db = 20 * math.log10(1 + 0.15 / worst.path.distance)
    expected = math.sqrt(1.0**2 + place_db**2)
    assert cause(found, TALKER).sigma.direct_to_reverberant_db == pytest.approx(expected)


def test_each_cause_names_the_input_it_hangs_on(opened: Callable[..., Opened]) -> None:
    _, _, found = opened(
        space__finishes__floor="assumed", space__finishes="drawing", people__seats="drawing"
    )
    known = {c.name: (c.basis, c.path) for c in found.causes}
    assert known[FINISHES] == ("assumed", "space.finishes.floor")
    assert known[NOISE] == ("told", "noise.background")
    assert known[SCATTERING] == ("assumed", "space.scattering")
    assert known[MODEL] == ("", "")
    # Heights that nobody gave are assumed to 10 cm, drawn places are known to 10 cm.
    assert known[TALKER] == ("drawing", "people.seats.s1.at")


def test_causes_come_with_the_largest_share_first(opened: Callable[..., Opened]) -> None:
    _, evidence, found = opened()
    shares = [c.share for c in found.causes]
    assert shares == sorted(shares, reverse=True)
    worst = evidence.worst()
    assert worst is not None
    assert found.binds == worst.binds


def test_a_measured_decay_leaves_what_a_room_with_one_has(
    scene_of: Callable[..., Scene], opened: Callable[..., Opened]
) -> None:
    """The remedy against a document that really has the decay that was predicted."""
    scene, _, found = opened()
    remedy = cause(found, FINISHES).remedy
    assert remedy is not None
    assert remedy.effort == "measure the decay"
    assert set(remedy.causes) == {FINISHES, SCATTERING}
    assert cause(found, SCATTERING).remedy is remedy
    octaves = (125, 250, 500, 1000, 2000, 4000, 8000)
    times = dict(zip(map(str, octaves), scene.reverberation.time, strict=True))
    _, evidence, known = opened({"space": {"measured_reverberation": times}})
    row = next(r for r in evidence.outbound if r.talker.id == found.worst.talker.id)
    for name, quantity in zip(SEAT_TARGETS, row.quantities, strict=True):
        assert remedy.whole.of(name) == pytest.approx(quantity.sigma, rel=0.02)
        assert remedy.left.of(name) <= cause(found, FINISHES).sigma.of(name)
    assert {c.name for c in known.causes} >= {MEASURED_DECAY}
    assert cause(known, MEASURED_DECAY).remedy is None


def test_measured_noise_leaves_one_decibel(opened: Callable[..., Opened]) -> None:
    _, _, found = opened()
    remedy = cause(found, NOISE).remedy
    assert remedy is not None
    assert remedy.left.speech_to_noise_db == pytest.approx(1.0)
    _, evidence, settled = opened(noise__background="measured")
    assert cause(settled, NOISE).remedy is None
    row = next(r for r in evidence.outbound if r.talker.id == found.worst.talker.id)
    for name, quantity in zip(SEAT_TARGETS, row.quantities, strict=True):
        assert remedy.whole.of(name) == pytest.approx(quantity.sigma, rel=1e-9)
    assert remedy.chance == pytest.approx(row.chance)


def test_assumed_seats_are_worth_a_survey_and_drawn_ones_are_not(
    opened: Callable[..., Opened],
) -> None:
    """25 cm against 8 cm, and 10 cm against 8 cm, beside people who turn by 1 dB [C]."""
    _, _, assumed = opened(people__seats="assumed")
    remedy = cause(assumed, TALKER).remedy
    assert remedy is not None
    assert remedy.effort == "survey the seats"
    _, _, drawn = opened(people__seats="drawing")
    assert cause(drawn, TALKER).remedy is None


def test_nothing_is_asked_where_everything_was_measured(opened: Callable[..., Opened]) -> None:
    _, _, found = opened(
        {"space": {"measured_reverberation": TIMES}},
        people__seats="measured",
        noise__background="measured",
    )
    assert [c.remedy for c in found.causes] == [None] * len(found.causes)
    assert found.known == {}
    assert found.whole_known == found.whole


def test_all_remedies_together_leave_no_more_than_any_one(opened: Callable[..., Opened]) -> None:
    _, _, found = opened(people__seats="assumed", noise__background="assumed")
    remedies = [c.remedy for c in found.causes if c.remedy is not None]
    assert len({r.effort for r in remedies}) == 3
    for name in SEAT_TARGETS:
        least = min(r.whole.of(name) for r in remedies)
        assert found.whole_known.of(name) <= least + 1e-12
        assert found.known[name].sigma == found.whole_known.of(name)
        assert found.known[name].value == found.worst.quantities[SEAT_TARGETS.index(name)].value


def test_a_part_of_a_room_that_divides_is_told_to_look_not_to_measure_its_decay(
    opened: Callable[..., Opened],
) -> None:
    """The document has no place for one: it would hold in one arrangement only."""
    _, _, found = opened(part="split.a", space__finishes="assumed")
    remedy = cause(found, FINISHES).remedy
    assert remedy is not None
    assert remedy.effort == "see the finishes"
    assert cause(found, SCATTERING).remedy is None
    assert found.part == "split.a"


def test_the_range_over_all_places_holds_every_place(opened: Callable[..., Opened]) -> None:
    _, evidence, found = opened()
    assert list(found.everywhere) == list(SEAT_TARGETS)
    for index, name in enumerate(SEAT_TARGETS):
        each = [row.quantities[index] for row in evidence.outbound]
        everywhere = found.everywhere[name]
        assert everywhere.low == min(q.low for q in each)
        assert everywhere.high == max(q.high for q in each)
        assert everywhere.least <= everywhere.middle <= everywhere.most
        assert everywhere.least_chance == min(q.chance or 0.0 for q in each)


def test_only_what_was_promised_is_opened_and_all_where_nothing_was(
    opened: Callable[..., Opened],
) -> None:
    nothing = dict.fromkeys(TARGETS)
    _, _, one = opened({"targets": {**nothing, "speech_to_noise_db": 15}})
    assert list(one.everywhere) == ["speech_to_noise_db"]
    _, _, none = opened({"targets": nothing})
    assert list(none.everywhere) == list(SEAT_TARGETS)
    assert none.everywhere["sti_outbound"].least_chance is None
    assert none.binds == "sti_outbound"


def test_scattering_runs_from_a_tenth_to_a_half_with_the_decay_at_both_ends(
    opened: Callable[..., Opened],
) -> None:
    """A bare box with an absorbing ceiling rings longer the less its walls scatter [M]."""
    scene, _, found = opened({"space": {"scattering": 0.3}})
    interval = found.scattering
    assert (interval.least, interval.most) == (0.1, 0.5)
    assert interval.taken == pytest.approx(0.3)
    assert interval.smooth[3] > interval.time[3] > interval.rough[3]
    assert interval.time == scene.reverberation.time
    _, _, wide = opened({"space": {"scattering": 0.7}})
    assert wide.scattering.most == pytest.approx(0.7)


def test_without_a_microphone_there_is_nothing_to_open(scene_of: Callable[..., Scene]) -> None:
    scene = scene_of({"people": {"seats": SEATS}})
    assert sureness(scene, ledger.evidence(scene, assumptions=False)) is None


def test_causes_add_as_squares_whatever_their_order(opened: Callable[..., Opened]) -> None:
    _, _, found = opened()
    each = [c.sigma for c in found.causes]
    backwards = together(reversed(each))
    assert astuple(backwards) == pytest.approx(astuple(together(each)))
    doubled = [replace(s, **{f.name: 2 * getattr(s, f.name) for f in fields(s)}) for s in each]
    assert together(doubled).sti == pytest.approx(2 * found.whole.sti)


def test_the_model_is_as_sure_as_two_measured_rooms_made_it(
    opened: Callable[..., Opened],
) -> None:
    """STI .015 systematic and .007 by chance (residuals in two measured rooms [L])."""
    _, _, found = opened()
    assert cause(found, MODEL).sigma.sti == pytest.approx(math.hypot(0.015, 0.007))
    assert tolerances.MODEL_STI_SIGMA == 0.015


def test_the_coverage_that_is_printed_is_the_one_that_the_bench_found() -> None:
    page = (Path(__file__).parents[2] / "docs" / "benchmarks.md").read_text("utf-8")
    row = next(line for line in page.splitlines() if "draws of image sources" in line)
    found = [float(share) / 100 for share in re.findall(r"(\d+) %", row.split("|")[3])]
    assert found[:2] == pytest.approx(DRAWN_COVERAGE, abs=0.02)

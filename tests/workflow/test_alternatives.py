"""Alternatives: each a whole design within what its document allows, none worse in everything."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest
import shapely

from wellheard.catalog.catalogue import Catalogue
from wellheard.errors import InputError
from wellheard.place.devices import place_devices
from wellheard.predict.scene import build
from wellheard.room.finishes import Patch
from wellheard.schedules.bill import bill
from wellheard.schedules.cables import cable_schedule
from wellheard.workflow import alternative_answers
from wellheard.workflow.alternatives import (
    MOST,
    Alternatives,
    alternatives,
    least_chance,
    new_patches,
)
from wellheard.workflow.design import design, judge
from wellheard.workflow.frontier import dominates
from wellheard.workflow.load import Loaded, load_text

pytestmark = pytest.mark.usefixtures("few_rays")

ROOM = """\
# A room that nobody ever built, with a hard ceiling: what is flush in it needs an opening.
wellheard: 1
title: Four Chairs
units: m
space:
  outline: [[0, 0], [4.4, 0], [4.4, 3.6], [0, 3.6]]
  height: 2.6
  ceiling: {kind: hard}
  finishes: {floor: carpet-tile, ceiling: plasterboard, walls: plasterboard}
furniture:
  table: {kind: table, outline: [[1.2, 1.2], [3.2, 1.2], [3.2, 2.4], [1.2, 2.4]], height: 0.74}
people:
  seats:
    a: {at: [1.6, 0.9], facing: across}
    b: {at: [2.8, 0.9], facing: across}
    c: {at: [1.6, 2.7], facing: across}
    d: {at: [2.8, 2.7], facing: across}
noise: {background: {nc: 25}}
equipment: {rack: {kind: rack, at: [4.2, 0.3, 0.5]}}
choices: {allow: [ceiling-head-2, ceiling-head-3, table-boundary], mounting: [ceiling, table],
  max_drop: 0}
targets: {direct_to_reverberant_db: -9, sti_outbound: 0.5, sti_inbound: null,
  listening_level_dba: null, uniformity_db: null}
"""


def made(text: str = ROOM) -> Loaded:
    return load_text(text, "four.room.yaml")


@pytest.fixture(scope="module")
def found(few_rays: Iterator[None]) -> Alternatives:
    return alternatives(made(), 4)


def test_none_of_those_chosen_is_dominated_by_any_that_was_tried(found: Alternatives) -> None:
    assert found.kept
    assert len(found.chosen) >= 3
    for one in found.chosen:
        assert not any(dominates(t.figures, one.tried.figures) for t in found.weighed)


def test_equal_figures_are_not_listed_twice_and_names_tell_apart(found: Alternatives) -> None:
    burdens = [one.tried.figures.burdens for one in found.chosen]
    assert len(set(burdens)) == len(burdens)
    assert burdens == sorted(burdens)
    for names in ([one.name for one in found.chosen], [one.slug for one in found.chosen]):
        assert len(set(names)) == len(names)


def test_a_chosen_document_judged_alone_gives_the_figures_that_are_printed(
    found: Alternatives,
) -> None:
    for one in found.chosen:
        alone = load_text(one.tried.designed.text, "alone.room.yaml")
        judged = judge(alone.room, alone.catalogue)
        costs = bill(alone.room, alone.catalogue, cable_schedule(alone.room, alone.catalogue))
        assert least_chance(judged) == pytest.approx(one.tried.figures.chance, abs=1e-9)
        assert costs.total is not None
        assert costs.total == pytest.approx(one.tried.price, abs=0.005)
        assert not judged.errors


def test_the_cheapest_is_the_optimum_of_design_where_one_product_is_allowed() -> None:
    one = made(ROOM.replace("[ceiling-head-2, ceiling-head-3, table-boundary]", "[ceiling-head-3]"))
    optimum = design(one)
    found = alternatives(one, 3, leading=optimum)
    assert found.chosen[0].leading
    assert found.chosen[0].name.startswith("Cheapest")
    assert found.chosen[0].tried.designed is optimum
    assert all(set(one.counts) == {"ceiling-head-3"} for one in found.tried)


def test_of_all_that_was_tried_none_needs_fewer_euros_of_devices_than_the_leading_design(
    found: Alternatives,
) -> None:
    prices = [one.designed.placed.proposal.price or 0.0 for one in found.tried]
    assert prices[0] == min(prices)


def test_the_same_document_gives_the_same_alternatives(found: Alternatives) -> None:
    again = alternatives(made(), 4)
    assert [o.tried.designed.text for o in again.chosen] == [
        o.tried.designed.text for o in found.chosen
    ]
    loaded = made()
    assert alternative_answers.answer(loaded, again) == alternative_answers.answer(loaded, found)


def test_a_design_differs_from_its_document_only_in_what_is_designed(found: Alternatives) -> None:
    given = made().room
    for one in found.tried:
        room = one.designed.room
        assert room.targets == given.targets
        assert room.people == given.people
        assert room.choices.model_copy(update={"new_holes": True}) == given.choices


@pytest.mark.parametrize(
    ("change", "forbidden"),
    [
        (
            (
                "[ceiling-head-2, ceiling-head-3, table-boundary]",
                "[ceiling-head-2, table-boundary], new_holes: false",
            ),
            lambda one: one.figures.openings > 0,
        ),
        (
            (
                "ceiling-head-3, table-boundary], mounting: [ceiling, table]",
                "table-boundary], mounting: [ceiling]",
            ),
            lambda one: "table-boundary" in one.counts,
        ),
    ],
)
def test_what_the_document_forbids_is_in_no_design(
    change: tuple[str, str], forbidden: Callable[..., bool]
) -> None:
    text = ROOM.replace(*change)
    assert text != ROOM
    found = alternatives(made(text), 3)
    assert found.tried
    assert not any(forbidden(one) for one in found.tried)


def test_what_is_left_out_is_proven_to_bring_no_cheaper_devices(found: Alternatives) -> None:
    price = {t.variation.words: t.designed.placed.proposal.price or 0.0 for t in found.tried}
    for one in found.skipped:
        if one.outcome != "met" or one.variation.drier is not None:
            continue
        asked = one.variation.asked(made().room, Catalogue.shipped())
        answer = place_devices(build(asked, Catalogue.shipped()))
        assert answer.price == pytest.approx(price[one.why])


def test_new_finishes_are_counted_by_their_area(found: Alternatives) -> None:
    given = made().room
    treated = [one for one in found.tried if one.treated is not None]
    assert treated
    for one in treated:
        by_hand = sum(
            (p.to - p.from_) * (p.top - p.bottom)
            if isinstance(p, Patch)
            else shapely.Polygon(p.outline).area
            for p in new_patches(given, one.designed.room).values()
        )
        assert one.figures.treatment_area == pytest.approx(by_hand, abs=0.05)
        # As the search for finishes counts it, in whole euros a module.
        assert one.treated is not None
        assert one.treatment_price == pytest.approx(one.treated.price, rel=0.02)


def test_openings_are_those_of_what_is_flush_in_a_hard_ceiling(found: Alternatives) -> None:
    # A boundary capsule stands on the table; a head that is flush in plasterboard is let into it.
    heads = [one for one in found.tried if not one.variation.whole]
    assert any(one.figures.openings for one in heads)
    for one in heads:
        flush = sum(n for name, n in one.counts.items() if name.startswith("ceiling-head"))
        assert one.figures.openings == flush


@pytest.mark.parametrize("number", [0, MOST + 1])
def test_more_or_fewer_than_there_may_be_are_refused(number: int) -> None:
    with pytest.raises(InputError, match=f"{number}; 1 to {MOST}"):
        alternatives(made(), number)

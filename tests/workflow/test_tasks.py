"""Offers, documents and comparisons, as another process works them out.

What an offer says is held against what ``wellheard place`` and ``wellheard design`` say of the same
document: the same machinery, by another way in.
"""

from __future__ import annotations

import json
import pickle
import re
from collections.abc import Callable
from pathlib import Path

import pytest
import yaml

from tests.effort import some
from wellheard.cli.app import run
from wellheard.errors import InputError
from wellheard.room import codec, edit
from wellheard.workflow import asking, design, offers, prices, publish, remedying, tasks
from wellheard.workflow.asking import Asked, FieldErrors
from wellheard.workflow.design import Designed
from wellheard.workflow.load import Loaded, load, load_text
from wellheard.workflow.manifest import MANIFEST
from wellheard.workflow.offers import Offer
from wellheard.workflow.wiring import wire

EXAMPLES = Path(__file__).parents[2] / "examples"
AS_IT_STANDS = Asked(())

ROOM = """\
# Nobody ever built this one.
wellheard: 1
title: Gull Room   # kept
space:
  outline: [[0, 0], [7.2, 0], [7.2, 4.2], [0, 4.2]]
  height: 2.7
  ceiling: {kind: tiles, module: 1.2}
people:
  seats:
    a: {at: [1.0, 1.2], facing: 90}
    b: {at: [1.0, 3.0], facing: 270}
    c: {at: [6.2, 1.2], facing: 90}
    d: {at: [6.2, 3.0], facing: 270}
noise: {background: {nc: 20}}
targets: {sti_outbound: 0.6, direct_to_reverberant_db: -6}
choices: {allow: [ceiling-head-3], mounting: [ceiling], max_drop: 0}
devices:
  m1: {kind: processor, product: bridge-2}
  m2: {kind: microphone, product: ceiling-head-3, at: [6.0, 1.8, 2.7], locked: true}
  old: {kind: microphone, product: ceiling-head-2, at: [3.0, 3.0, 2.7]}
links:
  l1: {from: old.link, to: m1.mic-1}
"""


def example(name: str) -> Loaded:
    return load(EXAMPLES / name / f"{name}.room.yaml")


def offered(loaded: Loaded, asked: Asked = AS_IT_STANDS) -> Offer:
    return tasks.design_task(
        text=loaded.document.text, path=loaded.document.name, asked=asked, version=7
    )


@pytest.fixture(scope="module")
def gull(tmp_path_factory: pytest.TempPathFactory) -> Loaded:
    path = tmp_path_factory.mktemp("gull") / "gull.room.yaml"
    path.write_text(ROOM, encoding="utf-8")
    return load(path)


@pytest.fixture(scope="module")
def offer(gull: Loaded) -> Offer:
    return offered(gull)


@pytest.mark.parametrize("name", some(("ten-seats", "two-in-one"), (0,)))
def test_an_offer_is_what_place_prints(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path, written = EXAMPLES / name / f"{name}.room.yaml", tmp_path / "placed.room.yaml"
    run(["place", str(path), "--output", str(written), "--format", "json"])
    placement = json.loads(capsys.readouterr().out)
    found = offered(load(path))
    assert found.text == written.read_text("utf-8")
    assert {**found.placement, "seconds": 0} == {**placement, "seconds": 0}


def test_an_offer_travels_between_processes(offer: Offer) -> None:
    assert pickle.loads(pickle.dumps(offer)) == offer
    assert offer.version == 7


def test_every_device_says_what_becomes_of_it(offer: Offer) -> None:
    found = {one.id: one.what for one in offer.devices}
    assert found["m2"] == "locked"
    assert found["old"] == "removed"
    new = [name for name, what in found.items() if what == "new"]
    assert new
    assert "m1" not in new, "the processor has that id"


def test_accepting_all_is_the_document_as_proposed(offer: Offer) -> None:
    assert offers.accept(offer) == offer.text
    assert "# Nobody ever built this one." in offer.text
    assert "title: Gull Room   # kept" in offer.text


def test_what_is_not_taken_stays_as_it_was(gull: Loaded, offer: Offer) -> None:
    new = next(one.id for one in offer.devices if one.what == "new")
    taken = load_text(offers.accept(offer, [new]), offer.path).room
    proposed = codec.parse(offer.text)
    assert taken.devices == {**gull.room.devices, new: proposed.devices[new]}
    assert taken.links == gull.room.links
    gone = load_text(offers.accept(offer, ["old"]), offer.path).room
    assert set(gone.devices) == {"m1", "m2"}
    assert gone.links == {}


def test_taking_nothing_changes_nothing(offer: Offer) -> None:
    assert offers.accept(offer, []) == offer.base


def test_part_and_rest_make_the_whole(offer: Offer) -> None:
    every = [one.id for one in offer.devices if one.can_be_taken]
    whole = codec.parse(offer.text)
    for device in every:
        part = codec.parse(offers.accept(offer, [device]))
        rest = codec.parse(offers.accept(offer, [n for n in every if n != device]))
        joined = {
            name: whole.devices[name]
            for name in {**part.devices, **rest.devices}
            if name in whole.devices
        }
        assert joined == whole.devices


def test_a_design_that_is_accepted_with_its_wiring_is_what_place_and_wire_make(
    gull: Loaded, offer: Offer
) -> None:
    assert offer.wiring is not None
    accepted = load_text(offers.accept(offer, with_wiring=True), offer.path)
    one_after_the_other = wire(load_text(offer.text, offer.path))
    assert accepted.room == one_after_the_other.room
    assert "title: Gull Room   # kept" in accepted.document.text
    assert accepted.room.links
    assert not one_after_the_other.wired.unwired
    # Wired so already: a second time changes nothing.
    assert wire(accepted).text == accepted.document.text


def test_wiring_belongs_to_the_whole_and_only_where_it_is_wanted(offer: Offer) -> None:
    assert offers.accept(offer) == offer.text
    new = next(one.id for one in offer.devices if one.what == "new")
    assert offers.accept(offer, [new], with_wiring=True) == offers.accept(offer, [new])
    every = [one.id for one in offer.devices]
    whole = offers.accept(offer, with_wiring=True)
    assert offers.accept(offer, every, with_wiring=True) == whole


def test_the_wiring_comes_without_the_choices_it_was_asked_with(gull: Loaded) -> None:
    found = offered(
        gull,
        asking.asked(
            gull,
            products=["ceiling-head-6"],
            preferred=[],
            mountings=["ceiling"],
            promises={"direct_to_reverberant_db": "−7 dB"},
        ),
    )
    room = codec.parse(offers.accept(found, with_choices=False, with_wiring=True))
    assert (room.choices, room.targets) == (gull.room.choices, gull.room.targets)
    assert room.links
    assert found.wiring is not None
    assert room.links == codec.parse(found.wiring.text).links


def test_a_device_that_is_not_offered_cannot_be_taken(offer: Offer) -> None:
    with pytest.raises(InputError, match="no device 'm9'"):
        offers.accept(offer, ["m9"])


def test_choices_and_promise_come_along_only_where_it_is_said(gull: Loaded) -> None:
    asked = asking.asked(
        gull,
        products=["ceiling-head-6"],
        preferred=[],
        mountings=["ceiling"],
        promises={"direct_to_reverberant_db": "−7 dB"},
    )
    found = offered(gull, asked)
    assert len(found.changes) == 2
    with_them = codec.parse(offers.accept(found))
    assert with_them.choices.allow == ("ceiling-head-6",)
    assert with_them.targets.direct_to_reverberant_db == -7.0
    without = codec.parse(offers.accept(found, with_choices=False))
    assert (without.choices, without.targets) == (gull.room.choices, gull.room.targets)
    assert without.devices == with_them.devices
    assert {d.product for n, d in without.devices.items() if n not in gull.room.devices} == {
        "ceiling-head-6"
    }


def test_before_and_after_are_judged_by_the_promise_that_was_asked(gull: Loaded) -> None:
    promises = {"sti_outbound": "0.99", "direct_to_reverberant_db": "", "chance": ""}
    asked = asking.asked(
        gull,
        products=["ceiling-head-3"],
        preferred=[],
        mountings=["ceiling"],
        promises=promises,
    )
    found = offered(gull, asked)
    assert not found.kept
    assert found.status == "infeasible"
    assert found.gives
    before = {seat.before.state for seat in found.seats if seat.before is not None}
    assert before == {"broken"}
    assert not any(seat.lost or seat.won for seat in found.seats)


def test_the_proof_is_told_in_the_words_of_the_dossier(designed: Callable[[str], Designed]) -> None:
    loaded = example("ten-seats")
    dossier = publish.made(loaded, designed("ten-seats")).dossier
    written = repr(dossier)
    found = offered(loaded)
    told = [text for passage in found.proof for row in passage.rows for text in row]
    assert any(text.startswith("Proved: ") for text in told)
    for text in told:
        assert repr(text)[1:-1] in written, text
    assert found.why in dossier.customer.explanation


def test_documents_of_an_accepted_offer_are_those_of_design(
    designed: Callable[[str], Designed],
) -> None:
    answer = designed("ten-seats")
    loaded = example("ten-seats")
    made = tasks.publish_task(text=answer.placed.text, path=loaded.document.name)
    assert made.proved
    # What is accepted is placed; its cables are laid by another task.
    placed = Designed(answer.placed, design.judge(answer.placed.room, loaded.catalogue))
    changes = remedying.offers(answer.placed.room, loaded.catalogue, placed.judged)
    assert changes, "two pairs of its walls flutter"
    wanted = publish.made(loaded, placed, offers=changes).files
    assert made.files.pop(MANIFEST)
    assert set(made.files) == set(wanted)
    for file, data in wanted.items():
        assert made.files[file] == data, file


def test_documents_of_a_design_accepted_with_its_wiring_have_its_proof() -> None:
    found = offered(example("ten-seats"))
    text = offers.accept(found, with_wiring=True)
    assert codec.parse(text).links
    made = tasks.publish_task(text=text, path=found.path)
    assert made.proved, made.remark
    assert "wiring.svg" in made.files


def test_devices_that_no_search_proposes_are_published_without_a_proof(gull: Loaded) -> None:
    made = tasks.publish_task(text=ROOM, path=gull.document.name)
    assert not made.proved
    assert "not those that a search proposes" in made.remark


def test_every_page_of_the_dossier_can_be_looked_at(gull: Loaded) -> None:
    made = tasks.publish_task(text=ROOM, path=gull.document.name, prove=False)
    assert (made.proved, made.remark) == (False, "")
    assert all(page.startswith(b"\x89PNG\r\n\x1a\n") for page in made.pages)
    # An object of a page says /Type /Page, the tree of them /Pages: ISO 32000-1, 7.7.3 [M].
    assert len(made.pages) == len(re.findall(rb"/Type ?/Page\b", made.files["dossier.pdf"]))


def test_progress_tells_how_far_things_are(gull: Loaded) -> None:
    said: list[str] = []
    tasks.design_task(text=ROOM, path=gull.document.name, asked=Asked((), 30.0), say=said.append)
    assert [line[:6] for line in said] == [f"{step} of 5" for step in range(1, 6)]
    assert "at most 30 s" in said[1]


# What is asked ---------------------------------------------------------------------------------


def test_a_form_that_is_sent_as_it_was_made_asks_for_nothing(gull: Loaded) -> None:
    for loaded in (gull, example("ten-seats"), example("training-forty")):
        form = asking.form(loaded, unit="m")
        asked = asking.asked(
            loaded,
            products=[p.id for p in form.products if p.ticked],
            preferred=[p.id for p in form.products if p.preferred],
            mountings=[key for key, _, ticked in form.mountings if ticked],
            promises={one.name: one.value for one in form.promises},
            time_limit=form.time_limit,
        )
        assert asked == AS_IT_STANDS


LIMITS = yaml.safe_load(
    """
    # Ends of the ranges that the document's own form allows: inside, then outside.
    sti_outbound: [["0", "1", "0.7"], ["-0.01", "1.01", "2", "good", "0.6.1", "1e0", "NaN"]]
    direct_to_reverberant_db: [["-40", "60", "−3.5 dB", "0"], ["-40.1", "60.1", "dB", "six"]]
    speech_to_noise_db: [["-40", "60", "12,5"], ["-41", "61", "1,234,5"]]
    chance: [["1", "99", "50 %", "0.5"], ["0", "100", "-1", "%"]]
    price: [["1", "3000 EUR", "0.01"], ["0", "-5", "EUR", "much"]]
    """
)


@pytest.mark.parametrize("name", LIMITS)
def test_a_promise_is_read_within_its_range_only(gull: Loaded, name: str) -> None:
    def read(text: str) -> Asked:
        return asking.asked(
            gull,
            products=["ceiling-head-3"],
            preferred=[],
            mountings=["ceiling"],
            promises={name: text},
        )

    inside, outside = LIMITS[name]
    for text in inside:
        room = gull.room
        for operation in read(text).operations:
            room = edit.with_targets(room, **{name: operation["set"]})
    for text in outside:
        with pytest.raises(FieldErrors) as caught:
            read(text)
        assert list(caught.value.fields) == [name], text
        assert asking.allowed(name) in caught.value.fields[name]


def test_an_empty_promise_is_none(gull: Loaded) -> None:
    asked = asking.asked(
        gull,
        products=["ceiling-head-3"],
        preferred=[],
        mountings=["ceiling"],
        promises={"sti_outbound": "", "price": ""},
    )
    assert asked.operations == ({"path": "targets.sti_outbound", "set": None},)


@pytest.mark.parametrize("limit", ["0", "601", "-3", "soon", "1e9"])
def test_a_time_limit_out_of_reach_is_refused_at_its_field(gull: Loaded, limit: str) -> None:
    with pytest.raises(FieldErrors) as caught:
        asking.asked(gull, products=[], preferred=[], mountings=[], promises={}, time_limit=limit)
    assert set(caught.value.fields) == {"products", "mountings", "time_limit"}


def test_what_is_ticked_is_what_is_chosen_from(gull: Loaded) -> None:
    asked = asking.asked(
        gull,
        products=["ceiling-head-2", "ceiling-head-3"],
        preferred=["ceiling-head-2"],
        mountings=["ceiling"],
        promises={},
    )
    found = offered(gull, asked)
    assert codec.parse(found.text).choices.allow == ("ceiling-head-2", "ceiling-head-3")
    assert codec.parse(found.text).choices.prefer == ("ceiling-head-2",)
    facts = {row[0]: row[1] for p in found.proof if p.kind == "facts" for row in p.rows}
    assert "ceiling-head-2, ceiling-head-3" in facts["Scope"]


# Prices and pictures -----------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["ten-seats", "huddle-four", "l-shape"])
def test_a_placed_room_costs_what_placement_said(
    name: str, designed: Callable[[str], Designed]
) -> None:
    placed = designed(name).placed
    found = prices.total(placed.room, example(name).catalogue, ("microphone", "combined"))
    assert found.amount == pytest.approx(placed.proposal.price, abs=0.01)
    assert found.currency == placed.proposal.currency


def test_what_is_owned_costs_nothing_and_another_currency_is_no_price(gull: Loaded) -> None:
    owned = {n: d.model_copy(update={"owned": True}) for n, d in gull.room.devices.items()}
    free = gull.room.model_copy(update={"devices": owned})
    assert prices.total(free, gull.catalogue).amount == 0.0
    project = gull.room.project.model_copy(update={"currency": "NOK"})
    other = gull.room.model_copy(update={"project": project})
    assert prices.total(other, gull.catalogue).amount is None
    assert "EUR, not NOK" in prices.total(other, gull.catalogue).why


def test_two_versions_are_told_apart(gull: Loaded, offer: Offer) -> None:
    found = tasks.compare_task(old=ROOM, new=offer.text, old_path=offer.path, new_path=offer.path)
    assert any("Microphone old is gone" in text for text in found.changes)
    assert found.left.document != found.right.document
    assert {seat.id for seat in found.seats} <= {"a", "b", "c", "d"}
    assert len(found.seats) + found.seats_alike == 4
    for side in (found.left, found.right):
        assert set(side.plans) == {"white", "slate"}
        assert all(plan.lstrip().startswith(("<svg", "<?xml")) for plan in side.plans.values())
    old, new = (
        prices.total(load_text(text, offer.path).room, gull.catalogue)
        for text in (ROOM, offer.text)
    )
    assert old.amount is not None
    assert new.amount is not None
    more = "more" if new.amount > old.amount else "less"
    assert found.price_step.endswith(more)


def test_the_same_document_twice_is_the_same(gull: Loaded) -> None:
    found = tasks.compare_task(old=ROOM, new=ROOM, old_path="a", new_path="b")
    assert (found.changes, found.seats, found.seats_alike) == ((), (), 4)
    assert found.price_step == "the same"
    assert not found.worse
    assert not any(line.differs for line in found.promises)

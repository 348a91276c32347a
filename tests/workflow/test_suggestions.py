"""Wiring, treatment and changes for findings, as another process works them out for a page."""

from __future__ import annotations

import pickle
from pathlib import Path

import pytest

from wellheard.predict import reverberation
from wellheard.room import codec
from wellheard.room.operations import apply
from wellheard.workflow import tasks
from wellheard.workflow.design import judge
from wellheard.workflow.load import load, load_text
from wellheard.workflow.remedy_offers import Remedies
from wellheard.workflow.suggestion import Suggestion
from wellheard.workflow.wiring_sheet import WiringSheet

EXAMPLES = Path(__file__).parents[2] / "examples"
BOTH_WAYS = EXAMPLES / "both-ways" / "both-ways.room.yaml"
GLASS_FAN = EXAMPLES / "glass-fan" / "glass-fan.room.yaml"


def words(one: Suggestion) -> str:
    return "\n".join(cell for p in one.passages for row in (*p.rows, p.head) for cell in row)


@pytest.fixture(scope="module")
def wired() -> Suggestion:
    return tasks.wire_task(text=BOTH_WAYS.read_text("utf-8"), path=str(BOTH_WAYS), version=7)


@pytest.fixture(scope="module")
def treated() -> Suggestion:
    text = GLASS_FAN.read_text("utf-8")
    return tasks.treat_task(text=text, path=str(GLASS_FAN), unit="ft")


@pytest.fixture(scope="module")
def remedies() -> Remedies:
    return tasks.remedy_task(text=BOTH_WAYS.read_text("utf-8"), path=str(BOTH_WAYS), version=7)


def test_what_is_suggested_travels_and_is_no_change_yet(
    wired: Suggestion, treated: Suggestion, remedies: Remedies
) -> None:
    for one in (wired, treated, remedies):
        assert pickle.loads(pickle.dumps(one)) == one
    assert wired.base == BOTH_WAYS.read_text("utf-8") != wired.text
    assert (wired.version, remedies.version) == (7, 7)


def test_a_wiring_says_its_cables_price_proof_and_cautions(wired: Suggestion) -> None:
    new = load_text(wired.text, BOTH_WAYS)
    old = load(BOTH_WAYS)
    said = words(wired)
    laid = [name for name in new.room.links if name not in old.room.links]
    assert laid
    for name in laid:
        assert new.room.links[name].from_ in said
    assert "Proven: " in said
    before, after = (WiringSheet(one).answer(unit="m")["total"] for one in (old, new))
    assert f"{before.partition(',')[0]} → {after.partition(',')[0]}" in said
    assert "Mains is for qualified people." in said
    assert len(wired.drawn.lines) == len(laid)


def test_a_wiring_that_lays_nothing_says_so_in_words(wired: Suggestion) -> None:
    again = tasks.wire_task(text=wired.text, path=str(BOTH_WAYS), unit="ft")
    assert again.sentence.endswith(" join everything; none is new.")


def test_a_treatment_says_the_decay_before_and_after_as_the_rays_have_it(
    treated: Suggestion,
) -> None:
    catalogue = load(GLASS_FAN).catalogue
    table = next(p for p in treated.passages if p.kind == "table")
    for row, text in zip(table.rows, (treated.base, treated.text), strict=False):
        time = reverberation.predict(codec.parse(text), catalogue).time
        assert [float(cell) for cell in row[1:]] == pytest.approx(list(time), abs=0.005)


def test_a_treatment_draws_each_of_its_patches_and_reads_in_feet(treated: Suggestion) -> None:
    new = codec.parse(treated.text).space.finishes
    old = codec.parse(treated.base).space.finishes
    level = set(new.level_patches) - set(old.level_patches)
    wall = set(new.wall_patches) - set(old.wall_patches)
    assert (len(treated.drawn.areas), len(treated.drawn.lines)) == (len(level), len(wall))
    assert "ft²" in treated.sentence
    assert " m²" not in words(treated)
    bought = next(p for p in treated.passages if p.head and p.head[0] == "Product")
    assert bought.rows
    # Pounds beside kilogrammes, of 0.45359237 kg by the agreement of 1959.
    for row in bought.rows:
        kilogrammes, pounds = (float(part.split("\xa0")[0]) for part in row[3].split(" ("))
        assert pounds == pytest.approx(kilogrammes / 0.45359237, abs=0.7)
    assert "asbestos" in words(treated)
    assert " --" not in words(treated), "options of the command are not for a page"


def test_a_change_for_a_finding_mends_it_when_it_is_made(remedies: Remedies) -> None:
    loaded = load(BOTH_WAYS)
    (row,) = [one for one in remedies.rows if one["code"] == "parallel-hard-walls"]
    assert row["says"]
    assert row["achieves"]
    changed = apply(loaded.room, row["operations"], unit="ft").room  # SI, whatever the page reads
    left = judge(changed, loaded.catalogue, assumptions=False).findings
    assert row["mended"]
    assert (row["code"], row["field"]) not in {(f.code, f.at) for f in left}

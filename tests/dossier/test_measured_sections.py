"""What was measured in the dossier: words, rows, filled plan and sheet, and the pages themselves.

Figures are invented; what is checked is that every one of them is told, and told as it is.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Sequence

import pypdfium2
import pytest

from tests import measured
from tests.dossier.test_commissioning import tables, texts
from tests.dossier.test_pages import Page, _page, crossing
from tests.drawings.conftest import tide
from wellheard.dossier.compose import outline
from wellheard.dossier.filled import filled_plan, filled_sheet
from wellheard.dossier.model import Block, Identity, Mark, Outline, Picture, Run
from wellheard.dossier.planned import Expected, Grid, Measured, Place, Result, Step, keys
from wellheard.dossier.proven import WIDTH, Charts, Proven
from wellheard.dossier.sections.measured import curves_section, measured_section
from wellheard.dossier.sections.testplan import steps
from wellheard.dossier.sections.verdict import customer_section, rows_section
from wellheard.dossier.writers.typst_pdf import is_accessible, write_pdf
from wellheard.drawings.verdictmap import verdict_map
from wellheard.measurement.taken import SessionResults
from wellheard.predict.evidence import Evidence
from wellheard.proving.verdict import QUANTITIES, WORDS, Verdict, Word
from wellheard.units import Unit
from wellheard.workflow.proven import MAP_HEIGHT


@pytest.fixture(scope="module")
def proven() -> Proven:
    return Proven(
        measured.verdict(),
        measured.results(),
        predicted_modulation={"s6-m1": measured.response(-0.1).modulation},
    )


def pictures(blocks: Iterable[Block]) -> list[str]:
    return [block.alt for block in blocks if isinstance(block, Picture)]


def said(blocks: Iterable[Block]) -> str:
    found = list(blocks)
    under = [r.text for t in tables(found) for line in t.under for r in line]
    return "\n".join([texts(found), *under]).replace("\u00a0", " ")


def test_the_customer_reads_each_promise_once_with_its_worst_place_and_its_word(
    evidence: Evidence, proven: Proven
) -> None:
    blocks = customer_section(evidence, proven).blocks
    (table,) = tables(blocks)
    words = [cell.word for row in table.rows for cell in row if isinstance(cell, Mark)]
    assert words == ["broken", "cannot tell", "cannot tell", "kept"]
    text = said(blocks)
    assert "of seven promised figures four are kept, one is broken and two cannot be told" in text
    assert "s4, of 4" in text
    assert "≤ NC 28" in text
    assert "NC 31 ± 1.0" in text


def test_what_could_not_be_told_comes_with_what_would_decide_it(
    evidence: Evidence, proven: Proven
) -> None:
    entries = [
        row
        for block in customer_section(evidence, proven).blocks
        for row in getattr(block, "rows", ())
        if getattr(row, "remedy", ())
    ]
    remedies = {run.text for row in entries for run in row.remedy}
    decide = {row.decide for row in proven.verdict.rows if row.decide}
    assert decide == remedies


def test_the_same_reason_at_many_places_is_told_once(evidence: Evidence, proven: Proven) -> None:
    (gated,) = [r for r in proven.verdict.rows if r.measured is None]
    many = tuple(dataclasses.replace(gated, place=f"s{k}") for k in range(1, 10))
    of = dataclasses.replace(proven, verdict=dataclasses.replace(proven.verdict, rows=many))
    text = said(customer_section(evidence, of).blocks)
    assert text.count(gated.why) == 1
    assert "s1, s2, s3, s4 and five more" in text


def test_every_row_stands_in_the_table_the_worst_first_with_its_reason(proven: Proven) -> None:
    (table,) = tables(rows_section(proven).blocks)
    assert len(table.rows) == len(table.under) == len(proven.verdict.rows)
    places = [row[0].text for row in table.rows if isinstance(row[0], Run)]
    assert places == ["room", "s4", "s10", "s10", "s6", "s1", "m1"]
    for line, row in zip(table.under, proven.verdict.rows, strict=True):
        text = "".join(run.text for run in line).replace("\u00a0", " ")
        assert row.why in text
        assert row.decide in text
        assert all(name in text for name in row.recordings)


def test_a_row_has_what_was_promised_predicted_alike_measured_and_brought_to_the_promise(
    proven: Proven,
) -> None:
    (table,) = tables(rows_section(proven).blocks)
    cells = [cell.text.replace("\u00a0", " ") for cell in table.rows[2] if isinstance(cell, Run)]
    # −4.2 ± 1.2816 · 1.6 = −6.25 to −2.15; −5.6 + 0.3 = −5.3, σ 1.3 · 0.8 = 1.04.
    assert cells[2:] == [
        "≥ −6 dB",
        "−4.2 (−6.3 to −2.1)",
        "−5.6 ± 0.8",
        "−5.3 ± 1.0",
        "61 %",
    ]


def test_commissioning_has_decay_noise_instruments_calibration_and_every_fault_with_its_remedy(
    evidence: Evidence, proven: Proven
) -> None:
    section = measured_section(evidence, proven)
    text = said(section.blocks)
    assert "eight recordings on 2026-03-02 by R. Curlew, six of them without a fault" in text
    for line in proven.verdict.alike:
        assert line in text
    for fault in (measured.HUM, measured.CLIPPED):
        assert fault.message in text
    assert "late.wav: no audio" in text
    assert "1187" in text
    assert "Calibrator: 0.200 Pa at full scale, ±0.3 dB, drifted by 0.1 dB" in text
    assert len(pictures(section.blocks)) == 2


def test_an_octave_without_range_is_a_dash_and_never_a_figure(
    evidence: Evidence, proven: Proven
) -> None:
    table = tables(measured_section(evidence, proven).blocks)[0]
    assert {row[2].text for row in table.rows if isinstance(row[2], Run)} == {"–"}


def test_decays_of_places_are_told_though_there_is_no_mean_of_them(
    evidence: Evidence, proven: Proven
) -> None:
    alone = tuple(dataclasses.replace(one, measured=None) for one in proven.verdict.decays)
    of = dataclasses.replace(proven, verdict=dataclasses.replace(proven.verdict, decays=alone))
    section = measured_section(evidence, of)
    assert len(pictures(section.blocks)) == 1
    assert "No octave has a mean over places" in said(section.blocks)
    assert len(tables(section.blocks)[0].rows) == 4


def test_of_a_room_that_divides_the_decay_goes_to_the_arrangement_that_was_measured(
    evidence: Evidence, proven: Proven
) -> None:
    place = Place("500", "500 Hz", (Expected(0.5, 0.4, 0.6, 2),))
    grids = tuple(Grid(key, (Measured(key, "T20", "s"),), (place,)) for key in ("t20 a", "t20 b"))
    step = Step("noise", "Noise", "", "", "", "", "", grids=grids)
    folder = proven.results.folder
    session = folder.session.model_copy(update={"arrangement": "b"})
    results = dataclasses.replace(
        proven.results, folder=dataclasses.replace(folder, session=session)
    )
    of = dataclasses.replace(proven, results=results)
    assert filled(evidence, of, [step]) == {("noise", "t20 b", "500"): Result("0.52 ± 0.02", True)}
    assert filled(evidence, proven, [step]) == {}


def test_levels_without_a_calibration_are_said_to_be_none(
    evidence: Evidence, proven: Proven
) -> None:
    loose = tuple(
        dataclasses.replace(one, calibrated=False, nc=None, label="", governing=None)
        for one in proven.verdict.noise
    )
    of = dataclasses.replace(proven, verdict=dataclasses.replace(proven.verdict, noise=loose))
    section = measured_section(evidence, of)
    assert "Not calibrated, so that their levels are re full scale: m1, s3" in said(section.blocks)
    assert len(pictures(section.blocks)) == 1


def test_the_engineer_has_curves_modulation_and_the_trial(
    evidence: Evidence, proven: Proven
) -> None:
    section = curves_section(evidence, proven)
    assert section is not None
    assert pictures(section.blocks) == [
        "Decay curves by octave, with knee and noise",
        "Modulation transfer from s6 to m1",
        "Canceller trial trial-m1",
    ]


def test_a_path_that_was_not_linear_is_in_no_curve_and_is_no_worst_path(
    evidence: Evidence, proven: Proven
) -> None:
    taken = dict(proven.results.taken)
    only = {"s4-m2": taken["s4-m2"]}
    of = dataclasses.replace(proven, results=dataclasses.replace(proven.results, taken=only))
    charts = Charts(of, evidence.room)
    assert charts.curves is None
    assert charts.worst_path is None


def filled(
    evidence: Evidence, proven: Proven, plan: Sequence[Step] | None = None
) -> dict[tuple[str, str, str], Result]:
    found = filled_plan(evidence, proven, steps(evidence) if plan is None else plan)
    return {key: Result(r.text.replace("\u00a0", " "), r.passed) for key, r in found.items()}


def test_the_plan_is_filled_where_there_are_figures_and_nowhere_else(
    evidence: Evidence, proven: Proven
) -> None:
    found = filled(evidence, proven)
    assert set(found) <= set(keys(steps(evidence)))
    assert found["noise", "nc", "room"] == Result("31 ± 1.0", False)
    assert found["level", "sti", "s1"] == Result("0.70 ± 0.02", True)
    assert found["level", "sti", "s4"] == Result("cannot tell", None)
    assert found["level", "d-r", "s10"] == Result("−5.3 ± 1.0", None)
    assert ("noise", "t20", "125") not in found
    assert found["noise", "t20", "500"] == Result("0.52 ± 0.02", True)
    assert found["power", "polarity", "m1"] == Result("positive", True)
    assert ("level", "sti", "s2") not in found


def test_the_delay_of_the_way_out_is_the_longest_that_a_loop_back_tells(
    evidence: Evidence, proven: Proven
) -> None:
    """4.1 ms in all four recordings from a seat to a microphone; the one to a point is none."""
    place = Place("out", "mouth to computer", (Expected(4.0, places=0),))
    grid = Grid("Delays", (Measured("delay", "Delay", "ms"),), (place,))
    step = Step("call", "Call", "", "", "", "", "", grids=(grid,))
    (result,) = filled(evidence, proven, [step]).values()
    assert result == Result("4", True)


def test_a_return_loss_is_that_of_the_far_end_and_of_no_talker(
    evidence: Evidence, proven: Proven
) -> None:
    taken = dict(proven.results.taken)
    talker = dataclasses.replace(taken["s1-m1"], echo=taken["trial-m1"].echo)
    of = dataclasses.replace(
        proven, results=dataclasses.replace(proven.results, taken={"s1-m1": talker})
    )
    quantities = (Measured("erl", "ERL", "dB"), Measured("erle", "ERLE", "dB"))
    place = Place("m1", "m1", (Expected(10.0, places=0), Expected(30.0, places=0)))
    step = Step("canceller", "C", "", "", "", "", "", grids=(Grid("", quantities, (place,)),))
    assert filled(evidence, of, [step]) == {}
    assert filled(evidence, proven, [step]) == {
        ("canceller", "erl", "m1"): Result("12"),
        ("canceller", "erle", "m1"): Result("32"),
    }


def test_what_lies_beyond_its_range_is_left_to_whoever_measures(
    evidence: Evidence, proven: Proven
) -> None:
    decays = tuple(
        dataclasses.replace(one, measured=3.0 if one.octave == 500.0 else one.measured)
        for one in proven.verdict.decays
    )
    of = dataclasses.replace(proven, verdict=dataclasses.replace(proven.verdict, decays=decays))
    assert filled(evidence, of)["noise", "t20", "500"] == Result("3.00 ± 0.02", None)


def test_a_device_the_wrong_way_round_does_not_pass(evidence: Evidence, proven: Proven) -> None:
    taken = dict(proven.results.taken)
    one = taken["s6-m1"]
    assert one.response is not None
    turned = dataclasses.replace(
        one.response, arrival=dataclasses.replace(one.response.arrival, polarity=-1)
    )
    taken["s6-m1"] = dataclasses.replace(one, response=turned)
    of = dataclasses.replace(proven, results=dataclasses.replace(proven.results, taken=taken))
    assert filled(evidence, of)["power", "polarity", "m1"] == Result("negative", False)
    assert filled(evidence, of)["power", "polarity", "m2"] == Result("positive", True)


def test_the_sheet_has_instruments_date_what_is_left_to_do_and_what_was_not_measured(
    evidence: Evidence, proven: Proven
) -> None:
    found = filled_sheet(proven, steps(evidence), filled(evidence, proven))
    assert found.measured_on == "2026-03-02"
    assert [one.serial for one in found.instruments] == ["1187", "220", ""]
    assert found.signatures[0].name == "R. Curlew"
    assert found.signatures[2].name == ""
    what = [one.what.replace("\u00a0", " ") for one in found.snags]
    assert what[0] == "Background noise: NC 31, ≤ NC 28 promised"
    assert what[1] == "Record again with the gate switched off."
    left = "\n".join(found.not_measured)
    assert "Step 12, record everything" in left
    assert proven.verdict.notes[0] in left


def book(
    evidence: Evidence, proven: Proven | None, identity: Identity
) -> tuple[Outline, bytes, tuple[Page, ...]]:
    made = outline(evidence, (), None, identity=identity, proven=proven)
    pdf = write_pdf(made)
    document = pypdfium2.PdfDocument(pdf)
    return made, pdf, tuple(_page(document, n) for n in range(len(document)))


@pytest.fixture(params=["m", "ft"])
def measured_book(
    request: pytest.FixtureRequest, evidence: Evidence, proven: Proven, identity: Identity
) -> tuple[Outline, bytes, tuple[Page, ...]]:
    room = evidence.room.model_copy(update={"units": request.param})
    return book(dataclasses.replace(evidence, room=room), proven, identity)


def test_pages_have_nothing_over_anything_and_nothing_outside(
    measured_book: tuple[Outline, bytes, tuple[Page, ...]],
) -> None:
    _, pdf, pages = measured_book
    assert not [word for page in pages for word in crossing(page)]
    for page in pages:
        assert page.boxes[:, 0].min() >= 21.5
        assert page.boxes[:, 2].max() <= page.width - 19.5
        assert page.boxes[:, 3].max() <= page.height - 7.0
    assert is_accessible(pdf)


def test_the_customer_has_the_answer_on_one_page_and_what_was_measured_on_the_next(
    measured_book: tuple[Outline, bytes, tuple[Page, ...]],
) -> None:
    made, _, pages = measured_book
    assert made.customer.answer.startswith("Measured")
    assert "not all that was promised is kept" in made.customer.answer
    assert made.customer.remarks[0][0] == "Predicted"
    heading = "Measured,andheldagainstthepromise"
    first = [page.number for page in pages if heading in page.letters][:1]
    assert first == [2]
    assert "Behindtheanswer" in pages[2].letters


def crowded() -> Verdict:
    """Every promise at many places, each decided in its own way and with a long reason."""
    (one,) = [r for r in measured.rows() if r.decide and r.measured is not None]
    words: tuple[Word, ...] = ("broken", "cannot tell", "kept")
    rows = tuple(
        dataclasses.replace(
            one,
            quantity=quantity,
            place=f"s{k}",
            word=words[k % 3],
            why=f"{one.why} Taken at place {k}.",
        )
        for k in range(1, 10)
        for quantity in QUANTITIES
    )
    ordered = sorted(rows, key=lambda row: WORDS.index(row.word))
    return dataclasses.replace(measured.verdict(), rows=tuple(ordered))


@pytest.mark.parametrize("unit", ["m", "ft"])
def test_however_much_is_found_the_customer_has_one_page_of_it(
    evidence: Evidence, proven: Proven, identity: Identity, unit: Unit
) -> None:
    height = MAP_HEIGHT[unit]
    drawn = verdict_map(tide(unit), {}, figures="chance", width=WIDTH[unit], height=height)
    of = dataclasses.replace(proven, verdict=crowded(), map=drawn)
    room = evidence.room.model_copy(update={"units": unit})
    where = dataclasses.replace(evidence, room=room)
    made = outline(where, (), None, identity=identity, proven=of, readers=("customer",))
    document = pypdfium2.PdfDocument(write_pdf(made))
    letters = [_page(document, n).letters for n in range(len(document))]
    (first,) = [n for n, page in enumerate(letters) if page.count("heldagainstthepromise") == 1]
    assert first == 1
    assert "onestandarddeviation" in letters[first]
    assert "Behindtheanswer" in letters[first + 1]


def test_the_same_session_gives_the_same_bytes(
    evidence: Evidence, proven: Proven, identity: Identity
) -> None:
    made = outline(evidence, (), None, identity=identity, proven=proven, readers=("customer",))
    assert write_pdf(made) == write_pdf(made)


def test_without_a_session_nothing_is_said_of_one(evidence: Evidence, identity: Identity) -> None:
    made = outline(evidence, (), None, identity=identity)
    assert not [s.title for s in made.sections if s.title.startswith(("Measured", "What was meas"))]


def test_a_session_of_which_nothing_could_be_compared_says_so(
    evidence: Evidence, proven: Proven, identity: Identity
) -> None:
    empty = Verdict("empty", "0" * 16, (), (), (), ("Nothing was set.",), ("Nothing is there.",))
    nothing = SessionResults(measured.folder(), {}, {"s1-m1": "not recorded yet"}, {})
    of = Proven(empty, nothing)
    made = outline(evidence, (), None, identity=identity, proven=of)
    text = said(block for section in made.sections for block in section.blocks)
    assert "nothing of it could be held against the promise" in text
    assert write_pdf(made)

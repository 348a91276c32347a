"""The engineer's pages: order, words and marks."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from wellheard import dossier
from wellheard.bands import OCTAVES
from wellheard.checks.model import Finding
from wellheard.checks.registry import rules
from wellheard.dossier import Identity
from wellheard.dossier.figures import print_svg, reverberation_chart, sheet, spread_apart
from wellheard.dossier.model import (
    Entries,
    Entry,
    Facts,
    Mark,
    RangeBar,
    Run,
    Scale,
    Section,
    Table,
)
from wellheard.dossier.sections.findings import findings_section
from wellheard.dossier.sections.grounds import grounds_section
from wellheard.dossier.sections.ledger import ledger_section, ledger_table, sti_scale
from wellheard.dossier.sections.proof import proof_section
from wellheard.dossier.sections.room import room_section
from wellheard.place.proposal import Proposal
from wellheard.predict.evidence import AbsorbingObjects, Evidence

Build = Callable[..., Evidence]


def words(value: object) -> Iterator[str]:
    """Every text within an outline, wherever it stands."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, tuple):
        for item in value:
            yield from words(item)
    elif dataclasses.is_dataclass(value):
        for field in dataclasses.fields(value):
            yield from words(getattr(value, field.name))


def all_words(section: Section) -> str:
    return " ".join(words(section))


def tables(section: Section) -> list[Table]:
    return [block for block in section.blocks if isinstance(block, Table)]


def entries(section: Section) -> list[Entry]:
    return [e for block in section.blocks if isinstance(block, Entries) for e in block.rows]


def test_the_ledger_is_worst_first_and_has_every_talker(at_risk: Evidence) -> None:
    table = tables(ledger_section(at_risk))[0]
    seats = [row[1] for row in table.rows]
    assert seats[0] == Run("s10", "strong")
    assert len(seats) == len(at_risk.talkers)
    marks = [row[0] for row in table.rows]
    assert marks[0] == Mark("at risk")
    assert marks[1] == Mark("kept")


def test_all_bars_of_the_ledger_share_one_scale(at_risk: Evidence) -> None:
    rows = at_risk.worst_first()
    table = ledger_table(rows, 0.62, 0.8)
    scale = next(c.scale for c in table.columns if c.scale is not None)
    for row, outbound in zip(table.rows, rows, strict=True):
        bar = next(cell for cell in row if isinstance(cell, RangeBar))
        assert scale.low + bar.value * (scale.high - scale.low) == pytest.approx(outbound.sti.value)
        assert 0 <= bar.low < bar.value < bar.high <= 1
        assert bar.target == scale.target
    assert scale.label == "0.62"


def test_a_ledger_without_microphones_says_so(build: Build) -> None:
    section = ledger_section(build(microphones=0))
    assert "Not assessed" in all_words(section)
    assert not tables(section)


def test_the_proof_counts_what_each_rule_refused(evidence: Evidence, proposal: Proposal) -> None:
    section = proof_section(evidence, proposal)
    assert tables(section)[-1].rows == (
        (Run("microphone near wall"), Run("322")),
        (Run("microphone near outlet"), Run("140")),
    )
    assert "462 more were refused" in all_words(section)
    assert "no design within the scope below has fewer microphones" in all_words(section)


def test_the_proof_names_seats_amount_and_what_would_have_to_give(
    evidence: Evidence, impossible: Proposal
) -> None:
    section = proof_section(evidence, impossible)
    text = all_words(section)
    table = next(t for t in tables(section) if t.columns[0].head == "Place")
    assert table.rows[0][0] == Run("s10", "strong")
    assert Run("11.2\u00a0dB", "strong") in table.rows[0]
    assert Run("15\u00a0dB") in table.rows[0]
    assert "no design within the scope below keeps the whole promise" in text
    assert "Allow table microphones." in text


def test_a_gap_is_stated_as_not_proved(evidence: Evidence, proposal: Proposal) -> None:
    proof = dataclasses.replace(
        proposal.proof, status="gap", fewer_is_impossible=False, gap=0.33, fewer=None
    )
    text = all_words(proof_section(evidence, dataclasses.replace(proposal, proof=proof)))
    assert "Not proved" in text
    assert "33\u00a0%" in text
    assert "Proved:" not in text


def test_without_a_search_the_proof_is_not_assessed(evidence: Evidence) -> None:
    assert "Not assessed: nothing was searched" in all_words(proof_section(evidence, None))


def test_the_room_shows_every_model_and_which_was_used(evidence: Evidence) -> None:
    section = room_section(evidence)
    text = all_words(section)
    for model in ("Sabine", "Eyring", "Kuttruff", "Arau-Puchades", "Fitzroy"):
        assert model in text
    assert "Used: rays, scattering 0.30" in text
    assert "154\u00a0Hz" in text
    assert "NC\u00a029" in text


def test_assumed_finishes_and_extrapolated_figures_are_italic(build: Build) -> None:
    def manners(found: Evidence) -> dict[str, list[str]]:
        table = next(t for t in tables(room_section(found)) if t.columns[0].head == "Surface")
        return {
            row[0].text: [cell.manner for cell in row if isinstance(cell, Run)]
            for row in table.rows
            if isinstance(row[0], Run)
        }

    told = manners(build(room_changes={"basis": {"space.finishes": "measured"}}))
    assert told["floor"] == ["plain", "plain", "plain", "told", "told", "told"]
    assert told["walls"] == ["plain"] * 6
    assert manners(build())["walls"][1] == "told"


def test_a_measured_decay_is_not_called_a_prediction(evidence: Evidence) -> None:
    decay = dataclasses.replace(evidence.reverberation, measured=True, model="measured")
    text = all_words(room_section(dataclasses.replace(evidence, reverberation=decay)))
    assert "as measured in the room" in text
    assert "predicted by" not in text


def test_tables_that_are_alike_stand_in_one_row(evidence: Evidence) -> None:
    each = (0.1, 0.1, 0.13, 0.13, 0.13, 0.13, 0.13)
    desks = tuple(
        AbsorbingObjects(f"table desk-{n}", "hard object", 1.0, each, "a standard [L]")
        for n in range(1, 11)
    )
    other = dataclasses.replace(desks[0], name="table side", each=(0.2,) * 7)
    decay = evidence.reverberation
    decay = dataclasses.replace(decay, objects=(*decay.objects, *desks, other))
    section = room_section(dataclasses.replace(evidence, reverberation=decay))
    (table,) = (t for t in tables(section) if t.columns[0].head == "People and furniture")
    said = [[cell.text for cell in row if isinstance(cell, Run)][:3] for row in table.rows]
    assert said == [
        ["people seated", "person", "7.0"],
        ["table desk-1 and nine alike", "hard object", "10.0"],
        ["table side", "hard object", "1.0"],
    ]


def test_feet_documents_have_feet(build: Build) -> None:
    found = build(room_changes={"units": "ft", "space": _feet_space(), "people": _feet_people()})
    text = all_words(room_section(found)) + all_words(ledger_section(found))
    assert "ft²" in text
    assert "m²" not in text
    assert "4'-7⅞\"" in text  # 1.42 m


def _feet_space() -> dict[str, object]:
    return {"outline": [[0, 0], [21, 0], [21, 15], [0, 15]], "height": 9}


def _feet_people() -> dict[str, object]:
    return {"seats": {"s1": {"at": [6, 6], "facing": 0}, "s2": {"at": [9, 6], "facing": 0}}}


def test_findings_are_worst_first_and_unknown_is_never_kept(findings: tuple[Finding, ...]) -> None:
    section = findings_section(findings)
    found = entries(section)
    assert [entry.state for entry in found] == ["broken", "at risk", "not assessed"]
    assert found[0].lead == "Error"
    assert "IEC 60268-16:2020" in found[0].source
    assert found[0].remedy == (Run("Move the chair 0.4\u00a0m west."),)
    assert "One error, one warning and one note" in all_words(section)


@pytest.mark.parametrize("code", sorted(rules()))
def test_a_finding_says_of_its_rule_what_the_page_of_rules_says(
    findings: tuple[Finding, ...], code: str
) -> None:
    page = (Path(__file__).parents[2] / "docs" / "rules.md").read_text("utf-8")
    _, _, after = page.partition(f"### `{code}`\n\n*")
    strength, relaxing = after.partition(".*")[0].split(", ")[1:]
    one = dataclasses.replace(findings[0], code=code, strength=rules()[code].strength)
    (found,) = entries(findings_section([one]))
    said = found.source.split(" · ")[2]
    if strength == "house":
        assert said.startswith(f"house rule, {relaxing}")
    else:
        assert "relaxed" not in said


def test_no_findings_is_said() -> None:
    assert "found nothing" in all_words(findings_section(()))


def test_what_this_version_cannot_see_is_listed_without_ticks(
    evidence: Evidence, identity: Identity
) -> None:
    section = grounds_section(evidence, identity)
    assert {entry.state for entry in entries(section)} == {"not assessed"}
    labels = [entry.lead for entry in entries(section)]
    for needed in ("Echo", "Privacy", "Sound from the far end", "The connection", "The site"):
        assert needed in labels
    text = all_words(section)
    for caution in ("safety bond", "asbestos", "plenum", "consent", "Local codes", "hearing"):
        assert caution in text
    assert "7f3a91c2" in text


def test_a_known_site_is_not_an_open_question(build: Build, identity: Identity) -> None:
    found = build(room_changes={"site": {"region": "EU", "seismic": "none"}})
    labels = [entry.lead for entry in entries(grounds_section(found, identity))]
    assert "The site" not in labels


def test_assumptions_are_sorted_by_how_far_they_move_the_worst_place(
    evidence: Evidence, identity: Identity
) -> None:
    turned = dataclasses.replace(evidence, assumptions=evidence.assumptions[::-1])
    table = tables(grounds_section(turned, identity))[0]
    assert [row[2] for row in table.rows] == [Run("−0.9"), Run("0.2"), Run("–")]
    assert table.rows[0][0] == Run("Ceiling finish ceiling-mineral-tile, the usual one", "told")


def test_the_basis_of_each_input_is_listed_in_italics_where_told(
    evidence: Evidence, identity: Identity
) -> None:
    facts = [b for b in grounds_section(evidence, identity).blocks if isinstance(b, Facts)]
    rows = next(rows for one in facts if "measured" in (rows := dict(one.rows)))
    assert rows["measured"][0].manner == "plain"
    assert "finishes" in rows["assumed"][0].text
    assert rows["assumed"][0].manner == "told"


def test_the_chart_holds_the_used_line_and_its_range(evidence: Evidence) -> None:
    chart = reverberation_chart(evidence.reverberation)
    main = next(curve for curve in chart.curves if curve.weight == "main")
    assert len(main.points) == len(OCTAVES)
    for (x, y), (at, low, high) in zip(main.points, chart.band, strict=True):
        assert x == at
        assert 0 <= low < y < high <= 1


@pytest.mark.parametrize("longest", [0.28, 0.58, 0.6, 0.71, 1.0, 1.65, 2.2, 3.1, 7.4])
def test_figures_at_the_chart_are_those_of_its_lines(evidence: Evidence, longest: float) -> None:
    """Evenly spaced lines have evenly spaced figures: no line is named by a rounded one."""
    decay = evidence.reverberation
    scaled = longest / max(decay.high)
    shorter: dict[str, Any] = {
        name: tuple(scaled * t for t in getattr(decay, name))
        for name in ("time", "low", "high", "sabine", "eyring")
    }
    chart = reverberation_chart(dataclasses.replace(decay, **shorter))
    figures = [float(said) for _, said in chart.up]
    top = figures[-1]
    assert 3 <= len(figures) <= 7
    assert [height for height, _ in chart.up] == pytest.approx([one / top for one in figures])
    assert top >= longest


def test_labels_of_the_chart_never_overlap() -> None:
    heights = spread_apart([0.3, 0.31, 0.305, 0.9, 0.29], gap=0.08)
    ordered = sorted(heights)
    assert all(b - a >= 0.08 - 1e-9 for a, b in pairwise(ordered))
    assert sorted(range(5), key=lambda i: heights[i]) == [4, 0, 2, 1, 3]


def test_a_drawing_keeps_its_paper_size() -> None:
    drawn = sheet('<svg xmlns="x" width="17in" height="11in" viewBox="0 0 1 1"></svg>')
    assert (drawn.width, drawn.height) == pytest.approx((431.8, 279.4))


@pytest.mark.parametrize("svg", ["", "<p>no</p>", '<svg width="100%" height="1mm"></svg>'])
def test_what_is_no_drawing_is_refused_with_a_reason(svg: str) -> None:
    with pytest.raises(ValueError, match="a drawing"):
        sheet(svg)


def test_print_takes_the_white_sheet_and_leaves_no_variable() -> None:
    svg = print_svg(
        "<svg><style>@font-face{src:url(x)}:root{--ink:#111}.slate{--ink:#eee}"
        "text{fill:var(--ink);stroke:var(--none, red)}</style></svg>"
    )
    assert "fill:#111;stroke:red" in svg
    assert "var(" not in svg
    assert "@font-face" not in svg


def test_paper_follows_the_units_of_the_document(
    build: Build, identity: Identity, proposal: Proposal
) -> None:
    metric = dossier.outline(build(), (), proposal, identity=identity)
    feet = dossier.outline(
        build(room_changes={"units": "ft", "space": _feet_space(), "people": _feet_people()}),
        (),
        proposal,
        identity=identity,
    )
    assert (metric.paper, feet.paper) == ("a4", "us-letter")


def test_no_hyphen_stands_for_a_minus(
    evidence: Evidence, impossible: Proposal, identity: Identity, findings: tuple[Finding, ...]
) -> None:
    import re

    outline = dossier.outline(evidence, findings, impossible, identity=identity)
    for text in words(outline):
        assert not re.search(r"(?<![\w.])-\d", text), text


def test_the_axis_of_an_index_ends_at_one(evidence: Evidence) -> None:
    def reaching(low: float, high: float) -> Scale:
        row = evidence.outbound[0]
        return sti_scale(
            [dataclasses.replace(row, sti=dataclasses.replace(row.sti, low=low, high=high))], None
        )

    scale = reaching(0.63, 1.0)
    assert (round(scale.low, 9), round(scale.high, 9)) == (0.6, 1.0)
    assert [label for _, label in scale.ticks] == ["0.60", "0.70", "0.80", "0.90", "1.00"]
    certain = reaching(1.0, 1.0)
    assert certain.low < certain.high == 1.0

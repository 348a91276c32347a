"""The workbook of schedules, read back by another library; the same as comma-separated values."""

from __future__ import annotations

import csv
import datetime
import io
import re
import zipfile
from collections.abc import Callable
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

import openpyxl
import pytest

from wellheard.catalog.catalogue import Catalogue
from wellheard.dossier.model import Identity
from wellheard.dossier.positions import positions
from wellheard.dossier.writers.schedules_xlsx import (
    BookColumn,
    Formula,
    Sheet,
    write_schedules,
)
from wellheard.schedules.whole import schedules
from wellheard.workflow.design import Designed
from wellheard.workflow.schedule_book import schedules_book
from wellheard.workflow.schedule_tables import schedule_files

WHOSE = Identity("0123abcd", "1.0", "2026-11-26")
NAMES = ["ten-seats", "both-ways", "training-forty"]


@pytest.fixture(scope="module")
def book_of(
    designed: Callable[[str], Designed], catalogue: Catalogue
) -> Callable[[str], tuple[bytes, Designed]]:
    known: dict[str, tuple[bytes, Designed]] = {}

    def made(name: str) -> tuple[bytes, Designed]:
        if name not in known:
            answer = designed(name)
            evidence = answer.judged.evidence
            found = schedules(evidence.room, catalogue)
            known[name] = (schedules_book(found, positions(evidence), evidence, WHOSE), answer)
        return known[name]

    return made


def opened(raw: bytes, *, values: bool) -> Any:
    return openpyxl.load_workbook(io.BytesIO(raw), data_only=values)


def heads(sheet: Any) -> dict[str, int]:
    return {cell.value: cell.column for cell in sheet[1]}


@pytest.mark.parametrize("name", NAMES)
def test_there_is_a_sheet_for_every_schedule_with_a_head_that_stays(
    name: str, book_of: Callable[[str], tuple[bytes, Designed]]
) -> None:
    book = opened(book_of(name)[0], values=True)
    for wanted in ("Positions", "Cables", "Labels", "Bill", "Racks", "Conduit", "Seats"):
        assert wanted in book.sheetnames
    for sheet in book:
        assert sheet.freeze_panes == "A2"
        assert sheet.print_title_rows == "$1:$1"
        assert sheet.page_setup.orientation == "landscape"
        assert sheet.page_setup.fitToHeight == 0
        assert sheet.auto_filter.ref


@pytest.mark.parametrize("name", NAMES)
def test_amounts_and_sums_are_formulas_that_come_to_what_they_show(
    name: str, book_of: Callable[[str], tuple[bytes, Designed]], catalogue: Catalogue
) -> None:
    """Money is rounded half up to the cent, as ROUND does for what is not negative."""
    raw, answer = book_of(name)
    said, shown = (opened(raw, values=values)["Bill"] for values in (False, True))
    at = heads(said)
    amount, kind, currency = (at[one] for one in ("amount", "kind", "currency"))
    blank = next(r for r in range(2, said.max_row + 1) if not said.cell(r, kind).value)
    lines = range(2, blank)
    formulas = 0
    for row in lines:
        text = said.cell(row, amount).value
        if not isinstance(text, str) or not text.startswith("="):
            continue
        formulas += 1
        cells = re.fullmatch(r"=ROUND\(([A-Z]+\d+)\*([A-Z]+\d+),2\)", text)
        assert cells is not None, text
        count, price = cells.groups()
        product = Decimal(str(shown[count].value)) * Decimal(str(shown[price].value))
        cents = product.quantize(Decimal("0.01"), ROUND_HALF_UP)
        assert float(cents) == pytest.approx(shown.cell(row, amount).value, abs=1e-9)
    assert formulas > 5
    total = schedules(answer.judged.evidence.room, catalogue).bill.total
    by_hand = sum(shown.cell(row, amount).value or 0.0 for row in lines)
    sums = {
        shown.cell(row, at["what"]).value: (said.cell(row, amount).value, shown.cell(row, amount))
        for row in range(lines[-1] + 1, said.max_row + 1)
        if shown.cell(row, amount).value is not None
    }
    text, cell = sums["in all, without tax"]
    assert text.startswith("=SUMIFS(")
    assert cell.value == pytest.approx(by_hand) == pytest.approx(total)
    parts = [value.value for what, (_, value) in sums.items() if what != "in all, without tax"]
    assert sum(parts) == pytest.approx(total)
    assert all(shown.cell(row, currency).value for row in lines if shown.cell(row, amount).value)


@pytest.mark.parametrize("name", NAMES)
def test_cut_lengths_sum_to_what_stands_under_them(
    name: str, book_of: Callable[[str], tuple[bytes, Designed]]
) -> None:
    raw, _ = book_of(name)
    said, shown = (opened(raw, values=values)["Cables"] for values in (False, True))
    column = next(index for head, index in heads(said).items() if head.startswith("cut, "))
    lines = [r for r in range(2, said.max_row + 1) if shown.cell(r, 2).value]
    (last,) = (r for r in range(2, said.max_row + 1) if shown.cell(r, 1).value == "all")
    letter = said.cell(1, column).column_letter
    assert said.cell(last, column).value == f"=SUM(${letter}$2:${letter}${lines[-1]})"
    cut = sum(shown.cell(row, column).value or 0.0 for row in lines)
    assert shown.cell(last, column).value == pytest.approx(cut)


def test_a_document_in_feet_has_inches_to_sort_and_words_to_read(
    book_of: Callable[[str], tuple[bytes, Designed]],
) -> None:
    """7 ft is 84 in; 9 ft is 108 in."""
    sheet = opened(book_of("ten-seats")[0], values=True)["Positions"]
    at = heads(sheet)
    assert sheet.cell(2, at["distance, in"]).value == 84
    assert sheet.cell(2, at["distance"]).value == "7'-0\""
    assert sheet.cell(2, at["height, in"]).value == 108
    assert sheet.page_setup.paperSize == 1  # letter
    metric = opened(book_of("both-ways")[0], values=True)["Positions"]
    assert metric.cell(2, heads(metric)["distance, mm"]).value == 2700
    assert metric.page_setup.paperSize == 9  # A4


def test_the_same_input_gives_the_same_bytes_without_a_clock(
    book_of: Callable[[str], tuple[bytes, Designed]], catalogue: Catalogue
) -> None:
    raw, answer = book_of("both-ways")
    evidence = answer.judged.evidence
    found = schedules(evidence.room, catalogue)
    assert schedules_book(found, positions(evidence), evidence, WHOSE) == raw
    book = opened(raw, values=True)
    assert book.properties.created == datetime.datetime(2026, 11, 26)
    with zipfile.ZipFile(io.BytesIO(raw)) as packed:
        assert {info.date_time[0] for info in packed.infolist()} == {1980}


NASTY = ("=cmd|' /C calc'!A0", "+1+1", "-2+3", "@SUM(1)", "\t=1", "＝1", '=HYPERLINK("x")')


def test_no_text_of_a_document_becomes_a_formula() -> None:
    columns = (BookColumn("what", 20), BookColumn("count", 8, "0"))
    rows = tuple((text, 1) for text in NASTY)
    total = ("=all", Formula("=SUM({count:})", float(len(rows))))
    raw = write_schedules(
        [Sheet("Bill", columns, rows, (total,), ("=note",))], WHOSE, title="=title"
    )
    sheet = opened(raw, values=False)["Bill"]
    formulas = [c.coordinate for row in sheet.iter_rows() for c in row if c.data_type == "f"]
    assert formulas == [f"B{len(rows) + 3}"]
    for index, _ in enumerate(rows, start=2):
        assert sheet.cell(index, 1).data_type == "s"
        assert sheet.cell(index, 1).quotePrefix
    with zipfile.ZipFile(io.BytesIO(raw)) as packed:
        assert not any("externalLink" in name for name in packed.namelist())


def test_positions_as_values_are_the_documents_own(
    designed: Callable[[str], Designed], catalogue: Catalogue
) -> None:
    answer = designed("ten-seats")
    evidence = answer.judged.evidence
    files = schedule_files(schedules(evidence.room, catalogue), positions(evidence))
    rows = list(csv.DictReader(io.StringIO(files["positions.csv"].decode())))
    for row in rows:
        at = answer.room.devices[row["id"]].at
        assert at is not None
        assert abs(float(row["distance_m"]) - at[0]) < 1e-9  # the west wall is at 0
        assert abs(float(row["other_distance_m"]) - at[1]) < 1e-9
        assert float(row["off_step_m"]) == 0
    labels = list(csv.DictReader(io.StringIO(files["labels.csv"].decode())))
    assert len(labels) == 2 * len(evidence.room.links)
    assert len({row["label"] for row in labels}) == len(labels)


def test_seats_are_read_in_the_documents_units_and_in_words(
    book_of: Callable[[str], tuple[bytes, Designed]],
) -> None:
    """A foot is 0.3048 m exactly; the file for programs stays in metres under its own names."""
    for name, word, unit in (("ten-seats", "ft", 0.3048), ("both-ways", "m", 1.0)):
        raw, answer = book_of(name)
        sheet = opened(raw, values=True)["Seats"]
        at = heads(sheet)
        first = answer.judged.evidence.worst_first()[0]
        assert sheet.cell(2, at["seat"]).value == first.talker.id
        away = sheet.cell(2, at[f"distance, {word}"]).value
        assert away * unit == pytest.approx(first.path.distance, abs=5e-4)
        assert sheet.cell(2, at["chance"]).number_format == "0.0%"
        assert {"STI", "STI, 10 %", "direct to reverberant, 90 %, dB", "speech level, dBA"} <= set(
            at
        )
        assert not [head for head in at if "_" in head or head.endswith(" db")]
        assert "_" not in sheet.cell(2, at["binds"]).value


@pytest.mark.parametrize("name", NAMES)
def test_cables_are_listed_by_their_numbers(
    name: str, book_of: Callable[[str], tuple[bytes, Designed]]
) -> None:
    sheet = opened(book_of(name)[0], values=True)["Cables"]
    listed = [sheet.cell(row, 1).value for row in range(2, sheet.max_row + 1)]
    numbers = [one for one in listed if one and re.fullmatch(r"c\d+", one)]
    assert len(numbers) > 3
    assert numbers == sorted(numbers)


@pytest.mark.parametrize("name", NAMES)
def test_a_device_has_one_spelling_in_positions_and_cables(
    name: str, book_of: Callable[[str], tuple[bytes, Designed]]
) -> None:
    raw, answer = book_of(name)
    sheet = opened(raw, values=True)["Positions"]
    at = heads(sheet)
    rows = range(2, sheet.max_row + 1)
    labels = [sheet.cell(row, at["label"]).value for row in rows if sheet.cell(row, at["id"]).value]
    named = {label.split(".")[0] for label in labels}
    assert named <= set(answer.judged.evidence.room.devices)

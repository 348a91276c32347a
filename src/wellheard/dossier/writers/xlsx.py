"""Spreadsheets by xlsxwriter: text stays text, equal input gives equal bytes."""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import TYPE_CHECKING

from wellheard.dossier.survey.filled import lines
from wellheard.dossier.survey.layout import CAUTION
from wellheard.dossier.survey.model import Answer, Notes, Question, Survey, Ticks
from wellheard.dossier.words import percent
from wellheard.dossier.writers.workbook import Page, opened

if TYPE_CHECKING:
    from wellheard.predict.sensitivity import Moved

BASIS = ("told", "drawing", "measured", "assumed")

LINE = {"bottom": 4, "bottom_color": "#7d8993"}
"""Dotted, to write on."""

SHEET_COLUMNS = (
    ("no.", 5),
    ("field", 36),
    ("value", 30),
    ("unit", 11),
    ("basis", 11),
    ("note", 34),
)
QUESTION_COLUMNS = (
    ("no.", 5),
    ("question", 44),
    ("ask", 10),
    ("answer", 26),
    ("basis", 10),
    ("taken now", 20),
    ("if instead", 24),
    ("D/R, dB", 8),
    ("STI", 7),
    ("S/N, dB", 8),
    ("chance", 8),
    ("known as", 10),
    ("why it matters", 44),
    ("in the document", 34),
)
PRINTED = 11
"""Columns of the questions that go to paper; what follows is for the screen."""
_INSTEAD, _KNOWN = 6, 11


def write_survey(survey: Survey) -> bytes:
    """Return the survey as a spreadsheet: one sheet to fill in, one with the open questions.

    Whatever a document says is written as text, never as a formula, a link or an array, and a
    cell whose text looks like a formula keeps being text when it is edited.
    """
    out = io.BytesIO()
    book = opened(out, f"Survey: {survey.title or 'room'}", survey.identity)
    letter = survey.paper == "us-letter"
    _Sheet(book, "Survey", SHEET_COLUMNS, letter=letter).fill_survey(survey)
    _Sheet(book, "Open questions", QUESTION_COLUMNS, letter=letter).fill_questions(survey)
    book.close()
    return out.getvalue()


class _Sheet(Page):
    """One sheet of a survey."""

    caution = CAUTION

    def choice(self, row: int, column: int, options: Sequence[str], *, strict: bool) -> None:
        """A list to choose from in one cell; not strict leaves any other answer open."""
        self.sheet.data_validation(
            row,
            column,
            row,
            column,
            {
                "validate": "list",
                "source": list(options),
                "error_type": "stop" if strict else "information",
                "error_title": "Not on the list",
                "error_message": "Choose one of the list."
                if strict
                else "Not on the list; keep it if it is right.",
            },
        )

    def fill_survey(self, survey: Survey) -> None:
        """One row for every field, the steps as headings."""
        self._title(survey)
        known = list(lines(survey.parts))
        for part in survey.parts:
            self._heading(part.number, part.title, part.aside)
            for line in (one for one in known if one.part is part):
                unit = "" if line.answer.text else line.unit  # what is known says its own
                self._line(line.label, line.answer, unit, line.options, line.taken)
            for block in part.blocks:
                if isinstance(block, Ticks):
                    for item in block.items:
                        self._line(item, Answer(), "", ("taken", "not possible"), "")
                elif isinstance(block, Notes):
                    for heading, said in block.rows:
                        self.text(self.row, 1, heading, bold=True)
                        merged = self.format(text_wrap=True)
                        self.sheet.merge_range(self.row, 2, self.row, 5, "", merged)
                        self.text(self.row, 2, said)
                        self.sheet.set_row(self.row, 27)
                        self.row += 1

    def _title(self, survey: Survey) -> None:
        said = " · ".join(t for t in (survey.title or "Survey sheet", survey.whose) if t)
        self.text(self.row, 1, said, bold=True)
        self.text(
            self.row,
            5,
            "Italic: told or assumed. Enter a basis with every value.",
            font_color="#47535e",
        )
        self.row += 1

    def _heading(self, number: int, title: str, aside: str) -> None:
        self.sheet.set_row(self.row, 24)
        low = {"bold": True, "bottom": 1, "valign": "vcenter"}
        self.text(self.row, 0, str(number), **low)
        self.text(self.row, 1, title, **low)
        for column in range(2, len(self.columns)):
            soft = {"font_color": "#47535e", "bottom": 1, "valign": "vcenter"}
            self.text(self.row, column, aside if column == 5 else "", **soft)
        self.row += 1

    def _line(
        self, label: str, answer: Answer, unit: str, options: tuple[str, ...], taken: str
    ) -> None:
        self.text(self.row, 0, "", **LINE)
        self.text(self.row, 1, label, **LINE)
        self.text(self.row, 2, answer.text, italic=answer.italic, locked=False, **LINE)
        self.text(self.row, 3, unit, font_color="#47535e", **LINE)
        basis = answer.standing if answer.text and answer.standing in BASIS else ""
        self.text(self.row, 4, basis, **LINE)
        said = f"taken so far: {taken}" if taken else ""
        self.text(self.row, 5, said, italic=bool(taken), font_color="#47535e", **LINE)
        if options:
            self.choice(self.row, 2, options, strict=False)
        self.choice(self.row, 4, BASIS, strict=True)
        self.row += 1

    def fill_questions(self, survey: Survey) -> None:
        """Every question with its alternatives, in the order of the ranking."""
        for number, question in enumerate(survey.questions, start=1):
            self._question(number, question)
        self.text(self.row, 1, survey.ground, font_color="#47535e")
        self.row += 1
        self.sheet.freeze_panes(1, 2)
        self.sheet.print_area(0, 0, self.row - 1, PRINTED - 1)

    def _question(self, number: int, question: Question) -> None:
        """Its alternatives are a row each; the question stands in the first."""
        told = question.standing in ("told", "assumed", "left out")
        known = question.standing if question.taken else ""
        first = (str(number), question.sentence, question.asked, "", "", question.taken)
        aside = (known, question.why, question.path)
        for index, moved in enumerate(question.moved or (None,)):
            for column, cell in enumerate(first):
                self.text(
                    self.row, column, "" if index else cell, italic=told and column == 5, **LINE
                )
            for column, cell in enumerate(aside, start=_KNOWN):
                self.text(self.row, column, "" if index else cell, **LINE)
            if not index:
                self.choice(self.row, 4, BASIS, strict=True)
            if moved is None:
                for column in range(_INSTEAD, _KNOWN):
                    self.text(self.row, column, "", **LINE)
            else:
                self._moved(moved)
            self.row += 1

    def _moved(self, moved: Moved) -> None:
        figures = (
            (round(moved.effect_db, 2), "+0.0;−0.0;0.0"),
            (round(moved.effect_sti, 3), "+0.00;−0.00;0.00"),
            (round(moved.effect_speech_to_noise_db, 2), "+0.0;−0.0;0.0"),
        )
        self.text(self.row, _INSTEAD, moved.text, **LINE)
        for column, (value, shape) in enumerate(figures, start=_INSTEAD + 1):
            self.sheet.write_number(self.row, column, value, self.format(num_format=shape, **LINE))
        self.text(self.row, _KNOWN - 1, percent(moved.chance), align="right", **LINE)

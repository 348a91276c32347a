"""Open questions as text, for the telephone."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from wellheard.dossier.survey.model import Question, Survey

WIDTH = 100


def questions(found: Survey) -> str:
    """Every open question, ranked, with whom to ask and what it does to the worst seat."""
    from wellheard.dossier.survey.layout import moves, page

    lines = [found.title or "Survey", "", *textwrap.wrap(found.ground, WIDTH), ""]
    moving = [q for q in found.questions if moves(q, found.worst)]
    needed = [q for q in found.questions if q.weight is None]
    number = 0
    for q in moving:
        number += 1
        lines += [*_question(number, q, found), ""]
    still = page(found).still
    if still:
        lines += [*textwrap.wrap(still, WIDTH), ""]
    if moving and needed:
        lines += ["Needed for the job all the same, in the order of work", ""]
    for q in needed:
        number += 1
        lines += [*_question(number, q, found), ""]
    return "\n".join(lines).rstrip().replace("\u00a0", " ")


def _question(number: int, q: Question, found: Survey) -> list[str]:
    from wellheard.dossier.survey.layout import effect_words

    lines = textwrap.wrap(f"{number:>3}  {q.sentence}", WIDTH, subsequent_indent="     ")
    known = "nobody said so" if q.standing == "left out" else q.standing
    taken = f"Taken now: {q.taken} ({known}). " if q.taken else ""
    said = f"{taken}Ask: {q.asked}. {q.why}"
    lines += textwrap.wrap(said, WIDTH, initial_indent="     ", subsequent_indent="     ")
    lines += [f"       {m.text}: {effect_words(m, found.worst)}" for m in q.moved]
    return lines

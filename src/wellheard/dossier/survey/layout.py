"""A survey as a writer sets it on paper: figures as text, questions numbered."""

from __future__ import annotations

from dataclasses import dataclass

from wellheard.dossier.model import Identity, Paper
from wellheard.dossier.survey.model import Answer, Part, Question, Survey, Worst
from wellheard.dossier.words import (
    NBSP,
    figure,
    fixed_spaces,
    listed,
    percent,
    shortened,
    with_unit,
)
from wellheard.predict.sensitivity import Moved

CAUTION = "A survey opens nothing: local code and licensed practice decide."
HEAD_ROOM = 72
"""Characters that the head of a page holds."""


@dataclass(frozen=True)
class Printed:
    """One question as it stands on paper."""

    number: int
    sentence: str
    who: str
    why: str
    taken: Answer
    moved: tuple[tuple[str, str, str, str, str], ...]
    """What else it might be; shift of D/R [dB], of STI, of S/N [dB]; chance then."""


@dataclass(frozen=True)
class Page:
    """Everything that the template sets."""

    title: str
    heading: str
    whose: str
    running: str
    paper: Paper
    lengths: str
    identity: Identity
    caution: str
    parts: tuple[Part, ...]
    ground: str
    moving: tuple[Printed, ...]
    still: str
    needed: tuple[Printed, ...]
    needed_heading: str


def page(survey: Survey) -> Page:
    """Return a survey laid out for paper."""
    moving = [q for q in survey.questions if moves(q, survey.worst)]
    still = [q for q in survey.questions if q.weight is not None and not moves(q, survey.worst)]
    needed = [q for q in survey.questions if q.weight is None]
    title = survey.title or "Room survey"
    return Page(
        title=f"Survey: {title}",
        heading=survey.title or "Survey sheet",
        whose=shortened(survey.whose, HEAD_ROOM),
        running=shortened(" · ".join(t for t in (survey.title, survey.whose) if t), HEAD_ROOM),
        paper=survey.paper,
        lengths="feet and inches" if survey.paper == "us-letter" else "metres",
        identity=survey.identity,
        caution=CAUTION,
        parts=survey.parts,
        ground=fixed_spaces(survey.ground),
        moving=tuple(_printed(i, q) for i, q in enumerate(moving, start=1)),
        still=_still(still),
        needed=tuple(_printed(i, q) for i, q in enumerate(needed, start=len(moving) + 1)),
        needed_heading="Needed for the job all the same" if moving else "In the order of work",
    )


LEAST_DB, LEAST_STI, LEAST_CHANCE = 0.3, 0.01, 0.01
"""Shifts that are worth a call: of D/R and S/N, of STI, and one point of chance. Nobody hears less
(common practice [C])."""


def moves(question: Question, worst: Worst | None) -> bool:
    """Whether an alternative moves the worst seat, or the chance, by as much as is worth a call.

    Examples
    --------
    >>> from wellheard.dossier.survey.questions import general
    >>> any(moves(q, None) for q in general())
    False
    """
    return worst is not None and any(_worth_a_call(m, worst) for m in question.moved)


def _worth_a_call(moved: Moved, worst: Worst) -> bool:
    shifts = (
        (moved.effect_db, LEAST_DB),
        (moved.effect_sti, LEAST_STI),
        (moved.effect_speech_to_noise_db, LEAST_DB),
        (moved.chance - worst.chance, LEAST_CHANCE),
    )
    return any(abs(shift) >= least - 1e-9 for shift, least in shifts)


def _still(questions: list[Question]) -> str:
    if not questions:
        return ""
    names = listed([q.subject for q in questions])
    return (
        f"Tried, and not worth a call: {names}. Whatever else each "
        f"may be, the worst place moves by less than {LEAST_DB:g}{NBSP}dB, {LEAST_STI:g} of STI "
        "and one point of chance."
    )


def _printed(number: int, question: Question) -> Printed:
    return Printed(
        number,
        question.sentence,
        question.asked,
        question.why,
        Answer(fixed_spaces(question.taken), question.standing),
        tuple((fixed_spaces(m.text), *effects(m)) for m in question.moved),
    )


def signed(value: float, places: int) -> str:
    """Shift with its sign; none where it rounds to nothing.

    Examples
    --------
    >>> signed(1.24, 1), signed(-0.31, 1), signed(0.001, 2)
    ('+1.2', '−0.3', '0.00')
    """
    text = figure(value, places)
    return text if text.startswith("−") or not text.strip("0.") else f"+{text}"


def effects(moved: Moved) -> tuple[str, str, str, str]:
    """Shifts of D/R, STI and S/N of the worst seat, and the chance of whichever is worst then."""
    return (
        signed(moved.effect_db, 1),
        signed(moved.effect_sti, 2),
        signed(moved.effect_speech_to_noise_db, 1),
        percent(moved.chance),
    )


def effect_words(moved: Moved, worst: Worst | None) -> str:
    """The same in one line of text."""
    ratio, sti, noise, chance = effects(moved)
    now = "" if worst is None else f"{percent(worst.chance)} → "
    return (
        f"D/R{NBSP}{with_unit(ratio, 'dB')}, STI{NBSP}{sti}, S/N{NBSP}{with_unit(noise, 'dB')}; "
        f"chance{NBSP}{now}{chance}"
    )

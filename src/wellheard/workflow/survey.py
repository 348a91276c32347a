"""Before the design: what is known of a room, what is open, and which question to ask first."""

from __future__ import annotations

import dataclasses
from typing import Any

from wellheard import __version__
from wellheard.dossier.figures import sheet
from wellheard.dossier.model import Identity, Paper, Sheet
from wellheard.dossier.places import spoken_name, value_text
from wellheard.dossier.survey import form, questions
from wellheard.dossier.survey.filled import lines
from wellheard.dossier.survey.model import Question, Worst
from wellheard.dossier.survey.model import Survey as Survey
from wellheard.dossier.survey.wordings import WORDINGS
from wellheard.dossier.words import counted, percent, sentence
from wellheard.drawings.plan import plan_small
from wellheard.errors import InputError
from wellheard.place.microphones import TIME_LIMIT
from wellheard.predict import ledger, scene, sensitivity
from wellheard.predict.evidence import Evidence
from wellheard.predict.parts import plain_evidence
from wellheard.room.divide import spoken
from wellheard.units import Unit
from wellheard.workflow import design
from wellheard.workflow.design import Progress, quiet
from wellheard.workflow.load import Loaded, document_hash
from wellheard.workflow.sheets import Space, plan_view

PLAN_WIDTH = 112.0
"""Width of the plan on the sheet [mm]."""
PAPERS: dict[Unit, Paper] = {"m": "a4", "ft": "us-letter"}
NOTHING_KNOWN = (
    "No room is given, so no question can be ranked by what its answer changes: these are all, in "
    "the order of work."
)
NOTHING_HEARD = (
    "No place is heard by a microphone in every arrangement, so no question is ranked by what its "
    "answer changes: they stand in the order of work."
)
EFFECTS = (
    "Each input is tried by itself at what else it might be, and the room predicted anew: shifts "
    "of direct to reverberant sound (D/R), STI and speech to noise (S/N) there, and the chance of "
    "whichever place is then the worst."
)


def survey(
    loaded: Loaded | None,
    *,
    unit: Unit = "m",
    time_limit: float = TIME_LIMIT,
    say: Progress = quiet,
) -> Survey:
    """Return the survey sheet of a room, or a blank one.

    Parameters
    ----------
    loaded : Loaded or None
        The document; None where nothing is known yet.
    unit : {"m", "ft"}
        Of a blank sheet, with the paper that goes with it; a document states its own.
    time_limit : float
        For placing microphones in memory where the document has none. [s]
    say : callable
        Told how far things are.

    Returns
    -------
    Survey
        Its questions ranked by how far each moves the worst seat, then those that no prediction
        depends on, in the order of work. The document is not changed.
    """
    if loaded is None:
        return Survey(
            title="",
            whose="",
            paper=PAPERS[unit],
            identity=Identity("", __version__, ""),
            parts=form.parts(None, unit=unit, plan=None),
            questions=questions.general(),
            worst=None,
            ground=NOTHING_KNOWN,
        )
    room = loaded.room
    evidence, ground = _served(loaded, time_limit=time_limit, say=say)
    say("trying what else each input might be …")
    moving = sensitivity.sensitivities(evidence)
    project = room.project
    identity = Identity(
        document_hash=document_hash(loaded.document.text),
        tool_version=__version__,
        date=str(project.date) if project.date else "",
        revision=project.revision,
        project=project.number,
    )
    open_questions = questions.ranked(moving, room) if moving else _unranked()
    asked = {q.topic for q in open_questions}
    return Survey(
        title=room.title or "Untitled room",
        whose=" · ".join(part for part in (project.client, project.site) if part),
        paper=PAPERS[room.units],
        identity=identity,
        parts=form.parts(room, unit=room.units, plan=_drawn(loaded)),
        questions=(
            *open_questions,
            *(q for q in questions.needed(room) if q.topic not in asked),
        ),
        worst=_worst(evidence),
        ground=ground,
    )


def _unranked() -> tuple[Question, ...]:
    """Where nothing could be placed: what a prediction would depend on, in the order of work."""
    return tuple(q for q in questions.general() if q.topic in WORDINGS)


def _served(loaded: Loaded, *, time_limit: float, say: Progress) -> tuple[Evidence, str]:
    """Evidence with microphones: the document's own, else such as placement proposes."""
    evidence = plain_evidence(loaded.room, loaded.catalogue)
    if evidence.outbound:
        said = counted(len(evidence.microphones), "microphone")
        return evidence, _ground(evidence, f"with the {said} of the document")
    try:
        placed = design.place(loaded, time_limit=time_limit, say=say)
    except InputError as error:
        return evidence, (
            f"No microphone is in the document and none could be placed to try with ({error}), so "
            "no question is ranked by what its answer changes: they stand in the order of work."
        )
    evidence = plain_evidence(placed.room, loaded.catalogue)
    if not evidence.outbound:
        return evidence, NOTHING_HEARD
    said = counted(len(evidence.microphones), "microphone")
    how = f"with {said} placed for this survey only, the document has none"
    if placed.proposal.proof.status == "infeasible":
        how += "; the promise cannot be met, this is the best that was reached"
    return evidence, _ground(evidence, how)


def _ground(evidence: Evidence, how: str) -> str:
    worst = evidence.worst()
    assert worst is not None
    place = spoken_name(worst.talker.owner, worst.talker.kind)
    if worst.arrangement:
        place += f" in the arrangement {spoken(worst.arrangement)}"
    values = ", ".join(
        f"{words} {value_text(q.name, q.value)}"
        for words, q in (
            ("D/R", worst.direct_to_reverberant),
            ("STI", worst.sti),
            ("S/N", worst.speech_to_noise),
        )
    )
    return (
        f"Reckoned {how}. The worst place is {place}: {values}, chance {percent(worst.chance)}. "
        f"{EFFECTS}"
    )


def _worst(evidence: Evidence) -> Worst | None:
    row = evidence.worst()
    if row is None:
        return None
    return Worst(
        seat=row.talker.id,
        direct_to_reverberant_db=row.direct_to_reverberant.value,
        sti=row.sti.value,
        speech_to_noise_db=row.speech_to_noise.value,
        chance=row.chance,
    )


def _drawn(loaded: Loaded) -> Sheet:
    """The room as the document has it, no device in it, each seat with its name."""
    room = loaded.room.model_copy(update={"devices": {}, "arrangements": {}})
    bare = scene.build(room, loaded.catalogue)
    evidence = ledger.evidence(bare, assumptions=False)
    view = plan_view(
        evidence,
        (Space(bare, evidence, {}),),
        quantity="direct_to_reverberant_db",
        sheet="",
        of="",
        document_hash="",
        state="surveyed, not yet designed",
    )
    # Nothing is judged yet: a name for a figure, and the one state that is drawn without a mark.
    seats = tuple(dataclasses.replace(s, figure=s.id, state="kept") for s in view.seats)
    standing = tuple(dataclasses.replace(s, figure="", state="kept") for s in view.standing)
    return sheet(plan_small(dataclasses.replace(view, seats=seats, standing=standing), PLAN_WIDTH))


def written(found: Survey, form_name: str) -> bytes:
    """Return the survey as a file: ``pdf`` or ``xlsx``."""
    if form_name == "pdf":
        from wellheard.dossier.writers.typst_pdf import write_survey as as_pdf

        return as_pdf(found)
    from wellheard.dossier.writers.xlsx import write_survey as as_xlsx

    return as_xlsx(found)


def as_json(found: Survey) -> dict[str, Any]:
    """What ``survey --format json`` prints."""
    worst = found.worst
    return {
        "title": found.title,
        "ground": found.ground,
        "worst": None
        if worst is None
        else {k: round(v, 3) if isinstance(v, float) else v for k, v in _plain(worst).items()},
        "questions": [_question(i, q) for i, q in enumerate(found.questions, start=1)],
        "known": [
            {
                "part": line.part.number,
                "step": line.part.title,
                "field": line.label,
                "path": line.path,
                "value": line.answer.text,
                "basis": line.answer.standing,
            }
            for line in lines(found.parts)
            if line.answer.text
        ],
    }


def _plain(worst: Worst) -> dict[str, Any]:
    return dataclasses.asdict(worst)


def _question(rank: int, q: Question) -> dict[str, Any]:
    return {
        "rank": rank,
        "topic": q.topic,
        "path": q.path,
        "value": q.taken,
        "basis": q.standing,
        "do": q.ask_to,
        "weight": None if q.weight is None else round(q.weight, 4),
        "tried": [
            {
                "value": m.text,
                "source": m.source,
                "effect_db": round(m.effect_db, 3),
                "effect_sti": round(m.effect_sti, 4),
                "effect_speech_to_noise_db": round(m.effect_speech_to_noise_db, 3),
                "chance": round(m.chance, 3),
                "weight": round(m.weight, 4),
            }
            for m in q.moved
        ],
        "ask": q.who,
        "question": q.sentence,
        "why": sentence(q.why),
        "part": q.part,
    }

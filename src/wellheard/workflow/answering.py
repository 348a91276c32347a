"""Open questions of a survey as somebody answers them at a screen: field, answer, change."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal, TypeAlias

from wellheard.dossier.survey.layout import effect_words, moves
from wellheard.dossier.survey.model import Question, Survey, Worst
from wellheard.dossier.survey.questions import needed
from wellheard.dossier.words import brief, fixed_spaces
from wellheard.predict.alternatives import standing_of
from wellheard.room.document import Room
from wellheard.units import Unit, format_length
from wellheard.workflow.design import Progress, quiet
from wellheard.workflow.finishing import BASES, SAID
from wellheard.workflow.load import load_text
from wellheard.workflow.survey import survey

Kind: TypeAlias = Literal["length", "number", "percent", "choice", "text", "toggle", "noise"]
"""What an answer is."""


@dataclass(frozen=True)
class _Form:
    """How one field of the document is asked for."""

    kind: Kind
    unit: str = ""
    options: tuple[tuple[str, str], ...] = ()
    with_basis: bool = True
    """Whether it matters how the answer is known."""


_YES = (("yes", "yes"), ("no", "no"))
_FORMS: dict[str, _Form] = {
    "space.height": _Form("length"),
    "space.ceiling.kind": _Form(
        "choice",
        options=(
            ("tiles", "lay-in tiles"),
            ("hard", "plasterboard"),
            ("open", "no ceiling, bare slab"),
        ),
    ),
    "space.ceiling.module": _Form("length"),
    "space.ceiling.void_depth": _Form("length"),
    "space.ceiling.air_return": _Form("toggle", options=_YES),
    "space.climate.temperature_c": _Form("number", "°C"),
    "space.climate.humidity": _Form("percent", "%"),
    "space.scattering": _Form("number", "0–1"),
    "people.occupancy": _Form("percent", "%"),
    "people.effort": _Form(
        "choice", options=tuple((w, f"{w} voice") for w in ("quiet", "normal", "raised", "loud"))
    ),
    "noise.background": _Form("noise", options=(("nc", "NC"), ("dba", "dBA"))),
    "far_end.noise": _Form("noise", options=(("nc", "NC"), ("dba", "dBA"))),
    "far_end.listening_level_dba": _Form("number", "dBA"),
    "far_end.one_way_delay_ms": _Form("number", "ms"),
    "site.region": _Form("text", with_basis=False),
    "site.seismic": _Form("text", with_basis=False),
    "choices.new_holes": _Form("toggle", options=_YES, with_basis=False),
    "targets.price": _Form("number", with_basis=False),
}
_ASKED_FOR_MORE = frozenset({"people-to-ask", "ceiling-age", "owned", "connection", "network"})
"""Questions whose answer is more than the field they touch."""


@dataclass(frozen=True)
class Answerable:
    """The field that an answer goes into.

    Attributes
    ----------
    path : str
        In the document.
    kind : str
        What is typed or chosen.
    value, part : str
        What stands there now; ``part`` is the chosen option beside a number.
    unit : str
        Behind the field.
    options : tuple of (value, words)
    bases : tuple of (value, words)
        How the answer may be known; empty where that does not matter.
    basis : str
        How it is known now; empty where nobody has told.
    """

    path: str
    kind: Kind
    value: str
    part: str = ""
    unit: str = ""
    options: tuple[tuple[str, str], ...] = ()
    bases: tuple[tuple[str, str], ...] = ()
    basis: str = ""


@dataclass(frozen=True)
class AskedQuestion:
    """One open question, ready for a page.

    Attributes
    ----------
    effects : tuple of (value, effect)
        What else it might be, and what that does to the worst place.
    counts : bool
        Whether an answer moves the worst place, or its chance, by as much as is worth a call.
    field : Answerable or None
        None where no field of the document takes the answer.
    surface : str
        Path of the surface whose finish it asks for; else empty.
    """

    rank: int
    topic: str
    sentence: str
    ask_to: str
    who: str
    why: str
    taken: str
    said: str
    effects: tuple[tuple[str, str], ...]
    counts: bool
    field: Answerable | None
    surface: str


def surveyed(*, text: str, path: str, say: Progress = quiet) -> Survey:
    """The survey of a document as it stands, with its questions ranked; takes seconds.

    Parameters
    ----------
    text, path : str
        The document, and where it would be read from.
    say : callable
        Told how far things are.
    """
    say("reading …")
    return survey(load_text(text, path), say=say)


def unranked(room: Room, *, unit: Unit) -> tuple[AskedQuestion, ...]:
    """Questions that no prediction is needed for, in the order of work."""
    return tuple(_asked(rank, q, room, None, unit) for rank, q in enumerate(needed(room), start=1))


def asked(found: Survey, room: Room, *, unit: Unit) -> tuple[AskedQuestion, ...]:
    """Questions of a survey with the fields that their answers go into."""
    return tuple(
        _asked(rank, question, room, found.worst, unit)
        for rank, question in enumerate(found.questions, start=1)
    )


def _asked(
    rank: int, question: Question, room: Room, worst: Worst | None, unit: Unit
) -> AskedQuestion:
    return AskedQuestion(
        rank=rank,
        topic=question.topic,
        sentence=question.sentence,
        ask_to=question.ask_to,
        who=question.asked,
        why=question.why,
        taken=fixed_spaces(question.taken),
        said=SAID[question.standing],
        effects=tuple((fixed_spaces(m.text), effect_words(m, worst)) for m in question.moved),
        counts=moves(question, worst),
        field=_field(question, room, unit),
        surface=_surface(question, room),
    )


def _surface(question: Question, room: Room) -> str:
    if not question.topic.startswith("finish:"):
        return ""
    if question.path == "space.finishes.walls":  # one finish for all: ask for the one it names
        name = question.topic.rpartition(":")[2]
        return f"{question.path}.{name if name in room.space.walls else room.space.walls[0]}"
    return question.path


def _field(question: Question, room: Room, unit: Unit) -> Answerable | None:
    if question.topic in _ASKED_FOR_MORE:
        return None
    path = question.path
    form = _FORMS.get(path)
    if question.topic.startswith("noise-source:"):
        source = room.noise.sources[question.topic.rpartition(":")[2]]
        if source.dba_at_1m is not None:  # one by octaves is not answered with a single figure
            path, form = f"{path}.dba_at_1m", _Form("number", "dBA at 1 m")
    if form is None:
        return None
    value, part = _now(room, path, form, unit)
    standing = standing_of(room, question.path)
    return Answerable(
        path=path,
        kind=form.kind,
        value=value,
        part=part,
        unit=form.unit or (room.project.currency if path == "targets.price" else ""),
        options=form.options,
        bases=tuple((b, SAID[b]) for b in BASES) if form.with_basis else (),
        basis=standing if standing != "left out" and form.with_basis else "",
    )


def _now(room: Room, path: str, form: _Form, unit: Unit) -> tuple[str, str]:
    """What stands in a field, as it is typed."""
    value: Any = room
    for step in path.split("."):
        value = value[step] if isinstance(value, dict) else getattr(value, step)
    if form.kind == "noise":
        if value.nc is not None:
            return f"{value.nc:g}", "nc"
        return ("" if value.dba is None else f"{value.dba:g}"), "dba"
    if value is None or value == "unknown":
        return "", ""
    if form.kind == "length":
        metres = value[0] if isinstance(value, tuple) else value
        return format_length(metres, unit=unit, places=3 if unit == "m" else 2), ""
    if form.kind == "percent":
        return brief(100 * value, 1), ""
    if form.kind == "toggle":
        return ("yes" if value else "no"), ""
    return (f"{value:g}" if isinstance(value, float) else str(value)), ""


def operations(field: Answerable, typed: Mapping[str, str]) -> list[dict[str, Any]]:
    """Change of the document that an answer makes.

    Parameters
    ----------
    field : Answerable
        What is answered.
    typed : mapping
        Text of ``value``, and as the field has them of ``part`` and ``basis``.

    Raises
    ------
    ValueError
        It is no answer to this; what was found and what is allowed.

    Examples
    --------
    >>> height = Answerable("space.height", "length", "2.7 m", bases=(("told", "told"),))
    >>> operations(height, {"value": "9 ft", "basis": "told"})
    [{'path': 'space.height', 'typed': '9 ft'}, {'path': 'basis.space.height', 'set': 'told'}]
    """
    text = typed.get("value", "").strip()
    if not text:
        raise ValueError("nothing is here; write the answer, or leave the question open")
    made = [_operation(field, text, typed.get("part", ""))]
    if field.bases:
        basis = typed.get("basis", "")
        if basis not in dict(field.bases):
            raise ValueError("how is it known? Choose told, from a drawing, measured or assumed")
        # A source is known as a whole: nobody measures its level and guesses its place.
        path = field.path.removesuffix(".dba_at_1m")
        made.append({"path": f"basis.{path}", "set": basis})
    return made


def _operation(field: Answerable, text: str, part: str) -> dict[str, Any]:
    path, kind = field.path, field.kind
    if kind in ("choice", "toggle"):
        if text not in dict(field.options):
            allowed = " or ".join(words for _, words in field.options)
            raise ValueError(f"{text[:40]!r} is no answer here; {allowed}")
        return {"path": path, "set": text == "yes" if kind == "toggle" else text}
    if kind == "noise":
        form = part if part in dict(field.options) else "nc"
        return {"path": path, "set": {form: _number(text)}}
    if kind in ("number", "percent"):
        value = _number(text.removesuffix("%").strip() if kind == "percent" else text)
        return {"path": path, "set": round(value / 100, 6) if kind == "percent" else value}
    return {"path": path, "typed": text}


def _number(text: str) -> float:
    plain = text.replace("−", "-").replace("\u00a0", "")
    try:
        value = float(plain)
    except ValueError:
        raise ValueError(f"{text[:40]!r} is no number; write one such as 30") from None
    if not -1e9 < value < 1e9:
        raise ValueError(f"{text[:40]!r} is no number for this; write one such as 30")
    return value

"""Behind the customer's answer: what was assumed for it, and what it does not cover."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Literal

from wellheard.dossier.model import (
    Block,
    Contents,
    Entries,
    Entry,
    Facts,
    Heading,
    Letterhead,
    Line,
    Paragraph,
    Run,
    Section,
)
from wellheard.dossier.sections.grounds import BASIS_PATHS, basis_words, open_questions
from wellheard.dossier.words import (
    NBSP,
    count_word,
    figure,
    fixed_spaces,
    full_stop,
    listed,
    sentence,
)
from wellheard.predict.evidence import Assumed, Evidence

TITLE = "Behind the answer"
MOST_ASSUMED = 7
"""Assumptions that are told one by one."""

OPEN: Mapping[str, str] = {
    "Every place": "No microphone is placed yet, so that nothing is known of any place.",
    "The way back as it is set up": (
        "How the system behaves once it is set up: equalisers and limiters, and what the echo "
        "canceller does when both ends speak at once. It is measured on site."
    ),
    "Sound from the far end": (
        "How loud and how clear the far end is in this room: no loudspeaker is predicted."
    ),
    "Echo": "Whether the far end hears its own voice come back.",
    "The connection": (
        "The network, the conferencing service and the computer: what they do to the sound, and "
        "how long they take, is as you told us or as is usual."
    ),
    "The voice in the room": "Whether people in the room hear each other better or worse.",
    "Noise that changes": (
        "Noise that comes and goes: traffic, weather, neighbours, paper, keys, two people who "
        "speak at once."
    ),
    "Privacy": "What is understood outside the room, and who may listen or record.",
    "Structure and services": (
        "Whether ceiling and walls carry what is fixed to them, and what is hidden in them: pipes, "
        "mains, old materials. Somebody licensed looks before anything is drilled."
    ),
    "Cables": "Where cables can run, and whether there is power where it is needed.",
    "The site": (
        "Which building rules bind: the region is not known yet, and with it the kind of cable, "
        "the mains and the bracing against earthquakes."
    ),
}
"""What is left open, as a customer reads it."""
_PATH = re.compile(r"^[a-z_]+(?:\.[a-z0-9_-]+)+ is assumed(: .*?)?\.?$")


def behind_section(evidence: Evidence, letterhead: Letterhead | None = None) -> Section:
    """Return what the customer's answer rests on and what it leaves open, in plain sentences."""
    blocks: tuple[Block, ...] = (
        Heading("What was known"),
        Paragraph((Run(fixed_spaces(_known(evidence))),)),
        Heading("What we assumed"),
        *_assumed(evidence.assumptions),
        Heading("What is not assessed"),
        Paragraph((Run("None of this is promised; ask us where it matters to you."),)),
        Entries(
            tuple(
                Entry("not assessed", "", (Run(fixed_spaces(OPEN[label])),), (), "")
                for label, _ in open_questions(evidence)
            )
        ),
        *_from(letterhead or Letterhead()),
        Contents(),
    )
    return Section(TITLE, "customer", blocks)


def _from(whose: Letterhead) -> list[Block]:
    """The house's own last words, where to find it, and its terms."""
    blocks: list[Block] = []
    if whose.closing:
        blocks.append(Heading(f"From {whose.company}" if whose.company else "In closing"))
        blocks += _paragraphs(whose.closing)
    where = (*whose.address, *((whose.contact,) if whose.contact else ()))
    if where:
        blocks.append(Facts(((whose.company or "Contact", (Run(" · ".join(where)),)),)))
    if whose.terms:
        blocks.append(Heading("Terms"))
        blocks += _paragraphs(whose.terms, "note")
    return blocks


def _paragraphs(text: str, size: Literal["body", "note"] = "body") -> list[Paragraph]:
    return [
        Paragraph((Run(" ".join(part.split())),), size)
        for part in text.split("\n\n")
        if part.strip()
    ]


SOURCES = {
    "measured": "we measured",
    "drawing": "we took from drawings",
    "told": "you told us",
}
"""How a customer hears where inputs come from."""


def _known(evidence: Evidence) -> str:
    words = basis_words(evidence)
    said = [
        f"{SOURCES[basis]} {listed([_the(one) for one in words[basis]])}"
        for basis in SOURCES
        if basis in words
    ]
    if not said:
        return "Nothing was measured, drawn or told: every input is assumed."
    return full_stop(sentence("; ".join(said)))


def _the(words: str) -> str:
    """With its article.

    Examples
    --------
    >>> _the("finishes"), _the("the far end")
    ('the finishes', 'the far end')
    """
    return words if words.startswith("the ") else f"the {words}"


def _assumed(assumptions: Sequence[Assumed]) -> tuple[Block, ...]:
    if not assumptions:
        return (Paragraph((Run("Nothing: the document states every input that was used."),)),)
    ordered = sorted(assumptions, key=_weight)
    rest = len(ordered) - MOST_ASSUMED
    lead = (
        "Nobody has confirmed the following. Tell us where it is otherwise; what moves the answer "
        "most stands first."
    )
    blocks: list[Block] = [
        Paragraph((Run(lead),)),
        Entries(tuple(Entry(None, "", _line(one), (), "") for one in ordered[:MOST_ASSUMED])),
    ]
    if rest > 0:
        more = f"{count_word(rest)} more, of less weight, {'is' if rest == 1 else 'are'} listed in "
        blocks.append(Paragraph((Run(f"{sentence(more)}the part on how it was worked out."),)))
    return tuple(blocks)


def _weight(one: Assumed) -> tuple[float, float]:
    return (-abs(one.effect_db or 0.0), -abs(one.effect_sti or 0.0))


def _line(one: Assumed) -> Line:
    return (Run(fixed_spaces(full_stop(told_plainly(one))), "told"), *_moves(one))


def told_plainly(one: Assumed) -> str:
    """Return an assumption without a path of the document in it.

    Examples
    --------
    >>> told_plainly(Assumed("equipment.computer", "equipment.computer is assumed.", None, None))
    'What is said of the equipment “computer” is assumed.'
    >>> told_plainly(Assumed("noise.background", "noise.background is assumed: NC 30.", None, None))
    'The background noise is assumed: NC 30.'
    """
    found = _PATH.match(one.text)
    if found is None:
        return one.text
    value = found[1] or ""
    words = dict(BASIS_PATHS).get(one.path)
    if words is not None:
        are = "are" if words.endswith("s") or " and " in words else "is"
        return f"The {words.removeprefix('the ')} {are} assumed{value}."
    first, _, last = one.path.partition(".")
    name = last.replace("_", " ").replace(".", ", ")
    return f"What is said of the {first} “{name}” is assumed{value}."


def _moves(one: Assumed) -> Line:
    """How far the worst place moves, where that was reckoned and can be seen."""
    if one.effect_db is not None and round(abs(one.effect_db), 1):
        by = f"{figure(abs(one.effect_db), 1)}{NBSP}dB"
    elif one.effect_sti is not None and round(abs(one.effect_sti), 2):
        by = f"an STI of {figure(abs(one.effect_sti), 2)}"
    else:
        return ()
    return (Run(f" If it is otherwise, the worst place may move by {by}.", "soft"),)

"""What designs are called by what distinguishes them, and why one would take each."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from wellheard.catalog.catalogue import Catalogue
from wellheard.dossier.sections.room import area_text
from wellheard.dossier.words import NBSP, count_word, counted, listed, percent, sentence
from wellheard.room.document import Room
from wellheard.schedules.bill import inside
from wellheard.units import Unit, money
from wellheard.workflow.disruption import UNCUT

if TYPE_CHECKING:
    from wellheard.workflow.alternatives import Tried


LONGEST = 40
"""Letters of a folder's name behind its number."""


@dataclass(frozen=True)
class Words:
    """Name of a design, the same for a folder, and what speaks for it."""

    name: str
    slug: str
    why: str


def named(
    chosen: Sequence[Tried], catalogue: Catalogue, room: Room, *, kept: bool
) -> tuple[Words, ...]:
    """Words for each of some designs, cheapest first, as they stand beside each other.

    Where none is ``kept``, the surest is only nearest to its promise.
    """
    names: list[str] = []
    for one in chosen:
        name = _name(one, chosen, kept=kept)
        if not name or name in names:
            own = _mounted(one, chosen) or _products(one, chosen, catalogue) or "In between"
            name = f"{name}, {own[:1].lower()}{own[1:]}" if name else own
        names.append(_unlike(name, names))
    return tuple(
        Words(name, f"{number}-{_slug(name)}", _why(one, chosen, room))
        for number, (name, one) in enumerate(zip(names, chosen, strict=True), start=1)
    )


def bought(one: Tried, catalogue: Catalogue) -> str:
    """Microphones and loudspeakers in words, with how many of them hang below the ceiling.

    What the rest of the design needs is on its bill.
    """
    devices = one.designed.placed.proposal.devices
    hung = Counter(d.product for d in devices if d.mounting == "ceiling" and d.drop)
    return " + ".join(
        f"{count} × {catalogue.product(product).name}{_hanging(hung[product], count)}"
        for product, count in one.counts.items()
    )


def _hanging(hung: int, count: int) -> str:
    """How many of some devices hang below the ceiling.

    Examples
    --------
    >>> _hanging(0, 2), _hanging(2, 2), _hanging(1, 3)
    ('', ', hung', ', 1 of them hung')
    """
    if not hung:
        return ""
    return ", hung" if hung == count else f", {hung} of them hung"


def _name(one: Tried, chosen: Sequence[Tried], *, kept: bool) -> str:
    """What it is the first in; '' for what lies between the others."""
    said = []
    if _leads(one, chosen, lambda burdens: burdens[0]):
        said.append("cheapest")
    if _leads(one, chosen, lambda burdens: burdens[1]):
        said.append("surest" if kept else "nearest to the promise")
    if one.figures.openings == 0 and any(other.figures.openings for other in chosen):
        said.append(UNCUT)
    name = listed(said)
    if one.treated is not None:
        name = f"{name}, with treatment" if name else "with treatment"
    return sentence(name)


def _leads(one: Tried, chosen: Sequence[Tried], axis: Callable[[tuple[float, ...]], float]) -> bool:
    """Whether it is ahead of all others in one thing, by itself or at less cost."""
    best = min(chosen, key=lambda other: (axis(other.figures.burdens), other.figures.burdens))
    return one is best


def _mounted(one: Tried, chosen: Sequence[Tried]) -> str:
    """Where its microphones are, if no other has them there."""
    where = _mountings(one)
    if any(_mountings(other) == where for other in chosen if other is not one):
        return ""
    return sentence(listed([_WHERE[name] for name in where]))


_WHERE = {
    "ceiling": "at the ceiling",
    "table": "on the table",
    "lectern": "on the lectern",
    "wall": "at the wall",
    "front": "at the picture",
}


def _mountings(one: Tried) -> tuple[str, ...]:
    devices = one.designed.placed.proposal.devices
    return tuple(dict.fromkeys(d.mounting for d in devices if d.kind == "microphone"))


def _products(one: Tried, chosen: Sequence[Tried], catalogue: Catalogue) -> str:
    """What it is made of, if no other is of the same."""
    if any(other.counts == one.counts for other in chosen if other is not one):
        return ""
    names = [
        f"{count} × {inside(catalogue.product(product).name)}"
        for product, count in one.counts.items()
    ]
    return sentence(listed(names))


def _unlike(name: str, names: Sequence[str]) -> str:
    """The name, told apart from equal ones by a number."""
    number, found = 2, name
    while found in names:
        found, number = f"{name} ({number})", number + 1
    return found


def _slug(name: str) -> str:
    """Name of a folder, of whole words.

    Examples
    --------
    >>> _slug("Surest, with treatment")
    'surest-with-treatment'
    >>> _slug("One ceiling head of three capsules and two of six")
    'one-ceiling-head-of-three-capsules-and'
    """
    slug = re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")
    return slug if len(slug) <= LONGEST else slug[: LONGEST + 1].rpartition("-")[0]


def _why(one: Tried, chosen: Sequence[Tried], room: Room) -> str:
    """What it has over the cheapest, and for what; of the cheapest what the others have."""
    cheapest = chosen[0]
    if len(chosen) == 1:
        return "No other design that was tried is better in anything."
    if one is cheapest:
        return "Least price of all that were tried."
    mine, its = one.figures, cheapest.figures
    gains: list[str] = []
    costs: list[str] = []
    if mine.burdens[1] != its.burdens[1]:
        (gains if mine.chance > its.chance else costs).append(
            f"a chance of {_chance(mine.chance)} instead of {_chance(its.chance)}"
        )
    if mine.openings != its.openings:
        (gains if mine.openings < its.openings else costs).append(
            f"{counted(mine.openings, 'opening')} instead of {count_word(its.openings)}"
        )
    if mine.burdens[3] != its.burdens[3]:
        (gains if mine.burdens[3] < its.burdens[3] else costs).append(
            f"{_finishes(mine.treatment_area, room.units)} instead of "
            f"{area_text(its.treatment_area, room.units) if its.treatment_area else 'none'}"
        )
    more = one.price - cheapest.price
    currency = one.bill.currency
    price = (
        f"for {money(more, currency, cents=False)} more" if more >= 0.5 else "for the same price"
    )
    but = f", with {listed(costs)}" if costs else ""
    return f"{sentence(listed(gains))} {price}{but}."


def _finishes(area: float, unit: Unit) -> str:
    """How much is laid.

    Examples
    --------
    >>> _finishes(12.3, "m"), _finishes(0.0, "ft")
    ('12.3\\xa0m² of finishes', 'no finishes')
    """
    return f"{area_text(area, unit)} of finishes" if area else "no finishes"


def _chance(chance: float) -> str:
    """As it is read aloud.

    Examples
    --------
    >>> _chance(0.999), _chance(0.87)
    ('more than 99\\xa0%', '87\\xa0%')
    """
    said = percent(chance)
    return said.replace(f">{NBSP}", "more than ").replace(f"<{NBSP}", "less than ")

"""What else could be bought: a few designs side by side, for whoever decides."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from wellheard.dossier.figures import picture
from wellheard.dossier.model import Block, Cell, Column, Facts, Paragraph, Run, Section, Table
from wellheard.dossier.words import count_word, counted, fixed_spaces, percent, sentence
from wellheard.drawings.alternativeschart import Ink, Mark, alternatives_chart
from wellheard.drawings.tokens import ThemeName
from wellheard.units import money

WIDTH = {"m": 168.0, "ft": 173.0}
"""Of a page's text. [mm]"""


@dataclass(frozen=True)
class Offered:
    """One design as a customer reads it.

    Parameters
    ----------
    name, products, why
        In words.
    price, chance
        Of the whole, and the least of all places.
    done, word
        What is done to the building, all of it and only what is weighed.
    ink
        Of its mark in the chart.
    leading
        It is the one that all other pages are of.
    """

    name: str
    products: str
    price: float
    chance: float
    done: str
    word: str
    why: str
    ink: Ink = "none"
    leading: bool = False


def alternatives_section(
    offered: Sequence[Offered],
    others: Sequence[tuple[float, float]],
    *,
    wanted: float | None,
    currency: str,
    kept: bool,
    remark: str = "",
    unit: Literal["m", "ft"] = "m",
) -> Section:
    """Return the page on which designs stand side by side.

    Parameters
    ----------
    offered : sequence of Offered
        Cheapest first.
    others : sequence of (float, float)
        Price and chance of others that were tried.
    wanted : float or None
        Chance that the document wants.
    currency : str
        Of the prices.
    kept : bool
        Whether all of them keep the promise.
    remark : str
        What else is to be known, in sentences.
    unit : {"m", "ft"}
        Of the document.
    """
    chart = chart_of(offered, others, wanted=wanted, currency=currency, width=WIDTH[unit])
    blocks: tuple[Block, ...] = (
        Paragraph((Run(_lead(offered, others, kept=kept)),), "lead"),
        _table(offered, currency),
        picture(chart),
        Facts(tuple((one.name, (Run(one.why),)) for one in offered)),
        Paragraph((Run(_note(remark)),), "note"),
    )
    return Section("What else could be chosen", "customer", blocks)


def chart_of(
    offered: Sequence[Offered],
    others: Sequence[tuple[float, float]],
    *,
    wanted: float | None,
    currency: str,
    width: float,
    theme: ThemeName = "white",
    embed_fonts: bool = False,
) -> str:
    """Return the chart of designs as SVG; parameters as in `alternatives_section`.

    ``width`` is that of the drawing [mm]; ``theme`` and ``embed_fonts`` are for a screen.
    """
    marks = [
        Mark(
            name=one.name,
            word="" if one.word in one.name.lower() else one.word,
            price=one.price,
            chance=one.chance,
            ink=one.ink,
            strong=one.leading,
        )
        for one in offered
    ]
    return alternatives_chart(
        marks,
        others,
        promise=wanted,
        currency=currency,
        width=width,
        title="Designs by price and chance",
        theme=theme,
        embed_fonts=embed_fonts,
    )


def _lead(offered: Sequence[Offered], others: Sequence[tuple[float, float]], *, kept: bool) -> str:
    tried = counted(len(offered) + len(others), "whole design")
    first = (
        f"Of {tried} that keep the promise, "
        if kept
        else f"{sentence(tried)} were tried, and none keeps the promise; "
    )
    if len(offered) == 1:
        whose = ", which the other pages are of" if offered[0].leading else ""
        return f"{first}none is better in anything than the one below{whose}."
    leading = [one.name for one in offered if one.leading]
    other = f" The other pages are of “{leading[0]}”." if leading else ""
    return (
        f"{first}these {count_word(len(offered))} are the ones to choose from: no other costs "
        "less, is surer or spares the building more without being worse in another of the three."
        f"{other}"
    )


def _table(offered: Sequence[Offered], currency: str) -> Table:
    columns = (
        Column("Design", 34),
        Column("What is placed", 0),
        Column("Price", 22, "right"),
        Column("Chance", 16, "right"),
        Column("Done to the building", 40),
    )
    rows: list[tuple[Cell, ...]] = [
        (
            Run(one.name, "strong"),
            Run(one.products),
            Run(money(one.price, currency, cents=False)),
            Run(percent(one.chance)),
            Run(one.done, "soft"),
        )
        for one in offered
    ]
    return Table(columns, tuple(rows))


def _note(remark: str) -> str:
    said = (
        "Prices are of the catalogue, installed, without tax: devices, electronics, cables and "
        "finishes. The chance is the least of all places and of all that is promised there. A full "
        "mark cuts openings in the ceiling, a half one lays finishes, an open one does neither; "
        "crosses are other designs that were tried. Tiles and cables in walls and floor "
        "are told, not weighed; fixings on walls are in none of it."
    )
    return fixed_spaces(f"{remark} {said}".strip())

"""Several designs of a document to choose from, as plain data: a table, a chart, their texts."""

from __future__ import annotations

from dataclasses import dataclass, field

from wellheard.dossier.model import Facts, Paragraph
from wellheard.dossier.sections.alternatives import alternatives_section, chart_of
from wellheard.dossier.words import full_stop, percent
from wellheard.drawings.tokens import ThemeName
from wellheard.units import Unit, money
from wellheard.workflow.alternative_answers import offered_designs, others_tried, remark, says
from wellheard.workflow.alternatives import alternatives, currency_of
from wellheard.workflow.design import Progress, quiet
from wellheard.workflow.difference import changes
from wellheard.workflow.load import Loaded
from wellheard.workflow.passages import Passage, passages_of
from wellheard.workflow.suggestion import note

MOST = 4
"""Designs to choose from."""
CHART_WIDTH = 122.0
"""Of the chart, so that on a sheet of the page no word of it is under 11 px. [mm]"""
THEMES: tuple[ThemeName, ...] = ("white", "slate")


@dataclass(frozen=True)
class Design:
    """One of them.

    Attributes
    ----------
    name, products, price, chance, done, why : str
        As it is read.
    text : str
        The document with it: placed, wired, treated where that is part of it.
    """

    name: str
    products: str
    price: str
    chance: str
    done: str
    why: str
    text: str = field(repr=False)


@dataclass(frozen=True)
class Choices:
    """What there is to choose from.

    Attributes
    ----------
    base : str
        The document that they were worked out from.
    version : int
        Of it.
    kept : bool
        Whether they keep the promise.
    designs : tuple of Design
        Cheapest first.
    charts : dict of theme to SVG
    lead, end : tuple of Passage
        What is said before and after.
    changes : tuple of str
        What was asked differently from the document, as sentences; it is taken along.
    """

    base: str = field(repr=False)
    version: int
    kept: bool
    designs: tuple[Design, ...]
    charts: dict[ThemeName, str] = field(repr=False)
    lead: tuple[Passage, ...]
    end: tuple[Passage, ...]
    changes: tuple[str, ...]


def choices(
    base: Loaded,
    wanted: Loaded,
    *,
    version: int,
    unit: Unit,
    time_limit: float,
    say: Progress = quiet,
) -> Choices:
    """Find designs that differ in price, chance and what is done to the building.

    Parameters
    ----------
    base, wanted : Loaded
        The document as it stands, and with the choices and the promise that were asked for.
    version : int
        Of the document as it stands.
    unit : {"m", "ft"}
        Of lengths that are read.
    time_limit : float
        For each search. [s]
    say : callable
        Told how far things are.

    Raises
    ------
    InputError
        As `wellheard.workflow.alternatives.alternatives` does.
    """
    found = alternatives(wanted, MOST, time_limit=time_limit, say=say)
    offered = offered_designs(wanted, found, unit)
    others, currency = others_tried(found), currency_of(found.tried)
    chance = wanted.room.targets.chance
    section = alternatives_section(
        offered, others, wanted=chance, currency=currency, kept=found.kept, unit=unit
    )
    lead, *_, end = [one for one in section.blocks if isinstance(one, Paragraph | Facts)]
    return Choices(
        base=base.document.text,
        version=version,
        kept=found.kept,
        designs=tuple(
            Design(
                name=one.name,
                products=one.products,
                price=money(one.price, currency, cents=False),
                chance=percent(one.chance),
                done=one.done,
                why=full_stop(one.why),
                text=design.tried.designed.text,
            )
            for one, design in zip(offered, found.chosen, strict=True)
        ),
        charts={
            theme: chart_of(
                offered,
                others,
                wanted=chance,
                currency=currency,
                width=CHART_WIDTH,
                theme=theme,
                embed_fonts=True,
            )
            for theme in THEMES
        },
        lead=tuple(passages_of([lead])),
        # What is said of the design of other pages is for a dossier.
        end=(*passages_of([end]), note(says(found).removesuffix(remark(found)))),
        changes=tuple(
            full_stop(one.text) for one in changes(base.room, wanted.room, wanted.catalogue)
        ),
    )

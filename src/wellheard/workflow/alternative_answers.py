"""Alternatives as they are read: JSON, files of a folder, the page of the dossier."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from wellheard.dossier.model import Section
from wellheard.dossier.sections.alternatives import Offered, alternatives_section
from wellheard.drawings.alternativeschart import Ink
from wellheard.schedules.whole import schedules
from wellheard.units import Unit, money
from wellheard.workflow.alternatives import OUTCOMES, Alternative, Alternatives, Tried, currency_of
from wellheard.workflow.load import Loaded
from wellheard.workflow.naming import bought
from wellheard.workflow.publish import Enclosed, room_file_name
from wellheard.workflow.schedule_tables import schedule_files

FOLDER = "alternatives"


def enclosed(loaded: Loaded, found: Alternatives) -> Enclosed:
    """What a design's folder has of its alternatives."""
    return Enclosed(
        sections=(_section(loaded, found),),
        files=_files(loaded, found),
        answer=answer(loaded, found),
    )


def document_of(loaded: Loaded, one: Alternative) -> str:
    """Name of its document inside the folder of the design."""
    return f"{FOLDER}/{one.slug}/{room_file_name(loaded)}"


def answer(loaded: Loaded, found: Alternatives) -> dict[str, Any]:
    """What ``design --alternatives --format json`` prints beside the design."""
    return {
        "alternatives": [_alternative(loaded, found, one) for one in found.chosen],
        "alternatives_tried": {
            "designs": [
                {
                    "varied": one.variation.words,
                    **_figures(one),
                    "kept": one.designed.kept,
                    "dominated_by": _words_of(found.dominating(one)),
                }
                for one in found.tried
            ],
            "ruled_out": [
                {
                    "varied": one.variation.words,
                    "outcome": one.outcome,
                    "means": OUTCOMES[one.outcome],
                    "why": one.why or None,
                }
                for one in found.skipped
            ],
            "left": [one.words for one in found.left],
            "dominated": len(found.dominated),
            "kept": found.kept,
        },
    }


def says(found: Alternatives) -> str:
    """How many were tried, ruled out and left, and how the design of the folder stands.

    The last is said where that design is not among those to choose from.
    """
    count = len(found.tried)
    said = (
        f"{count} whole design{'' if count == 1 else 's'} tried, {len(found.dominated)} dominated"
    )
    if len(found.tried) > len(found.weighed):
        said += f", {len(found.tried) - len(found.weighed)} not keeping the promise"
    if found.skipped:
        said += f"; {len(found.skipped)} ways ruled out without solving them"
    if found.left:
        said += f"; {len(found.left)} combined ways not tried"
    return f"{said}.{remark(found)}"


def remark(found: Alternatives) -> str:
    """What is to be said of the design of the folder where others come before it; else ''."""
    first = found.tried[0]
    if any(one.leading for one in found.chosen):
        return ""
    currency = currency_of(found.tried)
    said = (
        f" The design of the other pages comes to {money(first.price, currency, cents=False)}: it "
        "needs the least for microphones and loudspeakers"
    )
    better, catalogue = found.dominating(first), first.designed.judged.evidence.catalogue
    if better is None:
        return f"{said}."
    return (
        f"{said}, but with electronics and cables another ({bought(better, catalogue)}) is no "
        f"worse in anything and {_gain(better, first, currency)}."
    )


def _gain(better: Tried, than: Tried, currency: str) -> str:
    less = than.price - better.price
    return (
        f"costs {money(less, currency, cents=False)} less" if less >= 0.5 else "better in something"
    )


def _alternative(loaded: Loaded, found: Alternatives, one: Alternative) -> dict[str, Any]:
    tried = one.tried
    evidence = tried.designed.judged.evidence
    states = [evidence.state_of(talker.id) for talker in evidence.talkers]
    return {
        "name": one.name,
        **_figures(tried),
        "currency": currency_of(found.tried),
        "treatment_price": tried.treatment_price,
        "tiles": tried.disruption.tiles,
        "hidden_cable": round(tried.disruption.hidden_cable, 3),
        "devices": tried.counts,
        "kept_seats": states.count("kept"),
        "seats": len(states),
        "kept": tried.designed.kept,
        "leading": one.leading,
        "varied": tried.variation.words,
        "document": document_of(loaded, one),
        "why": one.why,
    }


def _figures(one: Tried) -> dict[str, Any]:
    return {
        "price": one.figures.price,
        "chance": round(one.figures.chance, 3),
        "openings": one.figures.openings,
        "treatment_area": round(one.figures.treatment_area, 3),
    }


def _words_of(one: Tried | None) -> str | None:
    return None if one is None else one.variation.words


def _files(loaded: Loaded, found: Alternatives) -> dict[str, bytes]:
    """Document, bill and schedules of each, and the products of the user's own that it needs."""
    files: dict[str, bytes] = {}
    for one in found.chosen:
        designed, room = one.tried.designed, one.tried.designed.room
        put: Callable[[str], str] = f"{FOLDER}/{one.slug}/{{}}".format
        files[document_of(loaded, one)] = designed.text.encode()
        own = loaded.companions(room) | schedule_files(schedules(room, loaded.catalogue))
        files |= {put(name): data for name, data in own.items()}
    return files


def _section(loaded: Loaded, found: Alternatives) -> Section:
    room = loaded.room
    return alternatives_section(
        offered_designs(loaded, found),
        others_tried(found),
        wanted=room.targets.chance,
        currency=currency_of(found.tried),
        kept=found.kept,
        remark=remark(found).strip(),
        unit=room.units,
    )


def others_tried(found: Alternatives) -> list[tuple[float, float]]:
    """Price and chance of designs that were weighed and not chosen."""
    chosen = [one.tried for one in found.chosen]
    weighed = [one for one in found.weighed if not any(one is c for c in chosen)]
    return [(one.price, one.figures.chance) for one in weighed]


def offered_designs(loaded: Loaded, found: Alternatives, unit: Unit | None = None) -> list[Offered]:
    """Those chosen as a customer reads them, in the document's unit unless another is given."""
    read_in = unit or loaded.room.units
    return [
        Offered(
            name=one.name,
            products=bought(one.tried, loaded.catalogue),
            price=one.tried.price,
            chance=one.tried.figures.chance,
            done=one.tried.disruption.words(read_in),
            word=one.tried.disruption.weighed(read_in),
            why=one.why,
            ink=_ink(one.tried),
            leading=one.leading,
        )
        for one in found.chosen
    ]


def _ink(one: Tried) -> Ink:
    if one.figures.openings:
        return "much"
    return "some" if one.figures.treatment_area else "none"

"""Two documents side by side, in words and pictures."""

from __future__ import annotations

from dataclasses import dataclass

from wellheard.dossier.model import Run
from wellheard.dossier.sections.answer import why_not_fewer
from wellheard.dossier.sections.promise import promises
from wellheard.dossier.words import full_stop
from wellheard.drawings.plan import plan_small
from wellheard.drawings.tokens import ThemeName
from wellheard.units import Unit
from wellheard.workflow import figures, prices
from wellheard.workflow.compare import compared
from wellheard.workflow.design import Judged, Progress, judge, quiet
from wellheard.workflow.load import Loaded, document_hash
from wellheard.workflow.offers import OfferedSeat, seats
from wellheard.workflow.publish import shown_spaces
from wellheard.workflow.sheets import plan_view

PLAN_WIDTH, PLAN_HEIGHT = 150.0, 110.0
"""Largest size of a plan. [mm]"""
THEMES: tuple[ThemeName, ...] = ("white", "slate")


@dataclass(frozen=True)
class Side:
    """One of the two.

    Attributes
    ----------
    title, document : str
        Of the room; short hash of its text.
    sentence, under : str
        How many places keep the promise, and with what.
    price : str
        Of all devices as installed.
    plans : dict of str to str
        SVG by theme.
    """

    title: str
    document: str
    sentence: str
    under: str
    price: str
    plans: dict[str, str]


@dataclass(frozen=True)
class Both:
    """One line of the promise: what was asked, what is predicted in each; '' where it is not."""

    asked: str
    promised: tuple[str, str]
    predicted: tuple[str, str]
    chance: tuple[str, str]
    state: tuple[str, str]

    @property
    def differs(self) -> bool:
        """Whether the two are told apart."""
        return any(a != b for a, b in (self.promised, self.predicted, self.chance, self.state))


@dataclass(frozen=True)
class SideBySide:
    """The comparison of two documents.

    Attributes
    ----------
    left, right : Side
    promises : tuple of Both
    seats : tuple of OfferedSeat
        Those that are told otherwise.
    seats_alike : int
        How many are told as before.
    changes : tuple of str
        Sentences, in the order of the document.
    slight : int
        Further changes that no printed figure shows.
    new_findings, gone_findings : tuple of (code, message)
        Errors and warnings of the right one only, and of the left one only.
    price_step : str
        How much more or less the right one costs.
    worse : bool
        A place that was kept is not any more.
    """

    left: Side
    right: Side
    promises: tuple[Both, ...]
    seats: tuple[OfferedSeat, ...]
    seats_alike: int
    changes: tuple[str, ...]
    slight: int
    new_findings: tuple[tuple[str, str], ...]
    gone_findings: tuple[tuple[str, str], ...]
    price_step: str
    worse: bool


def side_by_side(old: Loaded, new: Loaded, *, unit: Unit, say: Progress = quiet) -> SideBySide:
    """Predict two documents and set them side by side.

    Parameters
    ----------
    old, new : Loaded
        The left and the right one.
    unit : {"m", "ft"}
        Of lengths that are read.
    say : callable
        Told how far things are.
    """
    say("1 of 3: predicting the left one")
    was = judge(old.room, old.catalogue, assumptions=False)
    say("2 of 3: predicting the right one")
    now = judge(new.room, new.catalogue, assumptions=False)
    say("3 of 3: drawing both")
    found = compared(old, was, new, now)
    each = seats(was, now, unit=unit)
    differing = tuple(one for one in each if one.before != one.after)
    costs = [prices.total(one.room, one.catalogue) for one in (old, new)]
    return SideBySide(
        left=_side(old, was, costs[0]),
        right=_side(new, now, costs[1]),
        promises=_promises(was, now),
        seats=differing,
        seats_alike=len(each) - len(differing),
        changes=tuple(full_stop(change.text) for change in found.changes if not change.slight),
        slight=sum(change.slight for change in found.changes),
        new_findings=tuple((f.code, full_stop(f.message)) for f in found.new_findings),
        gone_findings=tuple((f.code, full_stop(f.message)) for f in found.gone_findings),
        price_step=prices.step(*costs),
        worse=found.worse,
    )


def _side(loaded: Loaded, judged: Judged, cost: prices.Total) -> Side:
    said = figures.headline(judged)
    return Side(
        title=loaded.room.title or "Untitled room",
        document=document_hash(loaded.document.text),
        sentence=said["sentence"],
        # Whether fewer would do is not the question here, and an offer says it itself.
        under=said["under"].removesuffix(why_not_fewer(judged.evidence, None)).strip(),
        price=cost.words if loaded.room.devices else "no device",
        plans=_plans(loaded, judged),
    )


def _plans(loaded: Loaded, judged: Judged) -> dict[str, str]:
    worst = judged.leads.partition(".")[0]
    view = plan_view(
        judged.evidence,
        shown_spaces(loaded.room, loaded.catalogue, judged)[worst],
        quantity="sti_outbound",
        sheet="",
        of="",
        document_hash="",
        state="",
        arrangement=worst,
    )
    return {
        theme: plan_small(view, PLAN_WIDTH, theme=theme, height_mm=PLAN_HEIGHT) for theme in THEMES
    }


def _promises(was: Judged, now: Judged) -> tuple[Both, ...]:
    rows = [
        {
            row.target: (row.asked, row.promised, _words(row.predicted), row.chance, row.state)
            for row in promises(one.evidence, None, [part.evidence for part in one.parts])
        }
        for one in (was, now)
    ]
    found = []
    for target in dict.fromkeys((*rows[0], *rows[1])):
        left, right = (side.get(target, ("", "", "", "", "")) for side in rows)
        found.append(
            Both(
                asked=left[0] or right[0],
                promised=(left[1], right[1]),
                predicted=(left[2], right[2]),
                chance=(left[3], right[3]),
                state=(left[4], right[4]),
            )
        )
    return tuple(found)


def _words(run: Run) -> str:
    return run.text

"""Changes that were tried for the findings of a document, as plain data for its page."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from wellheard.dossier.words import count_word, fixed_spaces, full_stop
from wellheard.workflow.figures import message
from wellheard.workflow.judging import Progress, judge, quiet
from wellheard.workflow.load import Loaded
from wellheard.workflow.remedy_effects import key
from wellheard.workflow.remedying import Offer, offers

MOST_TOLD = 2
"""Findings that a change makes worse, told in full."""


@dataclass(frozen=True)
class Remedies:
    """What was tried for one version of a document.

    Attributes
    ----------
    version : int
    rows : tuple of dict
        For each finding that has one, its best change: ``code``, ``field`` and ``message`` of
        the finding, as `wellheard.workflow.figures.findings` has them; ``says``, ``note``,
        ``achieves``, ``worsens`` as sentences; ``operations`` in SI.
    """

    version: int
    rows: tuple[dict[str, Any], ...]


def remedies(loaded: Loaded, *, version: int, say: Progress = quiet) -> Remedies:
    """Try changes for every error and warning of a document.

    Parameters
    ----------
    loaded : Loaded
        The document as it stands.
    version : int
        Of it.
    say : callable
        Told what is being tried.
    """
    judged = judge(loaded.room, loaded.catalogue, assumptions=False)
    found = offers(loaded.room, loaded.catalogue, judged, say=say)
    return Remedies(version, tuple(_row(one) for one in found))


def _row(offer: Offer) -> dict[str, Any]:
    return {
        "code": offer.finding.code,
        "field": offer.finding.at,
        "message": message(offer.finding),
        "says": _said(offer.says),
        "note": _said(offer.note),
        # What gets worse is said in the words of its rules, beside it.
        "achieves": _said(offer.achieves.partition(" Comes or gets worse: ")[0]),
        "mended": offer.after is None,
        "worsens": _worse(offer),
        "operations": offer.operations,
    }


def _worse(offer: Offer) -> list[str]:
    """Messages of findings that come or get worse, the first of many."""
    worse = [message(one) for one in offer.judged.findings if key(one) in offer.worsens]
    more = len(worse) - MOST_TOLD
    return worse if more <= 1 else [*worse[:MOST_TOLD], f"And {count_word(more)} more."]


def _said(text: str) -> str:
    return fixed_spaces(full_stop(text)) if text else ""

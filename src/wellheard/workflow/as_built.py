"""A document calibrated to a session: written, predicted again, set beside what it was."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from wellheard.bands import OCTAVES
from wellheard.measurement.taken import SessionResults
from wellheard.proving.as_built import AsBuilt, Calibrated, ClarityCompared, calibrate
from wellheard.room import codec
from wellheard.workflow.compare import Comparison, compare
from wellheard.workflow.judging import Progress, quiet
from wellheard.workflow.load import Loaded, load_text
from wellheard.workflow.measuring import measure_session

DECIMALS = 4
"""Of every figure in an answer: more than any of them is known to."""

VOUCHING = ("basis.", "history.")


@dataclass(frozen=True)
class Built:
    """A calibrated document.

    Attributes
    ----------
    found : AsBuilt
        What was calibrated, and what is known of it.
    text : str
        The document, with its comments.
    comparison : Comparison
        What changed in it, and what that does to the promise.
    """

    found: AsBuilt
    text: str
    comparison: Comparison


def as_built(loaded: Loaded, session: str | os.PathLike[str], *, say: Progress = quiet) -> Built:
    """Measure a session and calibrate a document to it.

    Parameters
    ----------
    loaded : Loaded
        The document.
    session : path
        Folder of the session, or ``session.yaml`` in it.
    say : callable
        Told how far things are.

    Raises
    ------
    InputError, DocumentError
        There is no such session, too little was measured, or no plausible absorption gives its
        decay times.
    """
    return built(loaded, measure_session(session, say=say), say=say)


def built(loaded: Loaded, results: SessionResults, *, say: Progress = quiet) -> Built:
    """Calibrate a document to a session that was measured already; as `as_built`."""
    found = calibrate(loaded.room, loaded.catalogue, results, say=say)
    text = codec.edit(loaded.document, found.room)
    say("predicting before and after …")
    return Built(found, text, _told(compare(loaded, load_text(text, loaded.document.name))))


def _told(comparison: Comparison) -> Comparison:
    """The same without what only vouches for what changed."""
    said = tuple(one for one in comparison.changes if not one.path.startswith(VOUCHING))
    return replace(comparison, changes=said)


def as_json(one: Built) -> dict[str, Any]:
    """What ``calibrate --format json`` prints of the calibration itself."""
    found = one.found
    return {
        "session": found.session,
        "space": found.space,
        "occupancy": found.occupancy,
        "bands": list(OCTAVES),
        "groups": [_group(group) for group in found.groups],
        "held": [{"name": name, "why": why} for name, why in found.held],
        "scattering": {
            "before": found.scattering.before,
            "after": found.scattering.after,
            "log_sigma": round(found.scattering.log_sigma, DECIMALS),
            "decided": round(found.scattering.decided, DECIMALS),
        },
        "decays": [
            {
                "octave": decay.octave,
                "measured": _number(decay.measured),
                "measured_sigma": _number(decay.measured_sigma),
                "count": decay.count,
                "before": round(decay.before, DECIMALS),
                "after": round(decay.after, DECIMALS),
            }
            for decay in found.decays
        ],
        "not_told_apart": [
            {
                "names": list(each.names),
                "area_before": _numbers(each.before),
                "area_after": _numbers(each.after),
                "area_sigma": _numbers(each.sigma),
            }
            for each in found.together
        ],
        "curvature": None
        if found.curvature is None
        else dict(zip(("measured", "as_built"), _numbers(found.curvature), strict=True)),
        "clarity": None if found.clarity is None else _clarity(found.clarity),
        "accounts": [
            {
                "other": one.other or None,
                "scattering": one.scattering,
                "odds": round(one.odds, DECIMALS),
                "taken": one.taken,
            }
            for one in found.accounts
        ],
        "cautions": list(found.cautions),
        "notes": list(found.notes),
    }


def _group(group: Calibrated) -> dict[str, Any]:
    return {
        "name": group.name,
        "finish": group.finish or None,
        "paths": list(group.paths),
        "area": round(group.area, DECIMALS),
        "before": _numbers(group.before),
        "after": _numbers(group.after),
        "sigma": _numbers(group.sigma),
        "decided": _numbers(group.decided),
        "at_bound": list(group.at_bound),
        "written": group.written,
    }


def _clarity(found: ClarityCompared) -> dict[str, Any]:
    return {
        "measured_db": round(found.measured_db, DECIMALS),
        "sigma_db": round(found.sigma_db, DECIMALS),
        "before_db": round(found.before_db, DECIMALS),
        "as_built_db": round(found.after_db, DECIMALS),
        "recordings": list(found.recordings),
    }


def _numbers(values: Sequence[float]) -> list[float]:
    return [round(value, DECIMALS) for value in values]


def _number(value: float | None) -> float | None:
    return None if value is None else round(value, DECIMALS)

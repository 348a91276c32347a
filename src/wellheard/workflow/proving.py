"""A document held against a session: measured, predicted alike, decided, as JSON."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from wellheard.measurement.taken import SessionResults
from wellheard.predict.evidence import Quantity
from wellheard.proving.compare import compare
from wellheard.proving.verdict import Compared, Verdict
from wellheard.workflow.design import Progress, quiet
from wellheard.workflow.load import Loaded, document_hash
from wellheard.workflow.measuring import measure_session
from wellheard.workflow.sessions import of_another

DECIMALS = 4
"""Of every figure in an answer: more than any of them is known to."""


def prove(loaded: Loaded, session: str | os.PathLike[str], *, say: Progress = quiet) -> Verdict:
    """Measure a session and hold a document against it.

    Parameters
    ----------
    loaded : Loaded
        The document that makes the promise.
    session : path
        Folder of the session, or ``session.yaml`` in it.
    say : callable
        Told how far things are.

    Raises
    ------
    InputError, DocumentError
        There is no such session, it cannot be read, or it does not say how a room that divides
        stood.
    """
    return verdict(loaded, measure_session(session, say=say), say=say)


def verdict(loaded: Loaded, found: SessionResults, *, say: Progress = quiet) -> Verdict:
    """Hold a document against a session that was measured already; as `prove`."""
    own = document_hash(loaded.document.text)
    answer = compare(loaded.room, loaded.catalogue, found, document=own, say=say)
    note = of_another(loaded, found.folder.session)
    return replace(answer, notes=(note, *answer.notes)) if note else answer


def as_json(found: Verdict) -> dict[str, Any]:
    """What ``prove --format json`` prints."""
    return {
        "word": found.word,
        "session": found.session,
        "document": found.document,
        "rows": [_row(row) for row in found.rows],
        "decays": [
            {
                "octave": one.octave,
                "measured": _number(one.measured),
                "measured_sigma": _number(one.measured_sigma),
                "count": one.count,
                "predicted": _number(one.predicted),
                "low": _number(one.low),
                "high": _number(one.high),
            }
            for one in found.decays
        ],
        "noise": [
            {
                "place": one.place,
                "recording": one.recording,
                "levels_db": {f"{f:g}": _number(v) for f, v in one.levels_db.items()},
                "calibrated": one.calibrated,
                "nc": _number(one.nc),
                "label": one.label,
                "governing": one.governing,
                "dba": _number(one.dba),
            }
            for one in found.noise
        ],
        "alike": list(found.alike),
        "notes": list(found.notes),
    }


def _row(row: Compared) -> dict[str, Any]:
    return {
        "quantity": row.quantity,
        "place": row.place,
        "unit": row.unit,
        "promised": _numbers(row.promised),
        "measured": _number(row.measured),
        "measured_sigma": _number(row.measured_sigma),
        "tested": _quantity(row.tested),
        "estimate": _number(row.estimate),
        "estimate_sigma": _number(row.estimate_sigma),
        "chance": _number(row.chance),
        "word": row.word,
        "why": row.why,
        "decide": row.decide,
        "recordings": list(row.recordings),
    }


def _quantity(found: Quantity | None) -> dict[str, float | None] | None:
    if found is None:
        return None
    return {
        "value": _number(found.value),
        "low": _number(found.low),
        "high": _number(found.high),
        "sigma": _number(found.sigma),
    }


def _numbers(values: Sequence[float | None]) -> list[float | None]:
    return [_number(value) for value in values]


def _number(value: float | None) -> float | None:
    return None if value is None else round(value, DECIMALS)

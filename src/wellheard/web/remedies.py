"""Changes that may mend the findings of a room: tried aside, for the version that is shown."""

from __future__ import annotations

from typing import Any

from wellheard.web.jobs import Job
from wellheard.web.workbench import Workbench
from wellheard.workflow import tasks
from wellheard.workflow.desk import Desk, State
from wellheard.workflow.load import document_hash


def remedies_of(workbench: Workbench, desk: Desk) -> dict[str, Any]:
    """What was tried for a room as it stands, or how far that is.

    The first to ask has it begun; what was tried for an older text is dropped, finished or not.

    Returns
    -------
    dict
        ``version``; ``state``: "trying", "tried" or "failed"; ``words`` of progress, or why not;
        ``rows`` of `wellheard.workflow.remedy_offers.Remedies`.
    """
    state = desk.state
    job = _job(workbench, desk, state)
    if job.running:
        told, words, rows = "trying", job.words, []
    elif job.state == "done":
        told, words, rows = "tried", "", list(job.result.rows)
    else:
        told, words, rows = "failed", job.words, []
    return {"version": state.version, "state": told, "words": words, "rows": rows}


def _job(workbench: Workbench, desk: Desk, state: State) -> Job:
    text = state.loaded.document.text
    title = f"changes for {document_hash(text)}"
    job = workbench.jobs.last(tasks.REMEDY, desk.key)
    if job is not None and job.title == title and job.state != "cancelled":
        return job
    if job is not None:
        workbench.jobs.forget(job)
    return workbench.jobs.start(
        tasks.REMEDY,
        title=title,
        label=desk.key,
        aside=True,
        text=text,
        path=str(desk.path),
        version=state.version,
    )

"""One plan read in a process of its own, with limits that the system enforces.

Started as ``python -I -m wellheard.importers.child``: a job as JSON on standard input, an answer
as JSON on standard output. Nothing that the libraries print reaches the answer.
"""

from __future__ import annotations

import contextlib
import os
import sys
from pathlib import Path

from pydantic import TypeAdapter
from pydantic.dataclasses import dataclass

from wellheard.errors import InputError
from wellheard.importers.found import Asked, FoundPlan, UnitUnstated


@dataclass(frozen=True)
class Limits:
    """What reading one plan may take; ``None`` of memory leaves it to the system."""

    seconds: float = 60.0
    """By the clock."""
    processor_s: int = 45
    memory_bytes: int | None = 3 * 2**30


@dataclass(frozen=True)
class Job:
    """What is to be read, and within which limits."""

    path: str
    asked: Asked
    limits: Limits


@dataclass(frozen=True)
class Answer:
    """A plan, or why there is none; ``sizes`` where only the unit is missing."""

    plan: FoundPlan | None = None
    refused: str = ""
    sizes: tuple[tuple[str, float, float], ...] = ()
    unlimited: str = ""
    """Which limit this system does not enforce."""


JOB = TypeAdapter(Job)
ANSWER = TypeAdapter(Answer)


def answer(job: Job) -> Answer:
    """Read a plan by the kind of its file."""
    from wellheard.importers.kinds import read_plan

    try:
        return Answer(plan=read_plan(Path(job.path), job.asked))
    except UnitUnstated as error:
        return Answer(refused=str(error), sizes=error.sizes)
    except InputError as error:
        return Answer(refused=str(error))
    except MemoryError:
        return Answer(refused=f"{job.path}: {TOO_LARGE}")
    except RecursionError:
        return Answer(
            refused=f"{job.path}: its parts are nested deeper than can be followed; save the plan "
            "without nested references, and try again"
        )


TOO_LARGE = (
    "reading it needs more memory than a plan may take; save only the storey or the layers that "
    "are wanted, and try again"
)


def _limit(limits: Limits) -> str:
    """Have the system end this process beyond its limits; returns what it does not enforce."""
    try:
        import resource
    except ImportError:
        return "memory and processor time"
    missing = []
    wanted = {
        "processor time": (resource.RLIMIT_CPU, limits.processor_s),
        "memory": (resource.RLIMIT_AS, limits.memory_bytes),
        "core files": (resource.RLIMIT_CORE, 0),
        "written files": (resource.RLIMIT_FSIZE, 0),
    }
    for name, (kind, most) in wanted.items():
        if most is None:
            continue
        _, hard = resource.getrlimit(kind)
        capped = most if hard == resource.RLIM_INFINITY else min(most, hard)
        try:
            resource.setrlimit(kind, (capped, capped))
        except (OSError, ValueError):
            missing.append(name)
    return " and ".join(missing)


def main() -> None:
    """Read a job, limit this process, answer."""
    job = JOB.validate_json(sys.stdin.buffer.read())
    unlimited = _limit(job.limits)
    kept = os.dup(1)
    os.dup2(2, 1)  # whatever a library prints
    with contextlib.redirect_stdout(sys.stderr):
        found = answer(job)
    told = Answer(found.plan, found.refused, found.sizes, unlimited)
    with os.fdopen(kept, "wb") as out:
        out.write(ANSWER.dump_json(told))


if __name__ == "__main__":
    main()

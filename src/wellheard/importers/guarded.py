"""Plans of strangers: read in a process of their own, which may fail without harm."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import tempfile
from dataclasses import replace
from pathlib import Path

from pydantic import ValidationError

from wellheard.errors import InputError
from wellheard.importers.child import ANSWER, JOB, TOO_LARGE, Answer, Job, Limits
from wellheard.importers.found import Asked, FoundPlan, UnitUnstated
from wellheard.importers.kinds import kind_of

USUAL = Limits()
_LARGEST_ANSWER = 64 * 2**20
_NO_MEMORY = ("MemoryError", "failed to map segment", "Cannot allocate memory", "bad_alloc")
"""How Python, the loader and C++ say that there is none."""
_PASSED_ON = ("SYSTEMROOT", "OPENBLAS_CORETYPE", "OPENBLAS_L2_SIZE")
"""What a process needs of its parent's surroundings on some systems; nothing else is told."""


def read_guarded(path: Path, asked: Asked, limits: Limits = USUAL) -> FoundPlan:
    """Return what is in a plan of unknown origin.

    Parameters
    ----------
    path : Path
        DXF or IFC.
    asked : Asked
        What the user says of it.
    limits : Limits
        Beyond them it is given up.

    Raises
    ------
    UnitUnstated
        It does not say its unit, and nobody else did.
    InputError
        It cannot be read within the limits.
    """
    kind_of(path)  # what is no plan at all needs no process
    job = JOB.dump_json(Job(str(path.absolute()), asked, limits))
    told = _answered(path, job, limits)
    if told.plan is None:
        message = told.refused.replace(str(path.absolute()), str(path))
        raise UnitUnstated(message, told.sizes) if told.sizes else InputError(message)
    if not told.unlimited:
        return told.plan
    unguarded = f"This system set no limit to {told.unlimited} while the plan was read."
    return replace(told.plan, warnings=(*told.plan.warnings, unguarded))


def _answered(path: Path, job: bytes, limits: Limits) -> Answer:
    surroundings = {name: os.environ[name] for name in _PASSED_ON if name in os.environ}
    surroundings |= {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1", "LC_ALL": "C.UTF-8"}
    with tempfile.TemporaryDirectory(prefix="wellheard-import-") as alone:
        try:
            done = subprocess.run(
                [sys.executable, "-I", "-m", "wellheard.importers.child"],
                input=job,
                capture_output=True,
                timeout=limits.seconds,
                cwd=alone,
                env=surroundings | {"HOME": alone, "TMPDIR": alone},
                check=False,
            )
        except subprocess.TimeoutExpired:
            raise InputError(f"{path}: {_too_long(limits)}") from None
    if done.returncode == 0 and len(done.stdout) <= _LARGEST_ANSWER:
        try:
            return ANSWER.validate_json(done.stdout)
        except ValidationError:
            pass
    raise InputError(f"{path}: {_ended(done, limits)}")


def _too_long(limits: Limits) -> str:
    return (
        f"not read within {limits.seconds:.0f} s; save only the storey or the layers that are "
        "wanted, and try again"
    )


def _ended(done: subprocess.CompletedProcess[bytes], limits: Limits) -> str:
    """Why there is no answer, as far as the end of the process tells."""
    if done.returncode in _by("SIGXCPU", "SIGKILL"):
        return _too_long(limits)
    last = done.stderr.decode(errors="replace").strip().splitlines()[-1:]
    if last and any(sign in last[0] for sign in _NO_MEMORY):
        return TOO_LARGE
    if done.returncode in _by("SIGSEGV", "SIGABRT", "SIGBUS"):
        return (
            "the library that reads such files gave up on it; it is damaged, or too large: save "
            "it anew from the program that made it, with less in it"
        )
    return (
        f"reading it failed ({last[0][:160] if last else f'exit {done.returncode}'}); this is a "
        "fault in wellheard: please report it, with the file if you may"
    )


def _by(*names: str) -> tuple[int, ...]:
    """Return codes of a process that these signals ended, as far as this system has them."""
    return tuple(-int(getattr(signal, name)) for name in names if hasattr(signal, name))

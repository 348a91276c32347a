"""How a change of a room is refused, and the dotted paths that say where."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeAlias

from wellheard.errors import InputError, Problem
from wellheard.forms.fields import shown
from wellheard.forms.refusals import near

Steps: TypeAlias = tuple[str, ...]

LONGEST_PATH = 200
MOST_STEPS = 12


class OperationError(InputError):
    """A change that cannot be made, with where it was to be made and what can be done instead.

    Parameters
    ----------
    where : str
        Dotted path, or the operation's name.
    what, allowed : str
        What is wrong, and what is allowed or to do next.

    Examples
    --------
    >>> print(OperationError("devices.m1", "m1 is locked", "unlock it first"))
    devices.m1: m1 is locked; unlock it first
    """

    def __init__(self, where: str, what: str, allowed: str) -> None:
        problem = Problem("", 0, 0, where, what, allowed)
        super().__init__(str(problem).removeprefix(": "), (problem,))
        self.where, self.what, self.allowed = where, what, allowed


def steps_of(path: object) -> Steps:
    """Steps of a dotted path.

    Raises
    ------
    OperationError
        It is no path.

    Examples
    --------
    >>> steps_of("people.seats.s1.at"), steps_of("basis.noise.background")
    (('people', 'seats', 's1', 'at'), ('basis', 'noise.background'))
    """
    if not isinstance(path, str) or not path or len(path) > LONGEST_PATH:
        raise OperationError("path", f"{shown(path)} is no path", "as in people.seats.s1.at")
    if path.startswith("basis."):
        return ("basis", path.partition(".")[2])  # its keys are paths themselves
    steps = tuple(path.split("."))
    if not all(steps) or len(steps) > MOST_STEPS:
        raise OperationError(path, "is no path", "names with single full stops between them")
    return steps


def unknown(steps: Sequence[str], step: str, known: Sequence[str]) -> OperationError:
    """Refusal of a step that leads nowhere."""
    some = ", ".join([*known[:12], "…"] if len(known) > 12 else known) or "nothing"
    return OperationError(
        ".".join(steps),
        f"there is no {shown(step)}",
        near(step, known, else_=f"known there: {some}"),
    )

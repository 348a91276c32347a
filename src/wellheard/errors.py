"""How failure is said.

::

    WellheardError                something could not be done
    ├── InputError                what was handed in cannot be read or used
    │   ├── DocumentError         a room document, with every problem in it
    │   └── CatalogError          a table of products or finishes
    └── UsageError                a command or function was asked for what it cannot do

A poor room is not an error: it reads well and gets findings. Only what cannot be read, or says
two things at once, ends here.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass

_OBEYED = frozenset({"Cc", "Cf", "Cs", "Zl", "Zp"})
"""Kinds of characters that are not seen but obeyed, by a terminal or in the order of a line."""
_LONGEST = 200


def visible(text: str) -> str:
    r"""Text on one line, with what is obeyed instead of seen written out.

    Names of files and keys are of anybody's making.

    Examples
    --------
    >>> print(visible("Tide\x1b[2J\nRoom"))
    Tide\x1b[2J\nRoom
    """
    return "".join(
        c.encode("unicode_escape").decode() if unicodedata.category(c) in _OBEYED else c
        for c in text
    )


def _short(text: str) -> str:
    """Text of a line or two, its end kept: that of a path says most."""
    return text if len(text) <= _LONGEST else f"{text[: _LONGEST - 60]}…{text[-60:]}"


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that is wrong in a file: where, what, and what is allowed instead.

    Parameters
    ----------
    file : str
        Name of the file as the user gave it.
    line, column : int
        Counted from 1; 0 where the text has no place for it, as in data handed over as a dict.
    path : str
        Dotted place in the document, ``people.seats.s1.at``; empty for the whole document.
    what : str
        What was found.
    allowed : str
        What is allowed, or what to do next.

    Examples
    --------
    >>> print(Problem("a.room.yaml", 4, 11, "space.height", "'tall' is no length", "write 2.75"))
    a.room.yaml:4:11: space.height: 'tall' is no length; write 2.75
    """

    file: str
    line: int
    column: int
    path: str
    what: str
    allowed: str

    def __str__(self) -> str:
        place = f"{self.file}:{self.line}:{self.column}" if self.line else self.file
        where = f"{place}: {_short(self.path)}" if self.path else place
        return visible(f"{where}: {self.what}; {self.allowed}")


class WellheardError(Exception):
    """Base of everything that Wellheard raises on purpose."""


class InputError(WellheardError):
    """What was handed in cannot be read or used.

    Parameters
    ----------
    message : str
        For a person: where, what, what is allowed.
    problems : iterable of Problem
        Each thing that is wrong, where there are several.
    """

    def __init__(self, message: str, problems: Iterable[Problem] = ()) -> None:
        super().__init__(message)
        self.problems: tuple[Problem, ...] = tuple(problems)


class DocumentError(InputError):
    """A room document that cannot be used, with every problem found in it.

    Parameters
    ----------
    problems : iterable of Problem
        At least one, in reading order.

    Examples
    --------
    >>> error = DocumentError([Problem("a.room.yaml", 1, 1, "units", "found 'yd'", "m or ft")])
    >>> print(error)
    a.room.yaml:1:1: units: found 'yd'; m or ft
    """

    def __init__(self, problems: Iterable[Problem]) -> None:
        found = tuple(problems)
        super().__init__("\n".join(map(str, found)), found)


class CatalogError(InputError):
    """A table of products or finishes that cannot be used, or an id that none of them has."""


class UsageError(WellheardError):
    """A command or function was asked for something it cannot do."""

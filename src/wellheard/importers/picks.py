"""What the user picks by pattern, layer or class, and which patterns fit nothing."""

from __future__ import annotations

import fnmatch
from typing import Literal, TypeAlias

from wellheard.cad import Role
from wellheard.importers.found import Asked

Picked: TypeAlias = Role | Literal["ignore"]


class Picks:
    """Roles by pattern, in the order in which they were asked for.

    Examples
    --------
    >>> picks = Picks(Asked(layers={"wall": ("A-WALL*", "[old] walls"), "seat": ("CHIARS",)}))
    >>> picks.all_of("a-wall-prtn"), picks.all_of("[OLD] walls"), picks.all_of("A-FURN")
    (('wall',), ('wall',), ())
    >>> picks.idle()
    ('CHIARS',)
    """

    def __init__(self, asked: Asked) -> None:
        self._patterns: tuple[tuple[Picked, str], ...] = tuple(
            (role, pattern) for role, patterns in asked.layers.items() for pattern in patterns
        )
        self._fitted: set[str] = set()

    def all_of(self, name: str) -> tuple[Picked, ...]:
        """Return every role that was picked for a name."""
        low = name.casefold()
        # only * and ? stand for other letters: a bracket is a bracket, as it may be in a name
        fitting = [
            (role, pattern)
            for role, pattern in self._patterns
            if fnmatch.fnmatchcase(low, pattern.casefold().replace("[", "[[]"))
        ]
        self._fitted.update(pattern for _, pattern in fitting)
        return tuple(role for role, _ in fitting)

    def idle(self) -> tuple[str, ...]:
        """Return the patterns that have fitted none of the names so far."""
        return tuple(dict.fromkeys(one for _, one in self._patterns if one not in self._fitted))

    def unfitted(self, what: str) -> tuple[str, ...]:
        """Return a warning for each pattern that has fitted no ``what`` of the plan."""
        return tuple(
            f"no {what} of the plan is called {pattern}: that pick does nothing; look at its "
            "spelling"
            for pattern in self.idle()
        )

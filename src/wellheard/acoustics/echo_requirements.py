"""What recommendations ask of the echo of a hands-free terminal."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Literal, TypeAlias, get_args

from wellheard import tables

Bound: TypeAlias = Literal["at least", "at most"]


@dataclass(frozen=True, slots=True)
class Requirement:
    """One figure that a recommendation asks of a hands-free terminal.

    Parameters
    ----------
    name : str
        Short and for ever.
    source : str
        Recommendation and edition.
    what : str
        What is limited, in words.
    bound : {"at least", "at most"}
    value : float
        In the unit.
    unit : str
        ``dB`` or ``ms``.
    provisional : bool
        Whether the recommendation itself gives the figure in brackets.
    trust : str
        ``L`` confirmed in open material, ``M`` from memory, ``C`` common practice.
    """

    name: str
    source: str
    what: str
    bound: Bound
    value: float
    unit: str
    provisional: bool
    trust: str

    def met_by(self, value: float) -> bool:
        """Whether a figure keeps the requirement.

        Examples
        --------
        >>> requirements()["p340-double-talk-echo"].met_by(28.0)
        True
        """
        return value >= self.value if self.bound == "at least" else value <= self.value


@cache
def requirements() -> dict[str, Requirement]:
    """What recommendations ask of echo loss and switching, by name; treat it as read-only.

    Returns
    -------
    dict of str to Requirement

    References
    ----------
    .. [1] itu-g167:1993, withdrawn, via the compliance notes of an open library.
    .. [2] itu-p340:2000, duplex categories, via the same notes; those below the first from memory.
    .. [3] itu-p1110, hands-free in cars, wideband, via the same notes.
    .. [4] itu-p341, hands-free loss, from memory.

    Examples
    --------
    >>> row = requirements()["p1110-coupling-loss"]
    >>> row.bound, row.value, row.unit
    ('at least', 46.0, 'dB')
    """
    found = {}
    for name, row in tables.load("echo_requirements").by("name").items():
        bound = next((known for known in get_args(Bound) if known == row["bound"]), None)
        if bound is None or row["provisional"] not in {"yes", "no"}:
            raise ValueError(f"echo_requirements.csv: {name}: bound or provisional is not a choice")
        found[name] = Requirement(
            name=name,
            source=row["source"],
            what=row["what"],
            bound=bound,
            value=float(row["value"]),
            unit=row["unit"],
            provisional=row["provisional"] == "yes",
            trust=row["trust"],
        )
    return found

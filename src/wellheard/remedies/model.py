"""A change that may mend a finding, before anybody has looked what it does."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, TypeVar

from wellheard.catalog.catalogue import Catalogue
from wellheard.checks.model import Finding
from wellheard.predict.evidence import Evidence
from wellheard.predict.parts import PartScene
from wellheard.predict.scene import Scene, build
from wellheard.room.document import Room

Made = TypeVar("Made")


@dataclass(frozen=True)
class Change:
    """A document after one change, and the change in a sentence.

    Parameters
    ----------
    says : str
        In the imperative, with figures in the document's units: "Move m1 by 0.42 m to …".
    room : Room
        The whole document after it.
    note : str
        What the reader has to know besides; empty if nothing.
    """

    says: str
    room: Room
    note: str = ""


@dataclass(frozen=True)
class Situation:
    """A document with what is known of it when a finding is to be mended.

    Parameters
    ----------
    room, catalogue
        The document as it stands.
    evidence : Evidence
        Of the whole of it.
    parts : tuple of PartScene
        Its spaces, as `wellheard.predict.parts.build_parts` makes them.
    findings : tuple of Finding
        All of them.
    time_limit : float
        For each search that a remedy makes. [s]
    """

    room: Room
    catalogue: Catalogue
    evidence: Evidence
    parts: tuple[PartScene, ...]
    findings: tuple[Finding, ...]
    time_limit: float = 10.0
    _known: dict[str, Any] = field(default_factory=dict, repr=False, compare=False)

    @property
    def whole(self) -> Scene:
        """The undivided room, made ready for sound."""
        if not self.room.arrangements:
            return self.parts[0].scene
        return self.once("whole", lambda: build(self.room, self.catalogue))

    def once(self, name: str, make: Callable[[], Made]) -> Made:
        """What ``make`` gives, worked out once for all findings that ask for it."""
        if name not in self._known:
            self._known[name] = make()
        found: Made = self._known[name]
        return found


Maker = Callable[[Situation, Finding], Iterator[Change]]
"""Changes that may mend a finding, the gentlest first; none where none is known."""
Makers = Mapping[str, tuple[Maker, ...]]
"""By the code of the rule."""

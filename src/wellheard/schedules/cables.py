"""Cable schedule: every link with its cable, its way, its length and its labels; what to order."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.ports import PortKind
from wellheard.catalog.products import Cable, Jacket
from wellheard.catalog.regions import jacket_name
from wellheard.room.document import Room
from wellheard.schedules.labels import end_labels, natural_order, numbers, room_names
from wellheard.schedules.links import cable_of, jacket_need, kinds_by_link
from wellheard.schedules.runs import CableRun, Runs
from wellheard.signal.ports import split

RESERVE = 0.10
"""More than the sum of the cut lengths that is ordered for offcuts (common practice, no source)."""


@dataclass(frozen=True)
class CableRow:
    """One cable.

    Parameters
    ----------
    id : str
        Of the link.
    number : str
        As on its labels.
    from_, to : str
        Ports.
    kind : str
        Of link; empty where it is not known.
    cable : Cable or None
        None is not chosen yet.
    jacket : {"plenum", "riser", "general"} or None
        To be ordered; None where no cable is chosen, or it comes with none that will do.
    jacket_name : str
        In the words of the region; empty where there is none.
    because : str
        Why no plainer jacket will do.
    jacket_assumed : bool
        Something that decides the jacket is not known.
    length, cut_length : float or None
        Installed, and as cut: of a cord its own; None where the way is not known. [m]
    label_from, label_to : str
    run : CableRun
    """

    id: str
    number: str
    from_: str
    to: str
    kind: PortKind | None
    cable: Cable | None
    jacket: Jacket | None
    jacket_name: str
    because: str
    jacket_assumed: bool
    length: float | None
    cut_length: float | None
    label_from: str
    label_to: str
    run: CableRun

    @property
    def is_cord(self) -> bool:
        """Whether it is bought ready-made, at a fixed length."""
        return self.cable is not None and self.cable.length is not None

    @property
    def no_jacket(self) -> bool:
        """Whether its cable cannot be bought with a jacket that will do."""
        return self.cable is not None and self.jacket is None

    @property
    def jacket_doubt(self) -> str:
        """What is taken for granted where its jacket is chosen; empty where nothing is."""
        if not self.jacket_assumed or self.cable is None:
            return ""
        return f"{self.because}, and what the place asks for there is to be confirmed"

    @property
    def unpriced(self) -> str:
        """Why it has no price; empty where it has one."""
        if self.cable is None:
            return "no cable is chosen"
        if self.cut_length is None:
            return f"its length is not known: {self.run.how}"
        return ""


@dataclass(frozen=True)
class CableSum:
    """What is ordered of one cable with one jacket.

    Parameters
    ----------
    cable : Cable
    jacket : {"plenum", "riser", "general"} or None
    jacket_name : str
    runs : int
        Whose length is known.
    length : float
        Sum of the cut lengths; of cords of their lengths. [m]
    """

    cable: Cable
    jacket: Jacket | None
    jacket_name: str
    runs: int
    length: float

    @property
    def with_reserve(self) -> float:
        """To order, a tenth more for offcuts; of cords nothing more. [m]"""
        return self.length if self.cable.length is not None else (1 + RESERVE) * self.length


@dataclass(frozen=True)
class CableSchedule:
    """All cables by their numbers, and what they add up to."""

    rows: tuple[CableRow, ...]
    sums: tuple[CableSum, ...]
    unlinked: tuple[str, ...]
    """Devices that no link leads to."""

    @property
    def complete(self) -> bool:
        """Whether every device is linked, and every link has a cable of known length."""
        return bool(self.rows) and not self.unlinked and not any(r.unpriced for r in self.rows)


def cable_schedule(room: Room, catalogue: Catalogue, runs: Runs | None = None) -> CableSchedule:
    """Return the cable schedule of a document.

    Parameters
    ----------
    room : Room
        With its links.
    catalogue : Catalogue
        That has every product and cable of the document.
    runs : Runs, optional
        Ways of cables through this very room, where they are made already.

    Raises
    ------
    CatalogError
        A link names a cable that is not in the catalogue.
    """
    ways = runs or Runs(room, catalogue)
    kinds = kinds_by_link(room, catalogue)
    names = room_names(room)
    number = numbers(room.links)
    rows = []
    for name, link in sorted(room.links.items(), key=lambda one: natural_order(number[one[0]])):
        cable = cable_of(link, catalogue)
        run = ways.of_link(link)
        need = jacket_need(room, run, has_void=ways.has_void)
        jacket = None if cable is None else cable.jacket_for(need.jacket)
        label_from, label_to = end_labels(number[name], link.from_, link.to, names=names)
        cord = None if cable is None else cable.length
        rows.append(
            CableRow(
                id=name,
                number=number[name],
                from_=link.from_,
                to=link.to,
                kind=kinds[name],
                cable=cable,
                jacket=jacket,
                jacket_name=jacket_name(room.site.region, jacket) if jacket else "",
                because=need.because,
                jacket_assumed=need.assumed,
                length=run.length if cord is None else cord,
                cut_length=run.cut_length if cord is None else cord,
                label_from=label_from,
                label_to=label_to,
                run=run,
            )
        )
    linked = {split(end)[0] for link in room.links.values() for end in (link.from_, link.to)}
    unlinked = tuple(name for name in room.devices if name not in linked)
    return CableSchedule(tuple(rows), sums(rows), unlinked)


def sums(rows: Sequence[CableRow]) -> tuple[CableSum, ...]:
    """Return what rows of known length add up to, by cable and jacket."""
    found: dict[tuple[str, Jacket | None], CableSum] = {}
    for row in rows:
        if row.cable is None or row.cut_length is None:
            continue
        key = (row.cable.id, row.jacket)
        known = found.get(key) or CableSum(row.cable, row.jacket, row.jacket_name, 0, 0.0)
        found[key] = replace(known, runs=known.runs + 1, length=known.length + row.cut_length)
    return tuple(found.values())

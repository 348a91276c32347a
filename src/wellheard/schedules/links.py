"""What a link of the document is: its ports, its kind, its cable, the jacket that it needs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.ports import Port, PortKind
from wellheard.catalog.products import Cable
from wellheard.catalog.regions import JacketNeed, jacket_needed
from wellheard.room.document import Room
from wellheard.room.links import Link
from wellheard.schedules.runs import CableRun
from wellheard.signal.ports import Unit, split, units_of

LOUDSPEAKER_LINES: frozenset[PortKind] = frozenset({"low-impedance", "constant-voltage"})


def cable_of(link: Link, catalogue: Catalogue) -> Cable | None:
    """Return the cable that a link names; None where none is chosen."""
    return None if link.cable is None else catalogue.cable(link.cable)


def ports_of(link: Link, units: Mapping[str, Unit]) -> tuple[Port, ...]:
    """Return the ports at its ends, as far as they are known."""
    ends = [(units.get(split(end)[0]), split(end)[1]) for end in (link.from_, link.to)]
    return tuple(unit.ports[port] for unit, port in ends if unit is not None and port in unit.ports)


def kinds_of(ports: Sequence[Port], cable: Cable | None) -> tuple[PortKind, ...]:
    """Return the kinds of link that its ends have in common and its cable is for.

    Parameters
    ----------
    ports : sequence of Port
        Of its ends, as far as they are known.
    cable : Cable or None
        None where none is chosen.

    Returns
    -------
    tuple of str
        The usual one first; empty where nothing is known.
    """
    if not ports:
        return cable.carries if cable is not None else ()
    common = [kind for kind in ports[0].kinds if all(kind in port.kinds for port in ports)]
    right = [kind for kind in common if cable is not None and kind in cable.carries]
    return tuple(right or common)


def kinds_by_link(room: Room, catalogue: Catalogue) -> dict[str, PortKind | None]:
    """Return the kind of every link; None where nothing is known of it.

    From loudspeaker to loudspeaker a line is what it is at its amplifier.
    """
    units = units_of(room, catalogue)
    several = {
        name: kinds_of(ports_of(link, units), cable_of(link, catalogue))
        for name, link in room.links.items()
    }
    found = {name: kinds[0] if kinds else None for name, kinds in several.items()}
    open_ = {name for name, kinds in several.items() if len(LOUDSPEAKER_LINES & set(kinds)) > 1}
    at = {
        end: found[name]
        for name, link in room.links.items()
        if found[name] in LOUDSPEAKER_LINES and name not in open_
        for end in (link.from_, link.to)
    }
    while reached := [name for name in open_ if {*_ends(room.links[name])} & at.keys()]:
        for name in reached:
            open_.discard(name)
            found[name] = next(at[end] for end in _ends(room.links[name]) if end in at)
            at |= dict.fromkeys(_ends(room.links[name]), found[name])
    return found


def _ends(link: Link) -> tuple[str, str]:
    return link.from_, link.to


def jacket_need(room: Room, run: CableRun, *, has_void: bool) -> JacketNeed:
    """Return the plainest jacket that a run may have in this room.

    Parameters
    ----------
    room : Room
        Says where it stands, and what its void is for.
    run : CableRun
        Of this room.
    has_void : bool
        There is a void above the ceiling. A run of unknown way is taken to lie in it.
    """
    # Cable hung below an open ceiling, or on a hard one, is in the room.
    in_void = has_void and (run.in_void > 0.0 or not run.route)
    return jacket_needed(
        room.site.region, in_void=in_void, air_return=room.space.ceiling.air_return
    )

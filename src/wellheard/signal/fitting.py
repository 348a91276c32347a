"""Whether both ends of a cable go together, and the cable with them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from wellheard.catalog.connections import passes
from wellheard.catalog.ports import Port
from wellheard.catalog.products import Cable, Extender
from wellheard.room.links import Link
from wellheard.signal.ports import Unit, split


@dataclass(frozen=True)
class Misfit:
    """Why a link makes no connection.

    Attributes
    ----------
    says : str
        As part of a sentence: "both are inputs".
    gives : str
        What would have to give, as a sentence.
    of_cable : bool
        The ports go together, but the cable is not for them.
    """

    says: str
    gives: str
    of_cable: bool = False


def misfit(link: Link, units: Mapping[str, Unit], cables: Iterable[Cable]) -> Misfit | None:
    """What does not fit in a link; None where all of it does, or its ports are not known.

    Parameters
    ----------
    link : Link
        Between two ports.
    units : mapping of str to Unit
        Of `wellheard.signal.ports.units_of`.
    cables : iterable of Cable
        Where the cable of the link is looked up.

    Examples
    --------
    >>> from wellheard.catalog.catalogue import Catalogue
    >>> from wellheard.room.document import Room
    >>> from wellheard.signal.ports import units_of
    >>> shipped = Catalogue.shipped()
    >>> room = Room.model_validate(
    ...     {
    ...         "wellheard": 1,
    ...         "space": {"outline": [[0, 0], [6, 0], [6, 4], [0, 4]], "height": 2.7},
    ...         "people": {"seats": {"s1": {"at": [3, 2], "facing": 0}}},
    ...         "devices": {
    ...             "a": {"kind": "processor", "product": "processor-4"},
    ...             "b": {"kind": "processor", "product": "processor-4"},
    ...         },
    ...     }
    ... )
    >>> link = Link.model_validate({"from": "a.line-out-1", "to": "b.line-out-1"})
    >>> misfit(link, units_of(room, shipped), shipped.cables).says
    'both are outputs'
    """
    ends = (link.from_, link.to)
    one, other = (units.get(split(end)[0]) for end in ends)
    if one is None or other is None:
        return None
    names = tuple(split(end)[1] for end in ends)
    first, second = one.ports.get(names[0]), other.ports.get(names[1])
    if first is None or second is None:
        return None
    common = [kind for kind in first.kinds if kind in second.kinds]
    wrong = ""
    if not common:
        wrong = f"{names[0]} takes {_and(first.kinds)}, {names[1]} {_and(second.kinds)}"
    elif first.flow == second.flow != "both":
        wrong = "both are inputs" if first.flow == "in" else "both are outputs"
    elif common == ["usb"] and not any(_drives(unit) for unit in (one, other)):
        wrong = "each of them waits for a computer"
    elif not _level_fits(first, second):
        gives, takes = (first, second) if second.flow == "in" else (second, first)
        wrong = f"{gives.signal} level does not go into a {takes.signal} port"
    if wrong:
        return Misfit(wrong, "Choose ports that go together, or what converts between them.")
    cable = next((c for c in cables if c.id == link.cable), None)
    if cable is not None and not set(cable.carries) & set(common):
        says = f"{cable.id} is a cable for {_and(cable.carries)}, and they take {_and(common)}"
        return Misfit(says, f"Choose a cable for {_and(common)}.", of_cable=True)
    return None


def _drives(unit: Unit) -> bool:
    return unit.has_far_end or isinstance(unit.product, Extender)


def _level_fits(first: Port, second: Port) -> bool:
    ways = ((first, second), (second, first))
    return any(a.flow != "in" and b.flow != "out" and passes(a, b) for a, b in ways)


def _and(kinds: Sequence[str]) -> str:
    *most, last = kinds
    return f"{', '.join(most)} and {last}" if most else last

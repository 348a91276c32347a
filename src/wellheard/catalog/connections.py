"""What connects to what: product against product, port against port."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.products import (
    AnyProduct,
    Extender,
    Port,
    PortKind,
    Switch,
)


@dataclass(frozen=True)
class Connection:
    """One way from a port of one product to a port of another.

    Parameters
    ----------
    from_port, to_port : Port
        Signal runs from the first to the second, or both ways.
    kind : str
        Kind of cable.
    needs : str
        What has to stand in between all the same; empty where a cable will do.
    """

    from_port: Port
    to_port: Port
    kind: PortKind
    needs: str = ""


@dataclass(frozen=True)
class Table:
    """Products against products; ``kinds[row][column]`` is how they connect.

    Each cell holds kinds of cable, the first the usual one; empty: not at all.
    """

    rows: tuple[str, ...]
    columns: tuple[str, ...]
    kinds: tuple[tuple[tuple[PortKind, ...], ...], ...]


def connections(first: AnyProduct, second: AnyProduct) -> tuple[Connection, ...]:
    """Every direct way to connect two products, signal running either way.

    Parameters
    ----------
    first, second : products
        Of any kind.

    Returns
    -------
    tuple of Connection
        Empty where no port of one takes what a port of the other gives.

    Notes
    -----
    Every USB port of the catalogue is one that a computer drives, so two of them never make a
    connection; an extender's ends carry it on.

    Examples
    --------
    >>> shipped = Catalogue.shipped()
    >>> head, mixer = shipped.product("ceiling-head-3"), shipped.product("bridge-2")
    >>> [(c.from_port.name, c.to_port.name, c.kind) for c in connections(head, mixer)]
    [('link', 'mic', 'twisted-pair')]
    """
    found = _one_way(first, second)
    both_ways = {
        (c.to_port, c.from_port) for c in found if {c.from_port.flow, c.to_port.flow} == {"both"}
    }
    found += [c for c in _one_way(second, first) if (c.from_port, c.to_port) not in both_ways]
    return tuple(found)


def table(rows: Sequence[AnyProduct], columns: Sequence[AnyProduct]) -> Table:
    """How each product of ``rows`` connects to each of ``columns``."""
    return Table(
        rows=tuple(one.id for one in rows),
        columns=tuple(one.id for one in columns),
        kinds=tuple(
            tuple(
                tuple(dict.fromkeys(c.kind for c in connections(one, other))) for other in columns
            )
            for one in rows
        ),
    )


def extenders_of(kind: PortKind, catalogue: Catalogue) -> tuple[Extender, ...]:
    """What makes a run of this kind longer, the shortest first."""
    found = [one for one in catalogue.extenders if one.carries == kind]
    return tuple(sorted(found, key=lambda one: (one.max_length, one.id)))


def _one_way(first: AnyProduct, second: AnyProduct) -> list[Connection]:
    return [
        Connection(out, into, kind, _needs(first, second, kind))
        for out in first.ports
        for into in second.ports
        if out.flow != "in" and into.flow != "out" and passes(out, into)
        for kind in out.kinds
        if kind in into.kinds and (kind != "usb" or _is_extender(first, second))
    ]


def _is_extender(*products: AnyProduct) -> bool:
    return any(isinstance(one, Extender) for one in products)


def passes(out: Port, into: Port) -> bool:
    """Whether the signal that leaves one port is what the other takes."""
    digital = {"audio", "data"}
    # A digital link ends at the port that takes microphones.
    return out.signal == into.signal or {out.signal, into.signal} <= {*digital, "microphone"}


def _needs(first: AnyProduct, second: AnyProduct, kind: PortKind) -> str:
    if kind != "network":
        return ""
    for one, other in ((first, second), (second, first)):
        if one.powered_from != "network":
            continue
        wanted = one.poe_class or 0
        if not (isinstance(other, Switch) and (other.supplies_class or 0) >= wanted):
            return f"power over the network, class {wanted}, for {one.id}"
    return ""

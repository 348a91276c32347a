"""Which way links are laid out, and which column each box stands in.

Links that close a circle are laid out against their signal: the arrowhead still tells which way it
runs.
"""

from __future__ import annotations

from collections.abc import Sequence

from wellheard.drawings.diagram.model import System


def columns(system: System) -> dict[str, int]:
    """Column of every box, the first 0, none empty.

    Parameters
    ----------
    system : System
        Its links end at boxes that it has.

    Returns
    -------
    dict of str to int
        Two boxes that a link joins are never in one column.

    References
    ----------
    .. [1] eades-lin-smyth:1993, vertices that only send go first, those that only receive last,
       else the one that sends most beyond what it receives.

    Examples
    --------
    >>> from wellheard.drawings.diagram.model import Box, End, Link
    >>> a, b, c = (Box(name, (name,)) for name in "abc")
    >>> ab = Link("1", End("a", "out"), End("b", "in"))
    >>> bc = Link("2", End("b", "out"), End("c", "in"))
    >>> back = Link("3", End("c", "back"), End("a", "back"))
    >>> columns(System((a, b, c), (ab, bc, back)))
    {'a': 0, 'b': 1, 'c': 2}
    """
    order = _sequence(system)
    place = {name: k for k, name in enumerate(order)}
    after: dict[str, set[str]] = {name: set() for name in order}
    before: dict[str, set[str]] = {name: set() for name in order}
    for link in system.links:
        one, other = sorted((link.start.box, link.end.box), key=place.__getitem__)
        if one != other:
            after[one].add(other)
            before[other].add(one)
    found: dict[str, int] = {}
    for name in order:
        found[name] = max((found[one] + 1 for one in before[name]), default=0)
    boxes = {box.id: box for box in system.boxes}
    for name in reversed(order):
        # What has more to the right than to the left of it stands as near to it as it can.
        if after[name] and len(after[name]) > len(before[name]) and not boxes[name].first:
            found[name] = min(found[other] for other in after[name]) - 1
    furthest = max(found.values(), default=0)
    for name in order:
        if boxes[name].last and not after[name]:
            found[name] = furthest
    used = {column: k for k, column in enumerate(sorted(set(found.values())))}
    return {box.id: used[found[box.id]] for box in system.boxes}


def _sequence(system: System) -> list[str]:
    """Boxes in an order that few links run against: by rank, then by who sends to whom."""
    rank = {box.id: box.rank for box in system.boxes}
    links = [(link.start.box, link.end.box) for link in system.links if not link.both]
    order: list[str] = []
    for value in sorted(set(rank.values())):
        members = [name for name in rank if rank[name] == value]
        inside = {name: k for k, name in enumerate(members)}
        order += _few_against(members, [(u, v) for u, v in links if u in inside and v in inside])
    return order


def _few_against(members: Sequence[str], links: Sequence[tuple[str, str]]) -> list[str]:
    sends: dict[str, list[str]] = {name: [] for name in members}
    takes: dict[str, list[str]] = {name: [] for name in members}
    for one, other in links:
        if one != other:
            sends[one].append(other)
            takes[other].append(one)
    out = {name: len(sends[name]) for name in members}
    into = {name: len(takes[name]) for name in members}
    left = dict.fromkeys(members)
    head: list[str] = []
    tail: list[str] = []

    def remove(name: str) -> None:
        del left[name]
        for other in sends[name]:
            into[other] -= 1
        for other in takes[name]:
            out[other] -= 1

    while left:
        chosen = next((name for name in left if not into[name]), None)
        if chosen is None:
            end = next((name for name in left if not out[name]), None)
            if end is not None:
                remove(end)
                tail.append(end)
                continue
            chosen = max(left, key=lambda name: out[name] - into[name])
        remove(chosen)
        head.append(chosen)
    return head + tail[::-1]

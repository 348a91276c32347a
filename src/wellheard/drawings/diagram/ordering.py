"""Order of the items in each column, and of free ports, so that few lines cross."""

from __future__ import annotations

import random
from bisect import bisect_left

from wellheard.drawings.diagram.mesh import Mesh, Row

SWEEPS, IDLE = 6, 2
"""To and fro, at most, from each start, and how many that gain nothing are enough."""
FAR_BEHIND = 1.3
EXCHANGES = 3
FEW_ITEMS, STARTS = 48, 24
"""Systems up to so many items are tried from so many random starts besides."""

_Kept = tuple[list[list[int]], list[tuple[list[list[Row]], list[list[Row]]]], list[list[int]]]


def order(mesh: Mesh) -> int:
    """Put the items of each column and their free ports into a good order; return the crossings.

    Sweeps by the mean place of what an item is joined to, then exchanges neighbours, from several
    starts; the best is kept. The same mesh gives the same order.

    References
    ----------
    .. [1] sugiyama-tagawa-toda:1981, sweeps by mean places.
    """
    search = _Search(mesh)
    chance = random.Random(0)
    best, kept = search.total(), search.keep()
    for start in range(2 + (STARTS if len(mesh.items) <= FEW_ITEMS else 0)):
        if best == 0:
            break
        if start < 2:
            search.along(from_left=start == 0)
        else:
            for column in mesh.columns:
                chance.shuffle(column)
                column.sort(key=lambda item: mesh.items[item].part)
            search.place_all()
        search.turn_all()
        found = search.improve(best)
        if found < best:
            best, kept = found, search.keep()
    search.restore(kept)
    return search.tidy(best)


def crossings(mesh: Mesh) -> int:
    """Number of pairs of nets that cross whatever tracks they take."""
    return _Search(mesh).total()


class _Search:
    def __init__(self, mesh: Mesh) -> None:
        self.mesh = mesh
        self.boxes = [item for item in mesh.items if item.box is not None]
        self.shared = [
            row
            for item in self.boxes
            for side in item.sides
            for group in side
            for row in group
            if len(row.pins) > 1
        ]
        self.position = [0] * len(mesh.item_of)
        self.anchor = [0] * len(mesh.item_of)
        """Place of a pin as far as its item's order decides it: free ports follow their links."""
        self.length = [[0, 0] for _ in mesh.columns]
        self.pins: list[tuple[list[int], list[int]]] = []
        """Of each item on either side, from top to bottom."""
        self.steps: list[tuple[list[int], list[int]]] = []
        """Of each pin, how far its anchor is from the first of its item."""
        self.list_pins()

    def list_pins(self) -> None:
        """List the pins of every item anew, and number them."""
        self.pins = [(item.pins(0), item.pins(1)) for item in self.mesh.items]
        self.steps = [(_steps(item.sides[0]), _steps(item.sides[1])) for item in self.mesh.items]
        self.place_all()

    def place_all(self) -> None:
        for column in range(len(self.mesh.columns)):
            self.place(column)

    def place(self, column: int) -> None:
        """Number the pins of a column from top to bottom, on either side."""
        position, anchor = self.position, self.anchor
        for side in (0, 1):
            count = 0
            for item in self.mesh.columns[column]:
                first = count
                for pin, step in zip(self.pins[item][side], self.steps[item][side], strict=True):
                    position[pin], anchor[pin] = count, first + step
                    count += 1
            self.length[column][side] = count

    def keep(self) -> _Kept:
        """What the order is now."""
        sides = [([*item.sides[0]], [*item.sides[1]]) for item in self.boxes]
        columns = [column[:] for column in self.mesh.columns]
        return columns, sides, [row.pins[:] for row in self.shared]

    def restore(self, kept: _Kept) -> None:
        """Put an order back."""
        columns, sides, rows = kept
        for column, items in zip(self.mesh.columns, columns, strict=True):
            column[:] = items
        for item, (left, right) in zip(self.boxes, sides, strict=True):
            item.sides[0][:] = left
            item.sides[1][:] = right
        for row, pins in zip(self.shared, rows, strict=True):
            row.pins[:] = pins
        self.list_pins()

    # Crossings

    def total(self) -> int:
        return sum(self.count(channel) for channel in range(len(self.mesh.channels)))

    def count(self, channel: int) -> int:
        """Pairs of nets that cross: chords of a circle whose ends alternate."""
        mesh, position = self.mesh, self.position
        left = self.length[channel - 1][1] if channel else 0
        right = self.length[channel][0] if channel < len(mesh.columns) else 0
        mate = [0] * (left + right)
        for number in mesh.channels[channel]:
            net = mesh.nets[number]
            one, other = position[net.one], position[net.other]
            if mesh.side_of[net.one] == 0:
                one = left + right - 1 - one
            if mesh.side_of[net.other] == 0:
                other = left + right - 1 - other
            mate[one], mate[other] = other, one
        found = 0
        open_: list[int] = []
        for here, there in enumerate(mate):
            if there > here:
                open_.append(here)
            else:
                at = bisect_left(open_, there)
                found += len(open_) - at - 1
                del open_[at]
        return found

    # Moves

    def along(self, *, from_left: bool) -> None:
        """Order every column as a walk along the links, from one end, comes upon its items."""
        mesh = self.mesh
        starts = mesh.columns if from_left else mesh.columns[::-1]
        seen: dict[int, int] = {}
        for column in starts:
            for first in column:
                waiting = [first]
                while waiting:
                    item = waiting.pop()
                    if item in seen:
                        continue
                    seen[item] = len(seen)
                    pins = [*self.pins[item][0], *self.pins[item][1]]
                    waiting += [mesh.item_of[mesh.mate[pin]] for pin in reversed(pins)]
        for column in mesh.columns:
            column.sort(key=lambda item: (mesh.items[item].part, seen[item]))
        self.place_all()

    def improve(self, bar: int) -> int:
        """Sweep and exchange until nothing gets better; end with the best of this search."""
        best, kept, idle = self.total(), self.keep(), 0
        for turn in range(SWEEPS):
            self.sweep(to_right=turn % 2 == 0)
            found = self.total()
            if 0 < found <= FAR_BEHIND * best:
                found = self.exchange(found)
            if found < best:
                best, kept, idle = found, self.keep(), 0
            else:
                idle += 1
            # A start that is far behind by now does not catch up.
            if best == 0 or idle == IDLE or (turn > 2 and best > FAR_BEHIND * bar + 4):
                break
        self.restore(kept)
        return best

    def sweep(self, *, to_right: bool) -> None:
        count = len(self.mesh.columns)
        for column in range(count) if to_right else range(count - 1, -1, -1):
            self.settle(column, 0 if to_right else 1)

    def settle(self, column: int, side: int) -> None:
        """Order a column, and free ports on one side of it, by what that side is joined to."""
        items, mate, position = self.mesh.items, self.mesh.mate, self.position
        order = self.mesh.columns[column]
        moving: list[tuple[int, float, int]] = []
        slots: list[int] = []
        for slot, item in enumerate(order):
            pins = self.pins[item][side]
            if len(pins) > 1:
                self.turn_ports(item, side)
            if pins:
                mean = sum(position[mate[pin]] for pin in pins) / len(pins)
                moving.append((items[item].part, mean, item))
                slots.append(slot)
        was = {item: slot for slot, item in enumerate(order)}
        moving.sort(key=lambda one: (one[0], one[1], was[one[2]]))
        for slot, (_, _, item) in zip(slots, moving, strict=True):
            order[slot] = item
        self.place(column)

    def turn_all(self) -> None:
        """Turn the ports of every column, twice, for each to follow those that it is joined to."""
        for _ in range(2):
            for column, order in enumerate(self.mesh.columns):
                for item in order:
                    for side in (0, 1):
                        if len(self.pins[item][side]) > 1:
                            self.turn_ports(item, side)
                self.place(column)

    def turn_ports(self, item: int, side: int) -> None:
        """Order the pins of each port, and free ports, by where their links go."""
        mate, position = self.mesh.mate, self.position
        groups = self.mesh.items[item].sides[side]
        means = {}
        for group in groups:
            total, count = 0, 0
            for row in group:
                if len(row.pins) > 1:
                    row.pins.sort(key=lambda pin: position[mate[pin]])
                for pin in row.pins:
                    total += position[mate[pin]]
                    count += 1
            means[id(group)] = total / count if count else -1.0
        groups.sort(key=lambda group: means[id(group)])
        self.pins[item][side][:] = self.mesh.items[item].pins(side)
        self.steps[item][side][:] = _steps(groups)

    def exchange(self, best: int) -> int:
        """Exchange neighbours wherever that saves crossings."""
        before, kept = best, self.keep()
        for _ in range(EXCHANGES):
            if not any([self.exchange_in(column) for column in range(len(self.mesh.columns))]):
                break
            self.turn_all()
            found = self.total()
            if found >= before:
                self.restore(kept)
                return before
            before, kept = found, self.keep()
        return before

    def tidy(self, best: int) -> int:
        """Put neighbours into the order of the document where that costs no crossing."""
        kept = self.keep()
        for column in range(len(self.mesh.columns)):
            self.exchange_in(column, tidy=True)
        self.turn_all()
        found = self.total()
        if found > best:
            self.restore(kept)
            return best
        return found

    def exchange_in(self, column: int, *, tidy: bool = False) -> bool:
        mesh = self.mesh
        order = mesh.columns[column]
        keys = {item: (self.keys(item, 0), self.keys(item, 1)) for item in order}
        changed = False
        for _ in order if tidy else order[:1]:
            still = True
            for k in range(len(order) - 1):
                one, other = order[k], order[k + 1]
                if mesh.items[one].part != mesh.items[other].part:
                    continue
                if tidy and one < other:
                    continue
                saved = sum(
                    _inversions(keys[one][side], keys[other][side])
                    - _inversions(keys[other][side], keys[one][side])
                    for side in (0, 1)
                )
                if saved > 0 or (tidy and saved == 0):
                    order[k], order[k + 1] = other, one
                    changed, still = True, False
            if still:
                break
        if changed:
            self.place(column)
        return changed

    def keys(self, item: int, side: int) -> list[int]:
        """Where the links of one side go: above on the same side, across, below on the same."""
        mesh, position, anchor = self.mesh, self.position, self.anchor
        found = []
        for pin in self.pins[item][side]:
            mate = mesh.mate[pin]
            if mesh.side_of[mate] != side:
                found.append(anchor[mate])
            elif position[mate] < position[pin]:
                found.append(-1 - position[mate])
            else:
                found.append(1_000_000 - position[mate])
        return sorted(found)


def _steps(groups: list[list[Row]]) -> list[int]:
    found: list[int] = []
    for group in groups:
        for row in group:
            start = 0 if len(group) == 1 else len(found)
            found += [start] * len(row.pins)
    return found


def _inversions(above: list[int], below: list[int]) -> int:
    """Pairs that cross with one list above the other."""
    return sum(bisect_left(below, key) for key in above)

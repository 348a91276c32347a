"""Tracks of one channel: where each line turns, so that none runs on another and few cross.

A net leaves its pins along their heights and turns on its track::

    ───┐            track 0   track 1
       │  ┌───
    ───┼──┘
       └──────

Of two nets the one on the left-hand track crosses the other's line from the left where that comes
in between its own ends, and the other crosses its line to the right likewise. Two nets whose lines
have one height, one from the left and one to the right, may not turn the wrong way round: there the
order is forced.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Turn:
    """A vertical stretch: heights where lines come from the left and go to the right.

    ``net`` is the same for both stretches of a net that turns twice, ``step`` tells them apart.
    """

    net: int
    lefts: tuple[float, ...]
    rights: tuple[float, ...]
    step: int = 0
    low: float = field(init=False)
    """Upper end."""
    high: float = field(init=False)
    """Lower end."""

    def __post_init__(self) -> None:
        """Find the ends."""
        heights = self.lefts + self.rights
        object.__setattr__(self, "low", min(heights))
        object.__setattr__(self, "high", max(heights))


@dataclass(frozen=True, slots=True)
class Tracks:
    """Track of each stretch, and how many there are."""

    turns: tuple[Turn, ...]
    track: tuple[int, ...]
    count: int


def assign(turns: Sequence[Turn], *, between: float) -> Tracks:
    """Give every stretch a track.

    Parameters
    ----------
    turns : sequence of Turn
        One for each net that does not run straight through.
    between : float
        Offset from a height of the grid at which no pin lies, for nets that have to turn twice.

    Returns
    -------
    Tracks
        With nets that went round in circles turning twice.
    """
    best = _assigned(turns, between)
    spare = _extra(best)
    while spare >= 2:
        # A forced order can cost crossings elsewhere: worth two corners if that saves two.
        tries = [
            _assigned(
                [*best.turns[:k], *_twice(turn, best.turns, between), *best.turns[k + 1 :]], between
            )
            for k, turn in enumerate(best.turns)
            if _is_tied(turn, best.turns)
        ]
        found = min(tries, key=_extra, default=best)
        if _extra(found) > spare - 2:
            break
        best, spare = found, _extra(found)
    return best


def _assigned(turns: Sequence[Turn], between: float) -> Tracks:
    nets = list(turns)
    while (circle := _circle(nets)) is not None:
        chosen = min(circle, key=lambda k: (nets[k].high - nets[k].low, k))
        nets[chosen : chosen + 1] = _twice(nets[chosen], nets, between)
    order, meeting = _sequence(nets)
    track = [-1] * len(nets)
    for number in order:
        track[number] = 1 + max((track[k] for k in meeting[number]), default=-1)
    return Tracks(tuple(nets), tuple(track), max(track, default=-1) + 1)


def _extra(tracks: Tracks) -> int:
    """Crossings beyond those that each pair of stretches would have alone."""
    found = 0
    placed = sorted(zip(tracks.track, tracks.turns, strict=True), key=lambda one: one[0])
    for k, (_, one) in enumerate(placed):
        for _, other in placed[k + 1 :]:
            if one.low <= other.high and other.low <= one.high:
                now = crossings_of(one, other)
                found += now - min(now, crossings_of(other, one))
    return found


def _is_tied(turn: Turn, turns: Sequence[Turn]) -> bool:
    """Whether another has its height on the other side, and it can turn twice."""
    if len(turn.lefts) != 1 or sum(one.net == turn.net for one in turns) > 1:
        return False
    return any(
        set(turn.lefts) & set(one.rights) or set(turn.rights) & set(one.lefts) for one in turns
    )


def crossings_of(one: Turn, other: Turn) -> int:
    """Crossings of two stretches with the one on the left-hand track."""
    found = 0
    for y in other.lefts:
        found += one.low < y < one.high
    for y in one.rights:
        found += other.low < y < other.high
    return found


def _may_not(one: Turn, other: Turn) -> bool:
    """Whether the one may not be on the left of the other."""
    if one.net == other.net:
        return one.step > other.step
    return any(y in other.lefts for y in one.rights)


def _circle(nets: Sequence[Turn]) -> list[int] | None:
    """Stretches each of which would have to be on the left of the next, round a circle."""
    at: dict[float, list[int]] = {}
    for k, net in enumerate(nets):
        for y in net.lefts:
            at.setdefault(y, []).append(k)
    # Who comes in at a height is on the left of who goes out at it.
    behind = [
        [j for y in net.rights for j in at.get(y, ()) if nets[j].net != net.net] for net in nets
    ]
    done = [False] * len(nets)
    for start in range(len(nets)):
        way = [] if done[start] else [start]
        while way:
            following = next((j for j in behind[way[-1]] if not done[j]), None)
            if following in way:
                return way[way.index(following) :]
            if following is None:
                done[way.pop()] = True
            else:
                way.append(following)
    return None


def _twice(net: Turn, nets: Sequence[Turn], between: float) -> list[Turn]:
    """A net in two stretches, with a line between them where no other has one."""
    taken = {y for one in nets for y in one.lefts + one.rights}
    middle = (net.low + net.high) / 2
    steps = range(-2 * len(taken) - 2, 2 * len(taken) + 3)
    free = [net.low + between + 2 * between * k for k in steps]
    chosen = min((y for y in free if y not in taken), key=lambda y: (abs(y - middle), y))
    return [Turn(net.net, net.lefts, (chosen,), 0), Turn(net.net, (chosen,), net.rights, 1)]


def _sequence(nets: Sequence[Turn]) -> tuple[list[int], list[list[int]]]:
    """Stretches from left to right, and of each those on its left that it may not share with."""
    count = len(nets)
    sorted_ = sorted(range(count), key=lambda k: nets[k].low)
    forced: list[set[int]] = [set() for _ in nets]
    """Who has to be on the left of each."""
    wish: list[dict[int, int]] = [{} for _ in nets]
    """Crossings that it saves to be on the left of another."""
    overlap: list[list[int]] = [[] for _ in nets]
    for place, i in enumerate(sorted_):
        for j in sorted_[place + 1 :]:
            if nets[j].low > nets[i].high:
                break
            overlap[i].append(j)
            overlap[j].append(i)
            if _may_not(nets[i], nets[j]):
                forced[i].add(j)
            elif _may_not(nets[j], nets[i]):
                forced[j].add(i)
            saved = crossings_of(nets[j], nets[i]) - crossings_of(nets[i], nets[j])
            if saved:
                wish[i][j], wish[j][i] = saved, -saved
    left = dict.fromkeys(range(count))
    gain = [sum(wish[k].values()) for k in range(count)]
    against = [sum(-w for w in wish[k].values() if w < 0) for k in range(count)]
    order: list[int] = []
    meeting: list[list[int]] = [[] for _ in nets]
    while left:
        ready = [k for k in left if not forced[k]]
        chosen = min(ready, key=lambda k: (against[k], -gain[k], k))
        del left[chosen]
        order.append(chosen)
        meeting[chosen] = [k for k in overlap[chosen] if k not in left]
        for k in overlap[chosen]:
            forced[k].discard(chosen)
            if k in left and chosen in wish[k]:
                gain[k] -= wish[k][chosen]
                against[k] += min(wish[k][chosen], 0)
    return order, meeting

"""How a cable runs from one port to another, how long it is, and what it costs.

Along the room and across it, in the void or under the floor, round what is in the way; straight
up and down at its ends. With `wellheard.schedules.planes` this is the one estimate of a run that
rules, placement, wiring and schedules share.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.labour import Labour
from wellheard.catalog.products import Cable, Jacket
from wellheard.room.document import Room
from wellheard.room.links import Link
from wellheard.schedules.planes import End, Ends, Plane, Point
from wellheard.schedules.routing import Piece, Routing, Track
from wellheard.units import FOOT, format_run

CUT = {"m": 0.5, "ft": FOOT}
"""Cable is cut to whole steps of this, by the document's units. [m]"""
STATED_AS = 5e-3
"""A stated length or corner that is this near to what is worked out is the same. [m]"""
BESIDE = 1.0
"""Ends below the ceiling that are no further apart are joined in the open [m]."""


@dataclass(frozen=True)
class CableRun:
    """One run of cable.

    Parameters
    ----------
    route : tuple of points
        Corners, straight between them, the ends first and last; empty where a place is unknown.
        [m]
    along, rises : float
        Horizontal pieces, and vertical ones. [m]
    loop : float
        Spare cable at both ends together. [m]
    in_void, in_floor, in_wall : float
        Of ``along + rises``, what lies in each; a surface run on a hard ceiling counts as wall,
        what is left lies in the open. [m]
    bends : int
        Corners between the ends.
    how : str
        In a sentence; where the length is unknown, why.
    assumed : tuple of str
        What was taken for want of a figure.
    stated : float or None
        Length that the document states; it goes before all others. [m]
    """

    route: tuple[Point, ...]
    along: float
    rises: float
    loop: float
    in_void: float
    in_floor: float
    in_wall: float
    bends: int
    how: str
    assumed: tuple[str, ...] = ()
    stated: float | None = None
    step: float = CUT["m"]

    @property
    def length(self) -> float | None:
        """Installed, spare cable included; None where it is unknown. [m]"""
        if self.stated is not None:
            return self.stated
        return self.along + self.rises + self.loop if self.route else None

    @property
    def cut_length(self) -> float | None:
        """The same rounded up to what cable is cut to; None where it is unknown. [m]"""
        if self.length is None:
            return None
        # A hair less, so that what is a whole number of steps but for rounding stays one.
        return math.ceil(self.length / self.step - 1e-6) * self.step


class Runs:
    """The runs of one document; made once, asked often.

    Parameters
    ----------
    room : Room
    catalogue : Catalogue
        Tells how devices are mounted.

    Examples
    --------
    >>> from wellheard.room.codec import parse
    >>> room = parse('''
    ... wellheard: 1
    ... space: {outline: [[0, 0], [6, 0], [6, 4], [0, 4]], height: 2.7, ceiling: {void_depth: 0.5}}
    ... people: {seats: {s1: {at: [3, 2], facing: 0}}}
    ... equipment: {rack: {kind: rack, at: [5.7, 0.4, 0.5]}}
    ... devices:
    ...   m1: {kind: microphone, product: ceiling-head-3, at: [2, 2, 2.4]}
    ...   mixer: {kind: processor, product: bridge-2, equipment: rack}
    ... ''')
    >>> run = Runs(room, Catalogue.shipped()).run("m1.link", "mixer.mic-1")
    >>> round(run.along, 3), round(run.rises, 3), run.loop  # 3.7 + 1.6; 0.45 up, 2.35 down; 3 + 1
    (5.3, 2.8, 4.0)
    >>> run.cut_length, run.bends, run.how
    (12.5, 3, 'through the ceiling void, down the wall at mixer; 4.00 m of service loop')
    """

    def __init__(self, room: Room, catalogue: Catalogue) -> None:
        self.room = room
        self.catalogue = catalogue
        self.ends = Ends(room, catalogue)
        self.routing = Routing(room)
        self._spare = {
            plane: room.targets.house_limit(code) or 0.0
            for plane, code in (("void", "service-loop"), ("below", "service-loop-below"))
        }
        self._step = CUT[room.units]
        self._known: dict[tuple[End, End], CableRun] = {}

    @property
    def has_void(self) -> bool:
        """Whether there is a void above the ceiling that cable lies in."""
        return self.routing.has_void

    def run(self, one: str, other: str, *, cord: bool = False) -> CableRun:
        """Run from one port to another.

        Parameters
        ----------
        one, other : str
            ``device.port``, or the id of a device, of equipment or of a picture.
        cord : bool
            A cord of fixed length lies where it likes: straight from end to end.
        """
        return self.between(self.ends.end(one), self.ends.end(other), cord=cord)

    def between(self, one: End, other: End, *, cord: bool = False) -> CableRun:
        """Run between two ends; of a device that has no place in the document yet, say."""
        lost = [end.device for end in (one, other) if end.at is None]
        if lost:
            return self._unknown(f"{lost[0]} has no place")
        if cord:
            return self._cord(one, other)
        # Which sockets they are makes no difference.
        one, other = replace(one, port=""), replace(other, port="")
        # Of ways that are alike the same is taken from either end: by place, not by who asks.
        if (one.place, one.plane) > (other.place, other.plane):
            back = self._once(other, one)
            return replace(back, route=back.route[::-1])
        return self._once(one, other)

    def _once(self, one: End, other: End) -> CableRun:
        if (one, other) not in self._known:
            self._known[one, other] = self._laid(one, other)
        return self._known[one, other]

    def of_link(self, link: Link) -> CableRun:
        """Run of a link of the document: its stated length and stated corners go first."""
        cord = None if link.cable is None else self.catalogue.cable(link.cable).length
        one, other = self.ends.end(link.from_), self.ends.end(link.to)
        if link.route:
            found = self.between(one, other)
            if not any(_same_way(found.route, way) for way in (link.route, link.route[::-1])):
                found = self._stated_route(link.route, one, other)
        else:
            found = self.between(one, other, cord=cord is not None)
            if cord is not None and found.route:
                spare = max(cord - found.along, 0.0)
                found = replace(
                    found, loop=spare, how="as long as its cord, or what it has to span"
                )
        if link.length is None:
            return found
        if found.length is not None and abs(found.length - link.length) <= STATED_AS:
            return replace(found, stated=link.length)
        return replace(found, stated=link.length, how="as stated", assumed=())

    def _unknown(self, why: str) -> CableRun:
        return CableRun((), 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0, why, step=self._step)

    def _cord(self, one: End, other: End) -> CableRun:
        span = math.dist(one.place, other.place)
        how = "straight from end to end, as a cord lies"
        return CableRun(
            (one.place, other.place), span, 0.0, 0.0, 0.0, 0.0, 0.0, 0, how, step=self._step
        )

    def _laid(self, one: End, other: End) -> CableRun:
        if self._side_by_side(one, other):
            found = self._made(self._in_the_open(one, other), self._spare["below"])
            return replace(found, route=found.route or (one.place, other.place))
        track = self.routing.track(one, other)
        if track is None:
            return self._unknown(
                f"no way leads from {one.device} to {other.device} along the room and across it"
            )
        return self._made(track, self._loop(one) + self._loop(other))

    def _loop(self, end: End) -> float:
        return self._spare["void" if end.plane == "void" else "below"]

    def _side_by_side(self, one: End, other: End) -> bool:
        """In one rack, on one table, or within reach of each other."""
        if one.housing and one.housing == other.housing:
            return True
        if "void" in (one.plane, other.plane):
            return False
        if math.dist(one.place, other.place) <= BESIDE + 1e-9:
            return True
        table = self.ends.table_under(one.place)
        return bool(table) and table == self.ends.table_under(other.place)

    def _in_the_open(self, one: End, other: End) -> Track:
        over = (*other.place[:2], one.place[2])
        corners = (one.place, over, other.place)
        if one.housing and one.housing == other.housing:
            how = f"inside {one.housing}"
        elif math.dist(one.place, other.place) <= BESIDE + 1e-9:
            how = f"in the open from {one.device} to {other.device}, next to it"
        else:
            how = f"under the top of {self.ends.table_under(one.place)}"
        return Track(tuple(Piece(a, b, "open") for a, b in pairwise(corners) if a != b), how)

    def _made(self, track: Track, loop: float) -> CableRun:
        return CableRun(
            route=track.corners,
            along=sum(p.length for p in track.pieces if not p.upright),
            rises=sum(p.length for p in track.pieces if p.upright),
            loop=loop,
            in_void=track.length_in("void"),
            in_floor=track.length_in("floor"),
            in_wall=track.length_in("wall"),
            bends=track.bends,
            how=self._with_loop(track.how, loop),
            assumed=track.assumed,
            step=self._step,
        )

    def _with_loop(self, how: str, loop: float) -> str:
        if not loop:
            return how
        return f"{how}; {format_run(loop, unit=self.room.units)} of service loop"

    def _stated_route(self, route: Sequence[Point], one: End, other: End) -> CableRun:
        """Along stated corners; what lies higher than the ceiling is in the void."""
        ends = [(a, b) for a, b in pairwise(route) if a != b]
        planes = self._lie(ends, one, other)
        for end, at in ((one, 0), (other, -1)):
            # What goes straight up or down at an end lies in what its cable leaves into.
            if ends and ends[at][0][:2] == ends[at][1][:2] and end.at is not None:
                planes[at] = self.routing.over if end.plane == "void" else end.plane
        pieces = tuple(Piece(a, b, plane) for (a, b), plane in zip(ends, planes, strict=True))
        track = Track(pieces, "along its stated route")
        return self._made(track, self._loop(one) + self._loop(other))

    def _lie(self, pieces: Sequence[tuple[Point, Point]], one: End, other: End) -> list[Plane]:
        """What each piece lies in; at the floor it is the foot of a wall for ends at walls."""
        height = self.room.space.height
        above = [k for k, (a, b) in enumerate(pieces) if min(a[2], b[2]) >= height - 1e-9]
        found: list[Plane] = []
        for k, (a, b) in enumerate(pieces):
            # Below, a way that goes up in between belongs to the end on its own side.
            mine = [
                end
                for end, there in ((one, above and k > above[-1]), (other, above and k < above[0]))
                if not there
            ]
            foot = all(end.plane == "wall" for end in mine) and self._at_foot(a, b)
            if k in above:
                found.append(self.routing.over)
            else:
                found.append("wall" if foot or max(a[2], b[2]) > 1e-9 else "floor")
        return found

    def _at_foot(self, a: Point, b: Point) -> bool:
        middle = ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2, 0.0)
        return all(self.ends.beside_wall(spot) for spot in (a, middle, b))


def _same_way(one: Sequence[Point], other: Sequence[Point]) -> bool:
    return len(one) == len(other) and all(
        math.dist(a, b) <= STATED_AS for a, b in zip(one, other, strict=True)
    )


def cost(cable: Cable, run: CableRun, jacket: Jacket | None, labour: Labour) -> float | None:
    """Price of a run of cable: material, both ends, and the work of pulling and finishing it.

    Parameters
    ----------
    cable : Cable
        By the metre, or a cord of fixed length.
    run : CableRun
        Its cut length is bought.
    jacket : {"plenum", "riser", "general"} or None
        One of the cable's; None is its plainest.
    labour : Labour
        In the cable's currency.

    Returns
    -------
    float or None
        Without tax; None where the length is unknown. [currency]

    Raises
    ------
    CatalogError
        The cable cannot be bought with that jacket.
    """
    if run.cut_length is None:
        return None
    work = sum(labour.price(task, count) for task, count in work_on(cable, run))
    return round(cable.cost(run.cut_length, jacket) + work, 2)


def work_on(cable: Cable, run: CableRun) -> Iterator[tuple[str, float]]:
    """Every task on a run with its count, as the bill lists them; nothing where it is unknown.

    Spare cable at the ends is not pulled. What is stated as a length only counts as pulled the
    way that it would be estimated.
    """
    if run.length is None:
        return
    if cable.length is not None:
        yield "plug", 2.0
        return
    yield "prepare", 1.0
    yield "terminate", 2.0
    for task, metres in (
        ("pull-void", run.in_void),
        ("pull-floor", run.in_floor),
        ("pull-wall", run.in_wall),
        ("lay-open", max(run.along + run.rises - run.in_void - run.in_floor - run.in_wall, 0.0)),
    ):
        if metres > 1e-9:
            yield task, metres

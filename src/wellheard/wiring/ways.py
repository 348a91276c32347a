"""The cheapest way from one port to another: which cable, which jacket, what between them."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise

from wellheard.acoustics import line
from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.connections import extenders_of
from wellheard.catalog.labour import Labour, shipped
from wellheard.catalog.lines import link_limit
from wellheard.catalog.ports import PortKind, Signal
from wellheard.catalog.products import Cable, Extender
from wellheard.catalog.regions import jacket_needed
from wellheard.room.document import Room
from wellheard.schedules.runs import BESIDE, CableRun, Runs, cost
from wellheard.units import format_length
from wellheard.wiring.task import Leg, Point, Way

CORDS_ONLY = ("usb", "hdmi", "unbalanced")
"""Kinds whose cords run where they like. A cord of another kind stays within one rack or box: it
is not pulled through ceilings and walls."""

TOUCH = 1e-6
"""Lengths that differ by less are the same [m]."""


class Ways:
    """Ways between the ends of one document; what was asked once is known.

    Parameters
    ----------
    room : Room
        With the racks and computers that wiring takes to be there.
    catalogue : Catalogue
    """

    def __init__(self, room: Room, catalogue: Catalogue) -> None:
        self.room = room
        self.catalogue = catalogue
        self.runs = Runs(room, catalogue)
        self.labour: Labour = shipped()
        self._stated = {
            frozenset((link.from_.partition(".")[0], link.to.partition(".")[0])): link.length
            for link in room.links.values()
            if link.length is not None
        }
        self._known: dict[tuple[object, ...], Way | str] = {}

    def way(
        self,
        kind: PortKind,
        signal: Signal,
        one: str,
        other: str,
        *,
        limit: float | None = None,
        load: float | None = None,
        powered: bool = False,
    ) -> Way | str:
        """Cheapest way, then the one with fewer devices, then the shorter; else why there is none.

        Parameters
        ----------
        kind : str
            Kind of cable.
        signal : str
            What it carries.
        one, other : str
            Ends, ``device.port`` or the id of equipment.
        limit : float, optional
            Longest run that the product allows; the usual one of its kind if not given. [m]
        load : float, optional
            Impedance at the end of a loudspeaker line, whose loss then decides. [Ω]
        powered : bool
            A device takes its power from this cable: extenders that pass none are left out.
        """
        ends = one.partition(".")[0], other.partition(".")[0]
        key = (kind, signal, *ends, limit, load, powered)
        if key not in self._known:
            if limit is None:
                usual = link_limit(kind, signal)
                limit = math.inf if usual is None else usual.length
            found = [
                *self._direct(kind, one, other, limit, load),
                *self._extended(kind, one, other, limit, powered=powered),
            ]
            best = min(found, key=lambda w: (w.cents, w.electronics, w.millimetres), default=None)
            self._known[key] = best or self._why_not(kind, one, other, limit, load)
        return self._known[key]

    def _run(self, one: str, other: str, *, cord: bool) -> CableRun:
        found = self.runs.run(one, other, cord=cord)
        stated = self._stated.get(frozenset((one.partition(".")[0], other.partition(".")[0])))
        if stated is not None:
            return replace(found, stated=stated, assumed=())
        if not found.route and found.loop:
            return replace(found, stated=found.loop)  # both ends in one place: spare cable alone
        return found

    def _cables(self, kind: PortKind) -> Iterator[Cable]:
        for cable in self.catalogue.cables:
            if kind in cable.carries and cable.status == "current":
                yield cable

    def _direct(
        self, kind: PortKind, one: str, other: str, limit: float, load: float | None
    ) -> Iterator[Way]:
        for cable in self._cables(kind):
            longest = min(limit, cable.max_length)
            if load is not None:
                longest = min(cable.max_length, line.longest_line(awg=cable.awg, load=load))
            if cable.length is not None:
                if self._may_lie(kind, one, other):
                    span = self._run(one, other, cord=True).length
                    if span is not None and span <= min(cable.length, longest) + TOUCH:
                        yield Way((self._cord(cable),))
                continue
            run = self._run(one, other, cord=False)
            leg = self._leg(cable, run, longest)
            if leg is not None:
                yield Way((leg,), assumed=run.assumed)

    def _may_lie(self, kind: PortKind, one: str, other: str) -> bool:
        if kind in CORDS_ONLY:
            return True
        first, second = (self.runs.ends.end(port) for port in (one, other))
        return bool(first.housing) and first.housing == second.housing

    def _cord(self, cable: Cable) -> Leg:
        assert cable.length is not None
        work = self.labour.price("plug", 2)
        return Leg(cable.id, None, cable.length, (), round(100 * (cable.price + work)))

    def _leg(self, cable: Cable, run: CableRun, longest: float) -> Leg | None:
        if run.length is None or run.length > longest + TOUCH:
            return None
        needed = jacket_needed(
            self.room.site.region,
            in_void=run.in_void > 0,
            air_return=self.room.space.ceiling.air_return,
        )
        jacket = cable.jacket_for(needed.jacket)
        if jacket is None:
            return None
        price = cost(cable, run, jacket, self.labour)
        assert price is not None
        return Leg(cable.id, jacket, run.length, run.route, round(100 * price))

    # With something in between

    def _extended(
        self, kind: PortKind, one: str, other: str, limit: float, *, powered: bool
    ) -> Iterator[Way]:
        choices = self.room.choices
        for extender in extenders_of(kind, self.catalogue):
            if extender.id in choices.exclude or not self._may_buy(extender):
                continue
            if powered and not extender.passes_power:
                continue
            if extender.over == extender.carries:
                yield from self._repeated(extender, one, other, limit)
            else:
                yield from self._paired(extender, one, other)

    def _may_buy(self, extender: Extender) -> bool:
        named = [
            one
            for one in self.catalogue.extenders
            if one.id in self.room.choices.allow and one.carries == extender.carries
        ]
        if any(device.product == extender.id for device in self.room.devices.values()):
            return True
        return (
            extender.chosen_by_name
            if extender in named
            else (not named and extender.chosen_unnamed)
        )

    def _repeated(self, extender: Extender, one: str, other: str, limit: float) -> Iterator[Way]:
        """A repeater in the middle of the run; one to a run."""
        run = self._run(one, other, cord=False)
        if run.length is None or not run.route:
            return
        # As near to the middle as both halves allow.
        first = min(max(run.length / 2, run.length - extender.max_length), limit)
        for cable in self._cables(extender.carries):
            if cable.length is not None:
                continue
            halves = [
                self._leg(cable, _share(run, part / run.length), min(most, cable.max_length))
                for part, most in ((first, limit), (run.length - first, extender.max_length))
            ]
            if halves[0] is None or halves[1] is None:
                continue
            at, before, behind = _parted(run.route, first / run.length)
            mounting = extender.mountings[0]
            price = self.catalogue.installed_price(extender, mounting).amount
            yield Way(
                (replace(halves[0], route=before), replace(halves[1], route=behind)),
                extender=extender.id,
                extender_cents=round(100 * price),
                at=self._below_ceiling(at),
                assumed=run.assumed,
            )

    def _paired(self, extender: Extender, one: str, other: str) -> Iterator[Way]:
        """A box at each end, a cord to each, and a cable of its own between them."""
        cords = [cable for cable in self._cables(extender.carries) if cable.length is not None]
        if not cords:
            return
        cord = self._cord(min(cords, key=lambda cable: (cable.price, cable.length, cable.id)))
        housed, mounting, turned = self._housing(extender, one, other)
        run = self._between_boxes(one, other, housed, turned=turned)
        at = None if housed else self._below_ceiling(self.runs.ends.end(one).at)
        price = self.catalogue.installed_price(extender, mounting).amount
        for cable in self._cables(extender.over):
            if cable.length is not None:
                continue
            between = self._leg(cable, run, min(extender.max_length, cable.max_length))
            if between is not None:
                yield Way(
                    (cord, between, cord),
                    extender=extender.id,
                    extender_cents=round(100 * price),
                    housed=housed,
                    at=at,
                    turned=turned,
                    assumed=run.assumed,
                )

    def _between_boxes(self, one: str, other: str, housed: str, *, turned: bool) -> CableRun:
        """Run from where the near box stands to the far one, beside the other end."""
        found = self._run(one, other, cord=False)
        if not housed or found.stated is not None:
            return found
        return self._run(one if turned else housed, housed if turned else other, cord=False)

    def _below_ceiling(self, at: Point | None) -> Point | None:
        """A document has no place above its ceiling: right below, and the route says where."""
        if at is None:
            return None
        return at[0], at[1], min(max(at[2], 0.0), self.room.space.height)

    def _housing(self, extender: Extender, *ports: str) -> tuple[str, str, bool]:
        """Rack or table box at one end that takes it, its mounting, whether at the second end.

        Without one it is mounted as it usually is, at the first end.
        """
        for turned, port in enumerate(ports):
            end = self.runs.ends.end(port)
            for name, item in self.room.equipment.items():
                near = end.at is not None and math.dist(end.at, item.at) <= BESIDE
                if item.kind in extender.mountings and (name == end.housing or near):
                    return name, item.kind, bool(turned)
        return "", extender.mountings[0], False

    # Why not

    def _why_not(
        self, kind: PortKind, one: str, other: str, limit: float, load: float | None
    ) -> str:
        cord = kind in CORDS_ONLY
        run = self._run(one, other, cord=cord)
        if run.length is None:
            return run.how
        length = self._length(run.length)
        if load is not None:
            return (
                f"its line to {other.partition('.')[0]} would be {length}, and the thickest cable "
                f"of the catalogue loses more than {line.LOSS_LIMIT_DB:g} dB on it"
            )
        if run.length > limit + TOUCH:
            return (
                f"its cable to {other.partition('.')[0]} would be {length}; a {kind} link reaches "
                f"{self._length(limit)}, and no extender of the catalogue carries it so far"
            )
        return (
            f"no cable of the catalogue for {kind} is {length} long with the jacket that the way "
            f"to {other.partition('.')[0]} needs"
        )

    def _length(self, metres: float) -> str:
        return format_length(metres, unit=self.room.units)


def _share(run: CableRun, share: float) -> CableRun:
    """A part of a run, of all that it lies in alike."""
    return replace(
        run,
        along=run.along * share,
        rises=run.rises * share,
        loop=run.loop * share,
        in_void=run.in_void * share,
        in_floor=run.in_floor * share,
        in_wall=run.in_wall * share,
        stated=None if run.stated is None else run.stated * share,
    )


def _parted(
    route: tuple[Point, ...], share: float
) -> tuple[Point, tuple[Point, ...], tuple[Point, ...]]:
    """Point at a share of a route, and the route before and behind it."""
    steps = [math.dist(a, b) for a, b in pairwise(route)]
    left = share * sum(steps)
    for k, step in enumerate(steps):
        if left <= step and step > 0:
            a, b = route[k], route[k + 1]
            x, y, z = (round(p + (q - p) * left / step, 3) for p, q in zip(a, b, strict=True))
            at = (x, y, z)
            return at, (*route[: k + 1], at), (at, *route[k + 1 :])
        left -= step
    return route[-1], route, route[-1:]

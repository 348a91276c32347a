"""The wiring problem as a program of whole numbers.

Electronics that are bought are counted by product and place, not told apart: two alike in one
rack have the same cables, and no order among them has to be ruled out. Which microphone goes to
which of them is written down afterwards.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import TypeAlias

import numpy as np

from wellheard.arrays import Array
from wellheard.milp import Indices, Outcome, Program
from wellheard.wiring.task import MicrophoneNeed, NetworkNeed, Site, SwitchSite, Task, Way
from wellheard.wiring.tightening import tighten

TIMES = 64
"""More of anything than a room has."""

Group: TypeAlias = tuple[int, int]
"""What devices on the network want of a port alike: class and milliwatts."""

PLAIN: Group = (0, 0)


@dataclass
class Column:
    """What a column counts, and what one of it costs."""

    name: tuple[str, ...]
    cents: int = 0
    electronics: int = 0
    millimetres: int = 0
    missed: int = 0
    most: int = 1
    changed: int = 0
    """Joins two devices that no link of the document joins."""


@dataclass
class Sheet:
    """Columns by name, and the rows between them, before they are handed to the solver."""

    columns: list[Column] = field(default_factory=list)
    at: dict[tuple[str, ...], int] = field(default_factory=dict)
    rows: list[tuple[list[int], list[float], float, float]] = field(default_factory=list)
    extended: dict[tuple[str, int], list[tuple[float, tuple[str, ...]]]] = field(
        default_factory=dict
    )
    """Columns that take an extender, by product and price."""

    def count(
        self,
        *name: str,
        most: int = 1,
        cents: int = 0,
        electronics: int = 0,
        millimetres: int = 0,
        missed: int = 0,
    ) -> None:
        """Add a column."""
        self.at[name] = len(self.columns)
        self.columns.append(Column(name, cents, electronics, millimetres, missed, most))

    def way(self, *name: str, way: Way, times: int = 1, most: int = 1) -> None:
        """Add a column for a way, laid so often for each one that is counted."""
        self.count(
            *name,
            most=most,
            cents=times * way.cents,
            electronics=times * way.electronics,
            millimetres=times * way.millimetres,
        )
        self.extends(name, way, times)

    def extends(self, name: tuple[str, ...], way: Way, times: int = 1) -> None:
        """Note that a column takes the extender of a way, if it has one."""
        if way.extender:
            key = (way.extender, way.extender_cents)
            self.extended.setdefault(key, []).append((float(times), name))

    def row(
        self,
        terms: Iterable[tuple[float, tuple[str, ...]]],
        *,
        lower: float = -np.inf,
        upper: float = np.inf,
    ) -> None:
        """Add ``lower ≤ Σ factor · column ≤ upper``; columns that are not there count nothing."""
        factors: dict[int, float] = {}
        for factor, name in terms:
            if name in self.at:
                k = self.at[name]
                factors[k] = factors.get(k, 0.0) + factor
        if factors:
            self.rows.append((list(factors), list(factors.values()), lower, upper))

    def solve(
        self,
        cost: Array,
        *,
        caps: Iterable[tuple[Array, float]] = (),
        time_limit: float,
        start: Array | None = None,
    ) -> Outcome:
        """Least cost with the sums of ``caps`` no more than they were."""
        program = Program()
        upper = self.most
        for weights, most in caps:
            if (weights >= 0).all():
                upper[weights > most] = 0.0  # nothing of what costs more than there is
        columns = program.columns(len(self.columns), cost=cost, upper=upper, whole=True)
        for where, factors, low, high in self.rows:
            program.row(columns[where], np.array(factors), lower=low, upper=high)
        for weights, most in caps:
            used: Indices = np.flatnonzero(weights)
            if len(used):
                program.row(columns[used], weights[used], upper=most)
        return program.solve(time_limit=time_limit, start=start)

    @property
    def most(self) -> Array:
        """Most of each column."""
        return np.array([float(one.most) for one in self.columns])

    def weights(self, of: str) -> Array:
        """What one of each column counts: cents, electronics, millimetres, missed or changed."""
        return np.array([float(getattr(one, of)) for one in self.columns])


def sheet(task: Task) -> Sheet:
    """Columns and rows of a task."""
    made = Sheet()
    _hubs(made, task)
    _microphones(made, task)
    _amplifiers(made, task)
    _loudspeakers(made, task)
    _switches(made, task)
    _straight(made, task)
    _reused(made, task)
    tighten(made, task)
    _hints(made, task)
    return made


def _reused(made: Sheet, task: Task) -> None:
    """Extenders of the document take the place of those that were to be bought."""
    for product, numbers in task.spare.items():
        prices = [cents for name, cents in made.extended if name == product]
        for whose, number, counted in zip(("mine", "other"), numbers, (1, 0), strict=True):
            for cents in prices:
                name = ("reused", product, str(cents), whose)
                made.count(*name, most=number, cents=-cents, electronics=-counted)
            every = [(1.0, ("reused", product, str(cents), whose)) for cents in prices]
            made.row(every, upper=number)
        for cents in prices:
            taken_back = [
                (-1.0, ("reused", product, str(cents), whose)) for whose in ("mine", "other")
            ]
            made.row([*made.extended[product, cents], *taken_back], lower=0)


JOINS = ("ends", "hangs", "lined", "joins", "hub-joins", "amplifier-joins", "straight", "behind")
"""Kinds of column that join two devices."""


def _hints(made: Sheet, task: Task) -> None:
    """Among equals what the document has goes first."""
    amplifiers = {feed.key: feed.amplifier for feed in task.feeds}
    ends = {("root", one.site.key): one.computer_end for one in task.hubs}
    ends |= {("first", one.site.key): one.building_end for one in task.switches}
    for column in made.columns:
        if column.name[0] in JOINS:
            joined = (amplifiers.get(name, name) for name in column.name[1:])
            column.changed = int(frozenset(n.partition(".")[0] for n in joined) not in task.hints)
        elif column.name in ends:
            pair = (column.name[1], ends[column.name].partition(".")[0])
            column.changed = int(frozenset(pair) not in task.hints)


def _site(made: Sheet, kind: str, site: Site, *, most: int | None = None) -> None:
    made.count(
        kind,
        site.key,
        most=site.most if most is None else most,
        cents=site.cents,
        electronics=int(site.counts),
    )


def _hubs(made: Sheet, task: Task) -> None:
    """So many of each, one of them the root, the others hanging on it."""
    roots = [one for one in task.hubs if one.computer is not None]
    for hub in task.hubs:
        _site(made, "hub", hub.site)
        made.count("on-network", hub.site.key, most=hub.site.most if hub.network else 0)
    for hub in roots:
        assert hub.computer is not None
        made.way("root", hub.site.key, way=hub.computer)
        made.count("plays", hub.site.key, most=min(1, hub.outputs))
    made.count("plays-network")
    for (branch, root), (there, back) in task.between_hubs.items():
        made.count(
            "branch",
            branch,
            root,
            most=TIMES,
            cents=there.cents + back.cents,
            electronics=there.electronics + back.electronics,
            millimetres=there.millimetres + back.millimetres,
        )
        for way in (there, back):
            made.extends(("branch", branch, root), way)
    every_root = [("root", one.site.key) for one in roots]
    made.row([(1, name) for name in every_root], upper=1)
    for hub in task.hubs:
        key = hub.site.key
        made.row([(1, ("hub", key)), *((-hub.site.most, name) for name in every_root)], upper=0)
        # One that is powered from the network is always on it.
        less = -np.inf if hub.power == PLAIN else 0.0
        made.row([(1, ("on-network", key)), (-1, ("hub", key))], lower=less, upper=0)
        hung = [(-1, ("branch", key, one.site.key)) for one in roots]
        made.row([(1, ("hub", key)), (-1, ("root", key)), *hung], lower=0, upper=0)
    for hub in roots:
        key = hub.site.key
        mine = [(1, ("branch", one.site.key, key)) for one in task.hubs]
        made.row([*mine, (-hub.line_inputs, ("root", key))], upper=0)
        made.row([*mine, (1, ("plays", key)), (-hub.outputs, ("root", key))], upper=0)
        # What the root plays over the network, it is on the network for.
        made.row([(1, ("root", key)), (1, ("plays-network",)), (-1, ("on-network", key))], upper=1)
    made.row([(1, ("plays-network",)), *((-1, name) for name in every_root)], upper=0)


def _microphones(made: Sheet, task: Task) -> None:
    """Each to one hub, as many as it has ports."""
    for need in task.microphones:
        for key, way in need.ways.items():
            made.way("ends", need.id, key, way=way)
        made.count("missed", need.id, missed=1)
        ends = [(1, ("ends", need.id, key)) for key in need.ways]
        made.row([*ends, (1, ("missed", need.id))], lower=1, upper=1)
    for hub in task.hubs:
        key = hub.site.key
        for heard, name in ((task.microphones, "hub"), (_networked(task), "on-network")):
            there = [(1, ("ends", need.id, key)) for need in heard]
            made.row([*there, (-hub.microphones, (name, key))], upper=0)


def _networked(task: Task) -> tuple[MicrophoneNeed, ...]:
    return tuple(need for need in task.microphones if need.network)


def _amplifiers(made: Sheet, task: Task) -> None:
    """So many of each, fed by the root's lines or over the network."""
    for amplifier in task.amplifiers:
        key = amplifier.site.key
        _site(made, "amplifier", amplifier.site)
        made.count("on-network", key, most=amplifier.site.most if amplifier.network else 0)
        # One that is powered from the network is always on it.
        less = -np.inf if amplifier.power == PLAIN else 0.0
        made.row([(1, ("on-network", key)), (-1, ("amplifier", key))], lower=less, upper=0)
        heard = (amplifier.heard, key)
        if amplifier.power != PLAIN:
            made.count(*heard, most=amplifier.site.most)
            made.row([(1, heard), (-1, ("on-network", key))], upper=0)
        made.row([(1, heard), (-TIMES, ("plays-network",))], upper=0)
        mine = [feed for feed in task.feeds if feed.amplifier == key]
        for feed in mine:
            made.count("channels", feed.key, most=amplifier.channels * amplifier.site.most)
        used = [(1.0, ("channels", feed.key)) for feed in mine]
        made.row([*used, (-amplifier.channels, ("amplifier", key))], upper=0)
        fed = []
        for (name, hub), way in task.to_amplifier.items():
            if name == key:
                most = amplifier.channels * amplifier.site.most
                made.way("fed", key, hub, way=way, most=most)
                made.row([(1, ("fed", key, hub)), (-most, ("plays", hub))], upper=0)
                fed.append((-1.0, ("fed", key, hub)))
        if not amplifier.fed:
            # Channels that are not on the network each take a line.
            network = [(-float(amplifier.channels), heard)]
            made.row([*used, *network, *fed], upper=0)


def _loudspeakers(made: Sheet, task: Task) -> None:
    for need in task.passive:
        for key, way in need.ways.items():
            made.way("hangs", need.id, key, way=way, times=need.units)
        made.count("missed", need.id, missed=1)
        hangs = [(1, ("hangs", need.id, key)) for key in need.ways]
        made.row([*hangs, (1, ("missed", need.id))], lower=1, upper=1)
    for feed in task.feeds:
        units = [(one.units, ("hangs", one.id, feed.key)) for one in task.passive]
        made.row([*units, (-feed.per_channel, ("channels", feed.key))], upper=0)
    for line in task.line:
        for hub, way in line.ways.items():
            made.way("lined", line.id, hub, way=way)
            made.row([(1, ("lined", line.id, hub)), (-1, ("plays", hub))], upper=0)
        made.count("missed", line.id, missed=1)
        lined = [(1, ("lined", line.id, hub)) for hub in line.ways]
        made.row([*lined, (1, ("missed", line.id))], lower=1, upper=1)


def _switches(made: Sheet, task: Task) -> None:
    """Ports, power and the cables between them.

    A device joins the switches of one place; how many of those that want alike each switch of the
    place carries is counted, not which.
    """
    for switch in task.switches:
        _site(made, "switch", switch.site)
    # Of those that are alike the first that is bought leads to the building.
    alike = _alike(task)
    firsts = [one for one in task.switches if one.site.there or one.site.key in alike]
    for switch in firsts:
        made.way("first", switch.site.key, way=switch.building)
    for (one, first), way in task.between_switches.items():
        if ("first", first) in made.at:
            made.way("behind", one, first, way=way)
    joined: dict[tuple[str, Group], list[tuple[float, tuple[str, ...]]]] = {}
    for need in task.network:
        _joins(made, task, need)
        for place in need.ways:
            name = ("joins", need.id, place)
            joined.setdefault((place, group_of(need)), []).append((1.0, name))
    hubs = [(one.site, one.power) for one in task.hubs]
    amplifiers = [(one.site, one.power) for one in task.amplifiers]
    for kind, ways, sites in (
        ("hub-joins", task.hub_to_switch, hubs),
        ("amplifier-joins", task.amplifier_to_switch, amplifiers),
    ):
        for site, group in sites:
            there = []
            for (key, place), way in ways.items():
                if key == site.key:
                    made.way(kind, key, place, way=way, most=site.most)
                    joined.setdefault((place, group), []).append((1.0, (kind, key, place)))
                    there.append((-1.0, (kind, key, place)))
            made.row([(1, ("on-network", site.key)), *there], lower=0, upper=0)
    groups = list(dict.fromkeys(group for _, group in joined))
    for switch in task.switches:
        for group in groups:
            able = group[0] <= switch.power_class
            made.count("carries", *named(group), switch.site.key, most=TIMES if able else 0)
    for (place, group), terms in joined.items():
        carried = [
            (-1.0, ("carries", *named(group), one.site.key))
            for one in task.switches
            if one.site.place == place
        ]
        made.row([*terms, *carried], lower=0, upper=0)
    for switch in task.switches:
        _ports_of(made, task, switch, groups)
    made.row([(1.0, ("first", one.site.key)) for one in task.switches], upper=1)
    _in_order(made, task)


def _joins(made: Sheet, task: Task, need: NetworkNeed) -> None:
    for place, way in need.ways.items():
        made.way("joins", need.id, place, way=way)
    joins = [(1.0, ("joins", need.id, place)) for place in need.ways]
    heard = next((one for one in task.microphones if one.id == need.id), None)
    if heard is not None:
        ends = [(-1.0, ("ends", need.id, hub)) for hub in heard.ways]
        if joins:
            made.row([*joins, *ends], lower=0, upper=0)
        else:
            made.row(ends, lower=0)
        return
    made.count("missed", need.id, missed=1)
    made.row([*joins, (1, ("missed", need.id))], lower=1, upper=1)
    if need.of == "loudspeaker":
        made.row([*joins, (-1, ("plays-network",))], upper=0)


def group_of(need: NetworkNeed) -> Group:
    """Group of a device: nothing of those that are powered otherwise."""
    return (need.power_class, need.need_mw) if need.power_class else PLAIN


def named(group: Group) -> tuple[str, str]:
    """A group as part of a column's name."""
    return str(group[0]), str(group[1])


def _ports_of(made: Sheet, task: Task, switch: SwitchSite, groups: Sequence[Group]) -> None:
    key = switch.site.key
    carried = [(group, ("carries", *named(group), key)) for group in groups]
    behind = [(1.0, ("behind", one.site.key, key)) for one in task.switches]
    up = [(-1.0, ("behind", key, one.site.key)) for one in task.switches]
    # One port leads on: to the building, or to the switch that it hangs on.
    ports = [(1.0, name) for _, name in carried]
    made.row([*ports, *behind, (1.0 - switch.ports, ("switch", key))], upper=0)
    made.row([(1, ("switch", key)), (-1, ("first", key)), *up], lower=0, upper=0)
    made.row([*behind, (-TIMES, ("first", key))], upper=0)
    powered = [(group, name) for group, name in carried if group != PLAIN]
    made.row(
        [*((1.0, name) for _, name in powered), (-switch.powered_ports, ("switch", key))], upper=0
    )
    # Watts, not milliwatts: the solver's tolerance is a millionth.
    made.row(
        [
            *((group[1] / 1000, name) for group, name in powered),
            (-switch.budget_mw / 1000, ("switch", key)),
        ],
        upper=0,
    )


def _alike(task: Task) -> dict[str, list[str]]:
    """Switches that may be bought and are alike, by the first of them."""
    found: dict[tuple[str, str], list[str]] = {}
    for one in task.switches:
        if not one.site.there:
            found.setdefault((one.site.product, one.site.place), []).append(one.site.key)
    return {keys[0]: keys for keys in found.values()}


def _in_order(made: Sheet, task: Task) -> None:
    """Of switches that are alike, the second is bought only with the first."""
    for keys in _alike(task).values():
        for former, latter in pairwise(keys):
            made.row([(1, ("switch", latter)), (-1, ("switch", former))], upper=0)


def _straight(made: Sheet, task: Task) -> None:
    for need in task.straight:
        for end, way in need.ways.items():
            made.way("straight", need.port, end, way=way)
        made.count("missed", need.port, missed=1)
        ends = [(1, ("straight", need.port, end)) for end in need.ways]
        made.row([*ends, (1, ("missed", need.port))], lower=1, upper=1)
    for end, most in task.room_for.items():
        made.row([(1, ("straight", need.port, end)) for need in task.straight], upper=most)


def taken(made: Sheet, values: Array) -> Mapping[tuple[str, ...], int]:
    """How many of each column there are, of those that there are any of."""
    counts = np.round(values).astype(np.int64)
    return {column.name: int(n) for column, n in zip(made.columns, counts, strict=True) if n}

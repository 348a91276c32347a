"""Every answer to a wiring task, counted one by one: each device by itself, no solver.

Written without a look at the program of `wellheard.wiring.program`: there devices of one sort are
counted, here each has a number, each port and each channel is filled or not.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from wellheard.wiring.task import AmplifierSite, Feed, NetworkNeed, SwitchSite, Task, Way

Score = tuple[int, int, int, int]
"""Unwired, cents, electronics, millimetres."""

NOTHING: Score = (0, 0, 0, 0)
NEVER: Score = (10**9, 0, 0, 0)


def plus(*scores: Score) -> Score:
    """Sum of scores."""
    a, b, c, d = (sum(part) for part in zip(*scores, strict=True)) if scores else NOTHING
    return a, b, c, d


def of_way(way: Way) -> Score:
    """Score of one way."""
    extender = 1 if way.extender else 0
    cents = way.extender_cents + sum(leg.cents for leg in way.legs)
    return 0, cents, extender, sum(round(1000 * leg.length) for leg in way.legs)


MISSED: Score = (1, 0, 0, 0)

Known = dict[tuple[object, ...], Any]
"""What was counted already, by all that it depends on."""


@dataclass(frozen=True)
class Box:
    """One device: its site, and whether it is on the network."""

    site: str
    networked: bool


@dataclass(frozen=True)
class Setup:
    """Which processors and amplifiers there are, and what the root plays on."""

    hubs: tuple[Box, ...]
    root: int | None
    amplifiers: tuple[Box, ...]
    lines: bool
    network: bool


def best(task: Task) -> Score:
    """Least score of all answers."""
    found = NEVER
    known: Known = {}
    for one in _setups(task):
        found = min(found, _setup(task, one, known, found))
    return plus(found, _straight(task))


def _boxes(sites: Sequence[tuple[str, int, bool]]) -> Iterator[tuple[Box, ...]]:
    """Every number of each site, each box on the network or not."""
    numbers = [range(most + 1) for _, most, _ in sites]
    for counts in itertools.product(*numbers):
        flags = [
            [(False,) * (n - k) + (True,) * k for k in range((n if able else 0) + 1)]
            for n, (_, _, able) in zip(counts, sites, strict=True)
        ]
        for chosen in itertools.product(*flags):
            yield tuple(
                Box(name, flag)
                for (name, _, _), some in zip(sites, chosen, strict=True)
                for flag in some
            )


def _setups(task: Task) -> Iterator[Setup]:
    hubs = [(h.site.key, h.site.most, h.network) for h in task.hubs]
    amplifiers = [(a.site.key, a.site.most, a.network) for a in task.amplifiers]
    channels = {a.site.key: a.channels for a in task.amplifiers}
    units = sum(need.units for need in task.passive)
    by_key = {h.site.key: h for h in task.hubs}
    for some in _boxes(hubs):
        roots: list[int | None] = [
            i for i, box in enumerate(some) if by_key[box.site].computer is not None
        ]
        for root in roots if some else [None]:
            for driven in _boxes(amplifiers):
                # One amplifier more than there are units to feed is never of use.
                if len(driven) > units or any(not channels[box.site] for box in driven):
                    continue
                for lines, network in itertools.product((False, True), repeat=2):
                    yield Setup(some, root, driven, lines, network)


def _setup(task: Task, setup: Setup, known: Known, least: Score) -> Score:
    by_key = {h.site.key: h for h in task.hubs}
    if any(by_key[box.site].power[0] and not box.networked for box in setup.hubs):
        return NEVER  # nothing feeds it
    fixed = [
        (0, h.site.cents, int(h.site.counts), 0) for h in (by_key[box.site] for box in setup.hubs)
    ]
    if setup.root is not None:
        root_box = setup.hubs[setup.root]
        root = by_key[root_box.site]
        assert root.computer is not None
        fixed.append(of_way(root.computer))
        branches = [box for i, box in enumerate(setup.hubs) if i != setup.root]
        for box in branches:
            pair = task.between_hubs.get((box.site, root_box.site))
            if pair is None or not by_key[box.site].line_inputs or not by_key[box.site].outputs:
                return NEVER
            fixed += [of_way(pair[0]), of_way(pair[1])]
        if len(branches) > root.line_inputs or len(branches) + setup.lines > root.outputs:
            return NEVER
        if setup.network and not root_box.networked:
            return NEVER
    elif setup.lines or setup.network:
        return NEVER
    amplifiers = {a.site.key: a for a in task.amplifiers}
    for box in setup.amplifiers:
        fixed.append((0, amplifiers[box.site].site.cents, int(amplifiers[box.site].site.counts), 0))
        powered = bool(amplifiers[box.site].power[0])
        if powered != box.networked and (powered or not setup.network):
            return NEVER  # nothing feeds it, or it is on the network for nothing
    if least <= (0, plus(*fixed)[1], 0, 0):
        return NEVER  # nothing that is added to it makes it cheaper
    root_site = "" if setup.root is None else setup.hubs[setup.root].site
    key: tuple[object, ...] = (
        "sounds",
        setup.amplifiers,
        setup.lines,
        setup.network,
        root_site,
    )
    if key not in known:
        known[key] = plus(_passive(task, setup), _lines(task, setup))
    sounding: Score = known[key]
    if sounding >= NEVER:
        return NEVER
    if ("heard", setup.hubs) not in known:
        known["heard", setup.hubs] = _microphones(task, setup)
    heard = NEVER
    for names, score in known["heard", setup.hubs].items():
        key = ("network", setup.hubs, setup.amplifiers, setup.network, names)
        if key not in known:
            known[key] = _network(task, setup, names)
        heard = min(heard, plus(score, known[key]))
    return plus(*fixed, sounding, heard)


def _microphones(task: Task, setup: Setup) -> dict[frozenset[str], Score]:
    """Best score for each set of networked microphones that are heard."""
    found: dict[frozenset[str], Score] = {}
    ports = {h.site.key: h.microphones for h in task.hubs}
    options: list[list[int | None]] = []
    for need in task.microphones:
        able = [
            i
            for i, box in enumerate(setup.hubs)
            if box.site in need.ways and (box.networked or not need.network)
        ]
        options.append([None, *able])
    for chosen in itertools.product(*options):
        if any(
            sum(one == i for one in chosen) > ports[box.site] for i, box in enumerate(setup.hubs)
        ):
            continue
        scores, names = [NOTHING], set()
        for need, i in zip(task.microphones, chosen, strict=True):
            if i is None:
                scores.append(MISSED)
                continue
            scores.append(of_way(need.ways[setup.hubs[i].site]))
            if need.network:
                names.add(need.id)
        key = frozenset(names)
        found[key] = min(found.get(key, NEVER), plus(*scores))
    return found


def _passive(task: Task, setup: Setup) -> Score:
    """Best way to hang the units of all loudspeakers on channels."""
    amplifiers = {a.site.key: a for a in task.amplifiers}
    feeds = {f.key: f for f in task.feeds}
    least = NEVER
    wishes = [[None, *need.ways] for need in task.passive]
    for chosen in itertools.product(*wishes):
        scores = [NOTHING]
        units: list[Feed] = []
        for need, key in zip(task.passive, chosen, strict=True):
            if key is None:
                scores.append(MISSED)
            else:
                scores += [of_way(need.ways[key])] * need.units
                units += [feeds[key]] * need.units
        boxes = [
            [i for i, box in enumerate(setup.amplifiers) if box.site == feed.amplifier]
            for feed in units
        ]
        for placed in itertools.product(*boxes):
            lines = _channels(task, setup, units, placed, amplifiers)
            if lines is not None:
                least = min(least, plus(*scores, *lines))
    return least


def _channels(
    task: Task,
    setup: Setup,
    units: list[Feed],
    placed: tuple[int, ...],
    amplifiers: dict[str, AmplifierSite],
) -> list[Score] | None:
    """Lines to the channels that are used; None where a box has too few of them."""
    scores = [NOTHING]
    for i, box in enumerate(setup.amplifiers):
        mine = [feed for feed, there in zip(units, placed, strict=True) if there == i]
        used = sum(math.ceil(sum(f is feed for f in mine) / feed.per_channel) for feed in set(mine))
        amplifier = amplifiers[box.site]
        if used > amplifier.channels:
            return None
        if used and not (box.networked and setup.network) and not amplifier.fed:
            if not setup.lines or setup.root is None:
                return None
            way = task.to_amplifier.get((box.site, setup.hubs[setup.root].site))
            if way is None:
                return None
            scores += [of_way(way)] * used
    return scores


def _lines(task: Task, setup: Setup) -> Score:
    scores = [NOTHING]
    for need in task.line:
        root = "" if setup.root is None else setup.hubs[setup.root].site
        scores.append(of_way(need.ways[root]) if setup.lines and root in need.ways else MISSED)
    return plus(*scores)


def _network(task: Task, setup: Setup, heard: frozenset[str]) -> Score:
    """Best switches for what is on the network."""
    must: list[tuple[dict[str, Way], NetworkNeed | None]] = []
    powers = [(hub.site.key, hub.power) for hub in task.hubs]
    powers += [(one.site.key, one.power) for one in task.amplifiers]
    takes = {key: NetworkNeed(key, "", "other", *power, {}) for key, power in powers if power[0]}
    for ways, boxes in (
        (task.hub_to_switch, setup.hubs),
        (task.amplifier_to_switch, setup.amplifiers),
    ):
        for box in boxes:
            if box.networked:
                mine = {place: way for (key, place), way in ways.items() if key == box.site}
                must.append((mine, takes.get(box.site)))
    may = []
    for need in task.network:
        if need.of == "microphone":
            if need.id in heard:
                must.append((dict(need.ways), need))
        elif need.of == "other" or setup.network:
            may.append(need)
    never = sum(need.of == "loudspeaker" for need in task.network) * (not setup.network)
    least = NEVER
    for opened in _subsets(task.switches):
        for left_out in itertools.product((False, True), repeat=len(may)):
            some = [n for n, out in zip(may, left_out, strict=True) if not out]
            ends = [*must, *((dict(n.ways), n) for n in some)]
            missed = (sum(left_out) + never, 0, 0, 0)
            for first in range(max(len(opened), 1)):
                tree = _tree(task, opened, first)
                least = min(least, plus(tree, _joined(ends, opened, first), missed))
    return least


def _subsets(switches: Sequence[SwitchSite]) -> Iterator[tuple[SwitchSite, ...]]:
    seen = set()
    for n in range(min(len(switches), 3) + 1):
        for some in itertools.combinations(switches, n):
            # Bought ones that are alike count as one choice.
            name = tuple(
                (s.site.key if s.site.there else (s.site.product, s.site.place)) for s in some
            )
            if name not in seen:
                seen.add(name)
                yield some


def _tree(task: Task, opened: tuple[SwitchSite, ...], first: int) -> Score:
    """The switches themselves: one leads to the building, the others hang on it."""
    if not opened:
        return NOTHING
    scores = [(0, s.site.cents, int(s.site.counts), 0) for s in opened]
    scores.append(of_way(opened[first].building))
    for i, switch in enumerate(opened):
        if i != first:
            way = task.between_switches.get((switch.site.key, opened[first].site.key))
            if way is None:
                return NEVER
            scores.append(of_way(way))
    return plus(*scores)


def _joined(
    ends: list[tuple[dict[str, Way], NetworkNeed | None]],
    opened: tuple[SwitchSite, ...],
    first: int,
) -> Score:
    least = NEVER
    options = [
        [i for i, s in enumerate(opened) if s.site.place in ways and _able(s, need)]
        for ways, need in ends
    ]
    for chosen in itertools.product(*options):
        if all(_fits(s, i, first, len(opened), ends, chosen) for i, s in enumerate(opened)):
            scores = [
                of_way(ways[opened[i].site.place])
                for (ways, _), i in zip(ends, chosen, strict=True)
            ]
            least = min(least, plus(NOTHING, *scores))
    return least


def _able(switch: SwitchSite, need: NetworkNeed | None) -> bool:
    return need is None or need.power_class <= switch.power_class


def _fits(
    switch: SwitchSite,
    i: int,
    first: int,
    number: int,
    ends: list[tuple[dict[str, Way], NetworkNeed | None]],
    chosen: tuple[int, ...],
) -> bool:
    mine = [need for (_, need), there in zip(ends, chosen, strict=True) if there == i]
    powered = [need for need in mine if need is not None and need.power_class]
    more = number - 1 if i == first else 0
    return (
        len(mine) + 1 + more <= switch.ports
        and len(powered) <= switch.powered_ports
        and sum(need.need_mw for need in powered) <= switch.budget_mw
    )


def _straight(task: Task) -> Score:
    least = NEVER
    options = [[None, *need.ways] for need in task.straight]
    for chosen in itertools.product(*options):
        if any(sum(end == one for one in chosen) > most for end, most in task.room_for.items()):
            continue
        scores = [
            MISSED if end is None else of_way(need.ways[end])
            for need, end in zip(task.straight, chosen, strict=True)
        ]
        least = min(least, plus(NOTHING, *scores))
    return least

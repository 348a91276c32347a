"""The cheapest amplifiers for so many loudspeakers of each product, and the least of any number."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from wellheard.arrays import Array, Mask
from wellheard.catalog.products import Loudspeaker
from wellheard.milp import Indices, Program
from wellheard.place.feeding import Feed, Supply

MOST_AMPLIFIERS = 32
"""Of one product that are ever bought for a room."""

NUMBER_WEIGHT = 1e-4
"""What one amplifier counts beside a cent, where price is equal."""


@dataclass(frozen=True)
class Channels:
    """How many loudspeakers of a product so many channels feed in one way."""

    feed: Feed
    loudspeakers: int
    channels: int


@dataclass(frozen=True)
class Amplified:
    """Amplifiers for some loudspeakers.

    Attributes
    ----------
    cents : int
        What those cost that are not there.
    bought : int
        How many of them.
    """

    cents: int
    bought: int
    amplifiers: tuple[int, ...]
    channels: tuple[Channels, ...]


def cents_of(supplies: Sequence[Supply]) -> Array:
    """Price of one of each supply, 0 where it cannot be bought. [cents]"""
    prices = np.array([one.price for one in supplies], dtype=np.float64)
    return np.where(np.isfinite(prices), np.round(100 * prices), 0.0)


def most_of(supplies: Sequence[Supply]) -> Array:
    """How many there can be of each supply."""
    return np.array(
        [len(one.there) + MOST_AMPLIFIERS * math.isfinite(one.price) for one in supplies]
    )


def amplified(
    loads: Mapping[str, int],
    products: Mapping[str, Loudspeaker],
    feeds: Sequence[Feed],
    usable: Mask,
    supplies: Sequence[Supply],
) -> Amplified | None:
    """The cheapest amplifiers for ``loads`` of each product; None where none feed them.

    Parameters
    ----------
    loads : mapping of str to int
        How many loudspeakers, by product.
    products : mapping of str to Loudspeaker
        The products by id.
    feeds, usable
        Ways of feeding, and which of them give enough power.
    supplies : sequence of Supply
        The amplifiers.
    """
    passive = {name: n for name, n in loads.items() if n and not products[name].active}
    there = tuple(len(one.there) for one in supplies)
    if not passive:
        return Amplified(0, 0, there, ())
    feeds = [
        f for f, gives in zip(feeds, usable, strict=True) if gives and f.loudspeaker.id in passive
    ]
    program = Program()
    fixed = {
        name: program.columns(1, lower=float(n), upper=float(n)) for name, n in passive.items()
    }
    amplifiers, counts = _lay(program, fixed, feeds, supplies)
    outcome = program.solve(time_limit=10.0, gap=NUMBER_WEIGHT / 2)
    if outcome.values is None or outcome.status != "optimal":
        return None
    taken = np.round(outcome.values).astype(np.int64)
    number = tuple(taken[amplifiers].tolist())
    bought = np.array(number) - np.array(there)
    return Amplified(
        cents=round(float(bought @ cents_of(supplies))),
        bought=int(bought.sum()),
        amplifiers=number,
        channels=tuple(
            Channels(feed, int(n), math.ceil(n * feed.loudspeaker.units / feed.per_channel))
            for feed, n in zip(feeds, taken[counts], strict=True)
            if n
        ),
    )


def least_cents(
    at_least: int,
    stays: Mapping[str, int],
    offered: Mapping[str, tuple[int, int]],
    products: Mapping[str, Loudspeaker],
    feeds: Sequence[Feed],
    supplies: Sequence[Supply],
) -> float:
    """Nothing with so many new loudspeakers costs less, wherever they stand. [cents]

    Parameters
    ----------
    at_least : int
        New loudspeakers.
    stays : mapping of str to int
        Loudspeakers that are there, by product.
    offered : mapping of str to (int, int)
        By product, in how many places it may stand and its least price there. [cents]
    products, feeds, supplies
        As of :func:`amplified`.
    """
    program = Program()
    new = {
        name: program.columns(1, cost=float(cents), upper=float(places), whole=True)
        for name, (places, cents) in offered.items()
    }
    program.row(np.concatenate(list(new.values())), 1.0, lower=float(at_least))
    loads: dict[str, Indices] = {}
    for name in dict.fromkeys([*new, *stays]):
        if not products[name].active:
            kept = float(stays.get(name, 0))
            there = program.columns(1, lower=kept, upper=kept)
            loads[name] = np.concatenate([new[name], there]) if name in new else there
    _lay(program, loads, feeds, supplies)
    outcome = program.solve(time_limit=10.0, gap=0.5)
    return outcome.bound if outcome.status != "infeasible" else math.inf


def _lay(
    program: Program,
    loads: Mapping[str, Indices],
    feeds: Sequence[Feed],
    supplies: Sequence[Supply],
) -> tuple[Indices, Indices]:
    """Amplifiers, and loudspeakers on each way of feeding."""
    there = np.array([float(len(one.there)) for one in supplies])
    amplifiers = program.columns(
        len(supplies),
        cost=cents_of(supplies) + NUMBER_WEIGHT,
        lower=there,
        upper=most_of(supplies),
        whole=True,
    )
    counts = program.columns(len(feeds), upper=1e3, whole=True)
    channels = program.columns(len(feeds), upper=1e3, whole=True)
    for name, columns in loads.items():
        mine = counts[[one.loudspeaker.id == name for one in feeds]]
        sign = np.concatenate([np.ones(len(columns)), -np.ones(len(mine))])
        program.row(np.concatenate([columns, mine]), sign, lower=0.0, upper=0.0)
    for i, feed in enumerate(feeds):
        pair = np.array([counts[i], channels[i]])
        sign = np.array([float(feed.loudspeaker.units), -float(feed.per_channel)])
        program.row(pair, sign, upper=0.0)
    for s, supply in enumerate(supplies):
        own = channels[[one.supply == s for one in feeds]]
        if len(own):
            sign = np.append(np.ones(len(own)), -float(supply.product.channels))
            program.row(np.append(own, amplifiers[s]), sign, upper=0.0)
    return amplifiers, counts

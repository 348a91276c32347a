"""What feeds loudspeakers: which amplifier, on which tap, so many to a channel.

::

    low impedance   channel ──┬── ▷   as many side by side as the least load of the channel allows
                              └── ▷
    line            channel ══╤══ ▷ tap   Σ taps / 0.8 within the power of the channel
                              ╘══ ▷ tap
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from wellheard.acoustics import levels
from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.products import Amplifier, Loudspeaker
from wellheard.predict import listening
from wellheard.predict.scene import Scene
from wellheard.room.document import Room
from wellheard.room.house_limits import HOUSE_LIMITS

LINE_SHARE = 0.8
"""Share of an amplifier's power that the taps of a line may take together (common practice)."""

CREST = "speech-crest-db"


@dataclass(frozen=True)
class Supply:
    """An amplifier that may be bought, and how many are there already."""

    product: Amplifier
    mounting: str
    price: float
    there: tuple[str, ...]
    """Ids of those of the document that stay."""


@dataclass(frozen=True)
class Feed:
    """One way of feeding a loudspeaker product.

    Attributes
    ----------
    tap_w : float or None
        None at low impedance. [W]
    per_channel : int
        Units, of which a pair is two, that one channel feeds.
    power_w : float
        That each unit can have. [W]
    """

    loudspeaker: Loudspeaker
    supply: int
    tap_w: float | None
    per_channel: int
    power_w: float

    @property
    def words(self) -> str:
        """As a channel is labelled."""
        return "low impedance" if self.tap_w is None else f"{self.tap_w:g} W tap"


def supplies(scene: Scene) -> tuple[Supply, ...]:
    """Amplifiers that may be bought, and those of the document that stay.

    Where ``choices.allow`` names amplifiers, these; else all current ones: whoever names
    loudspeakers alone has said nothing against what drives them.
    """
    room, catalogue = scene.room, scene.catalogue
    there: dict[str, list[str]] = {}
    for name, device in room.devices.items():
        if isinstance(catalogue.product(device.product), Amplifier):
            there.setdefault(device.product, []).append(name)
    wanted = dict.fromkeys([*there, *(one.id for one in _buyable(room, catalogue))])
    buyable = {one.id for one in _buyable(room, catalogue)}
    found = []
    for name in wanted:
        product = catalogue.product(name)
        assert isinstance(product, Amplifier)
        mounting = mounting_of_amplifier(room, product)
        price = catalogue.installed_price(product, mounting).amount
        found.append(
            Supply(
                product,
                mounting,
                price if name in buyable else math.inf,
                tuple(there.get(name, ())),
            )
        )
    return tuple(found)


def _buyable(room: Room, catalogue: Catalogue) -> list[Amplifier]:
    choices = room.choices
    named = [one for one in map(catalogue.product, choices.allow) if isinstance(one, Amplifier)]
    return [
        one
        for one in (named or catalogue.amplifiers)
        if (one.chosen_by_name if named else one.chosen_unnamed) and one.id not in choices.exclude
    ]


def mounting_of_amplifier(room: Room, product: Amplifier) -> str:
    """In the rack where there is one, else as it is usually mounted."""
    racked = "rack" in product.mountings and any(e.kind == "rack" for e in room.equipment.values())
    return "rack" if racked else product.mountings[0]


def feeds(products: Iterable[Loudspeaker], amplifiers: Sequence[Supply]) -> tuple[Feed, ...]:
    """Every way of feeding each product that has no amplifier of its own.

    A way that another betters, with as many to a channel of the same amplifier and as much power
    for each, is left out.
    """
    found: list[Feed] = []
    for product in products:
        if product.active:
            continue
        for index, supply in enumerate(amplifiers):
            ways = [*_low(product, index, supply.product), *_line(product, index, supply.product)]
            found += [one for one in ways if not any(_betters(other, one) for other in ways)]
    return tuple(found)


def _low(product: Loudspeaker, index: int, amplifier: Amplifier) -> list[Feed]:
    least = amplifier.minimum_impedance
    number = math.floor(product.impedance / least + 1e-9) if least > 0 else 0
    if not number:
        return []
    # The amplifier keeps its voltage: a greater impedance takes less of its power.
    power = amplifier.channel_power_w * least / product.impedance
    return [Feed(product, index, None, number, power)]


def _line(product: Loudspeaker, index: int, amplifier: Amplifier) -> list[Feed]:
    if not amplifier.line_voltages:
        return []
    room = LINE_SHARE * amplifier.channel_power_w
    return [
        Feed(product, index, tap, math.floor(room / tap + 1e-9), tap)
        for tap in product.taps_w
        if tap <= room
    ]


def _betters(one: Feed, other: Feed) -> bool:
    if one is other:
        return False
    ahead = one.per_channel >= other.per_channel and one.power_w >= other.power_w
    equal = one.per_channel == other.per_channel and one.power_w == other.power_w
    return ahead and not (equal and (one.tap_w or 0.0) >= (other.tap_w or 0.0))


def crest_db(room: Room) -> float:
    """Peaks of far-end speech over its average, unweighted. [dB]"""
    found = room.targets.house_limit(CREST)
    return HOUSE_LIMITS[CREST].limit if found is None else found


def least_mean(room: Room, product: Loudspeaker, mean_dba: float, feed: Feed | None) -> float:
    """Mean energy at the ears, re 1 m, from which on a loudspeaker plays loud enough unharmed.

    Less would ask more of it than its greatest level, or than the power that ``feed`` gives it.
    """
    flat_db = float(levels.sum_levels_db(listening.far_end_speech_db()))
    each_db = 10 * math.log10(product.units)
    most_db = product.max_level_db - each_db
    if feed is not None:
        most_db = min(most_db, product.sensitivity_db + 10 * math.log10(feed.power_w))
    peak_db = mean_dba + flat_db + crest_db(room) - each_db
    return float(10 ** ((peak_db - most_db) / 10))

"""Electronics that may be bought, and what each costs where it goes."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TypeVar

from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.products import Amplifier, Extender, Processor, Switch
from wellheard.room.choices import Choices
from wellheard.wiring.setting import Setting
from wellheard.wiring.task import Site

Electronics = TypeVar("Electronics", Amplifier, Extender, Processor, Switch)


def buyable(products: Iterable[Electronics], choices: Choices) -> tuple[Electronics, ...]:
    """Products of one kind that may be bought.

    Where ``choices.allow`` names some of the kind, these; else all current ones: whoever names
    microphones alone has said nothing against what they are wired to.
    """
    every = tuple(products)
    named = [one for one in every if one.id in choices.allow]
    return tuple(
        one
        for one in (named or every)
        if (one.chosen_by_name if named else one.chosen_unnamed) and one.id not in choices.exclude
    )


def bought_sites(
    product: Electronics, setting: Setting, catalogue: Catalogue, *, most: int
) -> Iterator[Site]:
    """Every place that a product may be bought for."""
    for place, mounting in setting.houses(product):
        price = catalogue.installed_price(product, mounting).amount
        yield Site(
            key=f"{product.id}@{place}",
            product=product.id,
            place=place,
            there=False,
            cents=round(100 * price),
            most=most,
        )

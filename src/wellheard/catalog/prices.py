"""What a device costs once it hangs, stands or lies where it shall."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from wellheard.catalog.products import Accessory, AnyProduct, Fit
from wellheard.errors import CatalogError


@dataclass(frozen=True)
class PricePart:
    """One line of a price: id of the product or accessory ("" for labour), words, amount."""

    id: str
    text: str
    amount: float


@dataclass(frozen=True)
class Price:
    """An amount without tax, its currency, and the lines that add up to it."""

    amount: float
    currency: str
    parts: tuple[PricePart, ...]


def installed_price(
    product: AnyProduct,
    mounting: str,
    drop: float | None = None,
    *,
    accessories: Mapping[str, Accessory],
    fit: Fit | None = None,
) -> Price:
    """Return the price of a product with all that its mounting takes, and labour.

    Cables, ports and set-up are not in it. Whether the drop is one the product offers, or the
    fit one the ceiling allows, is for a check to say: any drop has a price.

    Parameters
    ----------
    product : Microphone, Processor or Loudspeaker
        What is bought.
    mounting : str
        One of the product's mountings.
    drop : float, optional
        Length below the ceiling; None or 0 where it does not hang. [m]
    accessories : mapping of id to Accessory
        Those that can be bought with it.
    fit : {"tile", "hole", "hard", "open"}, optional
        How it holds to the ceiling; the product's usual fit if not given.

    Returns
    -------
    Price

    Raises
    ------
    CatalogError
        The product has no such mounting or fit, the drop is negative or belongs to something
        that does not hang, an accessory is not in the catalogue, or currencies are mixed.

    Examples
    --------
    >>> from wellheard.catalog.catalogue import Catalogue
    >>> price = Catalogue.shipped().installed_price("ceiling-head-3", "ceiling", 0.6)
    >>> [(part.text, part.amount) for part in price.parts][-1], price.amount
    (('labour', 95.0), 844.4)
    """
    fitting = next((f for f in product.fittings if f.mounting == mounting), None)
    if fitting is None:
        raise CatalogError(
            f"{product.id}: no mounting {mounting!r}; it has: {', '.join(product.mountings)}"
        )
    hanging = drop or 0.0
    if hanging < 0 or (hanging > 0 and mounting != "ceiling"):
        raise CatalogError(
            f"{product.id}: a drop of {hanging} m on {mounting!r}; a drop is 0 or more, and only "
            "below a ceiling"
        )
    if fit is not None and fit not in product.fits:
        raise CatalogError(
            f"{product.id}: no fit {fit!r}; it has: {', '.join(product.fits) or 'none'}"
        )
    held = fit or (product.fits[0] if mounting == "ceiling" and product.fits else None)

    parts = [PricePart(product.id, product.name, product.price)]
    for part_id in fitting.accessories:
        part = accessories.get(part_id)
        if part is None:
            raise CatalogError(f"{product.id}: accessory {part_id!r} is not in the catalogue")
        if part.currency != product.currency:
            raise CatalogError(
                f"{product.id} is priced in {product.currency}, {part_id} in {part.currency}; "
                "one currency is needed"
            )
        if part.is_needed(fit=held, drop=hanging):
            amount = part.price + part.price_per_metre * hanging
            parts.append(PricePart(part.id, part.name, round(amount, 2)))
    parts.append(PricePart("", "labour", fitting.labour))
    total = round(sum(part.amount for part in parts), 2)
    return Price(total, product.currency, tuple(parts))

"""How the products of a catalogue are mounted, for whoever puts one in a room."""

from __future__ import annotations

from collections.abc import Mapping

from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.products import AnyProduct
from wellheard.room.mounts import Mount


def mounts(catalogue: Catalogue) -> Mapping[str, Mount]:
    """Mount of every product, by its id, in the order of the catalogue.

    Examples
    --------
    >>> known = mounts(Catalogue.shipped())
    >>> known["ceiling-head-3"].ways, known["pendant-cardioid"].drops[0]
    (('ceiling',), 0.3)
    """
    return {product.id: _mount(product) for product in catalogue.products}


def _mount(product: AnyProduct) -> Mount:
    return Mount(
        kinds=product.device_kinds,
        ways=product.mountings,
        drops=getattr(product, "drops", ()),
        stem=getattr(product, "stem", 0.0),
        size=product.size,
        usual=product.chosen_unnamed,
    )

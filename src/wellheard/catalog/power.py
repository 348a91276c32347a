"""Power over the network: what each class of IEEE 802.3 supplies and delivers."""

from __future__ import annotations

import functools
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from wellheard import tables


@dataclass(frozen=True)
class PowerClass:
    """One class: what its port supplies, and what is left at the device after 100 m [W]."""

    supplied_w: float
    device_w: float


@functools.cache
def power_classes() -> Mapping[int, PowerClass]:
    """Return the classes 1 to 8.

    References
    ----------
    .. [1] ieee802.3, power by class, via open tables.

    Examples
    --------
    >>> power_classes()[3]
    PowerClass(supplied_w=15.4, device_w=12.95)
    """
    table = tables.load("poe_classes")
    rows = zip(
        table.floats("class"), table.floats("supplied_w"), table.floats("device_w"), strict=True
    )
    return MappingProxyType({int(c): PowerClass(out, left) for c, out, left in rows})

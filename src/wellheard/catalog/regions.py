"""Where a room stands: which jacket a cable needs there, what it is called, and the mains.

A table of what codes ask, for orders and questions. It is no code: local rules, the authority of
the place and licensed practice decide.
"""

from __future__ import annotations

import functools
import re
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from wellheard import tables
from wellheard.catalog.parts import Jacket


@dataclass(frozen=True)
class Region:
    """A region whose rules are in the table.

    Parameters
    ----------
    id : {"us", "ca", "eu", "uk"}
    name : str
    jackets : mapping of {"plenum", "riser", "general"} to str
        What each is called there.
    by_class : bool
        Cables carry a fire class, and national rules choose it for a building; False: the code
        names the type for the place.
    mains_voltage : float
        [V]
    mains_frequency : float
        [Hz]
    circuit_current : float
        Of the smallest usual circuit or plug. [A]
    rules : str
        Which decide, in words.
    """

    id: str
    name: str
    jackets: Mapping[Jacket, str]
    by_class: bool
    mains_voltage: float
    mains_frequency: float
    circuit_current: float
    rules: str


@dataclass(frozen=True)
class JacketNeed:
    """The plainest jacket that will do, and why.

    Parameters
    ----------
    jacket : {"plenum", "riser", "general"}
    because : str
        A sentence without its full stop.
    assumed : bool
        Something that decides is not known: the strictest of what could hold is taken.
    """

    jacket: Jacket
    because: str
    assumed: bool


@functools.cache
def regions() -> Mapping[str, Region]:
    """Return the regions of the table by id.

    Examples
    --------
    >>> regions()["us"].jackets["plenum"], regions()["eu"].mains_voltage
    ('CMP, CL2P or CL3P', 230.0)
    """
    return MappingProxyType({row["region"]: _region(row) for row in _table().rows})


def region_of(written: str) -> Region | None:
    """Return the region that a document means by its label.

    Parameters
    ----------
    written : str
        ``site.region``: the id of a region, or a country in it, with or without a part of it.

    Returns
    -------
    Region or None
        None where it is unknown, or another one than those of the table.

    Examples
    --------
    >>> [region_of(text).id for text in ("us", "US-OH", "Canada, Ontario", "DK")]
    ['us', 'us', 'ca', 'eu']
    >>> region_of("unknown") is region_of("other") is region_of("no idea") is None
    True
    """
    words = " ".join(re.split(r"[-_\s]+", written.strip().lower()))
    for name, region in _names().items():
        if re.match(rf"{re.escape(name)}(?!\w)", words) and not _is_word(name, written.strip()):
            return regions()[region]
    return None


def _is_word(code: str, written: str) -> bool:
    """Whether what looks like the code of a country is the first word of a phrase: "no idea"."""
    return len(code) == 2 and re.match(r"[a-z]{2}\s+[a-z]", written) is not None


def jacket_needed(region: str, *, in_void: bool, air_return: bool | None) -> JacketNeed:
    """Return the plainest jacket that a run inside one storey may have.

    Parameters
    ----------
    region : str
        As the document says it; see `region_of`.
    in_void : bool
        Some of the run lies in a ceiling void.
    air_return : bool or None
        The void carries return air; None is unknown.

    Returns
    -------
    JacketNeed
        Of what is not known the strictest is taken, and said so.

    Notes
    -----
    Between storeys a riser jacket is the least, and a metal conduit all the way may take the place
    of a jacket: neither is in a room document. Fire classes of Europe are no plenum ratings: that
    a void with return air asks for the highest is an assumption there, and national rules decide.

    Examples
    --------
    >>> jacket_needed("us", in_void=True, air_return=True).jacket
    'plenum'
    >>> jacket_needed("us", in_void=True, air_return=False).jacket
    'general'
    >>> found = jacket_needed("unknown", in_void=True, air_return=None)
    >>> found.jacket, found.assumed
    ('plenum', True)
    """
    known = region_of(region)
    if not in_void:
        return JacketNeed("general", "it stays out of the ceiling void", assumed=known is None)
    if air_return is False:
        because = "the void that it runs through carries no return air"
        return JacketNeed("general", because, assumed=known is None)
    if air_return is None:
        because = "it runs through a void, and whether that carries return air is unknown"
        return JacketNeed("plenum", because, assumed=True)
    because = "it runs through a void that carries return air"
    if known is None:
        return JacketNeed("plenum", f"{because}, and the region is not known", assumed=True)
    if known.by_class:
        return JacketNeed("plenum", f"{because}, and national rules choose the class", assumed=True)
    return JacketNeed("plenum", because, assumed=False)


def jacket_name(region: str, jacket: Jacket) -> str:
    """Return what an order calls a jacket.

    Examples
    --------
    >>> jacket_name("uk", "riser"), jacket_name("unknown", "plenum")
    ('Cca-s1,d1,a1', 'plenum')
    """
    known = region_of(region)
    return jacket if known is None else known.jackets[jacket]


@functools.cache
def _names() -> Mapping[str, str]:
    """Region by each way to write it, the longest first, so that none hides a longer one."""
    found = {name: row["region"] for row in _table().rows for name in row["written"].split("; ")}
    return {name: found[name] for name in sorted(found, key=lambda name: (-len(name), name))}


def _region(row: Mapping[str, str]) -> Region:
    jackets: dict[Jacket, str] = {
        "plenum": row["plenum"],
        "riser": row["riser"],
        "general": row["general"],
    }
    return Region(
        id=row["region"],
        name=row["name"],
        jackets=MappingProxyType(jackets),
        by_class=row["by_product_standard"] == "yes",
        mains_voltage=float(row["mains_voltage"]),
        mains_frequency=float(row["mains_frequency"]),
        circuit_current=float(row["circuit_current"]),
        rules=row["rules"],
    )


def _table() -> tables.Table:
    return tables.load("regions")

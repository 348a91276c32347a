"""Answers about products as plain data, and the look-ups behind them. SI throughout."""

from __future__ import annotations

import dataclasses
import datetime
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from wellheard.catalog.catalogue import Catalogue as Catalogue
from wellheard.catalog.catalogue import Origin
from wellheard.catalog.datasheets import SHEETS, kind_of
from wellheard.catalog.datasheets import Entry as Entry
from wellheard.catalog.finishes import Finish
from wellheard.catalog.own import space_of
from wellheard.catalog.products import Accessory, AnyProduct, Cable, Fit, Fitting
from wellheard.errors import CatalogError, Problem
from wellheard.forms.refusals import near
from wellheard.workflow.products import Added, Checked

KINDS = (
    "microphones",
    "processors",
    "loudspeakers",
    "amplifiers",
    "switches",
    "extenders",
    "cables",
    "accessories",
    "finishes",
)
"""Collections of the catalogue in the order they are listed to people."""


def found(catalogue: Catalogue, kind: str, word: str = "") -> tuple[Entry, ...]:
    """Entries of a kind with a word in their id, name or note, whatever its capitals."""
    wanted = word.casefold()
    entries: tuple[Entry, ...] = getattr(catalogue, kind)
    return tuple(e for e in entries if wanted in f"{e.id}\n{e.name}\n{e.note}".casefold())


def named(catalogue: Catalogue, entry_id: str) -> tuple[Entry, ...]:
    """Every entry of an id: one product at most, and a finish, cable or accessory of that id.

    Raises
    ------
    CatalogError
        There is none.
    """
    every = {kind: getattr(catalogue, kind) for kind in KINDS}
    entries = tuple(e for kind in KINDS for e in every[kind] if e.id == entry_id)
    if not entries:
        ids = [e.id for kind in KINDS for e in every[kind]]
        hint = near(entry_id, ids, else_="see wellheard catalog list")
        raise CatalogError(f"no {entry_id!r} in the catalogue; {hint}")
    return entries


def origin(catalogue: Catalogue, entry: Entry) -> Origin | None:
    """Where an entry of the user's own stands; None for a shipped one."""
    return catalogue.origin(entry.id, space_of(kind_of(entry)))


def listed(catalogue: Catalogue, entry: Entry) -> dict[str, Any]:
    """One line of a list."""
    own = origin(catalogue, entry)
    head: dict[str, Any] = {"id": entry.id, "name": entry.name}
    if isinstance(entry, Finish):
        return {
            **head,
            "absorption": list(entry.absorption),
            "per_item": entry.per_item,
            "source": entry.source,
            "trust": entry.trust,
            "file": None if own is None else own.file,
        }
    priced = {"price": entry.price, "currency": entry.currency}
    tail = {"invented": own is None, "file": None if own is None else own.file}
    if isinstance(entry, Accessory):
        metre = {"price_per_metre": entry.price_per_metre, "needed": entry.needed}
        return {**head, "kind": "accessory", **priced, **metre, **tail}
    if isinstance(entry, Cable):
        carried = {"carries": list(entry.carries), "length": entry.length, "status": entry.status}
        metre = {"price_per_metre": entry.price_per_metre}
        return {**head, "kind": "cable", **carried, **priced, **metre, **tail}
    return {
        **head,
        "kind": entry.kind,
        "mountings": list(entry.mountings),
        **priced,
        "status": entry.status,
        **tail,
    }


def shown(catalogue: Catalogue, entry: Entry) -> dict[str, Any]:
    """The whole data sheet of an entry, with what follows from it."""
    own = origin(catalogue, entry)
    sheet: dict[str, Any] = {
        "collection": kind_of(entry),
        **_plain(dataclasses.asdict(entry)),
        "invented": own is None and not isinstance(entry, Finish),
        "file": None if own is None else own.file,
        "line": None if own is None else own.line,
    }
    if isinstance(entry, Finish):
        return {**sheet, "noise_reduction_coefficient": entry.noise_reduction_coefficient}
    if isinstance(entry, Accessory | Cable):
        return sheet
    return {
        **sheet,
        "kind": entry.kind,
        "ports": [_plain(dataclasses.asdict(port)) for port in entry.ports],
        "installed": [
            {
                "mounting": mounting,
                "fit": fit,
                "drop": drop,
                "price": price,
                "currency": entry.currency,
            }
            for mounting, fit, drop, price in installed(catalogue, entry)
        ],
    }


def _plain(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {key: _plain(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(one) for one in value]
    return value.isoformat() if isinstance(value, datetime.date) else value


def installed(
    catalogue: Catalogue, product: AnyProduct
) -> Iterator[tuple[str, Fit | None, float, float | None]]:
    """Mounting, fit, drop [m] and installed price of each way a product can be mounted.

    Of its drops the least and the greatest are given. The price is None where product and
    accessories are priced in different currencies: no rate is assumed.
    """
    for fitting in product.fittings:
        for fit, drop in _ways(product, fitting):
            parts = (catalogue.accessory(part) for part in fitting.accessories)
            if any(part.currency != product.currency for part in parts):
                yield fitting.mounting, fit, drop, None
                continue
            price = catalogue.installed_price(product, fitting.mounting, drop, fit=fit)
            yield fitting.mounting, fit, drop, price.amount


def _ways(product: AnyProduct, fitting: Fitting) -> Iterator[tuple[Fit | None, float]]:
    if fitting.mounting != "ceiling":
        yield None, 0.0
        return
    drops: Sequence[float] = getattr(product, "drops", ()) or (0.0,)
    for fit in product.fits or (None,):
        for drop in dict.fromkeys((min(drops), max(drops))):
            yield fit, drop


def checked(answer: Checked) -> dict[str, Any]:
    """What was found in files of products."""
    return {
        "files": [
            {
                "file": one.file,
                "entries": {
                    kind: [entry.id for entry in one.collections[kind]]
                    for kind in SHEETS
                    if kind in one.collections
                },
                "taken": [
                    {"path": t.path, "value": _plain(t.value), "line": t.line} for t in one.taken
                ],
            }
            for one in answer.files
        ],
        "problems": [problem(p) for p in answer.implausible],
    }


def problem(one: Problem) -> dict[str, Any]:
    """One thing that is wrong, with its place."""
    return dataclasses.asdict(one)


def added(answers: Sequence[Added]) -> dict[str, Any]:
    """Where files of products are now."""
    return {
        "added": [
            {
                "file": str(one.path),
                "before": one.before,
                "replaced": one.replaced,
                "changes": [dataclasses.asdict(change) for change in one.changes],
            }
            for one in answers
        ]
    }

"""Products that can no longer be had, or soon not."""

from __future__ import annotations

import datetime
from collections.abc import Iterator

from wellheard.catalog.products import Cable
from wellheard.checks.model import Draft
from wellheard.checks.purchases import Use, successor, uses
from wellheard.checks.registry import rule
from wellheard.checks.wording import listed
from wellheard.predict.evidence import Evidence


@rule(
    "product-discontinued",
    "warning",
    strength="product",
    cites="the product's status in the catalogue",
)
def product_discontinued(evidence: Evidence) -> Iterator[Draft]:
    """Everything the design buys can be bought.

    A discontinued product is a warning; where the customer owns it already, a note: it works,
    and cannot be replaced by another like it. A product on last orders is a note with its last
    day, and a warning once that day is before `project.date`. Each names the successor with its
    price. One finding for each product. A product on last orders whose last day the catalogue
    does not tell, or of a document without a date, is a note that says so: how long it can be
    had is not assessed.
    """
    for use in uses(evidence):
        if use.what.status == "discontinued":
            yield _gone(evidence, use, "is discontinued")
        elif use.what.status == "last orders" and not use.owned:
            yield _ending(evidence, use)


def _gone(evidence: Evidence, use: Use, how: str) -> Draft:
    following = successor(evidence, use.what)
    if use.owned:
        return Draft(
            at=use.at,
            message=(
                f"{use.what.id} ({listed(list(use.names))}, owned) {how}: it stays, but no other "
                "can be had in its place."
            ),
            remedy=(
                f"Tell the customer; when it fails, {following} takes its place."
                if following
                else "Tell the customer; plan what takes its place when it fails."
            ),
            severity="note",
        )
    return Draft(
        at=use.at,
        message=f"{use.what.id} ({listed(list(use.names))}) {how}: it cannot be ordered.",
        remedy=(
            f"Take its successor {following}, and check again."
            if following
            else "No successor is named: take another product and check again."
        ),
    )


def _ending(evidence: Evidence, use: Use) -> Draft:
    last, today = _last_day(use), evidence.room.project.date
    if last is not None and today is not None and last < today:
        return _gone(evidence, use, f"could be ordered until {last.isoformat()}")
    following = successor(evidence, use.what)
    instead = f", or take its successor {following}" if following else ""
    if last is None or today is None:
        lacks = "its last day is" if last is None else "the document's date is"
        until = "" if last is None else f" until {last.isoformat()}"
        return Draft(
            at=use.at,
            message=(
                f"{use.what.id} ({listed(list(use.names))}) is on last orders{until}. Whether it "
                f"can still be had is not assessed: {lacks} not given."
            ),
            remedy=f"Ask whether it can be had and order at once{instead}.",
            severity="note",
            status="not-assessed",
        )
    return Draft(
        at=use.at,
        message=(
            f"{use.what.id} ({listed(list(use.names))}) is on last orders until "
            f"{last.isoformat()}, {(last - today).days} days after the date of this document."
        ),
        value=float((last - today).days),
        unit="d",
        remedy=f"Order before {last.isoformat()}, spares included{instead}.",
        severity="note",
    )


def _last_day(use: Use) -> datetime.date | None:
    return None if isinstance(use.what, Cable) else use.what.last_orders

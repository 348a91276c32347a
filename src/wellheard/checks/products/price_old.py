"""Age of the list prices that the document's price rests on."""

from __future__ import annotations

import datetime
from collections.abc import Iterator

from wellheard.checks.model import Draft
from wellheard.checks.purchases import Use, uses
from wellheard.checks.registry import rule
from wellheard.checks.relaxation import limit_in_force
from wellheard.checks.wording import listed
from wellheard.predict.evidence import Evidence
from wellheard.units import plain_money

CODE = "price-old"


@rule(CODE, "note", strength="house", cites="", thresholds=(CODE,))
def price_old(evidence: Evidence) -> Iterator[Draft]:
    """Every price in the design was stated within the last twelve months.

    The day a list price was stated is held against `project.date`, for each product and cable
    that the document buys; what the customer owns costs nothing and is left out. One finding
    for each product. Without a project date the age is not assessed.
    """
    bought = [use for use in uses(evidence) if not use.owned]
    if not bought:
        return
    today = evidence.room.project.date
    if today is None:
        yield Draft(
            at="project.date",
            message=(
                f"Whether the prices of {listed([use.what.id for use in bought])} are still good "
                "is not assessed: the document has no date."
            ),
            remedy="Enter project.date.",
            severity="note",
            status="not-assessed",
        )
        return
    limit = limit_in_force(evidence, CODE)
    for use in bought:
        age = (today - use.what.price_date).days
        if age > limit:
            yield _draft(use, age, limit, today)


def _draft(use: Use, age: int, limit: float, today: datetime.date) -> Draft:
    return Draft(
        at=use.at,
        message=(
            f"The price of {use.what.id}, {plain_money(use.what.price, use.what.currency)}, was "
            f"stated on {use.what.price_date.isoformat()}, {age} days before the date of this "
            f"document, {today.isoformat()}."
        ),
        value=float(age),
        limit=limit,
        unit="d",
        remedy="Ask for today's price before you quote, and enter it with its date.",
    )

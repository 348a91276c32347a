"""``wellheard reach``."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from wellheard.cli.exits import Exit
from wellheard.cli.output import Format

if TYPE_CHECKING:
    from wellheard.units import Unit
    from wellheard.workflow.reach import Reach


def reach(
    product: str, length: str, /, *, units: Literal["m", "ft"] = "m", format: Format = "text"
) -> int:
    """Say whether the run from a product can be that long, and what would carry it farther.

    Exit 1 where it cannot be as it is.

    Parameters
    ----------
    product
        Id of a product or a cable.
    length
        Of the run, service loops included: 40, 40m or "130 ft".
    units
        Unit of a bare length, and of the answer to one.
    format
        text or json.
    """
    from wellheard.cli import output
    from wellheard.cli.sizes import run_length, spoken_unit
    from wellheard.workflow.products import own_catalogue
    from wellheard.workflow.reach import reach as answer

    found = answer(product, run_length(length, units), own_catalogue())
    if format == "json":
        output.json_payload(as_json(found))
    else:
        output.payload(text(found, spoken_unit(length, units)))
    return Exit.OK if found.answer == "yes" else Exit.FINDINGS


def text(found: Reach, unit: Unit) -> str:
    """The answer, then every kind of run, then what would carry so far."""
    from wellheard.cli.render import table
    from wellheard.units import format_length

    wanted = format_length(found.length, unit=unit)
    lines = [f"{found.name} ({found.product}), a run of {wanted}: {_said(found)}", ""]
    rows = [
        [
            ", ".join(filter(None, (run.port, run.kind))),
            run.says,
            format_length(run.limit, unit=unit),
            "fits" if run.fits else "too long",
        ]
        for run in found.runs
    ]
    lines.append(table(["port", "what limits it", "limit", wanted], rows, left=2))
    if found.ways:
        ways = [
            [
                way.text,
                format_length(way.limit, unit=unit),
                "–" if way.price is None else f"{way.price:+,.0f} {way.currency}".replace("-", "−"),
            ]
            for way in found.ways
        ]
        lines += ["", table(["what would carry so far", "reaches", "price"], ways)]
    sources = dict.fromkeys(run.source for run in found.runs)
    return "\n".join([*lines, "", f"Limits: {'; '.join(sources)}."])


def _said(found: Reach) -> str:
    if found.answer == "yes":
        fitting = [run.kind for run in found.runs if run.fits]
        rest = {run.kind for run in found.runs} - set(fitting)
        only = f" by {' or '.join(dict.fromkeys(fitting))} only" if rest else ""
        return f"yes{only}"
    if found.answer == "with changes":
        return "not as it is"
    return "no; place what it connects to nearer"


def as_json(found: Reach) -> dict[str, object]:
    """What ``reach --format json`` prints."""
    from dataclasses import asdict

    return asdict(found)

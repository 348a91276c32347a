"""``wellheard treat``."""

from __future__ import annotations

import textwrap
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter

from wellheard.cli import saving
from wellheard.cli.exits import Exit
from wellheard.cli.output import Format

if TYPE_CHECKING:
    from wellheard.workflow.treating import Kept, Treatment


def treat(
    room: Path,
    /,
    *,
    output: Annotated[Path | None, Parameter(name=["--output", "-o"])] = None,
    in_place: Annotated[bool, Parameter(negative="")] = False,
    curtains: Annotated[bool, Parameter(negative="")] = False,
    format: Format = "text",
    time_limit: float = 10.0,
) -> int:
    """Find the cheapest panels, tiles and carpet that bring the room to its decay.

    The decay is targets.reverberation, or what is recommended for communication
    where nothing is promised. Panels go where walls, ceiling and floor are free.
    Where the promise at the seats needs a drier room, that is solved for; where
    no finish helps, it is said. Without --output the document goes to stdout,
    the summary to stderr. A decay or promise that cannot be met still gives the
    nearest there is, and exit 1.

    Parameters
    ----------
    room
        The room document.
    output
        Write the document with its new finishes here.
    in_place
        Write it back to the room document itself.
    curtains
        Let curtains hang before walls of glass; they count only while they are drawn.
    format
        json prints the treatment to stdout instead of the document.
    time_limit
        Seconds for each program; when they are over, the answer says by how far it may be off.
    """
    from wellheard.cli import output as out
    from wellheard.workflow import treating
    from wellheard.workflow.load import load

    target = saving.target(room, output, in_place=in_place)
    saving.some_seconds(time_limit)
    loaded = load(room)
    found = treating.treat(loaded, curtains=curtains, time_limit=time_limit, say=out.talk)
    saving.save(loaded, found.text, target)
    if format == "json":
        out.json_payload(treating.as_json(found))
    else:
        if target is None:
            out.payload(found.text)
        out.say(text(found))
    return Exit.OK if found.kept else Exit.FINDINGS


def text(found: Treatment) -> str:
    """What is bought and where it goes, the decay before and after, and what to know."""
    from wellheard.cli.render import WIDTH, wrapped
    from wellheard.dossier.sections.treatment import CAUTIONS

    treated = found.treated
    verdict = textwrap.fill(_verdict(found), WIDTH, subsequent_indent="    ")
    lines = [verdict, "", *_bought(found), *_decay(found), ""]
    lines.append(wrapped(f"Target: {found.target.because}."))
    if found.before is not None and found.after is not None:
        lines.append(f"Promise kept before: {_heard(found.before)}; after: {_heard(found.after)}.")
    lines += [wrapped(one) for one in found.says]
    for word, findings in (("Gone", found.gone_findings), ("New", found.new_findings)):
        if findings:
            lines.append(f"{word}: {', '.join(findings)}")
    if treated.products:
        lines += ["", *(wrapped(one) for one in CAUTIONS)]
    return "\n".join(lines)


def _verdict(found: Treatment) -> str:
    from wellheard.dossier.sections.room import area_text
    from wellheard.dossier.words import NBSP
    from wellheard.units import plain_money

    treated = found.treated
    title = treated.room.title or "Untitled room"
    if treated.status == "infeasible":
        return f"{title}: the decay cannot be met. {'; '.join(treated.short)}."
    if not treated.products:
        return f"{title}: the decay is met as it is; nothing has to be bought"
    proof = treated.scope
    if not proof:
        least = plain_money(treated.bound, treated.currency, cents=False)
        proof = f"not proven cheapest in the time given: at least {least}"
    area = area_text(treated.area, treated.room.units).replace(NBSP, " ")
    again = {0: "", 1: "; corrected once", 2: "; corrected twice"}.get(
        treated.rounds, f"; corrected {treated.rounds} times"
    )
    price = plain_money(treated.price, treated.currency, cents=False)
    return f"{title}: {price} for {area} of finishes, {proof}{again}"


def _bought(found: Treatment) -> list[str]:
    from wellheard.cli.render import table
    from wellheard.dossier.sections.treatment import where
    from wellheard.units import FOOT, POUND, plain_money

    treated = found.treated
    feet = treated.room.units == "ft"
    of_area, of_weight = (FOOT**2, POUND) if feet else (1.0, 1.0)
    if not treated.products:
        return []
    rows = [
        [
            one.name,
            str(one.count),
            f"{one.area / of_area:.{0 if feet else 1}f}",
            f"{one.weight / of_weight:.0f}",
            plain_money(one.price, cents=False),
        ]
        for one in treated.products
    ]
    head = ["product", "modules", *(("ft²", "lb") if feet else ("m²", "kg")), treated.currency]
    places = [
        [key, str(treated.laid.modules[key]), where(patch, treated.room.units)]
        for key, patch in treated.patches.items()
    ]
    laid = table(["patch", "modules", "where"], places, left=3)
    return [table(head, rows), "", laid, ""]


def _decay(found: Treatment) -> list[str]:
    from wellheard.bands import OCTAVES
    from wellheard.cli.render import table
    from wellheard.dossier.words import octave

    treated = found.treated
    rows = [
        [name, *(f"{t:.2f}" for t in times)]
        for name, times in (
            ("before", treated.before),
            ("after", treated.after),
            ("at most", treated.target.time),
        )
    ]
    head = ["decay [s]", *(octave(band) for band in OCTAVES)]
    return [table(head, rows)]


def _heard(kept: Kept) -> str:
    return f"{kept.kept} of {kept.of} talking points"

"""``wellheard calibrate``."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from cyclopts import Parameter

from wellheard.cli import saving
from wellheard.cli.exits import Exit
from wellheard.cli.output import Format

if TYPE_CHECKING:
    from wellheard.proving.as_built import AsBuilt, Together
    from wellheard.room.document import Room
    from wellheard.workflow.as_built import Built


def calibrate(
    room: Path,
    session: Path,
    /,
    *,
    output: Annotated[Path | None, Parameter(name=["--output", "-o"])] = None,
    in_place: Annotated[bool, Parameter(negative="")] = False,
    format: Format = "text",
) -> int:
    """Calibrate the absorption of a room to what was measured in it.

    Each finish moves, per octave, as little from its published absorption as
    decay times, their bend and C50 allow; where that is too far, one finish may
    be another than stated. What the data cannot tell apart is named, with the sum
    that is known. The document carries finishes, not a decay, so that it still
    holds when people come in. Without --output it goes to stdout, the report to
    stderr. A decay that no plausible absorption gives is refused, with what to
    look at.

    Parameters
    ----------
    room
        The room document.
    session
        Folder of the session, or the session.yaml in it.
    output
        Write the calibrated document here.
    in_place
        Write it back to the room document itself.
    format
        json prints the calibration to stdout instead of the document.
    """
    from wellheard.cli import diff
    from wellheard.cli import output as out
    from wellheard.workflow import as_built
    from wellheard.workflow.load import load

    target = saving.target(room, output, in_place=in_place)
    loaded = load(room)
    found = as_built.as_built(loaded, session, say=out.talk)
    saving.save(loaded, found.text, target)
    if format == "json":
        changed = diff.as_json(found.comparison)
        out.json_payload({"calibration": {**as_built.as_json(found), "changed": changed}})
    else:
        if target is None:
            out.payload(found.text)
        out.say(text(found))
    return Exit.OK


def text(built: Built) -> str:
    """Decay, absorption, what cannot be told apart, what it does to the promise, cautions."""
    from wellheard.cli import diff
    from wellheard.cli.render import wrapped

    found = built.found
    parts = [
        _head(found),
        "\n".join(wrapped(f"! {one}") for one in found.cautions),
        _decays(found),
        _shape(found),
        _absorption(found),
        "\n".join(map(wrapped, _apart(found))),
        _held(found),
        diff.text(built.comparison),
        "\n".join(map(wrapped, found.notes)),
    ]
    return "\n\n".join(filter(None, parts))


def _head(found: AsBuilt) -> str:
    import textwrap

    from wellheard.cli.render import WIDTH

    written = sum(one.written for one in found.groups)
    what = {0: "no finish", 1: "one finish"}.get(written, f"{written} finishes")
    now = found.scattering
    move = f"{now.before:g} → {now.after:g}" if now.before != now.after else f"stays {now.after:g}"
    return textwrap.fill(
        f"{found.room.title or 'Untitled room'}, session {found.session}: {what} calibrated; "
        f"scattering of the surfaces {move}",
        WIDTH,
        subsequent_indent="    ",
    )


def _decays(found: AsBuilt) -> str:
    from wellheard.bands import OCTAVES
    from wellheard.cli.render import number, table
    from wellheard.dossier.words import octave

    rows = [
        ["measured", *("–" if d.measured is None else number(d.measured, 2) for d in found.decays)],
        [
            "±",
            *(
                "–" if d.measured_sigma is None else number(d.measured_sigma, 2)
                for d in found.decays
            ),
        ],
        ["before", *(number(d.before, 2) for d in found.decays)],
        ["as built", *(number(d.after, 2) for d in found.decays)],
    ]
    return table(["T20 [s]", *map(octave, OCTAVES)], rows)


def _shape(found: AsBuilt) -> str:
    """What else was measured: how decays bend, and C50."""
    from wellheard.cli.render import number, table

    rows = []
    if found.curvature is not None:
        measured, after = (number(one, 2) for one in found.curvature)
        rows.append(["T30 over T20", measured, "", "", after])
    if found.clarity is not None:
        one = found.clarity
        figures = (one.measured_db, one.sigma_db, one.before_db, one.after_db)
        rows.append(["C50 [dB]", *(number(each, 1) for each in figures)])
    return table(["500 Hz–4 kHz", "measured", "±", "before", "as built"], rows) if rows else ""


def _absorption(found: AsBuilt) -> str:
    from wellheard.bands import OCTAVES
    from wellheard.cli.render import number, table
    from wellheard.dossier.words import octave

    rows = []
    for one in found.groups:
        area = _area(found.room, one.area)
        after = "as built" if one.written else "kept"
        rows += [
            [one.name, area, "before", *(number(a, 2) for a in one.before)],
            ["", "", after, *(number(a, 2) for a in one.after)],
            ["", "", "±", *(number(a, 2) for a in one.sigma)],
            ["", "", "decided", *(f"{100 * a:.0f} %" for a in one.decided)],
        ]
    unit = "ft²" if found.room.units == "ft" else "m²"
    return table(["absorption", unit, "", *map(octave, OCTAVES)], rows, left=3)


def _area(room: Room, area: float) -> str:
    from wellheard.units import FOOT

    return f"{area / FOOT**2:.0f}" if room.units == "ft" else f"{area:.1f}"


def _held(found: AsBuilt) -> str:
    from wellheard.cli.render import wrapped

    reasons: dict[str, list[str]] = {}
    for name, why in found.held:
        reasons.setdefault(why, []).append(name)
    return "\n".join(
        wrapped(f"Kept as published, because {why}: {'; '.join(names)}.")
        for why, names in reasons.items()
    )


def _apart(found: AsBuilt) -> Iterator[str]:
    from wellheard.proving.as_built_words import settled

    if said := settled(found.accounts):
        yield said
    for one in found.together:
        yield from _unsettled(found, one)
    if not found.together:
        yield "The data tell every finish that was calibrated apart from the others."


def _unsettled(found: AsBuilt, one: Together) -> Iterator[str]:
    from wellheard.dossier.words import listed

    names = listed(one.names)
    if len(one.names) == 1:
        yield f"Of {names} the data decide less than half; the rest is what is published."
        return
    unit = "ft²" if found.room.units == "ft" else "m²"
    mid = slice(2, 5)

    def mean(values: tuple[float, ...]) -> str:
        return _area(found.room, sum(values[mid]) / 3)

    yield (
        f"The data cannot tell {names} apart: only their sum is known, {mean(one.before)} {unit} "
        f"of absorption before, {mean(one.after)} ± {mean(one.sigma)} {unit} as built (mean of "
        "500 Hz, 1 kHz and 2 kHz)."
    )

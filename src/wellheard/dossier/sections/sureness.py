"""How sure the figures are: the range at the worst place, what it is made of, what narrows it."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.dossier.figures import axis
from wellheard.dossier.model import (
    Beside,
    Block,
    Cell,
    Column,
    Heading,
    Line,
    Manner,
    Paragraph,
    RangeBar,
    Reader,
    Run,
    Scale,
    Section,
    Table,
)
from wellheard.dossier.places import TARGETS, spoken_name, value_text
from wellheard.dossier.sections.ledger import STEPS
from wellheard.dossier.sections.room import volume_text
from wellheard.dossier.words import (
    EN_DASH,
    NBSP,
    NOT_ASSESSED,
    brief,
    counted,
    figure,
    fixed_spaces,
    listed,
    percent,
    percent_range,
    sentence,
    shortened,
    with_unit,
)
from wellheard.predict import tolerances
from wellheard.predict.evidence import SEAT_TARGETS, Evidence, Quantity
from wellheard.predict.sureness import (
    DRAWN_COVERAGE,
    EFFORT,
    FINISHES,
    FOUND_COVERAGE,
    MEASURED_DECAY,
    MEASURED_PAIRS,
    MEASURED_ROOMS,
    MODEL,
    NOISE,
    SCATTERING,
    TALKER,
    Cause,
    Everywhere,
    Remedy,
    Sigmas,
    Sureness,
)
from wellheard.predict.sureness import Effort as OnSite
from wellheard.units import format_length

TITLE = "How sure are we"
READER: Reader = "engineer"

NOT_HEARD = (
    "Not assessed: no microphone is placed in this room, so that there is no figure to be sure of."
)

STEPS_DB = (0.5, 1.0, 2.0, 5.0, 10.0, 20.0)
LABEL_ROOM = 0.13
"""Share of the axis that a label takes; these are longer than the ledger's."""
LONGEST_FIELD = 24
"""Characters of a path that a column holds unbroken."""
MOST_LETTERS = 20
"""Of a place in a table; a sentence has its whole name."""
SIGMA_PLACES = {"sti_outbound": 3, "direct_to_reverberant_db": 1, "speech_to_noise_db": 1}
SHORT = {
    "sti_outbound": "STI",
    "direct_to_reverberant_db": "D/R",
    "speech_to_noise_db": "S/N",
}
WORDS: dict[str, tuple[str, str]] = {
    MEASURED_DECAY: ("The measured decay", "how well the decay is known"),
    FINISHES: ("Absorption of finishes", "how much the finishes absorb"),
    SCATTERING: ("Scattering of surfaces", "how much the surfaces scatter"),
    TALKER: ("Talker’s turn and place", "how the talker turns and sits"),
    EFFORT: ("How loudly people talk", "how loudly people talk"),
    NOISE: ("Background noise", "how loud the room is"),
    MODEL: ("The model itself", "the model itself"),
}
"""What a table calls each cause, and what a sentence does."""

ON_SITE: dict[OnSite, tuple[str, str]] = {
    "measure the decay": ("Measure the reverberation", "the reverberation"),
    "see the finishes": ("See the finishes on site", "the finishes"),
    "measure the noise": ("Measure the noise, ventilation running", "the noise"),
    "survey the seats": ("Measure where people sit, and how high", "the seats"),
}
"""What to do, and what is known then."""

LITTLE = "Little: measuring it would hardly show here."
DIVIDED = "Nothing: each arrangement has a decay of its own, the document has none."
PEOPLE = "Nothing: people differ. A nearer microphone makes up for it."
NARROWS: dict[str, tuple[str, str]] = {
    MEASURED_DECAY: ("Nothing: no decay is known better.", LITTLE),
    FINISHES: (LITTLE, LITTLE),
    SCATTERING: (LITTLE, LITTLE),
    TALKER: ("Nothing: people turn and lean.", "Little: people turn and lean on any seat."),
    EFFORT: (PEOPLE, PEOPLE),
    NOISE: ("Nothing: it was measured.", LITTLE),
    MODEL: 2 * ("Only the finished room, measured against this promise.",),
}
"""What narrows a cause that no survey does: where its input is measured, and where not."""


def sureness_section(evidence: Evidence, found: Sureness | None) -> Section:
    """Return the one page on the range of the worst place; not assessed where nobody is heard.

    Parameters
    ----------
    evidence : Evidence
        What was predicted, of a room that divides that of the part.
    found : Sureness or None
        The range, opened.
    """
    if found is None:
        return Section(TITLE, READER, (Paragraph((Run(NOT_HEARD),)),))
    blocks: tuple[Block, ...] = (
        Paragraph(_lead(evidence, found), "lead"),
        _ranges(evidence, found),
        Heading(
            "What the range is made of",
            f"at {shortened(_place(found), MOST_LETTERS)}; one standard deviation each; told and "
            "assumed in italics",
        ),
        _causes(found),
        Paragraph(_notes(evidence, found), "note"),
        Beside(
            (Heading("What this rests on"), *_rests_on(evidence)),
            (Heading("What the model does not do"), *_leaves_out(found)),
        ),
    )
    return Section(TITLE, READER, blocks)


def _place(found: Sureness) -> str:
    return spoken_name(found.worst.talker.owner, found.worst.talker.kind)


def _lead(evidence: Evidence, found: Sureness) -> Line:
    worst = found.worst
    where = f" with the room {_arranged(found.part)}" if found.part else ""
    first = f"The least certain place is {_place(found)}{where}, heard by {worst.path.microphone}"
    if worst.binds:
        first += f": the chance is {percent(worst.chance)}, decided by {TARGETS[worst.binds].noun}"
    largest = found.causes[0]
    return (
        Run(f"{first}."),
        Run(f" {_share(largest.share)} of the doubt there is {WORDS[largest.name][1]}."),
        Run(_outlook(found)),
    )


def _arranged(part: str) -> str:
    from wellheard.room.divide import spoken

    return spoken(part)


def _outlook(found: Sureness) -> str:
    """Return what a survey of everything worth it would do to the quantity that binds."""
    if not found.known:
        return " Nothing that is left to measure would narrow it much."
    efforts = dict.fromkeys(c.remedy.effort for c in found.causes if c.remedy is not None)
    surveyed = f" With {listed([ON_SITE[e][1] for e in efforts])} settled on site"
    now = found.worst.quantities[SEAT_TARGETS.index(found.binds)]
    then = found.known[found.binds]
    if now.target is not None and now.value < now.target:
        return f"{surveyed} the figures would be surer, not better: the middle value itself misses."
    before, after = (
        with_unit(_range(found.binds, q.low, q.high, words=True), TARGETS[found.binds].unit)
        for q in (now, then)
    )
    chance = "" if then.chance is None else f", the chance {percent(then.chance)}"
    return (
        f"{surveyed}, and found as taken here, the range of {SHORT[found.binds]} would be {after} "
        f"in place of {before}{chance}."
    )


# ------------------------------------------------------------------ ranges, one scale a quantity


def _ranges(evidence: Evidence, found: Sureness) -> Table:
    wanted = evidence.room.targets.chance
    columns = (
        Column("", 0),
        Column("Middle\nvalue", 22, "right"),
        Column("10–90 %, hollow where it misses the promise", 60),
        Column("10–90 %", 24, "right"),
        Column(
            "Chance" if wanted is None else f"Chance,\n{round(100 * wanted)} wanted", 19, "right"
        ),
    )
    places = len({row.talker.owner for row in evidence.outbound})
    rows: list[tuple[Cell, ...]] = []
    for name, spread in found.everywhere.items():
        rows += _group(found, name, spread, counted(places, "place"))
    return Table(columns, tuple(rows), tight=True)


def _group(
    found: Sureness, name: str, spread: Everywhere, everybody: str
) -> Iterator[tuple[Cell, ...]]:
    """Yield the axis of one quantity and the bars under it."""
    worst = found.worst.quantities[SEAT_TARGETS.index(name)]
    places = TARGETS[name].places
    scale = axis(
        (spread.low, spread.high),
        worst.target,
        steps=STEPS if name == "sti_outbound" else STEPS_DB,
        places=places,
        label_room=LABEL_ROOM,
    )
    unit = TARGETS[name].unit
    label = f"{sentence(TARGETS[name].noun.removeprefix('the '))}{', ' if unit else ''}{unit}"
    promised = "" if worst.target is None else f"promised {figure(worst.target, places)}"
    yield (Run(label, "strong"), Run(""), scale, Run(promised, "soft"), Run(""))
    yield _bar(
        f"{shortened(_place(found), MOST_LETTERS)}, as it stands", name, worst, scale, "strong"
    )
    if found.known:
        yield _bar("the same, surveyed", name, found.known[name], scale, "plain")
    low, high = value_text(name, spread.least), value_text(name, spread.most)
    chances = (
        NOT_ASSESSED
        if spread.least_chance is None or spread.most_chance is None
        else percent_range(spread.least_chance, spread.most_chance)
    )
    yield (
        Run(f"all {everybody}"),
        Run(low if low == high else _range(name, spread.least, spread.most)),
        _along(scale, spread.low, spread.middle, spread.high),
        Run(_range(name, spread.low, spread.high)),
        Run(chances),
    )


def _bar(
    label: str, name: str, quantity: Quantity, scale: Scale, manner: Manner
) -> tuple[Cell, ...]:
    return (
        Run(label),
        Run(figure(quantity.value, TARGETS[name].places), manner),
        _along(scale, quantity.low, quantity.value, quantity.high),
        Run(_range(name, quantity.low, quantity.high)),
        Run(percent(quantity.chance), manner),
    )


def _along(scale: Scale, low: float, value: float, high: float) -> RangeBar:
    span = scale.high - scale.low
    low, value, high = ((v - scale.low) / span for v in (low, value, high))
    return RangeBar(low, value, high, scale.target)


def _range(name: str, low: float, high: float, *, words: bool = False) -> str:
    """Range with a dash, or in words, as wanted or where a dash could be read as a minus."""
    places = TARGETS[name].places
    dash = f"{NBSP}to{NBSP}" if words or low < 0 else EN_DASH
    return f"{figure(low, places)}{dash}{figure(high, places)}"


# ------------------------------------------------------------------ causes


def _causes(found: Sureness) -> Table:
    columns = (
        Column("Cause", 0),
        Column(f"Share of\n{SHORT[found.binds]}", 13, "right"),
        Column("STI", 11, "right"),
        Column("D/R\ndB", 11, "right"),
        Column("S/N\ndB", 11, "right"),
        Column("Known from", 38),
        Column("What would narrow it, and what it leaves:\nSTI · D/R · S/N", 54),
    )
    rows: list[tuple[Cell, ...]] = []
    told: set[str] = set()
    for cause in found.causes:
        rows.append(
            (
                Run(WORDS[cause.name][0]),
                Run(_share(cause.share)),
                *_sigmas(cause.sigma, "plain"),
                _known_from(cause),
                Run(_narrows(cause, found, told), "soft"),
            )
        )
    rows.append(
        (
            Run("All together", "strong"),
            Run(f"100{NBSP}%", "strong"),
            *_sigmas(found.whole, "strong"),
            Run("root of the sum of squares", "soft"),
            Run(""),
        )
    )
    if found.known:
        rows.append(
            (
                Run("Once that is known"),
                Run(""),
                *_sigmas(found.whole_known, "plain"),
                Run(""),
                Run("all of the above done", "soft"),
            )
        )
    return Table(columns, tuple(rows), tight=True)


def _share(share: float) -> str:
    return with_unit(figure(100 * share, 0), "%")


def _sigmas(sigmas: Sigmas, manner: Manner) -> tuple[Run, ...]:
    return tuple(Run(figure(sigmas.of(n), SIGMA_PLACES[n]), manner) for n in SEAT_TARGETS)


def _known_from(cause: Cause) -> Run:
    if cause.name == MODEL:
        return Run("two measured rooms")
    manner: Manner = "told" if cause.basis in ("told", "assumed") else "plain"
    return Run(f"{cause.basis}: {_field(cause.path)}", manner)


def _field(path: str) -> str:
    """Path of an input, that of one among many for all of them; a long one without its head.

    Examples
    --------
    >>> _field("people.seats.s1.at"), _field("space.measured_reverberation")
    ('people.seats.*.at', 'measured_reverberation')
    """
    parts = path.split(".")
    if parts[0] == "people" and len(parts) == 4:
        parts[2] = "*"
    if len(".".join(parts)) > LONGEST_FIELD:
        parts = parts[1:]
    return ".".join(parts)


def _narrows(cause: Cause, found: Sureness, told: set[str]) -> str:
    """Return what would narrow a cause and what that leaves; an effort is opened once."""
    remedy = cause.remedy
    if remedy is None:
        if found.part and cause.name in (FINISHES, SCATTERING):
            return DIVIDED
        return NARROWS[cause.name][cause.basis != "measured"]
    if remedy.effort in told:
        return f"Settled by measuring {ON_SITE[remedy.effort][1]}."
    told.add(remedy.effort)
    return f"{ON_SITE[remedy.effort][0]}: leaves {_left(remedy)}."


def _left(remedy: Remedy) -> str:
    """Return what remains of the causes that a remedy bears on, in the order of the columns."""
    figures = [figure(remedy.left.of(name), SIGMA_PLACES[name]) for name in SEAT_TARGETS]
    both = " of both" if len(remedy.causes) > 1 else ""
    return f"{f'{NBSP}·{NBSP}'.join(figures)}{both}"


def _notes(evidence: Evidence, found: Sureness) -> Line:
    interval = found.scattering
    smooth, taken, rough = (
        f"{figure((t[2] + t[3]) / 2, 2)}{NBSP}s"
        for t in (interval.smooth, interval.time, interval.rough)
    )
    least, most = brief(interval.least, 2), brief(interval.most, 2)
    if found.measured:
        scattering = (
            f"The decay was measured, {taken} at 500 Hz and 1 kHz. With scattering between {least} "
            f"and {most} it takes more absorption or less to make it, which is what scattering "
            "still adds to the doubt. "
        )
    elif tolerances.is_as_built(evidence.room):
        scattering = (
            "Finishes and scattering were calibrated to a decay that was measured in this room: "
            f"{taken} at 500 Hz and 1 kHz as they are, with the people of this document. With "
            f"scattering between {least} and {most} it would take more absorption or less to make "
            "that decay, which is what scattering still adds to the doubt. "
        )
    else:
        scattering = (
            f"Nobody knows how much surfaces scatter. Taken is {brief(interval.taken, 2)}, likely "
            f"is {least} to {most}: the decay at 500 Hz and 1 kHz is {taken} as taken, {smooth} at "
            f"{least} and {rough} at {most}. "
        )
    return (
        Run("D/R is direct to reverberant sound, S/N speech to noise; shares are of the squares. "),
        Run(fixed_spaces(scattering)),
        Run(
            f"The 10–90{NBSP}% range is 1.28 standard deviations either way; for all places it is "
            "from the lowest 10 % point to the highest 90 % point, the stroke at the middle place."
        ),
    )


# ------------------------------------------------------------------ what it rests on


def _rests_on(evidence: Evidence) -> tuple[Block, ...]:
    unit = evidence.room.units
    rooms = listed([f"{volume_text(v, unit)} with {brief(t, 2)}{NBSP}s" for v, t in MEASURED_ROOMS])
    low, high = (round(100 * share) for share in FOUND_COVERAGE)
    drawn, drawn_clarity = (round(100 * share) for share in DRAWN_COVERAGE)
    blind, known = tolerances.BLIND_LOG_TIME_SIGMA, tolerances.MEASURED_LOG_TIME_SIGMA
    noise, seat = tolerances.NOISE_SIGMA_DB, tolerances.POSITION_SIGMA
    near, far = (
        format_length(seat[b], unit=unit).replace(" ", NBSP) for b in ("measured", "assumed")
    )
    rows = (
        f"Two measured rooms, both bare: {rooms}. On {MEASURED_PAIRS} paths in them, 500 Hz to "
        f"4 kHz, the 10–90 % range held {low} to {high} % of the clarities, 80 % is wanted. They "
        f"set the model’s own error ({tolerances.MODEL_CLARITY_SIGMA_DB:g} dB, STI "
        f"{tolerances.MODEL_STI_SIGMA:g}; from place to place {tolerances.RANDOM_STI_SIGMA:g}) "
        f"and that of a decay at 1 kHz: {100 * blind[3]:.0f} % from published absorption, "
        f"{100 * known[3]:.0f} % measured.",
        "Two rooms are few, and neither was furnished. Of rooms drawn with another simulator, "
        f"their inputs off by these tolerances, the range held {drawn} % of the STI and "
        f"{drawn_clarity} % of the clarities.",
        f"Common practice, no source: people differ by {tolerances.EFFORT_SIGMA_DB:g} dB in effort "
        f"and {tolerances.TALKER_TURN_SIGMA_DB:g} dB in what they send aside; noise is known to "
        f"{noise['measured']:g} dB measured, {noise['told']:g} told or drawn, "
        f"{noise['assumed']:g} assumed; a mouth to {near} measured, {far} assumed.",
    )
    return tuple(Paragraph((Run(fixed_spaces(text)),), "note") for text in rows)


def _leaves_out(found: Sureness) -> tuple[Block, ...]:
    rows = (
        f"Below the Schroeder frequency, here {figure(found.schroeder_frequency, 0)} Hz, single "
        "resonances decide: octaves there are nominal.",
        "One flat ceiling, upright walls: slopes, steps and vaults are not followed.",
        "Sound bends round corners and over what is low; elsewhere there is no diffraction, and "
        "reflections add as energy.",
        "Furniture and people are upright blocks; every surface scatters alike and absorbs the "
        "same at any angle.",
        "Noise is steady. A wrong input is no tolerance: glass that was told as plasterboard is "
        "in no range.",
    )
    return tuple(Paragraph((Run(fixed_spaces(text)),), "note") for text in rows)

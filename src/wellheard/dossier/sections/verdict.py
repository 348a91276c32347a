"""The verdict: what was promised, what was measured, and what could not be told."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from wellheard.dossier.figures import picture
from wellheard.dossier.model import (
    Block,
    Cell,
    Column,
    Entries,
    Entry,
    Heading,
    Line,
    Mark,
    Paragraph,
    Run,
    Section,
    Table,
)
from wellheard.dossier.proven import (
    ASKED,
    TITLE,
    Proven,
    decide_words,
    grouped,
    place_words,
    promised_words,
    spread_words,
    value_words,
)
from wellheard.dossier.words import (
    NBSP,
    NOT_ASSESSED,
    count_word,
    counted,
    fixed_spaces,
    full_stop,
    listed,
    percent,
    sentence,
)
from wellheard.drawings.verdictmap import STATE_OF
from wellheard.predict.evidence import Evidence
from wellheard.proving.verdict import (
    BROKEN_TO,
    KEPT_FROM,
    QUANTITIES,
    WORDS,
    Compared,
    Word,
)

MOST_TOLD, MOST_BROKEN = 5, 3
"""Remarks that the customer's page has room for, and how many of them may be of what is broken."""
NOT_MEASURED = "It was not measured"
"""Where a row gives no reason."""
HEADLINES: dict[Word, str] = {
    "kept": "What was promised is kept.",
    "broken": "Not all that was promised is kept.",
    "cannot tell": "Not all that was promised can be told yet.",
}
RULE = (
    f"Kept: the chance that the promise holds is {percent(KEPT_FROM)} or more. Broken: it is "
    f"{percent(BROKEN_TO)} or less. Between them it cannot be told. What was found is for the "
    "conditions of the promise, not for those of that day; ± is one standard deviation."
)
HOW = (
    "A figure in promised conditions is what was measured, brought from the test source, the "
    "people and the air of that day to those of the promise by what the prediction says of the "
    "difference."
)


def customer_section(evidence: Evidence, proven: Proven) -> Section:
    """Return the customer's page: promised, found, in words, and what is still open.

    Parameters
    ----------
    evidence : Evidence
        Of the whole room, as promised.
    proven : Proven
        What was measured.
    """
    verdict = proven.verdict
    blocks: list[Block] = [
        Paragraph((Run(headline(proven)),), "lead"),
        _summary(verdict.rows),
    ]
    broken = grouped(proven.row_of("broken"))
    undecided = grouped(proven.row_of("cannot tell"))
    if broken:
        most = MOST_BROKEN if undecided else MOST_TOLD
        blocks += [Heading("What is broken"), Entries(_entries(broken, most))]
    if undecided:
        most = MOST_TOLD - min(len(broken), MOST_BROKEN)
        blocks += [
            Heading("What could not be told, and what would decide it"),
            Entries(_entries(undecided, most)),
        ]
    if proven.map is not None:
        blocks.append(picture(proven.map.svg(embed_fonts=False)))
    blocks.append(Paragraph((Run(RULE),), "note"))
    return Section(TITLE, "customer", tuple(blocks))


def headline(proven: Proven) -> str:
    """Return the verdict in two sentences."""
    return f"{HEADLINES[proven.verdict.word]} {_lead(proven)}"


def _lead(proven: Proven) -> str:
    verdict, counts = proven.verdict, proven.verdict.counts()
    when = f" on {proven.date}" if proven.date else ""
    if not verdict.rows:
        return f"Measured{when}; nothing of it could be held against the promise."
    decided: tuple[Word, ...] = ("kept", "broken")
    said = [
        f"{count_word(counts[word])} {'is' if counts[word] == 1 else 'are'} {word}"
        for word in decided
        if counts[word]
    ]
    if counts["cannot tell"]:
        said.append(f"{count_word(counts['cannot tell'])} cannot be told")
    return f"Measured{when}: of {counted(len(verdict.rows), 'promised figure')} {listed(said)}."


def _worst(rows: Iterable[Compared]) -> Compared:
    """The one that decides: the worst word, then the least chance."""
    return min(
        rows,
        key=lambda row: (WORDS.index(row.word), 1.0 if row.chance is None else row.chance),
    )


def _summary(rows: Sequence[Compared]) -> Table:
    """One line for each promised quantity, that of its worst place; the worst first."""
    columns = (
        Column("What was promised", 0),
        Column("Promised", 24, "right"),
        Column("Found,\nworst place", 28, "right"),
        Column("", 22),
        Column("Chance", 15, "right"),
        Column("", 3),
        Column("", 24),
    )
    lines: list[tuple[Cell, ...]] = []
    by_quantity = [[row for row in rows if row.quantity == one] for one in QUANTITIES]
    told = [(_worst(mine), mine) for mine in by_quantity if mine]
    for row, mine in sorted(told, key=lambda one: WORDS.index(one[0].word)):
        quantity = row.quantity
        lines.append(
            (
                Run(ASKED[quantity].asked),
                Run(promised_words(row)),
                Run(
                    spread_words(quantity, row.estimate, row.estimate_sigma, row.unit),
                    "strong",
                ),
                Run(_where(row, mine), "soft"),
                Run(percent(row.chance)),
                Run(""),
                Mark(STATE_OF[row.word], row.word),
            )
        )
    return Table(columns, tuple(lines), tight=True)


def _where(row: Compared, rows: Sequence[Compared]) -> str:
    if not row.place:
        return ""
    return f"{row.place}, of {len(rows)}" if len(rows) > 1 else row.place


def _entries(groups: Sequence[tuple[Compared, ...]], most: int) -> tuple[Entry, ...]:
    """Each with what would decide it, as many as there is room for."""
    made = []
    for mine in groups[:most]:
        quantity, why = mine[0].quantity, mine[0].why
        where = listed([place_words(row) for row in mine], most=4)
        found = (
            spread_words(quantity, mine[0].estimate, mine[0].estimate_sigma, mine[0].unit)
            if len(mine) == 1
            else NOT_ASSESSED
        )
        figures = (
            "" if found == NOT_ASSESSED else f"{found} found, {promised_words(mine[0])} promised. "
        )
        made.append(
            Entry(
                STATE_OF[mine[0].word],
                f"{ASKED[quantity].asked}, {where}",
                (Run(fixed_spaces(f"{figures}{full_stop(why or NOT_MEASURED)}")),),
                (Run(decide),) if (decide := decide_words(mine)) else (),
                "",
            )
        )
    if len(groups) > most:
        more = counted(len(groups) - most, "more", "more")
        made.append(
            Entry(None, "", (Run(f"{sentence(more)}: see the part on commissioning."),), (), "")
        )
    return tuple(made)


def rows_section(proven: Proven) -> Section:
    """Return every row of the verdict, the worst first, with how it was found."""
    verdict = proven.verdict
    blocks: list[Block] = [
        Paragraph((Run(headline(proven)),), "lead"),
    ]
    if verdict.rows:
        blocks.append(rows_table(verdict.rows))
    if verdict.notes:
        blocks += [
            Heading("Not compared"),
            Entries(
                tuple(
                    Entry("not assessed", "", (Run(fixed_spaces(full_stop(note))),), (), "")
                    for note in verdict.notes
                )
            ),
        ]
    blocks.append(Paragraph((Run(f"{RULE} {HOW}"),), "note"))
    return Section(TITLE, "commissioning", tuple(blocks))


def rows_table(rows: Sequence[Compared]) -> Table:
    """Return two lines for each row: its figures, and what is said of them."""
    columns = (
        Column("Place", 20),
        Column("Quantity", 0),
        Column("Promised", 19, "right"),
        Column("Predicted alike\n(10–90 %)", 27, "right"),
        Column("Measured", 21, "right"),
        Column("In promised\nconditions", 21, "right"),
        Column("Chance", 13, "right"),
        Column("Word", 21),
    )
    return Table(
        columns,
        tuple(map(_row, rows)),
        under=tuple(_under(row) for row in rows),
    )


def _row(row: Compared) -> tuple[Cell, ...]:
    return (
        Run(place_words(row), "strong"),
        Run(ASKED[row.quantity].name),
        Run(promised_words(row)),
        Run(_tested(row)),
        Run(spread_words(row.quantity, row.measured, row.measured_sigma), "strong"),
        Run(spread_words(row.quantity, row.estimate, row.estimate_sigma)),
        Run(percent(row.chance)),
        Mark(STATE_OF[row.word], row.word),
    )


def _tested(row: Compared) -> str:
    if row.tested is None:
        return NOT_ASSESSED
    value, low, high = (
        value_words(row.quantity, number)
        for number in (row.tested.value, row.tested.low, row.tested.high)
    )
    sign = ASKED[row.quantity].sign
    low, high = low.removeprefix(sign), high.removeprefix(sign)
    between = f"{NBSP}to{NBSP}" if "−" in low + high else "–"
    return f"{value} ({low}{between}{high})"


def _under(row: Compared) -> Line:
    said = [Run(fixed_spaces(full_stop(row.why or NOT_MEASURED)), "soft")]
    if row.decide:
        said.append(Run(f" {fixed_spaces(full_stop(row.decide))}"))
    if row.recordings:
        named = listed(row.recordings, most=4)
        said.append(Run(f" By {named}.", "soft"))
    return tuple(said)

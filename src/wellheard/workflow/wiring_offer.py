"""A wiring before it is in the document: what comes, what it costs, how far that is proven."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from wellheard.dossier.sections.cable_cautions import cable_caution_blocks
from wellheard.dossier.sections.cables import bare_length, length_words
from wellheard.dossier.words import counted, full_stop, sentence
from wellheard.predict.evidence import State
from wellheard.room.document import Room
from wellheard.schedules.bill import bill
from wellheard.schedules.cables import CableRow, CableSchedule, cable_schedule
from wellheard.units import Unit, money
from wellheard.wiring.wired import Wired
from wellheard.workflow.cable_ways import CableWays
from wellheard.workflow.compare import compared
from wellheard.workflow.design import Progress, judge, quiet
from wellheard.workflow.load import Loaded, load_text
from wellheard.workflow.passages import Passage, passages_of
from wellheard.workflow.suggestion import (
    Drawn,
    Suggestion,
    bill_words,
    findings,
    heading,
    note,
    remarks,
)
from wellheard.workflow.wiring import wire
from wellheard.workflow.wiring_sheet import flat

WHAT = "wire the room"
BROKEN: State = "broken"


def wiring_offer(
    base: Loaded,
    *,
    version: int,
    unit: Unit,
    time_limit: float,
    say: Progress = quiet,
) -> Suggestion:
    """Wire a document and say what that does.

    Parameters
    ----------
    base : Loaded
        The document as it stands.
    version : int
        Of it.
    unit : {"m", "ft"}
        Of lengths that are read.
    time_limit : float
        For the search. [s]
    say : callable
        Told how far things are.
    """
    say(f"1 of 2: looking for the cheapest wiring, at most {time_limit:g} s, and predicting it")
    made = wire(base, time_limit=time_limit)
    new = load_text(made.text, base.document.name)
    say("2 of 2: predicting the room as it stands")
    was = judge(base.room, base.catalogue, assumptions=False)
    before, after = (cable_schedule(one.room, one.catalogue) for one in (base, new))
    bills = [
        bill_words(bill(one.room, one.catalogue, cables))
        for one, cables in ((base, before), (new, after))
    ]
    wired, new_rows = made.wired, _new(after, before)
    return Suggestion(
        base=base.document.text,
        text=made.text,
        version=version,
        what=WHAT,
        state=_state(wired),
        sentence=_sentence(wired, new_rows, unit),
        passages=(
            *_unwired(wired),
            *_bought(wired),
            *_cables(new_rows, after, before, unit),
            heading("Price"),
            Passage(
                "facts",
                (
                    ("All wiring, installed", money(wired.price, wired.currency)),
                    ("Whole bill", f"{bills[0]} → {bills[1]}, without tax"),
                    ("Proof", proof_words(wired)),
                ),
            ),
            *remarks("Taken to be so", wired.assumed),
            *findings(compared(base, was, new, made.judged)),
            *passages_of(
                cable_caution_blocks(new.room.model_copy(update={"units": unit}), new.catalogue)
            ),
        ),
        drawn=_drawn(new.room, new_rows, wired),
    )


def _state(wired: Wired) -> State:
    if wired.unwired:
        return "broken"
    return "at risk" if wired.proof.status == "gap" else "kept"


def _new(after: CableSchedule, before: CableSchedule) -> tuple[CableRow, ...]:
    """Cables that the document does not have, from port to port, as they are."""
    stay = {(row.from_, row.to, row.cable) for row in before.rows}
    return tuple(row for row in after.rows if (row.from_, row.to, row.cable) not in stay)


def _sentence(wired: Wired, new_rows: Sequence[CableRow], unit: Unit) -> str:
    cables = counted(len(wired.links), "cable")
    if wired.unwired:
        ports = counted(len(wired.unwired), "port")
        return sentence(f"{ports} cannot be wired; {cables} for the rest.")
    joins = "joins" if len(wired.links) == 1 else "join"
    if not new_rows:
        return sentence(f"{cables} {joins} everything; none is new.")
    new = sum(row.cut_length or 0.0 for row in new_rows)
    return sentence(f"{cables} {joins} everything; {length_words(new, unit)} are new.")


def proof_words(wired: Wired) -> str:
    """What is proven of a wiring."""
    proof = wired.proof
    if proof.status == "gap":
        less = money(proof.gap, wired.currency)
        return f"The time was over before the search was: it may cost up to {less} less."
    if proof.status == "infeasible":
        return f"Proven: less cannot stay unwired, and the rest cannot cost less. {proof.scope}"
    return f"Proven: {proof.scope}"


def _unwired(wired: Wired) -> Iterator[Passage]:
    if wired.unwired:
        yield heading("Not wired")
        rows = tuple(
            (one.port, f"{full_stop(one.why)} {full_stop(one.gives)}") for one in wired.unwired
        )
        yield Passage("list", rows, states=tuple(BROKEN for _ in rows))


def _bought(wired: Wired) -> Iterator[Passage]:
    """Devices and equipment that come or go."""
    price = {part.id: part.amount for part in wired.parts}
    rows = [
        (name, "new", device.product, device.equipment or "–", money(price[name]))
        for name, device in wired.devices.items()
        if name in price
    ]
    rows += [
        (name, "taken to be there", one.kind.replace("-", " "), "–", "–")
        for name, one in wired.equipment.items()
    ]
    rows += [(name, "goes", "nothing needs it", "–", "–") for name in wired.dropped]
    if rows:
        yield heading("Devices")
        head = ("", "", "Product", "In", f"Installed\n{wired.currency}")
        yield Passage("table", tuple(rows), head, (False, False, False, False, True))


def _cables(
    rows: Sequence[CableRow], after: CableSchedule, before: CableSchedule, unit: Unit
) -> Iterator[Passage]:
    """What is laid anew; what stays is counted."""
    yield heading("Cables")
    if rows:
        head = ("No.", "From", "To", "Cable", f"Cut\n{unit}" if unit == "m" else "Cut")
        cells = tuple(
            (
                row.number,
                row.from_,
                row.to,
                row.cable.name if row.cable else "not chosen",
                bare_length(row.cut_length, unit),
            )
            for row in rows
        )
        yield Passage("table", cells, head, (False, False, False, False, True))
    else:
        yield note("None is laid anew.")
    left = len(after.rows) - len(rows)
    gone = len(before.rows) - left
    said = [f"{counted(left, 'cable')} of the document {_does(left, 'stay')}."] if left else []
    said += [f"{counted(gone, 'cable')} of the document {_does(gone, 'give')} way."] if gone else []
    if said:
        yield note(" ".join(map(sentence, said)))


def _does(count: int, verb: str) -> str:
    return f"{verb}s" if count == 1 else verb


def _drawn(room: Room, rows: Sequence[CableRow], wired: Wired) -> Drawn:
    ways = CableWays(room)
    lines = (tuple(flat(ways.of(row))) for row in rows)
    points = tuple((one.at[0], one.at[1]) for one in wired.equipment.values())
    return Drawn(lines=tuple(one for one in lines if len(one) > 1), points=points)

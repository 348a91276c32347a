"""A treatment before it is in the document: what is bought, where it goes, the decay it makes."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.bands import OCTAVES
from wellheard.dossier.sections.racks import weight_text
from wellheard.dossier.sections.room import area_text
from wellheard.dossier.sections.treatment import CAUTIONS, where
from wellheard.dossier.words import figure, full_stop, octave, percent, sentence
from wellheard.predict.evidence import State
from wellheard.room.document import Room
from wellheard.room.finishes import AnyPatch, Patch
from wellheard.units import Unit, money
from wellheard.workflow.design import Progress, quiet
from wellheard.workflow.load import Loaded
from wellheard.workflow.passages import Passage
from wellheard.workflow.suggestion import Drawn, Flat, Suggestion, heading, remarks
from wellheard.workflow.treating import Kept, Treatment, treat

WHAT = "treat the room"


def treating_offer(
    base: Loaded,
    *,
    version: int,
    unit: Unit,
    curtains: bool,
    time_limit: float,
    say: Progress = quiet,
) -> Suggestion:
    """Find the cheapest treatment of a document and say what it does.

    Parameters
    ----------
    base : Loaded
        The document as it stands.
    version : int
        Of it.
    unit : {"m", "ft"}
        Of lengths and areas that are read.
    curtains : bool
        Let curtains hang before walls of glass.
    time_limit : float
        For each program. [s]
    say : callable
        Told how far things are.

    Raises
    ------
    InputError
        No decay is promised, and none recommended for so small or large a room.
    """
    found = treat(base, curtains=curtains, time_limit=time_limit, say=say)
    treated = found.treated
    return Suggestion(
        base=base.document.text,
        text=found.text,
        version=version,
        what=WHAT,
        state=_state(found),
        sentence=_sentence(found, unit),
        passages=(
            *_decay(found),
            *_promise(found),
            *_bought(found, unit),
            heading("How sure this is"),
            Passage("facts", tuple(_proof(found))),
            # A sentence that names an option speaks to who typed a command.
            *remarks("To be known", tuple(one for one in found.says if " --" not in one)),
            *remarks("Findings that come with it", found.new_findings),
            *remarks("Findings that go", found.gone_findings),
            *(remarks("Cautions", CAUTIONS) if treated.patches else ()),
        ),
        drawn=_drawn(treated.room, treated.patches),
    )


def _state(found: Treatment) -> State:
    if found.treated.status == "infeasible":
        return "broken"
    return "kept" if found.kept else "at risk"


def _sentence(found: Treatment, unit: Unit) -> str:
    treated = found.treated
    if treated.status == "infeasible":
        return "The decay cannot be met with what may be laid here."
    if not treated.products:
        return "The decay is met as it is: nothing has to be bought."
    price = money(treated.price, treated.currency, cents=False)
    return f"{area_text(treated.area, unit)} of finishes for {price} meet the decay."


def _decay(found: Treatment) -> Iterator[Passage]:
    treated = found.treated
    yield heading("Decay", f"s, by octave of {octave(OCTAVES[0])} Hz to {octave(OCTAVES[-1])} Hz")
    times = (
        ("As it is", treated.before),
        ("Treated", treated.after),
        ("At most", treated.target.time),
    )
    yield Passage(
        "table",
        tuple((word, *(figure(t, 2) for t in time)) for word, time in times),
        ("", *map(octave, OCTAVES)),
        (False, *(True for _ in OCTAVES)),
    )
    yield Passage("paragraph", ((full_stop(sentence(found.target.because)),),), small=True)


def _promise(found: Treatment) -> Iterator[Passage]:
    if found.before is None or found.after is None:
        return
    yield heading("Promise at the seats")
    rows = [
        (word, f"{one.kept} of {one.of} talking points", _worst(one))
        for word, one in (("As it is", found.before), ("Treated", found.after))
    ]
    yield Passage("table", tuple(rows), ("", "Kept at", "Least chance"), (False, False, True))


def _worst(one: Kept) -> str:
    chances = [q.chance for q in one.worst.values() if q.chance is not None]
    return percent(min(chances, default=None))


def _bought(found: Treatment, unit: Unit) -> Iterator[Passage]:
    treated = found.treated
    if not treated.products:
        return
    yield heading("To buy", f"{money(treated.price, treated.currency, cents=False)} in all")
    rows = tuple(
        (
            one.name,
            str(one.count),
            area_text(one.area, unit),
            weight_text(one.weight, unit),
            money(one.price, treated.currency, cents=False),
        )
        for one in treated.products
    )
    head = ("Product", "Modules", "Area", "Weight", "Price")
    yield Passage("table", rows, head, (False, True, True, True, True))
    yield heading("Where it goes", "outlined on the plan")
    places = tuple(
        (key, str(treated.laid.modules[key]), where(patch, unit))
        for key, patch in treated.patches.items()
    )
    yield Passage("table", places, ("Patch", "Modules", "Where"), (False, True, False))


def _proof(found: Treatment) -> Iterator[tuple[str, str]]:
    treated = found.treated
    if treated.status == "infeasible":
        yield "Not met", full_stop(sentence("; ".join(treated.short)))
    elif treated.status == "gap":
        bound = money(treated.bound, treated.currency, cents=False)
        yield "Proof", f"The time was over before the search was: nothing costs less than {bound}."
    else:
        yield "Proof", full_stop(sentence(treated.scope))
    if treated.rounds:
        times = "once" if treated.rounds == 1 else f"{treated.rounds} times"
        yield "Corrected", f"{times} by the ray model, and solved again"
    if found.scale < 1:
        yield "Drier", f"solved for {found.scale:g} times the decay, for the promise at the seats"


def _drawn(room: Room, patches: dict[str, AnyPatch]) -> Drawn:
    areas: list[tuple[Flat, ...]] = []
    lines: list[tuple[Flat, ...]] = []
    for one in patches.values():
        if isinstance(one, Patch):
            (x0, y0), (x1, y1) = room.space.wall_ends(one.wall)
            length = ((x1 - x0) ** 2 + (y1 - y0) ** 2) ** 0.5
            ends = (one.from_ / length, one.to / length)
            lines.append(tuple((x0 + s * (x1 - x0), y0 + s * (y1 - y0)) for s in ends))
        else:
            areas.append(tuple((x, y) for x, y in one.outline))
    return Drawn(areas=tuple(areas), lines=tuple(lines))

"""The sheet to fill in: every step of the survey with what is known already.

The order is that of the work: who, plan, height, surfaces, people, noise, what is overhead,
equipment, the call, the promise. What nobody knows stays a line to write on.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

from wellheard.dossier.model import Sheet
from wellheard.dossier.sections.grounds import CAUTIONS
from wellheard.dossier.survey.model import (
    Answer,
    Block,
    Field,
    Notes,
    Part,
    Plan,
    Rows,
    Ticks,
)
from wellheard.predict.alternative_noise import background_words
from wellheard.predict.alternatives import Standing, standing_of
from wellheard.room.document import Room
from wellheard.room.finishes import InlineFinish, LevelPatch
from wellheard.units import Unit, format_length, money

CEILINGS = {"tiles": "lay-in tiles", "hard": "plasterboard", "open": "open to the slab"}
EFFORTS = ("quiet", "normal", "raised", "loud")
PHOTOGRAPHS = (
    "Each wall, from the middle of the room",
    "The ceiling, from each corner",
    "One ceiling tile or board close up",
    "Every outlet, fan coil, projector; their type plates",
    "The table: top, underside, boxes and holes",
    "The picture and what is beside it",
    "The rack or cupboard; type plates of what stays",
    "Every wall plate and floor box, open",
    "The way of a cable from ceiling to equipment",
    "A tape measure in one picture of each",
)
"""Common practice."""


def parts(room: Room | None, *, unit: Unit, plan: Sheet | None) -> tuple[Part, ...]:
    """Return every step of the survey, filled in as far as the document goes.

    Parameters
    ----------
    room : Room or None
        None for a blank sheet.
    unit : {"m", "ft"}
        Of lengths.
    plan : Sheet or None
        The room as it is known, drawn.
    """
    known = _Known(room, unit)
    made: tuple[tuple[str, str, Iterator[Block]], ...] = (
        ("Project and people", "who asks, who knows, who decides", _project(known)),
        ("Room plan", "to 5 cm or 2 in", _plan(known, plan)),
        ("Height and ceiling", "measure in two places", _ceiling(known)),
        ("Surfaces", "what each is made of, and how large what differs", _surfaces(known)),
        ("Table, seats, people", "where mouths are, and what they look at", _people(known)),
        ("Noise", "with nobody in the room, ventilation on and off", _noise(known)),
        ("Overhead", "what nothing may be mounted on or in front of", _overhead(known)),
        ("Equipment and connections", "what there is, what stays, what it plugs into", _kit(known)),
        ("The call", "the other end, and what else listens", _call(known)),
        ("Promise, budget, date", "what the finished room is measured against", _promise(known)),
        ("Cautions", "before anybody climbs, lifts or drills", iter((Notes(_cautions()),))),
        ("Photographs", "", iter((Ticks(PHOTOGRAPHS),))),
        ("Signature", "", _signature()),
    )
    return tuple(
        Part(number, title, aside, tuple(blocks))
        for number, (title, aside, blocks) in enumerate(made, start=1)
    )


class _Known:
    """What a document says, as answers; nothing where there is no document."""

    def __init__(self, room: Room | None, unit: Unit) -> None:
        self.room = room
        self.unit = unit

    def length(self, metres: float) -> str:
        return format_length(metres, unit=self.unit)

    def field(
        self,
        label: str,
        path: str,
        text: Callable[[Any], str] = str,
        *,
        unit: str = "",
        options: tuple[str, ...] = (),
        wide: bool = False,
    ) -> Field:
        """One value of the document with how it is known; a default only as what is taken."""
        answer, taken = Answer(), ""
        if self.room is not None:
            value: Any = self.room
            for step in path.split("."):
                value = getattr(value, step)
            said = "" if value is None else text(value)
            standing = standing_of(self.room, path)
            if standing == "left out":
                taken = said
            else:
                answer = Answer(said, standing)
        return Field(label, path, answer, unit, options, taken, wide)

    def text(self, label: str, path: str, *, wide: bool = False) -> Field:
        """Words of the title block, which have no basis."""
        said = ""
        if self.room is not None:
            value: Any = self.room
            for step in path.split("."):
                value = getattr(value, step)
            said = "" if value in (None, "unknown") else str(value)
        return Field(
            label, path, Answer(said, "stated") if said else Answer(), wide=wide, with_basis=False
        )

    def standing(self, path: str) -> Standing:
        assert self.room is not None
        return standing_of(self.room, path)


def _project(known: _Known) -> Iterator[Block]:
    yield known.text("Room", "title", wide=True)
    yield known.text("Client", "project.client")
    yield known.text("Site, building, floor", "project.site")
    yield known.text("Project number", "project.number")
    yield known.text("Country and town", "site.region")
    yield known.text("Earthquake rules", "site.seismic")
    yield Field("Who decides")
    for who in ("Customer", "Architect", "Facility, ventilation", "IT, network"):
        yield Field(f"{who}: name and telephone")


def _plan(known: _Known, plan: Sheet | None) -> Iterator[Block]:
    def size(axis: int) -> Callable[[Any], str]:
        return lambda outline: known.length(
            max(p[axis] for p in outline) - min(p[axis] for p in outline)
        )

    yield known.field("Length, east to west", "space.outline", size(0), unit=known.unit)
    yield known.field("Width, south to north", "space.outline", size(1), unit=known.unit)
    corners = 0 if known.room is None else len(known.room.space.outline)
    if corners > 4:
        yield known.field("Corners", "space.outline", lambda outline: f"{len(outline)}, as drawn")
    yield Field("Drawings to be had", options=("plan", "ceiling plan", "ventilation", "none"))
    yield Plan(plan)


def _ceiling(known: _Known) -> Iterator[Block]:
    yield known.field("Height, floor to ceiling", "space.height", known.length, unit=known.unit)
    yield known.field(
        "Ceiling",
        "space.ceiling.kind",
        lambda kind: CEILINGS[kind],
        options=tuple(CEILINGS.values()),
    )
    yield known.field(
        "Tile size",
        "space.ceiling.module",
        lambda sides: " × ".join(known.length(side) for side in sides),
        unit=known.unit,
    )
    yield known.field(
        "Room above the ceiling", "space.ceiling.void_depth", known.length, unit=known.unit
    )
    yes = ("yes", "no")
    yield known.field("Return air above it", "space.ceiling.air_return", _yes, options=yes)
    yield known.field("New holes allowed", "choices.new_holes", _yes, options=yes)
    yield Field("Year of the ceiling")
    yield Field("Tested for asbestos", options=("yes, none", "yes, there is", "not tested"))
    yield Field("Lay of the grid: from which wall, cut tiles", wide=True)


def _yes(value: bool) -> str:
    return "yes" if value else "no"


def _surfaces(known: _Known) -> Iterator[Block]:
    heads = (("surface", 34.0), ("made of", 0.0), ("size, place, thickness", 58.0))
    names = ("floor", "ceiling", "wall", "wall", "wall", "wall", "window", "door", "board, panels")
    rows: tuple[tuple[Answer, ...], ...]
    if known.room is None:
        rows = tuple((Answer(n, "stated"), Answer(), Answer()) for n in names)
    else:
        rows = tuple(_finishes(known, known.room))
    yield Rows("space.finishes", "surface", heads, rows, 1)
    yield known.field(
        "Reverberation measured at 500 Hz and 1 kHz",
        "space.measured_reverberation",
        lambda times: f"{(times[2] + times[3]) / 2:.2f} s",
        unit="s",
        wide=True,
    )


def _finishes(known: _Known, room: Room) -> Iterator[tuple[Answer, ...]]:
    space, finishes = room.space, room.space.finishes
    mapped = isinstance(finishes.walls, dict)

    def row(name: str, path: str, finish: str | InlineFinish, size: Answer) -> tuple[Answer, ...]:
        standing = known.standing(path)
        said = finish if isinstance(finish, str) else "absorption as in the document"
        made_of = Answer() if standing == "left out" else Answer(said, standing)
        return (Answer(name, "stated"), made_of, size)

    yield row("floor", "space.finishes.floor", space.floor_finish, Answer())
    ceiling = "space.finishes.ceiling"
    if finishes.ceiling is None:
        yield (Answer("ceiling", "stated"), Answer(), Answer())
    else:
        yield row("ceiling", ceiling, finishes.ceiling, Answer())
    outline = known.standing("space.outline")
    for i, name in enumerate(space.walls):
        path = f"space.finishes.walls.{name}" if mapped else "space.finishes.walls"
        (x0, y0), (x1, y1) = space.outline[i], space.outline[(i + 1) % len(space.walls)]
        length = known.length(((x1 - x0) ** 2 + (y1 - y0) ** 2) ** 0.5)
        yield row(f"wall {name}", path, space.wall_finish(name), Answer(length, outline))
    for name, patch in finishes.patches.items():
        path = f"space.finishes.patches.{name}"
        if isinstance(patch, LevelPatch):
            xs, ys = zip(*patch.outline, strict=True)
            on: str = patch.surface
            wide, tall = max(xs) - min(xs), max(ys) - min(ys)
        else:
            on, wide, tall = patch.wall, patch.to - patch.from_, patch.top - patch.bottom
        size = f"{on}: {known.length(wide)} × {known.length(tall)}"
        where = Answer(size, known.standing(path))
        yield row(name, f"{path}.finish", patch.finish, where)
    for name, obstacle in space.obstacles.items():
        yield row(name, f"space.obstacles.{name}.finish", obstacle.finish, Answer())


def _people(known: _Known) -> Iterator[Block]:
    room = known.room
    items = () if room is None else tuple(room.furniture.items())
    heads = (("furniture", 34.0), ("kind", 24.0), ("size", 0.0), ("height", 28.0))
    yield Rows(
        "furniture",
        "piece of furniture",
        heads,
        tuple(_furniture(known, name, item) for name, item in items),
        1 if items else 3,
    )
    seats = {} if room is None else room.people.seats
    seat_path = "people.seats"
    standing = known.standing(seat_path) if seats else "left out"
    yield Field(
        "Seats", seat_path, Answer(str(len(seats)), standing) if seats else Answer(), wide=False
    )
    yield known.field(
        "Seats usually taken", "people.occupancy", lambda v: f"{100 * v:g} %", unit="%"
    )
    yield Field("Mouth height, seated", seat_path, _common(known, "seats", "height"), known.unit)
    yield Field("Chairs", options=("office", "bar stool", "sofa", "fixed"))
    yield Field(
        "Who talks looks at",
        seat_path,
        _common(known, "seats", "facing"),
        wide=True,
        options=("each other", "the picture", "along the table", "papers"),
    )
    yield known.field("Voices", "people.effort", str, options=EFFORTS)
    yield Field("Anybody soft-spoken", options=("yes", "no"))
    stands = {} if room is None else room.people.standing
    standing_heads = (("who stands", 44.0), ("mouth height", 28.0), ("looks at", 0.0))
    rows = tuple(
        (
            Answer(name, "stated"),
            _member(known, f"people.standing.{name}.height", area.height),
            _member(known, f"people.standing.{name}.facing", area.facing),
        )
        for name, area in stands.items()
    )
    yield Rows("people.standing", "standing talker", standing_heads, rows, 1 if rows else 2)


def _furniture(known: _Known, name: str, item: Any) -> tuple[Answer, ...]:
    path = f"furniture.{name}"
    standing = known.standing(path)
    if hasattr(item, "size"):
        size = " × ".join(known.length(side) for side in item.size) + f" on {item.wall}"
    elif hasattr(item, "outline"):
        sides = [
            max(p[axis] for p in item.outline) - min(p[axis] for p in item.outline)
            for axis in (0, 1)
        ]
        size = " × ".join(known.length(side) for side in sides)
    else:
        size = ""
    height = _member(known, f"{path}.height", item.height) if hasattr(item, "height") else Answer()
    return (Answer(name, "stated"), Answer(item.kind, standing), Answer(size, standing), height)


def _member(known: _Known, path: str, value: Any) -> Answer:
    standing = known.standing(path)
    if standing == "left out":
        return Answer()
    return Answer(known.length(value) if isinstance(value, float) else _facings(value), standing)


def _facings(facing: tuple[float | str, ...]) -> str:
    words = {"across": "each other", "display": "the picture"}
    return ", ".join(words[f] if isinstance(f, str) else f"{f:g}°" for f in facing)


def _common(known: _Known, group: str, field: str) -> Answer:
    """What all seats have in common; nothing where one of them was left out."""
    if known.room is None:
        return Answer()
    members = getattr(known.room.people, group)
    each = [
        _member(known, f"people.{group}.{n}.{field}", getattr(m, field)) for n, m in members.items()
    ]
    if not each or any(not a.text for a in each):
        return Answer()
    texts = dict.fromkeys(a.text for a in each)
    worst = min((a.standing for a in each), key=("assumed", "told", "drawing", "measured").index)
    return Answer(next(iter(texts)) if len(texts) == 1 else "each seat its own", worst)


def _noise(known: _Known) -> Iterator[Block]:
    yield known.field(
        "Background, ventilation as in meetings",
        "noise.background",
        background_words,
        unit="NC or dBA",
    )
    yield Field("The same, ventilation off", unit="NC or dBA")
    yield Field("Measured with", options=("sound level meter", "telephone", "ventilation plan"))
    yield Field("From outside: road, lift, neighbours")
    sources = {} if known.room is None else known.room.noise.sources
    heads = (("source", 34.0), ("kind", 30.0), ("place", 0.0), ("level at 1 m", 34.0))
    rows = tuple(
        (
            Answer(name, "stated"),
            Answer(s.kind.replace("-", " "), known.standing(f"noise.sources.{name}.kind")),
            Answer(_point(known, s.at), known.standing(f"noise.sources.{name}.at")),
            Answer(
                "octave levels" if s.dba_at_1m is None else f"{s.dba_at_1m:g} dBA",
                known.standing(f"noise.sources.{name}"),
            ),
        )
        for name, s in sources.items()
    )
    yield Rows("noise.sources", "source of noise", heads, rows, 2 if rows else 4)


def _point(known: _Known, at: tuple[float, ...]) -> str:
    return ", ".join(known.length(v) for v in at)


def _overhead(known: _Known) -> Iterator[Block]:
    found = {} if known.room is None else known.room.overhead
    heads = (("what", 34.0), ("kind", 30.0), ("south-west corner", 0.0), ("kept free", 34.0))
    rows = []
    for name, part in found.items():
        standing = known.standing(f"overhead.{name}")
        corner = (min(p[0] for p in part.outline), min(p[1] for p in part.outline))
        rows.append(
            (
                Answer(name, "stated"),
                Answer(part.kind.replace("-", " "), standing),
                Answer(_point(known, corner), standing),
                Answer(known.length(part.clearance), standing),
            )
        )
    yield Rows("overhead", "thing overhead", heads, tuple(rows), 2 if rows else 4)


def _kit(known: _Known) -> Iterator[Block]:
    room = known.room
    heads = (("equipment", 34.0), ("kind", 30.0), ("place", 0.0), ("note", 44.0))
    rows = tuple(
        (
            Answer(name, "stated"),
            Answer(e.kind.replace("-", " "), known.standing(f"equipment.{name}")),
            Answer(_point(known, e.at), known.standing(f"equipment.{name}.at")),
            Answer(e.note, "stated") if e.note else Answer(),
        )
        for name, e in (() if room is None else room.equipment.items())
    )
    yield Rows("equipment", "place of equipment", heads, rows, 2 if rows else 3)
    owned_heads = (("owned and to be kept", 50.0), ("type", 0.0), ("where, since when", 54.0))
    owned = tuple(
        (
            Answer(name, "stated"),
            Answer(d.product, known.standing(f"devices.{name}.product")),
            Answer(d.equipment or "", known.standing(f"devices.{name}")),
        )
        for name, d in (() if room is None else room.devices.items())
        if d.owned
    )
    yield Rows("devices", "owned device", owned_heads, owned, 1 if owned else 3)
    yield Field("What makes the call", options=("room computer", "laptop", "codec", "telephone"))
    yield Field("Sound in and out by", options=("USB", "network", "analogue", "HDMI"))
    yield Field("Network outlet with power", options=("yes", "no"))
    yield Field("Who approves a network device")
    yield Field("Mains outlets: where, how many free", wide=True)


def _call(known: _Known) -> Iterator[Block]:
    yield known.field("One-way delay", "far_end.one_way_delay_ms", lambda v: f"{v:g} ms", unit="ms")
    yield Field("Calls go", options=("within the house", "internet", "overseas"))
    yield known.field(
        "Listening level there",
        "far_end.listening_level_dba",
        lambda v: f"{v:g} dBA",
        unit="dBA",
    )
    yield Field("They listen by", options=("loudspeaker", "headset", "both"))
    yield known.field("Noise there", "far_end.noise", background_words, unit="NC or dBA")
    yield Field("Recording or captions", options=("yes", "no"))
    yield Field("Hearing aids, interpreters: system there or wanted", wide=True)


def _promise(known: _Known) -> Iterator[Block]:
    yield known.field("Wanted chance", "targets.chance", lambda v: f"{100 * v:g} %", unit="%")
    yield known.field("STI at the far end", "targets.sti_outbound", lambda v: f"{v:g}")
    yield known.field(
        "Direct to reverberant sound",
        "targets.direct_to_reverberant_db",
        lambda v: f"{v:g} dB".replace("-", "−"),
        unit="dB",
    )
    yield known.field(
        "Speech over noise", "targets.speech_to_noise_db", lambda v: f"{v:g} dB", unit="dB"
    )
    currency = "" if known.room is None else known.room.project.currency
    yield known.field(
        "Price, installed, at most",
        "targets.price",
        lambda v: money(v, currency, cents=False),
        unit=currency,
    )
    yield Field("Work on the room itself", options=("possible", "not wanted"))
    yield Field("Ready by")
    yield Field("Hours for work in the room")
    yield Field("In the customer's own words: what must work", wide=True)
    yield Field("", wide=True)


def _cautions() -> tuple[tuple[str, str], ...]:
    first = (
        "Work at height",
        "Unknown ceiling materials",
        "Electricity and plenum",
        "Overhead",
        "Loud test signals",
    )
    said = dict(CAUTIONS)
    return (
        *((heading, said[heading]) for heading in first),
        (
            "What decides",
            "Local code and licensed practice decide; a survey opens nothing that needs a licence.",
        ),
    )


def _signature() -> Iterator[Block]:
    yield Field("Surveyed by")
    yield Field("Date and hour")
    yield Field("For the customer")
    yield Field("Signature")

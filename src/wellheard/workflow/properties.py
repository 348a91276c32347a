"""What may be edited on each thing of a room: rows of a side panel, as plain data.

A row is a leaf of the document, its name, its value as one would type it, and how it is chosen.
Which rows a thing has is a table; nothing here knows how they are drawn.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal, TypeAlias, get_args

from wellheard.catalog.catalogue import Catalogue
from wellheard.predict.tolerances import basis_of
from wellheard.room import tables
from wellheard.room.amend import value_at
from wellheard.room.document import Room
from wellheard.room.equipment import EquipmentKind
from wellheard.room.finishes import InlineFinish
from wellheard.room.noise import SourceKind
from wellheard.room.overhead import OverheadKind
from wellheard.room.people import Effort
from wellheard.room.space import CeilingKind
from wellheard.units import Unit, format_length
from wellheard.workflow.load import Loaded

Kind: TypeAlias = Literal[
    "length", "number", "share", "choice", "text", "toggle", "finish", "product", "facing"
]
Json: TypeAlias = dict[str, Any]

OWN_FIGURES = "=own"
"""Value of a finish that is written in the document and in no catalogue."""

WORDS: Mapping[str, str] = {
    "air-outlet": "air outlet",
    "fan-coil": "fan coil unit",
    "table-box": "table box",
    "wall-plate": "wall plate",
    "entry": "cable entry",
    "codec": "conference unit",
    "tiles": "lay-in tiles",
    "hard": "hard, closed",
    "open": "open to the structure",
    "m": "metres",
    "ft": "feet and inches",
}
"""Words for choices that do not speak for themselves."""


@dataclass(frozen=True, slots=True)
class Row:
    """One field of a thing.

    Parameters
    ----------
    leaf : str
        Path below the thing; empty for the thing itself.
    word : str
        What the field is called.
    kind : str
        How it is shown and chosen; a ``share`` is a ratio in per cent.
    choices : tuple of str
        Of a ``choice``.
    vouched : bool
        Somebody may vouch for it: it has a basis.
    where : function, optional
        From room and path of the thing: whether the thing has this field now.
    group : str
        Heading in the panel of the room.
    """

    leaf: str
    word: str
    kind: Kind
    choices: tuple[str, ...] = ()
    vouched: bool = False
    where: Callable[[Room, str], bool] | None = None
    group: str = ""


def _told(leaf: str, word: str, kind: Kind, choices: tuple[str, ...] = ()) -> Row:
    return Row(leaf, word, kind, choices, vouched=True)


def _is(leaf: str, *wanted: object) -> Callable[[Room, str], bool]:
    return lambda room, path: value_at(room, f"{path}.{leaf}" if path else leaf) in wanted


def _has(leaf: str) -> Callable[[Room, str], bool]:
    return lambda room, path: value_at(room, f"{path}.{leaf}" if path else leaf) is not None


def _square(room: Room, path: str) -> bool:
    return len(value_at(room, f"{path}.outline")) == 4


_PLACE = (_told("at.0", "Place, x", "length"), _told("at.1", "Place, y", "length"))
_POINT = (*_PLACE, _told("at.2", "Height above the floor", "length"))
_SIZE = (
    Row("outline.length", "Length", "length", vouched=True, where=_square),
    Row("outline.depth", "Depth", "length", vouched=True, where=_square),
)
_PERSON = (
    _told("height", "Mouth above the floor", "length"),
    _told("facing", "Faces", "facing"),
)
_PLACED = _has("at")
_KINDS_OF_NOISE = get_args(SourceKind)

ROWS: Mapping[str, tuple[Row, ...]] = {
    "people.seats": (*_PLACE, *_PERSON),
    "people.standing": (*_SIZE, *_PERSON),
    "furniture.table": (*_SIZE, _told("height", "Top above the floor", "length")),
    "furniture.lectern": (*_PLACE, _told("height", "Top above the floor", "length")),
    "furniture.soft": (*_SIZE, _told("height", "Height", "length")),
    "furniture.cupboard": (*_SIZE, _told("height", "Height", "length")),
    "furniture.display": (
        _told("wall", "On wall", "choice"),
        _told("centre.0", "Middle, from the wall’s start", "length"),
        _told("centre.1", "Middle above the floor", "length"),
        _told("size.0", "Picture width", "length"),
        _told("size.1", "Picture height", "length"),
    ),
    "devices": (
        Row("product", "Product", "product"),
        *(
            Row(leaf, word, "length", where=_PLACED)
            for leaf, word in (
                ("at.0", "Place, x"),
                ("at.1", "Place, y"),
                ("at.2", "Height above the floor"),
                ("drop", "Drop below the ceiling"),
            )
        ),
        Row("aim_deg", "Aim, ° from east", "number", where=_PLACED),
        Row("rotation_deg", "Turned, °", "number", where=_PLACED),
        Row("equipment", "Housed in", "choice"),
        Row("locked", "Locked: nothing moves it", "toggle"),
        Row("owned", "The customer has it", "toggle"),
    ),
    "overhead": (
        _told("kind", "What it is", "choice", get_args(OverheadKind)),
        *_SIZE,
        _told("clearance", "Kept free around it", "length"),
        _told("bottom", "Underside above the floor", "length"),
    ),
    "noise.sources": (
        _told("kind", "What it is", "choice", _KINDS_OF_NOISE),
        Row("dba_at_1m", "Level at 1 m, dBA", "number", vouched=True, where=_has("dba_at_1m")),
        *_POINT,
    ),
    "equipment": (
        _told("kind", "What it is", "choice", get_args(EquipmentKind)),
        *_POINT,
        Row("note", "Note", "text"),
    ),
    "space.obstacles": (
        *_SIZE,
        _told("height", "Height", "length"),
        _told("finish", "Finish", "finish"),
    ),
    "space.finishes.patches": (
        _told("wall", "On wall", "choice"),
        _told("from", "From, along the wall", "length"),
        _told("to", "To, along the wall", "length"),
        _told("bottom", "Bottom above the floor", "length"),
        _told("top", "Top above the floor", "length"),
        _told("finish", "Finish", "finish"),
    ),
    "partitions": (
        _told("from.0", "From, x", "length"),
        _told("from.1", "From, y", "length"),
        _told("to.0", "To, x", "length"),
        _told("to.1", "To, y", "length"),
        _told("finish", "Finish", "finish"),
        _told("stc", "Sound transmission class", "number"),
    ),
}
"""Rows by collection; those of furniture by its kind."""


def _grouped(group: str, *rows: Row) -> tuple[Row, ...]:
    return tuple(
        Row(r.leaf, r.word, r.kind, r.choices, vouched=r.vouched, where=r.where, group=group)
        for r in rows
    )


_TILE_FIELDS: tuple[tuple[str, str, Kind], ...] = (
    ("module.0", "Tile, along x", "length"),
    ("module.1", "Tile, along y", "length"),
    ("origin.0", "Crossing of tile lines, x", "length"),
    ("origin.1", "Crossing of tile lines, y", "length"),
    ("rotation_deg", "Tile lines turned, °", "number"),
)
_TILED = _is("space.ceiling.kind", "tiles")
ROOM: tuple[Row, ...] = (
    *_grouped(
        "Room",
        Row("title", "Title", "text"),
        Row("units", "Lengths in the document", "choice", ("m", "ft")),
        _told("space.height", "Ceiling height", "length"),
        _told("space.ceiling.kind", "Ceiling", "choice", get_args(CeilingKind)),
        *(
            Row(f"space.ceiling.{leaf}", word, kind, vouched=True, where=_TILED)
            for leaf, word, kind in _TILE_FIELDS
        ),
        _told("space.ceiling.void_depth", "Void above the ceiling", "length"),
        _told("space.ceiling.air_return", "Void carries return air", "choice", ("yes", "no")),
    ),
    *_grouped(
        "Surfaces",
        _told("space.finishes.floor", "Floor", "finish"),
        _told("space.finishes.ceiling", "Ceiling", "finish"),
        _told("space.scattering", "Scattered share of reflections", "share"),
    ),
    *_grouped(
        "Air and noise",
        _told("space.climate.temperature_c", "Temperature, °C", "number"),
        _told("space.climate.humidity", "Humidity", "share"),
        *(
            Row(
                f"noise.background.{leaf}",
                word,
                "number",
                vouched=True,
                where=_has(f"noise.background.{leaf}"),
            )
            for leaf, word in (("nc", "Background noise, NC"), ("dba", "Background noise, dBA"))
        ),
    ),
    *_grouped(
        "People",
        _told("people.effort", "Vocal effort", "choice", get_args(Effort)),
        _told("people.occupancy", "Seats taken", "share"),
    ),
    *_grouped(
        "Far end",
        _told("far_end.one_way_delay_ms", "One-way delay, ms", "number"),
        _told("far_end.listening_level_dba", "Speech is listened to at, dBA", "number"),
        Row(
            "far_end.noise.nc",
            "Noise there, NC",
            "number",
            vouched=True,
            where=_has("far_end.noise.nc"),
        ),
    ),
    *_grouped(
        "Promise",
        Row("targets.chance", "Wanted chance", "share"),
        Row("targets.sti_outbound", "STI at the far end", "number"),
        Row("targets.direct_to_reverberant_db", "Direct-to-reverberant ratio, dB", "number"),
        Row("targets.speech_to_noise_db", "Speech over noise, dB", "number"),
        Row("targets.sti_inbound", "STI at the seats", "number"),
        Row("targets.playback_level_dba", "Playback at the seats, dBA", "number"),
        Row("targets.uniformity_db", "Loudest over quietest seat, dB", "number"),
        Row("targets.noise_nc", "Most noise, NC", "number"),
        Row("targets.reverberation", "Longest decay time, s", "number"),
    ),
    *_grouped(
        "Choices and prices",
        Row("choices.max_drop", "Longest drop", "length"),
        Row("choices.new_holes", "New holes allowed", "toggle"),
        Row("targets.price", "Price at most", "number"),
        Row("project.currency", "Currency", "text"),
    ),
    *_grouped(
        "Title block",
        Row("project.number", "Project number", "text"),
        Row("project.revision", "Revision", "text"),
        Row("project.client", "Client", "text"),
        Row("project.site", "Site", "text"),
        Row("project.author", "Author", "text"),
        Row("project.date", "Date", "text"),
    ),
)


def aspects(loaded: Loaded, *, unit: Unit) -> dict[str, list[Json]]:
    """Rows of every item of a document, and of the room itself under ``room``.

    Parameters
    ----------
    loaded : Loaded
        The document with its catalogue.
    unit : {"m", "ft"}
        Of lengths in words.

    Returns
    -------
    dict of str to list of dict
        By item path. A row has ``path``, ``word``, ``value`` (as typed; of a choice its key),
        ``kind``; where it has them ``choices`` (``{"value", "words"}``), ``told`` with ``basis``,
        the path that says so, and ``group``.
    """
    panel = _Panel(loaded.room, loaded.catalogue, unit)
    found = {"room": list(panel.rows("", ROOM))}
    for path, rows in _things(loaded.room):
        found[path] = list(panel.rows(path, rows))
    for index, name in enumerate(loaded.room.space.walls):
        found[f"space.walls.{index}"] = list(panel.wall(index, name))
        found[f"space.outline.{index}"] = list(panel.rows(f"space.outline.{index}", _CORNER))
    return found


_CORNER = (Row("0", "x", "length", vouched=True), Row("1", "y", "length", vouched=True))


def _things(room: Room) -> Iterator[tuple[str, tuple[Row, ...]]]:
    for collection, rows in ROWS.items():
        place, _, kind = collection.partition("furniture.")
        if kind:
            wanted = ("display", "screen") if kind == "display" else (kind,)
            for key, item in room.furniture.items():
                if item.kind in wanted:
                    yield f"furniture.{key}", (*rows, *_corners(item))
            continue
        for key, item in value_at(room, place).items():
            yield f"{collection}.{key}", (*rows, *_corners(item))


def _corners(item: Any) -> Sequence[Row]:
    """Corners one by one, of an outline that is no four-sided one."""
    outline = getattr(item, "outline", ())
    if len(outline) == 4:
        return ()
    return [
        Row(f"outline.{i}.{axis}", f"Corner {i + 1}, {name}", "length", vouched=True)
        for i in range(len(outline))
        for axis, name in enumerate("xy")
    ]


class _Panel:
    """Rows with their values, in the words of one unit."""

    def __init__(self, room: Room, catalogue: Catalogue, unit: Unit) -> None:
        self.room, self.catalogue, self.unit = room, catalogue, unit
        self.finishes = [
            {"value": one.id, "words": one.name} for one in catalogue.finishes if not one.per_item
        ]
        self.finishes.sort(key=lambda one: one["words"].lower())
        self.products: dict[str, list[Json]] = {}

    def rows(self, path: str, rows: Sequence[Row]) -> Iterator[Json]:
        for row in rows:
            if row.where is None or row.where(self.room, path):
                yield self._row(f"{path}.{row.leaf}" if path else row.leaf, row)

    def wall(self, index: int, name: str) -> Iterator[Json]:
        path = f"space.walls.{index}"
        yield self._row(path, Row("", "Name", "text"))
        yield self._row(f"{path}.length", Row("", "Length", "length"))
        row = Row("", "Finish", "finish", vouched=True)
        yield self._row(f"space.finishes.walls.{name}", row)

    def _row(self, path: str, row: Row) -> Json:
        found: Json = {
            "path": path,
            "word": row.word,
            "value": self._shown(path, row),
            "kind": "number" if row.kind == "share" else row.kind,
        }
        choices = self._choices(path, row)
        if choices is not None:
            found["choices"] = choices
        if row.vouched:
            leaf = _vouched(path)
            found |= {"told": basis_of(self.room, leaf), "basis": f"basis.{leaf}"}
        if row.group:
            found["group"] = row.group
        return found

    # Values ---------------------------------------------------------------------------------

    def _value(self, path: str) -> Any:
        head, _, last = path.rpartition(".")
        if last in tables.SIDES and head.endswith(".outline"):
            low, high = tables.axis(value_at(self.room, head), last)[1]
            return high - low
        if last == "length" and head.startswith("space.walls."):
            return math.dist(*self.room.space.wall_ends(value_at(self.room, head)))
        if last == "drop" and head.startswith("devices."):
            return self.room.space.height - value_at(self.room, f"{head}.at.2")
        if path.startswith("space.finishes.walls."):
            return self.room.space.wall_finish(last)
        return value_at(self.room, path)

    def _shown(self, path: str, row: Row) -> str:
        value = self._value(path)
        if isinstance(value, InlineFinish):
            return OWN_FIGURES
        if path == "space.finishes.ceiling" and value is None:
            ceiling = self.room.space.ceiling_finish
            return ceiling if isinstance(ceiling, str) else OWN_FIGURES
        if value is None:
            return ""
        if row.kind == "length":
            return typed_length(value, unit=self.unit)
        if row.kind == "share":
            return f"{_figure(100 * value)} %"
        if isinstance(value, bool):
            return "yes" if value else "no"
        if row.kind == "facing":
            return ", ".join(one if isinstance(one, str) else _figure(one) for one in value)
        return _figure(value) if isinstance(value, int | float) else str(value)

    # Choices --------------------------------------------------------------------------------

    def _choices(self, path: str, row: Row) -> list[Json] | None:
        if row.kind == "finish":
            own = {"value": OWN_FIGURES, "words": "figures of its own"}
            written = isinstance(self._value(path), InlineFinish)
            return [own, *self.finishes] if written else self.finishes
        if row.kind == "product":
            return self._products(value_at(self.room, path.removesuffix("product") + "kind"))
        if row.kind == "facing":
            words = ["across", "display"] if self._pictures() else ["across"]
            return [_choice(word) for word in words]
        if row.kind != "choice":
            return None
        if row.leaf == "wall":
            return [_choice(name) for name in self.room.space.walls]
        if row.leaf == "equipment":
            nowhere = {"value": "", "words": "a place of its own"}
            return [nowhere, *(_choice(key) for key in self.room.equipment)]
        unknown = [{"value": "", "words": "not known"}] if row.choices == ("yes", "no") else []
        return [*(_choice(word) for word in row.choices), *unknown]

    def _pictures(self) -> bool:
        return any(item.kind in ("display", "screen") for item in self.room.furniture.values())

    def _products(self, kind: str) -> list[Json]:
        """Products that a device of a kind may be, what is no longer made said so."""
        if kind not in self.products:
            self.products[kind] = [
                {
                    "value": one.id,
                    "words": one.name + ("" if one.status == "current" else f" ({one.status})"),
                }
                for one in self.catalogue.products
                if kind in one.device_kinds
            ]
        return self.products[kind]


def _vouched(path: str) -> str:
    """Path that says how a leaf is known: places in lists are known as the list is."""
    steps = path.split(".")
    if path.startswith("space.outline."):
        return "space.outline"
    while steps[-1].isdecimal() or steps[-1] in tables.SIDES:
        steps.pop()
    return ".".join(steps)


def _choice(word: str) -> Json:
    return {"value": word, "words": WORDS.get(word, word)}


def _figure(value: float) -> str:
    return f"{round(value, 4):g}".replace("-", "−")


def typed_length(metres: float, *, unit: Unit) -> str:
    """Length as one would type it: to the millimetre, or to the eighth of an inch.

    Examples
    --------
    >>> typed_length(2.0, unit="m"), typed_length(3.125, unit="m"), typed_length(2.0, unit="ft")
    ('2.00 m', '3.125 m', '6\\'-6¾"')
    """
    places = 2 if abs(metres * 100 - round(metres * 100)) < 1e-6 else 3
    return format_length(metres, unit=unit, places=places)

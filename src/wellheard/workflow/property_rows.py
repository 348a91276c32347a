"""Which fields each thing of a room has in a side panel: tables, and nothing else."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Literal, TypeAlias, get_args

from wellheard.room.amend import value_at
from wellheard.room.document import Room
from wellheard.room.equipment import EquipmentKind
from wellheard.room.finishes import LevelPatch, Patch
from wellheard.room.noise import SourceKind
from wellheard.room.overhead import OverheadKind
from wellheard.room.people import Effort
from wellheard.room.processing import ProcessKind
from wellheard.room.space import CeilingKind

Kind: TypeAlias = Literal[
    "length", "number", "share", "choice", "text", "toggle", "finish", "product", "facing"
]


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
_ON_WALL: tuple[tuple[str, str, Kind], ...] = (
    ("wall", "On wall", "choice"),
    ("from", "From, along the wall", "length"),
    ("to", "To, along the wall", "length"),
    ("bottom", "Bottom above the floor", "length"),
    ("top", "Top above the floor", "length"),
)


def _on_wall(room: Room, path: str) -> bool:
    return isinstance(value_at(room, path), Patch)


def _level(room: Room, path: str) -> bool:
    return isinstance(value_at(room, path), LevelPatch)


def _on_level(room: Room, path: str) -> bool:
    return _level(room, path) and _square(room, path)


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
        Row("colour", "Colour", "choice"),
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
        Row("rack_units", "Free height, U", "number", where=_is("kind", "rack")),
        Row("note", "Note", "text"),
    ),
    "space.obstacles": (
        *_SIZE,
        _told("height", "Height", "length"),
        _told("finish", "Finish", "finish"),
    ),
    "space.finishes.patches": (
        *(Row(leaf, word, kind, vouched=True, where=_on_wall) for leaf, word, kind in _ON_WALL),
        Row("surface", "On", "choice", ("ceiling", "floor"), vouched=True, where=_level),
        *(replace(row, where=_on_level) for row in _SIZE),
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
        Row("choices.colour", "Colour, where a product comes in it", "text"),
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


_GAINS = ("gain", "volume", "lift", "leveller", "limiter")
STAGE: tuple[Row, ...] = (
    Row("kind", "What it does", "choice", get_args(ProcessKind)),
    Row("on", "On port", "text"),
    Row("sources", "Takes in, ports", "text", where=_is("kind", "mixer", "lift")),
    Row("reference", "Listens to, port", "text", where=_is("kind", "canceller")),
    Row("gain_db", "Gain, dB", "number", where=_is("kind", *_GAINS)),
    Row("delay_ms", "Delay, ms", "number", where=_is("kind", "delay")),
    Row("bypassed", "Switched off", "toggle"),
)
"""Fields of a stage of processing."""

HOUSED: tuple[Row, ...] = (
    Row("product", "Product", "product"),
    Row("equipment", "Housed in", "choice"),
)
"""Fields of a device that has no place of its own, where what houses it is shown."""

CORNER = (Row("0", "x", "length", vouched=True), Row("1", "y", "length", vouched=True))
"""Of a corner of the room."""

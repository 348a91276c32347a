"""What may be edited on each thing of a room: rows of a side panel, as plain data.

A row is a leaf of the document, its name, its value as one would type it, and how it is chosen.
Which rows a thing has is a table; nothing here knows how they are drawn.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, TypeAlias

from wellheard.catalog.catalogue import Catalogue
from wellheard.predict.tolerances import basis_of
from wellheard.room import tables
from wellheard.room.amend import value_at
from wellheard.room.document import Room
from wellheard.room.finishes import InlineFinish
from wellheard.units import Unit, format_length
from wellheard.workflow.load import Loaded
from wellheard.workflow.property_rows import CORNER, HOUSED, ROOM, ROWS, STAGE, Row

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
    "noise-reduction": "noise reduction",
    "tiles": "lay-in tiles",
    "hard": "hard, closed",
    "open": "open to the structure",
    "m": "metres",
    "ft": "feet and inches",
}
"""Words for choices that do not speak for themselves."""


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
    found = {"room": [*panel.rows("", ROOM), *panel.housed("")]}
    for path, rows in _things(loaded.room):
        found[path] = list(panel.rows(path, rows))
        collection, _, name = path.partition(".")
        if collection == "devices":
            found[path] += panel.stages(name)
        elif collection == "equipment":
            found[path] += panel.housed(name)
    for index, name in enumerate(loaded.room.space.walls):
        found[f"space.walls.{index}"] = list(panel.wall(index, name))
        found[f"space.outline.{index}"] = list(panel.rows(f"space.outline.{index}", CORNER))
    return found


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

    def stages(self, name: str) -> Iterator[Json]:
        """Stages of processing that run on a device or a piece of equipment, each a group."""
        for key, stage in self.room.processing.items():
            if stage.on.partition(".")[0] == name:
                heading = f"Stage {key}: {WORDS.get(stage.kind, stage.kind)}"
                for row in self.rows(f"processing.{key}", STAGE):
                    yield {**row, "group": heading}

    def housed(self, equipment: str) -> Iterator[Json]:
        """What is housed in a piece of equipment with its stages; '' for what is nowhere."""
        for key, device in self.room.devices.items():
            if device.at is None and (device.equipment or "") == equipment:
                heading = f"{key}, {device.kind}" + ("" if equipment else ", housed nowhere")
                for row in self.rows(f"devices.{key}", HOUSED):
                    yield {**row, "group": heading}
                yield from self.stages(key)
        if equipment:
            yield from self.stages(equipment)

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
        if row.leaf == "sources":
            return ", ".join(value)
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
        if row.leaf == "colour":
            product = value_at(self.room, path.removesuffix("colour") + "product")
            usual = {"value": "", "words": "as the room says"}
            return [usual, *(_choice(word) for word in self._colours(product))]
        unknown = [{"value": "", "words": "not known"}] if row.choices == ("yes", "no") else []
        return [*(_choice(word) for word in row.choices), *unknown]

    def _pictures(self) -> bool:
        return any(item.kind in ("display", "screen") for item in self.room.furniture.values())

    def _colours(self, product: str) -> tuple[str, ...]:
        known = (one.colours for one in self.catalogue.products if one.id == product)
        return next(known, ())

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

"""What changed between two room documents, in the reader's words."""

from __future__ import annotations

import datetime
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from pydantic import BaseModel
from pydantic.fields import FieldInfo

from wellheard.catalog.catalogue import Catalogue
from wellheard.errors import CatalogError
from wellheard.geometry.polygons import polygon_area
from wellheard.room.document import Room
from wellheard.room.finishes import InlineFinish
from wellheard.room.noise import Background
from wellheard.room.typed import is_length
from wellheard.units import Unit, format_length

Kind = Literal["added", "removed", "changed"]

PRINTED = 0.005
"""Steps shorter than this do not show in what is printed. [m]"""

SIZES = ("size", "module")
"""Fields whose pair of lengths is a size; any other pair is a place."""


@dataclass(frozen=True)
class Change:
    """One difference.

    Parameters
    ----------
    path : str
        Where it stands in the document.
    kind : {"added", "removed", "changed"}
    text : str
        A sentence without its full stop.
    old, new : str
        The two values as they are printed; empty where there is none.
    slight : bool
        The printed values do not show it.
    """

    path: str
    kind: Kind
    text: str
    old: str
    new: str
    slight: bool = False


THINGS: dict[str, str] = {
    "people.seats": "Seat",
    "people.standing": "Standing area",
    "space.obstacles": "Obstacle",
    "space.finishes.patches": "Patch",
    "noise.sources": "Noise source",
    "overhead": "Overhead",
    "equipment": "Equipment",
    "links": "Cable",
    "processing": "Processing",
    "partitions": "Partition",
    "arrangements": "Arrangement",
    "targets.house_rules": "House rule",
    "measurements": "Measurement",
    "history": "Decision",
    "furniture": "Furniture",
    "devices": "Device",
    "basis": "Basis of",
}
"""What an entry of each collection is called; furniture and devices say their kind instead."""

WORDS: dict[str, str] = {
    "title": "Title",
    "project": "Project",
    "space.height": "Ceiling height",
    "space.outline": "Outline of the room",
    "space.walls": "Names of the walls",
    "space.ceiling": "Ceiling",
    "space.climate": "Climate",
    "space.scattering": "Scattering of the surfaces",
    "space.finishes.floor": "Finish of the floor",
    "space.finishes.ceiling": "Finish of the ceiling",
    "space.finishes.walls": "Finish of the walls",
    "space.measured_reverberation": "Measured reverberation",
    "people.effort": "Vocal effort",
    "people.directivity": "Directivity of the talkers",
    "people.occupancy": "Share of seats taken",
    "noise.background": "Background noise",
    "far_end": "Far end",
    "choices": "Choice",
    "targets": "Promise",
    "site": "Site",
    "units": "Units of the document",
}
"""What the parts of a document are called; the longest path that fits counts."""


def changes(old: Room, new: Room, catalogue: Catalogue) -> tuple[Change, ...]:
    """Every difference between two documents, in the order of the document.

    Parameters
    ----------
    old, new : Room
        Lengths are told in the units of ``new``.
    catalogue : Catalogue
        For what finishes and products are.

    Returns
    -------
    tuple of Change
        Empty for the same room, however it is written: a default that is written out, and a
        length in other units, are no difference.
    """
    return tuple(_Walk(old, new, catalogue).found())


def subject(path: str, old: Room, new: Room, catalogue: Catalogue) -> str:
    """What a dotted path of two documents is called."""
    return _Walk(old, new, catalogue)._subject(path)


class _Walk:
    def __init__(self, old: Room, new: Room, catalogue: Catalogue) -> None:
        self.old, self.new, self.catalogue = old, new, catalogue
        self.unit: Unit = new.units

    def found(self) -> Iterator[Change]:
        yield from self._models("", self.old, self.new)

    def _models(self, path: str, old: BaseModel, new: BaseModel) -> Iterator[Change]:
        for name, field in type(new).model_fields.items():
            where = _joined(path, field.alias or name)
            before, after = getattr(old, name), getattr(new, name)
            yield from self._values(where, before, after, field)
        yield from self._entries(path, old.model_extra or {}, new.model_extra or {}, None)

    def _values(self, path: str, old: Any, new: Any, field: FieldInfo | None) -> Iterator[Change]:
        if self._same(old, new):
            return
        if isinstance(old, Background) and isinstance(new, Background):
            yield self._changed(path, _background(old), _background(new))
        elif isinstance(old, BaseModel) and isinstance(new, BaseModel) and type(old) is type(new):
            yield from self._models(path, old, new)
        elif isinstance(old, Mapping) and isinstance(new, Mapping) and _is_collection(old, new):
            yield from self._entries(path, old, new, field)
        elif path.rsplit(".", 1)[-1] == "at" and _is_point(old) and _is_point(new):
            yield self._moved(path, old, new)
        elif path.rsplit(".", 1)[-1] == "outline":
            yield self._reshaped(path, old, new)
        else:
            lengths = field is not None and is_length(field)
            say = self._length if lengths else self._plain
            yield self._changed(path, say(path, old), say(path, new))

    def _entries(
        self,
        path: str,
        old: Mapping[Any, Any],
        new: Mapping[Any, Any],
        field: FieldInfo | None,
    ) -> Iterator[Change]:
        for key in dict.fromkeys((*old, *new)):
            where = _joined(path, str(key))
            if key not in new:
                told = self._summary(where, old[key])
                yield Change(where, "removed", f"{self._subject(where)} is gone", told, "")
            elif key not in old:
                told = self._summary(where, new[key])
                said = f"{self._subject(where)} is new{f': {told}' if told else ''}"
                yield Change(where, "added", said, "", told)
            else:
                yield from self._values(where, old[key], new[key], field)

    def _changed(self, path: str, old: str, new: str) -> Change:
        said = f"{old} → {new}" if old != new else f"{new}, by less than is printed"
        return Change(path, "changed", f"{self._subject(path)}: {said}", old, new, old == new)

    def _reshaped(self, path: str, old: Any, new: Any) -> Change:
        """An outline; where number of corners and area stay, how far the corners are from where."""
        before, after = _area(old), _area(new)
        if before != after:
            return self._changed(path, before, after)
        between = np.linalg.norm(np.asarray(old)[:, None] - np.asarray(new)[None], axis=-1)
        far = float(max(between.min(axis=0).max(), between.min(axis=1).max()))
        how = (
            f"corners up to {format_length(far, unit=self.unit)} from where they were"
            if far > PRINTED
            else "corners in another order, or moved by less than is printed"
        )
        said = f"{self._subject(path)}: {after}, {how}"
        return Change(path, "changed", said, before, after, slight=far <= PRINTED)

    def _moved(self, path: str, old: tuple[float, ...], new: tuple[float, ...]) -> Change:
        steps = []
        names = (("east", "west"), ("north", "south"), ("up", "down"))
        for before, after, (more, less) in zip(old, new, names, strict=False):
            if abs(after - before) > PRINTED:
                far = format_length(abs(after - before), unit=self.unit)
                steps.append(f"{far} {more if after > before else less}")
        if len(old) != len(new):
            steps.append("to another kind of place")
        slight = not steps
        if slight:
            steps.append("by less than is printed")
        owner = path.rpartition(".")[0]
        return Change(
            path,
            "changed",
            f"{self._subject(owner)} moves {' and '.join(steps)}",
            self._point(old),
            self._point(new),
            slight,
        )

    def _subject(self, path: str) -> str:
        """What a path is called: the thing it belongs to, and the field in the document's words."""
        for prefix, thing in THINGS.items():
            if path.startswith(prefix + "."):
                key, _, rest = path[len(prefix) + 1 :].partition(".")
                if prefix == "basis":
                    return f"Basis of {path[len(prefix) + 1 :]}"
                named = f"{self._kind(prefix, key) or thing} {key}"
                return f"{named}, {_spoken(rest)}" if rest else named
        for prefix in sorted(WORDS, key=len, reverse=True):
            if path == prefix:
                return WORDS[prefix]
            if path.startswith(prefix + "."):
                return f"{WORDS[prefix]}, {_spoken(path[len(prefix) + 1 :])}"
        return path

    def _kind(self, prefix: str, key: str) -> str:
        if prefix not in ("furniture", "devices", "equipment", "overhead"):
            return ""
        for room in (self.new, self.old):
            entry = getattr(room, prefix).get(key)
            if entry is not None:
                return str(entry.kind).replace("-", " ").capitalize()
        return ""

    def _summary(self, path: str, value: Any) -> str:
        """What a new or lost entry is, short."""
        if not isinstance(value, BaseModel):
            return self._plain(path, value)
        parts = []
        for name in ("product", "finish", "at"):
            told = getattr(value, name, None)
            if told is None:
                continue
            parts.append(self._point(told) if name == "at" else self._plain(path, told))
        return ", ".join(parts)

    def _length(self, path: str, value: Any) -> str:
        if value is None:
            return "not given"
        if isinstance(value, float | int):
            return format_length(float(value), unit=self.unit)
        if isinstance(value, tuple) and value and isinstance(value[0], float | int):
            if path.rsplit(".", 1)[-1] not in SIZES:
                return self._point(value)
            return " × ".join(format_length(float(v), unit=self.unit) for v in value)
        return f"{len(value)} points" if isinstance(value, tuple) else str(value)

    def _point(self, value: tuple[float, ...]) -> str:
        return "(" + ", ".join(format_length(float(v), unit=self.unit) for v in value) + ")"

    def _plain(self, path: str, value: Any) -> str:
        if value is None:
            return "not given"
        if isinstance(value, bool):
            return "yes" if value else "no"
        if isinstance(value, InlineFinish):
            return f"written in the document{_absorption(value.absorption)}"
        if isinstance(value, str):
            return value + self._finish(path, value) if value else "empty"
        if isinstance(value, float | int):
            return f"{value:g}".replace("-", "−")
        if isinstance(value, datetime.date):
            return value.isoformat()
        if isinstance(value, tuple | list):
            return ", ".join(self._plain(path, v) for v in value) or "none"
        if isinstance(value, Mapping):
            return ", ".join(f"{k}: {self._plain(path, v)}" for k, v in value.items()) or "none"
        if isinstance(value, BaseModel):
            return self._summary(path, value) or "other"
        return str(value)

    def _finish(self, path: str, name: str) -> str:
        if ".finishes." not in path and not path.endswith("finish"):
            return ""
        try:
            return _absorption(self.catalogue.finish(name).absorption)
        except CatalogError:
            return ""

    def _same(self, old: Any, new: Any) -> bool:
        if isinstance(old, float) and isinstance(new, float):
            return math.isclose(old, new, abs_tol=1e-9, rel_tol=1e-9)
        if isinstance(old, tuple) and isinstance(new, tuple):
            return len(old) == len(new) and all(map(self._same, old, new))
        if isinstance(old, BaseModel) and isinstance(new, BaseModel):
            return (
                type(old) is type(new)
                and all(
                    self._same(getattr(old, name), getattr(new, name))
                    for name in type(new).model_fields
                )
                and (old.model_extra or {}) == (new.model_extra or {})
            )
        if isinstance(old, Mapping) and isinstance(new, Mapping):
            return list(old) == list(new) and all(self._same(old[k], new[k]) for k in new)
        return bool(old == new)


def _joined(path: str, name: str) -> str:
    return f"{path}.{name}" if path else name


def _spoken(path: str) -> str:
    words = path.replace("_deg", " [°]").replace("_dba", " [dBA]").replace("_db", " [dB]")
    words = words.replace("_ms", " [ms]").replace("_c", " [°C]")
    return words.replace("_", " ").replace(".", ", ")


def _is_collection(old: Mapping[Any, Any], new: Mapping[Any, Any]) -> bool:
    """Entries by id, in contrast to levels or coefficients by octave."""
    return all(isinstance(key, str) for key in (*old, *new))


def _is_point(value: Any) -> bool:
    return isinstance(value, tuple) and 2 <= len(value) <= 3


def _area(outline: Any) -> str:
    if outline is None:
        return "none"
    corners = np.asarray(outline, dtype=np.float64)
    return f"{len(corners)} corners, {abs(polygon_area(corners)):.2f} m²"


def _absorption(octaves: tuple[float, ...]) -> str:
    return f" (absorbs {100 * float(np.mean(octaves[2:6])):.0f} % at 500–4k Hz)"


def _background(value: Background) -> str:
    if value.nc is not None:
        return f"NC-{value.nc:g}"
    if value.dba is not None:
        return f"{value.dba:g} dBA"
    assert value.levels_db is not None  # the document allows exactly one form
    return " ".join(f"{level:g}" for level in value.levels_db.values()) + " dB"

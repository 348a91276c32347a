"""The page of the room document: every field with form, limits, default and meaning.

Names, order, forms and defaults are those of the JSON Schema; limits are those that reading
applies, which the schema does not carry for numbers that may also be text.
"""

from __future__ import annotations

import re
import types
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated, Any, Union, get_args, get_origin

import yaml
from annotated_types import Ge, Gt, Le, Lt
from pydantic import BaseModel
from pydantic.fields import FieldInfo

from wellheard.forms.fields import LONGEST, LengthRule
from wellheard.room.document import Room
from wellheard.room.schema import json_schema

INTRODUCTION = """\
# The room document

One YAML file holds a room: what it is, who sits where, what is promised, and the design so far. By
custom its name ends in `.room.yaml`. This page has every field, in the order of the document; it is
generated from the JSON Schema that `wellheard schema` prints, so an editor can complete and check
the same fields.

Required are `wellheard`, `space.outline`, `space.height`, and one seat or standing area. Whatever
else is left out takes its default, and every default that counts is listed as an assumption, with
how far it moves the worst seat.

| in the tables | means |
|---|---|
| length | a number in the document's `units`, or text: `442 cm`, `14 ft 6 in`, `17'-4"` |
| point | lengths `[x, y]` or `[x, y, z]`: x east, y north, z up from the floor |
| angle | degrees anticlockwise from east |
| name | small letters, digits and hyphens, 40 at most; you choose it |
| octaves | a mapping from octave to number: `{125: …, 250: …, …, 8000: …}` |
| null | unknown, or not part of the promise; it is never taken for a pass |

Limits of lengths are given in metres. A mistake is told with file, line, column, what was found and
what is allowed, all mistakes at once.
"""

SNIPPETS = {
    "": """\
wellheard: 1
title: Tide Room
units: m
""",
    "project": """\
project: {number: "2026-031", client: Saltmarsh Library, site: Quay House, date: 2026-01-31}
""",
    "site": """\
site: {region: europe, seismic: "no"}
""",
    "space": """\
space:
  outline: [[0, 0], [6.4, 0], [6.4, 4.6], [0, 4.6]]     # counter-clockwise
  walls: [south, east, north, west]
  height: 2.75
  ceiling: {kind: tiles, module: 0.6, origin: [0.2, 0.1], void_depth: 0.45, air_return: true}
  climate: {temperature_c: 21, humidity: 0.45}
  finishes:
    floor: carpet-tile
    ceiling: ceiling-mineral-tile
    walls: {south: plasterboard, east: glass-front, north: plasterboard, west: plasterboard}
    patches:
      window: {wall: north, from: 0.6, to: 3.8, bottom: 0.9, top: 2.4, finish: double-glazing}
  obstacles:
    column: {outline: [[5.9, 4.1], [6.2, 4.1], [6.2, 4.4], [5.9, 4.4]], finish: concrete}
  isolation: {south: {stc: 45, outside: {nc: 30}}}
  measured_reverberation:
    {125: 0.62, 250: 0.55, 500: 0.50, 1000: 0.46, 2000: 0.44, 4000: 0.40, 8000: 0.33}
""",
    "furniture": """\
furniture:
  table: {kind: table, outline: [[2.6, 1.6], [4.8, 1.6], [4.8, 2.8], [2.6, 2.8]], height: 0.74}
  picture: {kind: display, wall: west, centre: [2.3, 1.4], size: [1.6, 0.9]}
  lectern: {kind: lectern, at: [0.8, 3.6]}
""",
    "people": """\
people:
  effort: normal
  occupancy: 0.7
  seats:
    s1: {at: [2.9, 1.3], facing: across}     # whom the table puts opposite
    s2: {at: [3.7, 1.3], facing: [90, 180], height: 1.15}     # the worse of both counts
  standing:
    presenter: {outline: [[0.6, 1.2], [1.4, 1.2], [1.4, 3.0], [0.6, 3.0]], facing: 0}
""",
    "noise": """\
noise:
  background: {nc: 30}     # or {dba: 38}, or {levels_db: {63: 52, 125: 48, …, 8000: 22}}
  sources:
    vent: {kind: air-outlet, at: [3.2, 0.7, 2.7], dba_at_1m: 33}
""",
    "overhead": """\
overhead:
  lamp: {kind: luminaire, outline: [[2.6, 2.2], [3.8, 2.2], [3.8, 2.4], [2.6, 2.4]], clearance: 0.3}
""",
    "equipment": """\
equipment:
  rack: {kind: rack, at: [5.7, 0.3, 0.5], note: under the sideboard}
""",
    "far_end": """\
far_end: {one_way_delay_ms: 150, listening_level_dba: 65, noise: {nc: 30}}
""",
    "choices": """\
choices: {allow: [ceiling-head-2, ceiling-head-3], mounting: [ceiling], max_drop: 0.6}
""",
    "devices": """\
devices:
  m1: {kind: microphone, product: ceiling-head-3, at: [2.9, 2.2, 2.7], locked: true}
  mixer: {kind: processor, product: processor-4, equipment: rack, owned: true}
""",
    "links": """\
links:
  c1: {from: m1.link, to: mixer.link-1, cable: twisted-pair, length: 12}
""",
    "processing": """\
processing:
  echo: {kind: canceller, on: mixer.link-1}
""",
    "partitions": """\
partitions:
  middle: {from: [3, 0], to: [3, 4.6], finish: plasterboard, stc: 45}
""",
    "arrangements": """\
arrangements:
  whole: {open: [middle]}
  split: {closed: [middle]}
""",
    "targets": """\
targets:
  chance: 0.8
  sti_outbound: 0.62
  direct_to_reverberant_db: -6
  speech_to_noise_db: 15
  house_rules:
    seat-pitch: {relaxed: true, because: "fixed seats, told by the client"}
""",
    "basis": """\
basis: {space.outline: measured, people.seats: drawing, noise.background: assumed}
""",
    "measurements": """\
measurements:
  first-visit: {date: 2026-02-14, by: the installer}
""",
    "history": """\
history:
  heads-not-pendants: {date: 2026-02-02, because: the client wants nothing to hang}
""",
}
"""One example of each part; every one of them is read by the tests."""

WORDS = {
    "Room.title": "Name of the room, as documents print it",
    "Room.project": "What the title block says",
    "Room.site": "What decides cable jackets, mains and bracing",
    "Room.furniture": "Tables, lecterns, pictures, seats to sink into",
    "Room.noise": "What is heard when nobody talks",
    "Room.overhead": "Parts of the ceiling where nothing may be mounted",
    "Room.equipment": "Places that cables end at",
    "Room.far_end": "The other side of the call",
    "Room.choices": "Limits on what a solver may propose",
    "Room.devices": "Devices of the design, and those that are there",
    "Room.links": "Cables between them",
    "Room.processing": "Stages of processing",
    "Room.partitions": "Walls that open",
    "Room.arrangements": "States of the partitions",
    "Room.targets": "What every seat is promised",
    "Room.basis": "How a part of the document is known, by its path; the longest path counts",
    "Arrangement.open": "Partitions that are open",
    "Arrangement.closed": "Partitions that are closed",
    "AssistiveListening.system": "Kind of the system",
    "Ceiling.kind": "Tiles in a grid, a hard surface, or open to the structure",
    "Choices.mounting": "Mountings that may be used",
    "Cupboard.kind": "What it is",
    "Cupboard.outline": "Its plan, counter-clockwise [m]",
    "Device.kind": "What it is",
    "Device.installed": "Since when it has been there",
    "Display.kind": "What it is",
    "Display.wall": "Name of the wall that it hangs on",
    "Equipment.kind": "What it is",
    "Equipment.at": "Where cables enter it [m]",
    "Finishes.floor": "Finish of the floor",
    "Finishes.patches": "Parts of walls that are of something else",
    "HouseRule.relaxed": "The rule does not count in this room",
    "Installed.date": "Day of the installation",
    "Lectern.kind": "What it is",
    "Lectern.at": "Its centre on the plan [m]",
    "Link.locked": "No solver moves it",
    "Noise.background": "Steady noise that is everywhere the same",
    "Noise.sources": "Sources with a place",
    "NoiseSource.kind": "What it is; decides the octave shape of a dBA alone",
    "NoiseSource.at": "Where it radiates from [m]",
    "Obstacle.outline": "Its plan, counter-clockwise [m]",
    "Obstacle.finish": "What it is made of",
    "Overhead.outline": "Its plan, counter-clockwise [m]",
    "Overhead.kind": "What it is",
    "Partition.from": "Where it begins, on the outline [m]",
    "Partition.to": "Where it ends, on the outline [m]",
    "Partition.finish": "What it is made of, both sides",
    "Patch.finish": "What it is made of",
    "People.seats": "Places where somebody sits",
    "People.standing": "Areas where somebody stands and talks",
    "Processing.kind": "What it does",
    "Project.number": "Of the project, as you file it",
    "Project.revision": "Of the document",
    "Project.client": "For whom",
    "Project.site": "Building",
    "Project.author": "Who answers for it",
    "Project.date": "Of the document; prices are judged by it",
    "Screen.kind": "What it is",
    "Screen.wall": "Name of the wall that it hangs on",
    "Site.region": "Whose rules of cables and mains apply",
    "Site.seismic": "Whether what hangs is braced",
    "Soft.kind": "What it is",
    "Soft.outline": "Its plan, counter-clockwise [m]",
    "Space.ceiling": "Kind, grid and void",
    "Space.climate": "Air of the room",
    "Space.finishes": "What floor, ceiling and walls are made of",
    "Space.obstacles": "Solid things from the floor up",
    "Table.kind": "What it is",
    "Table.outline": "Its plan, counter-clockwise [m]",
    "Targets.house_rules": "What this document does with rules of the house, by code",
}
"""Meanings of fields whose model gives none, because their name does."""

DEFAULTS = {
    "Ceiling.module": "0.6 m; 2 ft where `units` is ft",
    "FarEnd.noise": "`{nc: 30}`",
    "Noise.background": "`{nc: 30}`",
    "Space.walls": "w0, w1, …",
}
"""Defaults that depend on the rest of the document."""


@dataclass(frozen=True)
class Part:
    """One table of the page: where its fields stand, and the schema and model of them."""

    path: str
    name: str
    schema: dict[str, Any]
    model: type[BaseModel]


def document_reference() -> str:
    """Return the page."""
    schema = json_schema()
    blocks = [INTRODUCTION]
    top = {n: p for n, p in schema["properties"].items() if not _refs(p)}
    blocks += ["## The whole\n", _snippet("")]
    blocks.append(_table(Part("", "Room", {**schema, "properties": top}, Room), schema))
    seen: set[str] = set()
    for name, field in schema["properties"].items():
        if name in top and name not in SNIPPETS:
            continue
        blocks.append(f"## `{name}`\n")
        said = _meaning("Room", name, field)
        blocks.append(f"{said}.\n")
        blocks.append(_snippet(name))
        for number, part in enumerate(_parts(name, field, schema, Room)):
            if part.name in seen:
                continue
            seen.add(part.name)
            if number or part.path != f"`{name}`":
                blocks += [f"### {part.path}\n", _sentence(part.schema)]
            blocks.append(_table(part, schema))
    return "\n".join(block for block in blocks if block)


def _snippet(name: str) -> str:
    text = SNIPPETS[name]
    assert isinstance(yaml.safe_load(text), dict)
    return f"```yaml\n{text}```\n"


def _sentence(schema: dict[str, Any]) -> str:
    text = " ".join(schema.get("description", "").split()).replace("``", "`")
    return text + "\n" if text else ""


def _parts(
    path: str, field: dict[str, Any], schema: dict[str, Any], owner: type[BaseModel]
) -> Iterator[Part]:
    named = "patternProperties" in field
    for name in _refs(field):
        below = schema["$defs"][name]
        here = f"{path}.<name>" if named else path
        kinds = below["properties"].get("kind", {})
        title = f"`{here}`"
        if named and "const" in kinds:
            title += f" of kind {kinds['const']}"
        if name == "InlineFinish":
            title = "A finish of its own"
        model = _model(owner, name)
        yield Part(title, name, below, model)
        for inner, part in below["properties"].items():
            yield from _parts(f"{here}.{inner}", part, schema, model)


def _refs(field: Any) -> list[str]:
    """Names of the parts that a field holds, each once."""
    found: dict[str, None] = {}
    if isinstance(field, dict):
        if "$ref" in field:
            found[field["$ref"].rpartition("/")[2]] = None
        for key, value in field.items():
            if key != "discriminator":
                found.update(dict.fromkeys(_refs(value)))
    elif isinstance(field, list):
        for value in field:
            found.update(dict.fromkeys(_refs(value)))
    return list(found)


def _model(owner: type[BaseModel], name: str) -> type[BaseModel]:
    for info in owner.model_fields.values():
        for found in _models(info.annotation):
            if found.__name__ == name:
                return found
    raise LookupError(f"{owner.__name__} holds no {name}")


def _models(annotation: Any) -> Iterator[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for inner in get_args(annotation):
        yield from _models(inner)


def _table(part: Part, schema: dict[str, Any]) -> str:
    required = set(part.schema.get("required", ()))
    lines = ["| field | meaning | form | default |", "|---|---|---|---|"]
    for name, field in part.schema["properties"].items():
        form = "two lengths" if name in ("size", "centre") else _form(field, schema)
        limits = _limits(_info(part.model, name))
        if limits:
            form += f"; {limits}"
        default = "required" if name in required else _default(part.name, name, field)
        cells = (f"`{name}`", _meaning(part.name, name, field), form, default)
        lines.append("| " + " | ".join(c.replace("|", "\\|") for c in cells) + " |")
    return "\n".join(lines) + "\n"


def _meaning(owner: str, name: str, field: dict[str, Any]) -> str:
    said = field.get("description") or WORDS[f"{owner}.{name}"]
    said = " ".join(said.split()).replace("``", "`").rstrip(".")
    for plain, set_well in ((r"(?<=\d)-(?=\d)", "–"), (r"\[deg C\]", "[°C]"), (r"\[deg\]", "[°]")):
        said = re.sub(plain, set_well, said)
    return said


def _info(model: type[BaseModel], name: str) -> FieldInfo:
    for key, info in model.model_fields.items():
        if name in (key, info.alias):
            return info
    raise LookupError(f"{model.__name__} has no {name}")


def _default(owner: str, name: str, field: dict[str, Any]) -> str:
    if f"{owner}.{name}" in DEFAULTS:
        return DEFAULTS[f"{owner}.{name}"]
    if "default" not in field:
        return "its own defaults" if "$ref" in field else "none"
    value = field["default"]
    if value is None:
        return "null"
    if value in ("", []):
        return "empty" if value == "" else "none"
    return f"`{_written(value)}`"


def _written(value: Any) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, float):
        return f"{value:g}"
    if isinstance(value, list):
        return "[" + ", ".join(_written(v) for v in value) + "]"
    if isinstance(value, dict):
        return "{" + ", ".join(f"{k}: {_written(v)}" for k, v in value.items()) + "}"
    return str(value)


def _form(field: dict[str, Any], schema: dict[str, Any]) -> str:
    return " or ".join(dict.fromkeys(_forms(field, schema)))


def _forms(field: dict[str, Any], schema: dict[str, Any]) -> Iterator[str]:
    if _is_length(field):
        yield "length"
    elif "const" in field:
        yield f"`{_written(field['const'])}`"
    elif "enum" in field:
        yield ", ".join(f"`{_written(v)}`" for v in field["enum"])
    elif "$ref" in field:
        below = schema["$defs"][field["$ref"].rpartition("/")[2]]
        kind = below["properties"].get("kind", {}).get("const")
        yield f"`kind: {kind}`" if kind else "mapping, below"
    elif "anyOf" in field or "oneOf" in field:
        choices = [*field.get("anyOf", ()), *field.get("oneOf", ())]
        if _is_length({"anyOf": choices[:2]}):
            yield "length"
            del choices[:2]
        for one in choices:
            yield from _forms(one, schema)
    elif field.get("type") == "array":
        yield _array(field, schema)
    elif field.get("type") == "object" or "patternProperties" in field:
        yield _mapping(field, schema)
    elif "type" in field:
        kinds = field["type"] if isinstance(field["type"], list) else [field["type"]]
        yield from (_SIMPLE[kind] for kind in kinds)
    else:
        yield "anything"


_SIMPLE = {
    "number": "number",
    "integer": "whole number",
    "string": "text",
    "boolean": "true or false",
    "null": "null",
}


def _is_length(field: dict[str, Any]) -> bool:
    texts = [one for one in field.get("anyOf", ()) if one.get("pattern", "").startswith("[0-9½")]
    return len(texts) == 1 and len(field["anyOf"]) == 2 and "number" in str(field["anyOf"])


def _array(field: dict[str, Any], schema: dict[str, Any]) -> str:
    if "prefixItems" in field:
        items = [_form(one, schema) for one in field["prefixItems"]]
        if items == ["length"] * len(items):
            return "point"
        return "[" + ", ".join(items) + "]"
    inner = _form(field["items"], schema) if field.get("items") else "anything"
    low, high = field.get("minItems"), field.get("maxItems")
    if low == high == 2 and inner == "length":
        return "two lengths"
    if inner in ("point", "number", "length") or (low and low == high):
        inner += "s"
    return f"list of {low} {inner}" if low and low == high else f"list of {inner}"


def _mapping(field: dict[str, Any], schema: dict[str, Any]) -> str:
    if "patternProperties" in field:
        inner = next(iter(field["patternProperties"].values()))
        return f"by name: {_form(inner, schema)}"
    if isinstance(field.get("additionalProperties"), dict):
        return f"by path: {_form(field['additionalProperties'], schema)}"
    if field.get("properties") and "125" in field["properties"]:
        return "octaves"
    return "mapping"


def _limits(info: FieldInfo) -> str:
    found: dict[str, None] = {}
    for group in _groups(info.annotation, tuple(info.metadata)):
        found[group] = None
    return " or ".join(found)


def _groups(annotation: Any, metadata: tuple[Any, ...]) -> Iterator[str]:
    """Limits of every alternative of an annotation, outermost first."""
    said = _said([one for one in _flat(metadata)])
    if said:
        yield said
    if get_origin(annotation) is Annotated:
        inner, *more = get_args(annotation)
        yield from _groups(inner, tuple(more))
    elif get_origin(annotation) in (Union, types.UnionType, tuple, list, dict):
        for inner in get_args(annotation):
            yield from _groups(inner, ())


def _flat(metadata: tuple[Any, ...]) -> Iterator[Any]:
    for one in metadata:
        if isinstance(one, FieldInfo):
            yield from one.metadata
        else:
            yield one


def _said(metadata: list[Any]) -> str:
    low = high = ""
    for one in metadata:
        if isinstance(one, LengthRule):
            return _length_limits(one)
        if isinstance(one, Gt):
            low = f"above {one.gt:g}"
        elif isinstance(one, Ge):
            low = f"from {one.ge:g}"
        elif isinstance(one, Lt):
            high = f"below {one.lt:g}"
        elif isinstance(one, Le):
            high = f"to {one.le:g}"
    return " ".join(word for word in (low, high) if word).replace("-", "−")


def _length_limits(rule: LengthRule) -> str:
    if rule.above is not None:
        low = f"above {rule.above:g}"
    elif rule.at_least > -LONGEST:
        low = f"from {rule.at_least:g}"
    else:
        return ""
    return f"{low} to {rule.at_most:g} m".replace("-", "−")

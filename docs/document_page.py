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
from document_words import DEFAULTS, INTRODUCTION, SNIPPETS, WORDS
from pydantic import BaseModel
from pydantic.fields import FieldInfo

from wellheard.forms.fields import LONGEST, LengthRule
from wellheard.room.document import Room
from wellheard.room.schema import json_schema


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

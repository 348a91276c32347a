"""The published schema accepts what the reader accepts, by a small validator of our own.

The validator knows the keywords that the schema uses, and fails on any other (JSON Schema
draft 2020-12, from memory).
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
import yaml

from wellheard.room.schema import json_schema

ROOT = Path(__file__).parents[2]
EXAMPLES = sorted(ROOT.glob("examples/*/*.room.yaml"))
SCHEMA = json_schema()
TYPES: dict[str, Any] = {
    "object": dict,
    "array": list,
    "string": str,
    "null": type(None),
    "boolean": bool,
}
ASIDE = {"title", "description", "default", "format", "$defs", "$schema", "discriminator"}


def is_of(kind: str, value: object) -> bool:
    if kind in ("number", "integer"):
        kinds: Any = (int, float) if kind == "number" else int
        return isinstance(value, kinds) and not isinstance(value, bool)
    return isinstance(value, TYPES[kind])


def accepts(schema: dict[str, Any] | bool, value: Any) -> bool:
    """Whether a schema accepts a value."""
    if isinstance(schema, bool):
        return schema
    named = dict(schema.get("properties", {}))
    patterns = dict(schema.get("patternProperties", {}))
    for word, rule in schema.items():
        ok = True
        number = isinstance(value, int | float) and not isinstance(value, bool)
        match word:
            case "$ref":
                ok = accepts(SCHEMA["$defs"][rule.rpartition("/")[2]], value)
            case "type":
                ok = any(is_of(k, value) for k in ([rule] if isinstance(rule, str) else rule))
            case "anyOf":
                ok = any(accepts(s, value) for s in rule)
            case "oneOf":
                ok = sum(accepts(s, value) for s in rule) == 1
            case "const":
                ok = value == rule
            case "enum":
                ok = value in rule
            case "required":
                ok = not isinstance(value, dict) or all(k in value for k in rule)
            case "properties" if isinstance(value, dict):
                ok = all(accepts(s, value[k]) for k, s in rule.items() if k in value)
            case "patternProperties" if isinstance(value, dict):
                ok = all(
                    accepts(s, v)
                    for p, s in rule.items()
                    for k, v in value.items()
                    if re.search(p, k)
                )
            case "propertyNames" if isinstance(value, dict):
                ok = all(accepts(rule, k) for k in value)
            case "additionalProperties" if isinstance(value, dict):
                ok = all(
                    accepts(rule, v)
                    for k, v in value.items()
                    if k not in named and not any(re.search(p, k) for p in patterns)
                )
            case "items" if isinstance(value, list):
                ok = all(accepts(rule, v) for v in value[len(schema.get("prefixItems", [])) :])
            case "prefixItems" if isinstance(value, list):
                ok = all(accepts(s, v) for s, v in zip(rule, value, strict=False))
            case "minItems" if isinstance(value, list):
                ok = len(value) >= rule
            case "maxItems" if isinstance(value, list):
                ok = len(value) <= rule
            case "pattern" if isinstance(value, str):
                ok = re.search(rule, value) is not None
            case "minimum" if number:
                ok = value >= rule
            case "maximum" if number:
                ok = value <= rule
            case "exclusiveMinimum" if number:
                ok = value > rule
            case "exclusiveMaximum" if number:
                ok = value < rule
            case (
                "properties"
                | "patternProperties"
                | "propertyNames"
                | "additionalProperties"
                | "items"
                | "prefixItems"
                | "minItems"
                | "maxItems"
                | "pattern"
                | "minimum"
                | "maximum"
                | "exclusiveMinimum"
                | "exclusiveMaximum"
            ):
                pass  # says nothing about a value of another type
            case _ if word in ASIDE:
                pass
            case _:
                raise AssertionError(f"the validator does not know {word}")
        if not ok:
            return False
    return True


class Editor(yaml.SafeLoader):
    """Reads as an editor with YAML 1.2 does: dates are text, keys are text."""


Editor.yaml_implicit_resolvers = {
    first: [(tag, pattern) for tag, pattern in pairs if not tag.endswith("timestamp")]
    for first, pairs in yaml.SafeLoader.yaml_implicit_resolvers.items()
}


def keyed(value: Any) -> Any:
    if isinstance(value, dict):
        return {str(k): keyed(v) for k, v in value.items()}
    return [keyed(v) for v in value] if isinstance(value, list) else value


def document(path: Path) -> Any:
    return keyed(yaml.load(path.read_text(), Loader=Editor))


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda p: p.stem)
def test_the_schema_accepts_the_examples(path: Path) -> None:
    assert accepts(SCHEMA, document(path))


SMALL: dict[str, Any] = {
    "wellheard": 1,
    "space": {"outline": [[0, 0], ["20 ft", 0], [6, 4], [0, 4]], "height": "9'-0\""},
    "people": {"seats": {"s1": {"at": [2, 2], "facing": ["across", 90]}}},
}


@pytest.mark.parametrize(
    ("change", "wanted"),
    [
        ({}, True),
        ({"x-anything": [1, {"a": None}]}, True),
        ({"furniture": {"t": {"kind": "lectern", "at": [1, "1 m"]}}}, True),
        (
            {"targets": {"price": None, "house_rules": {"a": {"relaxed": True, "because": "b"}}}},
            True,
        ),
        ({"links": {"l1": {"from": "a.b", "to": "c.d"}}}, True),
        ({"titel": "x"}, False),
        ({"wellheard": 2}, False),
        ({"units": "yd"}, False),
        ({"links": {"l1": {"from_": "a.b", "to": "c.d"}}}, False),
        ({"links": {"L1": {"from": "a.b", "to": "c.d"}}}, False),
        ({"furniture": {"t": {"kind": "tabel", "outline": [[0, 0], [1, 0], [1, 1]]}}}, False),
        ({"people": {"seats": {"s1": {"at": [2]}}}}, False),
        ({"people": {"seats": {"s1": {"at": [2, 2], "facing": "north"}}}}, False),
        ({"targets": {"chance": "0.8"}}, False),
        ({"noise": {"background": {"levels_db": {"63": 1}}}}, False),
    ],
)
def test_the_schema_knows_right_from_wrong(change: dict[str, Any], wanted: bool) -> None:
    assert accepts(SCHEMA, {**SMALL, **change}) is wanted


def test_every_field_that_needs_one_has_a_description() -> None:
    bare = [
        f"{name}.{field}"
        for name, model in SCHEMA["$defs"].items()
        for field, schema in model.get("properties", {}).items()
        if field.endswith(("_deg", "_db", "_dba", "_ms", "_c")) and "description" not in schema
    ]
    assert bare == []

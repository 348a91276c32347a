"""What entities say of themselves, asked so that no fault of a file is more than no answer."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Any, TypeAlias

Entity: TypeAlias = Any

FAULTS: tuple[type[Exception], ...] = (
    ArithmeticError,
    AttributeError,
    LookupError,
    RuntimeError,
    TypeError,
    UnicodeError,
    ValueError,
)
"""What asking an entity may end in, where the file has something else than its schema wants."""


class Unusable(Exception):
    """A thing whose place or shape cannot be used; the message is a clause that says why."""


class Unread(Unusable):
    """A shape of a form that is not read here, though another reader of shapes may."""


def text(of: Entity | None, *names: str) -> str:
    """Return the first attribute that is a text with something in it, else an empty one."""
    for name in names:
        try:
            said = getattr(of, name)
        except FAULTS:
            continue
        if isinstance(said, str) and said.strip():
            return " ".join(said.split())
    return ""


def number(of: Entity | None, name: str) -> float | None:
    """Return an attribute that is a finite number, else None."""
    try:
        said = getattr(of, name)
    except FAULTS:
        return None
    return finite(said)


def finite(said: object) -> float | None:
    """Return a number that is one, None of anything else."""
    if isinstance(said, bool) or not isinstance(said, int | float):
        return None
    return float(said) if math.isfinite(said) else None


def related(of: Entity | None, name: str) -> tuple[Entity, ...]:
    """Return what an attribute refers to: one or several entities, or none."""
    try:
        said = getattr(of, name)
    except FAULTS:
        return ()
    if said is None:
        return ()
    several = said if isinstance(said, tuple | list) else (said,)
    return tuple(one for one in several if hasattr(one, "is_a"))


def one(of: Entity | None, name: str) -> Entity | None:
    """Return the entity that an attribute refers to, or None."""
    return next(iter(related(of, name)), None)


def is_any(of: Entity | None, *classes: str) -> bool:
    """Whether an entity is of one of the classes, or of what they stand above."""
    return of is not None and any(of.is_a(name) for name in classes)


def type_of(product: Entity) -> Entity | None:
    """Return the type of a product, or None."""
    for name in ("IsTypedBy", "IsDefinedBy"):
        for relation in related(product, name):
            if relation.is_a("IfcRelDefinesByType"):
                return one(relation, "RelatingType")
    return None


def predefined(product: Entity) -> str:
    """Return the predefined type of a product or of its type; empty where it says none."""
    for said in (product, type_of(product)):
        word = text(said, "PredefinedType")
        if word and word not in ("NOTDEFINED", "USERDEFINED"):
            return word
    return ""


def words_of(product: Entity) -> Iterator[str]:
    """Yield what a product and its type are called, the most telling first."""
    of = type_of(product)
    for said in (
        text(product, "ObjectType"),
        text(of, "ElementType"),
        text(of, "Name"),
        text(product, "Name"),
        text(product, "LongName"),
        text(product, "Description"),
    ):
        if said:
            yield said


def told(product: Entity) -> dict[str, dict[str, Any]]:
    """Return the properties and quantities of a product and its type, by the name of their set."""
    found: dict[str, dict[str, Any]] = {}
    of = type_of(product)
    sets = list(related(of, "HasPropertySets"))
    for relation in related(product, "IsDefinedBy"):
        if relation.is_a("IfcRelDefinesByProperties"):
            sets += related(relation, "RelatingPropertyDefinition")
    for one_set in sets:
        found.setdefault(text(one_set, "Name"), {}).update(_values(one_set))
    return found


def _values(one_set: Entity) -> Iterator[tuple[str, Any]]:
    for said in related(one_set, "HasProperties"):
        name = text(said, "Name")
        if said.is_a("IfcPropertySingleValue"):
            value = one(said, "NominalValue")
            yield name, getattr(value, "wrappedValue", None)
        elif said.is_a("IfcPropertyEnumeratedValue"):
            yield name, _wrapped(said, "EnumerationValues")
        elif said.is_a("IfcPropertyListValue"):
            yield name, _wrapped(said, "ListValues")
    for said in related(one_set, "Quantities"):
        name = text(said, "Name")
        for measure in ("LengthValue", "AreaValue", "VolumeValue"):
            value = number(said, measure)
            if value is not None:
                yield name, value


def _wrapped(said: Entity, name: str) -> list[Any]:
    return [getattr(value, "wrappedValue", None) for value in related(said, name)]


def property_of(
    sets: Mapping[str, Mapping[str, Any]], name: str, *, among: tuple[str, ...] = ()
) -> Any:
    """Return a property by its name, from the sets named or from any; None if there is none."""
    for title, properties in sets.items():
        if (not among or title in among) and properties.get(name) is not None:
            return properties[name]
    return None

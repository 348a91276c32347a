"""What a unit of length and of a plane angle is in a building model."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from wellheard.importers.ifc.asking import FAULTS, Entity, finite, one, related, text

METRES = {"mm": 0.001, "cm": 0.01, "m": 1.0, "in": 0.0254, "ft": 0.3048}
"""Units that somebody may mean. [m]"""
PREFIXES = {
    "": 1.0,
    "KILO": 1e3,
    "HECTO": 1e2,
    "DECA": 1e1,
    "DECI": 1e-1,
    "CENTI": 1e-2,
    "MILLI": 1e-3,
    "MICRO": 1e-6,
}
DEEPEST = 6
"""Units that are defined by others."""


@dataclass(frozen=True)
class Units:
    """Of one model: metres of a unit of length, 0 if none is stated; radians of one of angle.

    ``name`` is the unit of length in short, empty if none is stated.
    """

    length: float
    angle: float
    name: str


def units_of(model: Any) -> Units:
    """Return the units of a model."""
    found: dict[str, float] = {}
    for project in model.by_type("IfcProject"):
        for unit in related(one(project, "UnitsInContext"), "Units"):
            kind = text(unit, "UnitType")
            if kind in ("LENGTHUNIT", "PLANEANGLEUNIT"):
                found.setdefault(kind, _size(unit, DEEPEST))
    length = found.get("LENGTHUNIT", 0.0)
    angle = found.get("PLANEANGLEUNIT", 1.0) or 1.0
    named = (name for name, metres in METRES.items() if math.isclose(metres, length, rel_tol=1e-5))
    return Units(length, angle, next(named, f"{length:g} m" if length else ""))


def _size(unit: Entity, depth: int) -> float:
    """Size of a unit in that of the SI; 0 where it does not say."""
    if not depth:
        return 0.0
    if unit.is_a("IfcSIUnit"):
        return PREFIXES.get(text(unit, "Prefix"), 0.0)
    factor = one(unit, "ConversionFactor")
    inner = one(factor, "UnitComponent")
    try:
        value = finite(factor.ValueComponent.wrappedValue) if factor is not None else None
    except FAULTS:
        value = None
    size = (value or 0.0) * (_size(inner, depth - 1) if inner is not None else 0.0)
    return size if 1e-7 < size < 1e5 else 0.0

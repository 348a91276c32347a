"""Finishes: what walls, floors, ceilings, chairs and people absorb, per octave."""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from typing import TypeAlias

from wellheard import tables
from wellheard.errors import CatalogError

Octaves: TypeAlias = tuple[float, float, float, float, float, float, float]
"""One value for each octave from 125 Hz to 8 kHz."""

OCTAVE_COLUMNS = ("125", "250", "500", "1000", "2000", "4000", "8000")


@dataclass(frozen=True, kw_only=True)
class Finish:
    """What one surface, chair or person absorbs.

    Parameters
    ----------
    id, name : str
        Kebab-case id for documents, and words for people.
    absorption : tuple of 7 floats
        125 Hz to 8 kHz: share of the incident energy, or equivalent area of one item [m²] where
        ``per_item`` holds. Values above 1.0 are measured (edge effect) and kept; a model that
        cannot take them caps them.
    extrapolated : bool
        8 kHz is not published and repeats 4 kHz.
    per_item : bool
        Counted in items (chairs, people), not by area.
    source, trust : str
        Where the figures come from; L confirmed in open material, M from memory of the source,
        C common practice.
    scattering : float or None
        0–1, None where nothing is published.
    same_as : str
        Id of the finish whose figures these are, "" if they are its own.
    note : str
        What to know before choosing it.

    Examples
    --------
    >>> felt = Finish(id="felt", name="Felt", absorption=(0.02, 0.02, 0.05, 0.15, 0.3, 0.4, 0.4))
    >>> felt.noise_reduction_coefficient
    0.15
    """

    id: str
    name: str
    absorption: Octaves
    extrapolated: bool = False
    per_item: bool = False
    source: str = ""
    trust: str = "C"
    scattering: float | None = None
    same_as: str = ""
    note: str = ""

    @property
    def noise_reduction_coefficient(self) -> float | None:
        """Mean of 250 Hz to 2 kHz to the nearest 0.05 (ASTM C423); None for items.

        A tie rounds up, in decimal: 0.225 is 0.25 however binary fractions fall.
        """
        if self.per_item:
            return None
        mean = sum((Decimal(str(value)) for value in self.absorption[1:5]), Decimal(0)) / 4
        steps = (mean / Decimal("0.05")).quantize(Decimal(1), rounding=ROUND_HALF_UP)
        return float(steps * Decimal("0.05"))


def from_table(table: tables.Table) -> tuple[Finish, ...]:
    """Read finishes from the rows of a table.

    Parameters
    ----------
    table : Table
        Columns ``id``, ``name``, one per octave, and as wanted ``same_as``, ``unit``,
        ``scattering``, ``source``, ``trust``, ``note``.

    Returns
    -------
    tuple of Finish
        In the table's order.

    Raises
    ------
    CatalogError
        An id occurs twice, an octave other than 8 kHz is missing, ``same_as`` leads nowhere or
        to another alias. All rows are read before it is raised.

    Examples
    --------
    >>> text = "id,name,125,250,500,1000,2000,4000,8000\\nx,X,0.1,0.1,0.1,0.1,0.2,0.2,\\n"
    >>> from_table(tables.parse(text, None, name="mine"))[0].absorption[-1]
    0.2
    """
    missing = [c for c in ("id", "name", *OCTAVE_COLUMNS) if c not in table.columns]
    if missing:
        raise CatalogError(f"{table.name}.csv:1: no column {', '.join(missing)}")
    own: dict[str, Finish] = {}
    wrong: list[str] = []
    seen: set[str] = set()
    for line, row in enumerate(table.rows, start=2):
        where = f"{table.name}.csv:{line}"
        if row["id"] in seen:
            wrong.append(f"{where}: id {row['id']!r} occurs twice; each id once")
        seen.add(row["id"])
        if row.get("same_as"):
            wrong += _cells_beside_an_alias(row, where)
            continue
        try:
            own[row["id"]] = _finish(row)
        except ValueError as error:
            wrong.append(f"{where}: {row['id']}: {error}")
    found = []
    for line, row in enumerate(table.rows, start=2):
        target = row.get("same_as", "")
        if not target:
            if row["id"] in own:
                found.append(own[row["id"]])
        elif target not in own:
            wrong.append(
                f"{table.name}.csv:{line}: {row['id']}: same_as {target!r} must name a finish of "
                "this table that has figures of its own"
            )
        else:
            found.append(_alias(row, own[target]))
    if wrong:
        raise CatalogError("\n".join(wrong))
    return tuple(found)


def _cells_beside_an_alias(row: dict[str, str], where: str) -> list[str]:
    filled = [column for column in OCTAVE_COLUMNS if row[column]]
    if not filled:
        return []
    return [f"{where}: {row['id']}: either same_as or figures ({', '.join(filled)} Hz), not both"]


def _finish(row: dict[str, str]) -> Finish:
    values = []
    for column in OCTAVE_COLUMNS:
        text = row[column]
        if text == "" and column == "8000":
            break
        try:
            value = float(text)
        except ValueError:
            raise ValueError(f"{column} Hz: {text!r} is not a number") from None
        if not (math.isfinite(value) and value >= 0):
            raise ValueError(f"{column} Hz: {text} must be 0 or more")
        values.append(value)
    extrapolated = len(values) == 6
    if extrapolated:
        values.append(values[-1])
    a, b, c, d, e, f, g = values
    unit = row.get("unit") or "coefficient"
    if unit not in ("coefficient", "m2 each"):
        raise ValueError(f"unit {unit!r} is neither 'coefficient' nor 'm2 each'")
    return Finish(
        id=row["id"],
        name=row["name"],
        absorption=(a, b, c, d, e, f, g),
        extrapolated=extrapolated,
        per_item=unit == "m2 each",
        source=row.get("source", ""),
        trust=row.get("trust") or "C",
        scattering=float(row["scattering"]) if row.get("scattering") else None,
        note=row.get("note", ""),
    )


def _alias(row: dict[str, str], target: Finish) -> Finish:
    notes = (row.get("note", ""), target.note)
    return Finish(
        id=row["id"],
        name=row["name"],
        absorption=target.absorption,
        extrapolated=target.extrapolated,
        per_item=target.per_item,
        source=target.source,
        trust=target.trust,
        scattering=target.scattering,
        same_as=target.id,
        note=" ".join(note for note in notes if note),
    )

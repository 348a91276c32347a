"""What work on cables costs: a task, its minutes, the hour's rate."""

from __future__ import annotations

import functools
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal, get_args

from wellheard import tables
from wellheard.catalog.rows import Row
from wellheard.errors import CatalogError

LabourUnit = Literal["metre", "run", "end"]
TASKS = ("pull-void", "pull-floor", "pull-wall", "lay-open", "prepare", "terminate", "plug")
"""Every task that a run of cable is made of."""


@dataclass(frozen=True)
class Task:
    """One piece of work.

    Parameters
    ----------
    unit : {"metre", "run", "end"}
        What one of it is.
    minutes, rate_per_hour : float
        Of one person; [min], [currency/h]
    """

    id: str
    what: str
    unit: LabourUnit
    minutes: float
    rate_per_hour: float
    note: str = ""

    @property
    def price(self) -> float:
        """Of one metre, run or end. [currency]"""
        return self.minutes / 60 * self.rate_per_hour


@dataclass(frozen=True)
class Labour:
    """All tasks by id, in one currency."""

    tasks: Mapping[str, Task]
    currency: str

    def __post_init__(self) -> None:
        missing = [name for name in TASKS if name not in self.tasks]
        if missing:
            raise CatalogError(
                f"labour: no {', '.join(missing)}; every run needs {', '.join(TASKS)}"
            )

    def price(self, task: str, count: float = 1.0) -> float:
        """Price of so many metres, runs or ends of a task. [currency]

        Examples
        --------
        >>> round(shipped().price("terminate", 2), 2)  # two ends, 9 min each, 58 an hour
        17.4
        """
        return self.tasks[task].price * count


@functools.cache
def shipped() -> Labour:
    """Return the times and rates that come with the program; invented.

    Raises
    ------
    CatalogError
        The packaged table is damaged.
    """
    table = tables.load("labour")
    try:
        tasks = {row["id"]: _task(Row(table, row)) for row in table.by("id").values()}
    except ValueError as error:
        raise CatalogError(f"labour.csv: {error}") from error
    return Labour(MappingProxyType(tasks), str(table.provenance["currency"]))


def _task(row: Row) -> Task:
    unit = next((one for one in get_args(LabourUnit) if one == row.text("unit")), None)
    if unit is None:
        raise ValueError(f"{row.text('id')}: unit {row.text('unit')!r} is none of metre, run, end")
    return Task(
        id=row.text("id"),
        what=row.text("what"),
        unit=unit,
        minutes=row.number("minutes"),
        rate_per_hour=row.number("rate_per_hour"),
        note=row.text("note"),
    )

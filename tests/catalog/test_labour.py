"""Work on cables: invented times, read as every other table is, and multiplied by hand."""

from __future__ import annotations

import dataclasses

import pytest

from wellheard import tables
from wellheard.catalog import labour
from wellheard.catalog.catalogue import Catalogue
from wellheard.errors import CatalogError


def test_a_task_costs_its_minutes_at_the_hours_rate() -> None:
    task = labour.Task("pull", "Pull", "metre", minutes=1.5, rate_per_hour=60.0)
    assert task.price == 1.5  # 1.5 min of 60 an hour


def test_every_task_of_a_run_is_there_and_says_what_it_is() -> None:
    found = labour.shipped()
    assert set(labour.TASKS) <= set(found.tasks)
    for task in found.tasks.values():
        assert task.what
        assert 0 < task.minutes <= 30
        assert 20 <= task.rate_per_hour <= 150


@pytest.mark.practice
def test_in_a_void_cable_is_pulled_faster_than_under_a_floor_or_in_a_wall() -> None:
    """Common practice, no source."""
    tasks = labour.shipped().tasks
    assert tasks["pull-void"].minutes < tasks["pull-floor"].minutes < tasks["pull-wall"].minutes


def test_work_is_priced_in_the_currency_of_the_cables() -> None:
    currencies = {cable.currency for cable in Catalogue.shipped().cables}
    assert currencies == {labour.shipped().currency}


def test_a_table_without_a_task_of_every_run_is_refused() -> None:
    shipped = labour.shipped()
    left = {name: task for name, task in shipped.tasks.items() if name != "terminate"}
    with pytest.raises(CatalogError, match="no terminate"):
        dataclasses.replace(shipped, tasks=left)


def test_the_table_says_that_it_is_invented() -> None:
    assert tables.load("labour").provenance["invented"] is True

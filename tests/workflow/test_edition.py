"""Which parts and which files each reader gets."""

from __future__ import annotations

import pytest

from wellheard.dossier.model import READERS, Reader
from wellheard.errors import UsageError
from wellheard.workflow.edition import needed_by, needers, readers_of

FOLDER = {
    name: b""
    for name in (
        *("tide.room.yaml", "own-products.yaml", "dossier.pdf", "plan.svg", "plan-split.svg"),
        *("plan.dxf", "plan.pdf", "wiring.svg", "wiring-a.svg", "wiring.dxf", "room.ifc"),
        *("cables.csv", "bill.csv", "schedules.xlsx", "ledger.csv", "result.json"),
        *("alternatives/cheap/tide.room.yaml", "alternatives/cheap/bill.csv"),
    )
}
WANTED: dict[Reader, set[str]] = {
    "customer": {"dossier.pdf", "bill.csv", "alternatives/cheap/bill.csv"},
    "it": {"dossier.pdf", "wiring.svg", "wiring-a.svg", "wiring.dxf", "schedules.xlsx"},
    "commissioning": {
        *("dossier.pdf", "ledger.csv", "tide.room.yaml", "own-products.yaml"),
        "alternatives/cheap/tide.room.yaml",
    },
}


@pytest.mark.parametrize(("reader", "files"), WANTED.items(), ids=WANTED)
def test_a_reader_gets_what_is_needed_and_nothing_else(reader: Reader, files: set[str]) -> None:
    assert set(needed_by((reader,), FOLDER)) == files


def test_the_installer_gets_drawings_and_schedules_and_no_figures_of_the_prediction() -> None:
    found = set(needed_by(("installer",), FOLDER))
    assert {"plan.svg", "plan.dxf", "wiring.dxf", "cables.csv", "bill.csv", "room.ifc"} <= found
    assert not found & {"ledger.csv", "result.json", "tide.room.yaml"}


def test_everybody_gets_everything() -> None:
    assert needed_by(READERS, FOLDER) == FOLDER
    assert needed_by(("engineer",), FOLDER) == FOLDER


def test_each_file_is_needed_by_somebody() -> None:
    assert all(needers(name) for name in FOLDER)


def test_two_readers_get_what_either_needs() -> None:
    both = set(needed_by(("customer", "it"), FOLDER))
    assert both == WANTED["customer"] | WANTED["it"]


def test_readers_come_in_the_order_of_the_dossier_each_once() -> None:
    assert readers_of("it,customer, it") == ("customer", "it")
    assert readers_of(None) == READERS


@pytest.mark.parametrize("text", ["architect", "customer,architect", "", " , "])
def test_an_unknown_reader_is_refused_with_those_who_are_allowed(text: str) -> None:
    with pytest.raises(UsageError) as refused:
        readers_of(text)
    for reader in READERS:
        assert reader in str(refused.value)
    assert str(refused.value).startswith("--for: ")

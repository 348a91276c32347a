"""Cautions of the work on cables: each is there where it applies, and defers to who decides."""

from __future__ import annotations

from typing import Any

import pytest

from wellheard.catalog.catalogue import Catalogue
from wellheard.dossier.model import Facts, Heading
from wellheard.dossier.sections.cable_cautions import cable_caution_blocks, cable_cautions
from wellheard.room.document import Room

ALWAYS = {
    "Mains",
    "Walls and floors that hold fire back",
    "Old ceilings and walls",
    "Work at height",
    "Distance from power",
    "What carries the cables",
    "Emergency sound",
}


def room(*, region: str = "unknown", **ceiling: Any) -> Room:
    return Room.model_validate(
        {
            "wellheard": 1,
            "site": {"region": region},
            "space": {
                "outline": [[0, 0], [6.4, 0], [6.4, 4.6], [0, 4.6]],
                "height": 2.75,
                "ceiling": ceiling,
            },
            "people": {"seats": {"s1": {"at": [2.0, 1.4]}}},
            "equipment": {"rack": {"kind": "rack", "at": [6.0, 0.4, 0.5]}},
        }
    )


def with_devices(**products: str) -> Room:
    devices = {
        name: {"kind": kind, "product": product, "equipment": "rack"}
        for name, (kind, product) in ((name, given.split(" ")) for name, given in products.items())
    }
    bare = room().model_dump(mode="json", by_alias=True)
    return Room.model_validate({**bare, "devices": devices})


def said(document: Room) -> dict[str, str]:
    return dict(cable_cautions(document, Catalogue.shipped()))


def test_what_can_kill_is_always_said_and_comes_first() -> None:
    found = said(room())
    assert set(found) >= ALWAYS
    assert next(iter(found)) == "Mains"
    for words in ("never lift a safety earth", "80 %", "dead"):
        assert words in found["Mains"]
    assert "asbestos" in found["Old ceilings and walls"]


def test_code_and_licensed_practice_decide() -> None:
    found = said(room(air_return=True))
    for heading in (
        "Mains",
        "Void that carries return air",
        "Walls and floors that hold fire back",
    ):
        assert "Local code and licensed practice decide" in found[heading]


# NEC type names [L for CMP by place] and fire classes of EN 13501-6, from memory [M].
@pytest.mark.parametrize(
    ("region", "named"), [("us", "CMP, CL2P or CL3P"), ("ca", "FT6"), ("eu", "B2ca-s1,d1,a1")]
)
def test_a_void_with_return_air_asks_for_the_jacket_of_the_place(region: str, named: str) -> None:
    assert named in said(room(region=region, air_return=True))["Void that carries return air"]


def test_an_unknown_void_is_taken_for_one_with_return_air_and_said_so() -> None:
    found = said(room(region="us", air_return=None))["Void above the ceiling"]
    assert "not known" in found
    assert "CMP" in found


def test_a_void_without_air_is_looked_into_before_it_is_believed() -> None:
    assert "look before" in said(room(air_return=False))["Void above the ceiling"]


def test_an_open_ceiling_has_no_void_to_warn_of() -> None:
    assert not any("Void" in heading for heading in said(room(kind="open")))


# IEC 60038, from memory [M].
@pytest.mark.parametrize(("region", "mains"), [("us", "120 V at 60 Hz"), ("uk", "230 V at 50 Hz")])
def test_mains_are_those_of_the_region(region: str, mains: str) -> None:
    assert mains in said(room(region=region))["Mains"]


def test_mains_of_an_unknown_region_are_not_guessed() -> None:
    assert "not known here" in said(room())["Mains"]


def test_lines_and_power_over_the_network_are_warned_of_where_they_are() -> None:
    assert not {"Loudspeaker lines", "Power over the network"} & set(said(room()))
    found = said(with_devices(amp="amplifier line-amplifier-1x120", usb="processor usb-bridge"))
    assert "class 2" in found["Loudspeaker lines"]
    assert "copper-clad aluminium" in found["Power over the network"]


def test_distances_are_in_the_units_of_the_document() -> None:
    # 2 in of the code [L]: 50 mm.
    assert "0.05 m" in said(room())["Distance from power"]
    feet = room().model_copy(update={"units": "ft"})
    assert 'Keep 2" at' in said(feet)["Distance from power"]


def test_the_documents_get_them_under_one_heading() -> None:
    heading, facts = cable_caution_blocks(room(), Catalogue.shipped())
    assert heading == Heading("Cautions")
    assert isinstance(facts, Facts)
    assert len(facts.rows) == len(cable_cautions(room(), Catalogue.shipped()))

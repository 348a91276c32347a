"""Regions: what documents write, which jacket they need, what it is called."""

from __future__ import annotations

from typing import get_args

import pytest

from wellheard.catalog.parts import Jacket
from wellheard.catalog.regions import jacket_name, jacket_needed, region_of, regions

# The members of the European Union by the codes of ISO 3166-1, typed from memory [M].
MEMBERS = [
    "at",
    "be",
    "bg",
    "cy",
    "cz",
    "de",
    "dk",
    "ee",
    "es",
    "fi",
    "fr",
    "gr",
    "hr",
    "hu",
    "ie",
    "it",
    "lt",
    "lu",
    "lv",
    "mt",
    "nl",
    "pl",
    "pt",
    "ro",
    "se",
    "si",
    "sk",
]


@pytest.mark.parametrize("member", MEMBERS)
def test_every_member_state_is_the_union(member: str) -> None:
    found = region_of(member.upper())
    assert found is not None
    assert found.id == "eu"


def test_there_are_27_member_states() -> None:
    assert len(MEMBERS) == 27


@pytest.mark.parametrize(
    ("written", "region"),
    [
        ("us", "us"),
        ("US-CA", "us"),
        ("United_States, Ohio", "us"),
        ("ca", "ca"),
        ("Canada, Ontario", "ca"),
        ("EU", "eu"),
        ("Denmark", "eu"),
        ("UK", "uk"),
        ("GB-SCT", "uk"),
        ("Northern Ireland", "uk"),
        ("Ireland", "eu"),
    ],
)
def test_regions_are_read_as_people_write_them(written: str, region: str) -> None:
    found = region_of(written)
    assert found is not None
    assert found.id == region


@pytest.mark.parametrize(
    "written", ["", "unknown", "other", "Freeland", "user", "cab", "east", "no idea", "at home"]
)
def test_what_is_not_in_the_table_is_no_region(written: str) -> None:
    assert region_of(written) is None


# NEC 300.22 and its lineage, from memory [M]: an air-handling void wants plenum type, one without
# air and the room itself no more than general type. Riser is for runs between floors.
@pytest.mark.parametrize(
    ("in_void", "air_return", "jacket"),
    [(True, True, "plenum"), (True, False, "general"), (False, True, "general")],
)
def test_a_code_names_the_jacket_for_the_place(
    in_void: bool, air_return: bool, jacket: Jacket
) -> None:
    for region in ("us", "ca"):
        found = jacket_needed(region, in_void=in_void, air_return=air_return)
        assert (found.jacket, found.assumed) == (jacket, False)


@pytest.mark.parametrize("region", ["us", "ca", "eu", "uk", "other", "unknown"])
def test_what_is_not_known_takes_the_strictest_and_says_so(region: str) -> None:
    found = jacket_needed(region, in_void=True, air_return=None)
    assert (found.jacket, found.assumed) == ("plenum", True)
    assert "unknown" in found.because


@pytest.mark.parametrize("region", ["eu", "uk", "other", "unknown"])
def test_a_plenum_jacket_is_an_assumption_where_no_code_names_it(region: str) -> None:
    found = jacket_needed(region, in_void=True, air_return=True)
    assert (found.jacket, found.assumed) == ("plenum", True)


# Type names of the codes [L for CMP and CMR by place, the rest from memory M]; Euroclasses of
# EN 13501-6 from memory [M].
@pytest.mark.parametrize(
    ("region", "jacket", "name"),
    [
        ("us", "plenum", "CMP, CL2P or CL3P"),
        ("us", "riser", "CMR, CL2R or CL3R"),
        ("us", "general", "CM, CL2 or CL3"),
        ("ca", "plenum", "FT6, or CMP"),
        ("ca", "riser", "FT4, or CMR"),
        ("eu", "plenum", "B2ca-s1,d1,a1"),
        ("uk", "general", "Dca-s2,d2,a2"),
        ("other", "plenum", "plenum"),
    ],
)
def test_jackets_are_called_what_the_place_calls_them(
    region: str, jacket: Jacket, name: str
) -> None:
    assert jacket_name(region, jacket) == name


def test_every_region_has_every_jacket_and_its_mains() -> None:
    # IEC 60038 [M]: 230 V at 50 Hz in Europe, 120 V at 60 Hz in North America.
    for region in regions().values():
        assert set(region.jackets) == set(get_args(Jacket))
        assert (region.mains_voltage, region.mains_frequency) in {(120.0, 60.0), (230.0, 50.0)}
        assert (region.id in {"us", "ca"}) == (region.mains_voltage == 120.0)
        assert region.by_class == (region.mains_voltage == 230.0)

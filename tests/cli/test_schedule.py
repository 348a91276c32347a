"""``wellheard schedule``: text for reading, JSON for programs, tables for spreadsheets."""

from __future__ import annotations

import csv
import io
import re
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tests.cli.shapes import faults
from tests.schedules.rooms import BASE, LINES, NETWORK

if TYPE_CHECKING:
    from tests.cli.conftest import Wellheard

CABLE = {
    "id": str,
    "number": str,
    "from": str,
    "to": str,
    "kind": (str, None),
    "cable": (str, None),
    "jacket": (str, None),
    "jacket_name": (str, None),
    "jacket_because": str,
    "jacket_assumed": bool,
    "length": (int, float, None),
    "cut_length": (int, float, None),
    "awg": (int, None),
    "label_from": str,
    "label_to": str,
    "route": [list],
    "how": str,
    "assumed": [str],
}
LINE = {
    "id": str,
    "what": str,
    "count": float,
    "unit": {"piece", "metre", "run", "end"},
    "unit_price": float,
    "amount": float,
    "currency": str,
    "kind": {"device", "accessory", "cable", "labour", "spare"},
    "lead_time_weeks": (int, float, None),
    "owned": bool,
    "colour": (str, None),
    "for": [str],
    "note": (str, None),
}
BILL = {
    "lines": [LINE],
    "total": (int, float, None),
    "currency": str,
    "lead_time_weeks": (int, float, None),
    "lead_time_of": [str],
    "cables_known": bool,
    "other_currencies": [LINE],
    "not_priced": [{"what": str, "why": str}],
}
RACK = {
    "equipment": str,
    "units": [{"from_u": int, "height_u": int, "kind": str, "device": (str, None)}],
    "weight_kg": float,
    "power_w": float,
    "heat_w": float,
    "heat_btu_h": float,
    "used_u": int,
    "free_u": (int, float, None),
    "notes": [str],
}


@pytest.fixture
def rooms(tmp_path: Path) -> dict[str, Path]:
    found = {}
    for name, written in (("cockle", BASE), ("whelk", LINES), ("limpet", NETWORK)):
        found[name] = tmp_path / f"{name}.room.yaml"
        found[name].write_text(written)
    return found


def test_json_has_the_promised_fields(wellheard: Wellheard, rooms: dict[str, Path]) -> None:
    for path in rooms.values():
        answer = wellheard("schedule", path, "--format", "json").json["schedules"]
        for cable in answer["cables"]:
            assert faults(cable, CABLE) == []
        assert faults(answer["bill"], BILL) == []
        assert faults(answer["rack"], [RACK]) == []
        assert {"place", "cables", "size", "fill"} <= set(answer["conduit"][0])
    for row in answer["network"]:
        assert {
            "device",
            "port",
            "switch_port",
            "address",
            "protocols",
            "bandwidth_bps",
            "multicast",
            "clock",
            "poe_class",
            "power_w",
            "access_control",
            "updates",
        } <= set(row)


def test_only_gives_one_of_them(wellheard: Wellheard, rooms: dict[str, Path]) -> None:
    answer = wellheard("schedule", rooms["cockle"], "--only", "bill", "--format", "json").json
    assert set(answer["schedules"]) == {"bill"}
    assert answer["schedules"]["bill"]["total"] == 1647.38
    said = wellheard("schedule", rooms["cockle"], "--only", "bill").out
    assert "Total without tax: 1,647.38 EUR" in said
    assert "Labels" not in said


def test_a_table_of_everything_is_refused_with_what_is_allowed(
    wellheard: Wellheard, rooms: dict[str, Path]
) -> None:
    ended = wellheard("schedule", rooms["cockle"], "--format", "csv")
    assert (ended.code, ended.out) == (2, "")
    assert "--only cables" in ended.err


@pytest.mark.parametrize("only", ["cables", "bill", "rack", "conduit", "network"])
def test_every_table_has_a_head_and_rows_of_its_width(
    wellheard: Wellheard, rooms: dict[str, Path], only: str
) -> None:
    out = wellheard("schedule", rooms["limpet"], "--only", only, "--format", "csv").out
    head, *rows = csv.reader(io.StringIO(out))
    assert rows
    assert {len(row) for row in rows} == {len(head)}


def test_no_cell_is_a_formula(wellheard: Wellheard, tmp_path: Path) -> None:
    path = tmp_path / "a.room.yaml"
    # A spreadsheet runs what begins with an equals sign; ids cannot, ports cannot, the words of a
    # user's own product can.
    sheet = wellheard("catalog", "show", "bridge-2", "--format", "yaml").out
    own = sheet.replace("bridge-2:", "sum-bridge:")
    own = re.sub(r"name: .*", "name: '=1+1'", own, count=1)
    (tmp_path / "mine.products.yaml").write_text(own)
    path.write_text(BASE.replace("bridge-2", "sum-bridge"))
    ended = wellheard("schedule", path, "--only", "bill", "--format", "csv")
    assert ended.code == 0, ended.err
    names = [row["what"] for row in csv.DictReader(io.StringIO(ended.out))]
    assert any(name.startswith("'=") for name in names)
    assert not any(name.startswith("=") for name in names)


def test_a_foot_room_reads_feet_and_the_same_amounts(
    wellheard: Wellheard, rooms: dict[str, Path]
) -> None:
    said = wellheard("schedule", rooms["whelk"], "--only", "bill").out
    line = next(one for one in said.splitlines() if "Loudspeaker pair, 16 gauge, CMP" in one)
    # 65 ft at 2.10 a metre, 0.64 a foot: 41.61.
    assert line.split()[-5:] == ["65", "ft", "0.64", "41.61", "EUR"]


def test_a_room_without_links_says_how_to_get_them(
    wellheard: Wellheard, rooms: dict[str, Path]
) -> None:
    path = rooms["cockle"]
    path.write_text(BASE[: BASE.index("links:")])
    ended = wellheard("schedule", path)
    assert ended.code == 0
    assert "wellheard wire" in ended.out
    assert "Not priced: cables of m1, mixer: no link of the document leads to them" in " ".join(
        ended.out.split()
    )


def test_a_room_with_nothing_in_it_has_nothing_to_buy(wellheard: Wellheard, tmp_path: Path) -> None:
    path = tmp_path / "a.room.yaml"
    path.write_text(BASE[: BASE.index("equipment:")])
    assert "nothing to buy" in wellheard("schedule", path).out


def test_text_is_no_wider_than_it_needs_to_be_and_warns(
    wellheard: Wellheard, rooms: dict[str, Path]
) -> None:
    said = wellheard("schedule", rooms["limpet"]).out
    assert "licensed practice" in said
    for words in ("Cables", "Bill", "Rack rack", "Conduit", "Network", "To be decided"):
        assert words in said

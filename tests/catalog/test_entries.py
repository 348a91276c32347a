"""A user's own entries: read back as they were written, refused with their place."""

from __future__ import annotations

import dataclasses
import random
from pathlib import Path

import pytest

from wellheard import tables
from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.datasheets import SHEETS, Entry, kind_of
from wellheard.catalog.entries import (
    CSV_ENDINGS,
    is_products_file,
    parse_entries,
    read_entries,
)
from wellheard.catalog.export import written
from wellheard.catalog.finishes import Finish
from wellheard.catalog.own import implausible, join
from wellheard.catalog.products import Loudspeaker, Microphone, Processor
from wellheard.errors import CatalogError, InputError, Problem

SHIPPED = Catalogue.shipped()
EVERY: tuple[Entry, ...] = (
    *SHIPPED.finishes,
    *SHIPPED.products,
    *SHIPPED.accessories,
    *SHIPPED.cables,
)


def _own(entry: Entry) -> Entry:
    """The entry as a sheet of its own: another name of a finish takes its figures along."""
    return dataclasses.replace(entry, same_as="") if isinstance(entry, Finish) else entry


@pytest.mark.parametrize("kind", SHEETS)
def test_a_data_sheet_has_every_field_of_its_entry(kind: str) -> None:
    derived = {"id", "same_as", "extrapolated"}
    fields = {f.name for f in dataclasses.fields(SHEETS[kind].makes)} - derived
    assert set(SHEETS[kind].model_fields) == fields


@pytest.mark.parametrize("kind", SHEETS)
def test_what_the_sheet_leaves_out_is_what_the_entry_leaves_out(kind: str) -> None:
    # A default that differs from the dataclass's would make two products of one data sheet.
    defaults = {f.name: f.default for f in dataclasses.fields(SHEETS[kind].makes)}
    for name, info in SHEETS[kind].model_fields.items():
        if not info.is_required() and defaults[name] is not dataclasses.MISSING:
            assert (info.get_default() or defaults[name]) == defaults[name], name


@pytest.mark.parametrize("entry", EVERY, ids=lambda e: f"{kind_of(e)}.{e.id}")
def test_every_shipped_entry_reads_back_equal_from_its_yaml(entry: Entry) -> None:
    (back,) = parse_entries(written([entry]), name="x.products.yaml")
    assert back == _own(entry)


def test_the_whole_catalogue_reads_back_equal_from_one_file() -> None:
    back = parse_entries(written(EVERY), name="x.products.yaml")
    assert set(back.collections) == set(SHEETS)
    for kind, entries in back.collections.items():
        assert entries == tuple(map(_own, getattr(SHIPPED, kind)))


CASES = Path(__file__).parents[1] / "cases" / "products"
BROKEN = sorted(p for p in CASES.iterdir() if p.suffix in (".yaml", ".csv"))


def test_there_are_many_broken_files_of_products() -> None:
    assert len(BROKEN) >= 40
    assert {p.stem for p in BROKEN} == {p.stem for p in CASES.glob("*.expected")}


@pytest.mark.parametrize("path", BROKEN, ids=lambda p: p.name)
def test_every_problem_of_a_file_is_said_at_once_with_its_place(path: Path) -> None:
    raw = path.read_bytes()
    with pytest.raises(CatalogError) as caught:
        parse_entries(raw, name=path.name)
    assert str(caught.value) + "\n" == path.with_suffix(".expected").read_text("utf-8")
    lines = raw.decode("utf-8", "replace").split("\n")
    for problem in caught.value.problems:
        assert 1 <= problem.line <= len(lines)
        assert 1 <= problem.column <= len(lines[problem.line - 1]) + 1
        assert problem.what
        assert problem.allowed


def test_a_file_of_another_name_or_too_large_or_absent_is_refused(tmp_path: Path) -> None:
    with pytest.raises(CatalogError, match=r"x\.csv: the name tells no kind of file; NAME"):
        parse_entries("id,name\n", name="x.csv")
    big = tmp_path / "big.products.yaml"
    big.write_bytes(b"wellheard-products: 1\nx-pad: [" + b"1," * 1_100_000 + b"1]\n")
    with pytest.raises(CatalogError, match=r"2\.2 MB; at most 2 MB"):
        read_entries(big)
    wide = tmp_path / "big.switches.csv"
    wide.write_bytes(b"id\n" + b"," * 2_100_000)
    with pytest.raises(CatalogError, match=r"2\.1 MB; at most 2 MB"):
        read_entries(wide)
    with pytest.raises(InputError, match="No such file"):
        read_entries(tmp_path / "absent.products.yaml")


def test_too_many_entries_are_refused() -> None:
    rows = "".join(f"r{i},R,1,EUR\n" for i in range(501))
    with pytest.raises(CatalogError, match=r"x\.accessories\.csv:502:1: too many rows; at"):
        parse_entries("id,name,price,currency\n" + rows, name="x.accessories.csv")
    with pytest.raises(CatalogError, match="too many columns; at most 200"):
        parse_entries("," * 999 + "\nx\n", name="x.accessories.csv")
    # A spreadsheet may leave many empty rows; they are none.
    assert list(parse_entries(RAIL + ",,,\n" * 900, name="x.accessories.csv"))
    sheets = "".join(f"  r{i}: {{name: R, price: 1, currency: EUR}}\n" for i in range(501))
    with pytest.raises(CatalogError, match="accessories: 501 entries; at most 500"):
        parse_entries(f"wellheard-products: 1\naccessories:\n{sheets}", name="x.products.yaml")


def test_which_files_are_files_of_products() -> None:
    assert set(CSV_ENDINGS.values()) == set(SHEETS)
    assert is_products_file("room.products.yaml")
    assert not any(
        map(is_products_file, ("a.room.yaml", "a.csv", "products.yaml", ".products.yaml"))
    )


# Good files --------------------------------------------------------------------------------------

GOOD = CASES / "good"


def test_lengths_of_a_data_sheet_may_be_in_feet() -> None:
    own = read_entries(GOOD / "ours.products.yaml")
    (microphone,) = own.collections["microphones"]
    assert isinstance(microphone, Microphone)
    # An inch is 25.4 mm and a foot twelve of them, exactly (international yard, 1959).
    assert microphone.size == pytest.approx((0.0508, 0.0508, 0.1016), abs=1e-12)
    assert microphone.rated_distances == pytest.approx((1.2192, 1.9812, 3.0), abs=1e-12)
    assert microphone.drops == pytest.approx((0.3048, 0.6096), abs=1e-12)
    assert microphone.link.max_length == pytest.approx(30.48, abs=1e-12)


def test_every_default_that_is_taken_is_listed_with_its_line() -> None:
    own = read_entries(GOOD / "ours.products.yaml")
    said = {str(one): one.line for one in own.taken}
    assert said["microphones.lamp-mic.warranty_years 0"] == 5
    assert said["microphones.lamp-mic.plenum unknown"] == 5
    assert said["finishes.our-felt.absorption.8000 as 4000 Hz"] == 26
    assert said["finishes.our-felt.trust C"] == 26
    assert not any(one.startswith("microphones.lamp-mic.stem 1") for one in said)
    stated = {"name", "price", "drops", "fits", "elements", "rated_distances"}
    assert not any(one.split()[0].rsplit(".", 1)[-1] in stated for one in said if "lamp-mic" in one)


def test_octaves_that_are_not_published_are_never_filled_in_silently() -> None:
    own = read_entries(GOOD / "ours.products.yaml")
    (felt,) = own.collections["finishes"]
    assert isinstance(felt, Finish)
    assert felt.extrapolated
    assert felt.absorption[6] == felt.absorption[5] == 0.8


@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_a_row_of_a_table_is_the_shipped_product(separator: str) -> None:
    # The figures of the shipped tables, spelled in one row as a spreadsheet has it.
    cells = {
        "id": "ceiling-head-2",
        "name": '"Ceiling head, two capsules"',
        "selects": "best element",
        "boundary": "no",
        "elements": '"0 / -40 / 0.6; 180 / -40 / 0.6"',
        "rated_clear": "1.2",
        "rated_usual": "2.4",
        "rated_last": "3.6",
        "drops": "0 0.15 0.35 0.6 0.9 1.2",
        "fits": "tile hole hard open",
        "cutout": "0.076",
        "stem": "0",
        "self_noise_dba": "22",
        "overload_db": "118",
        "sensitivity_mv_pa": "",
        "sensitivity_dbfs": "-25",
        "latency_ms": "2.5",
        "link": "twisted-pair",
        "link_length": "30",
        "size_x": "0.09",
        "size_y": "0.09",
        "size_z": "0.05",
        "weight_kg": "0.4",
        "power_w": "1.2",
        "powered_from": "link",
        "poe_class": "",
        "plenum": "yes",
        "price": "520",
        "currency": "EUR",
        "price_date": "2026-09-01",
        "status": "current",
        "lead_time_weeks": "2",
        "colours": "white black",
        "warranty_years": "3",
        "minimum_firmware": "2.1",
        "selectable": "TRUE",
        "note": "For narrow tables: one capsule to each side.",
        "fittings": '"ceiling / 95 / tile-bridge trim-plate surface-box hanger-kit flush-collar '
        'drop-cable strain-relief safety-bond"',
    }
    if separator == ";":  # as saved where a comma marks the decimals
        figures = ("rated_clear", "rated_usual", "rated_last", "drops", "cutout", "elements")
        for name in (*figures, "size_x", "size_y", "size_z", "weight_kg", "power_w", "latency_ms"):
            cells[name] = cells[name].replace(".", ",")
    text = separator.join(cells) + "\r\n" + separator.join(cells.values()) + "\r\n"
    own = parse_entries(b"\xef\xbb\xbf" + text.encode(), name="x.microphones.csv")
    assert list(own) == [SHIPPED.microphone("ceiling-head-2")]


@pytest.mark.parametrize("kind", ["finishes", "cables", "accessories", "switches", "amplifiers"])
def test_rows_of_the_shipped_tables_are_the_shipped_entries(kind: str) -> None:
    # A row copied from the package's own table, with what that keeps elsewhere beside it.
    table = tables.load(kind)
    fittings = tables.load("fittings").rows
    dropped = {"same_as"}
    lines = [[c for c in table.columns if c not in dropped]]
    wanted = []
    for row in table.rows:
        if row.get("same_as"):
            continue
        wanted.append(next(e for e in getattr(SHIPPED, kind) if e.id == row["id"]))
        lines.append([f'"{row[c]}"' for c in table.columns if c not in dropped])
        if kind in ("switches", "amplifiers"):
            spelled = "; ".join(
                f"{f['mounting']} / {f['labour']} / {f['accessories']}"
                for f in fittings
                if f["product"] == row["id"]
            )
            lines[-1].append(f'"{spelled}"')
        if kind != "finishes":
            lines[-1].append("EUR")
    lines[0] += ["fittings"] if kind in ("switches", "amplifiers") else []
    lines[0] += ["currency"] if kind != "finishes" else []
    own = parse_entries("\n".join(map(",".join, lines)), name=f"x.{kind}.csv")
    assert list(own) == wanted
    assert len(wanted) > 1


def test_a_beam_and_a_combined_housing_can_be_spelled_in_a_row() -> None:
    bar = SHIPPED.microphone("front-bar")
    assert bar.beam is not None
    assert bar.built_in is not None
    cells = {
        f"beam_{o}": f"{v}"
        for o, v in zip(
            ("125", "250", "500", "1000", "2000", "4000", "8000"),
            bar.beam.directivity_index_db,
            strict=True,
        )
    }
    cells |= {
        "steer_limit_deg": f"{bar.beam.steer_limit_deg}",
        "beam_elevation_deg": f"{bar.beam.elevation_deg}",
        "beam_design": "superdirective",
        "built_in_max_level_db": f"{bar.built_in.max_level_db}",
        "built_in_angle_deg": f"{bar.built_in.angle_deg}",
        "built_in_coupling_db": f"{bar.built_in.coupling_db}".replace("-", "\N{MINUS SIGN}"),
        "built_in_canceller": "yes",
        "built_in_usb": "yes",
        "built_in_canceller_tail": f"{bar.built_in.canceller_tail}",
        "built_in_canceller_loss_db": f"{bar.built_in.canceller_loss_db}",
        "built_in_latency_ms": f"{bar.built_in.latency_ms}",
        "built_in_distortion": f"{bar.built_in.distortion}",
        "positions": "0 / 0.02 / 0; 0 / -0.02 / 0",
        "module_x": "0.6",
        "module_y": "2 ft",
    }
    base = (
        "id,name,selects,self_noise_dba,overload_db,link,link_length,size_x,size_y,size_z,"
        "weight_kg,power_w,price,currency,price_date,fittings,selectable"
    )
    row = "b,B,steered beam,22,116,usb,5,0.9,0.1,0.09,3.2,28,1850,EUR,2026-09-01,front / 80,no"
    text = f"{base},{','.join(cells)}\n{row},{','.join(cells.values())}\n"
    (own,) = parse_entries(text, name="x.microphones.csv")
    assert isinstance(own, Microphone)
    assert own.beam == dataclasses.replace(bar.beam, design="superdirective")
    assert own.built_in == bar.built_in
    assert own.positions == ((0, 0.02, 0), (0, -0.02, 0))
    assert own.module == pytest.approx((0.6, 0.6096))


LOUDSPEAKER = (
    "id,name,price,currency,price_date,size_x,size_y,size_z,weight_kg,power_w,sensitivity_db,"
    "max_level_db,angle_deg,impedance,fittings"
)
BOX = "b,B,240,EUR,2026-03-01,0.2,0.2,0.3,4,0,88,106,90,8,wall / 85"


def loudspeaker(*extra: tuple[str, str]) -> Loudspeaker:
    """Read from a row with further columns."""
    head = ",".join((LOUDSPEAKER, *(name for name, _ in extra)))
    row = ",".join((BOX, *(f'"{cell}"' for _, cell in extra)))
    (own,) = parse_entries(f"{head}\n{row}\n", name="x.loudspeakers.csv")
    assert isinstance(own, Loudspeaker)
    return own


def test_a_polar_can_be_spelled_in_a_row() -> None:
    own = loudspeaker(
        ("polar", "0 / 0 0 0 0 0 0 0; 45/0 0 -0.5 -2 -6 -6 -8; 180 / 0 0 -2 -9 -18 -20 -24"),
        ("units", "2"),
        ("distortion", "0.01"),
    )
    assert own.polar is not None
    assert own.polar.angles_deg == (0, 45, 180)
    assert own.polar.levels_db[1] == (0, 0, -0.5, -2, -6, -6, -8)
    assert (own.units, own.distortion) == (2, 0.01)


@pytest.mark.parametrize(
    ("polar", "says"),
    [
        ("0 / 0 0 0 0 0 0 0; 45 / 0 0 -6", "is no row of a polar; angle / levels of seven octaves"),
        ("0 / 0 0 0 0 0 0 0; 60 / 0 0 0 0 -6 -6 -6", "angles 0, 60; ascending from 0° to 90°"),
        ("0 / 0 0 0 0 0 0 0; 180 / 0 0 0 0 0 0 0; 90 / 0 0 0 0 0 0 0", "angles 0, 180, 90"),
        ("0 / 0 0 0 0 -1 0 0; 90 / 0 0 0 0 -9 -9 -9", "levels on the axis are not 0; 0 dB in"),
        ("0 / 0 0 0 0 0 0 0; 200 / 0 0 0 0 0 0 0", "angles_deg"),
    ],
)
def test_a_polar_that_tells_only_a_part_is_refused_at_its_cell(polar: str, says: str) -> None:
    with pytest.raises(CatalogError, match=says) as caught:
        loudspeaker(("polar", polar))
    column = len(BOX) + 2
    assert [(one.line, one.column) for one in caught.value.problems] == [(2, column)]


def test_a_file_from_before_polars_and_levels_means_what_it_did() -> None:
    own = loudspeaker()
    assert (own.units, own.latency_ms, own.distortion, own.polar) == (1, 0.0, None, None)
    (entries,) = [parse_entries(f"{LOUDSPEAKER}\n{BOX}\n", name="x.loudspeakers.csv")]
    said = {str(one) for one in entries.taken}
    assert {"loudspeakers.b.distortion unknown", "loudspeakers.b.polar none"} <= said


@pytest.mark.parametrize(("cell", "loss_db"), [("58", 58.0), ("", None)])
def test_a_canceller_says_how_much_it_adds_or_it_is_not_known(
    cell: str, loss_db: float | None
) -> None:
    head = (
        "id,name,microphone_ports,port_kinds,canceller,canceller_tail,canceller_loss_db,"
        "automatic_mixer,line_inputs,outputs,usb,network_audio,latency_ms,size_x,size_y,size_z,"
        "weight_kg,power_w,price,currency,price_date,fittings"
    )
    rest = "no,0,1,yes,no,3,0.4,0.2,0.04,2,9,500,EUR,2026-09-01,rack / 80"
    row = f"a,A,4,balanced,yes,0.2,{cell},{rest}"
    entries = parse_entries(f"{head}\n{row}\n", name="x.processors.csv")
    (own,) = entries
    assert isinstance(own, Processor)
    assert own.canceller_loss_db == loss_db
    unknown = "processors.a.canceller_loss_db unknown" in {str(one) for one in entries.taken}
    assert unknown == (loss_db is None)
    (again,) = parse_entries(written([own]), name="x.products.yaml")
    assert again == own


def test_a_mixer_says_how_it_shares_and_gates_if_it_does_not() -> None:
    base = (
        "id,name,microphone_ports,port_kinds,canceller,canceller_tail,automatic_mixer,line_inputs,"
        "outputs,usb,network_audio,latency_ms,size_x,size_y,size_z,weight_kg,power_w,price,"
        "currency,price_date,fittings,mixer"
    )
    rest = "0,1,yes,no,3,0.4,0.2,0.04,2,9,500,EUR,2026-09-01,rack / 80"
    rows = [f"a,A,4,balanced,no,0,yes,{rest},gain-sharing", f"b,B,4,balanced,no,0,yes,{rest},"]
    rows += [f"c,C,4,balanced,no,0,no,{rest},"]
    own = list(parse_entries("\n".join([base, *rows]), name="x.processors.csv"))
    assert [one.sharing for one in own if isinstance(one, Processor)] == [
        "gain-sharing",
        "gating",
        None,
    ]


# Joining -----------------------------------------------------------------------------------------

RAIL = "id,name,price,currency\nrail,Mounting rail,12,EUR\n"


def test_an_own_entry_joins_the_catalogue_with_its_origin() -> None:
    own = read_entries(GOOD / "ours.products.yaml")
    joined = join(SHIPPED, [own])
    assert joined.microphone("lamp-mic").price == 300
    assert joined.cable("our-cord").length == 5
    origin = joined.origin("lamp-mic")
    assert origin is not None
    assert (origin.file, origin.line) == (str(GOOD / "ours.products.yaml"), 5)
    assert joined.origin("ceiling-head-3") is None
    assert joined.origin("our-felt", "finish") is not None
    assert joined.hash != SHIPPED.hash


def test_the_hash_is_of_the_figures_and_not_of_the_file() -> None:
    one = join(SHIPPED, [parse_entries(RAIL, name="a.accessories.csv")])
    two = join(SHIPPED, [parse_entries(RAIL, name="b/c.accessories.csv")])
    assert one.hash == two.hash
    dearer = join(SHIPPED, [parse_entries(RAIL.replace("12", "13"), name="a.accessories.csv")])
    assert dearer.hash != one.hash


def test_an_id_that_is_taken_is_refused_with_both_places() -> None:
    here = parse_entries(RAIL, name="a.accessories.csv")
    there = parse_entries(RAIL.replace("12", "13"), name="b.accessories.csv")
    with pytest.raises(CatalogError) as caught:
        join(SHIPPED, [here, there])
    assert str(caught.value) == (
        "b.accessories.csv:2:1: accessories.rail: a.accessories.csv:2 has that id; "
        "choose another id, or delete one of the two files"
    )
    shipped = parse_entries(RAIL.replace("rail", "safety-bond", 1), name="a.accessories.csv")
    with pytest.raises(CatalogError, match="a shipped accessory has that id"):
        join(SHIPPED, [shipped])
    with pytest.raises(CatalogError, match=r"a\.accessories\.csv:2 has that id"):
        join(join(SHIPPED, [here]), [there])


def test_the_same_file_twice_is_one() -> None:
    here = parse_entries(RAIL, name="a.accessories.csv")
    there = parse_entries(RAIL, name="b.accessories.csv")
    assert len(join(SHIPPED, [here, there]).accessories) == len(SHIPPED.accessories) + 1


def test_an_accessory_or_successor_that_there_is_not_is_refused_where_it_is_named() -> None:
    text = (GOOD / "ours.products.yaml").read_text("utf-8")
    text = text.replace("lamp-hook,", "lamp-hok,").replace(
        "    power_w: 0\n", "    power_w: 0\n    successor: lamp-mik\n"
    )
    with pytest.raises(CatalogError) as caught:
        join(SHIPPED, [parse_entries(text, name="x.products.yaml")])
    assert [str(p).split(": ", 1)[1] for p in caught.value.problems] == [
        "microphones.lamp-mic.successor: no product 'lamp-mik'; did you mean lamp-mic?",
        "microphones.lamp-mic.fittings.ceiling.accessories.0: no accessory 'lamp-hok'; "
        "did you mean lamp-hook?",
    ]


def test_what_is_implausible_is_told_with_the_line_of_its_field() -> None:
    text = (GOOD / "ours.products.yaml").read_text("utf-8")
    text = text.replace("weight_kg: 0.2", "weight_kg: 200").replace(
        "overload_db: 120", "overload_db: 20"
    )
    own = parse_entries(text, name="x.products.yaml")
    found = implausible(join(SHIPPED, [own]), [own], before=SHIPPED)
    assert [str(p) for p in found] == [
        "x.products.yaml:11:16: microphones.lamp-mic.weight_kg: weight_kg 200 kg is outside 0.01 "
        "to 60 kg; correct it, or accept it as it is",
        "x.products.yaml:21:18: microphones.lamp-mic.overload_db: overload_db 20 dB is outside 90 "
        "to 160 dB; correct it, or accept it as it is",
    ]


@pytest.mark.parametrize(
    ("right", "wrong", "line", "words"),
    [
        ("size: [2 in, 2 in, 4 in]", "size: [30, 2 in, 4 in]", 10, "size.0: width 9.144 m is"),
        ("drops: [1, 2]", "drops: [1, 60]", 19, "drops: drop 18.288 m is outside"),
        ("[4, 6 ft 6 in, 3 m]", "[4, 6 ft 6 in, 40]", 18, "rated_distances: rated distance"),
        ("elevation_deg: -90", "elevation_deg: 90", 17, "elements: elevation_deg of every"),
        ("name: Lamp microphone", "name: Gooseneck capsule", 6, "name: name 'Gooseneck capsule'"),
        ("    price: 300", "    price: 0", 7, "price: price is 0"),
    ],
)
def test_a_slip_is_told_once_and_at_the_line_of_its_field(
    right: str, wrong: str, line: int, words: str
) -> None:
    text = (GOOD / "ours.products.yaml").read_text("utf-8")
    assert text.count(right) == 1
    own = parse_entries(text.replace(right, wrong), name="x.products.yaml")
    (found,) = implausible(join(SHIPPED, [own]), [own], before=SHIPPED)
    assert found.line == line
    assert f"microphones.lamp-mic.{words}" in str(found)


def test_a_slip_in_a_row_is_told_at_its_cell() -> None:
    text = "id,name,carries,price,price_per_metre,currency,price_date,jackets,outer_diameter,awg,"
    text += "pairs,max_length,length\n"
    text += "ours,Our cord,balanced,0,0,EUR,2026-03-01,general,0.006,24,1,5,5\n"
    own = parse_entries(text, name="x.cables.csv")
    (found,) = implausible(join(SHIPPED, [own]), [own], before=SHIPPED)
    assert str(found).startswith("x.cables.csv:2:24: cables.ours.price: price is 0")


def test_a_sound_file_has_nothing_implausible() -> None:
    own = read_entries(GOOD / "ours.products.yaml")
    assert implausible(join(SHIPPED, [own]), [own], before=SHIPPED) == ()


def test_no_slip_of_the_keyboard_ends_in_anything_but_entries_or_a_catalogue_error() -> None:
    chance = random.Random(7)
    original = (GOOD / "ours.products.yaml").read_bytes()
    table = b"id,name,price,currency,fits,needed\n" + b'a,"A, b",1.5,EUR,tile hole,drop\n' * 2
    read = refused = 0
    for text, name in ((original, "x.products.yaml"), (table, "x.accessories.csv")) * 300:
        at = chance.randrange(len(text))
        piece = chance.choice([b"", b"[", b'"', b"\n", b"\0", b"\xff", b"1e999", b": ", b",", b";"])
        mutant = text[:at] + piece + text[at + chance.randint(0, 9) :]
        problems: tuple[Problem, ...] = ()
        try:
            parse_entries(mutant, name=name)
        except CatalogError as error:
            problems = error.problems
        else:
            read += 1
            continue
        refused += 1
        assert problems
        assert all(str(problem).startswith(name) for problem in problems)
    assert read
    assert refused

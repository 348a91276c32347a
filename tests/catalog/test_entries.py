"""A user's own entries: read back as they were written, refused with their place."""

from __future__ import annotations

import dataclasses
import random
from pathlib import Path

import pytest

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
from wellheard.catalog.products import Microphone
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

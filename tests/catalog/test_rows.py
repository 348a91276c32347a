"""A user's own entries spelled in rows of tables, as spreadsheets have them."""

from __future__ import annotations

import dataclasses

import pytest

from wellheard import tables
from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.entries import parse_entries
from wellheard.catalog.export import written
from wellheard.catalog.products import Loudspeaker, Microphone, Processor
from wellheard.errors import CatalogError

SHIPPED = Catalogue.shipped()


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

"""Invented rooms for the drawing tests: names, people and figures are made up."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from wellheard.arrays import Array
from wellheard.drawings.plan import (
    BasisRow,
    CeilingGrid,
    DeviceMark,
    Display,
    EquipmentMark,
    FieldMap,
    Furniture,
    OverheadMark,
    Patch,
    PlanView,
    Revision,
    SeatMark,
    SourceMark,
    StandingMark,
    TitleBlock,
)
from wellheard.drawings.view import Outline, Point, State, Unit

CRITICAL_DISTANCE = 1.15


def rectangle(x0: float, y0: float, x1: float, y1: float) -> Outline:
    return ((x0, y0), (x1, y0), (x1, y1), (x0, y1))


def ratio_db(x: Array, y: Array, microphones: list[tuple[float, float, float]]) -> Array:
    """A plausible map: inverse square law to the nearest microphone, ear to ear at 1.2 m."""
    best = np.full(np.broadcast(x, y).shape, -np.inf)
    for mx, my, mz in microphones:
        squared = (x - mx) ** 2 + (y - my) ** 2 + (mz - 1.2) ** 2
        best = np.maximum(best, 20 * np.log10(CRITICAL_DISTANCE) - 10 * np.log10(squared))
    return best


def field(
    outline: Outline,
    microphones: list[tuple[float, float, float]],
    *,
    step: float | None = None,
    spacing: float = 0.2,
    target: float = -6.0,
) -> FieldMap:
    from shapely import contains_xy
    from shapely.geometry import Polygon

    xs, ys = zip(*outline, strict=True)
    x = np.arange(min(xs) + spacing / 2, max(xs), spacing)
    y = np.arange(min(ys) + spacing / 2, max(ys), spacing)
    gx, gy = np.meshgrid(x, y)
    values = ratio_db(gx, gy, microphones)
    values[~contains_xy(Polygon(outline), gx, gy)] = np.nan
    return FieldMap(
        values,
        x,
        y,
        "Direct-to-reverberant ratio, mean of 500 Hz–4 kHz",
        "dB",
        target=target,
        step=step,
        conditions="Seated talker, mouth at 1200, worst of the stated facings; middle value.",
    )


def state_of(value: float) -> State:
    return "kept" if value > -5.4 else "at risk" if value > -6.0 else "broken"


def seat(
    name: str, at: Point, facing: float, microphones: list[tuple[float, float, float]]
) -> SeatMark:
    value = float(ratio_db(np.array(at[0]), np.array(at[1]), microphones))
    text = f"{value:.1f}".replace("-", "−")
    return SeatMark(name, at, facing, text, state_of(value))


def block(title: str, subtitle: str) -> TitleBlock:
    return TitleBlock(
        client="Saltmarsh Library",
        site="Quay House",
        title=title,
        subtitle=subtitle,
        sheet="C-02",
        heading="Ceiling plan over speech map",
        of="6",
        revision="B",
        project="2026-031",
        document_hash="7f3a·91c2",
        state="designed, not yet measured",
    )


CAUTIONS = (
    "Rated fixing and safety bond on each overhead device.",
    "Void is an air return: cable jacket to suit.",
    "Unknown ceiling board: test for asbestos before drilling.",
    "Figures are engineering predictions; local codes and licensed practice decide.",
)
BASIS = (
    BasisRow("measured", "room outline, ceiling height, tile grid"),
    BasisRow("drawing", "table, seats, luminaire, air outlet"),
    BasisRow("told", "background noise, NC 30"),
    BasisRow("assumed", "finishes of floor, walls and ceiling"),
)
REVISIONS = (
    Revision("B", "2026-02-11", "M2 off the air outlet; chair s10 added", "IM"),
    Revision("A", "2026-01-31", "first issue", "IM"),
)


def tide(units: Unit = "m") -> PlanView:
    outline = rectangle(0, 0, 6.4, 4.6)
    heads = [(2.3, 2.2, 2.4), (4.1, 2.2, 2.4)]
    seats = [seat(f"s{k + 1}", (2.0 + 0.8 * k, 3.3), 270.0, heads) for k in range(4)]
    seats.append(seat("s5", (5.25, 2.3), 180.0, heads))
    seats += [seat(f"s{6 + k}", (4.4 - 0.8 * k, 1.3), 90.0, heads) for k in range(4)]
    seats.append(seat("s10", (5.75, 1.15), 150.0, heads))
    return PlanView(
        outline=outline,
        height=2.75,
        title_block=block("Tide Room", "Ten seats and a presenter · outbound speech"),
        wall_names=("south", "east", "north", "west"),
        units=units,
        ceiling=CeilingGrid((0.6, 0.6), (0.2, 0.1)),
        void_depth=0.45,
        air_return=True,
        furniture=(Furniture("table", rectangle(1.6, 1.7, 4.8, 2.9), height=0.74),),
        displays=(Display("picture", 3, 1.5, 3.1, 0.95, 1.85),),
        patches=(
            Patch("window", 1, 0.6, 3.8, "window", "window", 0.9, 2.4),
            Patch("door", 2, 0.35, 1.25, "door", "door", 0.0, 2.1, hinge="start"),
            Patch("panel", 0, 1.0, 2.2, "panel", "panel", 0.9, 2.1),
        ),
        seats=tuple(seats),
        standing=(
            StandingMark(
                "presenter", "presenter", rectangle(0.4, 1.2, 1.2, 3.4), 0.0, "−3.9", "kept"
            ),
        ),
        devices=(
            DeviceMark("m1", "M1", "mic-ceiling", heads[0], "ceiling-head-3", 0.35),
            DeviceMark("m2", "M2", "mic-ceiling", heads[1], "ceiling-head-3", 0.35),
            DeviceMark(
                "l1", "L1", "speaker-wall", (0.0, 1.0, 1.25), "front-wall-8", microphone=False
            ),
            DeviceMark(
                "l2", "L2", "speaker-wall", (0.0, 3.6, 1.25), "front-wall-8", microphone=False
            ),
        ),
        sources=(
            SourceMark("vent", "air-outlet", (3.5, 0.4, 2.75)),
            SourceMark("return", "air-return", (4.7, 4.0, 2.75)),
        ),
        overhead=(OverheadMark("lamp", rectangle(2.6, 2.2, 3.8, 2.4), "luminaire", clearance=0.3),),
        equipment=(EquipmentMark("rack", "rack", (6.2, 0.3, 0.5)),),
        field=field(outline, heads, step=0.5),
        basis=BASIS,
        revisions=REVISIONS,
        cautions=CAUTIONS,
        set_out_notes=(
            "From the finished inner face of each wall, to the device centre.",
            "Set-out tolerance ±50 mm; kept within every rule after rounding."
            if units == "m"
            else "Set-out tolerance ±2 in; kept within every rule after rounding.",
        ),
    )


def ell(units: Unit = "m", rotation_deg: float = 0.0) -> PlanView:
    """An L-shaped room with three heads, a keep-out, a column and two standing areas."""
    outline: Outline = ((0, 0), (9, 0), (9, 4), (5, 4), (5, 7.5), (0, 7.5))
    heads = [(2.4, 2.0, 2.5), (6.6, 2.0, 2.5), (2.4, 5.4, 2.5)]
    seats = [seat(f"a{k + 1}", (1.2 + 0.75 * k, 1.05), 90.0, heads) for k in range(5)]
    seats += [seat(f"b{k + 1}", (1.2 + 0.75 * k, 2.95), 270.0, heads) for k in range(5)]
    seats += [seat(f"c{k + 1}", (6.0 + 0.8 * k, 1.1), 90.0, heads) for k in range(3)]
    seats += [seat(f"c{k + 4}", (6.0 + 0.8 * k, 3.0), 270.0, heads) for k in range(3)]
    seats += [seat(f"d{k + 1}", (1.6 + 0.9 * k, 6.3), 270.0, heads) for k in range(3)]
    return PlanView(
        outline=outline,
        height=2.9,
        title_block=block("Elbow Room", "Nineteen seats round the corner · outbound speech"),
        units=units,
        ceiling=CeilingGrid((0.6, 0.6), (0.15, 0.3), rotation_deg),
        void_depth=0.3,
        furniture=(
            Furniture("long", rectangle(0.9, 1.4, 4.6, 2.6), height=0.74),
            Furniture("short", rectangle(5.7, 1.5, 7.9, 2.6), height=0.74),
            Furniture("sofa", rectangle(1.2, 6.6, 3.8, 7.3), "soft-seating", 0.45),
        ),
        displays=(Display("picture", 5, 3.0, 5.0),),
        patches=(
            Patch("glass", 0, 1.0, 4.0, "window", "window", 0.9, 2.3),
            Patch("door", 1, 2.6, 3.6, "door", "door", hinge="end", top=2.1),
            Patch("panel", 4, 0.8, 3.2, "panel", "panel"),
            Patch("board", 2, 0.6, 2.6, "board", "board"),
        ),
        obstacles=(rectangle(4.55, 3.55, 4.95, 3.95),),
        seats=tuple(seats),
        standing=(
            StandingMark("speaker", "speaker", rectangle(0.3, 4.0, 1.3, 5.4), 0.0, "−4.6", "kept"),
            StandingMark("guest", "guest", rectangle(8.1, 1.2, 8.8, 2.4), 180.0, "−5.9", "at risk"),
        ),
        devices=(
            *(
                DeviceMark(
                    f"m{k + 1}", f"M{k + 1}", "mic-ceiling", at, "ceiling-head-3", 0.4, k == 1
                )
                for k, at in enumerate(heads)
            ),
            DeviceMark("m4", "M4", "mic-table", (6.8, 1.7, 0.74), "table-boundary"),
            DeviceMark("b1", "B1", "bar", (0.05, 3.5, 1.9), "front-bar", microphone=False),
        ),
        sources=(
            SourceMark("vent", "air-outlet", (3.6, 4.6, 2.9)),
            SourceMark("beamer", "projector", (3.3, 3.5, 2.6), 180.0),
        ),
        overhead=(
            OverheadMark("lamp", rectangle(1.6, 1.9, 4.0, 2.1), "luminaire"),
            OverheadMark("duct", rectangle(7.9, 2.7, 8.9, 3.7), "keep-out"),
        ),
        equipment=(
            EquipmentMark("rack", "rack", (4.7, 7.2, 0.5)),
            EquipmentMark("box", "table-box", (3.6, 2.2, 0.74)),
        ),
        field=field(outline, heads),
        basis=BASIS,
        revisions=REVISIONS,
        cautions=CAUTIONS,
    )


def hall(
    width: float,
    depth: float,
    *,
    seats: int,
    microphones: int,
    units: Unit = "m",
    rotation_deg: float = 0.0,
) -> PlanView:
    """A rectangular room with rows of seats and a grid of ceiling heads."""
    outline = rectangle(0.0, 0.0, width, depth)
    across = max(1, round(math.sqrt(microphones * width / depth)))
    rows = math.ceil(microphones / across)
    heads = [
        (
            round(width * (k % across + 0.5) / across, 2),
            round(depth * (k // across + 0.5) / rows, 2),
            2.6,
        )
        for k in range(microphones)
    ]
    columns = max(1, math.ceil(math.sqrt(seats * width / depth)))
    lines = math.ceil(seats / columns)
    places = [
        seat(
            f"s{k + 1}",
            (
                0.7 + (width - 1.4) * (k % columns + 0.5) / columns,
                0.7 + (depth - 1.4) * (k // columns + 0.5) / lines,
            ),
            180.0,
            heads,
        )
        for k in range(seats)
    ]
    return PlanView(
        outline=outline,
        height=3.0,
        title_block=block(
            "Harbour Hall" if seats > 20 else "Cove", f"{seats} seats · outbound speech"
        ),
        units=units,
        ceiling=CeilingGrid((0.6, 0.6), (0.1, 0.1), rotation_deg),
        displays=(Display("picture", 3, depth * 0.3, depth * 0.7),),
        patches=(Patch("door", 0, width * 0.7, width * 0.7 + 0.9, "door", "door"),),
        seats=tuple(places),
        devices=tuple(
            DeviceMark(f"m{k + 1}", f"M{k + 1}", "mic-ceiling", at, "ceiling-head-2", 0.4)
            for k, at in enumerate(heads)
        ),
        field=field(outline, heads, spacing=max(width, depth) / 40),
        basis=BASIS,
        revisions=REVISIONS[1:],
        cautions=CAUTIONS,
    )


def horseshoe() -> PlanView:
    """A U-shaped room whose section meets two stretches of floor."""
    outline: Outline = ((0, 0), (9, 0), (9, 6), (6, 6), (6, 2.5), (3, 2.5), (3, 6), (0, 6))
    heads = [(1.5, 4.5, 2.5), (7.5, 4.5, 2.5)]
    places = [((1.5, 1.5), 90.0), ((7.5, 5.2), 270.0), ((1.5, 5.2), 270.0), ((4.5, 1.2), 90.0)]
    return replace(
        hall(9, 6, seats=4, microphones=2),
        outline=outline,
        void_depth=0.4,
        seats=tuple(seat(f"s{k + 1}", at, facing, heads) for k, (at, facing) in enumerate(places)),
        displays=(Display("picture", 7, 2.0, 4.0),),
        patches=(
            Patch("door", 0, 0.5, 1.4, "door", "door", hinge="start", top=2.1),
            Patch("window", 1, 1.0, 5.0, "window", "window", 0.9, 2.2),
        ),
        devices=tuple(
            DeviceMark(f"m{k + 1}", f"M{k + 1}", "mic-ceiling", at, "ceiling-head-2", 0.5)
            for k, at in enumerate(heads)
        ),
        field=field(outline, heads),
    )


@pytest.fixture(scope="session")
def views() -> dict[str, PlanView]:
    """The matrix: small to large, both units, concave, crowded, turned grids, bare."""
    bare = hall(4.0, 3.0, seats=4, microphones=1)
    return {
        "ten seats": tide(),
        "ten seats, feet": tide("ft"),
        "L-shape": ell(),
        "L-shape, feet, turned grid": ell("ft", 30.0),
        "huddle": hall(3, 3, seats=4, microphones=1),
        "forty": hall(11, 7, seats=40, microphones=6),
        "forty, feet": hall(11, 7, seats=40, microphones=6, units="ft"),
        "sixty, turned grid": hall(20, 12, seats=60, microphones=8, rotation_deg=45.0),
        "narrow": hall(12, 3, seats=12, microphones=4),
        "deep, feet": hall(3.2, 9, seats=12, microphones=3, units="ft"),
        "crowded": hall(5, 4, seats=60, microphones=2),
        "horseshoe": horseshoe(),
        "bare": replace(bare, devices=(), field=None, ceiling=None, basis=(), revisions=()),
    }

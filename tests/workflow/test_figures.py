"""What stands round the plan: sentences that agree, rows in order, marks, findings, the scale."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from wellheard.checks.model import Finding
from wellheard.dossier.places import Place
from wellheard.predict.evidence import SEAT_TARGETS
from wellheard.room.document import Room
from wellheard.workflow import figures
from wellheard.workflow.bothways import BothWays
from wellheard.workflow.design import Designed
from wellheard.workflow.live import Live
from wellheard.workflow.load import Loaded, load
from wellheard.workflow.maps import OUTBOUND
from wellheard.workflow.places import item_of, place_on_plan

STANDING = [
    ({"s1": "kept"}, "The one place keeps the promise."),
    ({"s1": "at risk"}, "The one place is at risk."),
    ({"s1": "broken"}, "The one place misses the promise."),
    ({"s1": "kept", "s2": "kept"}, "Both places keep the promise."),
    (
        {"s1": "at risk", "s2": "kept"},
        "One of two places keeps the promise; seat s1 is at risk.",
    ),
    (
        {"s1": "broken", "s2": "at risk", "s3": "kept", "s4": "kept"},
        "Two of four places keep the promise; seat s1 misses it and seat s2 is at risk.",
    ),
    (
        {f"s{i}": "broken" for i in range(1, 6)} | {"s6": "kept"},
        "One of six places keeps the promise; seats s1, s2, s3 and two more miss it.",
    ),
    ({"s1": "at risk", "s2": "at risk"}, "Both places are at risk."),
    ({"s1": "kept", "s2": "kept", "s3": "kept"}, "All three places keep the promise."),
    ({"s1": "broken", "s2": "broken"}, "Neither place keeps the promise."),
    ({"s1": "broken", "s2": "broken", "s3": "broken"}, "None of three places keeps the promise."),
    (
        {"s1": "broken", "s2": "at risk"},
        "No place keeps the promise; seat s1 misses it and seat s2 is at risk.",
    ),
]


def place(identifier: str, state: Any, template: Any, binds: str = "sti_outbound") -> BothWays:
    from dataclasses import replace

    owner = f"people.seats.{identifier}"
    row = replace(template, state=state, binds=binds)
    return BothWays(owner, "seat", Place(owner, "seat", (row,)))


@pytest.fixture(scope="module")
def template(designed: Any) -> Any:
    return designed("ten-seats").judged.evidence.outbound[0]


@pytest.mark.parametrize(("states", "said"), STANDING)
def test_the_headline_agrees_in_number(states: dict[str, str], said: str, template: Any) -> None:
    assert figures.standing([place(k, v, template) for k, v in states.items()]) == said


def test_where_nothing_is_promised_nothing_is_judged(template: Any) -> None:
    found = figures.standing([place("s1", "not assessed", template, binds="")])
    assert found == "Nothing is promised of any place, so none is judged."


def live(designed: Any, name: str) -> tuple[Live, Designed]:
    from wellheard.room import codec

    answer = designed(name)
    given = load(Path(__file__).parents[2] / "examples" / name / f"{name}.room.yaml")
    document = codec.parse_document(answer.placed.text, name=name)
    return Live(Loaded(document, given.catalogue, given.own)), answer


@pytest.fixture(scope="module")
def ten(designed: Any) -> tuple[dict[str, Any], Designed]:
    made, answer = live(designed, "ten-seats")
    return made.figures(unit="ft"), answer


def test_rows_are_those_of_the_ledger_in_its_order(ten: tuple[dict[str, Any], Designed]) -> None:
    found, answer = ten
    rows = answer.judged.evidence.worst_first()
    assert [row["id"] for row in found["ledger"]["rows"]] == [row.talker.id for row in rows]
    for shown, row in zip(found["ledger"]["rows"], rows, strict=True):
        assert shown["path"] == row.talker.owner
        assert shown["sti"] == f"{row.sti.value:.2f}"
        assert shown["low"] <= shown["middle"] <= shown["high"]
        assert shown["low"] == pytest.approx(row.sti.low, abs=1e-4)
        assert shown["inbound"] == "–"
        assert shown["inbound_why"]
        assert "'" in shown["distance"]  # feet
        assert shown["microphone"] == f"devices.{row.path.microphone}"


def test_one_scale_holds_every_range_and_the_promise(ten: tuple[dict[str, Any], Designed]) -> None:
    ledger = ten[0]["ledger"]
    scale = ledger["scale"]
    assert scale["promise"] == 0.62
    assert scale["promise_words"] == "0.62"
    ends = [row[key] for row in ledger["rows"] for key in ("low", "high")]
    assert scale["low"] <= min(*ends, 0.62)
    assert scale["high"] >= max(ends)
    steps = np.diff([value for value, _ in scale["ticks"]])
    np.testing.assert_allclose(steps, steps[0], atol=1e-4)
    for value, words in scale["ticks"]:
        assert words in ("", f"{value:.2f}")


@pytest.mark.parametrize("quantity", list(OUTBOUND))
@pytest.mark.parametrize("worst", [False, True])
def test_marks_have_the_figure_of_the_quantity_shown(
    designed: Any, quantity: str, worst: bool
) -> None:
    made, answer = live(designed, "ten-seats")
    found = made.figures(unit="m", quantity=quantity, worst=worst)
    assert found["map"]["quantity"] == quantity
    mapped = OUTBOUND[quantity]
    for row in answer.judged.evidence.outbound:
        mark = found["marks"][row.talker.owner]
        assert mark["state"] == row.state
        shown = float(mark["figure"].replace("−", "-"))
        if mapped.key in SEAT_TARGETS:
            known = next(q for q in row.quantities if q.name == mapped.key)
            expected = known.low if worst else known.value
            assert shown == pytest.approx(expected, abs=0.51 * 10**-mapped.decimals)


def test_a_standing_area_is_one_row_and_one_mark_at_its_worst_point(designed: Any) -> None:
    made, answer = live(designed, "two-in-one")
    found = made.figures(unit="m")
    areas = answer.judged.evidence.room.people.standing
    for name in areas:
        owner = f"people.standing.{name}"
        rows = [row for row in found["ledger"]["rows"] if row["path"] == owner]
        points = [r for r in answer.judged.evidence.outbound if r.talker.owner == owner]
        assert len(rows) == 1
        assert len(points) > 1
        assert rows[0]["sti"] == f"{min(p.sti.value for p in points):.2f}"
        assert found["marks"][owner]["figure"] == rows[0]["sti"]


def test_the_legend_has_a_box_between_any_two_of_its_figures(
    ten: tuple[dict[str, Any], Designed],
) -> None:
    found = ten[0]["map"]
    levels = [one["level"] for one in found["key"]]
    assert levels == sorted(levels)
    assert len(found["bands"]) == len(levels) + 1
    assert [one["level"] for one in found["lines"]] == levels
    assert [one["words"] for one in found["key"] if one["promise"]] == ["0.62"]
    assert "Middle value" in found["conditions"]
    assert "3'-11¼\"" in found["conditions"]  # 1.2 m is 47.24 in


def test_the_grid_under_the_pointer_is_that_of_the_map(designed: Any) -> None:
    from wellheard.workflow.maps import Asked, room_map

    made, _ = live(designed, "ten-seats")
    grid = made.figures(unit="m")["map"]["grid"]
    cover = room_map(made.loaded, Asked()).covers[0]
    assert (grid["rows"], grid["columns"]) == cover.values.shape
    assert grid["x0"] == pytest.approx(cover.x[0], abs=1e-6)
    assert grid["y0"] + 3 * grid["dy"] == pytest.approx(cover.y[3], abs=1e-5)
    values = np.array(grid["values"], dtype=float).reshape(cover.values.shape)
    np.testing.assert_allclose(values, cover.values, atol=0.00051)


ROOM: dict[str, Any] = {
    "wellheard": 1,
    "units": "m",
    "space": {
        "outline": [[0, 0], [6, 0], [6, 4], [0, 4]],
        "walls": ["south", "east", "north", "west"],
        "height": 2.7,
        "obstacles": {"column": {"outline": [[3, 1], [3.4, 1], [3.4, 1.4], [3, 1.4]]}},
        "finishes": {
            "patches": {
                "glass": {
                    "wall": "east",
                    "from": 1,
                    "to": 2,
                    "bottom": 0,
                    "top": 2,
                    "finish": "glass-window",
                }
            }
        },
    },
    "furniture": {
        "desk": {"kind": "table", "outline": [[1, 1], [2, 1], [2, 3], [1, 3]]},
        "screen": {"kind": "display", "wall": "north", "centre": [2, 1.4], "size": [1.4, 0.8]},
    },
    "people": {"seats": {"s1": {"at": [2, 2], "facing": 0}}},
    "noise": {"sources": {"vent": {"kind": "air-outlet", "at": [5, 3, 2.7], "dba_at_1m": 30}}},
    "equipment": {"rack": {"kind": "rack", "at": [0.3, 0.3, 1]}},
    "devices": {"mixer": {"kind": "processor", "product": "bridge-2", "equipment": "rack"}},
}
WHERE = [
    ("people.seats.s1.at", "people.seats.s1", (2.0, 2.0)),
    ("furniture.desk.outline.2", "furniture.desk", (1.5, 2.0)),
    ("furniture.screen", "furniture.screen", (4.0, 4.0)),  # from the north wall's first corner
    ("space.finishes.patches.glass", "space.finishes.patches.glass", (6.0, 1.5)),
    ("space.obstacles.column", "space.obstacles.column", (3.2, 1.2)),
    ("noise.sources.vent", "noise.sources.vent", (5.0, 3.0)),
    ("devices.mixer.product", "devices.mixer", (0.3, 0.3)),  # stands where the rack does
    ("targets.sti_outbound", "", None),
    ("space.height", "", None),
    ("people.seats.s9", "", None),
    ("devices.mixer.__class__", "devices.mixer", (0.3, 0.3)),
    ("people.__class__.mro", "", None),
]


@pytest.mark.parametrize(("at", "item", "where"), WHERE)
def test_a_finding_names_its_item_and_where_that_is(
    at: str, item: str, where: tuple[float, float] | None
) -> None:
    room = Room.model_validate(ROOM)
    assert item_of(at, room) == item
    found = place_on_plan(item, room) if item else None
    assert found == (None if where is None else pytest.approx(where))


def finding(code: str, severity: Any, status: Any = "fail") -> Finding:
    return Finding(
        code, severity, status, "house", "people.seats.s1", "Too far", 2.0, 1.0, "m", "Nearer", "x"
    )


def test_findings_are_counted_and_worst_first() -> None:
    room = Room.model_validate(ROOM)
    found = figures.findings(
        [
            finding("c", "note"),
            finding("b", "warning", "not-assessed"),
            finding("w", "warning"),
            finding("a", "error"),
        ],
        room,
    )
    assert found["count_words"] == "4, of which 1 not assessed"
    assert [row["code"] for row in found["rows"]] == ["a", "w", "b", "c"]
    assert [row["state"] for row in found["rows"]] == [
        "broken",
        "at risk",
        "not assessed",
        "at risk",
    ]
    assert found["rows"][0]["message"] == "Too far."
    assert found["rows"][0]["shown_at"] == [2.0, 2.0]
    assert figures.findings([], room) == {"count_words": "none", "rows": []}

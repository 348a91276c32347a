"""The preview of a plan: everything recognised on it, no word over another or off the sheet."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.importers.test_document import FULL, PLAN
from wellheard.drawings.canvas import Canvas, Line
from wellheard.drawings.foundplan import (
    COLUMN,
    EDGE,
    HEIGHT,
    WIDTH,
    draw,
    found_sheet,
    looking_deg,
    told,
)
from wellheard.importers.document import taken_over
from wellheard.importers.draft import Settled
from wellheard.importers.found import FoundPlan, FoundRoom, FoundSeat, Noted, Ring
from wellheard.predict.talkers import facings_deg
from wellheard.units import Unit

ROOM = replace(FULL, things=FULL.things[:8])
STROKES = tuple(((-3.0, 0.5 * k), (12.0, 0.5 * k)) for k in range(-8, 20))
REPORT = (
    Noted(True, "seat", 3, "A-FURN-CHAR"),
    Noted(True, "window", 1, "A-GLAZ"),
    *(Noted(False, f"text of kind {k}", k, "A-ANNO", "no part of a room") for k in range(1, 60)),
)


def moved(room: FoundRoom, key: str, east: float, north: float) -> FoundRoom:
    def ring(outline: Ring) -> Ring:
        return tuple((x + east, y + north) for x, y in outline)

    return FoundRoom(key, f"Chamber {key}", ring(room.outline), "walls only", height=2.6)


SEVERAL = replace(
    PLAN,
    rooms=(ROOM, *(moved(ROOM, str(k + 2), 7.0 * (k % 5), 5.0 * (k // 5 + 1)) for k in range(19))),
    strokes=STROKES,
    report=REPORT,
    warnings=("Two layers are off: A-OLD, A-DEMO.",),
)
ALONE = replace(PLAN, rooms=(ROOM,), strokes=STROKES, report=REPORT[:2])
HUGE = replace(PLAN, rooms=(moved(ROOM, "1", 0, 0), moved(ROOM, "2", 900.0, 400.0)))
CASES: dict[str, tuple[FoundPlan, FoundRoom | None, Unit]] = {
    "several rooms": (SEVERAL, None, "m"),
    "one of several": (SEVERAL, ROOM, "m"),
    "one alone, feet": (ALONE, ROOM, "ft"),
    "nothing": (PLAN, None, "m"),
    "no room, strokes": (replace(PLAN, strokes=STROKES), None, "m"),
    "half a mile": (HUGE, None, "ft"),
}


@pytest.fixture(params=CASES)
def sheet(request: pytest.FixtureRequest) -> Canvas:
    plan, chosen, unit = CASES[request.param]
    return draw(
        plan, chosen, name="a-very-long-name-of-a-floor-plan-of-level-03-rev-B.dxf", unit=unit
    )


def test_no_word_lies_over_another(sheet: Canvas) -> None:
    texts = sheet.texts()
    over = [
        (a.text, b.text)
        for k, a in enumerate(texts)
        for b in texts[k + 1 :]
        if a.box.overlap(b.box) > 0.02
    ]
    assert over == []


def test_no_word_leaves_the_frame(sheet: Canvas) -> None:
    for text in sheet.texts():
        left, top, right, bottom = text.box.bounds
        assert left > EDGE, text.text
        assert right < WIDTH - EDGE, text.text
        assert top > EDGE, text.text
        assert bottom < HEIGHT - EDGE, text.text


def test_no_line_and_no_symbol_leaves_the_frame(sheet: Canvas) -> None:
    for command in sheet.commands:
        if isinstance(command, Line):
            for x, y in (point for run in command.runs for point in run):
                assert EDGE <= x <= WIDTH - EDGE
                assert EDGE <= y <= HEIGHT - EDGE
    for symbol in sheet.symbols():
        assert symbol.at[0] + symbol.size / 2 < WIDTH - EDGE - COLUMN


def test_letters_are_no_lower_than_the_least_of_the_look(sheet: Canvas) -> None:
    assert min(text.size for text in sheet.texts()) * 0.7 >= 1.5 - 1e-9


def test_all_that_was_recognised_is_on_the_sheet_of_one_room() -> None:
    canvas = draw(ALONE, ROOM, name="plan.dxf", unit="m")
    symbols = [symbol.name for symbol in canvas.symbols()]
    assert symbols.count("seat") == 2  # the third is outside, behind the words
    assert symbols.count("mic-ceiling") == len(ROOM.devices)
    assert symbols.count("air-outlet") == 1
    assert symbols.count("rack") == 1
    words = [text.text for text in canvas.texts()]
    assert "Nothing is written yet." in words
    assert "One room" in words
    assert any(word.startswith("1 Tide Room: 6.40 m × 4.60 m, 2.75 m high") for word in words)


def test_a_chair_faces_where_the_plan_says() -> None:
    canvas = draw(ALONE, ROOM, name="plan.dxf", unit="m")
    # facing 90° is north, up the sheet, as the symbol is drawn
    assert next(s.turn_deg for s in canvas.symbols() if s.name == "seat") == 0.0


def test_alike_lines_of_a_report_are_told_together_commonest_first() -> None:
    lines = told((*REPORT[:2], Noted(True, "seat", 4, "A-FURN-CHAR")), taken=True)
    assert [str(line) for line in lines] == ["7 chairs (A-FURN-CHAR)", "1 window (A-GLAZ)"]
    left = told(REPORT, taken=False)
    assert str(left[0]) == "59 text of kind 59 (A-ANNO): no part of a room"
    assert [line.count for line in left] == sorted((line.count for line in left), reverse=True)


def test_what_finds_no_room_in_the_column_is_counted() -> None:
    words = [text.text for text in draw(SEVERAL, None, name="p.dxf", unit="m").texts()]
    (more,) = [word for word in words if word.endswith("more, in the report")]
    told_lines = sum(
        word.startswith(tuple("123456789")) and "text of kind" in word for word in words
    )
    assert int(more.split()[1]) == 59 - told_lines


def test_storeys_are_not_drawn_over_each_other() -> None:
    below = tuple(replace(room, storey="Ground floor") for room in SEVERAL.rooms[:3])
    above = tuple(replace(room, storey="First floor") for room in SEVERAL.rooms[3:5])
    plan = replace(SEVERAL, rooms=below + above)
    words = [text.text for text in draw(plan, None, name="p.ifc", unit="m").texts()]
    assert "Scale 1 : 75; storey Ground floor, 1 more in the list" in words
    assert "3  Chamber 3" in words
    assert "4  Chamber 4" not in words
    chosen = [text.text for text in draw(plan, above[0], name="p.ifc", unit="m").texts()]
    assert any("storey First floor" in word for word in chosen)


def test_the_same_plan_gives_the_same_bytes() -> None:
    one = found_sheet(SEVERAL, ROOM, name="p.dxf", unit="m")
    assert one == found_sheet(SEVERAL, ROOM, name="p.dxf", unit="m")


@pytest.mark.parametrize("at", [(2.0, 1.4), (3.2, 3.4), (1.1, 2.3), (5.4, 3.5)])
def test_a_chair_without_a_facing_is_drawn_as_the_room_will_have_it(
    at: tuple[float, float],
) -> None:
    seat = FoundSeat(at)
    found = replace(ROOM, seats=(seat,), devices=())
    room = taken_over(PLAN, found, Settled(), products=()).room
    (place,) = room.people.seats.values()
    (azimuth,) = facings_deg(room, place.at, place.facing)
    assert looking_deg(found, seat) % 360.0 == pytest.approx(azimuth, abs=1e-6)

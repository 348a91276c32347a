"""Loudspeakers on the plan: where they sound, which way they face, all of them in the table."""

from __future__ import annotations

import math

import pytest

from wellheard.drawings.canvas import Line
from wellheard.drawings.plan import draw_sheet
from wellheard.drawings.view import DeviceMark, PlanView, TitleBlock

ROOM = ((0.0, 0.0), (8.0, 0.0), (8.0, 6.0), (0.0, 6.0))
BLOCK = TitleBlock("", "", "Kiln Room", "", "C-01", "Plan", "1", "A", "", "", "designed")


def on_wall(name: str, y: float, facing_deg: float) -> DeviceMark:
    return DeviceMark(
        name,
        name.upper(),
        "speaker-wall",
        (0.1, y, 1.5),
        "wall-5",
        facing_deg=facing_deg,
        microphone=False,
    )


@pytest.mark.parametrize("facing_deg", [0.0, 30.0, -20.0])
def test_a_loudspeaker_on_a_wall_has_a_tick_where_it_faces(facing_deg: float) -> None:
    bare = draw_sheet(PlanView(ROOM, 2.8, BLOCK))
    view = PlanView(ROOM, 2.8, BLOCK, devices=(on_wall("l1", 3.0, facing_deg),))
    drawn = draw_sheet(view)
    (symbol,) = (s for s in drawn.canvas.symbols() if s.name == "speaker-wall" and s.size > 8.0)
    assert bare.canvas.symbols() != drawn.canvas.symbols()
    turned = [
        math.degrees(math.atan2(-(run[1][1] - run[0][1]), run[1][0] - run[0][0]))
        for line in drawn.canvas.commands
        if isinstance(line, Line) and line.pen == "fine"
        for run in line.runs
        if len(run) == 2 and 3.0 < math.dist(run[0], symbol.at) < 4.0
    ]
    assert any(turn == pytest.approx(facing_deg, abs=1e-6) for turn in turned)


def test_a_ceiling_loudspeaker_is_set_out_like_a_ceiling_microphone() -> None:
    above = DeviceMark(
        "l1", "L1", "speaker-ceiling", (3.3, 2.1, 2.8), "ceiling-6", drop=0.0, microphone=False
    )
    drawn = draw_sheet(PlanView(ROOM, 2.8, BLOCK, devices=(above,)))
    words = [text.text for text in drawn.canvas.texts()]
    for figure in ("3300", "2100", "flush"):
        assert figure in words


def test_all_devices_of_a_large_room_are_in_the_table_of_its_sheet() -> None:
    many = tuple(
        DeviceMark(
            f"l{i}",
            f"L{i}",
            "speaker-ceiling",
            (1.0 + i % 5, 1.0 + i // 5, 2.8),
            "ceiling-6",
            drop=0.0,
            microphone=False,
        )
        for i in range(1, 21)
    )
    drawn = draw_sheet(PlanView(ROOM, 2.8, BLOCK, devices=many))
    words = [text.text for text in drawn.canvas.texts() if text.at[0] > drawn.paper.divider]
    assert [word for word in words if word in {m.label for m in many}] == [m.label for m in many]
    assert not any("more: see" in word for word in words)

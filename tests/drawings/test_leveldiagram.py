"""The level diagram: heights by decibels, stations in order, nothing over the edge."""

from __future__ import annotations

import pytest

from wellheard.drawings.canvas import Circle, Line
from wellheard.drawings.leveldiagram import MM_PER_DB, Station, draw

STATIONS = (
    Station("capsule", "56.1 dBA", "120.0 dBA", "31.6 dBA", 63.9, 24.5),
    Station("preamplifier", "4.0 dBu", "24.0 dBu", "−20.5 dBu", 20.0, 24.5, "+57.9 dB"),
    Station("converter", "−20.0 dBFS", "0.0 dBFS", "", 20.0, None),
)
WIDTH = 168.0


def test_clipping_and_noise_lie_so_many_decibels_from_speech() -> None:
    canvas, _ = draw(STATIONS, width=WIDTH)
    stations = [c for c in canvas.commands if isinstance(c, Circle)]
    speech = stations[0].centre[1]
    assert [c.centre[1] for c in stations] == [speech] * 3
    clip, noise = (
        [y for run in line.runs for _, y in run]
        for line in canvas.commands
        if isinstance(line, Line)
        and line.colour == "ink"
        and len({y for run in line.runs for _, y in run} & {speech}) == 0
        and max(len(run) for run in line.runs) > 2
    )
    assert [round((speech - y) / MM_PER_DB, 6) for y in clip] == [63.9, 63.9, 20, 20, 20, 20]
    assert [round((y - speech) / MM_PER_DB, 6) for y in noise] == [24.5] * 4


def test_a_stage_whose_noise_is_unknown_ends_the_line_of_noise() -> None:
    canvas, _ = draw(STATIONS, width=WIDTH)
    circles = [c for c in canvas.commands if isinstance(c, Circle)]
    (dashed,) = (c for c in canvas.commands if isinstance(c, Line) and c.dash == "dashed")
    farthest = max(x for run in dashed.runs for x, _ in run)
    assert circles[1].centre[0] < farthest < circles[2].centre[0]


@pytest.mark.parametrize("count", [2, 3])
def test_everything_stands_within_the_drawing(count: int) -> None:
    canvas, height = draw(STATIONS[:count], width=WIDTH, peaks_db=12.0)
    for text in canvas.texts():
        left, top, right, bottom = text.box.bounds
        assert left >= 0.0
        assert right <= WIDTH
        assert top >= 0.0
        assert bottom <= height


def test_words_of_the_lines_and_stations_stand_apart() -> None:
    canvas, _ = draw(STATIONS, width=WIDTH, peaks_db=12.0)
    texts = canvas.texts()
    for index, one in enumerate(texts):
        for other in texts[index + 1 :]:
            a, b = one.box.bounds, other.box.bounds
            apart = a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]
            assert apart, (one.text, other.text)

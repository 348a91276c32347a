"""Charts of what was measured: where marks stand, what is told without colour, words kept apart.

Values that marks are held to are worked by hand from the scale of each chart.
"""

from __future__ import annotations

import dataclasses
import itertools
from collections.abc import Callable

import numpy as np
import pytest

from tests import measured
from tests.drawings.conftest import tide
from tests.drawings.test_every_drawing import LEAST_MM, luminance, outside, over
from wellheard.drawings import decaychart, noisechart, tokens, trialchart
from wellheard.drawings.canvas import Area, Circle, Line
from wellheard.drawings.chartfield import Axis, Figure, round_steps
from wellheard.drawings.decaychart import decay_chart, decay_curves
from wellheard.drawings.modulationchart import modulation_chart
from wellheard.drawings.noisechart import noise_chart
from wellheard.drawings.spots import Spot
from wellheard.drawings.trialchart import trial_chart
from wellheard.drawings.verdictmap import Found, verdict_map
from wellheard.measurement.results import CancellerResult, Decay
from wellheard.proving.verdict import DecayCompared, NoiseCompared

WIDTHS = (168.0, 173.0)
"""Of the text of a page in metres and in feet. [mm]"""


def many_places() -> tuple[NoiseCompared, ...]:
    first = measured.verdict().noise[0]
    return tuple(
        dataclasses.replace(
            first,
            place=f"place-{k}",
            nc=None if k == 4 else 29.0 + k,
            levels_db={f: level + 0.4 * k for f, level in first.levels_db.items()},
        )
        for k in range(7)
    )


def the_map(width: float) -> Figure:
    view = tide()
    first, second, third, *_ = view.seats
    found = {
        first.id: Found("kept", "99 %"),
        second.id: Found("broken", "4 %"),
        third.id: Found("cannot tell", "–"),
    }
    spots = [Spot("source", first.at), Spot("microphone", (1.0, 2.3))]
    return verdict_map(view, found, spots, figures="chance", width=width, height=100.0)


CHARTS: dict[str, Callable[[float], Figure | None]] = {
    "decay": lambda w: decay_chart(measured.verdict().decays, promise=0.5, width=w),
    "decay, nothing promised": lambda w: decay_chart(
        measured.verdict().decays, promise=None, width=w
    ),
    "curves": lambda w: decay_curves(
        {k: one.decays for k, one in measured.results().responses.items()}, width=w
    ),
    "modulation": lambda w: modulation_chart(
        measured.response(0.06).modulation,
        measured.response(-0.1).modulation,
        path="a place with a long name to ceiling-microphone-12",
        width=w,
    ),
    "noise": lambda w: noise_chart(measured.verdict().noise, promise=28.0, width=w),
    "noise at many places": lambda w: noise_chart(many_places(), promise=35.0, width=w),
    "canceller": lambda w: trial_chart(measured.trial(), needed_db=41.0, name="m1", width=w),
    "map": the_map,
}


@pytest.fixture(scope="module", params=[(n, w) for n in CHARTS for w in WIDTHS], ids=str)
def chart(request: pytest.FixtureRequest) -> Figure:
    name, width = request.param
    made = CHARTS[name](width)
    assert made is not None
    return made


def test_no_text_lies_over_text_or_outside_or_is_too_low_to_read(chart: Figure) -> None:
    texts = chart.canvas.texts()
    assert over(texts) == []
    assert outside(texts, chart.width, chart.height) == []
    assert not [text.text for text in texts if 0.7 * text.size < LEAST_MM - 1e-6]


def test_only_the_promise_is_accent_and_its_pen_is_nobody_elses(chart: Figure) -> None:
    lines = [c for c in chart.canvas.commands if isinstance(c, Line)]
    promised = {(c.pen, c.dash) for c in lines if c.colour == "accent" and c.pen != "hair"}
    level = [c for c in lines if c.colour != "accent" and _long(c)]
    assert not promised & {(c.pen, c.dash) for c in level if chart.stem != "decay"}
    words = [t.text for t in chart.canvas.texts() if t.colour == "accent"]
    assert all(word.startswith("NC ") for word in words)


def _long(line: Line) -> bool:
    return any(max(x for x, _ in r) - min(x for x, _ in r) > 30.0 for r in line.runs)


def test_what_was_measured_is_told_from_what_was_predicted_without_colour() -> None:
    made = CHARTS["decay"](168.0)
    assert made is not None
    circles = [c for c in made.canvas.commands if isinstance(c, Circle)]
    bars = [c for c in made.canvas.commands if isinstance(c, Area) and c.fill == "ink"]
    assert circles
    assert bars
    assert {c.fill for c in circles} == {"paper"}
    # Ink on paper, by their luminance: ISO 9241-303 asks for 3 : 1 at least [M].
    ink, paper = (luminance(tokens.colour(name)) for name in ("ink", "paper"))
    assert (paper + 0.05) / (ink + 0.05) > 3.0


def test_a_circle_stands_at_its_decay_time_and_none_where_nothing_was_measured() -> None:
    decays = [
        DecayCompared(500.0, 0.50, 0.1, 4, 0.6, 0.5, 0.8),
        DecayCompared(1000.0, None, None, 0, 0.6, 0.5, 0.8),
    ]
    made = decay_chart(decays, promise=None, width=168.0)
    # The scale holds 1.05 · 0.8 = 0.84 in steps of 0.2, so it ends at 1.0: 0.5 is half way up.
    (circle, _) = [c for c in made.canvas.commands if isinstance(c, Circle)]
    assert circle.centre[1] == pytest.approx((decaychart.TOP + decaychart.FOOT) / 2)
    texts = [text.text for text in made.canvas.texts()]
    assert "0.50 ± 0.10" in texts
    assert "–" in texts


def test_a_bar_is_hollow_where_it_misses_the_promise_and_only_where_one_is_made() -> None:
    octaves = [DecayCompared(f, None, None, 0, 0.5, 0.4, 0.6) for f in (250.0, 500.0, 1000.0)]
    made = decay_chart(octaves, promise=0.55, width=168.0)
    hollow = [
        c
        for c in made.canvas.commands
        if isinstance(c, Area) and c.fill == "paper" and c.pen == "fine"
    ]
    assert len(hollow) == 2 + 1  # of 500 Hz and 1 kHz, and of the sample in the key
    up = Axis(0.0, 0.8, decaychart.FOOT, decaychart.TOP)
    ys = [y for area in hollow[:2] for ring in area.rings for _, y in ring]
    assert min(ys) == pytest.approx(up.at(0.6))
    assert max(ys) == pytest.approx(up.at(0.55))


def test_the_knee_is_where_a_straight_decay_meets_its_noise() -> None:
    """60 dB in T, by the definition of the decay time: 30 dB of range end at half of it."""
    one = measured.decay(500.0, 0.6, 30.0)
    made = decay_curves({"s1 to m1": [one]}, width=168.0)
    assert made is not None
    dashed = [c for c in made.canvas.commands if isinstance(c, Line) and c.dash == "dashed"]
    knees = [c for c in made.canvas.commands if isinstance(c, Area) and len(c.rings[0]) == 3]
    noise, knee = dashed[0].runs[0][0][1], knees[0].rings[0][0]
    assert knee[1] == pytest.approx(noise)
    bold = next(c for c in made.canvas.commands if isinstance(c, Line) and c.pen == "mid")
    (x0, y0), (x1, y1) = bold.runs[0][0], bold.runs[0][4]
    slope = (y1 - y0) / (x1 - x0)
    assert (noise - y0) / slope == pytest.approx(knee[0] - x0, rel=0.02)


def test_octaves_without_range_say_so_and_have_no_decay_time() -> None:
    made = decay_curves({"a": [measured.decay(125.0, 0.6, 30.0)]}, width=168.0)
    assert made is not None
    texts = [text.text for text in made.canvas.texts()]
    assert "– range too small" in texts
    assert texts.count("– not measured") == 6
    assert decay_curves({"a": [_without_curve()]}, width=168.0) is None


def _without_curve() -> Decay:
    return dataclasses.replace(measured.decay(500.0, 0.5), curve=())


def test_noise_that_lies_on_a_curve_of_the_standard_is_drawn_on_it() -> None:
    """NC-30 of ANSI/ASA S12.2: 57, 48, 41, 35, 32, 29, 28, 27 dB from 63 Hz to 8 kHz [L]."""
    levels = dict(
        zip(
            (63.0, 125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0),
            (57.0, 48.0, 41.0, 35.0, 32.0, 29.0, 28.0, 27.0),
            strict=True,
        )
    )
    one = NoiseCompared("s1", "r", levels, True, 30.0, "NC-30", 500.0, 38.0)
    made = noise_chart([one], promise=30.0, width=168.0)
    assert made is not None
    lines = [c for c in made.canvas.commands if isinstance(c, Line) and _long(c)]
    promised = next(c for c in lines if c.colour == "accent" and c.pen == "mid")
    drawn = next(c for c in lines if c.pen == "bold")
    np.testing.assert_allclose(promised.runs[0], drawn.runs[0])
    names = [text.text for text in made.canvas.texts() if text.text.startswith("NC ")]
    assert names.count("NC 30") == 1
    assert {"NC 25", "NC 35", "NC 40"} <= set(names)


def test_the_octave_that_decides_is_marked_and_named() -> None:
    made = CHARTS["noise"](168.0)
    assert made is not None
    filled = [c for c in made.canvas.commands if isinstance(c, Circle) and c.fill == "ink"]
    octaves = sorted(measured.SPECTRUM)
    along = Axis(0.0, len(octaves) - 1.0, noisechart.LEFT + 6.0, 168.0 - noisechart.RIGHT - 3.0)
    assert filled[0].centre[0] == pytest.approx(along.at(float(octaves.index(250.0))))
    assert "s3: NC-31" in [text.text for text in made.canvas.texts()]


def test_noise_without_a_calibration_is_held_against_no_curve() -> None:
    one = dataclasses.replace(measured.verdict().noise[0], calibrated=False, nc=None)
    assert noise_chart([one], promise=30.0, width=168.0) is None


def test_a_trial_ends_at_what_was_read_and_without_a_curve_there_is_no_chart() -> None:
    made = CHARTS["canceller"](168.0)
    assert made is not None
    curve = next(c for c in made.canvas.commands if isinstance(c, Line) and c.pen == "bold")
    # 12 + 32 (1 − e^(−14.75/2)) = 43.98 dB on a scale from 0 to 50.
    end = trialchart.FOOT + (trialchart.TOP - trialchart.FOOT) * 43.98 / 50.0
    assert curve.runs[0][-1][1] == pytest.approx(end, abs=0.01)
    empty = CancellerResult(None, None, None, None, None, None)
    assert trial_chart(empty, needed_db=None, name="m1", width=168.0) is None


def test_every_place_on_the_map_has_its_mark_and_what_was_not_measured_says_so() -> None:
    made = the_map(168.0)
    inside = [s.name for s in made.canvas.symbols() if s.name.startswith("state-")]
    words = [text.text for text in made.canvas.texts()]
    seats = len(tide().seats)
    standing = len(tide().standing)
    # One each is the sample in the key; what is kept has its figure alone.
    assert inside.count("state-broken") == 1 + 1
    assert inside.count("state-at-risk") == 1 + 1
    assert inside.count("state-not-assessed") == seats - 3 + standing + 1
    assert {"99 %", "4 %", "broken", "cannot tell", "not measured"} <= set(words)


@pytest.mark.parametrize("low", [-60.0, 0.0, 3.2])
@pytest.mark.parametrize("span", [0.03, 0.7, 1.0, 47.0, 5000.0])
def test_a_scale_holds_its_range_in_few_round_steps(low: float, span: float) -> None:
    found = round_steps(low, low + span)
    assert found[0] <= low + 1e-9
    assert found[-1] >= low + span - 1e-9
    assert 2 <= len(found) <= 8
    steps = {round(b - a, 6) for a, b in itertools.pairwise(found)}
    assert len(steps) == 1


def test_the_same_figures_give_the_same_bytes(chart: Figure) -> None:
    assert chart.svg(embed_fonts=False) == chart.svg(embed_fonts=False)
    assert chart.svg(embed_fonts=False).startswith("<svg")

"""What is designed is what is written, drawn and judged: places to the step of a tape.

Steps of 5 mm and 1/8 in (common practice, no source [C]); an inch is 25.4 mm (NIST SP 811, exact).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import accumulate
from pathlib import Path

import pytest

from tests.effort import some
from wellheard.catalog.catalogue import Catalogue
from wellheard.dossier.positions import positions
from wellheard.drawings.surround import chains_of
from wellheard.geometry.setting_out import ties_of
from wellheard.place.places import Standing
from wellheard.place.setting_out import Tape
from wellheard.place.writing import placed_room
from wellheard.predict.evidence import Point
from wellheard.room import codec
from wellheard.room.document import Room
from wellheard.units import parse_length
from wellheard.workflow.design import Designed, design, judge
from wellheard.workflow.load import Loaded, load, load_text
from wellheard.workflow.publish import shown_spaces
from wellheard.workflow.set_out import set_out_doubts
from wellheard.workflow.sheets import plan_view

EXAMPLES = Path(__file__).parents[2] / "examples"
NAMES = sorted(path.parent.name for path in EXAMPLES.glob("*/*.room.yaml"))
STEP = {"m": 0.005, "ft": 0.0254 / 8}
pytestmark = pytest.mark.usefixtures("few_rays")


def whole(metres: float, step: float) -> bool:
    return abs(metres / step - round(metres / step)) < 1e-5


def read_again(text: str, unit: str) -> float:
    """A printed length, as somebody types it in: bare millimetres, or feet and inches."""
    return parse_length(f"{text} mm", unit="m") if unit == "m" else parse_length(text, unit="ft")


@pytest.mark.parametrize("name", NAMES)
def test_every_proposed_device_of_an_example_stands_on_the_steps(
    name: str, designed: Callable[[str], Designed]
) -> None:
    evidence = designed(name).judged.evidence
    given = load(EXAMPLES / name / f"{name}.room.yaml").room.devices
    step = STEP[evidence.room.units]
    for row in positions(evidence):
        if row.set_out_by != "walls" or row.device in given:
            continue
        assert all(whole(away, step) for away in row.distances), row
        assert row.off == 0.0
        if row.drop is not None:
            assert whole(row.drop, step)
        elif row.mounting in ("wall", "front"):
            assert whole(row.height, step)


@pytest.mark.parametrize("name", ["ten-seats", "l-shape", "board-eighteen"])
def test_the_printed_chain_typed_in_again_gives_the_documents_places(
    name: str, designed: Callable[[str], Designed], catalogue: Catalogue
) -> None:
    answer = designed(name)
    room, evidence = answer.room, answer.judged.evidence
    spaces = shown_spaces(room, catalogue, answer.judged)
    key, shown = next(iter(spaces.items()))
    view = plan_view(
        evidence,
        shown,
        quantity="sti_outbound",
        sheet="C-01",
        of="1",
        document_hash="",
        state="",
        arrangement=key,
    )
    chains = chains_of(view)
    for axis, links in ((0, chains["device x"]), (1, chains["device y"])):
        parts = [read_again(text, room.units) for text in links.labels]
        low = min(corner[axis] for corner in room.space.outline)
        size = max(corner[axis] for corner in room.space.outline) - low
        reached = [low + away for away in accumulate(parts)]
        assert reached[-1] == pytest.approx(low + size, abs=1e-9)
        for microphone in evidence.microphones:
            if not microphone.locked:
                nearest = min(abs(at - microphone.at[axis]) for at in reached)
                assert nearest < 1e-9


def _as_they_are(tape: Tape, candidate: Standing) -> Iterator[tuple[Point, float | None]]:
    """Places as they would be without a tape."""
    yield candidate.at, candidate.drop


def findings_of(room: Room, catalogue: Catalogue) -> set[tuple[str, str]]:
    judged = judge(room, catalogue, assumptions=False)
    found = (f for f in judged.findings if f.status == "fail" and f.severity != "note")
    return {(f.severity, f.code) for f in found}


@pytest.mark.parametrize(
    ("seed", "unit"),
    some(
        [(seed, unit) for seed in (0, 1, 2, 4, 6, 9) for unit in ("m", "ft")],
        (0, 3, 4, 7, 8, 11),  # each room in one of them
    ),
)
def test_rounding_brings_no_finding_that_the_exact_places_have_not(
    seed: int,
    unit: str,
    crowded_room: Callable[[int], Room],
    catalogue: Catalogue,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    from wellheard.place.devices import place_devices
    from wellheard.predict.scene import build

    room = crowded_room(seed).model_copy(update={"units": unit})
    rounded = placed_room(room, catalogue, place_devices(build(room, catalogue), time_limit=10.0))
    monkeypatch.setattr(Tape, "around", _as_they_are)
    exact = placed_room(room, catalogue, place_devices(build(room, catalogue), time_limit=10.0))
    assert len(rounded.devices) == len(exact.devices)
    assert findings_of(rounded, catalogue) <= findings_of(exact, catalogue)
    for name, device in rounded.devices.items():
        if device.at is not None and name not in room.devices:
            ties = ties_of(room.space.outline, device.at[:2], STEP[unit])
            assert all(whole(away, STEP[unit]) for away in ties.distances(device.at[:2]))


def _with_head(x: str, *, rule: str = "") -> Loaded:
    text = f"""
wellheard: 1
units: m
space:
  outline: [[0, 0], [6, 0], [6, 4.5], [0, 4.5]]
  walls: [south, east, north, west]
  height: 2.7
people: {{seats: {{s1: {{at: [2, 2], facing: 0}}}}}}
devices:
  old: {{kind: microphone, product: ceiling-head-3, at: [{x}, 2.25, 2.7], locked: true}}
targets: {{{rule}}}
"""
    return load_text(text, Path("room.room.yaml"))


def test_a_locked_device_is_never_moved_and_said_to_be_between_the_steps() -> None:
    loaded = _with_head("3.0023")
    answer = design(loaded, time_limit=5.0)
    (row,) = (row for row in positions(answer.judged.evidence) if row.id == "old")
    assert answer.room.devices["old"].at == (3.0023, 2.25, 2.7)
    assert row.distances[0] == pytest.approx(3.0023)
    assert row.off == pytest.approx(0.0023)


def test_a_rule_that_the_printed_figure_would_break_is_named() -> None:
    """0.5 m from a wall is the least; at 0.5004 it holds, the sheet says 500, and 0.4996 says 500.

    With a limit of 0.5002 m the printed 500 mm would be too near.
    """
    rule = "house_rules: {microphone-near-wall: {limit: 0.5002, because: a test}}"
    loaded = _with_head("0.5004", rule=rule)
    judged = judge(loaded.room, loaded.catalogue, assumptions=False)
    rows = positions(judged.evidence)
    said = set_out_doubts(loaded.room, loaded.catalogue, rows, judged.findings)
    assert len(said) == 1
    assert "wall" in said[0]
    plain = _with_head("0.5004")
    judged = judge(plain.room, plain.catalogue, assumptions=False)
    assert set_out_doubts(plain.room, plain.catalogue, rows, judged.findings) == ()


def test_a_designed_document_read_again_has_the_very_same_places(
    designed: Callable[[str], Designed],
) -> None:
    for name in ("ten-seats", "both-ways"):
        answer = designed(name)
        again = codec.parse_document(answer.text, name="again").room
        assert {n: d.at for n, d in again.devices.items()} == {
            n: d.at for n, d in answer.room.devices.items()
        }

"""Cards of rooms: counted as the ledger counts, drawn to scale, remembered by what matters."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from wellheard.catalog.catalogue import Catalogue
from wellheard.drawings.thumbnail import BAR, MARGIN, TALLEST, WIDEST, interval, metres_per_bar
from wellheard.room import codec
from wellheard.workflow import cards
from wellheard.workflow.load import Loaded, load

EXAMPLES = Path(__file__).parents[2] / "examples"


def loaded(**changed: object) -> Loaded:
    """A room of 5 m × 4 m with two seats and one microphone 0.4 m below its ceiling."""
    data: dict[str, object] = {
        "wellheard": 1,
        "title": "Small Room",
        "space": {"outline": [[0, 0], [5, 0], [5, 4], [0, 4]], "height": 2.7},
        "people": {"seats": {"s1": {"at": [2, 1.4]}, "s2": {"at": [2, 2.6]}}},
        "devices": {
            "m1": {"kind": "microphone", "product": "ceiling-head-3", "at": [2.0, 2.0, 2.3]}
        },
    }
    text = json.dumps({**data, **changed})
    return Loaded(codec.parse_document(text, name="small.room.yaml"), Catalogue.shipped())


def test_places_are_counted_as_the_ledger_has_them() -> None:
    room = load(EXAMPLES / "training-forty" / "training-forty.room.yaml")
    found = cards.predicted(room)
    people = room.room.people
    assert len(found.states) == len(people.seats) + len(people.standing)
    assert sum(found.counts.values()) == len(found.states)
    assert found.worst is not None
    assert found.worst.low <= found.worst.sti <= found.worst.high


def test_a_room_without_microphones_is_not_assessed_and_says_why() -> None:
    found = cards.predicted(loaded(devices={}))
    assert found.counts == {"not assessed": 2}
    assert found.worst is None
    assert found.why == cards.NO_MICROPHONE


def test_the_worse_a_room_the_earlier_it_comes() -> None:
    worst = cards.Worst("s1", 0.6, 0.5, 0.7, 0.62, 0.3)
    rooms = [
        cards.Outlook({"a": "kept", "b": "kept"}, worst),
        cards.Outlook({"a": "not assessed"}),
        cards.Outlook({"a": "at risk", "b": "not assessed"}, worst),
        cards.Outlook({"a": "kept", "b": "broken"}, worst),
    ]
    in_order = sorted(rooms, key=lambda one: one.badness)
    assert in_order == [rooms[3], rooms[2], rooms[1], rooms[0]]


def test_a_prediction_is_remembered_over_a_restart_and_a_rename(tmp_path: Path) -> None:
    file = tmp_path / ".wellheard" / "cards.json"
    first = cards.Outlooks(file).of(loaded())
    after = cards.Outlooks(file)
    assert after.known(loaded()) == first
    assert after.known(loaded(title="Called otherwise")) == first


@pytest.mark.parametrize(
    "changed",
    [
        {"noise": {"background": {"nc": 40}}},
        {"people": {"seats": {"s1": {"at": [2, 1.4]}}}},
        {"basis": {"noise.background": "measured"}},
        {"targets": {"sti_outbound": 0.5}},
    ],
)
def test_a_prediction_of_another_room_is_not_taken_for_it(
    tmp_path: Path, changed: dict[str, object]
) -> None:
    known = cards.Outlooks(tmp_path / "cards.json")
    known.remember(loaded(), cards.Outlook({}))
    assert known.known(loaded()) is not None
    assert known.known(loaded(**changed)) is None


@pytest.mark.parametrize(
    "text",
    [
        "",
        "[]",
        '{"cards": {"k": 1}}',
        '{"cards": {"k": {"states": {"a": "fine"}, "worst": null, "why": ""}}}',
        "[" * 100_000,
    ],
)
def test_a_file_of_predictions_that_is_none_is_passed_over(tmp_path: Path, text: str) -> None:
    file = tmp_path / "cards.json"
    file.write_text(text)
    assert cards.Outlooks(file).known(loaded()) is None


def test_predictions_last_where_nothing_can_be_written(tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("a file, no folder")
    known = cards.Outlooks(tmp_path / "taken" / "cards.json")
    known.remember(loaded(), cards.Outlook({"people.seats.s1": "kept"}))
    assert known.known(loaded()) == cards.Outlook({"people.seats.s1": "kept"})


def test_the_price_is_the_devices_as_they_hang() -> None:
    # tests/catalog holds the sum: head, bridge, 0.4 m of cable, safety bond, labour.
    catalogue = Catalogue.shipped()
    alone = catalogue.installed_price("ceiling-head-3", "ceiling", 0.4).amount
    assert cards.face(loaded(), unit="m").price == f"EUR\u00a0{alone:.0f}"


def test_what_is_owned_costs_nothing() -> None:
    owned = loaded(
        devices={
            "m1": {
                "kind": "microphone",
                "product": "ceiling-head-3",
                "at": [2.0, 2.0, 2.3],
                "owned": True,
            }
        }
    )
    shown = cards.face(owned, unit="m")
    assert (shown.price, shown.price_why) == ("", "nothing to buy")


def test_a_price_in_another_currency_is_not_added_up() -> None:
    shown = cards.face(loaded(project={"currency": "USD"}), unit="m")
    assert shown.price == ""
    assert "EUR" in shown.price_why


def test_sizes_are_told_in_both_units_the_readers_first() -> None:
    # 5 m and 4 m are 16.40 ft and 13.12 ft, 16'-4⅞" and 13'-1½" (1 ft = 0.3048 m exactly).
    metric, feet = cards.face(loaded(), unit="m"), cards.face(loaded(), unit="ft")
    assert (metric.size, metric.size_other) == ("5.0 × 4.0\u00a0m", "16 × 13\u00a0ft")
    assert (feet.size, feet.size_other) == ("16'-4⅞\" × 13'-1½\"", "5.0 × 4.0\u00a0m")


@pytest.mark.parametrize(
    ("changed", "stage"),
    [
        ({"devices": {}}, "surveyed, no microphone yet"),
        ({}, "designed"),
        ({"project": {"revision": "B"}}, "designed, rev\u00a0B"),
        ({"measurements": {"one": {}}}, "measured"),
    ],
)
def test_the_stage_is_that_of_the_document(changed: dict[str, object], stage: str) -> None:
    assert cards.face(loaded(**changed), unit="m").stage == stage


def test_plans_are_to_one_scale() -> None:
    five = cards.drawn(loaded(), None)
    wide = re.match(r'<svg class="stamp" width="([0-9.]+)" height="([0-9.]+)"', five.svg)
    assert wide is not None
    assert five.metres == 1
    assert float(wide[1]) == pytest.approx(5 * BAR + 2 * MARGIN)
    assert float(wide[2]) == pytest.approx(4 * BAR + 2 * MARGIN)


@pytest.mark.parametrize("sides", [(60.0, 60.0), (14.0, 9.0), (3.0, 30.0), (0.5, 0.5)])
def test_no_plan_is_larger_than_its_place(sides: tuple[float, float]) -> None:
    scale = BAR / metres_per_bar(*sides)
    assert sides[0] * scale + 2 * MARGIN <= WIDEST
    assert sides[1] * scale + 2 * MARGIN <= TALLEST


def test_every_place_of_a_plan_is_marked_by_its_state() -> None:
    states = {"people.seats.s1": "kept", "people.seats.s2": "broken"}
    told = cards.drawn(loaded(), cards.Outlook(states)).svg  # type: ignore[arg-type]
    assert told.count('class="seat"') == 1
    assert told.count('class="sx"') == 1  # the cross cut out of the filled square
    untold = cards.drawn(loaded(), None).svg
    assert untold.count('class="seat unknown"') == 2


def test_names_of_a_document_do_not_get_into_a_drawing() -> None:
    hostile = "<img src=x onerror=alert(1)>"
    room = loaded(title=hostile, project={"client": hostile})
    assert "img" not in cards.drawn(room, None).svg
    assert cards.face(room, unit="m").title == hostile


def test_a_range_is_hollow_below_the_promise_and_full_above() -> None:
    both = interval(0.58, 0.63, 0.68, promise=0.62, span=(0.5, 0.74))
    # 0.01 is 5 px: from 40 px to 90 px, the promise at 60 px.
    assert 'class="misses" d="M40.0 4.5H60.0V9.5H40.0Z"' in both
    assert 'class="holds" d="M60.0 4.5H90.0V9.5H60.0Z"' in both
    kept = interval(0.64, 0.66, 0.68, promise=0.62, span=(0.5, 0.74))
    assert "misses" not in kept
    broken = interval(0.5, 0.55, 0.6, promise=0.62, span=(0.5, 0.74))
    assert "holds" not in broken

"""Seats round a table, and new things where the trade puts them."""

from __future__ import annotations

import json
import math
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wellheard.catalog.catalogue import Catalogue
from wellheard.errors import DocumentError
from wellheard.room import codec
from wellheard.room.adding import KINDS
from wellheard.room.document import Room
from wellheard.room.operations import OperationError, apply
from wellheard.room.tables import spots_round
from wellheard.room.writing import document_data
from wellheard.workflow.mounting import mounts

EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*/*.room.yaml"))
ROOMS = {path.parent.name: codec.load(path).room for path in EXAMPLES}
MOUNTS = mounts(Catalogue.shipped())

# A table of 3.2 × 1.2 m from (0, 0). Everybody has an equal share of the side, 0.75 m of it at
# ease and 0.6 m at least, and the mouth 0.3 m off the edge: common practice, no source [C].
TABLE = ((0.0, 0.0), (3.2, 0.0), (3.2, 1.2), (0.0, 1.2))
BY_HAND = {
    1: [(1.6, -0.3)],
    2: [(1.6, -0.3), (1.6, 1.5)],
    4: [(0.8, -0.3), (2.4, -0.3), (2.4, 1.5), (0.8, 1.5)],
    # 3.2 m / 0.75 m: four a side. Then one at each end (1.2 m / 0.75 m).
    9: [
        *((0.4, -0.3), (1.2, -0.3), (2.0, -0.3), (2.8, -0.3), (3.5, 0.6)),
        *((2.8, 1.5), (2.0, 1.5), (1.2, 1.5), (0.4, 1.5)),
    ],
    # Eleven do not fit at ease: five a side at 0.64 m, and an end.
    11: [(0.32 + 0.64 * i, -0.3) for i in range(5)]
    + [(3.5, 0.6)]
    + [(2.88 - 0.64 * i, 1.5) for i in range(5)],
    # And no more than fourteen: five a side and two at each end.
    20: [(0.32 + 0.64 * i, -0.3) for i in range(5)]
    + [(3.5, 0.3), (3.5, 0.9)]
    + [(2.88 - 0.64 * i, 1.5) for i in range(5)]
    + [(-0.3, 0.9), (-0.3, 0.3)],
}


@pytest.mark.parametrize("count", BY_HAND)
def test_people_sit_round_a_table_as_one_lays_it_out_by_hand(count: int) -> None:
    for found, wanted in zip(spots_round(TABLE, count), BY_HAND[count], strict=True):
        assert found == pytest.approx(wanted, abs=1e-4)


def test_the_way_round_of_an_outline_does_not_matter() -> None:
    other = [(x, y) for x, y in reversed(TABLE)]
    assert sorted(spots_round(other, 9)) == sorted(spots_round(TABLE, 9))


@settings(max_examples=40, deadline=None)
@given(st.floats(0.8, 8), st.floats(0.6, 2.4), st.integers(1, 40), st.floats(-180, 180))
def test_nobody_has_less_than_six_tenths_of_a_metre(
    long: float, deep: float, count: int, turn: float
) -> None:
    c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    box = [(0.0, 0.0), (long, 0.0), (long, deep), (0.0, deep)]
    spots = spots_round([(c * x - s * y, s * x + c * y) for x, y in box], count)
    assert len(spots) <= count
    level = [(c * x + s * y, -s * x + c * y) for x, y in spots]
    for side in ([p for p in level if p[1] < 0], [p for p in level if p[1] > deep]):
        along = sorted(x for x, _ in side)
        assert all(b - a >= 0.6 - 1e-3 for a, b in pairwise(along))
    if len(spots) < count:
        room = 2 * (math.floor(long / 0.6 + 1e-6) + math.floor(deep / 0.6 + 1e-6))
        assert len(spots) == room


def test_who_sits_there_keeps_the_place_and_the_rest_fits_between() -> None:
    room = ROOMS["glass-fan"]
    kept = {"do": "remove", "items": [f"people.seats.s{i}" for i in (2, 3, 6, 7)]}
    done = apply(room, [kept, {"do": "seats-around", "table": "table", "count": 4}], unit="m")
    assert {k: done.room.people.seats[k] for k in ("s1", "s4", "s5", "s8")} == {
        k: room.people.seats[k] for k in ("s1", "s4", "s5", "s8")
    }
    assert len(done.created) == 4
    assert done.notes == ()
    heads = [seat.at for seat in done.room.people.seats.values()]
    assert min(math.dist(a, b) for i, a in enumerate(heads) for b in heads[:i]) >= 0.5
    assert {done.room.people.seats[p.rpartition(".")[2]].facing for p in done.created} == {
        ("across", "display")
    }


def test_what_does_not_fit_is_told() -> None:
    done = apply(
        ROOMS["huddle-four"], [{"do": "seats-around", "table": "table", "count": 6}], unit="m"
    )
    assert len(done.created) == 2  # one at each end of a table of 1.7 × 1.1 m
    assert done.notes == ("2 of 6 seats fit round table.",)
    with pytest.raises(OperationError, match="no seat fits"):
        apply(done.room, [{"do": "seats-around", "table": "table", "count": 1}], unit="m")


def test_nobody_is_seated_in_a_wall_or_in_another_table() -> None:
    room = codec.from_data(
        {
            "wellheard": 1,
            "space": {"outline": [[0, 0], [5, 0], [5, 4], [0, 4]], "height": 2.7},
            "furniture": {
                "table": {"kind": "table", "outline": [[1, 0], [4, 0], [4, 1], [1, 1]]},
                "other": {"kind": "table", "outline": [[1, 1.2], [2.5, 1.2], [2.5, 2], [1, 2]]},
            },
            "people": {"seats": {"s1": {"at": [4.5, 3.5]}}},
        }
    )
    done = apply(room, [{"do": "seats-around", "table": "table", "count": 12}], unit="m").room
    new = [seat.at for key, seat in done.people.seats.items() if key != "s1"]
    assert new
    assert all(y > 0.4 and not (1 < x < 2.5 and 1.2 < y < 2) for x, y in new)


# Adding --------------------------------------------------------------------------------------

# Where the trade puts things to start with, here and below: common practice, no source [C].


@pytest.mark.parametrize("name", ROOMS)
def test_whatever_is_added_in_the_middle_of_a_room_makes_a_valid_document(name: str) -> None:
    room = ROOMS[name]
    heads = [seat.at for seat in room.people.seats.values()]
    middle = [round(sum(c) / len(heads), 2) for c in zip(*heads, strict=True)]
    full = []
    for kind in KINDS:
        wish = {"do": "add", "kind": kind, "at": middle}
        try:
            done = apply(room, [wish], unit=room.units, mounts=MOUNTS)
        except OperationError as error:
            full.append(error.what)
            continue
        (path,) = done.created
        assert all(t.startswith((f"{path}.", f"basis.{path}")) or t == path for t in done.touched)
        assert codec.parse(codec.dump(done.room)) == done.room
    assert all(what.startswith("no room for a ") for what in full)


PLAIN = codec.from_data(
    {
        "wellheard": 1,
        "space": {"outline": [[0, 0], [6, 0], [6, 4], [0, 4]], "height": 2.7},
        "furniture": {"table": {"kind": "table", "outline": [[2, 1], [4, 1], [4, 3], [2, 3]]}},
        "people": {"seats": {"s1": {"at": [1.5, 2]}}},
        "equipment": {"rack": {"kind": "rack", "at": [0.3, 3.7, 0.6]}},
    }
)


def added(room: Room, kind: str, at: list[float], product: str | None = None) -> Any:
    """The thing itself that adding makes."""
    wish: dict[str, Any] = {"do": "add", "kind": kind, "at": at}
    if product is not None:
        wish["product"] = product
    done = apply(room, [wish], unit="m", mounts=MOUNTS)
    here: Any = json.loads(json.dumps(document_data(done.room, "m")))
    for step in done.created[0].split("."):
        here = here[step]
    return here


@pytest.mark.parametrize(
    ("kind", "at", "product", "wanted"),
    [
        ("seat", [1, 1], None, {"at": [1, 1]}),
        ("microphone", [3, 2], "ceiling-head-3", {"at": [3, 2, 2.7]}),  # flush
        ("microphone", [3, 2], "pendant-cardioid", {"at": [3, 2, 2.4]}),  # its shortest drop
        ("microphone", [3, 2], "table-boundary", {"at": [3, 2, 0.74]}),  # on the table
        ("processor", [3, 2], "processor-4", {"equipment": "rack"}),
        ("processor", [5, 1], "bridge-2", {"equipment": "rack"}),  # no table box: the rack
        ("loudspeaker", [3, 3.5], "wall-8", {"at": [3, 3.88, 2.1], "aim_deg": 270}),
        ("loudspeaker", [3, 2], "ceiling-6", {"at": [3, 2, 2.7]}),
        ("table", [3, 2], None, {"outline": [[2.2, 1.6], [3.8, 1.6], [3.8, 2.4], [2.2, 2.4]]}),
        ("door", [3, 3.9], None, {"wall": "w2", "from": 2.55, "to": 3.45, "bottom": 0, "top": 2.1}),
        ("display", [0.2, 2], None, {"wall": "w3", "centre": [2, 1.4], "size": [1.6, 0.9]}),
        ("wall-plate", [3, 0.3], None, {"at": [3, 0, 0.4]}),
        ("table-box", [3, 2], None, {"at": [3, 2, 0.74]}),
        ("luminaire", [3, 2], None, {"outline": [[2.7, 1.7], [3.3, 1.7], [3.3, 2.3], [2.7, 2.3]]}),
    ],
)
def test_new_things_go_where_the_trade_puts_them(
    kind: str, at: list[float], product: str | None, wanted: dict[str, Any]
) -> None:
    found = added(PLAIN, kind, at, product)
    assert {key: found[key] for key in wanted} == wanted


def test_a_drop_longer_than_the_document_allows_is_not_taken() -> None:
    flush = apply(PLAIN, [{"path": "choices.max_drop", "set": 0}], unit="m").room
    assert added(flush, "microphone", [3, 2], "ceiling-head-6")["at"] == [3, 2, 2.7]


def test_a_product_of_another_kind_is_refused() -> None:
    with pytest.raises(OperationError, match="ceiling-6 is a loudspeaker"):
        added(PLAIN, "microphone", [3, 2], "ceiling-6")
    with pytest.raises(OperationError, match=r"did you mean ceiling-head-3\?"):
        added(PLAIN, "microphone", [3, 2], "ceiling-haed-3")


def test_a_wall_without_a_free_stretch_takes_no_other_window() -> None:
    wishes = [{"do": "add", "kind": "window", "at": [0.75 + 1.5 * i, 0]} for i in range(4)]
    room = apply(PLAIN, wishes, unit="m").room
    starts = [p.from_ for p in room.space.finishes.wall_patches.values()]
    assert sorted(starts) == [0.0, 1.5, 3.0, 4.5]
    with pytest.raises(OperationError, match="no room for a window on wall w0"):
        apply(room, [{"do": "add", "kind": "window", "at": [3, 0.1]}], unit="m")


def test_a_level_that_nobody_told_is_assumed() -> None:
    done = apply(ROOMS["glass-fan"], [{"do": "add", "kind": "air-outlet", "at": [1, 1]}], unit="m")
    assert done.room.basis["noise.sources.vent-2"] == "assumed"
    gone = apply(done.room, [{"do": "remove", "items": list(done.created)}], unit="m").room
    assert gone == ROOMS["glass-fan"]


def test_in_feet_new_things_have_sizes_in_whole_inches() -> None:
    room = ROOMS["ten-seats"]
    done = apply(room, [{"do": "add", "kind": "table", "at": [3.048, 1.0]}], unit="ft").room
    (x0, _), (x1, _) = done.furniture["table-2"].outline[:2]  # type: ignore[union-attr]
    inches = (x1 - x0) / 0.0254
    assert inches == pytest.approx(round(inches), abs=1e-6)


@settings(max_examples=60, deadline=None)
@given(
    name=st.sampled_from(sorted(ROOMS)),
    kind=st.sampled_from(KINDS),
    at=st.tuples(st.floats(-1, 12), st.floats(-1, 9)),
)
def test_wherever_something_is_added_it_is_refused_or_reads_back_equal(
    name: str, kind: str, at: tuple[float, float]
) -> None:
    try:
        done = apply(
            ROOMS[name], [{"do": "add", "kind": kind, "at": list(at)}], unit="m", mounts=MOUNTS
        )
        assert codec.parse(codec.dump(done.room)) == done.room
    except (OperationError, DocumentError):
        pass

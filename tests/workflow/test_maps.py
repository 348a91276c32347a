"""Maps of a document: which space, which plane, and the same figures in every form."""

from __future__ import annotations

import csv
import io
import json
import struct
from collections.abc import Callable
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import numpy as np
import pytest

from wellheard.errors import InputError
from wellheard.predict.planes import Plane
from wellheard.workflow import map_pictures, maps
from wellheard.workflow.load import Loaded, load
from wellheard.workflow.maps import OUTBOUND, Asked, RoomMap, room_map

pytestmark = pytest.mark.usefixtures("few_rays")

TWO = """\
wellheard: 1
title: Two Halves
units: m
space:
  outline: [[0, 0], [9.6, 0], [9.6, 4.8], [0, 4.8]]
  walls: [south, east, north, west]
  height: 2.7
  finishes: {walls: plasterboard}
  obstacles: {column: {outline: [[7.0, 3.0], [7.5, 3.0], [7.5, 3.5], [7.0, 3.5]]}}
people:
  seats:
    w1: {at: [1.6, 1.6], facing: 90}
    w2: {at: [3.0, 1.6], facing: 90}
    e1: {at: [6.6, 1.6], facing: 90}
noise: {background: {nc: 25}}
devices:
  m1: {kind: microphone, product: ceiling-head-3, at: [2.1, 2.1, 2.7]}
  m2: {kind: microphone, product: ceiling-head-3, at: [6.9, 2.1, 2.7]}
partitions: {fold: {from: [4.8, 0], to: [4.8, 4.8], stc: 45}}
arrangements: {joined: {open: [fold]}, split: {closed: [fold]}}
"""
M2 = "  m2: {kind: microphone, product: ceiling-head-3, at: [6.9, 2.1, 2.7]}\n"
SVG = "{http://www.w3.org/2000/svg}"

Read = Callable[..., Loaded]


@pytest.fixture
def read(tmp_path: Path) -> Read:
    def made(text: str = TWO) -> Loaded:
        path = tmp_path / "two.room.yaml"
        path.write_text(text, encoding="utf-8")
        return load(path)

    return made


def asked(**changes: Any) -> Asked:
    return Asked(**{"spacing": 0.4, **changes})


def words(found: RoomMap) -> str:
    root = ElementTree.fromstring(map_pictures.picture(found))
    return "\n".join(text.text or "" for text in root.iter(f"{SVG}text"))


def test_an_arrangement_is_mapped_space_by_space_and_each_from_its_own_microphones(
    read: Read,
) -> None:
    joined, split = (room_map(read(), asked(arrangement=name)) for name in ("joined", "split"))
    assert [space.name for space in joined.spaces] == ["joined"]
    assert [space.name for space in split.spaces] == ["split.a", "split.b"]
    west, east = split.covers
    assert west.x.max() < 4.8 < east.x.min()
    # A closed wall halves the room: less absorption, so its own sound comes back louder.
    for cover in split.covers:
        assert [cover.plane.size[0], cover.plane.size[1]] == [4.8, 4.8]


def test_one_space_of_an_arrangement_can_be_mapped_alone(read: Read) -> None:
    found = room_map(read(), asked(arrangement="split.b"))
    assert [space.name for space in found.spaces] == ["split.b"]
    assert "split, space b" in words(found)


def test_without_a_choice_the_arrangement_of_the_worst_seat_is_mapped(read: Read) -> None:
    from wellheard.workflow.design import predict

    loaded = read()
    worst = predict(loaded).leads.partition(".")[0]
    assert room_map(loaded, asked()).arrangement == worst


def test_a_space_without_a_microphone_stays_blank(read: Read) -> None:
    found = room_map(read(TWO.replace(M2, "")), asked(arrangement="split"))
    assert [bool(space.maps) for space in found.spaces] == [True, False]
    assert len(maps.as_json(found)["spaces"]) == 1
    assert "–" in words(found)  # e1 is not assessed
    with pytest.raises(InputError, match="no microphone hears what the plane cuts"):
        room_map(read(TWO.replace(M2, "")), asked(arrangement="split.b"))


def test_a_section_through_two_spaces_is_counted_from_one_end(read: Read) -> None:
    found = room_map(read(), asked(arrangement="split", section=((0.0, 2.0), (9.6, 2.0))))
    west, east = found.covers
    np.testing.assert_array_equal(west.along, east.along)
    known = [~np.isnan(cover.values).all(axis=0) for cover in (west, east)]
    assert not (known[0] & known[1]).any()
    assert west.along[known[0]].max() < 4.8 < east.along[known[1]].min()


@pytest.mark.parametrize("section", [None, ((0.0, 2.0), (9.6, 4.0))])
@pytest.mark.parametrize("quantity", list(OUTBOUND))
def test_json_and_csv_have_the_same_points_and_figures(
    read: Read, quantity: str, section: Any
) -> None:
    found = room_map(read(), asked(quantity=quantity, arrangement="split", section=section))
    answer = json.loads(json.dumps(maps.as_json(found), allow_nan=False))
    rows = list(csv.DictReader(io.StringIO(maps.as_csv(found))))
    key = OUTBOUND[quantity].key
    number = 0
    for space in answer["spaces"]:
        for values, lows in zip(space["values"], space["low"], strict=True):
            for value, low in zip(values, lows, strict=True):
                assert (value is None) == (low is None)
                if value is None:
                    continue
                row = rows[number]
                assert row["space"] == space["name"]
                assert float(row[key]) == pytest.approx(value, abs=1e-9)
                assert float(row[f"{key}_low"]) == pytest.approx(low, abs=1e-9)
                number += 1
    assert number == len(rows) == answer["points"]
    assert min(float(row[key]) for row in rows) == answer["least"]["middle"]
    assert max(float(row[f"{key}_low"]) for row in rows) == answer["most"]["low"]
    worst = next(row for row in rows if float(row[key]) == answer["least"]["middle"])
    place = [float(worst[name]) for name in ("x_m", "y_m", "z_m")]
    assert place == pytest.approx(answer["worst_at"], abs=6e-4)


def test_the_share_that_keeps_the_promise_is_that_of_the_points(read: Read) -> None:
    found = room_map(read(), asked(quantity="direct-to-reverberant", arrangement="joined"))
    values = np.concatenate([cover.known() for cover in found.covers])
    kept = maps.summary(found).kept
    assert kept is not None
    assert kept[0] == pytest.approx(np.count_nonzero(values >= -6.0) / len(values))
    assert kept[1] < kept[0]
    level = maps.with_quantity(found, "level")
    assert maps.summary(level).kept is None


def test_a_picture_says_what_it_shows(read: Read) -> None:
    found = room_map(read(), asked(arrangement="joined", height=1.6, facing=("across", 90.0)))
    said = words(found)
    for part in (
        "Speech transmission index (STI) at the far end",
        "Middle value.",
        "mouth at 1.60 m",
        "facing across or 90° (north), whichever is worse",
        "Two Halves",
        "joined",
        "Lines every 0.0",
        "w1",
    ):
        assert part in said
    low = words(maps.with_quantity(found, "c50", worst=True))
    assert "Low end (10 % point): nine of ten such rooms do better." in low
    assert "Clarity C50 at the microphone, mean of 500 Hz–4 kHz, dB" in low
    assert "promise" not in low


def test_the_low_end_has_lower_figures_at_the_seats(read: Read) -> None:
    found = room_map(read(), asked(quantity="speech-to-noise", arrangement="joined"))
    each = found.spaces[0].seats
    for worst in (False, True):
        said = words(maps.with_quantity(found, "speech-to-noise", worst=worst))
        for values in each.values():
            one = values["speech_to_noise_db"]
            assert f"{one.low if worst else one.value:.1f}" in said.splitlines()


def test_a_png_has_the_size_of_the_picture(read: Read) -> None:
    found = room_map(read(), asked(arrangement="joined"))
    png = map_pictures.png(found)
    assert png[:8] == b"\x89PNG\r\n\x1a\n"
    wide, tall = struct.unpack(">II", png[16:24])  # PNG (ISO/IEC 15948), IHDR
    root = ElementTree.fromstring(map_pictures.picture(found))
    inches = [float(root.attrib[side].removesuffix("mm")) / 25.4 for side in ("width", "height")]
    assert (wide, tall) == (
        pytest.approx(200 * inches[0], abs=2),
        pytest.approx(200 * inches[1], abs=2),
    )


def test_the_same_document_gives_the_same_bytes(read: Read) -> None:
    one, other = (room_map(read(), asked(arrangement="split")) for _ in range(2))
    assert map_pictures.picture(one) == map_pictures.picture(other)
    assert maps.as_csv(one) == maps.as_csv(other)


def test_any_other_plane_gives_arrays_but_no_picture(read: Read) -> None:
    slant = Plane((1.0, 1.0, 0.5), (1.0, 0.0, 0.0), (0.0, 0.8, 0.6), (6.0, 2.5))
    found = room_map(read(), asked(plane=slant, arrangement="joined"))
    points = found.covers[0].points
    # The slope of 3 : 4 of its upward side.
    assert points[-1, 0, 2] - points[0, 0, 2] == pytest.approx(
        0.75 * (points[-1, 0, 1] - points[0, 0, 1])
    )
    assert maps.as_json(found)["plane"]["up"] == [0.0, 0.8, 0.6]
    with pytest.raises(InputError, match="take the arrays"):
        map_pictures.picture(found)


def test_without_microphones_there_is_nothing_to_map(read: Read) -> None:
    bare = TWO[: TWO.index("devices:")] + TWO[TWO.index("partitions:") :]
    with pytest.raises(InputError, match=r"no microphone is placed.*wellheard place"):
        room_map(read(bare), asked())


def test_a_dossier_has_a_page_for_every_quantity_promised_ones_first(read: Read) -> None:
    from wellheard.workflow.design import predict
    from wellheard.workflow.publish import shown_spaces

    loaded = read()
    judged = predict(loaded)
    spaces = shown_spaces(loaded.room, loaded.catalogue, judged)
    pages = map_pictures.dossier_maps(judged.evidence, spaces["split"], "split")
    titles = [ElementTree.fromstring(page).findtext(f"{SVG}title") or "" for page in pages]
    starts = ("Speech transmission", "Direct-to", "Speech-to-noise", "Clarity", "Speech level")
    assert len(titles) == len(starts)
    for title, start in zip(titles, starts, strict=True):
        assert title.startswith(start)
    for page in pages:
        said = [text.text or "" for text in ElementTree.fromstring(page).iter(f"{SVG}text")]
        for words_ in ("Middle value", "Low end (10 % point)"):
            assert any(text.startswith(words_) for text in said)
    bare = TWO[: TWO.index("devices:")] + TWO[TWO.index("partitions:") :]
    empty = read(bare)
    nobody = predict(empty)
    shown = shown_spaces(empty.room, empty.catalogue, nobody)
    assert map_pictures.dossier_maps(nobody.evidence, shown["split"], "split") == ()

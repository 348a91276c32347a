"""The wiring beside the plan: diagram, cables on the plan, schedule and bill, as plain data."""

from __future__ import annotations

import json
import re
import xml.etree.ElementTree as ET
from itertools import pairwise

import pytest

from wellheard.workflow.load import load_text
from wellheard.workflow.wiring_sheet import NO_CABLE, NO_DEVICE, WiringSheet

EMPTY = """\
wellheard: 1
title: Two Racks
space: {outline: [[0, 0], [6, 0], [6, 4], [0, 4]], height: 2.7, ceiling: {void_depth: 0.5}}
people: {seats: {s1: {at: [3, 2], facing: 0}}}
equipment: {rack: {kind: rack, at: [5.7, 0.4, 0.5]}}
"""
LINKLESS = f"""\
{EMPTY}devices:
  m1: {{kind: microphone, product: ceiling-head-3, at: [2, 2, 2.4]}}
  mixer: {{kind: processor, product: bridge-2, equipment: rack}}
"""
LINKED = f"""\
{LINKLESS}links: {{c01: {{from: m1.link, to: mixer.mic-1, cable: twisted-pair}}}}
"""


def sheet(text: str) -> WiringSheet:
    return WiringSheet(load_text(text, "here.room.yaml"))


@pytest.fixture(scope="module")
def linked() -> WiringSheet:
    return sheet(LINKED)


def test_every_box_of_the_document_is_an_item_of_the_plan(linked: WiringSheet) -> None:
    boxes = linked.answer(unit="m")["diagram"]["boxes"]
    paths = {one["path"] for one in boxes}
    assert {"devices.m1", "devices.mixer"} <= paths
    assumed = [one for one in boxes if one["path"] is None]
    assert len(assumed) == 1  # a far end that the document leaves out is nothing to choose
    assert all(one["words"] for one in boxes)


def test_boxes_stand_in_the_picture_that_is_as_large_as_is_said(linked: WiringSheet) -> None:
    answer = linked.answer(unit="m")["diagram"]
    root = ET.fromstring(linked.picture(unit="m", theme="slate"))
    _, _, width, height = map(float, root.attrib["viewBox"].split())
    assert (width, height) == pytest.approx((answer["width"], answer["height"]), abs=0.01)
    for one in answer["boxes"]:
        assert 0 < one["x"] < one["x"] + one["width"] < width
        assert 0 < one["y"] < one["y"] + one["height"] < height


def test_a_cable_lies_on_the_plan_where_it_runs_and_knows_its_ends(linked: WiringSheet) -> None:
    answer = linked.answer(unit="m")
    (route,) = answer["routes"]
    assert route["ends"] == ["devices.m1", "devices.mixer"]
    assert answer["paths"] == [[route["path"], *route["ends"]]]
    points = route["points"]
    # From (2, 2) to the rack at (5.7, 0.4), along x and y: 3.7 + 1.6 m, by hand.
    assert (points[0], points[-1]) == ([2.0, 2.0], [5.7, 0.4])
    steps = [(b[0] - a[0], b[1] - a[1]) for a, b in pairwise(points)]
    assert all(0.0 in step for step in steps)
    assert sum(abs(x) + abs(y) for x, y in steps) == pytest.approx(5.3)


def test_lengths_are_read_in_either_unit_and_cut_as_the_document_has_it(
    linked: WiringSheet,
) -> None:
    metres, feet = (linked.answer(unit=unit)["cables"] for unit in ("m", "ft"))
    # 3.7 + 1.6 m across, 0.45 m up and 2.35 m down, 4 m spare: 12.1 m, cut at 12.5 m.
    assert metres["rows"][0][-2:] == ("12.10", "12.50")
    assert metres["head"][-1] == "Cut\nm"
    # 12.5 m is 492.13 in: 41 ft and an eighth of an inch, which no estimate knows.
    assert feet["rows"][0][-1] == "41'-0\""
    assert linked.answer(unit="m")["total"] == linked.answer(unit="ft")["total"]


def test_the_bill_adds_up_to_its_total(linked: WiringSheet) -> None:
    answer = linked.answer(unit="m")
    tables = [one for one in answer["bill"] if one["kind"] == "table"]
    amounts = [float(row[-1].replace("\u00a0", "")) for one in tables for row in one["rows"]]
    told = re.sub(r"[^\d.]", "", answer["total"].partition(",")[0])
    assert sum(amounts) == pytest.approx(float(told), abs=0.005)
    assert len(amounts) > 3
    json.dumps(answer, allow_nan=False)


@pytest.mark.parametrize(("text", "said"), [(EMPTY, NO_DEVICE), (LINKLESS, NO_CABLE)])
def test_what_is_not_there_is_said_and_never_a_cable(text: str, said: str) -> None:
    answer = sheet(text).answer(unit="m")
    assert answer["sentence"] == said
    assert (answer["cables"], answer["routes"], answer["paths"]) == (None, [], [])

"""Panels of a ceiling wherever a room is looked at: plan, space, side panel, sheet."""

from __future__ import annotations

import dataclasses

import pytest

from wellheard.drawings.plan import plan_sheet
from wellheard.drawings.view import PlanView, TitleBlock
from wellheard.workflow import planmodel, properties, solid
from wellheard.workflow.load import Loaded, load_text
from wellheard.workflow.sheets import level_patches

TEXT = """\
wellheard: 1
space:
  outline: [[0, 0], [6, 0], [6, 4], [0, 4]]
  walls: [south, east, north, west]
  height: 2.7
  ceiling: {kind: hard}
  finishes:
    patches:
      panel: {wall: south, from: 1, to: 3, bottom: 0.9, top: 2.1, finish: wall-panel-50}
      raft: {surface: ceiling, outline: [[1, 1], [4, 1], [4, 3], [1, 3]], finish: ceiling-raft-40}
      rug: {surface: floor, outline: [[0, 0], [2, 0], [2, 4], [0, 4]], finish: carpet-tile}
people:
  seats: {s1: {at: [1, 1]}, s2: {at: [5, 1]}}
"""
RAFT = "space.finishes.patches.raft"


@pytest.fixture(scope="module")
def loaded() -> Loaded:
    return load_text(TEXT, "here.room.yaml")


def test_the_plan_of_the_workbench_has_it_among_what_is_overhead(loaded: Loaded) -> None:
    overhead = {one["path"]: one for one in planmodel.plan(loaded, unit="m")["overhead"]}
    assert overhead[RAFT]["kind"] == "panel"
    assert overhead[RAFT]["outline"] == [[1, 1], [4, 1], [4, 3], [1, 3]]
    assert "space.finishes.patches.rug" not in overhead


def test_the_room_in_space_has_both_at_their_heights(loaded: Loaded) -> None:
    faces = {f.get("path"): f for f in solid.solid(loaded)["faces"]}
    heights = {key: {round(p[2], 1) for p in faces[key]["points"]} for key in (RAFT,)}
    assert heights[RAFT] == {2.7}


def test_the_side_panel_offers_finish_and_sides_and_no_wall(loaded: Loaded) -> None:
    rows = {
        row["path"].removeprefix(RAFT + "."): row["value"]
        for row in properties.aspects(loaded, unit="m")[RAFT]
    }
    assert set(rows) == {"surface", "outline.length", "outline.depth", "finish"}
    assert rows["surface"] == "ceiling"
    on_wall = properties.aspects(loaded, unit="m")["space.finishes.patches.panel"]
    walls = {row["path"] for row in on_wall}
    assert "space.finishes.patches.panel.wall" in walls
    assert not any("outline" in path for path in walls)


def test_the_sheet_draws_it_dashed_and_its_legend_names_it(loaded: Loaded) -> None:
    shown = level_patches(loaded.room)
    assert [(one.id, one.surface) for one in shown] == [("raft", "ceiling"), ("rug", "floor")]
    block = TitleBlock("", "", "Bare room", "", "C-01", "Plan", "1", "A", "", "", "designed")
    bare = PlanView(loaded.room.space.outline, 2.7, block)
    with_panels = dataclasses.replace(bare, level_patches=shown)
    plain, drawn = (plan_sheet(view, embed_fonts=False) for view in (bare, with_panels))
    assert "ceiling panel" in drawn
    assert "ceiling panel" not in plain
    assert drawn.count("stroke-dasharray") > plain.count("stroke-dasharray")

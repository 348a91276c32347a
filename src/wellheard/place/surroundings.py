"""Rules about what else is in the room: housings, beams, faces, papers and the tiles' size."""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import cached_property

import numpy as np

from wellheard.arrays import Array
from wellheard.geometry.polygons import TOUCH
from wellheard.geometry.solids import sight_lines
from wellheard.place.places import Candidate, Standing
from wellheard.predict.devices import other_devices, placed_microphones
from wellheard.predict.hanging import Beam, Hung, beams, cameras, faces, hung_at
from wellheard.predict.housings import (
    Box,
    depth_in_each_other,
    depth_in_wall,
    depths_in_obstacles,
    housings,
    microphone_box,
)
from wellheard.predict.scene import Scene
from wellheard.predict.seating import DRAWN, WorkingPlaces
from wellheard.signal.mounted import told_module

OVERLAPS = "device-overlaps"
BEAM = "pendant-in-projector-beam"
CAMERA = "pendant-in-camera-view"
PAPERS = "microphone-near-papers"
GRID = "grid-mixed"


class Surroundings:
    """What stands, shines or looks in one room, asked candidate by candidate.

    Each rule is off where the document relaxes it. ``wall_gap`` is the distance of a place on the
    plan from the nearest wall. [m]
    """

    def __init__(self, scene: Scene, wall_gap: Callable[[float, float], float]) -> None:
        self.scene = scene
        self.room = scene.room
        self.wall_gap = wall_gap
        self.limit = self.room.targets.house_limit
        rule = self.room.targets.house_rules.get(BEAM)
        self.beam_counts = rule is None or not rule.relaxed

    def refuses(self, candidate: Candidate) -> str:
        """Code of the first of these rules that refuses the place; empty if none does."""
        for code, broken in (
            (GRID, self.grid),
            (OVERLAPS, self._overlaps),
            (PAPERS, self._papers),
        ):
            if broken(candidate):
                return code
        return self.refuses_hung(candidate)

    def refuses_hung(self, candidate: Standing) -> str:
        """The same of the rules about what hangs in a beam of light or before a camera."""
        if candidate.mounting != "ceiling" or not candidate.drop or not self._lights_or_looks:
            return ""
        thing = hung_at("", candidate.at, candidate.product.size, height=self.room.space.height)
        if thing is None:
            return ""
        if self._beam(thing):
            return BEAM
        return CAMERA if self._camera(thing) else ""

    def grid(self, c: Standing) -> bool:
        """Another module than the tiles'; where that is only assumed, nothing is refused."""
        limit, grid = self.limit(GRID), told_module(self.room)
        if limit is None or grid is None or c.fit != "tile":
            return False
        return c.product.tile_gap(grid) > limit + TOUCH

    def _overlaps(self, c: Candidate) -> bool:
        def box() -> Box:
            return microphone_box("", c.product, c.at, aim_deg=c.aim_deg, mounting=c.mounting)

        return self.overlaps(c, box)

    def overlaps(self, c: Standing, housing: Callable[[], Box]) -> bool:
        """Whether its housing reaches into another one that stays, a wall or a column."""
        limit = self.limit(OVERLAPS)
        if limit is None:
            return False
        reach = math.hypot(*c.product.size[:2]) / 2
        near = [b for b in self._boxes if math.dist(b.at[:2], c.at[:2]) < b.reach + reach]
        at_wall = self.wall_gap(*c.at[:2]) < reach
        if not near and not at_wall and not self.room.space.obstacles:
            return False
        box = housing()
        if any(depth_in_each_other(box, other) > limit + TOUCH for other in near):
            return True
        if at_wall and depth_in_wall(self.room, box) > limit + TOUCH:
            return True
        touched = depths_in_obstacles(self.room, box, rounding=limit)
        return any(depth > limit + TOUCH for _, depth in touched)

    @cached_property
    def _boxes(self) -> list[Box]:
        """All that stays: a microphone that is not locked goes."""
        room, catalogue = self.room, self.scene.catalogue
        kept = (m for m in placed_microphones(room, catalogue, self.scene.talkers) if m.locked)
        return housings(room, kept, other_devices(room, catalogue))

    def _papers(self, c: Candidate) -> bool:
        """Inside a working place; near to one, placement may go."""
        limit = self.limit(PAPERS)
        if limit is None or c.mounting != "table":
            return False
        found = self._working_places.nearest(c.at)
        return found is not None and found[1] <= DRAWN and found[1] < limit - DRAWN

    @cached_property
    def _working_places(self) -> WorkingPlaces:
        return WorkingPlaces.of(self.room, self.scene.talkers)

    def _beam(self, thing: Hung) -> bool:
        return self.beam_counts and any(
            beam.light.depth(part) > TOUCH
            for beam in self._beams
            for part in (thing.body, thing.rod)
        )

    @cached_property
    def _lights_or_looks(self) -> bool:
        return bool(self._beams or self._cameras)

    @cached_property
    def _beams(self) -> tuple[Beam, ...]:
        return beams(self.room)

    def _camera(self, thing: Hung) -> bool:
        face = self.limit(CAMERA)
        if face is None or not self._cameras or not len(self._faces):
            return False
        body = thing.body
        around = math.hypot(body.radius, body.half) + face
        if body.middle[2] - self._highest >= around:
            return False  # clear of every line of sight, whichever way it runs
        for lens in self._cameras.values():
            distance, wanted = sight_lines(body, lens, self._faces, radius=face)
            if bool(np.any(distance < wanted - TOUCH)):
                return True
        return False

    @cached_property
    def _cameras(self) -> dict[str, Array]:
        return cameras(self.room)

    @cached_property
    def _faces(self) -> Array:
        return faces(self.scene.talkers)

    @cached_property
    def _highest(self) -> float:
        """Of all lenses and mouths. [m]"""
        return max(*(float(lens[2]) for lens in self._cameras.values()), self._faces[:, 2].max())

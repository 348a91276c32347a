"""IFC to a found plan: spaces as rooms, and in each what stands in it and hangs over it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import Any

import numpy as np

from wellheard.cad import THING_PROPERTIES, Role
from wellheard.errors import InputError
from wellheard.importers.found import (
    Asked,
    FoundOpening,
    FoundPlan,
    FoundRoom,
    FoundThing,
    Noted,
    UnitUnstated,
)
from wellheard.importers.ifc.asking import FAULTS, Entity, Unusable, told
from wellheard.importers.ifc.ceilings import Levels, coverings, levels_of
from wellheard.importers.ifc.opening import Opened, opened
from wellheard.importers.ifc.openings import KINDS, Holes, bounded_by
from wellheard.importers.ifc.own import (
    CEILINGS,
    Said,
    grid_said,
    materials_said,
    own_opening,
    room_said,
    wall_names_said,
    word,
)
from wellheard.importers.ifc.placing import Places
from wellheard.importers.ifc.roles import Roles
from wellheard.importers.ifc.shapes import Shapes
from wellheard.importers.ifc.spaces import (
    SMALLEST,
    Space,
    give_keys,
    is_group,
    is_outdoors,
    space_of,
    storey_of,
)
from wellheard.importers.ifc.things import CANDIDATES, Contents, Sorter
from wellheard.importers.ifc.units import METRES, Units, units_of
from wellheard.importers.ifc.walls import CLASSES, Walls, wall_materials

MOST_ROOMS = 2_000
MOST_STROKES = 4_000
_NEXT = "export the model with its rooms (IfcSpace) and their shapes"


def read_ifc(path: Path, asked: Asked) -> FoundPlan:
    """Return what is in a building model.

    Parameters
    ----------
    path : Path
        IFC2X3, IFC4 or IFC4X3 in the STEP form.
    asked : Asked
        Its ``layers`` are classes, such as ``IfcFurn*``; its unit counts only where the model
        states none.

    Returns
    -------
    FoundPlan
        Rooms in the coordinates of the model, heights above the floor of each. [m]

    Raises
    ------
    UnitUnstated
        The model states no unit of length, and nobody else did.
    InputError
        The library is not installed, the file cannot be read, or it has no room in it.
    """
    return _Reader(path, opened(path), asked).plan()


@dataclass
class _Reader:
    """Reads one model; it keeps the model for as long as its entities are in use."""

    path: Path
    opened: Opened
    asked: Asked

    def __post_init__(self) -> None:
        self.model: Any = self.opened.model
        self.units: Units = units_of(self.model)
        self.roles = Roles(self.asked)
        self.counts: Counter[tuple[bool, str, str, str]] = Counter()
        scale = self.units.length or METRES.get(self.asked.unit or "", 1.0)
        self.shapes = Shapes(
            self.model, scale, self.units.angle, Places(scale), self.opened.damaged
        )

    def plan(self) -> FoundPlan:
        spaces = self._spaces()
        if not self.units.length and self.asked.unit is None:
            raise self._unstated(spaces)
        walls = Walls(self.shapes)
        holes = Holes(self.shapes, bounded_by(self._all("IfcRelSpaceBoundary")))
        walls.read(one for name in CLASSES for one in self._all(name))
        holes.read((one, kind) for name, kind in KINDS.items() for one in self._all(name))
        covered = list(coverings(self._all("IfcCovering"), self.shapes))
        levels = [levels_of(space, covered, self.shapes) for space in spaces]
        for space, level in zip(spaces, levels, strict=True):
            # What hangs above a suspended ceiling is none of its room.
            space.height, space.height_source = level.height, level.height_source
            space.warnings += level.warnings
        sorter = Sorter(spaces, self.shapes, self.roles, self.counts)
        sorter.sort(self._candidates())
        rooms = tuple(
            self._room(space, contents, level, walls, holes)
            for space, contents, level in zip(spaces, sorter.contents, levels, strict=True)
        )
        self._count_shell(walls, holes)
        warnings = [f"{s.key}: {said}" for s in spaces for said in dict.fromkeys(s.warnings)]
        return FoundPlan(
            format=self.opened.schema,
            unit=self.units.name or self.asked.unit or "m",
            unit_source="stated in the model" if self.units.length else "as asked",
            rooms=rooms,
            report=tuple(
                Noted(taken, what, count, where, why)
                for (taken, what, where, why), count in sorted(
                    self.counts.items(), key=lambda item: (not item[0][0], item[0][1:])
                )
            ),
            strokes=tuple(islice(walls.strokes(), MOST_STROKES)),
            layers=self._layers(sorter.roles_of),
            warnings=(
                *self._about_faults(),
                *self._about_unit(),
                *warnings,
                *self._about_picks(),
            ),
        )

    def _about_picks(self) -> tuple[str, ...]:
        for name in {one.is_a() for one in self.model.by_type("IfcProduct")}:
            self.roles.picked(name)
        return self.roles.picks.unfitted("class")

    def _all(self, name: str) -> Iterator[Entity]:
        """Yield the entities of a class that the user has not left out."""
        try:
            found = self.model.by_type(name)
        except RuntimeError:  # no class of this schema
            return
        yield from (one for one in found if self.roles.picked(one.is_a()) != "ignore")

    def _candidates(self) -> Iterator[Entity]:
        seen: set[int] = set()
        for name in (*CANDIDATES, *self._picked_classes()):
            for one in self._all(name):
                if one.id() not in seen:
                    seen.add(one.id())
                    yield one

    def _picked_classes(self) -> list[str]:
        """Classes in the model that the user has picked for anything but rooms."""
        return [
            name
            for name in sorted({one.is_a() for one in self.model.by_type("IfcProduct")})
            if self.roles.picked(name) not in (None, "ignore", "room")
        ]

    def _spaces(self) -> list[Space]:
        """Rooms of the model with their plans, keys given; whatever is none is counted."""
        entities = (
            [
                one
                for one in self.model.by_type("IfcProduct")
                if self.roles.picked(one.is_a()) == "room"
            ]
            if self.roles.picks_rooms()
            else list(self._all("IfcSpace"))
        )
        spaces: list[Space] = []
        for entity in entities:
            name = entity.is_a()
            try:
                if is_outdoors(entity) or is_group(entity):
                    why = "outdoors" if is_outdoors(entity) else "only other spaces together"
                    self.counts[False, "room", name, why] += 1
                elif len(spaces) >= MOST_ROOMS:
                    self.counts[False, "room", name, f"more than {MOST_ROOMS}"] += 1
                else:
                    space = space_of(entity, self.shapes)
                    if _area(space) < SMALLEST:
                        self.counts[False, "room", name, f"smaller than {SMALLEST:g} m²"] += 1
                        continue
                    spaces.append(space)
                    self.counts[True, "room", name, ""] += 1
            except Unusable as error:
                self.counts[False, "room", name, str(error)] += 1
            except FAULTS:
                self.counts[False, "room", name, "it cannot be read"] += 1
        if not spaces:
            raise InputError(f"{self.path}: {self._no_room(len(entities))}; {_NEXT}")
        give_keys(spaces)
        return spaces

    def _no_room(self, count: int) -> str:
        if not count:
            return "no room (IfcSpace) in this model"
        whys = [
            f"{n} × {why}" for (taken, what, _, why), n in self.counts.most_common() if not taken
        ]
        return f"none of its {count} rooms can be used ({'; '.join(whys[:4])})"

    def _unstated(self, spaces: list[Space]) -> UnitUnstated:
        """The refusal of a model without a unit, with the size of its largest room for each."""
        largest = np.array(max(spaces, key=_area).outline)
        width, depth = (float(v) for v in largest.max(axis=0) - largest.min(axis=0))
        sizes = sorted(
            ((unit, width * metres, depth * metres) for unit, metres in METRES.items()),
            key=lambda size: abs(np.log(max(size[1], 1e-9) / 8.0)),
        )
        return UnitUnstated(
            f"{self.path}: the model states no unit of length; say which: {', '.join(METRES)}",
            tuple(sizes),
        )

    def _about_faults(self) -> Iterator[str]:
        if self.opened.faults:
            yield (
                f"The file is damaged: {self.opened.faults} faults in its text were passed over. "
                "Look at the preview closely."
            )

    def _about_unit(self) -> Iterator[str]:
        if self.units.length and self.asked.unit not in (None, self.units.name):
            yield (
                f"The unit that was asked for ({self.asked.unit}) is not used: the model states "
                f"its own, {self.units.name}."
            )

    def _room(
        self,
        space: Space,
        contents: Contents,
        levels: Levels,
        walls: Walls,
        holes: Holes,
    ) -> FoundRoom:
        said = room_said(space.sets)
        turned = self.shapes.place(space.entity)[0, 0] < 1.0 - 1e-9
        if said is not None and not turned:
            return self._own_room(space, contents, said)
        columns = [
            FoundThing("column", hole, _middle(hole), 0.0, space.height, "void in the plan")
            for hole in space.holes
        ]
        if columns:
            self.counts[True, "column", space.entity.is_a(), ""] += len(columns)
        return FoundRoom(
            key=space.key,
            name=space.name,
            outline=space.outline,
            source=f"{space.source} of {space.entity.is_a()}",
            height=space.height,
            height_source=space.height_source,
            ceiling_kind=levels.kind,
            grid=levels.grid,
            openings=holes.of(space),
            things=(*contents.things, *columns),
            seats=tuple(contents.seats),
            devices=tuple(contents.devices),
            materials=levels.materials | wall_materials(space, walls),
            storey=storey_of(space.entity),
            void_depth=levels.void_depth,
        )

    def _own_room(self, space: Space, contents: Contents, said: Said) -> FoundRoom:
        """A room of ours, in the coordinates of its document moved to where its space stands."""
        x, y = (float(v) for v in self.shapes.place(space.entity)[:2, 3])
        outline = self.shapes.prisms(space.entity)[0].outer
        kind = word(said, "CeilingKind")
        void = said.get("VoidDepth")
        return FoundRoom(
            key=space.key,
            name=space.name,
            outline=tuple((float(px), float(py)) for px, py in outline),
            source="room of a model of ours",
            datum=(x, y),
            owned=True,
            height=space.height,
            height_source=space.height_source,
            ceiling_kind=next((one for one in CEILINGS if one == kind), None),
            grid=grid_said(said, (x, y)),
            openings=tuple(self._own_openings(space)),
            things=tuple(contents.things),
            seats=tuple(contents.seats),
            devices=tuple(contents.devices),
            materials=materials_said(said),
            storey=storey_of(space.entity),
            void_depth=float(void) if isinstance(void, float) else None,
            wall_names=wall_names_said(said),
        )

    def _own_openings(self, space: Space) -> Iterator[FoundOpening]:
        for covering in self._all("IfcCovering"):
            own: Mapping[str, Any] | None = told(covering).get(THING_PROPERTIES)
            wall = own.get("Wall") if own else None
            if own is None or not isinstance(wall, int) or not 0 <= wall < len(space.outline):
                continue
            try:
                points = self.shapes.points(covering)
            except Unusable as error:
                self.counts[False, "patch", covering.is_a(), str(error)] += 1
                continue
            start = np.array(space.outline[wall])
            end = np.array(space.outline[(wall + 1) % len(space.outline)])
            run = (points[:, :2] - start) @ ((end - start) / np.linalg.norm(end - start))
            low, high = points[:, 2].min() - space.floor, points[:, 2].max() - space.floor
            opening = own_opening(
                own, float(run.min()), float(run.max() - run.min()), float(low), float(high)
            )
            if opening is not None:
                self.counts[True, opening.kind, covering.is_a(), ""] += 1
                yield opening

    def _count_shell(self, walls: Walls, holes: Holes) -> None:
        for wall in walls.walls:
            self.counts[True, "wall", wall.entity.is_a(), ""] += 1
        for (name, why), count in walls.faults.items():
            self.counts[False, "wall", name, why] += count
        for hole in holes.holes:
            if hole.entity.id() in holes.used:
                self.counts[True, hole.kind, hole.entity.is_a(), ""] += 1
            else:
                self.counts[False, hole.kind, hole.entity.is_a(), "on no wall of a room"] += 1
        for (name, why), count in holes.faults.items():
            self.counts[False, KINDS[name], name, why] += count

    def _layers(self, roles_of: Mapping[str, Role]) -> Mapping[str, tuple[int, Role | None]]:
        """Products by class, with what each was taken for."""
        numbers = Counter(one.is_a() for one in self.model.by_type("IfcProduct"))
        shell: dict[str, Role] = {"IfcSpace": "room", "IfcDoor": "door", "IfcWindow": "window"}

        def role(name: str) -> Role | None:
            wall: Role | None = "wall" if name.startswith(CLASSES) else None
            return roles_of.get(name) or shell.get(name) or wall

        return {name: (count, role(name)) for name, count in sorted(numbers.items())}


def _area(space: Space) -> float:
    import shapely

    return float(shapely.Polygon(space.outline, space.holes).area)


def _middle(ring: tuple[tuple[float, float], ...]) -> tuple[float, float]:
    corners = np.array(ring)
    x, y = (corners.min(axis=0) + corners.max(axis=0)) / 2
    return float(x), float(y)

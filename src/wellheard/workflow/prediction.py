"""Everything that is predicted of one room, each part when somebody first asks for it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cached_property
from typing import Final

from wellheard.catalog.catalogue import Catalogue
from wellheard.drawings.livemap import LiveMap, live_map
from wellheard.drawings.view import FieldMap, FieldPiece
from wellheard.predict.coverage import Coverage, SeatValue
from wellheard.predict.evidence import Evidence
from wellheard.predict.listening_map import at_ears
from wellheard.predict.parts import PartEvidence, PartScene, build_parts
from wellheard.predict.scene import Scene
from wellheard.room.document import Room
from wellheard.units import Unit
from wellheard.workflow.design import Judged, judge
from wellheard.workflow.map_pictures import LOW_END, MIDDLE, conditions
from wellheard.workflow.maps import (
    INBOUND,
    OUTBOUND,
    QUANTITIES,
    Asked,
    Mapped,
    MappedSpace,
    RoomMap,
    at_places,
    mapped_spaces,
    target_of,
)

SEAT_CLEAR, DEVICE_CLEAR = 0.35, 0.3
"""No label of a map stands so near to the middle of a seat, or of a device. [m]"""

FIRST_OF: Final = {False: next(iter(OUTBOUND)), True: next(iter(INBOUND))}
"""A quantity of the way out, and of the way in."""


class Prediction:
    """Everything that is predicted of one room, each part when it is first asked for."""

    def __init__(self, room: Room, catalogue: Catalogue) -> None:
        self.room, self.catalogue = room, catalogue
        self._drawn: dict[tuple[str, bool], LiveMap] = {}
        self._spaces: dict[bool, tuple[MappedSpace, ...]] = {}

    @cached_property
    def scenes(self) -> tuple[PartScene, ...]:
        """The room, or every space of every arrangement, ready for sound."""
        return build_parts(self.room, self.catalogue)

    @cached_property
    def judged(self) -> Judged:
        """Evidence and findings, the same as ``wellheard predict`` has."""
        return judge(self.room, self.catalogue, scenes=self.scenes)

    @cached_property
    def shown(self) -> tuple[tuple[PartScene, PartEvidence], ...]:
        """The room, or the spaces of the arrangement in which the worst seat is."""
        judged = self.judged
        if not judged.parts:
            (only,) = self.scenes
            return ((only, PartEvidence(only.part, judged.evidence)),)
        arrangement = judged.leads.partition(".")[0]
        return tuple(
            (scene, PartEvidence(part.part, part.evidence))
            for scene, part in zip(self.scenes, judged.parts, strict=True)
            if part.part.arrangement == arrangement
        )

    @cached_property
    def values(self) -> dict[str, dict[str, SeatValue]]:
        """Every quantity at every talking point, as it is in its worst arrangement."""
        judged = self.judged
        if not judged.parts:
            return at_places(self.scenes[0].scene, judged.evidence)
        each = {p.name: at_places(p.scene, p.evidence) for p in judged.parts}
        found = {
            row.talker.id: dict(each[row.arrangement][row.talker.id])
            for row in judged.evidence.outbound
        }
        if judged.evidence.playback is not None:
            for name, heard in at_ears(self.room, judged.evidence.playback).items():
                found[name] = {**found.get(name, {}), **heard}
        return found

    def spaces(self, mapped: Mapped) -> tuple[MappedSpace, ...]:
        """Maps of every quantity of the same way, of every space that is shown."""
        way = mapped.is_inbound
        if way not in self._spaces:
            parts = [(s.scene, e) for s, e in self.shown]
            self._spaces[way] = mapped_spaces(self.room, parts, Asked(FIRST_OF[way]))
        return self._spaces[way]

    @property
    def arrangement(self) -> str:
        """Key of the arrangement whose map is shown; '' for a room that does not divide."""
        return self.shown[0][0].part.arrangement

    def drawn(self, quantity: str, *, worst: bool) -> LiveMap:
        """One map, drawn once."""
        if (quantity, worst) not in self._drawn:
            pieces = self.pieces(quantity, worst=worst)
            self._drawn[quantity, worst] = live_map(pieces, keep_off=_keep_off(self.room))
        return self._drawn[quantity, worst]

    def pieces(self, quantity: str, *, worst: bool) -> list[FieldPiece]:
        """One map, space by space."""
        mapped = QUANTITIES[quantity]
        target = target_of(self.judged.evidence, mapped)
        return [
            piece_of(space.maps[mapped.key], space.scene.room, mapped, worst=worst, target=target)
            for space in self.spaces(mapped)
            if space.maps
        ]

    def conditions(
        self, spaces: Sequence[MappedSpace], quantity: str, *, worst: bool, unit: Unit
    ) -> str:
        """Whose map it is: which value, and who talks how; lengths in ``unit``."""
        told = self.room.model_copy(update={"units": unit})
        evidence = replace(self.judged.evidence, room=told)
        asked = Asked(quantity)
        found = RoomMap(asked, evidence, tuple(spaces), self.arrangement, document="")
        return f"{LOW_END if worst else MIDDLE}. {conditions(found)}"

    def space_of(self, name: str) -> tuple[Scene, Evidence]:
        """One space by its name, '' for the room itself."""
        for part in self.judged.parts:
            if part.name == name:
                return part.scene, part.evidence
        return self.scenes[0].scene, self.judged.evidence


def piece_of(
    cover: Coverage, room: Room, mapped: Mapped, *, worst: bool, target: float | None
) -> FieldPiece:
    """The map of one space as it is drawn."""
    field = FieldMap(
        values=cover.low if worst else cover.values,
        x=cover.x,
        y=cover.y,
        quantity=mapped.title,
        unit=mapped.unit,
        target=target,
        step=mapped.step,
        decimals=mapped.decimals,
    )
    return FieldPiece(field, room.space.outline)


def _keep_off(room: Room) -> list[tuple[tuple[float, float], float]]:
    seats = [((s.at[0], s.at[1]), SEAT_CLEAR) for s in room.people.seats.values()]
    devices = [
        ((d.at[0], d.at[1]), DEVICE_CLEAR) for d in room.devices.values() if d.at is not None
    ]
    return [*seats, *devices]

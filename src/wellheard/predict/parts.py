"""The scenes of a room that divides: one for each space of each arrangement."""

from __future__ import annotations

from dataclasses import dataclass

from wellheard.catalog.catalogue import Catalogue
from wellheard.predict.scene import Scene, build
from wellheard.room.divide import Part, parts
from wellheard.room.document import Room


@dataclass(frozen=True)
class PartScene:
    """One space of one arrangement, made ready for sound."""

    part: Part
    scene: Scene


def build_parts(room: Room, catalogue: Catalogue) -> tuple[PartScene, ...]:
    """Scene of every part of a room, in the order of `wellheard.room.divide.parts`.

    A room without arrangements is its only part.

    Raises
    ------
    CatalogError
        A finish or product of the document is not in the catalogue.
    """
    return tuple(PartScene(part, build(part.room, catalogue)) for part in parts(room))

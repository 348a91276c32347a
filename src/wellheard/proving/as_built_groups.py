"""Which surfaces of a room a decay may calibrate, which stay as published, and how sure each is."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from wellheard.acoustics.decay_table import LEAST_KEPT
from wellheard.acoustics.enclosure import FIRST_WALL, Enclosure, Prism
from wellheard.arrays import Array
from wellheard.catalog.catalogue import Catalogue
from wellheard.geometry.overlap import area_beside
from wellheard.geometry.polygons import perimeter, polygon_area
from wellheard.predict import tolerances
from wellheard.predict.alternatives import changed
from wellheard.predict.enclosures import enclosure
from wellheard.predict.surfaces import bands
from wellheard.proving.case import listed
from wellheard.room.document import Room
from wellheard.room.finishes import FinishRef, InlineFinish, Patch

NAMED: Final = ("glass", "glaz", "window", "door")
"""Words in the name of a finish or patch that other rules read: nothing is fixed to glass, and a
door is where people come in. Such a surface keeps its name, and so its published absorption."""

LEAST_ABSORBED, MOST_ABSORBED = 0.01, 0.99
"""No surface absorbs less or more [C]: the air at a bare wall takes about a hundredth."""

MOST_FACTOR: Final = 4.0
"""On −ln(1 − α) of one finish, up and down; common practice, no source [C]: published figures for
one kind of finish are a factor of two apart, mounting and wear make another."""

OBJECTS: Final = "people, chairs and furniture"
GLASS: Final = "glass and doors"
BOUGHT: Final = "finishes of the bill"

Divided = Callable[[Room], Room]
"""From the document to the space of it that was measured."""


@dataclass(frozen=True, eq=False)
class Group:
    """Surfaces of one finish, calibrated by one factor per octave.

    Attributes
    ----------
    name : str
        Which surfaces, in words.
    finish : str
        Id in the catalogue; '' where figures stand in the document.
    paths : tuple of str
        Of their finishes in the document.
    surfaces : tuple of int
        In the enclosure.
    area : float
        [m²]
    absorption : ndarray, shape (7,)
        As the document has it, with no more than 0.99.
    factor : float
        On the σ of published absorption, by how the finish is known.
    """

    name: str
    finish: str
    paths: tuple[str, ...]
    surfaces: tuple[int, ...]
    area: float
    absorption: Array
    factor: float

    @property
    def exponent(self) -> Array:
        """−ln(1 − α), shape (7,)."""
        return exponents(self.absorption)

    def scaled(self, log_factor: Array) -> Array:
        """Absorption with ``exp(log_factor)`` times that exponent."""
        return np.asarray(-np.expm1(-self.exponent * np.exp(log_factor)))

    def bounds(self, most_factor: float = MOST_FACTOR) -> tuple[Array, Array]:
        """Least and greatest logarithm of the factor, shape (7,) each; 0 lies between."""
        own = np.log(np.maximum(self.exponent, LEAST_KEPT))
        least, most = (np.log(-np.log1p(-a)) for a in (LEAST_ABSORBED, MOST_ABSORBED))
        widest = np.log(most_factor)
        return (
            np.minimum(np.maximum(least - own, -widest), 0.0),
            np.maximum(np.minimum(most - own, widest), 0.0),
        )


@dataclass(frozen=True, eq=False)
class Held:
    """What absorbs and stays as published, with why."""

    name: str
    why: str
    surfaces: tuple[int, ...]
    factor: float


@dataclass(frozen=True, eq=False)
class Grouped:
    """The surfaces of the space that was measured."""

    enclosure: Enclosure
    groups: tuple[Group, ...]
    held: tuple[Held, ...]

    def holding(self, indices: Collection[int], why: str) -> Grouped:
        """The same with some of its groups held."""
        stay = tuple(g for i, g in enumerate(self.groups) if i not in indices)
        gone = [g for i, g in enumerate(self.groups) if i in indices]
        more = tuple(Held(g.name, why, g.surfaces, g.factor) for g in gone)
        return replace(self, groups=stay, held=(*self.held, *more))

    @property
    def members(self) -> tuple[Group | Held, ...]:
        """Groups, then what is held."""
        return (*self.groups, *self.held)

    def sigma(self) -> tuple[Array, Array]:
        """σ of ln(factor) of each group and of what is held, shapes (groups, 7), (held, 7).

        Notes
        -----
        Surfaces err each for itself. Each is as unsure as makes the whole room as unsure as its
        blind prediction is in published cases (`tolerances.BLIND_LOG_TIME_SIGMA`): with q the
        share of the absorption that it has, σ = σ_blind / √Σq².
        """
        area = areas(self.enclosure)[:, None] * exponents(self.enclosure.absorption)
        each = [area[list(one.surfaces)].sum(axis=0) for one in self.members]
        share = np.array(each) / np.maximum(area.sum(axis=0), LEAST_KEPT)
        blind = np.asarray(tolerances.BLIND_LOG_TIME_SIGMA)
        one = blind / np.sqrt(np.maximum(np.square(share).sum(axis=0), LEAST_KEPT))
        factors = np.array([x.factor for x in self.members])
        sigma = factors[:, None] * one
        return sigma[: len(self.groups)], sigma[len(self.groups) :]


def exponents(absorption: Array) -> Array:
    """−ln(1 − α), finite.

    Examples
    --------
    >>> exponents(np.array([0.0, 0.5])).round(3)
    array([0.   , 0.693])
    """
    return np.asarray(0.0 - np.log(np.maximum(1.0 - absorption, LEAST_KEPT)))


@dataclass(frozen=True)
class _Named:
    """One field of the document that says a finish."""

    path: str
    kind: str
    name: str
    finish: FinishRef


def grouped(room: Room, catalogue: Catalogue, divided: Divided) -> Grouped:
    """Surfaces of a document in groups of one finish each.

    Parameters
    ----------
    room : Room
        The whole document, with people and air of the session.
    catalogue : Catalogue
        Of its finishes.
    divided : callable
        What makes of it the space that was measured.

    Notes
    -----
    Which surfaces a field of the document decides is asked of the enclosure itself: they are
    those that change with it. Floor and ceiling are groups of their own; of what stands upright,
    walls, their patches, obstacles and partitions of one finish are one group.
    """
    room = by_wall(room)
    plain = enclosure(divided(room), catalogue)
    bought = {one.id for one in catalogue.treatments}
    area = areas(plain)
    found: dict[tuple[str, FinishRef], list[tuple[_Named, tuple[int, ...]]]] = {}
    held: dict[str, list[int]] = {GLASS: [], BOUGHT: []}
    for one in _fields(room):
        surfaces = _decided(room, one.path, plain, catalogue, divided)
        if not surfaces:
            continue
        said = f"{one.name if one.kind == 'patch' else ''} {one.finish}"
        if isinstance(one.finish, str) and one.finish in bought:
            held[BOUGHT].extend(surfaces)
        elif any(word in said for word in NAMED):
            held[GLASS].extend(surfaces)
        else:
            level = one.kind if one.kind in ("floor", "ceiling") else "upright"
            found.setdefault((level, one.finish), []).append((one, surfaces))
    groups = tuple(
        _group(room, level, finish, members, plain, area)
        for (level, finish), members in found.items()
    )
    taken = {i for one in groups for i in one.surfaces} | {i for s in held.values() for i in s}
    held[OBJECTS] = [i for i in range(len(plain.names)) if i not in taken]
    return Grouped(plain, groups, tuple(_held(room, name, s) for name, s in held.items() if s))


def by_wall(room: Room) -> Room:
    """Room with its one finish of walls written for each of them."""
    space = room.space
    each = {name: space.wall_finish(name) for name in space.walls}
    return room if isinstance(space.finishes.walls, dict) else changed(room, WALLS, each)


WALLS: Final = "space.finishes.walls"


def _fields(room: Room) -> Iterator[_Named]:
    space = room.space
    yield _Named("space.finishes.floor", "floor", "floor", space.floor_finish)
    yield _Named("space.finishes.ceiling", "ceiling", "ceiling", space.ceiling_finish)
    for name in space.walls:
        yield _Named(f"{WALLS}.{name}", "wall", name, space.wall_finish(name))
    for name, patch in space.finishes.patches.items():
        kind = "patch" if isinstance(patch, Patch) else patch.surface
        yield _Named(f"space.finishes.patches.{name}.finish", kind, name, patch.finish)
    for name, obstacle in space.obstacles.items():
        yield _Named(f"space.obstacles.{name}.finish", "obstacle", name, obstacle.finish)
    for name, partition in room.partitions.items():
        yield _Named(f"partitions.{name}.finish", "partition", name, partition.finish)


def _decided(
    room: Room, path: str, plain: Enclosure, catalogue: Catalogue, divided: Divided
) -> tuple[int, ...]:
    """Surfaces of an enclosure whose absorption changes with a field of the document."""
    found: set[int] = set()
    for value in (0.25, 0.75):  # what absorbs as one of them does not as the other
        marked = changed(room, path, InlineFinish(absorption=bands(np.full(7, value))))
        moved = enclosure(divided(marked), catalogue).absorption != plain.absorption
        found |= set(np.flatnonzero(moved.any(axis=1)).tolist())
    return tuple(sorted(found))


def _group(
    room: Room,
    level: str,
    finish: FinishRef,
    members: list[tuple[_Named, tuple[int, ...]]],
    plain: Enclosure,
    area: Array,
) -> Group:
    surfaces = tuple(sorted({i for _, own in members for i in own}))
    fields = [one for one, _ in members]
    return Group(
        name=_words(level, fields),
        finish=finish if isinstance(finish, str) else "",
        paths=tuple(one.path for one in fields),
        surfaces=surfaces,
        area=float(area[list(surfaces)].sum()),
        absorption=plain.absorption[surfaces[0]],
        factor=max(_factor(room, one.path) for one in fields),
    )


def _factor(room: Room, path: str) -> float:
    return tolerances.FINISH_FACTOR[tolerances.basis_of(room, path)]


def _words(level: str, fields: list[_Named]) -> str:
    """Which surfaces a group has.

    Examples
    --------
    >>> each = [_Named("", "wall", "east", "x"), _Named("", "wall", "west", "x")]
    >>> _words("upright", [*each, _Named("", "patch", "board", "x")])
    'walls east and west, board'
    """
    walls = [one.name for one in fields if one.kind == "wall"]
    rest = [
        one.name if level in ("upright", one.name) else f"{one.name} on the {level}"
        for one in fields
        if one.kind != "wall"
    ]
    named = [f"{'walls' if len(walls) > 1 else 'wall'} {listed(walls)}"] if walls else []
    return ", ".join((*named, *rest))


def _held(room: Room, name: str, surfaces: list[int]) -> Held:
    why = {
        GLASS: "other rules read their names",
        BOUGHT: "the bill has them by their names",
        OBJECTS: "the document has no figures of its own for it",
    }[name]
    return Held(name, why, tuple(surfaces), _factor(room, "space.finishes"))


def areas(enclosure: Enclosure) -> Array:
    """Area of every surface, patches taken from what they lie on, shape (S,) [m²]."""
    found = np.zeros(len(enclosure.names))
    found[:FIRST_WALL] = enclosure.floor_area
    found[FIRST_WALL : FIRST_WALL + len(enclosure.walls)] = (
        enclosure.wall_lengths * enclosure.height
    )
    for patch in enclosure.patches:
        own = (patch.end - patch.start) * (patch.top - patch.bottom)
        found[patch.surface] += own
        found[FIRST_WALL + patch.wall] -= own
    for level in enclosure.level_patches:
        own = area_beside(level.outline, enclosure.columns)
        found[level.surface] += own
        found[level.on] -= own
    for one in enclosure.objects:
        found[one.surface] += _around(one)
    return np.maximum(found, 0.0)


def _around(prism: Prism) -> float:
    upright = perimeter(prism.outline) * (prism.top - prism.bottom)
    return upright + 2.0 * abs(polygon_area(prism.outline))

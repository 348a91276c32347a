"""Where loudspeakers may stand: places by mounting, and the rules that refuse them.

::

    ════▽═════════▽════     centre of a tile, or a grid
    ▷  ┌───────────┐  ◁     beside the picture, at the walls
    │  │  picture  │  │
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from wellheard.arrays import Mask
from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.products import Fit, Loudspeaker
from wellheard.geometry.overlap import depth_of_overlap
from wellheard.geometry.polygons import TOUCH, edge_lengths, edge_normals
from wellheard.place.places import FLOOR_UP, PICTURE_GAP, ceiling_points, open_spacing
from wellheard.place.setting_out import first_allowed
from wellheard.place.spaces import Spaces
from wellheard.place.surroundings import GRID, OVERLAPS
from wellheard.predict.evidence import Point
from wellheard.predict.housings import Box, loudspeaker_box
from wellheard.predict.pairs import BESIDE
from wellheard.predict.scene import Scene
from wellheard.predict.talkers import display_place
from wellheard.room.devices import Device
from wellheard.room.document import Room
from wellheard.room.furniture import Display, Screen
from wellheard.signal.mounted import held_by, mounting_of
from wellheard.units import format_length

WALL_GRID = 0.9
WALL_HEIGHT = 2.1
"""Spacing along a wall, and height above the floor, of wall loudspeakers (common practice) [m]."""

KEEP_OUT = "loudspeaker-in-keep-out"
PICTURE = "loudspeaker-over-picture"
HEAD_HEIGHT = "head-height-under-pendant"
SIGHT_LINE = "sight-line-crossed"
PARTITION = "loudspeaker-in-partition"


@dataclass(frozen=True)
class Sounding:
    """One loudspeaker product at one place."""

    product: Loudspeaker
    at: Point
    mounting: str
    drop: float | None
    fit: Fit | None
    id: str | None = None
    """Id of a device of the document that stays; None for a new one."""

    @property
    def device(self) -> Device:
        """As a new device of the document."""
        return Device(kind="loudspeaker", product=self.product.id, at=self.at)

    @property
    def box(self) -> Box:
        """Its housing, turned as a new device of the document is."""
        return loudspeaker_box("", self.product, self.at)


@dataclass(frozen=True)
class SoundingOptions:
    """Places that the rules allow, locked loudspeakers first, and how many they refused."""

    allowed: tuple[Sounding, ...]
    locked: tuple[int, ...]
    refused: dict[str, int]
    places: str
    """The places tried, in words, for the proof's scope."""
    products: tuple[Loudspeaker, ...]
    holding: Mask = field(repr=False, compare=False)
    """Which stands in which space, shape (spaces, candidates)."""


def loudspeakers_left(room: Room, catalogue: Catalogue) -> tuple[Loudspeaker, ...]:
    """Loudspeakers that the document's choices leave, those preferred first.

    Without ``choices.allow`` they are the current ones that need no naming; discontinued ones are
    never left.
    """
    choices = room.choices
    named = [catalogue.product(name) for name in choices.allow]
    found = [
        one
        for one in (named or catalogue.loudspeakers)
        if isinstance(one, Loudspeaker)
        and (one.chosen_by_name if named else one.chosen_unnamed)
        and one.id not in choices.exclude
        and any(mounting in choices.mounting for mounting in one.mountings)
    ]
    preferred = {name: i for i, name in enumerate(choices.prefer)}
    return tuple(sorted(found, key=lambda one: preferred.get(one.id, len(preferred))))


def loudspeakers(spaces: Spaces, products: tuple[Loudspeaker, ...]) -> SoundingOptions:
    """Every allowed place of every product, and the locked loudspeakers of the document.

    Parameters
    ----------
    spaces : Spaces
        The room, without the devices that placement may take away.
    products : tuple of Loudspeaker
        What may be chosen.
    """
    locked = tuple(_locked(spaces.whole))
    allowed, refused = list(locked), Counter[str]()
    for candidate in _tried(spaces, products):
        placed, broken = first_allowed(
            _set_out(spaces, candidate), lambda one: _refuses(spaces, one)
        )
        allowed += placed
        if broken:
            refused[broken] += 1
    words = dict.fromkeys(
        _in_words(spaces.whole.room, one, mounting)
        for one in products
        for mounting in _mountings(spaces.whole.room, one)
    )
    return SoundingOptions(
        allowed=tuple(allowed),
        locked=tuple(range(len(locked))),
        refused=dict(sorted(refused.items())),
        places="; ".join(filter(None, words)),
        products=products,
        holding=spaces.holding(allowed),
    )


def _locked(scene: Scene) -> Iterator[Sounding]:
    room = scene.room
    for name, device in room.devices.items():
        product = scene.catalogue.product(device.product)
        if isinstance(product, Loudspeaker) and device.at is not None:
            mounting = mounting_of(room, product, device.at)
            drop = room.space.height - device.at[2] if mounting == "ceiling" else None
            yield Sounding(product, device.at, mounting, drop, None, id=name)


def _mountings(room: Room, product: Loudspeaker) -> list[str]:
    return [one for one in room.choices.mounting if one in product.mountings]


def _tried(spaces: Spaces, products: Sequence[Loudspeaker]) -> Iterator[Sounding]:
    """Places of every product, each once, and only where the document reads them so."""
    for product in products:
        seen: set[tuple[float, ...]] = set()
        for mounting in _mountings(spaces.whole.room, product):
            for ground in spaces.grounds:
                for one in _places(ground, product, mounting):
                    key = tuple(round(v, 3) for v in one.at)
                    if (
                        key in seen
                        or not spaces.offer(one)
                        or mounting_of(spaces.whole.room, product, one.at) != mounting
                    ):
                        continue
                    seen.add(key)
                    yield one


def _set_out(spaces: Spaces, one: Sounding) -> Iterator[Sounding]:
    """A place as it can be set out with a tape, as long as the document still reads it so."""
    for at, drop in spaces.tape.around(one):
        if mounting_of(spaces.whole.room, one.product, at) == one.mounting:
            yield replace(one, at=at, drop=drop)


def _places(scene: Scene, product: Loudspeaker, mounting: str) -> Iterator[Sounding]:
    if mounting == "ceiling":
        yield from _ceiling(scene.room, product)
    elif mounting == "front":
        yield from _fronts(scene.room, product)
    elif mounting == "wall":
        yield from _walls(scene.room, product)


def _ceiling(room: Room, product: Loudspeaker) -> Iterator[Sounding]:
    fits = held_by(room, product)
    if not fits:
        return
    longest = room.choices.max_drop
    for drop in product.drops:
        if drop >= room.space.height or (longest is not None and drop > longest + TOUCH):
            continue
        for x, y in ceiling_points(room, fits[0]):
            at = (float(x), float(y), room.space.height - drop)
            yield Sounding(product, at, "ceiling", drop, fits[0])


def _fronts(room: Room, product: Loudspeaker) -> Iterator[Sounding]:
    """A pair on both sides of a picture; a single one below it and above it."""
    inward = edge_normals(np.asarray(room.space.outline, dtype=np.float64))
    for name, item in room.furniture.items():
        if item.kind not in ("display", "screen"):
            continue
        x, y, z = display_place(room, name)
        normal = inward[room.space.walls.index(item.wall)]
        off, tall = product.size[1] / 2, product.size[2]
        if product.units == 2 and not _room_beside(room, item, product):
            continue
        gap = item.size[1] / 2 + PICTURE_GAP + tall / 2
        for height in (z,) if product.units == 2 else (z - gap, z + gap):
            if max(FLOOR_UP, tall / 2) <= height <= room.space.height - tall / 2:
                at = (float(x + normal[0] * off), float(y + normal[1] * off), float(height))
                yield Sounding(product, at, "front", None, None)


def _room_beside(room: Room, picture: Display | Screen, product: Loudspeaker) -> bool:
    """Whether the wall of a picture goes on far enough for a pair on both sides of it."""
    (x0, y0), (x1, y1) = room.space.wall_ends(picture.wall)
    half = picture.size[0] / 2 + BESIDE + product.size[0] / 2
    length = math.hypot(x1 - x0, y1 - y0)
    return half <= picture.centre[0] <= length - half


def _walls(room: Room, product: Loudspeaker) -> Iterator[Sounding]:
    outline = np.asarray(room.space.outline, dtype=np.float64)
    inward, lengths = edge_normals(outline), edge_lengths(outline)
    height = min(WALL_HEIGHT, room.space.height - product.size[2] / 2 - 0.05)
    for index, start in enumerate(outline):
        along = (np.roll(outline, -1, axis=0)[index] - start) / lengths[index]
        count = int(lengths[index] // WALL_GRID)
        first = (lengths[index] - (count - 1) * WALL_GRID) / 2
        for step in range(count):
            spot = start + along * (first + step * WALL_GRID) + inward[index] * product.size[1] / 2
            yield Sounding(product, (float(spot[0]), float(spot[1]), height), "wall", None, None)


def _refuses(spaces: Spaces, candidate: Sounding) -> str:
    """Code of the first rule that refuses a place in any arrangement; empty if none does."""
    if spaces.divided and spaces.in_partition(candidate):
        return PARTITION
    for space in spaces.each:
        if not space.holds(candidate):
            continue
        rules = space.rules
        for code, broken in (
            (KEEP_OUT, rules.keep_out(candidate)),
            (HEAD_HEIGHT, rules.head_height(candidate)),
            (SIGHT_LINE, rules.sight_line(candidate)),
            (GRID, rules.surroundings.grid(candidate)),
            (PICTURE, _over_picture(space.scene.room, candidate)),
            (OVERLAPS, rules.surroundings.overlaps(candidate, lambda: candidate.box)),
        ):
            if broken:
                return code
        hung = rules.surroundings.refuses_hung(candidate)
        if hung:
            return hung
    return ""


def _over_picture(room: Room, candidate: Sounding) -> bool:
    """Whether a loudspeaker on a wall hangs before a picture; those of the front stand beside."""
    if candidate.mounting != "wall":
        return False
    wide, _, tall = candidate.product.size
    for name, item in room.furniture.items():
        if item.kind not in ("display", "screen"):
            continue
        x, y, z = display_place(room, name)
        aside = math.dist((x, y), candidate.at[:2])
        if (
            aside < (item.size[0] + max(wide, candidate.product.size[1])) / 2
            and abs(z - candidate.at[2]) < (item.size[1] + tall) / 2
        ):
            return True
    return False


def in_each_other(candidates: Sequence[Sounding], limit: float | None) -> Mask:
    """Pairs of new loudspeakers that are in one place, shape (candidates, candidates)."""
    count = len(candidates)
    found = np.zeros((count, count), dtype=np.bool_)
    if limit is None or not count:
        return found
    boxes = [c.box for c in candidates]
    found = boxes_meet(boxes, boxes, limit)
    np.fill_diagonal(found, False)
    return found


def boxes_meet(ones: Sequence[Box], others: Sequence[Box], limit: float) -> Mask:
    """Which housings reach into which by more than ``limit``, shape (ones, others)."""
    found = np.zeros((len(ones), len(others)), dtype=np.bool_)
    if not ones or not others:
        return found
    at = [np.array([box.at[:2] for box in boxes]) for boxes in (ones, others)]
    reach = [np.array([box.reach for box in boxes]) for boxes in (ones, others)]
    apart = np.linalg.norm(at[0][:, None] - at[1][None], axis=-1)
    top = np.minimum.outer([b.top for b in ones], [b.top for b in others])
    bottom = np.maximum.outer([b.bottom for b in ones], [b.bottom for b in others])
    near = (apart < reach[0][:, None] + reach[1][None]) & (top > bottom)
    first, second = np.nonzero(near)
    if not len(first):
        return found
    aside = depth_of_overlap(
        np.stack([ones[i].corners for i in first.tolist()]),
        np.stack([others[i].corners for i in second.tolist()]),
    )
    found[first, second] = np.minimum(aside, (top - bottom)[first, second]) > limit + TOUCH
    return found


def _in_words(room: Room, product: Loudspeaker, mounting: str) -> str:
    if mounting == "ceiling":
        fits = held_by(room, product)
        if not fits:
            return ""
        if room.space.ceiling.kind == "tiles" and fits[0] != "hard":
            return "loudspeakers at the centre of every whole ceiling tile"
        spacing = format_length(open_spacing(room), unit=room.units)
        return f"loudspeakers on a {spacing} grid on the ceiling"
    if mounting == "front":
        return "loudspeakers beside, below and above every picture"
    if mounting == "wall":
        return (
            f"loudspeakers every {format_length(WALL_GRID, unit=room.units)} along the walls, "
            f"{format_length(WALL_HEIGHT, unit=room.units)} above the floor"
        )
    return ""

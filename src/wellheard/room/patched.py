"""What patches of walls, ceiling and floor contradict."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from wellheard.forms.refusals import Refusal
from wellheard.forms.source import Path
from wellheard.room.divide import NEAR
from wellheard.room.document import Room
from wellheard.room.faults import edge_of, polygon_faults, printed, unknown, wall_length


def patch_faults(room: Room, walls: Sequence[str] | None) -> Iterator[Refusal]:
    """What is told of single walls, and patches of walls, ceiling and floor.

    Parameters
    ----------
    room : Room
        Each of its fields is well formed.
    walls : sequence of str, optional
        Names to know; null is not known.
    """
    space, unit = room.space, room.units
    yield from _level_overlaps(room)
    if walls is None or len(space.walls) != len(space.outline):
        return
    for name in space.isolation:
        if name not in walls:
            yield unknown(("space", "isolation", name), "wall", name, walls, key=True)
    finishes = space.finishes.walls
    base: Path = ("space", "finishes", "patches")
    if isinstance(finishes, dict):
        for name in finishes:
            if name not in walls:
                yield unknown(("space", "finishes", "walls", name), "wall", name, walls, key=True)
    fits: dict[str, list[str]] = {}
    for key, patch in space.finishes.wall_patches.items():
        path = (*base, key)
        if patch.wall not in walls:
            yield unknown((*path, "wall"), "wall", patch.wall, walls)
            continue
        length = wall_length(room, patch.wall)
        good = True
        if patch.to > length + NEAR:
            good = False
            yield Refusal(
                (*path, "to"),
                f"{printed(patch.to, unit)} is past the end of wall {patch.wall}",
                f"at most {printed(length, unit)}",
            )
        if patch.top > space.height + NEAR:
            good = False
            yield Refusal(
                (*path, "top"),
                f"{printed(patch.top, unit)} is above the ceiling",
                f"at most {printed(space.height, unit)}",
            )
        for low, high, a, b in (
            ("from", "to", patch.from_, patch.to),
            ("bottom", "top", patch.bottom, patch.top),
        ):
            if a >= b:
                good = False
                yield Refusal(
                    (*path, high),
                    f"{printed(b, unit)} is not beyond {low} {printed(a, unit)}",
                    f"{low} below {high}",
                )
        if not good:
            continue
        for other in fits.setdefault(patch.wall, []):
            rival = space.finishes.wall_patches[other]
            if (
                min(patch.to, rival.to) - max(patch.from_, rival.from_) > NEAR
                and min(patch.top, rival.top) - max(patch.bottom, rival.bottom) > NEAR
            ):
                yield Refusal(path, f"overlaps patch {other}", "patches beside each other")
        fits[patch.wall].append(key)


def _level_overlaps(room: Room) -> Iterator[Refusal]:
    """Patches of ceiling or floor that lie over one another."""
    from wellheard.geometry.overlap import width_of

    patches = room.space.finishes.level_patches
    if len(patches) < 2:
        return
    import shapely  # 0.1 s, and few rooms have two patches on what is level

    shapes = {
        key: shapely.Polygon(one.outline)
        for key, one in patches.items()
        if not any(polygon_faults((), one.outline, room.units, edge=edge_of(one.outline)))
    }
    keys = list(shapes)
    first, second = shapely.STRtree(list(shapes.values())).query(
        list(shapes.values()), predicate="intersects"
    )
    for one, other in sorted(zip(first.tolist(), second.tolist(), strict=True)):
        key, rival = keys[one], keys[other]
        if other >= one or patches[key].surface != patches[rival].surface:
            continue
        if width_of(shapes[key].intersection(shapes[rival])) > NEAR:
            yield Refusal(
                ("space", "finishes", "patches", key),
                f"overlaps patch {rival}",
                "patches beside each other",
            )

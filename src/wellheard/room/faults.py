"""Words that more than one kind of contradiction is told in, and what is wrong with an outline."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import TYPE_CHECKING, Any

from wellheard.forms.refusals import Refusal, listed, near
from wellheard.forms.source import Path
from wellheard.room.divide import NEAR
from wellheard.room.document import Room
from wellheard.units import Unit, format_length

if TYPE_CHECKING:
    from wellheard.arrays import Array


def printed(metres: float, unit: Unit) -> str:
    return format_length(metres, unit=unit)


def array_of(points: Sequence[Sequence[float]]) -> Array:
    import numpy as np

    return np.array(points, dtype=float)


def polygon_faults(
    path: Path, outline: tuple[tuple[float, float], ...], unit: Unit, *, edge: Callable[[int], str]
) -> Iterator[Refusal]:
    """Faults of any outline, without regard to its direction."""
    from wellheard import geometry

    polygon = array_of(outline)
    lengths = geometry.edge_lengths(polygon)
    last = len(outline) - 1
    short = [i for i in range(len(outline)) if lengths[i] < NEAR]
    for i in short:
        if i == last:
            yield Refusal(
                (*path, last), "the last corner repeats the first", "leave the last one out"
            )
        else:
            yield Refusal(
                (*path, i + 1), f"repeats corner {i + 1}", "corners apart from each other"
            )
    if short:
        return
    crossed = geometry.edge_conflicts(polygon)
    for i, j in crossed[:3]:
        yield Refusal(
            (*path, j), f"{edge(j)} crosses or touches {edge(i)}", "corners in order round the edge"
        )
    if not crossed and abs(geometry.polygon_area(polygon)) < 1e-4:
        yield Refusal(path, "encloses no area", "three or more corners round an area")


def edge_of(outline: Sequence[Any]) -> Callable[[int], str]:
    n = len(outline)
    return lambda i: f"the edge from corner {i + 1} to {(i + 1) % n + 1}"


def wall_length(room: Room, name: str) -> float:
    (x0, y0), (x1, y1) = room.space.wall_ends(name)
    return float(((x1 - x0) ** 2 + (y1 - y0) ** 2) ** 0.5)


def unknown(
    path: Path, kind: str, name: str, known: Sequence[str], *, key: bool = False
) -> Refusal:
    if not known:
        return Refusal(path, f"there is no {kind} {name}", f"the document has no {kind} yet", key)
    shown = listed(known if len(known) <= 12 else (*known[:12], "…"))
    return Refusal(path, f"there is no {kind} {name}", near(name, known, else_=shown), key)

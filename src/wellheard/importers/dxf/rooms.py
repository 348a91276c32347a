"""Where rooms are in a plan: closed outlines, or what walls enclose."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from wellheard.importers.dxf.openings import is_leaf
from wellheard.importers.dxf.pieces import NOBODY, Flattened, Piece
from wellheard.importers.dxf.things import Seen
from wellheard.importers.dxf.walls import Box, Faces, enclosed
from wellheard.importers.found import Point, Ring
from wellheard.importers.names import Roles
from wellheard.importers.outlines import few_enough, fits_a_room, shell_of, simple

if TYPE_CHECKING:
    import shapely

MOST_ROOMS = 200
"""In one plan; the largest."""
MOST_LINES = 60_000
"""That are cut with one another to find what they enclose."""


@dataclass(frozen=True, slots=True)
class Site:
    """A room's outline, where it comes from in words, and the pieces that drew it."""

    outline: Ring
    source: str
    pieces: tuple[int, ...] = ()
    thickness: float = 0.0


@dataclass(slots=True)
class Sought:
    """Rooms that were found, and what was thought of on the way."""

    sites: list[Site]
    bridges: tuple[tuple[Point, Point], ...]
    warnings: list[str]


def sought(flat: Flattened, roles: Roles, seen: Sequence[Seen]) -> Sought:
    """Return the rooms of a plan, the largest first; of equals as a page is read.

    Outlines on layers of rooms are believed first; then what walls enclose; then closed outlines
    on layers of no known kind; last whatever lines of no known kind enclose. Where the user has
    picked the layers of rooms or of walls, only those count.
    """
    warnings: list[str] = []
    picked = roles.named & {"room", "wall"}  # then nothing else is a room
    sites = _outlines(flat, roles, warnings) if picked != {"wall"} else []
    bridges: tuple[tuple[Point, Point], ...] = ()
    if not sites and picked != {"room"}:
        sites, bridges = _between_walls(flat, roles, seen, warnings)
    if not sites and not picked:
        sites = _unspecific(flat, roles, warnings)
    if not sites and not picked:
        sites, bridges = _between_lines(flat, roles, seen, warnings)
    kept = [fewer for site in sites if (fewer := _fewer(site, warnings)) is not None]
    kept = sorted(_distinct(kept), key=_as_read)
    if len(kept) > MOST_ROOMS:
        warnings.append(f"{len(kept)} rooms; only the {MOST_ROOMS} largest are listed")
    return Sought(kept[:MOST_ROOMS], bridges, warnings)


def _as_read(site: Site) -> tuple[float, float, float]:
    """Order of a room among the others: largest first, then rows from the north, each eastwards."""
    room = _polygon(site)
    west, _, _, north = room.bounds
    return -round(room.area, 2), -round(north, 1), west


def _polygon(site: Site) -> shapely.Polygon:
    import shapely

    return shapely.Polygon(site.outline)


def _fewer(site: Site, warnings: list[str]) -> Site | None:
    outline, off = few_enough(site.outline)
    if off:
        warnings.append(
            f"an outline with {len(site.outline)} corners was drawn with {len(outline)}, at most "
            f"{1000 * off:.0f} mm off"
        )
    if not outline:
        return None
    return Site(outline, site.source, site.pieces, site.thickness)


def _distinct(sites: Iterable[Site]) -> Iterable[Site]:
    """Rooms that were drawn twice, once."""
    kept: list[tuple[Site, shapely.Polygon]] = []
    for site in sites:
        polygon = _polygon(site)
        same = any(
            abs(other.area - polygon.area) < 0.02 * polygon.area
            and other.intersection(polygon).area > 0.98 * polygon.area
            for _, other in kept
            if abs(other.area - polygon.area) < 0.02 * polygon.area
        )
        if not same:
            kept.append((site, polygon))
    return [site for site, _ in kept]


# Closed outlines ----------------------------------------------------------------------------------


def _outlines(flat: Flattened, roles: Roles, warnings: list[str]) -> list[Site]:
    """Rooms on layers of rooms: closed outlines, and what loose lines there enclose."""
    there = [i for i, p in enumerate(flat.pieces) if roles.layer(p.layer) == "room"]
    sites = _closed(flat, there, warnings)
    if sites:
        return sites
    faces = enclosed([flat.pieces[i].points for i in there], (), bare=False)
    return _sites(flat, there, faces.polygons, "lines on")


def _closed(flat: Flattened, pieces: Sequence[int], warnings: list[str]) -> list[Site]:
    import shapely

    sites = []
    for i in pieces:
        piece = flat.pieces[i]
        if not _is_closed(piece):
            continue
        ring, crossed = simple(piece.points)
        if not ring or not fits_a_room(shapely.Polygon(ring)):
            continue
        if crossed:
            warnings.append(
                f"an outline on {piece.layer} crosses itself; the larger part of it is taken"
            )
        sites.append(Site(ring, f"closed outline on {piece.layer}", (i,), piece.thickness))
    return sites


def _is_closed(piece: Piece) -> bool:
    if piece.closed:
        return True
    if len(piece.points) < 4:
        return False
    (ax, ay), (bx, by) = piece.points[0], piece.points[-1]
    return abs(ax - bx) < 0.006 and abs(ay - by) < 0.006


def _layers(flat: Flattened, pieces: Iterable[int]) -> str:
    names = sorted({flat.pieces[i].layer for i in pieces})
    return ", ".join(names[:3]) + (" and others" if len(names) > 3 else "")


def _unspecific(flat: Flattened, roles: Roles, warnings: list[str]) -> list[Site]:
    """Closed outlines on layers of no known kind, without frames round others."""
    import shapely

    there = [
        i
        for i, piece in enumerate(flat.pieces)
        if roles.layer(piece.layer) is None
        and piece.kind != "HATCH"
        and not roles.ignored(piece.layer)
    ]
    sites = _closed(flat, there, warnings)
    polygons = [_polygon(site) for site in sites]
    marks = [shapely.Point(word.at) for word in flat.words]
    marks += [shapely.Point(placed.at[:2]) for placed in flat.placed if placed.parent == NOBODY]
    tree = shapely.STRtree(marks)
    held = [len(tree.query(polygon, predicate="contains")) for polygon in polygons]
    kept = []
    for k, site in enumerate(sites):
        inner = [m for m in range(len(sites)) if m != k and polygons[k].contains(polygons[m])]
        outer = [m for m in range(len(sites)) if m != k and polygons[m].contains(polygons[k])]
        frame = any(held[m] for m in inner)
        piece_of_another = bool(outer) and not held[k]
        if not frame and not piece_of_another:
            kept.append(site)
        elif frame:
            warnings.append(
                f"a closed outline on {flat.pieces[site.pieces[0]].layer} holds others with "
                "something in them; it is taken for a frame"
            )
    return kept


# What lines enclose -------------------------------------------------------------------------------


def _between_walls(
    flat: Flattened, roles: Roles, seen: Sequence[Seen], warnings: list[str]
) -> tuple[list[Site], tuple[tuple[Point, Point], ...]]:
    there = [i for i, p in enumerate(flat.pieces) if roles.layer(p.layer) == "wall"]
    there = [i for i in there if flat.pieces[i].kind != "HATCH"]
    glazing = [i for one in seen if one.role == "window" for i in one.pieces]
    return _faces(flat, there, glazing, _fillings(flat, roles, seen), "walls on", warnings)


def _between_lines(
    flat: Flattened, roles: Roles, seen: Sequence[Seen], warnings: list[str]
) -> tuple[list[Site], tuple[tuple[Point, Point], ...]]:
    there = [
        i
        for i, p in enumerate(flat.pieces)
        if roles.layer(p.layer) in (None, "wall")
        and p.kind != "HATCH"
        and not roles.ignored(p.layer)
        and not is_leaf(p)
    ]
    return _faces(flat, there, [], _fillings(flat, roles, seen), "lines on", warnings)


def _fillings(flat: Flattened, roles: Roles, seen: Sequence[Seen]) -> list[Box]:
    """Boxes of doors and windows, and of arcs like those of doors on layers of no known kind."""
    boxes = [
        _box([p for i in one.pieces for p in flat.pieces[i].points])
        for one in seen
        if one.role in ("door", "window")
    ]
    boxes += [
        _box([*piece.points, piece.centre])
        for piece in flat.pieces
        if piece.centre is not None
        and roles.layer(piece.layer) in (None, "wall")
        and is_leaf(piece)
    ]
    return boxes


def _box(points: Sequence[Point]) -> Box:
    xs, ys = [x for x, _ in points], [y for _, y in points]
    return min(xs), min(ys), max(xs), max(ys)


def _faces(
    flat: Flattened,
    there: list[int],
    glazing: list[int],
    fillings: list[Box],
    words: str,
    warnings: list[str],
) -> tuple[list[Site], tuple[tuple[Point, Point], ...]]:
    there = [i for i in there if not is_leaf(flat.pieces[i])]
    if sum(len(flat.pieces[i].points) for i in [*there, *glazing]) > MOST_LINES:
        warnings.append(
            f"more than {MOST_LINES} lines may be walls; pick the layer of walls or of rooms"
        )
        return [], ()
    paths = [flat.pieces[i].points for i in [*there, *glazing]]
    faces = enclosed(paths, fillings, bare=False)
    if not faces.polygons and there:
        faces = enclosed(paths, fillings, bare=True)
        if faces.polygons:
            warnings.append(
                "walls enclose a room only when doorways without a door are bridged; look at the "
                "outline"
            )
    if not faces.polygons:
        return [], ()
    return _sites(flat, there, _outer(faces), words), faces.bridges


def _sites(
    flat: Flattened, there: Sequence[int], faces: Sequence[shapely.Polygon], words: str
) -> list[Site]:
    """Rooms of faces, with the lines that bound each."""
    tree, origin = _tree(flat, there)
    sites = []
    for face in faces:
        bounding = tuple(
            origin[k] for k in tree.query(face.exterior, predicate="dwithin", distance=0.01)
        )
        thickness = max((flat.pieces[i].thickness for i in bounding), default=0.0)
        source = f"{words} {_layers(flat, bounding)}"
        sites.append(Site(shell_of(face), source, bounding, thickness))
    return [site for site in sites if site.outline]


def _tree(flat: Flattened, there: Sequence[int]) -> tuple[shapely.STRtree, list[int]]:
    """Tree of pieces that are lines, and which they are."""
    import shapely

    origin = [i for i in there if len(flat.pieces[i].points) > 1]
    return shapely.STRtree([shapely.LineString(flat.pieces[i].points) for i in origin]), origin


def _outer(faces: Faces) -> list[shapely.Polygon]:
    """Faces but those that stand free in the floor of another, such as a table's."""
    import shapely

    holes = [shapely.Polygon(hole) for face in faces.polygons for hole in face.interiors]
    tree = shapely.STRtree(holes)
    return [
        face
        for face in faces.polygons
        if not len(tree.query(face.representative_point(), predicate="within"))
    ]

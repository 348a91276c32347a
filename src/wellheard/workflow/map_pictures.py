"""From arrays to what a map shows: figures rounded, words chosen, nothing predicted."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

import numpy as np

from wellheard import __version__
from wellheard.arrays import Array
from wellheard.dossier.writers.typst_png import write_png
from wellheard.drawings import view
from wellheard.drawings.fieldmap import figure, span_of
from wellheard.drawings.mapsheet import (
    MAP_STYLE,
    PAIR_STYLE,
    LevelPanel,
    MapWords,
    Panel,
    Shown,
    map_picture,
    paper_of,
)
from wellheard.drawings.sectionmap import (
    MicrophoneMark,
    MouthMark,
    SectionPanel,
    SectionPiece,
    Standing,
)
from wellheard.drawings.tokens import ThemeName
from wellheard.errors import InputError
from wellheard.predict.coverage import SEATED, Coverage, Facing, SeatValue
from wellheard.predict.evidence import Evidence
from wellheard.predict.planes import Plane, section_plane, solids, spans
from wellheard.room.divide import closed_in, spoken
from wellheard.room.document import Room
from wellheard.schedules.labels import room_names
from wellheard.units import format_length
from wellheard.workflow.maps import (
    QUANTITIES,
    Asked,
    MappedSpace,
    RoomMap,
    at_places,
    most_of,
    share_words,
    summary,
)
from wellheard.workflow.sheets import Space, plan_view

NEAR = 0.6
"""Seats and microphones this near to an upright plane are shown on it as being there. [m]"""

MARGIN = 4.0
"""Blank paper round a picture that stands alone. [mm]"""

AT_SEATS = "Figures at seats are for each seat's own mouth and facings."
AT_EARS = "Figures at seats are for each seat's own ear."
MIDDLE, LOW_END = "Middle value", "Low end (10 % point): nine of ten such rooms do better"


def picture(found: RoomMap, *, theme: ThemeName = "white", embed_fonts: bool = True) -> str:
    """Return one map as SVG, with every word that it needs to stand alone.

    Raises
    ------
    InputError
        The plane is neither that of a plan nor an upright one.
    """
    low = found.asked.worst
    words = MapWords(
        title=title(found),
        conditions=f"{LOW_END if low else MIDDLE}. {conditions(found)} {_at_places(found)}",
        note=_kept(found, low=low),
        foot=_foot(found),
    )
    panel = _panel(found, low=low, span=None, paired=False)
    width, tallest = paper_of(panel)
    return map_picture(
        [Shown(panel)],
        words,
        width=width,
        tallest=tallest,
        margin=MARGIN,
        theme=theme,
        embed_fonts=embed_fonts,
    )


def png(found: RoomMap, *, theme: ThemeName = "white") -> bytes:
    """Return one map as a PNG picture.

    Raises
    ------
    InputError
        As `picture`.
    """
    return write_png(picture(found, theme=theme, embed_fonts=False))


def pair(found: RoomMap, *, width: float, tallest: float) -> str:
    """Return middle values and low ends as one SVG for a page, with the same lines in both."""
    key = found.asked.mapped.key
    both = [
        cover.known(low=low)
        for s in found.spaces
        if s.maps
        for cover in (s.maps[key],)
        for low in (False, True)
    ]
    span = span_of(np.concatenate(both))
    shown = [
        Shown(_panel(found, low=low, span=span, paired=True), head, _kept(found, low=low))
        for head, low in ((MIDDLE, False), (LOW_END, True))
    ]
    words = MapWords(title(found), f"{conditions(found)} {_at_places(found)}")
    return map_picture(shown, words, width=width, tallest=tallest, embed_fonts=False)


DOSSIER_MAPS = {"m": (168.0, 195.0), "ft": (173.0, 178.0)}
"""Width of a page's text and height that its two maps may take, A4 and US Letter. [mm]"""


def dossier_maps(evidence: Evidence, spaces: Sequence[Space], arrangement: str) -> tuple[str, ...]:
    """Return a page's picture for each quantity, promised ones first; none without microphones.

    Parameters
    ----------
    evidence : Evidence
        Of the whole room.
    spaces : sequence of Space
        Of the room itself, or of one arrangement, with their maps.
    arrangement : str
        Its key; '' for a room that has none.
    """
    if not any(space.maps for space in spaces):
        return ()
    places = [at_places(space.scene, space.evidence) for space in spaces]
    each = []
    for quantity, mapped in QUANTITIES.items():
        # A space may be heard and not played to, or the other way round.
        shown = tuple(
            MappedSpace("", s.scene, s.evidence, _only(s.maps, mapped.key), seats)
            for s, seats in zip(spaces, places, strict=True)
        )
        if any(space.maps for space in shown):
            each.append(RoomMap(Asked(quantity), evidence, shown, arrangement, document=""))
    width, tallest = DOSSIER_MAPS[evidence.room.units]
    return tuple(
        pair(found, width=width, tallest=tallest)
        for found in sorted(each, key=lambda one: one.target is None)
    )


def _only(maps: Mapping[str, Coverage], key: str) -> dict[str, Coverage]:
    return {key: maps[key]} if key in maps else {}


def _panel(found: RoomMap, *, low: bool, span: tuple[float, float] | None, paired: bool) -> Panel:
    if found.asked.is_plan:
        style = PAIR_STYLE if paired else MAP_STYLE
        return LevelPanel(_plan(found, low=low, span=span), style)
    if found.asked.section is None:
        raise InputError(
            "only level planes over all of the room and upright ones are drawn; take the arrays"
        )
    return _section(found, found.asked.section, low=low, span=span)


# ---- words -------------------------------------------------------------------------------


def title(found: RoomMap) -> str:
    """The quantity with its unit."""
    mapped = found.asked.mapped
    return f"{mapped.title}, {mapped.unit}" if mapped.unit else mapped.title


def _at_places(found: RoomMap) -> str:
    return AT_EARS if found.asked.mapped.is_inbound else AT_SEATS


def _of_ears(found: RoomMap) -> str:
    """Where, what is played, and what of the promise the line is."""
    room, asked = found.evidence.room, found.asked
    if asked.section is not None:
        a, b = (_at(room, point) for point in asked.section)
        where = f"Section from {a} (left) to {b}; an ear anywhere on it"
    else:
        where = f"Ear at {format_length(asked.height, unit=room.units)}"
    playback = next(s.evidence.playback for s in found.spaces if s.evidence.playback is not None)
    said = f"{where}; the far end plays at {figure(playback.target_dba, 0)} dBA, mean of the ears"
    most = most_of(found.evidence, asked.mapped)
    if found.target is None or math.isinf(most):
        return f"{said}."
    return f"{said}; {found.target:g}–{most:g} dBA is promised."


def conditions(found: RoomMap) -> str:
    """Where, and who talks how or what is played: a sentence."""
    room, asked = found.evidence.room, found.asked
    if asked.mapped.is_inbound:
        return _of_ears(found)
    if asked.section is not None:
        a, b = (_at(room, point) for point in asked.section)
        where = f"Section from {a} (left) to {b}; a mouth anywhere on it"
    else:
        who = "Seated talker" if math.isclose(asked.height, 1.2) else "Talker"
        where = f"{who}, mouth at {format_length(asked.height, unit=room.units)}"
    ways = list(dict.fromkeys(facing_words(cover.facing) for cover in found.covers))
    several = any(len(cover.facing) > 1 for cover in found.covers)
    worst = ", whichever is worse" if several else ""
    return f"{where}, facing {' or '.join(ways)}{worst}."


def _kept(found: RoomMap, *, low: bool) -> str:
    """On how much of the map the promise is kept; '' where nothing is promised."""
    kept = summary(found).kept
    if kept is None:
        return ""
    share = kept[1 if low else 0]
    if share == 1.0:
        return "The promise is kept all over this map."
    if share == 0.0:
        return "The promise is missed all over this map."
    if _only_too_loud(found, low=low):
        return f"The promise is kept on {share_words(share)} of this map; the rest is too loud."
    return (
        f"The promise is kept on {share_words(share)} of this map; hachures point to where it is "
        "missed."
    )


def _only_too_loud(found: RoomMap, *, low: bool) -> bool:
    """Whether what misses a promised range lies above it: its lower end alone is drawn."""
    known = np.concatenate([cover.known(low=low) for cover in found.covers])
    return found.target is not None and bool(known.min() >= found.target)


def facing_words(ways: Sequence[Facing]) -> str:
    """Ways a talker looks, as a reader reads them.

    Examples
    --------
    >>> facing_words(("across", "display")), facing_words((90.0,))
    ('across or display', '90° (north)')
    """
    compass = {0.0: " (east)", 90.0: " (north)", 180.0: " (west)", 270.0: " (south)"}
    said = [
        way if isinstance(way, str) else f"{way % 360:g}°{compass.get(way % 360, '')}"
        for way in ways
    ]
    return " or ".join(said)


def _at(room: Room, point: Sequence[float]) -> str:
    return ", ".join(format_length(value, unit=room.units) for value in point)


def _foot(found: RoomMap) -> str:
    room = found.evidence.room
    said = [room.title or "Untitled room", room.project.client, room.project.site]
    if found.arrangement:
        said.append(spoken(found.asked.arrangement or found.arrangement))
    said.append(f"document {found.document}")
    said.append(f"wellheard {__version__}")
    said.append("an engineering prediction: local codes and licensed practice decide")
    return " · ".join(part for part in said if part)


# ---- the map ------------------------------------------------------------------------------


def _field(
    found: RoomMap, cover: Coverage, *, low: bool, span: tuple[float, float] | None, plan: bool
) -> view.FieldMap:
    mapped = found.asked.mapped
    x: Array = cover.x if plan else cover.along
    y: Array = cover.y if plan else cover.up
    return view.FieldMap(
        values=cover.low if low else cover.values,
        x=x,
        y=y,
        quantity=mapped.title,
        unit=mapped.unit,
        target=found.target,
        step=mapped.step,
        decimals=mapped.decimals,
        span=span,
    )


def _plan(found: RoomMap, *, low: bool, span: tuple[float, float] | None) -> view.PlanView:
    room, key = found.evidence.room, found.asked.mapped.key
    plan = plan_view(
        found.evidence,
        [Space(s.scene, s.evidence, {}) for s in found.spaces],
        quantity="sti_outbound",
        sheet="",
        of="",
        document_hash="",
        state="",
        arrangement=found.arrangement,
    )
    pieces = tuple(
        view.FieldPiece(
            _field(found, space.maps[key], low=low, span=span, plan=True),
            space.scene.room.space.outline,
        )
        for space in found.spaces
        if space.maps
    )
    values = {name: each.get(key) for s in found.spaces for name, each in s.seats.items()}
    whole = len(pieces) == 1 and len(found.spaces) == 1 and not _cut(found)
    solid, low_ones = _full_height(room, found.asked.height)
    return replace(
        plan,
        ceiling=None,
        obstacles=solid,
        furniture=(*plan.furniture, *low_ones),
        overhead=(),
        sources=(),
        equipment=(),
        field=pieces[0].field,
        pieces=() if whole else pieces,
        seats=tuple(_seat(found, mark, values.get(mark.id), low=low) for mark in plan.seats),
        standing=tuple(_area(found, mark, low=low) for mark in plan.standing),
    )


def _cut(found: RoomMap) -> bool:
    """Whether the spaces shown are less than the room."""
    return bool(found.arrangement) and bool(closed_in(found.evidence.room, found.arrangement))


def _full_height(
    room: Room, height: float
) -> tuple[tuple[view.Outline, ...], tuple[view.Furniture, ...]]:
    """What is solid at a height, and what stands below it."""
    cut = [(top, outline) for top, outline in solids(room) if top >= height]
    names = {o.outline: k for k, o in room.space.obstacles.items()}
    below = [
        view.Furniture(names[outline], outline, "soft-seating", None)
        for top, outline in solids(room)
        if top < height and outline in names
    ]
    return tuple(outline for _, outline in cut), tuple(below)


def _seat(
    found: RoomMap, mark: view.SeatMark, value: SeatValue | None, *, low: bool
) -> view.SeatMark:
    text, state = _written(found, value, low=low)
    return replace(mark, figure=text, state=state)


def _area(found: RoomMap, mark: view.StandingMark, *, low: bool) -> view.StandingMark:
    """The worst point of a standing area, by the quantity shown."""
    key = found.asked.mapped.key
    own = f"people.standing.{mark.id}"
    points = [
        s.seats[talker.id][key]
        for s in found.spaces
        for talker in s.scene.talkers
        if talker.owner == own and key in s.seats.get(talker.id, {})
    ]
    text, state = _written(found, min(points, key=lambda v: v.value, default=None), low=low)
    return replace(mark, figure=text, state=state)


def _written(found: RoomMap, value: SeatValue | None, *, low: bool) -> tuple[str, view.State]:
    if value is None:
        return "–", "not assessed"
    text = figure(value.low if low else value.value, found.asked.mapped.decimals)
    return text, value.state or "kept"


# ---- sections -------------------------------------------------------------------------------


def _section(
    found: RoomMap,
    ends: tuple[tuple[float, float], tuple[float, float]],
    *,
    low: bool,
    span: tuple[float, float] | None,
) -> SectionPanel:
    room, key = found.evidence.room, found.asked.mapped.key
    plane = section_plane(room, *ends)
    pieces = tuple(
        SectionPiece(
            _field(found, space.maps[key], low=low, span=span, plan=False),
            spans(space.scene.room, plane),
        )
        for space in found.spaces
        if space.maps
    )
    tables = [
        (item.height, item.outline) for item in room.furniture.values() if item.kind == "table"
    ]
    closed = closed_in(room, found.arrangement) if found.arrangement else ()
    return SectionPanel(
        length=plane.size[0],
        height=plane.size[1],
        units=room.units,
        field=pieces[0].field,
        pieces=pieces,
        outline=room.space.outline,
        start=ends[0],
        end=ends[1],
        solids=tuple(_standing(plane, solids(room))),
        tables=tuple(_standing(plane, tables)),
        mouth_height=_usual_mouth(room),
        mouth_words=f"seated mouth {format_length(_usual_mouth(room), unit=room.units)}",
        mouths=tuple(_mouths(found, plane, low=low)),
        microphones=tuple(_microphones(found, plane)),
        partitions=tuple(
            (along, name in closed)
            for name, part in room.partitions.items()
            if (along := _crossing(plane, part.from_, part.to)) is not None
        ),
    )


def _usual_mouth(room: Room) -> float:
    heights = sorted(seat.height for seat in room.people.seats.values())
    return heights[len(heights) // 2] if heights else SEATED


def _standing(plane: Plane, things: Iterable[tuple[float, view.Outline]]) -> Iterable[Standing]:
    from shapely.geometry import LineString, Polygon

    start = np.asarray(plane.origin[:2])
    along = np.asarray(plane.across[:2])
    line = LineString([start, start + plane.size[0] * along])
    for top, outline in things:
        met = Polygon(outline).intersection(line)
        for part in getattr(met, "geoms", [met]):
            if part.geom_type == "LineString" and part.length > 0.01:
                ends = (np.asarray(part.coords) - start) @ along
                yield Standing(float(ends.min()), float(ends.max()), min(top, plane.size[1]))


def _place(plane: Plane, at: Sequence[float]) -> tuple[float, float]:
    """Distance along an upright plane, and from it. [m]"""
    away = np.asarray(at[:2], dtype=np.float64) - np.asarray(plane.origin[:2])
    ux, uy = plane.across[:2]
    return float(away @ (ux, uy)), float(away @ (-uy, ux))


def _mouths(found: RoomMap, plane: Plane, *, low: bool) -> Iterable[MouthMark]:
    key = found.asked.mapped.key
    for space in found.spaces:
        for talker in space.scene.talkers:
            along, off = _place(plane, talker.at)
            if talker.kind != "seat" or abs(off) > NEAR or not 0 < along < plane.size[0]:
                continue
            value = space.seats.get(talker.id, {}).get(key)
            text, state = _written(found, value, low=low)
            yield MouthMark(talker.id, (along, talker.at[2]), text, state)


def _microphones(found: RoomMap, plane: Plane) -> Iterable[MicrophoneMark]:
    shown: dict[tuple[float, float], MicrophoneMark] = {}
    names = room_names(found.evidence.room)
    for one in found.evidence.microphones:
        along, off = _place(plane, one.at)
        if not 0 <= along <= plane.size[0]:
            continue
        label = names[one.id]
        spot = (round(along, 2), round(one.at[2], 2))
        before = shown.get(spot)
        away = abs(off) > NEAR
        shown[spot] = MicrophoneMark(
            label if before is None else f"{before.label}, {label}",
            (along, min(one.at[2], plane.size[1])),
            off=away and (before is None or before.off),
            drop=bool(one.drop),
        )
    yield from shown.values()


def _crossing(plane: Plane, start: Sequence[float], end: Sequence[float]) -> float | None:
    """Where along the plane a straight wall on the plan meets it. [m]"""
    (a, off_a), (b, off_b) = _place(plane, start), _place(plane, end)
    if off_a * off_b > 0 or math.isclose(off_a, off_b):
        return None
    along = a + (b - a) * off_a / (off_a - off_b)
    return along if 0 < along < plane.size[0] else None

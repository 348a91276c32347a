"""From evidence to what a plan shows: figures rounded, words chosen, nothing computed."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal, TypeAlias

import numpy as np

from wellheard.catalog.products import Microphone
from wellheard.drawings import view
from wellheard.geometry.setting_out import ties_of
from wellheard.predict.coverage import Coverage
from wellheard.predict.evidence import Evidence, Outbound, PlacedDevice, PlacedMicrophone
from wellheard.predict.scene import Scene
from wellheard.predict.wayback import PlacedLoudspeaker
from wellheard.room.divide import closed_in
from wellheard.room.document import Room
from wellheard.room.finishes import InlineFinish
from wellheard.schedules.labels import room_names
from wellheard.units import SET_OUT_STEP, format_length
from wellheard.workflow.sheet_words import basis_rows, revisions, title_block

CAUTIONS = (
    "Rated fixing and safety bond on each overhead device.",
    "Cable jackets to suit the void.",
    "Unknown ceiling board: test for asbestos before drilling.",
    "Figures are engineering predictions: local codes and licensed practice decide.",
)

PatchKind: TypeAlias = Literal["window", "door", "panel", "board"]


@dataclass(frozen=True)
class Words:
    """How one quantity is written on a sheet."""

    name: str
    decimals: int
    unit: str
    target: str


QUANTITY = {
    "direct_to_reverberant_db": Words(
        "Direct-to-reverberant ratio, mean of 500 Hz–4 kHz",
        1,
        "dB",
        "direct_to_reverberant_db",
    ),
    "sti_outbound": Words("Speech transmission index at the far end", 2, "", "sti_outbound"),
}


@dataclass(frozen=True)
class Space:
    """One space on a sheet: all of a room, or what closed partitions leave of it.

    ``maps`` are those of `wellheard.predict.coverage.coverage`; empty without microphones.
    """

    scene: Scene
    evidence: Evidence
    maps: Mapping[str, Coverage]


def plan_view(
    evidence: Evidence,
    spaces: Sequence[Space],
    *,
    quantity: str,
    sheet: str,
    of: str,
    document_hash: str,
    state: str,
    arrangement: str = "",
) -> view.PlanView:
    """What the plan sheet of a document shows, with a map of ``quantity``.

    Parameters
    ----------
    evidence : Evidence
        Of the whole room: its plan, its fittings and all its devices.
    spaces : sequence of Space
        Seats, standing areas and maps: of the room itself, or of every space of one arrangement.
    quantity : str
        A key of ``QUANTITY``.
    sheet, of, document_hash, state : str
        For the title block.
    arrangement : str
        Key of the arrangement shown; '' for a room that has none.
    """
    room = evidence.room
    field = _field(spaces, quantity)
    closed = closed_in(room, arrangement) if arrangement else ()
    return view.PlanView(
        outline=room.space.outline,
        height=room.space.height,
        title_block=title_block(room, sheet, of, document_hash, state, evidence, arrangement),
        wall_names=room.space.walls,
        units=room.units,
        ceiling=ceiling_grid(room),
        void_depth=room.space.ceiling.void_depth,
        air_return=bool(room.space.ceiling.air_return),
        furniture=furniture(room),
        displays=displays(room),
        patches=patches(room),
        level_patches=level_patches(room),
        obstacles=tuple(o.outline for o in room.space.obstacles.values()),
        seats=tuple(mark for space in spaces for mark in _seats(space.evidence, quantity)),
        mouth_height=_usual_height(room),
        standing=tuple(mark for space in spaces for mark in _standing(space.evidence, quantity)),
        devices=set_out(
            room,
            device_marks(
                evidence.microphones,
                evidence.others,
                room.space.height,
                names=room_names(room),
                sounding=() if evidence.playback is None else evidence.playback.loudspeakers,
            ),
        ),
        sources=sources(room),
        overhead=overhead(room),
        equipment=equipment(room),
        partitions=tuple(
            view.PartitionMark(key, p.from_, p.to, closed=key in closed)
            for key, p in room.partitions.items()
        ),
        field=field,
        pieces=_pieces(spaces, field, quantity) if closed else (),
        # A decay measured in the undivided room is none of a divided one.
        basis=basis_rows(spaces[0].scene.room if closed else room),
        revisions=revisions(room),
        cautions=CAUTIONS,
    )


def ceiling_grid(room: Room) -> view.CeilingGrid | None:
    """Tile grid of a room's ceiling; None where it has no tiles."""
    ceiling = room.space.ceiling
    if ceiling.kind != "tiles":
        return None
    return view.CeilingGrid(
        module=ceiling.module, origin=ceiling.origin, rotation_deg=ceiling.rotation_deg
    )


def furniture(room: Room) -> tuple[view.Furniture, ...]:
    """Tables, lecterns and soft pieces of a room, by their outlines."""
    found = []
    for name, item in room.furniture.items():
        if item.kind == "table":
            found.append(view.Furniture(name, item.outline, "table", item.height))
        elif item.kind in ("soft", "cupboard"):
            found.append(view.Furniture(name, item.outline, "soft-seating", item.height))
        elif item.kind == "lectern":
            x, y = item.at
            half = 0.25
            outline = (
                (x - half, y - half),
                (x + half, y - half),
                (x + half, y + half),
                (x - half, y + half),
            )
            found.append(view.Furniture(name, outline, "table", item.height))
    return tuple(found)


def displays(room: Room) -> tuple[view.Display, ...]:
    """Pictures of a room, by their stretch of wall."""
    found = []
    for name, item in room.furniture.items():
        if item.kind in ("display", "screen"):
            along, height = item.centre
            wide, tall = item.size
            found.append(
                view.Display(
                    id=name,
                    wall=room.space.walls.index(item.wall),
                    start=along - wide / 2,
                    end=along + wide / 2,
                    bottom=height - tall / 2,
                    top=height + tall / 2,
                )
            )
    return tuple(found)


def patches(room: Room) -> tuple[view.Patch, ...]:
    """Windows, doors, boards and panels on the walls of a room."""
    return tuple(
        view.Patch(
            id=name,
            wall=room.space.walls.index(patch.wall),
            start=patch.from_,
            end=patch.to,
            kind=patch_kind(name, patch.finish),
            label=name.replace("-", " "),
            bottom=patch.bottom,
            top=patch.top,
        )
        for name, patch in room.space.finishes.wall_patches.items()
    )


def level_patches(room: Room) -> tuple[view.LevelPatch, ...]:
    """Panels and other finishes on ceiling and floor of a room."""
    return tuple(
        view.LevelPatch(id=name, outline=one.outline, surface=one.surface)
        for name, one in room.space.finishes.level_patches.items()
    )


def patch_kind(name: str, finish: str | InlineFinish) -> PatchKind:
    """What a patch is drawn as, by its id and finish."""
    said = f"{name} {finish if isinstance(finish, str) else ''}"
    if "door" in said:
        return "door"
    if any(word in said for word in ("window", "glaz", "glass")):
        return "window"
    if "board" in name and "plasterboard" not in name:
        return "board"
    return "panel"


def _usual_height(room: Room) -> float:
    heights = sorted(s.height for s in room.people.seats.values())
    return heights[len(heights) // 2] if heights else 1.2


def _figure(row: Outbound | None, quantity: str) -> str:
    if row is None:
        return "–"
    words = QUANTITY[quantity]
    value = row.sti.value if quantity == "sti_outbound" else row.direct_to_reverberant.value
    return f"{value:.{words.decimals}f}".replace("-", "−")


def _rows(evidence: Evidence) -> dict[str, Outbound]:
    return {o.talker.id: o for o in evidence.outbound}


def _seats(evidence: Evidence, quantity: str) -> tuple[view.SeatMark, ...]:
    rows = _rows(evidence)
    return tuple(
        view.SeatMark(
            id=t.id,
            at=t.at[:2],
            facing_deg=t.facings_deg[0],
            figure=_figure(rows.get(t.id), quantity),
            state=rows[t.id].state if t.id in rows else "not assessed",
        )
        for t in evidence.talkers
        if t.kind == "seat"
    )


def _standing(evidence: Evidence, quantity: str) -> tuple[view.StandingMark, ...]:
    rows = _rows(evidence)
    found = []
    for name, area in evidence.room.people.standing.items():
        points = [t for t in evidence.talkers if t.owner == f"people.standing.{name}"]
        judged = [rows[t.id] for t in points if t.id in rows]
        worst = min(judged, key=lambda o: (o.chance, o.sti.value), default=None)
        found.append(
            view.StandingMark(
                id=name,
                label=name.replace("-", " "),
                outline=area.outline,
                facing_deg=(worst.path.facing_deg if worst else points[0].facings_deg[0]),
                figure=_figure(worst, quantity),
                state=worst.state if worst else "not assessed",
            )
        )
    return tuple(found)


def device_marks(
    microphones: Sequence[PlacedMicrophone],
    others: Sequence[PlacedDevice],
    height: float,
    *,
    names: Mapping[str, str],
    sounding: Sequence[PlacedLoudspeaker] = (),
) -> tuple[view.DeviceMark, ...]:
    """What is drawn of microphones and loudspeakers under a ceiling so high. [m]

    ``names`` are what is written beside them (`schedules.labels.room_names`). Of a pair both are
    drawn where ``sounding`` says where they are.
    """
    found = [
        view.DeviceMark(
            id=m.id,
            label=names[m.id],
            symbol=_symbol(m),
            at=m.at,
            product=m.product.id,
            drop=m.drop,
            locked=m.locked,
            facing_deg=None if m.mounting == "ceiling" else m.aim_deg,
        )
        for m in microphones
    ]
    for device in others:
        if device.kind != "loudspeaker" or device.at is None:
            continue
        label = names[device.id]
        placed = [one for one in sounding if one.device == device.id]
        found += [_loudspeaker(one, label) for one in placed]
        if not placed:
            found.append(
                view.DeviceMark(
                    id=device.id,
                    label=label,
                    symbol="speaker-ceiling" if device.at[2] > height - 0.3 else "speaker-wall",
                    at=device.at,
                    product=device.product.id,
                    microphone=False,
                )
            )
    return tuple(found)


def set_out(room: Room, marks: Sequence[view.DeviceMark]) -> tuple[view.DeviceMark, ...]:
    """The same, each with its walls where the room has none on its west and on its south side."""
    return tuple(_tied(room, mark) for mark in marks)


def _tied(room: Room, mark: view.DeviceMark) -> view.DeviceMark:
    ties = ties_of(room.space.outline, mark.at[:2], SET_OUT_STEP[room.units])
    if ties.square:
        return mark
    first, second = (room.space.walls[index] for index in ties.walls)
    away = ties.distances(mark.at[:2])
    return replace(mark, from_walls=((first, away[0]), (second, away[1])))


def _loudspeaker(placed: PlacedLoudspeaker, label: str) -> view.DeviceMark:
    """One place that sounds, facing where it is aimed unless that is down."""
    side = placed.id.removeprefix(placed.device)
    hangs = placed.mounting == "ceiling"
    x, y, _ = placed.axis
    return view.DeviceMark(
        id=placed.id,
        label=f"{label}{side}",
        symbol="speaker-ceiling" if hangs else "speaker-wall",
        at=placed.at,
        product=placed.product.id,
        drop=0.0 if placed.flush else placed.drop,
        locked=placed.locked,
        facing_deg=None if hangs else math.degrees(math.atan2(y, x)),
        microphone=False,
    )


def _symbol(placed: PlacedMicrophone) -> str:
    product: Microphone = placed.product
    if product.beam is not None and placed.mounting == "ceiling":
        return view.SYMBOL_OF_MOUNTING["array"]
    return view.SYMBOL_OF_MOUNTING[placed.mounting]


def sources(room: Room) -> tuple[view.SourceMark, ...]:
    """Noise sources of a room that have a symbol of their own."""
    kinds = {"air-outlet": "air-outlet", "projector": "projector", "fan-coil": "air-outlet"}
    return tuple(
        view.SourceMark(id=name, kind=kinds[s.kind], at=s.at)
        for name, s in room.noise.sources.items()
        if s.kind in kinds
    )


def overhead(room: Room) -> tuple[view.OverheadMark, ...]:
    """What is in or under the ceiling of a room already."""
    return tuple(
        view.OverheadMark(
            id=name,
            outline=o.outline,
            kind="luminaire" if o.kind == "luminaire" else "keep-out",
            clearance=o.clearance,
            bottom=o.bottom,
            what=o.kind,
        )
        for name, o in room.overhead.items()
    )


def equipment(room: Room) -> tuple[view.EquipmentMark, ...]:
    """Places of a room that cables end at, as far as they have a symbol of their own."""
    return tuple(
        view.EquipmentMark(id=name, kind=e.kind, at=e.at)
        for name, e in room.equipment.items()
        if e.kind in ("rack", "table-box", "wall-plate", "entry")
    )


def _field(spaces: Sequence[Space], quantity: str) -> view.FieldMap | None:
    """The map of the first space that has one, in the words and steps of all of them."""
    heard = [space for space in spaces if quantity in space.maps]
    if not heard:
        return None
    words = QUANTITY[quantity]
    covers = [space.maps[quantity] for space in heard]
    first = heard[0].scene.room
    facing = " or ".join(dict.fromkeys(" and ".join(map(str, c.facing)) for c in covers))
    return view.FieldMap(
        values=covers[0].values,
        x=covers[0].x,
        y=covers[0].y,
        quantity=words.name,
        unit=words.unit,
        target=getattr(first.targets, words.target),
        step=max(_step(space.maps[quantity], quantity) for space in heard),
        decimals=words.decimals,
        conditions=(
            f"Seated talker, mouth at {format_length(covers[0].height, unit=first.units)}, facing "
            f"{facing}, the worst of them; middle value. Figures at the seats are for each "
            "seat's own facings."
        ),
    )


def _pieces(
    spaces: Sequence[Space], field: view.FieldMap | None, quantity: str
) -> tuple[view.FieldPiece, ...]:
    """The map of each space for itself; a space without a microphone stays blank."""
    if field is None:
        return ()
    return tuple(
        view.FieldPiece(
            replace(
                field,
                values=space.maps[quantity].values,
                x=space.maps[quantity].x,
                y=space.maps[quantity].y,
            ),
            space.scene.room.space.outline,
        )
        for space in spaces
        if quantity in space.maps
    )


def _step(cover: Coverage, quantity: str) -> float:
    """Round step that draws about a dozen lines in the room."""
    low, high = (float(v) for v in np.percentile(cover.known(), [5, 95]))
    steps = (0.01, 0.02, 0.05, 0.1) if quantity == "sti_outbound" else (0.5, 1.0, 2.0, 5.0)
    return next((s for s in steps if (high - low) / s <= 12), steps[-1])

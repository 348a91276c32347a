"""Positions of devices as an installer sets them out: from two walls, up from the floor or down.

What is listed is what the document has. Where a tape cannot show it, because a device was placed
by hand and not by the program, the printed figure is the nearest that it can, and `Position.off`
says by how much.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias

from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.products import AnyProduct, Loudspeaker, Microphone
from wellheard.dossier.sections.loudspeakers import facing_words
from wellheard.errors import CatalogError
from wellheard.geometry.setting_out import EXACT, ties_of
from wellheard.predict.evidence import Evidence, Point
from wellheard.room.document import Room
from wellheard.schedules.labels import room_names
from wellheard.signal.mounted import as_mounted
from wellheard.units import SET_OUT_STEP

SetOutBy: TypeAlias = Literal["walls", "lectern", "pair", "cable"]
"""What a device is set out by; distances from walls are then for orientation only."""

BOND, CUT, COLLAR = "safety-bond", "trim-plate", "flush-collar"
"""Accessories that say something of the work: a bond, a hole that is cut, a collar in it."""
TURNED = 0.01
"""A grid turned by more is not along the walls. [deg]"""


@dataclass(frozen=True)
class Position:
    """Where one device goes, and what holds it there.

    Parameters
    ----------
    label : str
        On the drawings: the id where it is short.
    id, device : str
        Of a pair ``l1.left`` and ``l1``, else the same.
    product, name : str
        Of the catalogue.
    mounting : str
    walls : (str, str)
        Names of the walls that it is measured from, each from its finished face.
    distances : (float, float)
        To the device's centre, perpendicular to each wall. [m]
    height : float
        Of its centre, above the finished floor. [m]
    drop : float or None
        Of its centre, below the finished ceiling; 0 is flush, None where it does not hang. [m]
    aim : str
    tile : (int, int) or None
        Tile from the west and from the south wall, cut ones counted; None where there are none.
    set_out_by : {"walls", "lectern", "pair", "cable"}
    fixings : tuple of str
        Names of what its mounting takes.
    weight_kg : float
        Of the device. [kg]
    bond : bool
        Whether a safety bond is among its fixings.
    cutout : float or None
        Hole that it takes; None where it takes none. [m]
    locked, owned : bool
    off : float
        Most that a printed distance differs from the document's. [m]
    """

    label: str
    id: str
    device: str
    product: str
    name: str
    kind: str
    mounting: str
    walls: tuple[str, str]
    distances: tuple[float, float]
    height: float
    drop: float | None
    aim: str
    tile: tuple[int, int] | None
    set_out_by: SetOutBy
    fixings: tuple[str, ...]
    weight_kg: float
    bond: bool
    cutout: float | None
    locked: bool
    owned: bool
    off: float

    @property
    def overhead(self) -> bool:
        """Whether it hangs over people's heads."""
        return self.mounting == "ceiling"


@dataclass(frozen=True)
class _Placed:
    """A device, or one of a pair, before it is measured."""

    label: str
    id: str
    device: str
    product: AnyProduct
    at: Point
    aim: str
    drop: float | None
    mounting: str


def positions(evidence: Evidence) -> tuple[Position, ...]:
    """Every device of the document that has a place of its own, in its order by kind.

    Microphones, then loudspeakers, each of a pair for itself, then what is in a cable's way.

    Parameters
    ----------
    evidence : Evidence
        Of the whole room.

    Raises
    ------
    CatalogError
        The document names something that is not in the catalogue.
    """
    room, catalogue = evidence.room, evidence.catalogue
    return tuple(_position(room, catalogue, one) for one in _placed(evidence))


def _placed(evidence: Evidence) -> Iterator[_Placed]:
    room = evidence.room
    names = room_names(room)
    for one in evidence.microphones:
        if one.id not in room.devices:
            continue
        turn = math.radians(one.aim_deg)
        # A head on a ceiling listens all round; what is turned there is its housing.
        axis = (math.cos(turn), math.sin(turn), 0.0)
        aim = facing_words(axis) if one.mounting != "ceiling" else _turned(one.aim_deg)
        yield _Placed(
            names[one.id], one.id, one.id, one.product, one.at, aim, one.drop, one.mounting
        )
    yield from _loudspeakers(evidence, names)
    listening = {one.id for one in evidence.microphones}
    for name, device in room.devices.items():
        product = evidence.catalogue.product(device.product)
        if device.at is None or name in listening or isinstance(product, Loudspeaker):
            continue
        yield _Placed(names[name], name, name, product, device.at, "", None, product.mountings[0])


def _loudspeakers(evidence: Evidence, names: Mapping[str, str]) -> Iterator[_Placed]:
    sounding = () if evidence.playback is None else evidence.playback.loudspeakers
    for device in evidence.others:
        named = device.id in evidence.room.devices
        if device.kind != "loudspeaker" or device.at is None or not named:
            continue
        label = names[device.id]
        mine = [one for one in sounding if one.device == device.id]
        for one in mine:
            side = one.id.removeprefix(device.id)
            drop = 0.0 if one.flush else one.drop
            yield _Placed(
                f"{label}{side}",
                one.id,
                device.id,
                one.product,
                one.at,
                facing_words(one.axis),
                drop,
                one.mounting,
            )
        if not mine:
            held = as_mounted(evidence.room, device.product, evidence.room.devices[device.id])
            yield _Placed(
                label,
                device.id,
                device.id,
                device.product,
                device.at,
                "",
                held.drop,
                held.mounting,
            )


def _turned(aim_deg: float) -> str:
    turn = round(aim_deg) % 360
    return f"down, turned {turn}°" if turn else "down"


def _position(room: Room, catalogue: Catalogue, one: _Placed) -> Position:
    device = room.devices[one.device]
    step = SET_OUT_STEP[room.units]
    ties = ties_of(room.space.outline, one.at[:2], step)
    distances = ties.distances(one.at[:2])
    names = room.space.walls
    by = _set_out_by(one)
    up = () if one.mounting == "table" else (one.at[2] if one.drop is None else one.drop,)
    off = max(abs(value - step * round(value / step)) for value in (*distances, *up))
    fixings = dict(_fixings(room, catalogue, one))
    return Position(
        label=one.label,
        id=one.id,
        device=one.device,
        product=one.product.id,
        name=one.product.name,
        kind=device.kind,
        mounting=one.mounting,
        walls=(names[ties.walls[0]], names[ties.walls[1]]),
        distances=distances,
        height=one.at[2],
        drop=one.drop,
        aim=one.aim,
        tile=_tile(room, one.at) if one.mounting == "ceiling" else None,
        set_out_by=by,
        fixings=tuple(fixings.values()),
        weight_kg=one.product.weight_kg / getattr(one.product, "units", 1),
        bond=BOND in fixings,
        cutout=one.product.cutout if CUT in fixings or COLLAR in fixings else None,
        locked=device.locked,
        owned=device.owned,
        off=off if by == "walls" and off > EXACT else 0.0,
    )


def _set_out_by(one: _Placed) -> SetOutBy:
    if one.id != one.device:
        return "pair"
    if one.mounting == "lectern":
        return "lectern"
    if isinstance(one.product, Microphone | Loudspeaker):
        return "walls"
    return "cable"


def _fixings(room: Room, catalogue: Catalogue, one: _Placed) -> list[tuple[str, str]]:
    """Ids and names of what the mounting takes, as it is in the bill."""
    held = as_mounted(room, one.product, room.devices[one.device])
    try:
        price = catalogue.installed_price(one.product, held.mounting, held.drop, fit=held.fit)
    except CatalogError:
        return []  # the bill says why, under what has no price
    return [(part.id, part.text) for part in price.parts[1:] if part.id]


def _tile(room: Room, at: Point) -> tuple[int, int] | None:
    """Tile from the west and from the south, those that the walls cut counted.

    None where the grid is turned against the walls.
    """
    grid = room.space.ceiling
    if grid.kind != "tiles" or abs(grid.rotation_deg % 90.0) > TURNED:
        return None
    module = grid.module if abs(grid.rotation_deg % 180.0) < TURNED else grid.module[::-1]
    found = []
    for axis in (0, 1):
        low = min(corner[axis] for corner in room.space.outline)
        first = math.floor((low - grid.origin[axis]) / module[axis] + EXACT)
        found.append(math.floor((at[axis] - grid.origin[axis]) / module[axis] + EXACT) - first + 1)
    return found[0], found[1]


def by_fixing(rows: Sequence[Position]) -> dict[tuple[object, ...], list[Position]]:
    """Positions grouped by what holds them: alike in product, mounting, drop and fixings."""
    found: dict[tuple[object, ...], list[Position]] = {}
    for row in rows:
        drop = None if row.drop is None else round(row.drop, 6)
        key = (row.product, row.mounting, drop, row.fixings, row.owned)
        found.setdefault(key, []).append(row)
    return found

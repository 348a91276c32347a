"""Devices on the plan: symbols where they are set out, labels where nothing is written."""

from __future__ import annotations

import math
from collections.abc import Sequence

from wellheard.drawings.boxes import Box, Placer
from wellheard.drawings.canvas import Anchor, Canvas, Point
from wellheard.drawings.signs import Labelled, Sign, first_free, word
from wellheard.drawings.signs import height as height_sign
from wellheard.drawings.structure import Structure
from wellheard.drawings.symbols import UNITS
from wellheard.drawings.view import DeviceMark

WALL_SYMBOLS = {"speaker-wall": 9.4, "bar": 9.4, "mic-wall": 8.0}
"""Symbols with a thick edge on the wall: how far below their middle it lies, in their units."""


def device_spot(device: DeviceMark, structure: Structure, size: float) -> tuple[Point, float]:
    """Return where a device's symbol goes and how it is turned.

    Symbols with a thick edge are put with it on the nearest wall face; the set-out centre in the
    table stays the true one.
    """
    at = structure.project(device.at[:2])
    if device.symbol in WALL_SYMBOLS:
        wall, distance = structure.nearest_wall(at)
        if distance < max(structure.project.length(0.35), 2.0):
            u = (at[0] - wall.start[0]) * wall.along[0] + (at[1] - wall.start[1]) * wall.along[1]
            return wall.at(u, -WALL_SYMBOLS[device.symbol] * size / UNITS), wall.turn_deg
        facing = device.facing_deg if device.facing_deg is not None else 90.0
        return at, 90.0 - facing
    return at, 0.0


def device_boxes(devices: Sequence[DeviceMark], structure: Structure, size: float) -> list[Box]:
    """Return the boxes that device symbols take: body and centre ticks."""
    spots = [device_spot(device, structure, size)[0] for device in devices]
    return [
        box
        for at in spots
        for box in (
            Box(at, 0.62 * size, 0.62 * size),
            Box(at, 0.88 * size, 0.12 * size),
            Box(at, 0.12 * size, 0.88 * size),
        )
    ] + [
        Box(((a[0] + b[0]) / 2, (a[1] + b[1]) / 2), 0.2 * size, 0.2 * size)
        for device, at in zip(devices, spots, strict=True)
        for a, b in _tick(device, at, size)
    ]


def place_devices(
    devices: Sequence[DeviceMark],
    structure: Structure,
    *,
    hard: Placer,
    soft: Placer,
    size: float,
    label_size: float,
    heights: dict[str, str],
    height_size: float,
) -> Labelled:
    """Find room for the label of every device, and under it the height above the floor."""
    spots = [device_spot(device, structure, size) for device in devices]
    signs: list[Sign] = []
    missing = 0
    for device, (at, _) in zip(devices, spots, strict=True):
        text = heights.get(device.id, "")
        options = _device_options(device.label, text, at, size, label_size, height_size)
        if text:
            options += _device_options(device.label, "", at, size, label_size, height_size)
        options += _device_options(device.label, "", at, size, 2.57, height_size)
        found = first_free(options, hard, soft)
        if found is None:
            missing += 1
            continue
        signs += found
        hard.take(*(sign.box for sign in found))
    return Labelled(tuple(signs), missing)


def _device_options(
    label: str, height: str, at: Point, size: float, label_size: float, height_size: float
) -> list[list[Sign]]:
    x, y = at
    reach = 0.46 * size + 0.8
    corner = 0.26 * size + 1.2
    cap, small = 0.7 * label_size, 0.7 * height_size
    options = []
    anchor: Anchor
    for dx, dy, anchor in (
        (reach, 0.0, "start"),
        (-reach, 0.0, "end"),
        (corner, -reach, "start"),
        (-corner, -reach, "end"),
        (corner, reach, "start"),
        (-corner, reach, "end"),
        (0.0, -reach - 0.6, "middle"),
        (0.0, reach + 0.6, "middle"),
    ):
        stack = cap + (1.3 + small if height else 0.0)
        top = y + dy - stack / 2
        if dy < 0:
            top = y + dy - stack + (1.0 if dx else 0.0)
        elif dy > 0:
            top = y + dy - (1.0 if dx else 0.0)
        signs = [word(label, (x + dx, top + cap), label_size, face="semibold", anchor=anchor)]
        if height:
            signs.append(height_sign(height, (x + dx, top + stack), height_size, anchor))
        options.append(signs)
    return options


def draw_devices(
    canvas: Canvas, devices: Sequence[DeviceMark], structure: Structure, *, size: float
) -> None:
    """Draw the device symbols; a loudspeaker on a wall has a tick where it faces."""
    for device in devices:
        at, turn = device_spot(device, structure, size)
        canvas.symbol(device.symbol, at, size=size, turn_deg=turn)
        canvas.line(*_tick(device, at, size), pen="fine")


def _tick(device: DeviceMark, at: Point, size: float) -> tuple[tuple[Point, Point], ...]:
    """The tick in front of a loudspeaker on a wall; none of anything else."""
    if device.symbol != "speaker-wall" or device.facing_deg is None:
        return ()
    facing = math.radians(device.facing_deg)
    return ((_along(at, facing, 0.34 * size), _along(at, facing, 0.54 * size)),)


def _along(at: Point, angle: float, length: float) -> Point:
    """A point so far from another, angles as on the plan, y downwards on paper."""
    return at[0] + length * math.cos(angle), at[1] - length * math.sin(angle)

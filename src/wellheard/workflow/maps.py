"""Maps of a room: what a talker anywhere on a plane would get, as arrays, pictures and tables."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from wellheard.arrays import Array
from wellheard.cells import comma_separated
from wellheard.errors import InputError
from wellheard.predict import ledger, listening_map
from wellheard.predict.coverage import SEATED, Coverage, Facing, SeatValue, at_talkers, coverage
from wellheard.predict.evidence import Evidence
from wellheard.predict.parts import PartEvidence, build_parts, leading, over_all
from wellheard.predict.planes import Plane, level_plane, section_plane, spans, usual_spacing
from wellheard.predict.scene import Scene
from wellheard.room.divide import spoken
from wellheard.room.document import Room
from wellheard.workflow.answers import LENGTH_PLACES
from wellheard.workflow.design import asked_for
from wellheard.workflow.load import Loaded, document_hash


@dataclass(frozen=True)
class Mapped:
    """How one quantity is named, written and rounded.

    ``key`` is its name in the arrays, and that of its target where it may be promised.
    """

    key: str
    title: str
    unit: str
    decimals: int
    step: float
    """Between lines at least: finer ones would draw what the model does not know."""
    places: int
    """Of figures in data files."""
    promised: bool

    @property
    def is_inbound(self) -> bool:
        """Whether it is of what an ear hears of the far end, and not of what the far end hears."""
        return self.key in listening_map.QUANTITIES


OUTBOUND = {
    "sti": Mapped(
        "sti_outbound", "Speech transmission index (STI) at the far end", "", 2, 0.01, 3, True
    ),
    "c50": Mapped(
        "c50_db", "Clarity C50 at the microphone, mean of 500 Hz–4 kHz", "dB", 1, 0.5, 2, False
    ),
    "direct-to-reverberant": Mapped(
        "direct_to_reverberant_db",
        "Direct-to-reverberant ratio at the microphone, mean of 500 Hz–4 kHz",
        "dB",
        1,
        0.5,
        2,
        True,
    ),
    "speech-to-noise": Mapped(
        "speech_to_noise_db",
        "Speech-to-noise ratio at the microphone, weighted by importance",
        "dB",
        1,
        0.5,
        2,
        True,
    ),
    "level": Mapped("speech_level_dba", "Speech level at the microphone", "dBA", 1, 0.5, 2, False),
}
"""What the far end hears of a talker, by the words of the command line."""

INBOUND = {
    "sti-inbound": Mapped(
        "sti_inbound",
        "Speech transmission index (STI) of the far end at an ear",
        "",
        2,
        0.01,
        3,
        True,
    ),
    "playback-level": Mapped(
        "listening_level_dba", "Level of the far end at an ear", "dBA", 1, 0.5, 2, True
    ),
}
"""What an ear hears of the far end."""

QUANTITIES = OUTBOUND | INBOUND
"""What can be mapped."""

Section = tuple[tuple[float, float], tuple[float, float]]


@dataclass(frozen=True)
class Asked:
    """Which map is wanted.

    Attributes
    ----------
    quantity : str
        A key of ``QUANTITIES``.
    height : float
        Of a level plane above the floor. [m]
    section : pair of points, optional
        Two points of the plan: an upright plane between them, in place of a level one. [m]
    plane : Plane, optional
        Any other plane, in place of both.
    worst : bool
        Draw the low end (10 % point) in place of the middle value.
    facing : tuple
        ``across``, ``display`` or azimuths [°]; empty for what the seats use.
    spacing : float, optional
        Widest distance between points. [m]
    arrangement : str
        Of a room that divides: the arrangement or one of its spaces; '' for the worst.
    """

    quantity: str = "sti"
    height: float = SEATED
    section: Section | None = None
    plane: Plane | None = None
    worst: bool = False
    facing: tuple[Facing, ...] = ()
    spacing: float | None = None
    arrangement: str = ""

    @property
    def mapped(self) -> Mapped:
        """How the quantity is written."""
        return QUANTITIES[self.quantity]

    @property
    def is_plan(self) -> bool:
        """Whether the plane is that of a plan, over all of the room."""
        return self.section is None and self.plane is None


@dataclass(frozen=True)
class MappedSpace:
    """One space: all of a room, or what closed partitions leave of it.

    ``name`` is '' for a whole room, else as ``split.a``; ``maps`` are by the names of
    `wellheard.predict.coverage.QUANTITIES`, empty where no microphone hears the space or the
    plane misses it.
    """

    name: str
    scene: Scene
    evidence: Evidence
    maps: dict[str, Coverage]
    seats: dict[str, dict[str, SeatValue]]


@dataclass(frozen=True)
class RoomMap:
    """A map of a room and everything that a picture of it needs."""

    asked: Asked
    evidence: Evidence
    """Of the whole room: its plan and all its devices."""
    spaces: tuple[MappedSpace, ...]
    arrangement: str
    """Key of the arrangement shown; '' for a room that has none."""
    document: str
    """Short name of the document's text."""

    @property
    def covers(self) -> tuple[Coverage, ...]:
        """The wanted quantity in every space that has it."""
        key = self.asked.mapped.key
        return tuple(space.maps[key] for space in self.spaces if space.maps)

    @property
    def plane(self) -> Plane:
        """The plane through the first of the spaces."""
        return self.covers[0].plane

    @property
    def target(self) -> float | None:
        """What is promised, if anything is."""
        return target_of(self.evidence, self.asked.mapped)


def target_of(evidence: Evidence, mapped: Mapped) -> float | None:
    """The promise of a quantity, of a range its lower end; None where there is none."""
    if not mapped.promised:
        return None
    if mapped.key == LEVEL:
        span = evidence.room.targets.listening_level_dba
        return None if span is None else span[0]
    found: float | None = getattr(evidence.room.targets, mapped.key)
    return found


LEVEL = "listening_level_dba"
"""Of which a range is promised: its lower end is the target of a map."""


def most_of(evidence: Evidence, mapped: Mapped) -> float:
    """The upper end of what is promised; infinite where there is none."""
    span = evidence.room.targets.listening_level_dba
    return math.inf if mapped.key != LEVEL or span is None else span[1]


def room_map(loaded: Loaded, asked: Asked) -> RoomMap:
    """Map one quantity of a room over a plane.

    Parameters
    ----------
    loaded : Loaded
        With microphones placed.
    asked : Asked
        Which map.

    Returns
    -------
    RoomMap
        Its ``covers`` hold the arrays: values and low ends, NaN outside the room and in what is
        solid.

    Raises
    ------
    InputError
        No microphone is placed, there is no such arrangement, or the plane is not in the room or
        has too many points.
    """
    name = loaded.document.name
    inbound = asked.mapped.is_inbound
    word = "loudspeaker" if inbound else "microphone"
    if not any(device.kind in (word, "combined") for device in loaded.room.devices.values()):
        raise InputError(
            f"{name}: no {word} is placed, so there is nothing to map; place some first with "
            "wellheard place"
        )
    built = build_parts(loaded.room, loaded.catalogue)
    shown = asked_for(name, built, asked.arrangement)
    found = {
        one.part.name: PartEvidence(one.part, ledger.evidence(one.scene, assumptions=False))
        for one in (built if not asked.arrangement else shown)
    }
    if not loaded.room.arrangements:
        arrangement = ""
        whole = found[""].evidence
    else:
        arrangement = (
            shown[0].part.arrangement
            if asked.arrangement
            else leading(list(found.values())).part.arrangement
        )
        shown = tuple(one for one in shown if one.part.arrangement == arrangement)
        whole = over_all(loaded.room, loaded.catalogue, list(found.values()))
    try:
        spaces = mapped_spaces(
            loaded.room, [(one.scene, found[one.part.name]) for one in shown], asked
        )
    except InputError as error:
        raise InputError(f"{name}: {error}") from None
    result = RoomMap(asked, whole, spaces, arrangement, document_hash(loaded.document.text))
    if not result.covers:
        where = f" in {spoken(asked.arrangement)}" if asked.arrangement else ""
        silent = f"no {word} {'plays into' if inbound else 'hears'} what the plane cuts"
        raise InputError(
            f"{name}: nothing to map{where}: {silent}; another plane, or place {word}s there with "
            "wellheard place"
        )
    return result


def mapped_spaces(
    room: Room, parts: Sequence[tuple[Scene, PartEvidence]], asked: Asked
) -> tuple[MappedSpace, ...]:
    """Maps and seats of every given space."""
    whole = plane_of(room, asked)
    spacing = asked.spacing
    if spacing is None:
        spacing = usual_spacing(whole.size[0] * whole.size[1])
    # Of the whole first: a message about one space of several would speak of another surface.
    whole.grid(spacing, unit=room.units)
    found = []
    for scene, one in parts:
        evidence = one.evidence
        # On a plan each space has a grid of its own; other planes are counted from one origin.
        plane = level_plane(scene.room, asked.height) if asked.is_plan else whole
        maps = _covers(scene, evidence, plane, spacing, asked) if _meets(scene, plane) else {}
        seats = at_places(scene, evidence)
        found.append(MappedSpace(one.part.name, scene, evidence, maps, seats))
    return tuple(found)


def _covers(
    scene: Scene, evidence: Evidence, plane: Plane, spacing: float, asked: Asked
) -> dict[str, Coverage]:
    """All quantities of the way that is asked for; none where nothing hears or plays there."""
    if asked.mapped.is_inbound:
        if evidence.playback is None:
            return {}
        return listening_map.inbound_coverage(
            scene, evidence.playback, plane=plane, spacing=spacing
        )
    if not evidence.microphones:
        return {}
    return coverage(scene, evidence, plane=plane, spacing=spacing, facing=asked.facing)


def at_places(scene: Scene, evidence: Evidence) -> dict[str, dict[str, SeatValue]]:
    """Every quantity of both ways at every talking point, as far as it is known."""
    found = at_talkers(scene, evidence)
    if evidence.playback is not None:
        for name, each in listening_map.at_ears(evidence.room, evidence.playback).items():
            found[name] = {**found.get(name, {}), **each}
    return found


def plane_of(room: Room, asked: Asked) -> Plane:
    """The plane that is asked for, through all of the room."""
    if asked.plane is not None:
        return asked.plane
    if asked.section is not None:
        return section_plane(room, *asked.section)
    return level_plane(room, asked.height)


def _meets(scene: Scene, plane: Plane) -> bool:
    return not plane.is_upright or bool(spans(scene.room, plane))


@dataclass(frozen=True)
class Summary:
    """What a map comes to, middle values and low ends side by side.

    ``kept`` is the share of the mapped surface that keeps the promise, None without one;
    ``worst_at`` is where the value is least. [m]
    """

    least: tuple[float, float]
    median: tuple[float, float]
    most: tuple[float, float]
    kept: tuple[float, float] | None
    worst_at: tuple[float, float, float]
    points: int
    spacing: tuple[float, float]


def summary(found: RoomMap) -> Summary:
    """What a map comes to."""
    covers = found.covers
    middle = np.concatenate([cover.known() for cover in covers])
    low = np.concatenate([cover.known(low=True) for cover in covers])
    places = np.concatenate([c.points[~np.isnan(c.values)] for c in covers])
    shown = low if found.asked.worst else middle
    x, y, z = places[int(np.argmin(np.round(shown, 9)))].tolist()
    target, most_kept = found.target, most_of(found.evidence, found.asked.mapped)
    first = covers[0]
    return Summary(
        least=(float(middle.min()), float(low.min())),
        median=(float(np.median(middle)), float(np.median(low))),
        most=(float(middle.max()), float(low.max())),
        kept=None
        if target is None
        else (_share(middle, target, most_kept), _share(low, target, most_kept)),
        worst_at=(x, y, z),
        points=len(middle),
        spacing=(
            first.plane.size[0] / len(first.along),
            first.plane.size[1] / len(first.up),
        ),
    )


def _share(values: Array, least: float, most: float) -> float:
    return float(((values >= least) & (values <= most)).mean())


def share_words(share: float) -> str:
    """A share in per cent: never 0 or 100 unless it is just that.

    Examples
    --------
    >>> share_words(0.9996), share_words(1.0), share_words(0.004)
    ('99 %', '100 %', '1 %')
    """
    return f"{share if share in (0.0, 1.0) else min(max(share, 0.01), 0.99):.0%}".replace("%", " %")


def with_quantity(found: RoomMap, quantity: str, *, worst: bool = False) -> RoomMap:
    """The same map of another quantity of the same way: all of them are predicted together."""
    return replace(found, asked=replace(found.asked, quantity=quantity, worst=worst))


def as_json(found: RoomMap) -> dict[str, Any]:
    """What ``map --format json`` prints: arrays by rows, null where nothing is mapped."""
    mapped, plane, sums = (
        found.asked.mapped,
        plane_of(found.evidence.room, found.asked),
        summary(found),
    )

    def both(pair: tuple[float, float]) -> dict[str, float]:
        middle, low = (round(value, mapped.places) + 0.0 for value in pair)
        return {"middle": middle, "low": low}

    return {
        "quantity": found.asked.quantity,
        "unit": mapped.unit,
        "target": found.target,
        "arrangement": found.arrangement or None,
        "facing": list(found.covers[0].facing),
        "plane": {
            "origin": _lengths(plane.origin),
            "across": _lengths(plane.across),
            "up": _lengths(plane.up),
            "size": _lengths(plane.size),
        },
        "spacing": _lengths(sums.spacing),
        "points": sums.points,
        "least": both(sums.least),
        "median": both(sums.median),
        "most": both(sums.most),
        "kept": None
        if sums.kept is None
        else {"middle": round(sums.kept[0], 4), "low": round(sums.kept[1], 4)},
        "worst_at": _lengths(sums.worst_at),
        "spaces": [_space_json(space, mapped) for space in found.spaces if space.maps],
        "seats": [
            {
                "id": talker.id,
                "at": _lengths(talker.at),
                "value": round(each[mapped.key].value, mapped.places) + 0.0,
                "low": round(each[mapped.key].low, mapped.places) + 0.0,
                "state": each[mapped.key].state,
            }
            for space in found.spaces
            for talker in space.scene.talkers
            if mapped.key in (each := space.seats.get(talker.id, {}))
        ],
    }


def _space_json(space: MappedSpace, mapped: Mapped) -> dict[str, Any]:
    cover = space.maps[mapped.key]
    return {
        "name": space.name,
        "origin": _lengths(cover.plane.origin),
        "along": _lengths(cover.along.tolist()),
        "up": _lengths(cover.up.tolist()),
        "values": _rows(cover.values, mapped.places),
        "low": _rows(cover.low, mapped.places),
    }


def _lengths(values: Iterable[float]) -> list[float]:
    return [round(value, LENGTH_PLACES) + 0.0 for value in values]


def _rows(values: Array, places: int) -> list[list[float | None]]:
    return [
        [None if np.isnan(value) else round(value, places) + 0.0 for value in row]
        for row in values.tolist()
    ]


def as_csv(found: RoomMap) -> str:
    """Every mapped point as a row: its place in the room and on the plane, value and low end."""
    mapped = found.asked.mapped
    head = ["x_m", "y_m", "z_m", "along_m", "up_m", mapped.key, f"{mapped.key}_low"]
    divided = bool(found.arrangement)
    rows: list[list[object]] = []
    for space in (space for space in found.spaces if space.maps):
        cover = space.maps[mapped.key]
        for row, column in np.argwhere(~np.isnan(cover.values)).tolist():
            place = (*cover.points[row, column], cover.along[column], cover.up[row])
            figures = (cover.values[row, column], cover.low[row, column])
            rows.append(
                [
                    *(f"{value:.3f}" for value in place),
                    *(f"{value + 0.0:.{mapped.places}f}" for value in figures),
                    *([space.name] if divided else []),
                ]
            )
    return comma_separated([*head, "space"] if divided else head, rows)

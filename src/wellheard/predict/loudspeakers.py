"""Loudspeakers of a document as places that sound, and what arrives of them anywhere.

::

      ceiling ═════════▽══════════        flush: into the half space below, faces down
                       │
    wall ▷──►          │      ◁ picture   at a wall or in front: faces the middle of the people
                       ▼
"""

from __future__ import annotations

import functools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from wellheard.acoustics import radiation
from wellheard.acoustics.patterns import ENTRIES
from wellheard.acoustics.response import Pairs, Receivers, Sources, respond
from wellheard.arrays import Array, Mask
from wellheard.catalog.catalogue import Catalogue
from wellheard.catalog.products import Loudspeaker, Microphone
from wellheard.predict import screening
from wellheard.predict.evidence import Talker
from wellheard.predict.outbound import LEAST_ENERGY, NEAREST
from wellheard.predict.pairs import pair_places
from wellheard.predict.pickup import Choice, Pickup, looked_up
from wellheard.predict.scattering import FromMouths
from wellheard.predict.scene import Scene
from wellheard.predict.wayback import PlacedLoudspeaker
from wellheard.room.document import Room
from wellheard.signal.graph import Graph, graph
from wellheard.signal.mounted import mounting_of

FLUSH = 0.1
"""A ceiling loudspeaker made to sit in the ceiling does so if it hangs by less than this [m]."""

TRIMS = frozenset({"gain", "volume"})
"""Stages that set how loud a loudspeaker plays beside others."""


def placed_loudspeakers(
    room: Room, catalogue: Catalogue, talkers: tuple[Talker, ...]
) -> tuple[PlacedLoudspeaker, ...]:
    """Everything that plays the far end and has a place, in the document's order.

    A pair is two, one on each side of the picture that it stands at. What has its own microphone
    in the same housing plays as well.

    Parameters
    ----------
    room : Room
        The document.
    catalogue : Catalogue
        Where products are looked up.
    talkers : tuple of Talker
        The people: what hangs at a wall or stands in front faces their middle.
    """
    sounding: dict[str, Loudspeaker | Microphone] = {}
    for name, device in room.devices.items():
        product = catalogue.product(device.product)
        if isinstance(product, Loudspeaker) or (
            isinstance(product, Microphone) and product.built_in is not None
        ):
            sounding[name] = product
    if not sounding:
        return ()
    on_the_way_db = _trims_db(graph(room, catalogue)) if room.processing else {}
    return tuple(
        one
        for name, product in sounding.items()
        for one in _sounding(room, name, product, talkers, on_the_way_db.get(name, 0.0))
    )


def _trims_db(signal: Graph) -> dict[str, float]:
    """Stated gains on the far end's way to each loudspeaker, but for those that all share [dB].

    What all share, such as a volume control, only sets the level that playback is set to anyhow.
    """
    ways = {
        one.loudspeaker: {
            stage.place: stage.gain_db
            for stage in one.far_end.stages
            if stage.gain_db and stage.kind in TRIMS
        }
        for one in signal.playing()
        if one.far_end is not None
    }
    shared = set.intersection(*map(set, ways.values())) if len(ways) > 1 else set()
    return {
        name: sum(gain for place, gain in way.items() if place not in shared)
        for name, way in ways.items()
    }


def _sounding(
    room: Room,
    name: str,
    product: Loudspeaker | Microphone,
    talkers: tuple[Talker, ...],
    trim_db: float,
) -> Iterator[PlacedLoudspeaker]:
    device = room.devices[name]
    at = device.at
    if at is None:
        return
    mounting = mounting_of(room, product, at)
    drop = room.space.height - at[2] if mounting == "ceiling" else None
    flush = drop is not None and drop < FLUSH and 0.0 in product.drops
    delay = _delay(room, name)
    places = pair_places(room, at) if getattr(product, "units", 1) == 2 else ((name, at),)
    for suffix, place in places:
        yield PlacedLoudspeaker(
            id=suffix if suffix == name else f"{name}.{suffix}",
            device=name,
            product=product,
            at=place,
            axis=facing(place, mounting, talkers, aim_deg=device.aim_deg),
            mounting=mounting,
            drop=drop,
            trim_db=trim_db - 10 * math.log10(len(places)),
            delay=delay,
            flush=flush,
            locked=device.locked,
        )


def _delay(room: Room, name: str) -> float:
    """Of the delay stages on a device's own input [s]."""
    own = [s for s in room.processing.values() if s.on.partition(".")[0] == name]
    late = [s.delay_ms or 0.0 for s in own if s.kind == "delay" and not s.bypassed]
    return sum(late) / 1000.0


def facing(
    at: tuple[float, float, float],
    mounting: str,
    talkers: Sequence[Talker],
    *,
    aim_deg: float | None = None,
) -> tuple[float, float, float]:
    """Where a loudspeaker faces: down from a ceiling, up from a table, else at the people.

    Parameters
    ----------
    at : tuple of 3 floats
        [m]
    mounting : str
        As of a device.
    talkers : sequence of Talker
        The people, at whose middle it is tilted.
    aim_deg : float, optional
        Azimuth that the document states. [°]

    Returns
    -------
    tuple of 3 floats
        Unit vector.

    Examples
    --------
    >>> facing((1.0, 1.0, 2.7), "ceiling", ())
    (0.0, 0.0, -1.0)
    """
    if mounting == "ceiling":
        return (0.0, 0.0, -1.0)
    if mounting in ("table", "table-box"):
        return (0.0, 0.0, 1.0)
    ears = np.array([t.at for t in talkers]).reshape(-1, 3)
    away = (ears.mean(axis=0) if len(ears) else np.asarray(at)) - np.asarray(at)
    level = float(np.hypot(away[0], away[1]))
    if level < 1e-9:
        away, level = np.array([1.0, 0.0, 0.0]), 1.0
    if aim_deg is not None:
        turn = math.radians(aim_deg)
        away = np.array([level * math.cos(turn), level * math.sin(turn), away[2]])
    unit = away / np.linalg.norm(away)
    return (float(unit[0]), float(unit[1]), float(unit[2]))


@functools.lru_cache(maxsize=128)
def radiated(product: Loudspeaker | Microphone, flush: bool) -> tuple[Array, Array]:
    """Energy pattern of a product's loudspeaker, shape (513, 7), and its mean, shape (7,)."""
    if isinstance(product, Microphone):
        assert product.built_in is not None
        on_table = product.mountings[:1] == ("table",)
        pattern = radiation.nominal_pattern(product.built_in.angle_deg, half_space=on_table)
    elif product.polar is not None:
        pattern = radiation.polar_pattern(
            product.polar.angles_deg, product.polar.levels_db, half_space=flush
        )
    else:
        pattern = radiation.nominal_pattern(product.angle_deg, half_space=flush)
    return pattern, radiation.diffuse(pattern)


@dataclass(frozen=True, eq=False)
class Played:
    """Energies of L loudspeakers at N receivers, re the free field 1 m before each, on its axis.

    Attributes
    ----------
    distance : ndarray, shape (L, N)
        [m]
    direct : ndarray, shape (L, N, 7)
        With what arrives within a millisecond of it, and bent round what is in the way.
    early, late : ndarray, shape (L, N, 7)
        Reflections up to 50 ms after the direct sound of the same loudspeaker, and after.
    modulation : ndarray of complex, shape (L, N, 14, 7)
        Fourier transform of both over the time since that direct sound.
    screened : ndarray of bool, shape (L, N)
        Whether something solid is in the direct sound's way.
    """

    distance: Array
    direct: Array
    early: Array
    late: Array
    modulation: npt.NDArray[np.complex64]
    screened: Mask

    @property
    def total(self) -> Array:
        """All of it, shape (L, N, 7)."""
        return self.direct + self.early + self.late


@dataclass(frozen=True, eq=False)
class Listeners:
    """N receivers: ears, which hear alike from everywhere, or elements and beams in use.

    Attributes
    ----------
    at : ndarray, shape (N, 3)
        [m]
    patterns, diffuse : ndarray, shapes (K, 513, 7) and (K, 7)
        As of `wellheard.predict.pickup.Pickup`.
    axis : ndarray, shape (N, 3)
        Unit vectors.
    pattern : ndarray of int, shape (N,)
        Which of the patterns.
    upper_only, in_surface : bool
        A capsule in a table top; one in the ceiling.
    """

    at: Array
    patterns: Array
    diffuse: Array
    axis: Array
    pattern: npt.NDArray[np.intp]
    upper_only: bool = False
    in_surface: bool = False


def ears(at: Array) -> Listeners:
    """Ears: omnidirectional, without the head's own shadow, as intelligibility is measured."""
    places = np.asarray(at, dtype=np.float64).reshape(-1, 3)
    return Listeners(
        at=places,
        patterns=np.ones((1, ENTRIES, 7)),
        diffuse=np.ones((1, 7)),
        axis=np.broadcast_to([0.0, 0.0, 1.0], places.shape),
        pattern=np.zeros(len(places), dtype=np.intp),
    )


def capsules(taken: Pickup, at: Array, chosen: Choice) -> Listeners:
    """Elements or beams in use of one product's microphones.

    Parameters
    ----------
    taken : Pickup
        Of the product.
    at : ndarray, shape (N, 3)
        Acoustic centre of each. [m]
    chosen : Choice
        Of N pairs of row and microphone, shape (1, N) or (N, 1).
    """
    return Listeners(
        at=np.asarray(at, dtype=np.float64).reshape(-1, 3),
        patterns=taken.patterns,
        diffuse=taken.diffuse,
        axis=chosen.axis.reshape(-1, 3),
        pattern=chosen.pattern.ravel(),
        upper_only=taken.upper_only,
        in_surface=taken.in_surface,
    )


def played(scene: Scene, loudspeakers: Sequence[PlacedLoudspeaker], listeners: Listeners) -> Played:
    """What of every loudspeaker arrives at every listener.

    Parameters
    ----------
    scene : Scene
        The room.
    loudspeakers : sequence of PlacedLoudspeaker
        L of them.
    listeners : Listeners
        N of them.

    Notes
    -----
    The same engine as from mouths to microphones: direct sound, image sources for its first
    60 ms, traced rays for the rest. Trims and delays are not in it.
    """
    count, heard = len(loudspeakers), len(listeners.at)
    shape = (count, heard)
    found = Played(
        distance=np.zeros(shape),
        direct=np.zeros((*shape, 7)),
        early=np.zeros((*shape, 7)),
        late=np.zeros((*shape, 7)),
        modulation=np.zeros((*shape, 14, 7), np.complex64),
        screened=np.zeros(shape, dtype=np.bool_),
    )
    alike: dict[tuple[str, bool], list[int]] = {}
    for index, one in enumerate(loudspeakers):
        alike.setdefault((one.product.id, one.flush), []).append(index)
    for members in alike.values():
        _play(scene, [loudspeakers[i] for i in members], listeners, members, found)
    return found


def _play(
    scene: Scene,
    loudspeakers: Sequence[PlacedLoudspeaker],
    listeners: Listeners,
    members: Sequence[int],
    found: Played,
) -> None:
    """The same for loudspeakers with one pattern, written into their rows of ``found``."""
    sound = scene.propagation
    pattern, diffuse = radiated(loudspeakers[0].product, loudspeakers[0].flush)
    at = np.array([one.at for one in loudspeakers])
    axis = np.array([one.axis for one in loudspeakers])
    row, column = (each.ravel() for each in np.indices((len(at), len(listeners.at))))
    resolved = FromMouths.of(sound, at) if sound.needs_places else None
    heard = respond(
        sound.walls,
        sound.tables,
        Sources(at, axis, pattern, diffuse),
        Receivers(listeners.at, listeners.patterns, listeners.diffuse),
        Pairs(
            row,
            column,
            listeners.axis[column],
            listeners.pattern[column],
            np.full(len(row), listeners.upper_only),
        ),
        speed=sound.speed,
        air=sound.air,
        resolved=resolved,
    )
    shape = (len(at), len(listeners.at))
    between = listeners.at[column] - at[row]
    distance = np.maximum(np.linalg.norm(between, axis=-1), NEAREST)
    heading = between / distance[:, None]
    leaves = looked_up(pattern[None], np.zeros_like(row), np.einsum("pk,pk->p", heading, axis[row]))
    meets = looked_up(
        listeners.patterns,
        listeners.pattern[column],
        -np.einsum("pk,pk->p", heading, listeners.axis[column]),
    )
    air = np.exp(-sound.air * distance[:, None])
    screen = screening.factors(
        scene, at[row], listeners.at[column], upper_only=listeners.upper_only
    )
    joined = 0.0 if listeners.in_surface else heard.joined
    direct = leaves * meets * air / np.square(distance)[:, None] * screen + joined
    which = list(members)
    found.distance[which] = distance.reshape(shape)
    found.direct[which] = np.maximum(direct, LEAST_ENERGY).reshape(*shape, 7)
    found.early[which] = heard.early.reshape(*shape, 7)
    found.late[which] = np.maximum(heard.late, LEAST_ENERGY).reshape(*shape, 7)
    found.modulation[which] = heard.modulation.reshape(*shape, *heard.modulation.shape[1:])
    found.screened[which] = np.any(screen < 1.0, axis=-1).reshape(shape)

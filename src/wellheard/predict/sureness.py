"""How sure a prediction is: what its range is made of, and what would make it smaller.

The whole is that of the ledger; its causes are those of :func:`wellheard.predict.spread.budget`
at the worst talking point, each traced to the input of the document that it hangs on. What a
measurement would leave is evaluated by predicting the same path as if it had confirmed the
figures that the prediction stands on.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import astuple, dataclass, fields, replace
from statistics import median
from typing import Literal, TypeAlias

import numpy as np

from wellheard.predict import alternative_finishes, outbound, promises, spread, tolerances
from wellheard.predict.alternatives import changed
from wellheard.predict.evidence import SEAT_TARGETS, Bands, Evidence, Outbound, Quantity
from wellheard.predict.scene import Scene
from wellheard.room.document import Room

Effort: TypeAlias = Literal[
    "measure the decay", "see the finishes", "measure the noise", "survey the seats"
]
"""What somebody can do on site to know an input better."""

MEASURED_DECAY = "measured decay"
FINISHES, SCATTERING = "absorption of the finishes", "scattering of the surfaces"
DECAY = (MEASURED_DECAY, FINISHES, SCATTERING)
"""Causes that a measured decay replaces by its own."""
TALKER = "turn and place of the talker"
EFFORT, NOISE, MODEL = "vocal effort", "noise", "the model itself"

MEASURED_ROOMS = ((146.0, 2.0), (80.0, 0.55))
"""Volume [m³] and decay time [s] of the two bare rooms whose residuals set the model's own σ."""

MEASURED_PAIRS = 32
"""Paths from a source to a receiver in them."""

FOUND_COVERAGE = (0.78, 0.80)
"""Share of their clarity residuals that the 10–90 % range covered; 0.8 is wanted."""

DRAWN_COVERAGE = (0.76, 0.77)
"""The same of STI and of C50 in draws of another simulator with inputs off by their tolerances, at
scattering 0 and 1 (``make bench``)."""

NOTICED = 0.95
"""A measurement is worth its trouble when it leaves less than this share of the σ of a promised
quantity (common practice)."""


@dataclass(frozen=True)
class Sigmas:
    """One standard deviation of each promised quantity, in the order of ``SEAT_TARGETS``."""

    sti: float
    direct_to_reverberant_db: float
    speech_to_noise_db: float

    def of(self, target: str) -> float:
        """Of the quantity that a target speaks of."""
        return (self.sti, self.direct_to_reverberant_db, self.speech_to_noise_db)[
            SEAT_TARGETS.index(target)
        ]


@dataclass(frozen=True)
class Remedy:
    """A measurement that would narrow the range, and what it would leave."""

    effort: Effort
    causes: tuple[str, ...]
    """Whose part it replaces."""
    left: Sigmas
    """What is left of these causes, together."""
    whole: Sigmas
    """What is left of everything."""
    chance: float
    """Of the worst talking point then, should the measurement find what was predicted."""


@dataclass(frozen=True)
class Cause:
    """One cause of the range at the worst talking point."""

    name: str
    """As :func:`wellheard.predict.spread.budget` has it."""
    sigma: Sigmas
    share: float
    """Of the squares of what binds, 0–1."""
    basis: str
    """How its input is known; '' for the model itself."""
    path: str
    """Of that input in the document; '' where there is none."""
    remedy: Remedy | None
    """None where nothing that the document can hold would narrow it noticeably."""


@dataclass(frozen=True)
class Everywhere:
    """One quantity over all talking points."""

    low: float
    """The lowest 10 % point."""
    least: float
    """The lowest middle value."""
    middle: float
    """Of the middle values the one in the middle."""
    most: float
    high: float
    least_chance: float | None
    """None where nothing was promised."""
    most_chance: float | None


@dataclass(frozen=True)
class Scattering:
    """The interval of scattering, with the decay [s] at its ends and as taken."""

    least: float
    taken: float
    most: float
    smooth: Bands
    time: Bands
    rough: Bands


@dataclass(frozen=True)
class Sureness:
    """The range at the worst talking point, opened."""

    worst: Outbound
    binds: str
    """The target that the shares are reckoned for: the one that binds, else the STI."""
    everywhere: dict[str, Everywhere]
    """By target: those promised, all three where none is."""
    causes: tuple[Cause, ...]
    """The largest share first; their squares add up to those of ``whole``."""
    whole: Sigmas
    known: dict[str, Quantity]
    """The worst talking point by target with every remedy taken; empty where there is none."""
    whole_known: Sigmas
    scattering: Scattering
    measured: bool
    """Whether the decay stands in the document."""
    schroeder_frequency: float
    part: str
    """Of a room that divides: the part that it speaks of; else ''."""


def sureness(scene: Scene, evidence: Evidence, *, part: str = "") -> Sureness | None:
    """Open the range of the worst talking point; None where no microphone hears anybody.

    Parameters
    ----------
    scene : Scene
        The room.
    evidence : Evidence
        What was predicted for it.
    part : str
        Name of the part that both are of, in a room that divides. A measured decay has no place
        in the document there, since it would hold for one arrangement only.
    """
    worst = evidence.worst()
    if worst is None:
        return None
    opened = _Opened(scene, evidence, worst)
    room, now = scene.room, opened.now
    whole = together(now.values())
    taken = _worthwhile(opened, room, divided=bool(part))
    known_room = room
    for _, _, better in taken:
        known_room = better(known_room)
    whole_known = together(opened.causes(known_room).values()) if taken else whole
    remedies = [opened.remedy(effort, names, better(room)) for effort, names, better in taken]
    binds = worst.binds or SEAT_TARGETS[0]
    promised = [n for n in SEAT_TARGETS if getattr(room.targets, n) is not None]
    causes = (
        Cause(
            name=name,
            sigma=sigma,
            share=(sigma.of(binds) / whole.of(binds)) ** 2,
            basis="" if name == MODEL else tolerances.basis_of(room, _input(room, name)),
            path=_input(room, name),
            remedy=next((r for r in remedies if name in r.causes), None),
        )
        for name, sigma in now.items()
    )
    decay = scene.reverberation
    enclosure = scene.propagation.enclosure
    stated = float(np.mean(enclosure.scattering))
    return Sureness(
        worst=worst,
        binds=binds,
        everywhere={name: _everywhere(evidence, name) for name in promised or SEAT_TARGETS},
        causes=tuple(sorted(causes, key=_weight)),
        whole=whole,
        known=opened.known(whole_known) if taken else {},
        whole_known=whole_known,
        scattering=Scattering(
            least=min(tolerances.LEAST_SCATTERING, stated),
            taken=stated,
            most=max(tolerances.MOST_SCATTERING, stated),
            smooth=decay.smooth,
            time=decay.time,
            rough=decay.rough,
        ),
        measured=decay.measured,
        schroeder_frequency=decay.schroeder_frequency,
        part=part,
    )


def _weight(cause: Cause) -> tuple[float, float]:
    return (-round(cause.share, 9), -round(cause.sigma.sti, 9))


def together(sigmas: Iterable[Sigmas]) -> Sigmas:
    """Several independent causes as one: the root of the sum of their squares.

    Examples
    --------
    >>> together([Sigmas(0.03, 3.0, 0.0), Sigmas(0.04, 4.0, 2.0)])
    Sigmas(sti=0.05, direct_to_reverberant_db=5.0, speech_to_noise_db=2.0)
    """
    each = [astuple(one) for one in sigmas]
    return Sigmas(*(math.hypot(*column) for column in zip(*each, strict=True)))


class _Opened:
    """The path of the worst talking point, asked again with inputs that are better known."""

    def __init__(self, scene: Scene, evidence: Evidence, worst: Outbound) -> None:
        self._scene, self._worst = scene, worst
        self._count = len(evidence.microphones)
        placed = next(m for m in evidence.microphones if m.id == worst.path.microphone)
        # All rows at once, as the ledger asks: rays of one mouth alone would be others.
        paths = outbound.transfer(
            scene, placed.product, np.asarray([placed.at]), np.asarray([placed.aim_deg])
        )
        self._paths = paths
        self._row = next(
            i
            for i, (talker, facing) in enumerate(
                zip(scene.row_talker, scene.row_facing_deg, strict=True)
            )
            if scene.talkers[talker].id == worst.talker.id and facing == worst.path.facing_deg
        )
        self.now = self.causes(scene.room)

    @property
    def decay_time(self) -> Bands:
        """As it is taken."""
        return self._scene.reverberation.time

    def causes(self, room: Room) -> dict[str, Sigmas]:
        """Of a room that differs in how well it is known, not in what it is."""
        measured = room.space.measured_reverberation is not None
        decay = replace(self._scene.reverberation, measured=measured)
        seen = replace(self._scene, room=room, reverberation=decay)
        found = spread.budget(seen, self._paths, microphones=self._count)
        return {
            name: Sigmas(*(float(getattr(part, f.name)[self._row, 0]) for f in fields(Sigmas)))
            for name, part in found.items()
        }

    def known(self, whole: Sigmas) -> dict[str, Quantity]:
        """The promised quantities with another spread round the same middle values."""
        return {
            q.name: promises.quantity(q.name, q.value, whole.of(q.name), q.target)
            for q in self._worst.quantities
        }

    def remedy(self, effort: Effort, names: tuple[str, ...], room: Room) -> Remedy:
        """What a room that is better known leaves of some causes, and of all."""
        then = self.causes(room)
        whole = together(then.values())
        chances = [q.chance for q in self.known(whole).values() if q.chance is not None]
        return Remedy(
            effort=effort,
            causes=tuple(name for name in names if name in self.now),
            left=together(sigma for name, sigma in then.items() if name in names),
            whole=whole,
            chance=min(chances, default=1.0),
        )


Better: TypeAlias = Callable[[Room], Room]


def _worthwhile(
    opened: _Opened, room: Room, *, divided: bool
) -> list[tuple[Effort, tuple[str, ...], Better]]:
    """Every effort that would narrow some quantity noticeably, with the causes it bears on."""

    def decay(known: Room) -> Room:
        return alternative_finishes.with_measured_decay(known, opened.decay_time)

    def finishes(known: Room) -> Room:
        single = [path for path in known.basis if path.startswith(tolerances.LARGE_SURFACES)]
        return _vouched(known, ["space.finishes", *single])

    def noise(known: Room) -> Room:
        return _vouched(known, ["noise.background"])

    def seats(known: Room) -> Room:
        people = known.people
        places = [f"people.seats.{name}.at" for name in people.seats] or ["people.seats"]
        heights = [f"people.seats.{name}.height" for name in people.seats]
        heights += [f"people.standing.{name}.height" for name in people.standing]
        return _vouched(known, [*places, *heights])

    efforts: list[tuple[Effort, tuple[str, ...], Better]] = []
    if divided:
        efforts.append(("see the finishes", (FINISHES,), finishes))
    elif not tolerances.is_as_built(room):  # there it was measured
        efforts.append(("measure the decay", DECAY, decay))
    efforts += [
        ("measure the noise", (NOISE,), noise),
        ("survey the seats", (TALKER,), seats),
    ]
    now = together(opened.now.values())
    return [
        (effort, names, better)
        for effort, names, better in efforts
        if _narrower(together(opened.causes(better(room)).values()), now)
    ]


def _narrower(one: Sigmas, other: Sigmas) -> bool:
    return any(a < NOTICED * b for a, b in zip(astuple(one), astuple(other), strict=True))


def _vouched(room: Room, paths: Sequence[str]) -> Room:
    """The same room with these inputs measured."""
    return changed(room, "basis", {**room.basis, **dict.fromkeys(paths, "measured")})


def _input(room: Room, cause: str) -> str:
    """Path of the input that sets a cause; '' for the model itself."""
    if cause == FINISHES:
        return tolerances.least_known_finish(room)[1]
    if cause == TALKER:
        return tolerances.least_known_mouth(room)[1]
    return {
        MEASURED_DECAY: tolerances.MEASURED_TIME,
        SCATTERING: "space.scattering",
        EFFORT: "people.effort",
        NOISE: "noise.background",
        MODEL: "",
    }[cause]


def _everywhere(evidence: Evidence, target: str) -> Everywhere:
    each = [row.quantities[SEAT_TARGETS.index(target)] for row in evidence.outbound]
    values = [q.value for q in each]
    chances = [q.chance for q in each if q.chance is not None]
    return Everywhere(
        low=min(q.low for q in each),
        least=min(values),
        middle=median(values),
        most=max(values),
        high=max(q.high for q in each),
        least_chance=min(chances, default=None),
        most_chance=max(chances, default=None),
    )

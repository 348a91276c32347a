"""What to record in a room, from where to where and how loud, in the order of the work.

Every recording is one that a promise of the document is compared with: places are those where
the promise is nearest to breaking, and others far from these.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from wellheard.acoustics.levels import a_weighted_level_db
from wellheard.acoustics.speech import speech_levels_db
from wellheard.errors import InputError
from wellheard.measurement.session import Kind
from wellheard.predict.evidence import Evidence, Point, Talker
from wellheard.predict.wayback import PlacedLoudspeaker
from wellheard.room.document import Room
from wellheard.workflow.judging import Judged

FAR_END: Final = "far-end"
MOST_PLACES: Final = 6
"""Places unless more are asked for: as many as ISO 3382-2 asks for with one source at the
engineering level [L]."""
NOISE_PLACES: Final = 3
STEADY_SECONDS: Final = 30.0
"""Of noise and of steady speech: twice the 15 s that a level of speech takes [L]."""
CALIBRATION: Final = "measuring-microphone"
ECHO_SECONDS: Final = 60.0
FAR_TALKS: Final = ((0.0, 20.0), (32.0, 60.0))
NEAR_TALKS: Final = ((22.0, 30.0), (38.0, 48.0))
NEAR_ALONE: Final = (23.5, 28.5)
BOTH: Final = (39.5, 46.5)
"""Of the signal for a canceller [s]; what is looked at keeps 1.5 s from every change, since
recorder and player do not start at once."""


@dataclass(frozen=True)
class Step:
    """One recording to make.

    Attributes
    ----------
    id : str
        Of the recording in ``session.yaml``.
    file : str
        That it gets, beside ``session.yaml``.
    kind : str
        Of the recording.
    signal : str
        File to play; '' where nothing is played.
    source, to : str
        Ids as the session names them; '' where nothing plays.
    facing_deg : float or None
        Where a test talker faces.
    calibrated : bool
        Taken by the measuring microphone, whose level counts.
    cancelling : bool
        With the canceller on; everything else with all processing off.
    level_dba : float or None
        What is expected there: of steady speech, by the prediction.
    """

    id: str
    file: str
    kind: Kind
    signal: str = ""
    source: str = ""
    to: str = ""
    facing_deg: float | None = None
    calibrated: bool = False
    cancelling: bool = False
    level_dba: float | None = None


@dataclass(frozen=True)
class SessionPlan:
    """Everything to record in one room.

    Attributes
    ----------
    evidence : tuple of Evidence
        Of each space that is measured.
    arrangement : str
        Of a room that divides; else ''.
    noise, playback, talkers, echo : tuple of Step
        In the order of the work.
    left_out : tuple of str
        Talking points that no recording is planned for.
    speech_dba : float
        Of the test talker at 1 m: the promised effort.
    """

    evidence: tuple[Evidence, ...]
    arrangement: str
    noise: tuple[Step, ...]
    playback: tuple[Step, ...]
    talkers: tuple[Step, ...]
    echo: tuple[Step, ...]
    left_out: tuple[str, ...]
    speech_dba: float

    @property
    def steps(self) -> tuple[Step, ...]:
        """All of them, in the order of the work."""
        return (*self.noise, *self.playback, *self.talkers, *self.echo)

    @property
    def loudspeakers(self) -> tuple[PlacedLoudspeaker, ...]:
        """Everything that plays the far end in the spaces that are measured."""
        return tuple(
            one for e in self.evidence if e.playback is not None for one in e.playback.loudspeakers
        )

    def at(self, talker: str) -> Point:
        """Head of a talking point [m]."""
        return next(t.at for e in self.evidence for t in e.talkers if t.id == talker)


def plan(judged: Judged, *, arrangement: str = "", places: int = MOST_PLACES) -> SessionPlan:
    """Return what to record in a room.

    Parameters
    ----------
    judged : Judged
        What is predicted of it.
    arrangement : str
        Which one is measured, of a room that divides; see `check_arrangement`.
    places : int
        Ears, and talking points, at which something is recorded at most, in each space.

    Raises
    ------
    InputError
        Nothing is placed that could be measured.
    """
    spaces = _spaces(judged, arrangement)
    if not any(e.microphones or e.playback for e in spaces):
        raise InputError(
            "no microphone and no loudspeaker is placed, so there is no path to measure; place "
            "them first: wellheard design"
        )
    parts = [_Space(e, places) for e in spaces]
    numbered = _Numbers()
    found = SessionPlan(
        evidence=spaces,
        arrangement=arrangement,
        noise=tuple(numbered(s) for p in parts for s in p.noise()),
        playback=tuple(numbered(s) for p in parts for s in p.playback()),
        talkers=tuple(numbered(s) for p in parts for s in p.talkers()),
        echo=tuple(numbered(s) for p in parts for s in p.echo()),
        left_out=tuple(t.id for p in parts for t in p.evidence.talkers if t.id not in p.measured()),
        speech_dba=_effort_dba(spaces[0]),
    )
    return found


def check_arrangement(room: Room, arrangement: str) -> None:
    """Refuse an arrangement that the room does not have, and none where it has some.

    Raises
    ------
    InputError
        With those that it has.
    """
    known = list(room.arrangements)
    if arrangement and arrangement not in known:
        raise InputError(
            f"--arrangement: {arrangement!r}; this room has {', '.join(known) or 'none'}"
        )
    if known and not arrangement:
        raise InputError(
            f"this room divides ({', '.join(known)}) and is measured as it stands; say how with "
            f"--arrangement {known[0]}"
        )


def _spaces(judged: Judged, arrangement: str) -> tuple[Evidence, ...]:
    if not judged.parts:
        return (judged.evidence,)
    return tuple(p.evidence for p in judged.parts if p.part.arrangement == arrangement)


def _effort_dba(evidence: Evidence) -> float:
    levels = speech_levels_db(evidence.room.people.effort)
    return float(a_weighted_level_db(levels))


def spread_out(talkers: Sequence[Talker], first: Sequence[str], most: int) -> tuple[str, ...]:
    """Places that matter first, then each time the one farthest from all that are chosen.

    Parameters
    ----------
    talkers : sequence of Talker
        To choose from.
    first : sequence of str
        Those that are chosen before others.
    most : int
        How many are chosen.
    """
    at = {t.id: np.asarray(t.at) for t in talkers}
    chosen = list(dict.fromkeys(first))[:most]
    rest = [t.id for t in talkers if t.id not in chosen]
    while rest and len(chosen) < most:
        gaps = [
            min((float(np.linalg.norm(at[r] - at[c])) for c in chosen), default=math.inf)
            for r in rest
        ]
        chosen.append(rest.pop(gaps.index(max(gaps))))
    return tuple(chosen)


class _Space:
    """What is recorded in one space."""

    def __init__(self, evidence: Evidence, places: int) -> None:
        self.evidence = evidence
        rows = evidence.playback.rows if evidence.playback is not None else ()
        by_level = sorted(rows, key=lambda r: r.level.value)
        worst_in = sorted(rows, key=lambda r: r.chance)
        ends = [r.talker.id for r in (*by_level[-1:], *by_level[:1], *worst_in[:1])]
        worst_out = [row.talker.id for row in evidence.worst_first()[:2]]
        self.ears = spread_out(evidence.talkers, ends or worst_out, places)
        self.mouths = spread_out([r.talker for r in evidence.outbound], worst_out, places)
        self.served = {r.talker.id: r.path for r in evidence.outbound}

    def measured(self) -> set[str]:
        """Talking points at which anything is recorded."""
        near = {step.to for step in self.playback()} | {step.to for step in self.noise()}
        return near | {step.source for step in self.talkers()}

    def noise(self) -> list[Step]:
        at_ears = [
            _step("noise", to=ear, calibrated=True)
            for ear in (self.ears if self.evidence.playback else self.mouths)[:NOISE_PLACES]
        ]
        used = [m.id for m in self.evidence.microphones]
        return at_ears + [_step("noise", to=name) for name in used]

    def playback(self) -> list[Step]:
        playing = self.evidence.playback
        if playing is None:
            return []
        alone: dict[str, str] = {}
        for one in playing.loudspeakers:
            nearest = min(self.evidence.talkers, key=lambda t: math.dist(t.at, one.at))
            alone.setdefault(one.device, nearest.id)
        several = len(alone) > 1
        steps = []
        for ear in dict.fromkeys((*self.ears, *alone.values())):
            if ear in self.ears:
                level = playing.row(ear).level.value
                steps += [
                    _step("speech", FAR_END, ear, calibrated=True, level_dba=level),
                    _step("sweep", FAR_END, ear, calibrated=True),
                ]
            if several:
                steps += [
                    _step("sweep", device, ear, calibrated=True)
                    for device, nearest in alone.items()
                    if nearest == ear
                ]
        return steps

    def talkers(self) -> list[Step]:
        steps = []
        for mouth in self.mouths:
            path = self.served[mouth]
            steps += [
                _step("speech", mouth, path.microphone, facing_deg=path.facing_deg),
                _step("sweep", mouth, path.microphone, facing_deg=path.facing_deg),
            ]
        return steps

    def echo(self) -> list[Step]:
        if self.evidence.playback is None:
            return []
        steps = [_step("sweep", FAR_END, m.id) for m in self.evidence.microphones]
        return steps + [
            _step("echo", FAR_END, one.microphone, cancelling=True)
            for one in self.evidence.echo
            if one.canceller is not None
        ]


SIGNALS: Final[dict[Kind, str]] = {
    "sweep": "signals/sweep.wav",
    "speech": "signals/speech.wav",
    "echo": "signals/echo.wav",
}


def _step(
    kind: Kind,
    source: str = "",
    to: str = "",
    *,
    facing_deg: float | None = None,
    calibrated: bool = False,
    cancelling: bool = False,
    level_dba: float | None = None,
) -> Step:
    return Step(
        id="-".join(part.replace(".", "-") for part in (kind, source, to) if part),
        file="",
        kind=kind,
        signal=SIGNALS.get(kind, ""),
        source=source,
        to=to,
        facing_deg=facing_deg,
        calibrated=calibrated,
        cancelling=cancelling,
        level_dba=level_dba,
    )


class _Numbers:
    """Names of files in the order of the work, and ids that are none other's."""

    def __init__(self) -> None:
        self.taken: set[str] = set()

    def __call__(self, step: Step) -> Step:
        number = len(self.taken) + 1
        name = step.id[:40].rstrip("-")
        if name in self.taken:
            name = f"{step.id[:36].rstrip('-')}-{number}"
        self.taken.add(name)
        return replace(step, id=name, file=f"{number:02d}-{name}.wav")

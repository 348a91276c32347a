"""A room as it stands among all rooms of a folder: its plan, how it fares, what it holds.

What a room is can be told at once. How it fares takes a prediction, which is remembered beside
the rooms by what it depends on, so that a rename or a restart asks for none.
"""

from __future__ import annotations

import functools
import hashlib
import json
import threading
from collections import Counter
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any, get_args

from wellheard import __version__, files
from wellheard.catalog.catalogue import Catalogue
from wellheard.dossier.places import worst_state
from wellheard.dossier.words import NBSP, figure
from wellheard.drawings.thumbnail import Stamp, Thumbnail, interval, mark, thumbnail
from wellheard.errors import InputError
from wellheard.predict.devices import placed_microphones
from wellheard.predict.evidence import Evidence
from wellheard.predict.evidence import State as State
from wellheard.predict.parts import plain_evidence
from wellheard.room.devices import DeviceKind
from wellheard.room.document import Room
from wellheard.units import FOOT, Unit, format_length
from wellheard.workflow.bothways import both_ways
from wellheard.workflow.load import Loaded
from wellheard.workflow.prices import total

STATES: tuple[State, ...] = ("kept", "at risk", "broken", "not assessed")
"""In the order they are counted in; see `Outlook.badness` for the order of rooms."""
SPAN = (0.45, 0.80)
"""STI at both ends of the scale of every card."""
MOST_REMEMBERED = 1000
"""Predictions kept beside the rooms; the oldest go first."""
NO_MICROPHONE = "no microphone is placed yet"
UNHEARD = "no place is heard in every arrangement"


# How it fares ----------------------------------------------------------------------------------


@dataclass(frozen=True)
class Worst:
    """The place that decides, with the STI of its 10, 50 and 90 % points."""

    place: str
    sti: float
    low: float
    high: float
    promise: float | None
    chance: float


@dataclass(frozen=True)
class Outlook:
    """What the prediction of a room says, in few words.

    Attributes
    ----------
    states : mapping of str to State
        Of every place, by its path in the document: a seat is one, a standing area is one.
    worst : Worst or None
        None where nothing is assessed.
    why : str
        Why not.
    """

    states: Mapping[str, State]
    worst: Worst | None = None
    why: str = ""

    @property
    def counts(self) -> dict[State, int]:
        """How many places are in each state, those with none left out."""
        found = Counter(self.states.values())
        return {state: found[state] for state in STATES if found[state]}

    @property
    def badness(self) -> tuple[int, float, float]:
        """What orders rooms: broken, at risk, not assessed, kept; then the least chance."""
        states = set(self.states.values())
        step = next(
            (i for i, s in enumerate(("broken", "at risk", "not assessed")) if s in states), 3
        )
        worst = self.worst
        return (step, worst.chance if worst else 1.0, worst.sti if worst else 1.0)


def predicted(loaded: Loaded) -> Outlook:
    """Predict every place of a room; what its assumptions do is left out.

    Raises
    ------
    InputError
        The room cannot be predicted.
    """
    return outlook(plain_evidence(loaded.room, loaded.catalogue))


def outlook(evidence: Evidence) -> Outlook:
    """The few words about a prediction that is there already."""
    heard = {row.talker.id for row in evidence.outbound}
    deaf = {t.owner for t in evidence.talkers if t.id not in heard}
    states: dict[str, State] = {t.owner: "not assessed" for t in evidence.talkers}
    for place in both_ways(evidence):
        also: list[State] = ["not assessed"] if place.owner in deaf else []
        states[place.owner] = worst_state([place.state, *also])
    row = evidence.worst()
    if row is None:
        return Outlook(states, why=UNHEARD if evidence.microphones else NO_MICROPHONE)
    return Outlook(
        states,
        Worst(
            place=row.talker.owner.rpartition(".")[2],
            sti=round(row.sti.value, 3),
            low=round(row.sti.low, 3),
            high=round(row.sti.high, 3),
            promise=row.sti.target,
            chance=round(row.chance, 4),
        ),
    )


class Outlooks:
    """Predictions of the rooms of a folder, made one at a time and remembered.

    Parameters
    ----------
    file : path
        Where they are kept; where that cannot be written, they last as long as the program.
    """

    def __init__(self, file: Path) -> None:
        self._file = file
        self._making = threading.Lock()
        self._lock = threading.Lock()
        self._known = _read(file)

    def known(self, loaded: Loaded) -> Outlook | None:
        """What was predicted for this room before, if it was."""
        with self._lock:
            return self._known.get(_mark_of(loaded))

    def of(self, loaded: Loaded) -> Outlook:
        """What was predicted for this room, predicted now where nobody has.

        Raises
        ------
        InputError
            The room cannot be predicted.
        """
        with self._making:
            found = self.known(loaded)
            if found is not None:
                return found
            found = predicted(loaded)
            self.remember(loaded, found)
            return found

    def remember(self, loaded: Loaded, found: Outlook) -> None:
        """Keep a prediction."""
        with self._lock:
            self._known[_mark_of(loaded)] = found
            while len(self._known) > MOST_REMEMBERED:
                del self._known[next(iter(self._known))]
            data = {key: asdict(one) for key, one in self._known.items()}
        text = json.dumps({"cards": data}, ensure_ascii=False, separators=(",", ":"))
        try:
            self._file.parent.mkdir(exist_ok=True)
            files.save(self._file, text.encode())
        except (OSError, InputError):
            return  # nothing is lost that cannot be predicted again


def _read(file: Path) -> dict[str, Outlook]:
    """What a file of predictions holds; nothing if it is not one of ours."""
    try:
        data = json.loads(file.read_text("utf-8"))["cards"]
        return {str(key): _outlook(one) for key, one in data.items()}
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return {}


def _outlook(data: Any) -> Outlook:
    states = {str(path): state for path, state in data["states"].items()}
    if not set(states.values()) <= set(get_args(State)):
        raise ValueError("no such state")
    worst = data["worst"]
    return Outlook(states, None if worst is None else Worst(**worst), str(data["why"]))


def _mark_of(loaded: Loaded) -> str:
    """Hash of everything that a prediction depends on: not of names, nor of the text's form."""
    room = loaded.room.model_dump_json(exclude={"title", "project", "history"})
    parts = (__version__, _shipped(), *sorted(one.digest for one in loaded.own), room)
    return hashlib.sha256("\n".join(parts).encode()).hexdigest()[:32]


@functools.cache
def _shipped() -> str:
    return Catalogue.shipped().hash


# What it is ------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Face:
    """What a card says without a prediction.

    Attributes
    ----------
    size, size_other : str
        Largest sides, in the reader's unit and in the other.
    devices : tuple of str
        Counted by kind.
    stage : str
        How far the work has come.
    price : str
        Devices as installed; empty where there is none to tell, and ``price_why`` says why.
    """

    title: str
    subtitle: str
    size: str
    size_other: str
    devices: tuple[str, ...]
    stage: str
    price: str
    price_why: str = field(default="")


def face(loaded: Loaded, *, unit: Unit) -> Face:
    """What a room is, in few words."""
    room = loaded.room
    metric, feet = _size(room)
    price, why = _price(room, loaded.catalogue)
    return Face(
        title=room.title or "Untitled room",
        subtitle=" · ".join(part for part in (room.project.client, room.project.site) if part),
        size=metric if unit == "m" else feet[0],
        size_other=feet[1] if unit == "m" else metric,
        devices=_devices(room),
        stage=_stage(room),
        price=price,
        price_why=why,
    )


def _size(room: Room) -> tuple[str, tuple[str, str]]:
    """Sides in metres; in feet and inches, and in round feet."""
    sides = [max(c) - min(c) for c in zip(*room.space.outline, strict=True)]
    metric = " × ".join(figure(side, 1) for side in sides)
    whole = " × ".join(figure(side / FOOT, 0) for side in sides)
    exact = " × ".join(format_length(side, unit="ft") for side in sides)
    return f"{metric}{NBSP}m", (exact, f"{whole}{NBSP}ft")


_KINDS: dict[DeviceKind, tuple[str, str]] = {
    "microphone": ("microphone", "microphones"),
    "combined": ("combined device", "combined devices"),
    "loudspeaker": ("loudspeaker", "loudspeakers"),
    "processor": ("processor", "processors"),
}


def _devices(room: Room) -> tuple[str, ...]:
    kinds = Counter(device.kind for device in room.devices.values())
    said = [
        f"{kinds[kind]} {one if kinds[kind] == 1 else many}"
        for kind, (one, many) in _KINDS.items()
        if kinds[kind]
    ]
    rest = sum(count for kind, count in kinds.items() if kind not in _KINDS)
    if rest:
        said.append(f"{rest} other {'device' if rest == 1 else 'devices'}")
    return tuple(said)


def _stage(room: Room) -> str:
    devices = room.devices.values()
    hearing = [d for d in devices if d.kind in ("microphone", "combined")]
    if not hearing:
        return "surveyed, no microphone yet"
    if room.measurements:
        return "measured"
    dates = [d.installed.date for d in hearing if d.installed and d.installed.date]
    if len(dates) == len(hearing):
        return f"installed {max(dates).year}"
    revision = room.project.revision
    return f"designed, rev{NBSP}{revision}" if revision else "designed"


def _price(room: Room, catalogue: Catalogue) -> tuple[str, str]:
    """Price of all devices that are not owned, as installed; or why there is none."""
    if all(device.owned for device in room.devices.values()):
        return "", "nothing to buy" if room.devices else "no price yet"
    found = total(room, catalogue)
    return ("", found.why) if found.amount is None else (found.words, "")


# What is drawn ---------------------------------------------------------------------------------


def drawn(loaded: Loaded, found: Outlook | None) -> Thumbnail:
    """The plan of a room, its places marked by how they fare where that is known."""
    room = loaded.room
    states: Mapping[str, State] = found.states if found else {}
    return thumbnail(
        Stamp(
            outline=room.space.outline,
            obstacles=tuple(o.outline for o in room.space.obstacles.values()),
            tables=tuple(
                item.outline
                for item in room.furniture.values()
                if item.kind in ("table", "soft", "cupboard")
            ),
            areas=tuple(
                (area.outline, states.get(f"people.standing.{name}", ""))
                for name, area in room.people.standing.items()
            ),
            partitions=tuple((p.from_, p.to) for p in room.partitions.values()),
            seats=tuple(
                (seat.at, states.get(f"people.seats.{name}", ""))
                for name, seat in room.people.seats.items()
            ),
            microphones=tuple(m.at[:2] for m in placed_microphones(room, loaded.catalogue, ())),
        )
    )


def range_bar(worst: Worst) -> str:
    """The range of the worst place as SVG, on the scale of all cards."""
    return interval(worst.low, worst.sti, worst.high, promise=worst.promise, span=SPAN)


def state_mark(state: State) -> str:
    """The mark of a state as SVG."""
    return mark(state)

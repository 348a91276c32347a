"""What is promised of one place, judged: ranges, chances, and the state that they make."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from wellheard.predict import tolerances
from wellheard.predict.evidence import SEAT_TARGETS, Quantity, State
from wellheard.room.document import Room

UNITS = {
    "sti_outbound": "",
    "direct_to_reverberant_db": "dB",
    "speech_to_noise_db": "dB",
    "sti_inbound": "",
    "listening_level_dba": "dBA",
    "uniformity_db": "dB",
}

SHARES = frozenset({"sti_outbound", "sti_inbound"})
"""Quantities that stay within 0 and 1."""


@dataclass(frozen=True)
class Promise:
    """How one row keeps what is promised: as in `wellheard.predict.evidence.Outbound`."""

    quantities: dict[str, Quantity]
    chance: float
    binds: str
    state: State


def promise(room: Room, values: Mapping[str, tuple[float, float]]) -> Promise:
    """Judge the middle values and standard deviations of the targets that are decided by seat.

    Parameters
    ----------
    room : Room
        With its targets.
    values : mapping
        By the names of ``SEAT_TARGETS``.
    """
    each = {
        name: quantity(name, value, sigma, getattr(room.targets, name))
        for name, (value, sigma) in values.items()
    }
    promised = {name: each[name].chance for name in SEAT_TARGETS if each[name].chance is not None}
    return Promise(
        quantities=each,
        chance=min((c for c in promised.values() if c is not None), default=1.0),
        binds=min(promised, key=lambda n: promised[n] or 0.0, default=""),
        state=state(room, each.values()),
    )


def quantity(name: str, value: float, sigma: float, target: float | None) -> Quantity:
    """A quantity with its 10–90 % range and the chance of its target; STI stays within 0–1."""
    spread = tolerances.NORMAL_90 * sigma
    low, high = value - spread, value + spread
    if name in SHARES:
        low, high = max(0.0, low), min(1.0, high)
    return Quantity(
        name=name,
        value=value,
        low=low,
        high=high,
        sigma=sigma,
        unit=UNITS[name],
        target=target,
        chance=None if target is None else tolerances.chance_of(value - target, sigma),
    )


def with_chance(found: Quantity, chance: float) -> Quantity:
    """The same with another chance: of a range, or of a limit that must not be passed."""
    return replace(found, chance=chance)


def state(room: Room, each: Iterable[Quantity]) -> State:
    """State of a place by its quantities; those without a target do not count."""
    promised = [q for q in each if q.target is not None]
    return state_of(
        room,
        missed=any((q.margin or 0.0) < 0 for q in promised),
        chances=[q.chance or 0.0 for q in promised],
    )


def state_of(room: Room, *, missed: bool, chances: Sequence[float]) -> State:
    """State by whether a middle value misses its target, and the chances of all targets."""
    if not chances:
        return "not assessed"
    if missed:
        return "broken"
    wanted = room.targets.chance
    return "at risk" if wanted is not None and min(chances) < wanted else "kept"

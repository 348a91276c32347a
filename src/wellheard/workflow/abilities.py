"""What a product does less well than the one that it replaces, from the two sheets.

Only what is worse, or other, is told: what a sheet does not say is no aspect.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

from wellheard.catalog.products import (
    Amplifier,
    AnyProduct,
    Extender,
    Loudspeaker,
    Microphone,
    Processor,
    Switch,
)
from wellheard.units import Unit, format_length
from wellheard.workflow.aspects import Answer, Aspect

SMALL = 1e-9


@dataclass(frozen=True)
class Ability:
    """One figure of a sheet: what it is called, when another is worse, and what follows then."""

    name: str
    of: Callable[[Any], Any]
    worse: Callable[[Any, Any], bool]
    """Of the old and the new figure."""
    said: Callable[[Any, Unit], str]
    why: str
    answer: Answer = "with changes"


def _less(old: Any, new: Any) -> bool:
    return bool((new or 0) < (old or 0) - SMALL)


def _more(old: Any, new: Any) -> bool:
    return bool((new or 0) > (old or 0) + SMALL)


def _lost(old: Any, new: Any) -> bool:
    """A quality, or one of several, that the new one has not."""
    if isinstance(old, tuple):
        return bool(set(old) - set(new))
    return bool(old and not new)


def _figure(unit: str) -> Callable[[Any, Unit], str]:
    return lambda value, _: "none" if value is None else f"{value:g}{unit}"


def _list(unit: str) -> Callable[[Any, Unit], str]:
    return lambda values, _: f"{', '.join(f'{v:g}' for v in values)}{unit}" if values else "none"


def _yes(value: Any, _: Unit) -> str:
    return "yes" if value else "no"


def _plain(value: Any, _: Unit) -> str:
    return str(value)


def _length(value: Any, unit: Unit) -> str:
    return f"to {format_length(value, unit=unit)}"


_RACK = Ability(
    "rack space", lambda p: p.rack_units, _more, _figure(" U"), "more room in the rack is needed"
)
_LATENCY = Ability(
    "latency",
    lambda p: p.latency_ms,
    _more,
    _figure(" ms"),
    "set the delays of loudspeakers and picture anew",
)

_ABILITIES: dict[type, tuple[Ability, ...]] = {
    Microphone: (
        Ability(
            "housing",
            lambda p: p.combined,
            _lost,
            lambda value, _: "with loudspeaker and canceller" if value else "microphone alone",
            "its loudspeaker and canceller go with the old one",
            "no",
        ),
    ),
    Processor: (
        Ability(
            "canceller tail",
            # Of a product without a canceller the aspect of that name speaks.
            lambda p: 1000 * p.canceller_tail if p.canceller else None,
            lambda old, new: new is not None and _less(old, new),
            _figure(" ms"),
            "hold the shorter tail against the decay of the room",
        ),
        Ability(
            "canceller loss",
            lambda p: p.canceller_loss_db,
            lambda old, new: new is not None and _less(old, new),
            _figure(" dB"),
            "hold what it adds against the echo loss that the far end needs",
        ),
        Ability(
            "automatic mixer",
            lambda p: p.automatic_mixer,
            _lost,
            _yes,
            "another device has to mix, else every microphone stays open",
        ),
        _LATENCY,
        _RACK,
    ),
    Loudspeaker: (
        Ability(
            "highest level",
            lambda p: p.max_level_db,
            _less,
            _figure(" dB"),
            "check the level at the farthest seat",
        ),
        Ability(
            "sensitivity",
            # Of one with its own amplifier it is the maker's affair.
            lambda p: None if p.active else p.sensitivity_db,
            lambda old, new: new is not None and _less(old, new),
            _figure(" dB"),
            "the amplifier has to give more for the same level",
        ),
        Ability(
            "coverage",
            lambda p: p.angle_deg,
            _less,
            _figure("°"),
            "check that it still covers the seats between two of them",
        ),
        Ability(
            "taps", lambda p: p.taps_w, _lost, _list(" W"), "on a line with transformers: set anew"
        ),
    ),
    Amplifier: (
        Ability(
            "channel power",
            lambda p: p.channel_power_w,
            _less,
            _figure(" W"),
            "check it against the loudspeakers and the sum of their taps",
        ),
        Ability(
            "smallest load",
            lambda p: p.minimum_impedance or None,
            # None drives no loudspeaker of low impedance at all.
            lambda old, new: old is not None and (new is None or _more(old, new)),
            _figure(" Ω"),
            "check the impedance of what hangs on a channel",
        ),
        Ability(
            "line voltages",
            lambda p: p.line_voltages,
            _lost,
            _list(" V"),
            "check what feeds the loudspeakers with transformers",
        ),
        _RACK,
    ),
    Switch: (
        Ability(
            "ports with power",
            lambda p: p.poe_ports,
            _less,
            _figure(""),
            "check how many devices draw power from it",
        ),
        Ability(
            "power class",
            lambda p: p.supplies_class,
            _less,
            _figure(""),
            "check the class of what draws power from it",
        ),
        Ability(
            "power for all ports",
            lambda p: p.poe_budget_w,
            _less,
            _figure(" W"),
            "add up what draws power from it",
        ),
        Ability(
            "managed",
            lambda p: p.managed,
            _lost,
            _yes,
            "networked audio needs its priorities and its multicast kept in order",
        ),
        Ability(
            "fan",
            lambda p: not p.fan,
            _lost,
            lambda without, _: "none" if without else "yes",
            "its fan is heard: not in the room itself",
        ),
        _RACK,
    ),
    Extender: (
        Ability(
            "carries",
            lambda p: p.carries,
            lambda old, new: bool(old != new),
            _plain,
            "another kind of link",
            "no",
        ),
        Ability(
            "cable between",
            lambda p: p.over,
            lambda old, new: bool(old != new),
            _plain,
            "another cable has to be pulled",
        ),
        Ability("reach", lambda p: p.max_length, _less, _length, "check the length of the run"),
        Ability(
            "passes power",
            lambda p: p.passes_power,
            _lost,
            _yes,
            "what it fed needs power of its own",
        ),
        _LATENCY,
    ),
}


def abilities(before: AnyProduct, after: AnyProduct, *, unit: Unit) -> Iterator[Aspect]:
    """What is worse, or other, by the two sheets; both are of one kind."""
    for ability in _ABILITIES.get(type(before), ()):
        old, new = ability.of(before), ability.of(after)
        if ability.worse(old, new):
            yield Aspect(
                ability.name,
                ability.answer,
                ability.said(old, unit),
                ability.said(new, unit),
                ability.why,
            )
    if set(before.colours) - set(after.colours) and after.colours:
        none = not set(before.colours) & set(after.colours)
        yield Aspect(
            "colour",
            "with changes" if none else "not assessed",
            ", ".join(before.colours),
            ", ".join(after.colours),
            "it will look different" if none else "look which colour the old one has",
        )

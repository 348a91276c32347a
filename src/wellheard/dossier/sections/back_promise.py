"""The promise of the way back, line by line: heard in the room, evenly, without echo, in time."""

from __future__ import annotations

from collections.abc import Sequence

from wellheard.dossier.figures import promise_bar
from wellheard.dossier.model import Better, PromiseRow, Run
from wellheard.dossier.places import worst_state
from wellheard.dossier.words import NBSP, NOT_ASSESSED, brief, figure, percent, with_unit
from wellheard.predict.evidence import Evidence, Quantity, State
from wellheard.predict.tolerances import EFFORT_SIGMA_DB, NORMAL_90, chance_of
from wellheard.predict.wayback import Echo

IN_ROOM = "in-room-delay"


def back_promises(evidence: Evidence, spaces: Sequence[Evidence]) -> list[PromiseRow]:
    """Return the rows of the way back, the worst of all spaces each; not assessed without one."""
    return [
        *_understood(evidence, spaces),
        *_loud_enough(evidence, spaces),
        *_even(evidence, spaces),
        _echo(evidence, spaces),
        *_delay(evidence, spaces),
    ]


def unassessed(asked: str, promised: str, target: str) -> PromiseRow:
    """Return the row of what was promised and not predicted."""
    return PromiseRow(
        asked=asked,
        promised=promised,
        predicted=Run(NOT_ASSESSED),
        bar=None,
        chance=NOT_ASSESSED,
        state="not assessed",
        target=target,
    )


def _all_play(spaces: Sequence[Evidence]) -> bool:
    return all(space.playback is not None for space in spaces)


def _state(evidence: Evidence, *, missed: bool, chance: float, everybody: bool) -> State:
    """Kept only where every space plays: what a silent one holds is not known."""
    wanted = evidence.room.targets.chance
    state: State
    sure = wanted is None or chance >= wanted
    state = "broken" if missed else "kept" if sure else "at risk"
    return worst_state([state, *(() if everybody else ("not assessed",))])


def _understood(evidence: Evidence, spaces: Sequence[Evidence]) -> list[PromiseRow]:
    target = evidence.room.targets.sti_inbound
    if target is None:
        return []
    promised = f"STI{NBSP}{figure(target, 2)}"
    rows = [row.sti for space in spaces if space.playback for row in space.playback.rows]
    if not rows:
        return [unassessed("Understood in the room", promised, "sti_inbound")]
    worst = min(rows, key=lambda one: (_chance(one), one.value))
    return [
        PromiseRow(
            asked="Understood in the room, worst place",
            promised=promised,
            predicted=Run(figure(worst.value, 2), "strong"),
            bar=promise_bar(worst.low, worst.value, worst.high, target, worst.sigma, "more"),
            chance=percent(worst.chance),
            state=_state(
                evidence,
                missed=worst.value < target,
                chance=_chance(worst),
                everybody=_all_play(spaces),
            ),
            target="sti_inbound",
        )
    ]


def _chance(one: Quantity) -> float:
    return 1.0 if one.chance is None else one.chance


def _loud_enough(evidence: Evidence, spaces: Sequence[Evidence]) -> list[PromiseRow]:
    promised_range = evidence.room.targets.listening_level_dba
    if promised_range is None:
        return []
    low, high = promised_range
    promised = f"{brief(low, 1)}–{brief(high, 1)}{NBSP}dBA"
    asked, name = "Loud enough in the room", "listening_level_dba"
    rows = [row.level for space in spaces if space.playback for row in space.playback.rows]
    if not rows:
        return [unassessed(asked, promised, name)]
    worst = min(rows, key=lambda one: (_chance(one), one.value))
    quiet, loud = min(one.value for one in rows), max(one.value for one in rows)
    upper = worst.target == high
    better: Better = "less" if upper else "more"
    return [
        PromiseRow(
            asked=f"{asked}, worst place",
            promised=promised,
            predicted=Run(_span(quiet, loud), "strong"),
            bar=promise_bar(
                worst.low, worst.value, worst.high, high if upper else low, worst.sigma, better
            ),
            chance=percent(worst.chance),
            state=_state(
                evidence,
                missed=not low <= quiet or not loud <= high,
                chance=_chance(worst),
                everybody=_all_play(spaces),
            ),
            target=name,
        )
    ]


def _span(low: float, high: float) -> str:
    first, last = figure(low, 0), figure(high, 0)
    return f"{first}–{last}{NBSP}dBA" if first != last else f"{first}{NBSP}dBA"


def _even(evidence: Evidence, spaces: Sequence[Evidence]) -> list[PromiseRow]:
    target = evidence.room.targets.uniformity_db
    if target is None:
        return []
    asked, name = "Evenness, loudest to quietest", "uniformity_db"
    promised = with_unit(brief(target, 1), "dB")
    found = [space.playback.uniformity for space in spaces if space.playback is not None]
    if not found:
        return [unassessed(asked, promised, name)]
    worst = min(found, key=lambda one: (_chance(one), -one.value))
    bar = None
    if worst.sigma > 0:
        bar = promise_bar(max(worst.low, 0.0), worst.value, worst.high, target, worst.sigma, "less")
    return [
        PromiseRow(
            asked=asked,
            promised=promised,
            predicted=Run(with_unit(figure(worst.value, 1), "dB"), "strong"),
            bar=bar,
            chance=percent(worst.chance),
            state=_state(
                evidence,
                missed=worst.value > target,
                chance=_chance(worst),
                everybody=_all_play(spaces),
            ),
            target=name,
        )
    ]


def _echo(evidence: Evidence, spaces: Sequence[Evidence]) -> PromiseRow:
    asked, name = "No echo for the far end", "echo_loss_db"
    stated = evidence.room.targets.echo_loss_db
    echoes = [one for space in spaces for one in space.echo]
    if not echoes:
        return unassessed(
            asked, "by the delay" if stated is None else with_unit(brief(stated, 1), "dB"), name
        )
    worst = min(echoes, key=lambda one: (round(left_db(one), 6), one.microphone))
    delay = evidence.room.far_end.one_way_delay_ms
    whose = "" if stated is not None else f", {figure(delay, 0)}{NBSP}ms delay"
    chance = chance_of(left_db(worst), EFFORT_SIGMA_DB)
    half = NORMAL_90 * EFFORT_SIGMA_DB
    reached = reached_db(worst)
    heard = all(space.echo for space in spaces if space.microphones)
    return PromiseRow(
        asked=f"{asked}{whose}",
        promised=with_unit(figure(worst.needed_db, 0), "dB"),
        predicted=Run(with_unit(figure(reached, 0), "dB"), "strong"),
        bar=promise_bar(
            reached - half, reached, reached + half, worst.needed_db, EFFORT_SIGMA_DB, "more"
        ),
        chance=percent(chance),
        state=worst_state([one.state for one in echoes] + ([] if heard else ["not assessed"])),
        target=name,
    )


def reached_db(one: Echo) -> float:
    """Return the loss of room and canceller together. [dB]"""
    return one.return_loss_db + (one.can_add_db or 0.0)


def left_db(one: Echo) -> float:
    """Return by how much the loss of room and canceller exceeds what is needed. [dB]"""
    return reached_db(one) - one.needed_db


def _delay(evidence: Evidence, spaces: Sequence[Evidence]) -> list[PromiseRow]:
    """The longer of the two ways in the room, against the house rule; none where it is relaxed."""
    limit = evidence.room.targets.house_limit(IN_ROOM)
    ways = [
        ms
        for space in spaces
        if space.playback is not None and space.delays is not None
        for ms in (space.delays.outbound_ms, space.delays.inbound_ms)
        if ms is not None
    ]
    if limit is None or not ways:
        return []
    longest = max(ways)
    return [
        PromiseRow(
            asked="No disturbing delay in the room",
            promised=with_unit(figure(1000 * limit, 0), "ms"),
            predicted=Run(with_unit(figure(longest, 0), "ms"), "strong"),
            bar=None,
            chance=NOT_ASSESSED,
            state="kept" if longest <= 1000 * limit else "broken",
            target=IN_ROOM,
        )
    ]

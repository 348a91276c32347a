"""Echo, levels and delays made by hand for the cases of rules, without predicting them.

A case's ``echo`` gives by microphone ``loss`` [dB] and, where it differs from the usual, ``over``
(echo over speech), ``canceller``, ``tail`` and ``tail_needed`` [s], ``bounds`` by name, ``alone``
(return loss by loudspeaker), ``state``, ``needed`` and ``stated`` (what the sheet says that its
canceller adds). ``levels`` gives by device the stages of
its way out as rows [name, at, unit, level, noise, clip], ``advised`` the recommended gain of each.
``delays`` gives ways as rows [name, at, ms], and ``lip_sync`` [ms].
"""

from __future__ import annotations

import math
from typing import Any

from wellheard.predict.wayback import DelayPart, Delays, Echo, LevelDiagram, LevelStage
from wellheard.room.document import Room

Case = dict[str, Any]

USUAL = {"tail": 60.0, "distortion": 40.0, "noise": 40.0, "practice": 30.0}


def echo_of(case: Case) -> tuple[Echo, ...]:
    """Echo of each microphone of a case."""
    return tuple(_echo(name, given) for name, given in case.get("echo", {}).items())


def _echo(name: str, given: Case) -> Echo:
    bounds = {**USUAL, **given.get("bounds", {})}
    residues = [
        bounds[name] for name in ("tail", "distortion", "noise") if bounds[name] is not None
    ]
    stated = given.get("stated")
    cap = bounds["practice"] if stated is None else stated - 20.0
    needed, loss = given.get("needed", 40.5), given["loss"]
    canceller = given.get("canceller", "p1")
    linear = min(-10.0 * math.log10(sum(10.0 ** (-each / 10.0) for each in residues)), cap)
    return Echo(
        microphone=name,
        talker=given.get("talker", "s1"),
        return_loss_bands_db=(loss,) * 7,
        return_loss_db=loss,
        by_loudspeaker_db=tuple(given.get("alone", {"l1": loss}).items()),
        echo_dba=60.0 + given.get("over", 0.0),
        speech_dba=60.0,
        noise_dba=30.0,
        needed_db=needed,
        needed_from="far_end.one_way_delay_ms",
        must_add_db=max(needed - loss, 0.0),
        canceller=canceller,
        tail=given.get("tail", 0.25),
        tail_needed=given.get("tail_needed", 0.2),
        bound_tail_db=bounds["tail"],
        bound_distortion_db=bounds["distortion"],
        bound_noise_db=bounds["noise"],
        bound_practice_db=cap,
        bound_practice_from="practice" if stated is None else "rated",
        suppression_db=20.0,
        can_add_db=None if canceller is None else linear + 20.0,
        state=given.get("state", "kept"),
        stated_db=stated,
    )


def levels_of(case: Case) -> tuple[LevelDiagram, ...]:
    """Level diagrams of a case."""
    advised = case.get("advised", {})
    return tuple(
        LevelDiagram(
            path="outbound",
            device=name,
            stages=tuple(
                LevelStage(what, at, unit, level, noise, clip, None, "by hand", "by hand")
                for what, at, unit, level, noise, clip in rows
            ),
            recommended_gain_db=advised.get(name),
            stated_gain_db=None,
        )
        for name, rows in case.get("levels", {}).items()
    )


def delays_of(case: Case, room: Room) -> Delays:
    """Delays of a case."""
    given = case.get("delays", {})

    def way(name: str) -> tuple[DelayPart, ...]:
        return tuple(DelayPart(what, at, ms, "by hand") for what, at, ms in given.get(name, []))

    return Delays(
        outbound=way("outbound"),
        inbound=way("inbound"),
        lift=way("lift"),
        one_way_ms=room.far_end.one_way_delay_ms,
        lip_sync_ms=given.get("lip_sync"),
    )

"""A lift made by hand for the cases of rules, without predicting it.

A case's ``lift`` may give ``margin``, ``gain``, ``advised``, ``potential``, ``needed`` [dB],
``octave``, ``microphone``, ``loudspeaker``, ``electronics`` [ms], ``ears`` by talking point
(``speaker``, ``natural``, ``lifted``, ``brought`` [dBA], ``after`` [ms]) and ``over_head`` as rows
[talker, microphone, loudspeaker, m]. It is in use where the document has a lift. Without ``lift``
there is none.
"""

from __future__ import annotations

from typing import Any

from wellheard.predict.evidence import Talker
from wellheard.predict.wayback import FarthestPair, Lift, Lifted, OverHead
from wellheard.room.document import Room


def lift_of(case: dict[str, Any], room: Room, talkers: tuple[Talker, ...]) -> Lift | None:
    """Lift of a case; None where it says nothing of one."""
    given = case.get("lift")
    if given is None:
        return None
    microphone, loudspeaker = given.get("microphone", "m1"), given.get("loudspeaker", "l1")
    margin_db = given.get("margin", 8.0)
    return Lift(
        in_use=any(stage.kind == "lift" for stage in room.processing.values()),
        gain_db=given.get("gain", -12.0),
        loop_gain_db=-margin_db - 7.0,
        margin_db=margin_db,
        wanted_margin_db=given.get("wanted", 6.0),
        octave=given.get("octave", 500.0),
        microphone=microphone,
        loudspeaker=loudspeaker,
        open_microphones=1.0,
        potential_gain_db=given.get("potential", 9.0),
        needed_gain_db=given.get("needed", 4.0),
        equivalent_distance=2.4,
        pairs=(),
        rows=tuple(_row(t, given.get("ears", {}).get(t.id, {})) for t in talkers),
        left_out=(),
        excess_db=7.0,
        advised_gain_db=given.get("advised", -14.0),
        stated=True,
        over_head=tuple(OverHead(*one) for one in given.get("over_head", [])),
        farthest=FarthestPair(
            "s1", "s2", microphone, loudspeaker, 6.0, 1.2, 2.0, 3.0, -9.0, -1.0, -5.0, -8.0,
            4.0, 8.0, 6.0,
        ),
        electronics=given.get("electronics", 12.0) / 1000.0,
    )  # fmt: skip


def _row(talker: Talker, given: dict[str, Any]) -> Lifted:
    return Lifted(
        talker=talker,
        speaker=given.get("speaker", "s9"),
        natural_dba=given.get("natural", 52.0),
        lifted_dba=given.get("lifted", 54.0),
        loudspeaker="l1",
        brought_dba=given.get("brought", 50.0),
        after=given.get("after", 8.0) / 1000.0,
    )

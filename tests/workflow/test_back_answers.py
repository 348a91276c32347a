"""Answers on the way back: figures that stand beside a name are of what is named."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from wellheard.cli import render_back
from wellheard.predict import ledger
from wellheard.predict.inbound import heard_from
from wellheard.predict.scene import build
from wellheard.predict.wayback import Arrival
from wellheard.workflow import back_answers
from wellheard.workflow.load import load

ROOM = Path(__file__).parents[1] / "cases" / "rooms" / "there-and-back.room.yaml"


def test_the_distance_of_a_voice_is_that_of_the_loudspeaker_it_is_heard_from() -> None:
    # Law of the first wavefront, Haas 1951 [M]: a later sound that is 12 dB louder takes it over.
    loaded = load(ROOM)
    playback = ledger.evidence(build(loaded.room, loaded.catalogue)).playback
    assert playback is not None
    arrivals = (
        Arrival("near", 1.25, 0.010, 50.0, 52.0),
        Arrival("loud", 3.75, 0.018, 62.0, 66.0),
    )
    row = replace(playback.rows[0], arrivals=arrivals, heard_from=heard_from(arrivals))
    answer = back_answers.inbound(row)
    assert (answer["loudspeaker"], answer["distance"]) == ("loud", 3.75)
    printed = render_back.listening(replace(playback, rows=(row,)), feet=False)
    assert "loud" in printed
    assert "3.75" in printed
    assert "1.25" not in printed

"""Title blocks say which way speech goes in the room that they are of."""

from __future__ import annotations

import pytest

from wellheard.workflow.design import predict
from wellheard.workflow.load import load_text
from wellheard.workflow.sheet_words import title_block

ROOM = """\
wellheard: 1
space: {outline: [[0, 0], [6, 0], [6, 4], [0, 4]], height: 2.7}
people: {seats: {s1: {at: [3, 2], facing: 0}, s2: {at: [4, 2], facing: 180}}}
devices:
  m1: {kind: microphone, product: ceiling-head-3, at: [3.5, 2, 2.7]}
"""
LOUDSPEAKER = "  l1: {kind: loudspeaker, product: wall-5-active, at: [0.1, 2, 1.8]}\n"


@pytest.mark.parametrize(
    ("text", "said"),
    [(ROOM, "2 seats · outbound speech"), (ROOM + LOUDSPEAKER, "2 seats · speech both ways")],
)
def test_a_room_with_loudspeakers_is_not_of_outbound_speech_alone(text: str, said: str) -> None:
    loaded = load_text(text, "here.room.yaml")
    evidence = predict(loaded).evidence
    block = title_block(loaded.room, "A-01", "1", "0000-0000", "designed", evidence, "")
    assert block.subtitle == said

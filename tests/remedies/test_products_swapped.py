"""Another processor in the place of one whose tail is too short: its cables go to its ports."""

import pytest

from wellheard.catalog.catalogue import Catalogue
from wellheard.room import codec
from wellheard.room.document import Room
from wellheard.workflow.design import judge
from wellheard.workflow.remedying import key, offers

CATALOGUE = Catalogue.shipped()
TEXT = """\
wellheard: 1
space:
  outline: [[0, 0], [6.0, 0], [6.0, 4.2], [0, 4.2]]
  height: 2.7
  finishes: {floor: carpet-tile}
people: {seats: {s1: {at: [2.5, 1.6], facing: 90}, s2: {at: [2.5, 2.6], facing: 270}}}
noise: {background: {nc: 25}}
equipment:
  rack: {kind: rack, at: [0.3, 3.9, 0.5]}
  computer: {kind: computer, at: [0.5, 3.9, 0.5]}
devices:
  m1: {kind: microphone, product: ceiling-head-3, at: [2.7, 2.1, 2.7]}
  l1: {kind: loudspeaker, product: wall-5-active, at: [0.1, 2.1, 2.1]}
  p1: {kind: processor, product: bridge-2, equipment: rack}
links:
  c01: {from: m1.link, to: p1.mic-1, cable: twisted-pair, length: 11}
  c02: {from: p1.usb, to: computer.usb, cable: usb-cord-2, length: 2}
  c03: {from: p1.line-out, to: l1.in, cable: microphone-pair, length: 7}
"""


@pytest.fixture(scope="module")
def room() -> Room:
    return codec.parse(TEXT)


def test_the_cheapest_with_a_longer_tail_takes_its_place_and_its_cables(room: Room) -> None:
    judged = judge(room, CATALOGUE, assumptions=False)
    wanted = "tail-too-short@devices.m1"
    tail = [f for f in judged.errors if key(f) == wanted]
    assert len(tail) == 1
    (best,) = offers(room, CATALOGUE, judged, only=tail)
    every = (best, *best.further)
    swaps = [one for one in every if "processor-4" in one.says]
    assert swaps, [one.says for one in every]
    made = swaps[0].room
    assert made.devices["p1"].product == "processor-4"
    (echo,) = swaps[0].judged.evidence.echo
    assert echo.tail is not None
    assert echo.tail >= echo.tail_needed
    assert made.links["c03"].from_ == "p1.line-out-1"
    assert made.links["c01"].to == "p1.mic-1"
    assert swaps[0].after is None

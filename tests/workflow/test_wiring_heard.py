"""A canceller that the room's echo outlasts is not bought, however cheap it is."""

from collections.abc import Iterator
from typing import Any

import pytest

from wellheard.catalog.catalogue import Catalogue
from wellheard.room import codec
from wellheard.workflow.load import Loaded
from wellheard.workflow.wiring import WiredRoom, wire

TEXT = """\
wellheard: 1
space:
  outline: [[0, 0], [6.0, 0], [6.0, 4.2], [0, 4.2]]
  height: 2.7
  finishes: {floor: FLOOR}
people: {seats: {s1: {at: [2.5, 1.6], facing: 90}, s2: {at: [2.5, 2.6], facing: 270}}}
noise: {background: {nc: 25}}
equipment: {rack: {kind: rack, at: [0.3, 3.9, 0.5]}}
devices:
  m1: {kind: microphone, product: ceiling-head-3, at: [2.7, 2.1, 2.7]}
  l1: {kind: loudspeaker, product: wall-5-active, at: [0.1, 2.1, 2.1]}
  OWNED
"""
OWNED = "p9: {kind: processor, product: bridge-2, equipment: rack, owned: true}"


def _wired(floor: str, owned: str = "") -> WiredRoom:
    text = TEXT.replace("FLOOR", floor).replace("OWNED", owned)
    return wire(Loaded(codec.parse_document(text), Catalogue.shipped()))


def _processors(made: WiredRoom) -> Iterator[Any]:
    for device in made.room.devices.values():
        product = Catalogue.shipped().product(device.product)
        if product.kind == "processor":
            yield product


@pytest.fixture(scope="module")
def live() -> WiredRoom:
    return _wired("vinyl-floor")


def test_what_is_bought_lasts_as_long_as_the_echo(live: WiredRoom) -> None:
    (bought,) = _processors(live)
    (echo,) = live.judged.evidence.echo
    assert bought.canceller_tail >= echo.tail_needed
    assert not {"tail-too-short", "echo-loss-missed"} & {f.code for f in live.judged.errors}
    # Cheaper ones that would do for the ports are named in the proof.
    cheaper = [
        one
        for one in Catalogue.shipped().processors
        if one.chosen_unnamed
        and one.canceller
        and one.usb
        and one.price < bought.price
        and "twisted-pair" in one.port_kinds
    ]
    assert cheaper
    assert all(one.canceller_tail < echo.tail_needed for one in cheaper)
    assert "too short or too weak" in live.wired.proof.scope


def test_what_is_there_is_kept_and_the_finding_says_so() -> None:
    made = _wired("vinyl-floor", OWNED)
    assert [one.id for one in _processors(made)] == ["bridge-2"]
    assert "tail-too-short" in {f.code for f in made.judged.errors}

"""Rooms whose schedules are worked out by hand in the tests."""

from __future__ import annotations

from wellheard.room import codec
from wellheard.room.document import Room

BASE = """\
wellheard: 1
title: Cockle Room
space:
  outline: [[0, 0], [6, 0], [6, 4], [0, 4]]
  height: 2.7
  ceiling: {void_depth: 0.5}
people: {seats: {s1: {at: [3, 2], facing: 0}}}
equipment:
  rack: {kind: rack, at: [5.7, 0.4, 0.5]}
  computer: {kind: computer, at: [5.7, 1.2, 0.7]}
devices:
  m1: {kind: microphone, product: ceiling-head-3, at: [2, 2, 2.4]}
  mixer: {kind: processor, product: bridge-2, equipment: rack}
links:
  c01: {from: m1.link, to: mixer.mic-1, cable: twisted-pair}
  to-computer: {from: mixer.usb, to: computer.usb, cable: usb-cord-2}
"""
"""One head on a drop, a bridge in the rack, a computer beside it."""

LINES = """\
wellheard: 1
title: Whelk Room
units: ft
site: {region: US-OH}
space:
  outline: [[0, 0], [20, 0], [20, 14], [0, 14]]
  height: 9
  ceiling: {kind: tiles, module: 2, void_depth: 2, air_return: true}
people: {seats: {s1: {at: [10, 7], facing: 0}}}
equipment:
  rack: {kind: rack, at: [19, 1, 2], rack_units: 6}
choices: {colour: black, spares: {loudspeaker: 0.1}}
devices:
  m1: {kind: microphone, product: ceiling-head-2, at: [10, 7, 9], owned: true}
  n1: {kind: loudspeaker, product: ceiling-4, at: [5, 7, 9]}
  n2: {kind: loudspeaker, product: ceiling-4, at: [15, 7, 9]}
  n3: {kind: loudspeaker, product: ceiling-4, at: [10, 3, 9], colour: white}
  amp: {kind: amplifier, product: line-amplifier-1x120, equipment: rack}
  mixer: {kind: processor, product: processor-4, equipment: rack}
links:
  c01: {from: m1.link, to: mixer.mic-1, cable: twisted-pair, length: 31.2}
  c02: {from: mixer.line-out-1, to: amp.in, cable: microphone-pair, length: 3}
  c03: {from: amp.out, to: n1.in, cable: loudspeaker-pair-16, length: 24}
  c04: {from: amp.out, to: n2.in, cable: loudspeaker-pair-16, length: 21}
  c05: {from: amp.out, to: n3.in, cable: loudspeaker-pair-16, length: 20}
"""
"""Three loudspeakers on a line in a void that carries return air; the head is there already."""


def read(text: str = BASE, *changes: tuple[str, str]) -> Room:
    """The room of a text, with pieces of it exchanged."""
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new)
    return codec.parse(text)


NETWORK = """\
wellheard: 1
title: Limpet Room
site: {region: eu}
space:
  outline: [[0, 0], [9, 0], [9, 6], [0, 6]]
  height: 3
  ceiling: {kind: tiles, module: 0.6, void_depth: 0.4, air_return: false}
people: {seats: {s1: {at: [3, 2], facing: 0}}}
equipment:
  rack: {kind: rack, at: [8.6, 0.5, 0.5], rack_units: 12}
  building: {kind: wall-plate, at: [8.9, 1.5, 0.3]}
devices:
  a1: {kind: microphone, product: ceiling-array-16, at: [2.7, 2.7, 3]}
  a2: {kind: microphone, product: ceiling-array-16, at: [5.7, 2.7, 3]}
  l1: {kind: loudspeaker, product: ceiling-6-network, at: [4.5, 1.5, 3]}
  mixer: {kind: processor, product: processor-12, equipment: rack}
  net: {kind: switch, product: switch-24, equipment: rack}
  amp: {kind: amplifier, product: amplifier-4x150, equipment: rack}
  bridge: {kind: bridge, product: usb-bridge, equipment: rack}
links:
  c01: {from: a1.link, to: net.network-1, cable: twisted-pair}
  c02: {from: a2.link, to: net.network-2, cable: twisted-pair}
  c03: {from: l1.in, to: net.network-3, cable: twisted-pair}
  c04: {from: mixer.network, to: net.network-4, cable: network-cord-3}
  c05: {from: amp.network, to: net.network-5, cable: network-cord-3}
  c06: {from: bridge.network, to: net.network-6, cable: network-cord-3}
  c07: {from: building.a, to: net.network-26, cable: twisted-pair}
"""
"""Two arrays and a loudspeaker on a switch, an amplifier and a USB bridge; one uplink."""

"""What the page of the room document says in its own words: examples, meanings, defaults."""

from __future__ import annotations

INTRODUCTION = """\
# The room document

One YAML file holds a room: what it is, who sits where, what is promised, and the design so far. By
custom its name ends in `.room.yaml`. This page has every field, in the order of the document; it is
generated from the JSON Schema that `wellheard schema` prints, so an editor can complete and check
the same fields.

Required are `wellheard`, `space.outline`, `space.height`, and one seat or standing area. Whatever
else is left out takes its default, and every default that counts is listed as an assumption, with
how far it moves the worst seat.

| in the tables | means |
|---|---|
| length | a number in the document's `units`, or text: `442 cm`, `14 ft 6 in`, `17'-4"` |
| point | lengths `[x, y]` or `[x, y, z]`: x east, y north, z up from the floor |
| angle | degrees anticlockwise from east |
| name | small letters, digits and hyphens, 40 at most; you choose it |
| octaves | a mapping from octave to number: `{125: …, 250: …, …, 8000: …}` |
| null | unknown, or not part of the promise; it is never taken for a pass |

Limits of lengths are given in metres. A mistake is told with file, line, column, what was found and
what is allowed, all mistakes at once.
"""

SNIPPETS = {
    "": """\
wellheard: 1
title: Tide Room
units: m
""",
    "project": """\
project: {number: "2026-031", client: Saltmarsh Library, site: Quay House, date: 2026-01-31}
""",
    "site": """\
site: {region: europe, seismic: "no"}
""",
    "space": """\
space:
  outline: [[0, 0], [6.4, 0], [6.4, 4.6], [0, 4.6]]     # counter-clockwise
  walls: [south, east, north, west]
  height: 2.75
  ceiling: {kind: tiles, module: 0.6, origin: [0.2, 0.1], void_depth: 0.45, air_return: true}
  climate: {temperature_c: 21, humidity: 0.45}
  finishes:
    floor: carpet-tile
    ceiling: ceiling-mineral-tile
    walls: {south: plasterboard, east: glass-front, north: plasterboard, west: plasterboard}
    patches:
      window: {wall: north, from: 0.6, to: 3.8, bottom: 0.9, top: 2.4, finish: double-glazing}
  obstacles:
    column: {outline: [[5.9, 4.1], [6.2, 4.1], [6.2, 4.4], [5.9, 4.4]], finish: concrete}
  isolation: {south: {stc: 45, outside: {nc: 30}}}
  measured_reverberation:
    {125: 0.62, 250: 0.55, 500: 0.50, 1000: 0.46, 2000: 0.44, 4000: 0.40, 8000: 0.33}
""",
    "furniture": """\
furniture:
  table: {kind: table, outline: [[2.6, 1.6], [4.8, 1.6], [4.8, 2.8], [2.6, 2.8]], height: 0.74}
  picture: {kind: display, wall: west, centre: [2.3, 1.4], size: [1.6, 0.9]}
  lectern: {kind: lectern, at: [0.8, 3.6]}
""",
    "people": """\
people:
  effort: normal
  occupancy: 0.7
  seats:
    s1: {at: [2.9, 1.3], facing: across}     # whom the table puts opposite
    s2: {at: [3.7, 1.3], facing: [90, 180], height: 1.15}     # the worse of both counts
  standing:
    presenter: {outline: [[0.6, 1.2], [1.4, 1.2], [1.4, 3.0], [0.6, 3.0]], facing: 0}
""",
    "noise": """\
noise:
  background: {nc: 30}     # or {dba: 38}, or {levels_db: {63: 52, 125: 48, …, 8000: 22}}
  sources:
    vent: {kind: air-outlet, at: [3.2, 0.7, 2.7], dba_at_1m: 33}
""",
    "overhead": """\
overhead:
  lamp: {kind: luminaire, outline: [[2.6, 2.2], [3.8, 2.2], [3.8, 2.4], [2.6, 2.4]], clearance: 0.3}
""",
    "equipment": """\
equipment:
  rack: {kind: rack, at: [5.7, 0.3, 0.5], note: under the sideboard}
""",
    "far_end": """\
far_end: {one_way_delay_ms: 150, listening_level_dba: 65, noise: {nc: 30}}
""",
    "choices": """\
choices: {allow: [ceiling-head-2, ceiling-head-3], mounting: [ceiling], max_drop: 0.6}
""",
    "devices": """\
devices:
  m1: {kind: microphone, product: ceiling-head-3, at: [2.9, 2.2, 2.7], locked: true}
  mixer: {kind: processor, product: processor-4, equipment: rack, owned: true}
""",
    "links": """\
links:
  c1: {from: m1.link, to: mixer.mic-1, cable: twisted-pair, length: 12}
""",
    "processing": """\
processing:
  echo: {kind: canceller, on: mixer.mic-1}
""",
    "partitions": """\
partitions:
  middle: {from: [3, 0], to: [3, 4.6], finish: plasterboard, stc: 45}
""",
    "arrangements": """\
arrangements:
  whole: {open: [middle]}
  split: {closed: [middle]}
""",
    "targets": """\
targets:
  chance: 0.8
  sti_outbound: 0.62
  direct_to_reverberant_db: -6
  speech_to_noise_db: 15
  house_rules:
    seat-pitch: {relaxed: true, because: "fixed seats, told by the client"}
""",
    "basis": """\
basis: {space.outline: measured, people.seats: drawing, noise.background: assumed}
""",
    "measurements": """\
measurements:
  first-visit: {date: 2026-02-14, by: the installer}
""",
    "history": """\
history:
  heads-not-pendants: {date: 2026-02-02, because: the client wants nothing to hang}
""",
}
"""One example of each part; every one of them is read by the tests."""

WORDS = {
    "Room.title": "Name of the room, as documents print it",
    "Room.project": "What the title block says",
    "Room.site": "What decides cable jackets, mains and bracing",
    "Room.furniture": "Tables, lecterns, pictures, seats to sink into",
    "Room.noise": "What is heard when nobody talks",
    "Room.overhead": "Parts of the ceiling where nothing may be mounted",
    "Room.equipment": "Places that cables end at",
    "Room.far_end": "The other side of the call",
    "Room.choices": "Limits on what a solver may propose",
    "Room.devices": "Devices of the design, and those that are there",
    "Room.links": "Cables between them",
    "Room.processing": "Stages of processing",
    "Room.partitions": "Walls that open",
    "Room.arrangements": "States of the partitions",
    "Room.targets": "What every seat is promised",
    "Room.basis": "How a part of the document is known, by its path; the longest path counts",
    "Arrangement.open": "Partitions that are open",
    "Arrangement.closed": "Partitions that are closed",
    "AssistiveListening.system": "Kind of the system",
    "Ceiling.kind": "Tiles in a grid, a hard surface, or open to the structure",
    "Choices.mounting": "Mountings that may be used",
    "Cupboard.kind": "What it is",
    "Cupboard.outline": "Its plan, counter-clockwise [m]",
    "Device.kind": "What it is",
    "Device.installed": "Since when it has been there",
    "Display.kind": "What it is",
    "Display.wall": "Name of the wall that it hangs on",
    "Equipment.kind": "What it is",
    "Equipment.at": "Where cables enter it [m]",
    "Finishes.floor": "Finish of the floor",
    "Finishes.patches": "Parts of walls that are of something else",
    "HouseRule.relaxed": "The rule does not count in this room",
    "Installed.date": "Day of the installation",
    "Lectern.kind": "What it is",
    "Lectern.at": "Its centre on the plan [m]",
    "LevelPatch.surface": "Which of the two it lies on",
    "LevelPatch.finish": "What it is made of",
    "Link.locked": "No solver moves it",
    "Noise.background": "Steady noise that is everywhere the same",
    "Noise.sources": "Sources with a place",
    "NoiseSource.kind": "What it is; decides the octave shape of a dBA alone",
    "NoiseSource.at": "Where it radiates from [m]",
    "Obstacle.outline": "Its plan, counter-clockwise [m]",
    "Obstacle.finish": "What it is made of",
    "Overhead.outline": "Its plan, counter-clockwise [m]",
    "Overhead.kind": "What it is",
    "Partition.from": "Where it begins, on the outline [m]",
    "Partition.to": "Where it ends, on the outline [m]",
    "Partition.finish": "What it is made of, both sides",
    "Patch.finish": "What it is made of",
    "People.seats": "Places where somebody sits",
    "People.standing": "Areas where somebody stands and talks",
    "Processing.kind": "What it does",
    "Project.number": "Of the project, as you file it",
    "Project.revision": "Of the document",
    "Project.client": "For whom",
    "Project.site": "Building",
    "Project.author": "Who answers for it",
    "Project.date": "Of the document; prices are judged by it",
    "Screen.kind": "What it is",
    "Screen.wall": "Name of the wall that it hangs on",
    "Site.region": "Whose rules of cables and mains apply",
    "Site.seismic": "Whether what hangs is braced",
    "Soft.kind": "What it is",
    "Soft.outline": "Its plan, counter-clockwise [m]",
    "Space.ceiling": "Kind, grid and void",
    "Space.climate": "Air of the room",
    "Space.finishes": "What floor, ceiling and walls are made of",
    "Space.obstacles": "Solid things from the floor up",
    "Table.kind": "What it is",
    "Table.outline": "Its plan, counter-clockwise [m]",
    "Targets.house_rules": "What this document does with rules of the house, by code",
}
"""Meanings of fields whose model gives none, because their name does."""

DEFAULTS = {
    "Ceiling.module": "0.6 m; 2 ft where `units` is ft",
    "FarEnd.noise": "`{nc: 30}`",
    "Noise.background": "`{nc: 30}`",
    "Space.walls": "w0, w1, …",
}
"""Defaults that depend on the rest of the document."""

"""Invented systems for the tests and the bench of the diagram."""

from __future__ import annotations

import random

from wellheard.drawings.diagram.model import Box, End, Link, Port, Side, System

LABEL = "twisted pair · 12.5 m"


def random_system(seed: int, boxes: int, links: int, *, reach: int = 12) -> System:
    """Boxes and links at random: free ports and fixed ones, loops, both ways, several at a port."""
    chance = random.Random(seed)
    ports: dict[str, dict[str, Port]] = {f"b{k}": {} for k in range(boxes)}
    made = []
    for number in range(links):
        one = chance.randrange(boxes)
        other = min(max(one + chance.randint(-reach, reach), 0), boxes - 1)
        ends = []
        for box, word in ((f"b{one}", "out"), (f"b{other}", "in")):
            name = f"{word}-{chance.randrange(links)}"
            side: Side | None = chance.choice((None, None, "left", "right"))
            ports[box].setdefault(name, Port(name, side, chance.choice(("", "", "numbered"))))
            ends.append(End(box, name))
        label = f"c{number} · {LABEL}" if chance.random() < 0.9 else ""
        both, assumed = chance.random() < 0.3, chance.random() < 0.2
        made.append(Link(f"c{number}", ends[0], ends[1], label, "usb", both, assumed))
    return System(
        tuple(
            Box(
                name,
                (name, "product-4", "in rack")[: chance.randint(1, 3)],
                tuple(ports[name].values()),
                rank=0 if seed % 2 else chance.randrange(4),
                last=chance.random() < 0.1,
            )
            for name in ports
        ),
        tuple(made),
    )


def joined(pairs: list[tuple[int, int]], count: int) -> System:
    """Boxes with a port for every link."""
    ports: dict[int, list[Port]] = {k: [] for k in range(count)}
    links = []
    for number, (one, other) in enumerate(pairs):
        ports[one].append(Port(f"out-{number}"))
        ports[other].append(Port(f"in-{number}"))
        start, end = End(f"b{one}", f"out-{number}"), End(f"b{other}", f"in-{number}")
        links.append(Link(f"c{number}", start, end, f"c{number}"))
    boxes = tuple(Box(f"b{k}", (f"b{k}",), tuple(ports[k])) for k in range(count))
    return System(boxes, tuple(links))

"""Room behind the chairs.

::

    wall ═══════════════════════════
                    ↑ clearance
              ┌─────┼─────┐ ○ head      three lines, 0.2 m apart, so that a column
              └─────┼─────┘             beside the middle is met as well
        ────────────┴──────────── table's edge
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from wellheard.arrays import Array
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.relaxation import limit_in_force
from wellheard.checks.seating import DRAWN, Sitting, sittings, solids, tables
from wellheard.checks.wording import length, listed, some_length
from wellheard.predict.evidence import Evidence
from wellheard.room.document import Room

CODE = "chair-clearance"
IN_ROWS = "chair-clearance-in-rows"
ASIDE = (-0.2, 0.0, 0.2)
"""Across a chair, the lines along which the room behind it is measured. [m]"""
NEAREST = 0.02
"""A mouth over the table is measured from this far outside its edge. [m]"""


@rule(CODE, "warning", strength="house", cites="", thresholds=(CODE, IN_ROWS))
def chair_clearance(evidence: Evidence) -> Iterator[Draft]:
    """There is room behind every chair at a table.

    From the table's edge straight back to the next wall, column, cupboard or sofa is 0.9 m:
    one sits down and gets up. To the next table, where desks stand in rows, 0.75 m is enough.
    Where people pass behind those who sit, 1.2 m is better. Chairs back to back share the room
    between their tables, which is not assessed. One finding for each table and what is behind.
    """
    people = sittings(evidence)
    if not people:
        return
    house = evidence.room.targets.house_limit(IN_ROWS)
    behind = _behind(evidence.room)
    kinds = (
        ([name for name, is_table, _ in behind if not is_table], limit_in_force(evidence, CODE)),
        ([name for name, is_table, _ in behind if is_table], house),
    )
    segments = {name: ends for name, _, ends in behind}
    for names, limit in kinds:
        if not names or limit is None:
            continue
        owner = np.repeat(np.arange(len(names)), [len(segments[name]) for name in names])
        hits = _hits(people, np.concatenate([segments[name] for name in names]))
        first = np.argmin(hits, axis=1)
        clear = hits[np.arange(len(people)), first]
        found: dict[tuple[str, str], list[int]] = {}
        for i in np.flatnonzero(clear < limit - DRAWN).tolist():
            key = (people[i].table, names[int(owner[first[i]])])
            found.setdefault(key, []).append(i)
        for (table, name), indices in found.items():
            worst = min(indices, key=lambda i: float(clear[i]))
            value = float(clear[worst])
            yield Draft(
                at=f"furniture.{table}",
                message=(
                    f"Behind {listed([people[i].talker.id for i in indices])} there are "
                    f"{length(evidence, value)} from the edge of {table} to {name}; at least "
                    f"{length(evidence, limit)} is wanted to sit down and get up."
                ),
                value=value,
                limit=limit,
                unit="m",
                remedy=(
                    f"Move {table} away from {name} by "
                    f"{some_length(evidence, limit - value)}, or leave "
                    "those seats out."
                ),
            )


def _behind(room: Room) -> list[tuple[str, bool, Array]]:
    """What may stand behind a chair: name, whether it is a table, edges (n, 2 ends, 2)."""
    space = room.space
    found = [
        (f"wall {name}", False, np.array([space.wall_ends(name)], dtype=np.float64))
        for name in space.walls
    ]
    found += [(name, False, _edges(outline)) for name, (_, outline) in solids(room).items()]
    found += [
        (name, False, _edges(np.asarray(piece.outline, dtype=np.float64)))
        for name, piece in room.furniture.items()
        if piece.kind == "soft"
    ]
    found += [(name, True, _edges(outline)) for name, outline in tables(room).items()]
    return found


def _edges(outline: Array) -> Array:
    return np.stack([outline, np.roll(outline, -1, axis=0)], axis=1)


def _hits(people: tuple[Sitting, ...], segments: Array) -> Array:
    """Distance from the table's edge back to each segment, shape (people, segments). [m]"""
    front = np.array([one.front for one in people])
    gap = np.maximum([one.gap for one in people], NEAREST)
    start = np.array([one.edge for one in people]) - gap[:, None] * front
    side = np.stack([-front[:, 1], front[:, 0]], axis=1)
    nearest = np.full((len(people), len(segments)), np.inf)
    for aside in ASIDE:
        origin = start + aside * side
        # Coordinates of both ends: along the way back (u), and across it (v).
        offset = segments[None] - origin[:, None, None]
        u = -(offset * front[:, None, None]).sum(axis=-1)
        v = (offset * side[:, None, None]).sum(axis=-1)
        straddles = (v[..., 0] > 0) != (v[..., 1] > 0)
        run = np.where(straddles, v[..., 1] - v[..., 0], 1.0)
        hit = u[..., 0] - v[..., 0] / run * (u[..., 1] - u[..., 0])
        met = straddles & (hit > -1e-6)
        nearest = np.minimum(nearest, np.where(met, hit, np.inf))
    return nearest + gap[:, None]

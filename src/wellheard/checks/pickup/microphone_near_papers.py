"""Table microphones where laptops and papers lie."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.relaxation import limit_in_force
from wellheard.checks.seating import DRAWN
from wellheard.checks.wording import length, listed, some_length
from wellheard.checks.working_places import DEPTH, WIDTH, Nearby, nearest_working_places
from wellheard.predict.evidence import Evidence

CODE = "microphone-near-papers"


@rule(CODE, "warning", strength="house", cites="", thresholds=(CODE, DEPTH, WIDTH))
def microphone_near_papers(evidence: Evidence) -> Iterator[Draft]:
    """Table microphones keep away from laptops and papers.

    Keys, fans and rustling are louder there than a voice, and a sheet laid on it silences a
    capsule. What people bring is not in the document: each seat is taken to need a
    working place 0.6 m wide and 0.45 m deep from the table's edge. A microphone in one is a
    warning. One outside but nearer than 0.3 m is a note, one for each table: on a table
    less than 1.5 m deep, with people on both sides, it can hardly be kept.
    """
    limit = limit_in_force(evidence, CODE)
    near: dict[str, list[Nearby]] = {}
    for one in nearest_working_places(evidence):
        name, seat = one.microphone.id, one.sitting.talker.id
        if one.distance >= limit - DRAWN:
            continue
        if one.distance > DRAWN:
            near.setdefault(one.sitting.table, []).append(one)
            continue
        yield Draft(
            at=f"devices.{name}",
            message=(
                f"Microphone {name} lies where {seat} puts papers and laptop; at least "
                f"{length(evidence, limit)} from them is wanted."
            ),
            value=one.distance,
            limit=limit,
            unit="m",
            remedy=(
                f"Move {name} between the working places or to the middle of {one.sitting.table}, "
                "or take a ceiling microphone."
            ),
        )
    for table, ones in near.items():
        worst = min(ones, key=lambda one: one.distance)
        names = listed([one.microphone.id for one in ones])
        yield Draft(
            at=f"furniture.{table}",
            message=(
                f"On {table} {names} {'lies' if len(ones) == 1 else 'lie'} "
                f"{length(evidence, worst.distance)} from where {worst.sitting.talker.id} puts "
                f"papers and laptop; at least {length(evidence, limit)} is wanted."
            ),
            value=worst.distance,
            limit=limit,
            unit="m",
            remedy=(
                f"Move {worst.microphone.id} away by "
                f"{some_length(evidence, limit - worst.distance)} if "
                "the table has room for it, or ask people to keep that much free."
            ),
            severity="note",
        )

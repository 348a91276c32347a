"""Table and lectern microphones at the distance from the mouth that they are made for."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.seating import DRAWN
from wellheard.checks.separation import TOUCH
from wellheard.checks.wording import length, place
from wellheard.predict.evidence import Evidence, Outbound, PlacedMicrophone

FAR = "table-microphone-far"
NEAR = "table-microphone-near"
LECTERN = "lectern-microphone"


@rule(
    "table-microphone-distance",
    "warning",
    strength="house",
    cites="",
    thresholds=(NEAR, FAR, LECTERN),
)
def table_microphone_distance(evidence: Evidence) -> Iterator[Draft]:
    """Table microphones are neither too near to a mouth nor too far from it.

    A boundary microphone in the table is 0.6 to 1.1 m in a straight line, 0.6 to 0.9 m along
    the table, from the mouth of everybody seated that it serves: nearer, those who lean forward
    are far louder than the others; farther, it hears the room. One at a lectern is 0.4 m away at
    most. A distance that the product itself is not rated for is left to
    `talker-beyond-rated-distance`. One finding for each microphone and each limit, for the seat
    that breaks it most.
    """
    house = evidence.room.targets.house_limit
    microphones = {one.id: one for one in evidence.microphones}
    found: dict[tuple[str, str], list[Outbound]] = {}
    for row in evidence.outbound:
        serving = microphones[row.path.microphone]
        for code in _broken(evidence, row, serving):
            found.setdefault((serving.id, code), []).append(row)
    for (name, code), rows in found.items():
        near = code == NEAR
        worst = (min if near else max)(rows, key=lambda row: round(row.path.distance, 6))
        limit, distance = house(code) or 0.0, worst.path.distance
        others = len({row.talker.owner for row in rows}) - 1
        more = f", the {'nearest' if near else 'farthest'} of {others + 1}" if others else ""
        side = "at least" if near else "at most"
        yield Draft(
            at=f"devices.{name}",
            message=(
                f"Microphone {name} is {length(evidence, distance)} from the mouth of "
                f"{place(worst.talker)}{more}; {side} {length(evidence, limit)} is wanted."
            ),
            value=distance,
            limit=limit,
            unit="m",
            remedy=(
                f"Move {name} {'away from' if near else 'nearer to'} {place(worst.talker)} by "
                f"{length(evidence, abs(limit - distance))}"
                f"{'' if near else ', or add a microphone'}."
            ),
        )


def _broken(evidence: Evidence, row: Outbound, serving: PlacedMicrophone) -> Iterator[str]:
    """Limits that the microphone serving a talker does not keep."""
    house = evidence.room.targets.house_limit
    distance = row.path.distance
    rated = distance <= serving.product.usual_distance + TOUCH
    if serving.mounting == "table" and serving.product.boundary and row.talker.kind == "seat":
        near, far = house(NEAR), house(FAR)
        if near is not None and distance < near - DRAWN:
            yield NEAR
        if far is not None and rated and distance > far + DRAWN:
            yield FAR
    elif serving.mounting == "lectern":
        most = house(LECTERN)
        if most is not None and rated and distance > most + DRAWN:
            yield LECTERN

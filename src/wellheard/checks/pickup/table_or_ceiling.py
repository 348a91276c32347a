"""Whether microphones on the table would do better than those overhead, or the reverse."""

from __future__ import annotations

import math
from collections.abc import Iterator

from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.seating import DRAWN, sittings
from wellheard.checks.separation import TOUCH, plan_distance
from wellheard.checks.wording import decibels, length, listed
from wellheard.checks.working_places import nearest_working_places
from wellheard.predict.evidence import Evidence, Outbound, PlacedMicrophone

CODE = "table-or-ceiling"
RATIO = "critical-distance-ratio"
CEILING_NC = "ceiling-noise-nc"
NEAR_NC = "near-noise-nc"
CLEAR = "pickup-clear"
EACH = "table-microphone-seats"
FAR = "table-microphone-far"
GAIN_DB = 3.0
"""Gain of the direct sound from which a nearer microphone is worth its table. [dB]"""


@rule(
    CODE,
    "note",
    strength="house",
    cites="",
    thresholds=(RATIO, CEILING_NC, NEAR_NC, CLEAR, EACH, FAR),
)
def table_or_ceiling(evidence: Evidence) -> Iterator[Draft]:
    """Microphones are overhead or on the table for a reason.

    For people at tables who are served from the ceiling, what speaks for the table is counted:
    a microphone more than twice as far as the distance at which voice and room are equally loud;
    noise above NC-30, the limit for ceiling pickup, and within NC-35, that for near
    pickup; a microphone more than 2 m above the mouths; a target missed where a table microphone
    0.9 m away would hear the voice at least 3 dB louder. For those served from the table, what
    speaks for the ceiling is counted if the room is quiet and low enough for it: tables with
    seats and no microphone of their own, a microphone for more than three seats, one where
    papers and laptops lie, a mouth nearer to the ceiling than to its microphone. No finding where
    nothing speaks for the other. What a table top is made of is not in the document: none goes
    on a hollow or thin glass one.
    """
    tables = {one.talker.id: one.table for one in sittings(evidence)}
    microphones = {one.id: one for one in evidence.microphones}
    served: dict[str, list[Outbound]] = {"ceiling": [], "table": []}
    for row in evidence.outbound:
        mounting = microphones[row.path.microphone].mounting
        if row.talker.id in tables and mounting in served:
            served[mounting].append(row)
    overhead, lying = served["ceiling"], served["table"]
    if overhead:
        reasons = list(_for_the_table(evidence, overhead, microphones))
        if reasons:
            yield _table(evidence, overhead, tables, reasons)
    if lying and _ceiling_would_do(evidence, lying):
        reasons = list(_for_the_ceiling(evidence, lying, tables, microphones))
        if reasons:
            yield _ceiling(evidence, lying, reasons)


def _for_the_table(
    evidence: Evidence, rows: list[Outbound], microphones: dict[str, PlacedMicrophone]
) -> Iterator[str]:
    house = evidence.room.targets.house_limit
    ratio = house(RATIO)
    # The first of equals, which rounding errors must not tell apart.
    farthest = max(rows, key=lambda row: round(_distance_ratio(row), 6))
    if ratio is not None and _distance_ratio(farthest) > ratio:
        path = farthest.path
        yield (
            f"{farthest.talker.id} is {length(evidence, path.distance)} from {path.microphone}, "
            f"{_distance_ratio(farthest):.1f} times the "
            f"{length(evidence, path.distance / _distance_ratio(farthest))} at which it hears "
            f"voice and room equally loud ({ratio:g} times is far)"
        )
    nc, ceiling, near = evidence.noise.nc, house(CEILING_NC), house(NEAR_NC)
    if (
        nc is not None
        and ceiling is not None
        and near is not None
        and ceiling < round(nc, 1) <= near
    ):
        yield (
            f"the noise of NC-{round(nc, 1):g} is above NC-{ceiling:g}, the limit for ceiling "
            f"pickup, and within NC-{near:g}, that for near pickup"
        )
    clear = house(CLEAR)
    highest = max(rows, key=lambda row: round(_above(row, microphones), 6))
    above = _above(highest, microphones)
    if clear is not None and above > clear + DRAWN:
        yield (
            f"{highest.path.microphone} is {length(evidence, above)} above the mouths, so that "
            f"nobody is within the {length(evidence, clear)} of clear pickup"
        )
    yield from _gains(evidence, rows)


def _gains(evidence: Evidence, rows: list[Outbound]) -> Iterator[str]:
    """Missed targets where a table microphone would hear the voice clearly louder."""
    far = evidence.room.targets.house_limit(FAR)
    if far is None:
        return
    missed = [row for row in rows if _misses(row) and _gain_db(row, far) >= GAIN_DB]
    if not missed:
        return
    best = max(missed, key=lambda row: round(row.path.distance, 6))
    yield (
        f"{listed([row.talker.id for row in missed])} {'misses' if len(missed) == 1 else 'miss'} "
        f"what is promised, and {length(evidence, far)} from {best.talker.id} a microphone hears "
        f"the voice {decibels(_gain_db(best, far))} louder than at "
        f"{length(evidence, best.path.distance)}"
    )


def _for_the_ceiling(
    evidence: Evidence,
    rows: list[Outbound],
    tables: dict[str, str],
    microphones: dict[str, PlacedMicrophone],
) -> Iterator[str]:
    house = evidence.room.targets.house_limit
    lying = [one for one in microphones.values() if one.mounting == "table"]
    own = {tables[row.talker.id] for row in rows}
    bare = sorted(own - {_table_under(evidence, one) for one in lying})
    if bare:
        yield (
            f"{len(bare)} of {len(own)} tables with seats {'has' if len(bare) == 1 else 'have'} no "
            f"microphone of {'its' if len(bare) == 1 else 'their'} own ({listed(bare)})"
        )
    most = house(EACH)
    seats: dict[str, int] = {}
    for row in rows:
        seats[row.path.microphone] = seats.get(row.path.microphone, 0) + 1
    busiest = max(seats, key=lambda name: seats[name])
    if most is not None and seats[busiest] > most:
        needed = math.ceil(len(rows) / most)
        yield (
            f"{busiest} serves {seats[busiest]} seats, {most:g} are the most for one on a table, "
            f"so that {len(rows)} seats take {needed}"
        )
    covered = [one for one in nearest_working_places(evidence) if one.distance <= DRAWN]
    if covered:
        yield (
            f"{listed([one.microphone.id for one in covered])} "
            f"{'lies' if len(covered) == 1 else 'lie'} where papers and laptops are put"
        )
    beyond = [row for row in rows if row.path.distance > _headroom(evidence, row) + DRAWN]
    if beyond:
        worst = max(beyond, key=lambda row: round(row.path.distance, 6))
        yield (
            f"{worst.talker.id} is {length(evidence, worst.path.distance)} from "
            f"{worst.path.microphone} and the ceiling only "
            f"{length(evidence, _headroom(evidence, worst))} above the mouth"
        )


def _table(
    evidence: Evidence, rows: list[Outbound], tables: dict[str, str], reasons: list[str]
) -> Draft:
    house = evidence.room.targets.house_limit
    each = house(EACH) or 3.0
    seats: dict[str, int] = {}
    for row in rows:
        seats[tables[row.talker.id]] = seats.get(tables[row.talker.id], 0) + 1
    needed = sum(math.ceil(count / each) for count in seats.values())
    against = []
    near, nc = house(NEAR_NC), evidence.noise.nc
    if near is not None and nc is not None and nc > near:
        against.append(f"NC-{round(nc, 1):g} is too noisy for near pickup as well")
    if "table" not in evidence.room.choices.mounting:
        against.append("choices.mounting rules the table out")
    if len(seats) > 1:
        against.append(f"the seats are at {len(seats)} tables")
    return Draft(
        at="choices.mounting",
        message=(
            f"Microphones on the table would do better than those overhead for {len(rows)} "
            f"{'seat' if len(rows) == 1 else 'seats'}: {'; '.join(reasons)}."
            f"{' Against it: ' + '; '.join(against) + '.' if against else ''}"
        ),
        value=float(len(reasons)),
        limit=0.0,
        remedy=(
            f"Weigh {needed} table {'microphone' if needed == 1 else 'microphones'}, one for "
            f"{each:g} seats, away from papers and laptops and not on a hollow or thin glass top, "
            "or mend the reasons."
        ),
    )


def _ceiling(evidence: Evidence, rows: list[Outbound], reasons: list[str]) -> Draft:
    barred = "ceiling" not in evidence.room.choices.mounting
    return Draft(
        at="choices.mounting",
        message=(
            f"Microphones overhead would do better than those on the table for {len(rows)} "
            f"{'seat' if len(rows) == 1 else 'seats'}: {'; '.join(reasons)}."
            f"{' Against it: choices.mounting rules the ceiling out.' if barred else ''}"
        ),
        value=float(len(reasons)),
        limit=0.0,
        remedy="Weigh ceiling microphones over the front of the talkers, or mend the reasons.",
    )


def _ceiling_would_do(evidence: Evidence, rows: list[Outbound]) -> bool:
    """Whether the room is quiet and low enough for microphones overhead."""
    house = evidence.room.targets.house_limit
    ceiling, clear, nc = house(CEILING_NC), house(CLEAR), evidence.noise.nc
    if nc is None or (ceiling is not None and nc > ceiling):
        return False
    return clear is None or min(_headroom(evidence, row) for row in rows) <= clear + DRAWN


def _distance_ratio(row: Outbound) -> float:
    """Distance over that at which direct and reverberant sound are equal, at this microphone."""
    return float(10 ** (-row.path.direct_to_reverberant_db / 20))


def _above(row: Outbound, microphones: dict[str, PlacedMicrophone]) -> float:
    return microphones[row.path.microphone].at[2] - row.talker.at[2]


def _headroom(evidence: Evidence, row: Outbound) -> float:
    return evidence.room.space.height - row.talker.at[2]


def _gain_db(row: Outbound, distance: float) -> float:
    return 20 * math.log10(max(row.path.distance, 0.05) / distance)


def _misses(row: Outbound) -> bool:
    return any(q.target is not None and q.value < q.target for q in row.quantities)


def _table_under(evidence: Evidence, microphone: PlacedMicrophone) -> str:
    """Id of the table that a microphone lies on, '' if it lies on none."""
    for name, item in evidence.room.furniture.items():
        if item.kind == "table" and plan_distance(microphone.at, item.outline) <= TOUCH:
            return name
    return ""

"""The seat ledger as comma-separated values: out of the room first, then into it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from wellheard.cells import comma_separated
from wellheard.predict.evidence import Evidence, Outbound, Quantity
from wellheard.predict.wayback import Inbound

UNITS = {"": "", "db": "dB", "dba": "dBA"}


def _of_quantity(name: str, words: str, unit: str) -> dict[str, str]:
    """Words over the four columns of a quantity: its value, the ends of its range, its chance."""
    behind, said = (f"_{unit}", f", {UNITS[unit]}") if unit else ("", "")
    return {
        f"{name}{behind}": f"{words}{said}",
        f"{name}_low{behind}": f"{words}, 10 %{said}",
        f"{name}_high{behind}": f"{words}, 90 %{said}",
        f"{name}_chance": f"{words}, chance",
    }


OUTBOUND = (
    "seat",
    "state",
    "microphone",
    "distance_m",
    "facing_deg",
    "sti",
    "sti_low",
    "sti_high",
    "sti_chance",
    "direct_to_reverberant_db",
    "direct_to_reverberant_low_db",
    "direct_to_reverberant_high_db",
    "direct_to_reverberant_chance",
    "speech_to_noise_db",
    "speech_to_noise_low_db",
    "speech_to_noise_high_db",
    "speech_to_noise_chance",
    "speech_level_dba",
    "chance",
    "binds",
)
INBOUND = (
    "inbound_state",
    "inbound_loudspeaker",
    "inbound_distance_m",
    "inbound_off_picture_deg",
    "sti_inbound",
    "sti_inbound_low",
    "sti_inbound_high",
    "sti_inbound_chance",
    "listening_level_dba",
    "listening_level_low_dba",
    "listening_level_high_dba",
    "listening_level_chance",
    "inbound_direct_to_reverberant_db",
    "inbound_speech_to_noise_db",
    "inbound_chance",
    "inbound_binds",
)
"""Columns that follow where a loudspeaker is placed."""
WORDS: Mapping[str, str] = {
    "distance_m": "distance",
    "facing_deg": "facing, °",
    **_of_quantity("sti", "STI", ""),
    **_of_quantity("direct_to_reverberant", "direct to reverberant", "db"),
    **_of_quantity("speech_to_noise", "speech to noise", "db"),
    "speech_level_dba": "speech level, dBA",
    "inbound_state": "state, in the room",
    "inbound_loudspeaker": "voice from",
    "inbound_distance_m": "distance of the loudspeaker",
    "inbound_off_picture_deg": "off the picture, °",
    **_of_quantity("sti_inbound", "STI in the room", ""),
    **_of_quantity("listening_level", "listening level", "dba"),
    "inbound_direct_to_reverberant_db": "direct to reverberant in the room, dB",
    "inbound_speech_to_noise_db": "speech to noise in the room, dB",
    "inbound_chance": "chance, in the room",
    "inbound_binds": "binds, in the room",
    "inbound_arrangement": "arrangement, in the room",
}
"""What people read over a column; over one that is not among them, its name. A distance is in
metres, whatever is read."""


def ledger_csv(evidence: Evidence) -> str:
    """The seat ledger of `ledger_rows` as comma-separated values."""
    return comma_separated(*ledger_rows(evidence))


def ledger_rows(evidence: Evidence) -> tuple[list[str], list[Sequence[object]]]:
    """The seat ledger, worst first, as a head and rows; figures are text with their decimals.

    In a room that divides each seat has its worst ``arrangement``. Where a loudspeaker is placed,
    the columns of the way in stand at the end, in a room that divides with an
    ``inbound_arrangement`` of their own. A place that is heard on one way alone leaves the
    columns of the other empty.
    """
    inbound = {} if evidence.playback is None else {r.talker.id: r for r in evidence.playback.rows}
    arranged = any(row.arrangement for row in evidence.outbound)
    split = any(row.arrangement for row in inbound.values())
    head = [*OUTBOUND, *(["arrangement"] if arranged else [])]
    if inbound:
        head += [*INBOUND, *(["inbound_arrangement"] if split else [])]
    rows: list[Sequence[object]] = []
    for row in evidence.worst_first():
        cells = [*_outbound(row), *([row.arrangement] if arranged else [])]
        if inbound:
            cells += _inbound(inbound.get(row.talker.id), split=split)
        rows.append(cells)
    heard = {row.talker.id for row in evidence.outbound}
    blank = [""] * (len(OUTBOUND) - 2 + arranged)
    rows += [
        [name, "not assessed", *blank, *_inbound(row, split=split)]
        for name, row in inbound.items()
        if name not in heard
    ]
    return head, rows


def _outbound(row: Outbound) -> list[object]:
    each: list[object] = []
    for quantity, places in zip(row.quantities, (3, 2, 2), strict=True):
        each += _quantity(quantity, places)
    path = row.path
    return [
        row.talker.id,
        row.state,
        path.microphone,
        f"{path.distance:.3f}",
        f"{path.facing_deg:.1f}",
        *each,
        f"{path.speech_level_dba:.1f}",
        f"{row.chance:.3f}",
        row.binds,
    ]


def _inbound(row: Inbound | None, *, split: bool) -> list[object]:
    if row is None:
        return [""] * (len(INBOUND) + split)
    return [
        row.state,
        row.heard_from,
        f"{row.leads.distance:.3f}",
        "" if row.direction_deg is None else f"{row.direction_deg:.1f}",
        *_quantity(row.sti, 3),
        *_quantity(row.level, 1),
        f"{row.direct_to_reverberant_db:.2f}",
        f"{row.speech_to_noise_db:.2f}",
        f"{row.chance:.3f}" if row.binds else "",
        row.binds,
        *([row.arrangement] if split else []),
    ]


def _quantity(quantity: Quantity, places: int) -> list[object]:
    return [
        f"{quantity.value:.{places}f}",
        f"{quantity.low:.{places}f}",
        f"{quantity.high:.{places}f}",
        "" if quantity.chance is None else f"{quantity.chance:.3f}",
    ]

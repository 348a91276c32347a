"""One voice path as text: what arrives, then every number with its working."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wellheard.cli.render import arrangement, chance, number, wrapped

if TYPE_CHECKING:
    from wellheard.workflow.explaining import Explained

PLACES = {"": 3, "s": 3, "m": 2, "m²": 2, "1/m": 5}
"""Decimals of a working by its unit; one for any other."""


def path(found: Explained) -> str:
    """One voice path, stage by stage."""
    where = f"{arrangement(found.arrangement)}: " if found.arrangement else ""
    lines = [f"{where}{headline(found)}", "octaves: 125, 250, 500, 1k, 2k, 4k, 8k Hz"]
    for stage in found.stages:
        lines += ["", stage.name, "─" * len(stage.name)]
        for working in stage.rows:
            places = PLACES.get(working.unit, 1)
            value = (
                " ".join(number(v, places).rjust(6) for v in working.value)
                if isinstance(working.value, tuple)
                else number(working.value, places)
            )
            gap = "" if working.unit == "°" else " "
            lines.append(f"{working.quantity}: {value}{gap}{working.unit}".rstrip())
            lines.append(wrapped("= " + working.formula))
            if working.inputs:
                lines.append(wrapped("; ".join(f"{k}: {v}" for k, v in working.inputs)))
            lines.append(wrapped("source: " + working.source))
    return "\n".join(lines)


def headline(found: Explained) -> str:
    """What a path is, and what arrives at its end."""
    from wellheard.predict.evidence import Outbound
    from wellheard.predict.wayback import Echo, Inbound

    row = found.row
    if isinstance(row, Outbound):
        return (
            f"{row.talker.id} to the far end through {row.path.microphone}: {row.state}, "
            f"STI {number(row.sti.value, 2)} ({row.rating}, band {row.category}), "
            f"chance {chance(row.chance)}"
        )
    if isinstance(row, Inbound):
        return (
            f"far end to {row.talker.id} through {row.heard_from}: {row.state}, "
            f"{number(row.level.value, 1)} dBA, STI {number(row.sti.value, 2)} ({row.rating}, band "
            f"{row.category}), chance {chance(row.chance) if row.binds else '–'}"
        )
    if isinstance(row, Echo):
        return (
            f"far end back through {row.microphone}: {row.state}, return loss "
            f"{number(row.return_loss_db, 1)} dB of {number(row.needed_db, 1)} dB needed"
        )
    return (
        f"{row.speaker} to {row.talker.id} with lift: {number(row.gain_db, 1)} dB louder, "
        f"{number(row.natural_dba, 1)} dBA without"
    )

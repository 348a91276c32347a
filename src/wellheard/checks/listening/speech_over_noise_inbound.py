"""Far-end speech over the room's noise, ear by ear."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.checks.ears import worst_of_each
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.relaxation import limit_in_force
from wellheard.checks.wording import decibels, place, some_decibels
from wellheard.predict.evidence import Evidence
from wellheard.predict.wayback import Inbound

CODE = "speech-over-noise-inbound"


@rule(CODE, "warning", strength="house", cites="", thresholds=(CODE,))
def speech_over_noise_inbound(evidence: Evidence) -> Iterator[Draft]:
    """Far-end speech stands clear of the room's noise at every seat.

    At the playback level, weighted by each octave's importance for speech, with the noise of the
    background and of every located source at the ear. The remedy says by how much the noise must
    fall, and whether the promised range of levels has room for more playback instead.
    """
    limit = limit_in_force(evidence, CODE)
    for owner, row in worst_of_each(evidence, lambda one: -one.speech_to_noise_db):
        if row.speech_to_noise_db >= limit:
            continue
        yield Draft(
            at=owner,
            message=(
                f"{place(row.talker)} hears the far end {decibels(row.speech_to_noise_db)} over "
                f"the noise; at least {limit:g} dB are wanted."
            ),
            value=row.speech_to_noise_db,
            limit=limit,
            unit="dB",
            remedy=_remedy(evidence, row, limit - row.speech_to_noise_db),
        )


def _remedy(evidence: Evidence, row: Inbound, lacking_db: float) -> str:
    quieter = f"Quieten the room by {some_decibels(lacking_db)}"
    promised = evidence.room.targets.listening_level_dba
    if evidence.playback is None or promised is None:
        return f"{quieter}, or play as much louder."
    loudest = max(one.level.value for one in evidence.playback.rows)
    if loudest + lacking_db <= promised[1]:
        return f"{quieter}, or raise targets.playback_level_dba by as much."
    return f"{quieter}: as much more playback would leave the promised range of levels."

"""What rules about echo share: whether a tail decides, and words."""

from __future__ import annotations

from wellheard.checks.wording import decibels
from wellheard.predict.echo import together_db
from wellheard.predict.evidence import Evidence
from wellheard.predict.wayback import Echo, LevelDiagram, LevelStage

LEAST = 0.05
"""What prints as nothing is nothing. [dB]"""


def only_tail_lacks(one: Echo) -> bool:
    """Whether a longer tail alone would bring what is lacking."""
    if one.tail is None or one.tail_needed <= one.tail:
        return False
    others_db = together_db(one.bound_distortion_db, one.bound_noise_db)
    linear_db = min(others_db, one.bound_practice_db)
    return linear_db + one.suppression_db >= one.must_add_db - LEAST


def why_needed(evidence: Evidence) -> str:
    """Where the needed loss is from, in words."""
    if evidence.room.targets.echo_loss_db is not None:
        return "promised"
    return f"the delay is {evidence.room.far_end.one_way_delay_ms:g} ms one way"


def lacks_headroom(
    diagram: LevelDiagram, names: frozenset[str], limit_db: float
) -> LevelStage | None:
    """The stage of these that leaves least headroom, if that is less than the limit."""
    stages = [s for s in diagram.stages if s.name in names and s.headroom_db is not None]
    found = min(stages, key=lambda s: round(s.headroom_db or 0.0, 6), default=None)
    if found is None or (found.headroom_db or 0.0) >= limit_db - LEAST:
        return None
    return found


def headroom_said(stage: LevelStage) -> str:
    """How far average speech is below clipping, in words."""
    left = stage.headroom_db or 0.0
    if left < 0.0:
        return f"clips: average speech is {decibels(-left)} above its limit"
    return f"is {decibels(left)} above average speech when it clips"

"""The promise of a document, and what it does with the limits of the house.

`Targets` is what this document promises; each may be null, and is then no part of the promise. A
document relaxes one of `wellheard.room.house_limits.HOUSE_LIMITS` under ``targets.house_rules``
with a reason, and may put its own ``limit`` in its place.
"""

from __future__ import annotations

from typing import Annotated, Any, Self

from pydantic import BeforeValidator, Field, model_validator

from wellheard.forms.fields import Flag, Frozen, Id, Number, Text, refuse, shown
from wellheard.room.assistive import ReceiverSteps
from wellheard.room.house_limits import HOUSE_LIMITS

NC_ROUNDING = 0.5
"""NC numbers are whole ones: what rounds to the promised number keeps it. [NC]"""

_Sti = Annotated[Number, Field(ge=0, le=1)]
_Ratio = Annotated[Number, Field(ge=-40, le=60)]
_Speech = Annotated[Number, Field(ge=40, le=100)]


def _span(value: Any) -> Any:
    if not isinstance(value, list | tuple) or len(value) != 2:
        refuse(f"{shown(value)} is no range", "two levels, [lowest, highest]")
    if all(isinstance(v, int | float) for v in value) and not value[0] < value[1]:
        refuse(f"{value[0]:g} to {value[1]:g} is no range", "the lower level first")
    return tuple(value)


class HouseRule(Frozen):
    """What this document does with a rule of the house."""

    relaxed: Flag = False
    because: Text | None = Field(default=None, description="Required where it is relaxed")
    limit: Number | None = Field(default=None, description="In place of the usual limit [SI]")

    @model_validator(mode="after")
    def _with_a_reason(self) -> Self:
        if (self.relaxed or self.limit is not None) and not (self.because or "").strip():
            refuse(
                "a house rule is relaxed without a reason"
                if self.relaxed
                else "a house rule has another limit without a reason",
                "say why under because",
            )
        return self


class Targets(Frozen):
    """What every seat is promised; null is not part of the promise."""

    chance: Annotated[Number, Field(gt=0, lt=1)] | None = Field(
        default=0.8, description="Wanted probability, 0-1; null takes the middle value"
    )
    sti_outbound: _Sti | None = Field(default=0.62, description="STI at the far end")
    direct_to_reverberant_db: _Ratio | None = Field(
        default=-6.0, description="Mean of 500-4000 Hz, microphone pattern included [dB]"
    )
    speech_to_noise_db: _Ratio | None = Field(
        default=15.0, description="Whole speech, importance-weighted [dB]"
    )
    sti_inbound: _Sti | None = Field(default=0.60, description="STI at the seats")
    playback_level_dba: _Speech | None = Field(
        default=70.0, description="Seat mean that playback is set to [dBA]"
    )
    listening_level_dba: Annotated[tuple[_Speech, _Speech], BeforeValidator(_span)] | None = Field(
        default=(65.0, 75.0), description="Lowest and highest at any seat [dBA]"
    )
    uniformity_db: Annotated[Number, Field(gt=0, le=40)] | None = Field(
        default=6.0, description="Loudest minus quietest seat [dB]"
    )
    noise_nc: Annotated[Number, Field(ge=0, le=75)] | None = Field(
        default=30.0, description="Most noise, NC number"
    )
    echo_loss_db: Annotated[Number, Field(ge=0, le=120)] | None = Field(
        default=None, description="[dB]; null is derived from the delay"
    )
    price: Annotated[Number, Field(gt=0)] | None = Field(
        default=None, description="Upper limit, in project.currency"
    )
    reverberation: Annotated[Number, Field(gt=0.05, le=20)] | None = Field(
        default=None, description="Longest mid-frequency decay time [s]"
    )
    assistive_receivers: ReceiverSteps | None = Field(
        default=None,
        description="Receivers by seats as the law of the place asks, rows [seats up to, "
        "receivers, hearing-aid compatible ones]; null takes the table of the region",
    )
    house_rules: dict[Id, HouseRule] = Field(default_factory=dict)

    def house_limit(self, code: str) -> float | None:
        """Limit of a house rule in this document, null where it is relaxed. [SI]"""
        usual = HOUSE_LIMITS[code].limit
        rule = self.house_rules.get(code)
        if rule is None:
            return usual
        if rule.limit is not None:
            return rule.limit
        return None if rule.relaxed else usual

    def limit_in_force(self, code: str) -> float:
        """Limit that figures are worked out with: the document's own, else the usual one. [SI]

        Relaxing a rule silences it; it does not do away with the figure.
        """
        own = self.house_limit(code)
        return HOUSE_LIMITS[code].limit if own is None else own

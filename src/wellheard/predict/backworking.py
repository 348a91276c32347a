"""Paths of the way back opened stage by stage: inbound, echo and lift."""

from __future__ import annotations

from wellheard.predict.working_echo import echo_stages
from wellheard.predict.working_inbound import inbound_stages
from wellheard.predict.working_lift import lift_stages

__all__ = ["echo_stages", "inbound_stages", "lift_stages"]

"""A thin wrapper of the HiGHS solver."""

from wellheard.place.milp import SLACK, WHOLE, Indices, Outcome, Program, Status

__all__ = ["SLACK", "WHOLE", "Indices", "Outcome", "Program", "Status"]

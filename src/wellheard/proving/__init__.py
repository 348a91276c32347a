"""Proving: the room predicted again as it was measured, held against what was found; pure."""

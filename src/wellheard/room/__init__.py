"""The room document: one frozen value in SI, and the text it is read from and written to."""

from __future__ import annotations

from wellheard.room.document import Room

__all__ = ["Room"]

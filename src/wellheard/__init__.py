"""Wellheard: meeting-room microphones, predicted, placed with proof and explained."""

from __future__ import annotations

__version__ = "0.1.0"

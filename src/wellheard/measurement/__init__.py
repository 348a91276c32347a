"""Measurement: signals to play, recordings to results; knows a session, never a room."""

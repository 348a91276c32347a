"""Prediction: a room document and a catalogue in, typed evidence out."""

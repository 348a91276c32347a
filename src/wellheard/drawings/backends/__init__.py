"""Renderers of a recorded drawing."""

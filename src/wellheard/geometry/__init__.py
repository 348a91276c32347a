"""Plane geometry on arrays: areas, inside tests, nearest points, sample points."""

"""Schedules: what a document comes to in cables, parts, racks, conduits and network ports."""

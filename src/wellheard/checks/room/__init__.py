"""Rules on the room itself: its absorption, its parallel walls, its low bands."""

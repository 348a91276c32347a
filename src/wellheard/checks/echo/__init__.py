"""Rules on what goes back to the far end: echo, levels, delay."""

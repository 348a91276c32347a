"""Rules on what the neighbours get to hear."""

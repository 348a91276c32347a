"""Rules on what the ceiling carries and what lies in the void above it."""

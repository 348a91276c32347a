"""Rules on what the people in the room are owed."""

"""Rules on the promise: what every seat and the room as a whole must reach."""

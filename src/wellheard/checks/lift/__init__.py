"""Rules on lift: local voices through the loudspeakers of their own room."""

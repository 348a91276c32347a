"""Rules about where the signal goes, and in which order."""

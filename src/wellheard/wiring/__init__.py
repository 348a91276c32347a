"""Wiring: which port to which, by which way, on which cable, at least installed cost."""

"""The wiring diagram: boxes with named ports, laid out from left to right, and its sheets."""

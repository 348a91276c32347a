"""Rules on where a device may be, what it connects to and how far."""

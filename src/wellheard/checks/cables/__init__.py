"""Rules about cables, power over them, and the rack at their end."""

"""Rules on prices and whether products can still be had."""

"""Tests, and what tests and benches share."""

"""Checks: evidence in, findings out; one rule per file."""

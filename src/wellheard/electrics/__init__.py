"""Electrics: published formulas of cables, power, pathways and heat; numbers in, numbers out."""

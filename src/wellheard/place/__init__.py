"""Placement: the fewest or cheapest devices that keep the promise, with proof."""

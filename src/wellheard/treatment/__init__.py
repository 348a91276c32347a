"""Treatment: the cheapest finishes that bring a room to its decay, with proof."""

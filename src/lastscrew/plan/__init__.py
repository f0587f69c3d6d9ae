"""Which joints to open, in what order, why, and the way back: provably cheapest."""

"""Finding the fault with the least work: what is wrong, what to try next, and why."""

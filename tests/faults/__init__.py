"""Finding the fault, held to computations that share nothing with it."""

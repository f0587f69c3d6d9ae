"""Proof after the work: what was disturbed, what is tried and when, what has to be carried over."""

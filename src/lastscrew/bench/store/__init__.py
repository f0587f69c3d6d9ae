"""Keeping and finding: events are added here and nowhere else, and everything derived comes from them."""

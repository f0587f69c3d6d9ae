"""Filters and tags of our templates."""

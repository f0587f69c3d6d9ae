"""Extracting lines from the formats in which procedures come."""

from lastscrew.reading.sources.opening import open_source

__all__ = ["open_source"]

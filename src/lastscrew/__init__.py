"""Lastscrew: the way into a machine, the way back out, and every screw accounted for."""

__version__ = "0.1.0"

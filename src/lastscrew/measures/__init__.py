"""Repairability: how deep a part lies, and what of the EU index follows from a device file."""

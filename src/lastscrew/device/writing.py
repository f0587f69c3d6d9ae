"""Writing a device file (the revision for now)."""
from __future__ import annotations
from lastscrew.device.model import Device
def revision_of(device: Device) -> str:
    return ""

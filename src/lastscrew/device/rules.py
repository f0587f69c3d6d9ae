"""Rules between entries: what the keys one by one can't say."""
from __future__ import annotations
from typing import Any
from collections.abc import Mapping
from lastscrew.device.model import Device
from lastscrew.device.values import Notes
def check_rules(device: Device, top: Mapping[str, Any], notes: Notes) -> None:
    pass

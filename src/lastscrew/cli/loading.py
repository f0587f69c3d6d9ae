"""Getting a device file from disk (or standard input) for every command that takes one."""

from __future__ import annotations

import sys
from pathlib import Path

from lastscrew.device.model import Device
from lastscrew.device.reading import ReadResult, read_device
from lastscrew.device.source import MAX_BYTES
from lastscrew.problems import InputError

STDIN_NAME = "standard input"


def read_device_file(path: str) -> ReadResult:
    """Read and check the file at ``path`` (``-``: standard input); never more than the limit.

    Raises:
        OSError: The file can't be read.
    """
    if path == "-":
        return read_device(sys.stdin.buffer.read(MAX_BYTES + 1), STDIN_NAME)
    with Path(path).open("rb") as file:
        return read_device(file.read(MAX_BYTES + 1), path)


def load_device_file(path: str) -> Device:
    """The device of the file at ``path``.

    Raises:
        InputError: With every error of the file.
        OSError: The file can't be read.
    """
    result = read_device_file(path)
    if result.device is None:
        raise InputError(result.errors)
    return result.device

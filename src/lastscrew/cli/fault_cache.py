"""Opening costs that were worked out once, kept in the user's cache directory by their content."""

from __future__ import annotations

import json
import os
import time
from contextlib import suppress
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from typing import Final

from lastscrew import __version__
from lastscrew.device.model import Device
from lastscrew.faults.openings import DeviceOpenings
from lastscrew.faults.proposing import Terms, openings_key, prepared

MOST_BYTES: Final = 64 * 1024 * 1024
MOST_MOVES: Final = 200_000
"""A table that has grown beyond this is kept no more."""


@dataclass(slots=True)
class Prepared:
    """Opening costs with where they are kept.

    Attributes:
        openings: The costs.
        path: The file for them, None where nothing is to be kept.
        taken: They came from that file.
        known: How many moves the file holds.
        seconds: How long it took to get them ready.
    """

    openings: DeviceOpenings
    path: Path | None
    taken: bool = False
    known: int = 0
    seconds: float = 0.0


def cache_directory() -> Path:
    """Where to keep them: ``LASTSCREW_CACHE``, else ``XDG_CACHE_HOME``, else ``.cache`` at home."""
    own = os.environ.get("LASTSCREW_CACHE")
    if own:
        return Path(own)
    base = os.environ.get("XDG_CACHE_HOME")
    return (Path(base) if base else Path.home() / ".cache") / "lastscrew"


def table_path(device: Device, opened: tuple[str, ...], terms: Terms) -> Path:
    """File of a table: named by a hash of everything that the costs depend on."""
    name = sha256(f"{__version__} {openings_key(device, terms, opened)}".encode()).hexdigest()
    return cache_directory() / "openings" / f"{name}.json"


def prepare(device: Device, opened: tuple[str, ...], terms: Terms, *, keep: bool) -> Prepared:
    """Get the opening costs ready, from the cache where they are there.

    A cache that can't be read or written is done without.

    Raises:
        InputError: What is asked can't be.
    """
    begun = time.monotonic()
    path = _path(device, opened, terms) if keep else None
    table = None if path is None else _read(path)
    openings = prepared(device, opened, terms=terms, table=table)
    known = openings.size if table is not None else 0
    return Prepared(openings, path, table is not None, known, time.monotonic() - begun)


def _path(device: Device, opened: tuple[str, ...], terms: Terms) -> Path | None:
    try:
        return table_path(device, opened, terms)
    except (OSError, RuntimeError):  # no home directory
        return None


def _read(path: Path) -> object:
    try:
        if path.stat().st_size > MOST_BYTES:
            return None
        return json.loads(path.read_bytes())
    except (OSError, ValueError, RecursionError):
        return None


def put(prepared_: Prepared) -> None:
    """Keep what is known now, if it is more than the file holds.

    Written beside and then renamed, so that a table is whole or not there.
    """
    path, openings = prepared_.path, prepared_.openings
    if path is None or not prepared_.known < openings.size <= MOST_MOVES:
        return
    beside = path.with_name(f"{path.name}.{os.getpid()}")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        beside.write_text(json.dumps(openings.table(), separators=(",", ":")), encoding="ascii")
        beside.replace(path)
    except OSError:
        with suppress(OSError):
            beside.unlink(missing_ok=True)

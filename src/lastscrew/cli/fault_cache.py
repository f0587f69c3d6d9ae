"""Opening costs that were worked out once, kept in the user's cache directory by their content."""

from __future__ import annotations

import os
import time
from dataclasses import dataclass
from pathlib import Path

from lastscrew.bench.opening_tables import TableFolder, table_name
from lastscrew.device.model import Device
from lastscrew.faults.openings import DeviceOpenings
from lastscrew.faults.proposing import Terms, prepared


@dataclass(slots=True)
class Prepared:
    """Opening costs with where they are kept.

    Attributes:
        openings: The costs.
        folder: Where they are kept, None where nothing is to be kept.
        name: Under which name.
        taken: They came from there.
        known: How many moves are kept there.
        seconds: How long it took to get them ready.
    """

    openings: DeviceOpenings
    folder: TableFolder | None
    name: str
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


def prepare(device: Device, opened: tuple[str, ...], terms: Terms, *, keep: bool) -> Prepared:
    """Get the opening costs ready, from the cache where they are there.

    A cache that can't be read or written is done without.

    Raises:
        InputError: What is asked can't be.
    """
    begun = time.monotonic()
    folder = _folder() if keep else None
    name = table_name(device, terms, opened) if keep else ""
    table = None if folder is None else folder.read(name)
    openings = prepared(device, opened, terms=terms, table=table)
    known = openings.size if table is not None else 0
    return Prepared(openings, folder, name, table is not None, known, time.monotonic() - begun)


def _folder() -> TableFolder | None:
    try:
        return TableFolder(cache_directory() / "openings")
    except (OSError, RuntimeError):  # no home directory
        return None


def put(prepared_: Prepared) -> None:
    """Keep what is known now, if it is more than the cache holds."""
    if prepared_.folder is not None and prepared_.known < prepared_.openings.size:
        prepared_.folder.keep(prepared_.name, prepared_.openings)

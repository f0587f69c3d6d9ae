"""Opening costs that were worked out once, kept in the user's cache directory by their content."""

from __future__ import annotations

import json
import os
from hashlib import sha256
from pathlib import Path
from typing import Any, Final

from lastscrew import __version__
from lastscrew.faults.model import FaultModel
from lastscrew.faults.openings import TABLE_FORMAT

MOST_BYTES: Final = 64 * 1024 * 1024


def cache_directory() -> Path:
    """Where to keep them: ``LASTSCREW_CACHE``, else ``XDG_CACHE_HOME``, else ``.cache`` at home."""
    own = os.environ.get("LASTSCREW_CACHE")
    if own:
        return Path(own)
    base = os.environ.get("XDG_CACHE_HOME")
    return (Path(base) if base else Path.home() / ".cache") / "lastscrew"


def table_name(model: FaultModel, start: int, pace: float) -> str:
    """Name of the table: a hash of everything that the costs depend on."""
    said: dict[str, Any] = {
        "program": __version__,
        "format": TABLE_FORMAT,
        "device": model.device.revision_hash,
        "joints": sorted(model.device.joints),
        "parts": sorted(model.device.parts),
        "works": [work.id for work in model.works],
        "pace": pace,
        "start": f"{start:x}",
    }
    return sha256(json.dumps(said, sort_keys=True).encode()).hexdigest()


def prepare(model: FaultModel, start: int, pace: float, *, keep: bool) -> tuple[int, bool]:
    """Get the opening costs ready, from the cache where they are there.

    Returns:
        Moves that had to be worked out, and whether a table came from the cache. A cache that can't be read or
        written is done without.
    """
    path = cache_directory() / "openings" / f"{table_name(model, start, pace)}.json"
    taken = keep and _take(model, path)
    made = model.openings.prepare(start)
    if keep and made:
        _put(model, path)
    return made, taken


def _take(model: FaultModel, path: Path) -> bool:
    try:
        if path.stat().st_size > MOST_BYTES:
            return False
        table = json.loads(path.read_bytes())
    except (OSError, ValueError):
        return False
    return isinstance(table, dict) and model.openings.take(table)


def _put(model: FaultModel, path: Path) -> None:
    """Written beside and then renamed, so that a table is whole or not there."""
    beside = path.with_name(f"{path.name}.{os.getpid()}")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        beside.write_text(
            json.dumps(model.openings.table(), separators=(",", ":")), encoding="ascii"
        )
        beside.replace(path)
    except OSError:
        beside.unlink(missing_ok=True)

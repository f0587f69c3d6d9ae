"""Style sheets, scripts and pictures: served under a name that changes with their content.

Everything lies under ``/static/VERSION/…``, where the version is a hash over all of it: browsers may
keep it for ever, modules refer to each other by plain relative names, and the list that the
service worker keeps for working offline is exact.
"""

from __future__ import annotations

import hashlib
from functools import cache
from pathlib import Path

FOLDER = Path(__file__).parent / "static"


@cache
def files() -> tuple[str, ...]:
    """Every file, by its path below the folder, in order."""
    return tuple(
        sorted(path.relative_to(FOLDER).as_posix() for path in FOLDER.rglob("*") if path.is_file())
    )


@cache
def version() -> str:
    """Twelve hexadecimal digits over names and contents."""
    digest = hashlib.sha256()
    for name in files():
        digest.update(name.encode() + b"\0" + hashlib.sha256((FOLDER / name).read_bytes()).digest())
    return digest.hexdigest()[:12]


def static_url() -> str:
    """What stands before the name of each file."""
    return f"/static/{version()}/"

"""Opening costs that were worked out once, kept in a folder by their content; nothing here knows a database.

A table is named by a hash of everything that it depends on, and begins with the hash of what it says: one that is
damaged, cut short or changed is as good as none. The folder is bounded; what was not used for longest goes.
"""

from __future__ import annotations

import json
import os
import threading
from contextlib import suppress
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from typing import Final

from lastscrew import __version__
from lastscrew.device.model import Device
from lastscrew.faults.openings import DeviceOpenings
from lastscrew.faults.proposing import Terms, openings_key

MOST_BYTES: Final = 64 * 1024 * 1024
"""A larger table is neither read nor kept."""
MOST_MOVES: Final = 200_000
"""A table that has grown beyond this is kept no more."""
MOST_TABLES: Final = 200
MOST_BYTES_IN_ALL: Final = 256 * 1024 * 1024
SUFFIX: Final = ".table"
_DIGEST: Final = 64


def table_name(device: Device, terms: Terms, opened: tuple[str, ...] = ()) -> str:
    """Name of a table: a hash of everything that the costs depend on, the version of the program included."""
    return sha256(f"{__version__} {openings_key(device, terms, opened)}".encode()).hexdigest()


@dataclass(frozen=True, slots=True)
class TableFolder:
    """A folder of tables. It need not be there, and need not be writable: then nothing is kept.

    Attributes:
        path: The folder; nothing else lies in it.
    """

    path: Path

    def read(self, name: str) -> object:
        """The table of that name as ``DeviceOpenings.take`` wants it, None where there is none that is sound."""
        path = self._file(name)
        try:
            if path.stat().st_size > MOST_BYTES:
                return None
            content = path.read_bytes()
            digest, body = content[:_DIGEST], content[_DIGEST + 1 :]
            if sha256(body).hexdigest().encode() != digest:
                return None
            table = json.loads(body)
        except (OSError, ValueError, RecursionError):
            return None
        with suppress(OSError):
            os.utime(path)  # used just now
        return table

    def keep(self, name: str, openings: DeviceOpenings) -> bool:
        """Keep what is known now; False where it can't be kept.

        Written beside and then renamed, so that nobody reads half of it.
        """
        if openings.size > MOST_MOVES:
            return False
        path = self._file(name)
        beside = path.with_name(f"{path.name}.{os.getpid()}-{threading.get_ident()}")
        try:
            body = json.dumps(openings.table(), separators=(",", ":")).encode("ascii")
        except RuntimeError:  # it grew meanwhile, in another thread
            return False
        if len(body) > MOST_BYTES - _DIGEST - 1:
            return False
        try:
            self.path.mkdir(parents=True, exist_ok=True)
            beside.write_bytes(sha256(body).hexdigest().encode() + b"\n" + body)
            beside.replace(path)
            self._make_room(path)
        except OSError:
            with suppress(OSError):
                beside.unlink(missing_ok=True)
            return False
        return True

    def _file(self, name: str) -> Path:
        return self.path / f"{name}{SUFFIX}"

    def _make_room(self, newest: Path) -> None:
        """Take away what was not used for longest, until the folder keeps within its bounds."""
        found = []
        for path in self.path.iterdir():
            with suppress(OSError):
                status = path.stat()
                found.append((path != newest, -status.st_mtime, path.name, status.st_size, path))
        total = 0
        for count, (_, _, _, size, path) in enumerate(sorted(found), 1):
            total += size
            if path != newest and (count > MOST_TABLES or total > MOST_BYTES_IN_ALL):
                path.unlink(missing_ok=True)

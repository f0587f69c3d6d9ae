"""Style sheets, scripts and pictures: served under a name that changes with their content.

Everything lies under ``/static/VERSION/…``, where the version is a hash over all of it: browsers may
keep it for ever, modules refer to each other by plain relative names, and the list that the
service worker keeps for working offline is exact.

The files are read once, when the process starts. An upgrade that changes them below a running server changes
nothing for it: what it names is what it serves, until it is started again.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from types import MappingProxyType

FOLDER = Path(__file__).parent / "static"


def read_folder(folder: Path) -> Mapping[str, bytes]:
    """Every file below a folder, by its path in it, in order."""
    found = {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }
    return MappingProxyType(dict(sorted(found.items())))


def version_of(contents: Mapping[str, bytes]) -> str:
    """Twelve hexadecimal digits over names and contents."""
    digest = hashlib.sha256()
    for name, content in contents.items():
        digest.update(name.encode() + b"\0" + hashlib.sha256(content).digest())
    return digest.hexdigest()[:12]


@cache
def contents() -> Mapping[str, bytes]:
    """Every file as it was when this process started, by its path below the folder, in order."""
    return read_folder(FOLDER)


def files() -> tuple[str, ...]:
    """Every file, by its path below the folder, in order."""
    return tuple(contents())


@cache
def version() -> str:
    """The version of what this process serves."""
    return version_of(contents())


def text_of(name: str) -> str:
    """A file as text.

    Raises:
        KeyError: There is none of that name.
    """
    return contents()[name].decode("utf-8")


def static_url() -> str:
    """What stands before the name of each file."""
    return f"/static/{version()}/"

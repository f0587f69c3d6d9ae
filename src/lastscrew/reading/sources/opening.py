"""One face for all formats."""
from lastscrew.reading.document import numbered
from lastscrew.reading.model import Source


def open_source(data: bytes, name: str) -> Source:
    return Source(name, "text", numbered(data.decode("utf-8", "replace").split("\n")))

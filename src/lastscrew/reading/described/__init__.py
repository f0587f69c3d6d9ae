"""A device said wholly in plain sentences, and such sentences read back into a device."""

from lastscrew.reading.described.chapter import Chapter, find_chapter
from lastscrew.reading.described.telling import Paragraph, tell_device

__all__ = ["Chapter", "Paragraph", "find_chapter", "tell_device"]

"""A device said wholly in plain sentences, and such sentences read back into a device."""

from lastscrew.reading.described.chapter import Chapter, find_chapter
from lastscrew.reading.described.drafting import device_of_chapter
from lastscrew.reading.described.telling import Paragraph, tell_device

__all__ = ["Chapter", "Paragraph", "device_of_chapter", "find_chapter", "tell_device"]

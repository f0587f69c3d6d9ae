"""One face for all formats: bytes and a name in, a :class:`Source` out."""

from __future__ import annotations

from collections.abc import Callable

from lastscrew.reading.model import Source
from lastscrew.reading.sources.docx import docx_lines
from lastscrew.reading.sources.encoding import decode
from lastscrew.reading.sources.html import html_lines, looks_like_html
from lastscrew.reading.sources.limits import check_size
from lastscrew.reading.sources.markdown import looks_like_markdown, markdown_lines
from lastscrew.reading.sources.pdf import pdf_lines
from lastscrew.reading.sources.plain import plain_lines
from lastscrew.reading.sources.talk import looks_like_talk
from lastscrew.reading.sources.transcript import looks_like_transcript, transcript_lines


def open_source(
    data: bytes, name: str = "", progress: Callable[[int, int], None] | None = None
) -> Source:
    """Lines of a text in any format that is read.

    Args:
        data: The whole file.
        name: Its name; the ending helps where the content does not tell.
        progress: Told (pages done, 0) while a PDF is read.

    Raises:
        InputError: Empty, too large, damaged, protected, a scan without text, or no text at all.
    """
    check_size(data, name)
    if data[:1024].lstrip().startswith(b"%PDF"):
        return Source(name, "pdf", pdf_lines(data, name, progress))
    if data.startswith(b"PK\x03\x04"):
        return Source(name, "docx", docx_lines(data, name))
    text, repairs = decode(data, name)
    ending = name.lower().rsplit(".", 1)[-1] if "." in name else ""
    if ending in ("srt", "vtt") or looks_like_transcript(text):
        kind = ending if ending in ("srt", "vtt") else "transcript"
        return Source(name, kind, transcript_lines(text, name), spoken=True, repairs=repairs)
    if ending in ("html", "htm", "xhtml") or (
        ending not in ("txt", "md") and looks_like_html(text)
    ):
        return Source(name, "html", html_lines(text, name), repairs=repairs)
    if ending in ("md", "markdown", "mdx") or looks_like_markdown(text):
        return Source(name, "markdown", markdown_lines(text, name), repairs=repairs)
    if looks_like_talk(text):
        return Source(
            name, "transcript", transcript_lines(text, name), spoken=True, repairs=repairs
        )
    return Source(name, "text", plain_lines(text, name), repairs=repairs)

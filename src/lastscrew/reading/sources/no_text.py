"""What is no text: files of other kinds by how they begin, anything else by the characters it is made of."""

from __future__ import annotations

import re
import unicodedata

from lastscrew.reading.sources.limits import refuse

LOOKED_AT = 200_000
"""Characters (bytes) at the beginning that decide."""

REMEDY = "Give plain text, Markdown, HTML, PDF, DOCX, SRT or VTT."
_PICTURE = "Have the text in it read by a text recogniser first, or type the steps."
_PACKED = "Unpack it, and give the file in it that holds the procedure."
_WORDS = "Open it in a word processor and save it as DOCX, PDF or plain text."

# How files of these kinds begin. W3C PNG (5.2), ITU-T T.81 (SOI and a marker), GIF89a, TIFF 6.0, netpbm, RIFF,
# ISO/IEC 14496-12 (ftyp), RFC 1952, ELF and PE; the others as their makers describe them (from memory).
_BEGINNINGS: tuple[tuple[bytes, str, str], ...] = (
    (b"\x89PNG", "a picture (PNG)", _PICTURE),
    (b"\xff\xd8\xff", "a picture (JPEG)", _PICTURE),
    (b"GIF87a", "a picture (GIF)", _PICTURE),
    (b"GIF89a", "a picture (GIF)", _PICTURE),
    (b"II*\0", "a picture (TIFF)", _PICTURE),
    (b"MM\0*", "a picture (TIFF)", _PICTURE),
    (b"\0\0\1\0", "a picture (icon)", _PICTURE),
    (b"8BPS", "a picture", _PICTURE),
    (b"%!PS", "a page for a printer (PostScript)", "Make a PDF of it, and give that."),
    (b"{\\rtf", "a file of a word processor (RTF)", _WORDS),
    (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "a file of an old office program", _WORDS),
    (b"\x1f\x8b", "a packed file (gzip)", _PACKED),
    (b"BZh", "a packed file (bzip2)", _PACKED),
    (b"\xfd7zXZ\0", "a packed file (xz)", _PACKED),
    (b"\x28\xb5\x2f\xfd", "a packed file (zstd)", _PACKED),
    (b"7z\xbc\xaf\x27\x1c", "a packed file (7z)", _PACKED),
    (b"Rar!\x1a\x07", "a packed file (rar)", _PACKED),
    (b"PK\x05\x06", "an empty packed file (ZIP)", _PACKED),
    (b"PK\x07\x08", "a packed file (ZIP)", _PACKED),
    (b"\x7fELF", "a program", REMEDY),
    (b"\xca\xfe\xba\xbe", "a program", REMEDY),
    (b"\0asm", "a program", REMEDY),
    (b"SQLite format 3\0", "a database", REMEDY),
    (b"ID3", "a sound", "Give a transcript of it (SRT, VTT or plain text)."),
    (b"OggS", "a sound or a film", "Give a transcript of it (SRT, VTT or plain text)."),
    (b"fLaC", "a sound", "Give a transcript of it (SRT, VTT or plain text)."),
    (b"\x1aE\xdf\xa3", "a film", "Give a transcript of it (SRT, VTT or plain text)."),
)
_PORTABLE = re.compile(rb"P[1-6]\s+\d+\s+\d+\s")
_WITH_TEXT = frozenset({b"ID3", b"BZh", b"8BPS"})
"""Beginnings that a text may have too: these count only where a control character follows soon."""

_CONTROL = re.compile(r"[\x00-\x08\x0e-\x1f\x7f-\x84\x86-\x9f\ufffd]")
_MOST_HIGH = 0.35
"""Share of bytes above 127 in what is no UTF-8, above which it is no Western European text (letters with accents
make up less than a tenth of one; random bytes have a half)."""


def refuse_what_is_no_text(data: bytes, text: str, name: str) -> None:
    """Refuse what can't be a procedure that somebody wrote.

    Args:
        data: The file.
        text: What was decoded from it.
        name: Its name, for the message.

    Raises:
        InputError: It is a file of another kind, is made of other things than characters, or has no word.
    """
    if kind := _kind(data):
        raise refuse(f"This is no text but {kind[0]}.", kind[1], "binary", name)
    # Editors of old ended a file with a mark of its own; some fill the rest of a block with zeros.
    head = text[:LOOKED_AT].rstrip("\x00\x1a")
    if len(_CONTROL.findall(head)) > max(_few(data), len(head) // 200):
        raise refuse("This is no text: it holds control characters.", REMEDY, "binary", name)
    if _is_of_another_alphabet(data) or _is_made_of_nothing_in_use(head):
        raise refuse(
            "This is no text, or one in a coding that is not known.",
            "Save it as UTF-8, or give a PDF or DOCX.",
            "binary",
            name,
        )
    if not any(sign.isalpha() for sign in text):
        raise refuse("There is no word in this text.", REMEDY, "no_words", name)


def _kind(data: bytes) -> tuple[str, str] | None:
    """What kind of file it is, and what to do; None for what may be text."""
    for beginning, kind, remedy in _BEGINNINGS:
        if data.startswith(beginning) and (
            beginning not in _WITH_TEXT or _CONTROL.search(data[:64].decode("latin-1"))
        ):
            return kind, remedy
    if data[:4] == b"RIFF" and data[8:12] in (b"WEBP", b"WAVE", b"AVI "):
        return ("a picture (WebP)", _PICTURE) if data[8:12] == b"WEBP" else ("a recording", REMEDY)
    if data[4:8] == b"ftyp":
        is_picture = data[8:12] in (b"heic", b"heix", b"mif1", b"avif", b"msf1")
        return ("a picture (HEIF)", _PICTURE) if is_picture else ("a film", REMEDY)
    if _PORTABLE.match(data):
        return "a picture (portable bitmap)", _PICTURE
    if data[:2] == b"BM" and data[6:10] == bytes(4):
        return "a picture (BMP)", _PICTURE
    if data[:2] == b"MZ" and b"\0" in data[:64]:
        return "a program", REMEDY
    return None


def _few(data: bytes) -> int:
    """Control characters that a text may have whatever its length: strays of an old editor, a mark at its end."""
    return 2 if len(data) >= 40 else 0


def _is_of_another_alphabet(data: bytes) -> bool:
    """Bytes above 127 in such a number that neither UTF-8 nor a Western European coding explains them."""
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        head = data[:LOOKED_AT]
        if (
            head.startswith((b"\xff\xfe", b"\xfe\xff"))
            or head[:4000].count(0) > len(head[:4000]) // 4
        ):
            return False  # UTF-16: told by the characters
        return sum(byte > 127 for byte in head) > max(1, len(head) * _MOST_HIGH)
    return False


def _is_made_of_nothing_in_use(head: str) -> bool:
    """Characters that nobody has assigned, or that are for private use: bytes that were read as UTF-16."""
    odd = sum(unicodedata.category(sign) in ("Cn", "Cs", "Co") for sign in head)
    return odd > max(1, len(head) // 100)

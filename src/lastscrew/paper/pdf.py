"""Pages into PDF. The library is loaded when it is needed: it takes most of a second to start."""

from __future__ import annotations

import hashlib
import logging
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, Final

from lastscrew.problems import InputError, Problem

NO_PICTURES: Final[Mapping[str, tuple[str, bytes]]] = MappingProxyType({})

NEEDED_PACKAGES = "libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0 fonts-dejavu-core"
"""Debian's names of what the PDF writer needs from the system."""
MOST_LETTERS: Final = 8
"""Letters without a shape that are named."""
FIRST_EMOJI: Final = 0x1F000
"""Symbols from here on are pictures that colour fonts have."""


@dataclass(frozen=True, slots=True)
class Printed:
    """A PDF file.

    Attributes:
        data: Its bytes.
        pages: How many pages it has.
        missing: Letters for which no font of the system has a shape, each once: they print as empty boxes.
    """

    data: bytes
    pages: int
    missing: str = ""


Pictures = Mapping[str, tuple[str, bytes]]
"""Media type and content of pictures, by the address at which a page shows them."""


def print_pdf(html: str, pictures: Pictures = NO_PICTURES) -> Printed:
    """Print a page of ours to PDF; the same page gives the same bytes.

    Args:
        html: The page. It may refer to nothing outside of itself: everything else is refused.
        pictures: Pictures that come along.

    Raises:
        InputError: The system's libraries for setting type are missing.
    """
    weasyprint = _load()
    listener = _Listener()
    log = logging.getLogger("weasyprint")
    log.setLevel(logging.WARNING)
    log.propagate = False
    log.addHandler(listener)
    try:
        source = weasyprint.HTML(string=html, url_fetcher=_Pictures(pictures), base_url=None)
        document = source.render()
        data = document.write_pdf(pdf_identifier=_identifier(html, pictures))
    finally:
        log.removeHandler(listener)
    assert isinstance(data, bytes)
    return Printed(data, len(document.pages), "".join(dict.fromkeys(listener.missing)))


def _identifier(html: str, pictures: Pictures) -> bytes:
    """Where writers otherwise put a random number or the time, the file is named by what is in it."""
    digest = hashlib.sha256(html.encode())
    for address in sorted(pictures):
        digest.update(hashlib.sha256(pictures[address][1]).digest())
    return digest.hexdigest()[:32].encode()


class _Listener(logging.Handler):
    """Hears which letters have no shape; what else is said, on single style rules, nobody could act on."""

    def __init__(self) -> None:
        super().__init__(logging.WARNING)
        self.missing: list[str] = []
        self.thread = logging.makeLogRecord({}).thread  # that of whoever prints

    def emit(self, record: logging.LogRecord) -> None:
        """Keep the letter of a record about one."""
        if record.thread != self.thread:
            return  # another page is printed at the same time
        if ".notdef" in str(record.msg) and isinstance(record.args, tuple) and record.args:
            self.missing.append(str(record.args[0]))


def missing_letters_text(missing: str) -> str:
    """What a person should know of letters that print as boxes, and what to do; empty for none.

    Args:
        missing: The letters, as :attr:`Printed.missing` has them.
    """
    if not missing:
        return ""
    shown = " ".join(f"{letter} (U+{ord(letter):04X})" for letter in missing[:MOST_LETTERS])
    more = f" and {len(missing) - MOST_LETTERS} more" if len(missing) > MOST_LETTERS else ""
    packages = ", ".join(dict.fromkeys(_package(letter) for letter in missing))
    return (
        f"No font of this computer has {shown}{more}: the PDF shows empty boxes there. Install a font that has them "
        f"(on Debian: {packages}), or write a page to print from the browser with -o FILE.html."
    )


def _package(letter: str) -> str:
    """Debian's name of a font for a letter."""
    name = unicodedata.name(letter, "")
    if name.startswith(
        ("CJK", "HIRAGANA", "KATAKANA", "HANGUL", "BOPOMOFO", "FULLWIDTH", "HALFWIDTH")
    ):
        return "fonts-noto-cjk"
    if unicodedata.category(letter) == "So" and ord(letter) >= FIRST_EMOJI:
        return "fonts-noto-color-emoji"
    return "fonts-noto-core"


def _load() -> Any:  # noqa: ANN401 - a module without type information
    try:
        import weasyprint  # noqa: PLC0415 - slow to load, and its libraries may be missing
    except OSError as error:
        raise InputError(
            [
                Problem(
                    f"A PDF can't be written, because a library of the system is missing: {error}",
                    f"Install it (on Debian: apt-get install {NEEDED_PACKAGES}), or write a page to print "
                    "from the browser with -o FILE.html.",
                    code="no_pdf_library",
                )
            ]
        ) from error
    return weasyprint


class _Pictures:
    """Stands where the writer would fetch things: gives what came along, and fetches nothing."""

    _fail_on_errors = False
    """The page is printed all the same, without what was asked for."""

    def __init__(self, pictures: Pictures) -> None:
        self.pictures = pictures

    def __call__(self, url: str, *_args: object, **_options: object) -> object:
        if url not in self.pictures:
            raise ValueError(
                f"a sheet refers to nothing outside of itself, but {url!r} was asked for"
            )
        media_type, content = self.pictures[url]
        from weasyprint import urls  # noqa: PLC0415 - as above

        response = getattr(urls, "URLFetcherResponse", None)
        if response is None:  # before release 68
            return {"string": content, "mime_type": media_type}
        return response(url, content, {"Content-Type": media_type})

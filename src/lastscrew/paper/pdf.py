"""Pages into PDF. The library is loaded when it is needed: it takes most of a second to start."""

from __future__ import annotations

import hashlib
import logging
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, Final

from lastscrew.problems import InputError, Problem

NO_PICTURES: Final[Mapping[str, tuple[str, bytes]]] = MappingProxyType({})

NEEDED_PACKAGES = "libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0 fonts-dejavu-core"
"""Debian's names of what the PDF writer needs from the system."""


@dataclass(frozen=True, slots=True)
class Printed:
    """A PDF file: its bytes and how many pages it has."""

    data: bytes
    pages: int


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
    # What it has to say about single style rules is nothing that a technician can act on.
    logging.getLogger("weasyprint").setLevel(logging.CRITICAL)
    document = weasyprint.HTML(string=html, url_fetcher=_Pictures(pictures), base_url=None).render()
    # Where writers otherwise put a random number or the time, the file is named by what is in it.
    digest = hashlib.sha256(html.encode())
    for address in sorted(pictures):
        digest.update(hashlib.sha256(pictures[address][1]).digest())
    identifier = digest.hexdigest()[:32].encode()
    data = document.write_pdf(pdf_identifier=identifier)
    assert isinstance(data, bytes)
    return Printed(data, len(document.pages))


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

"""Pages into PDF. The library is loaded when it is needed: it takes most of a second to start."""

from __future__ import annotations

import hashlib
import logging
from dataclasses import dataclass
from typing import Any, NoReturn

from lastscrew.problems import InputError, Problem

NEEDED_PACKAGES = "libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0 fonts-dejavu-core"
"""Debian's names of what the PDF writer needs from the system."""


@dataclass(frozen=True, slots=True)
class Printed:
    """A PDF file: its bytes and how many pages it has."""

    data: bytes
    pages: int


def print_pdf(html: str) -> Printed:
    """Print a page of ours to PDF; the same page gives the same bytes.

    Args:
        html: The page. It may refer to nothing outside of itself: everything else is refused.

    Raises:
        InputError: The system's libraries for setting type are missing.
    """
    weasyprint = _load()
    # What it has to say about single style rules is nothing that a technician can act on.
    logging.getLogger("weasyprint").setLevel(logging.CRITICAL)
    document = weasyprint.HTML(string=html, url_fetcher=_Refusal(), base_url=None).render()
    # Where writers otherwise put a random number or the time, the file is named by what is in it.
    identifier = hashlib.sha256(html.encode()).hexdigest()[:32].encode()
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


class _Refusal:
    """Stands where the writer would fetch things, and fetches nothing."""

    _fail_on_errors = False
    """The page is printed all the same, without what was asked for."""

    def __call__(self, url: str, *_args: object, **_options: object) -> NoReturn:
        raise ValueError(f"a sheet refers to nothing outside of itself, but {url!r} was asked for")

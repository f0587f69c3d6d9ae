"""Printing beside the requests: one file after the other, in a process of its own, kept by what is in it.

A request waits a moment for its file. Where that is not enough its page says so and looks again; nobody else waits.
"""

from __future__ import annotations

import base64
import hashlib
import json
import subprocess
import sys
import threading
from collections import OrderedDict
from concurrent.futures import Future
from concurrent.futures import TimeoutError as NotYetError
from functools import partial
from typing import Final

from django.utils.translation import gettext as _

from lastscrew.bench.beside import Beside
from lastscrew.paper.pdf import NO_PICTURES, Pictures, Printed
from lastscrew.problems import InputError, Problem

WAIT_S: Final = 1.5
"""So long a request waits for its file: a short one is set in that time on an idle machine."""
LONGEST_S: Final = 180.0
"""A file that takes longer is given up."""
MOST_WAITING: Final = 12
"""So many files may wait for their turn; whoever comes then looks again."""
MOST_KEPT: Final = 24
MOST_BYTES: Final = 48 * 1024 * 1024
"""Bounds on what is kept in memory."""


class Press:
    """Prints pages and keeps what it printed. Safe between threads."""

    def __init__(self, wait_s: float = WAIT_S) -> None:
        """A press; ``wait_s``: how long :meth:`soon` waits."""
        self.wait_s = wait_s
        self._lock = threading.Lock()
        self._kept: OrderedDict[str, Printed] = OrderedDict()
        self._printing: dict[str, Future[Printed]] = {}
        self._thread = Beside("press")

    def soon(self, html: str, pictures: Pictures = NO_PICTURES) -> Printed | None:
        """The file, if it is there within a moment; None while it is being set.

        Args:
            html: The page, as :func:`~lastscrew.paper.pdf.print_pdf` takes it.
            pictures: Pictures that come along.

        Raises:
            InputError: It can't be printed here.
        """
        key = _key(html, pictures)
        with self._lock:
            kept = self._kept.get(key)
            if kept is not None:
                self._kept.move_to_end(key)
                return kept
            for done in [k for k, each in self._printing.items() if each.done() and k != key]:
                del self._printing[done]
            future = self._printing.get(key)
            if future is None:
                if len(self._printing) >= MOST_WAITING:
                    return None
                future = self._printing[key] = self._thread.submit(
                    partial(self._print, key, html, pictures)
                )
        try:
            return future.result(self.wait_s)
        except NotYetError:
            return None
        finally:
            if future.done():
                with self._lock:
                    self._printing.pop(key, None)

    def _print(self, key: str, html: str, pictures: Pictures) -> Printed:
        printed = print_apart(html, pictures)
        with self._lock:
            self._kept[key] = printed
            while len(self._kept) > 1 and (
                len(self._kept) > MOST_KEPT or sum(map(_size, self._kept.values())) > MOST_BYTES
            ):
                self._kept.popitem(last=False)
        return printed


def _size(printed: Printed) -> int:
    return len(printed.data)


def _key(html: str, pictures: Pictures) -> str:
    """A hash over all that is on the paper."""
    digest = hashlib.sha256(html.encode())
    for address, (media_type, content) in sorted(pictures.items()):
        digest.update(f"\0{address}\0{media_type}\0".encode() + hashlib.sha256(content).digest())
    return digest.hexdigest()


def print_apart(
    html: str, pictures: Pictures = NO_PICTURES, longest_s: float = LONGEST_S
) -> Printed:
    """Print in a process of its own.

    Args:
        html: The page, as :func:`~lastscrew.paper.pdf.print_pdf` takes it.
        pictures: Pictures that come along.
        longest_s: It is stopped after so long.

    Raises:
        InputError: It can't be printed here, or took too long.
    """
    asked = {
        "html": html,
        "pictures": {
            address: (media_type, base64.b64encode(content).decode("ascii"))
            for address, (media_type, content) in pictures.items()
        },
    }
    command = [sys.executable, "-P", "-m", "lastscrew.bench.serving.printer"]
    try:
        done = subprocess.run(  # noqa: S603 - our own module, told nothing but what it reads
            command,
            input=json.dumps(asked).encode("ascii"),
            capture_output=True,
            timeout=longest_s,
            check=True,
        )
    except (OSError, subprocess.SubprocessError) as error:
        raise InputError([_not_printed()]) from error
    head, _newline, data = done.stdout.partition(b"\n")
    told = json.loads(head)
    if "problems" in told:
        raise InputError(
            [Problem(message, remedy, code=code) for message, remedy, code in told["problems"]]
        )
    return Printed(data, int(told["pages"]), str(told["missing"]))


def _not_printed() -> Problem:
    return Problem(
        _("The paper could not be set."),
        _(
            "Try again when there is less to do on this machine, or print the page from the browser."
        ),
        code="not_printed",
    )


PRESS: Final = Press()
"""The one that all pages share."""

"""Prints one page to PDF in a process of its own: ``python -m lastscrew.bench.serving.printer``.

Setting type takes seconds of computing, which would hold up everybody else in the server's process. Here it runs below
them, and what it needed goes with it. Reads one JSON object from its input, writes one line of JSON and
the file behind it to its output; see :mod:`lastscrew.bench.serving.press`.
"""

from __future__ import annotations

import base64
import json
import os
import sys
from contextlib import suppress
from typing import Final

from lastscrew.paper.pdf import print_pdf
from lastscrew.problems import InputError

NICER: Final = 5
"""So much later than the server its turn comes (our own figure)."""


def main() -> None:
    """Print what the input says."""
    with suppress(OSError):
        os.nice(NICER)
    asked = json.loads(sys.stdin.buffer.read())
    pictures = {
        address: (media_type, base64.b64decode(content))
        for address, (media_type, content) in asked["pictures"].items()
    }
    try:
        printed = print_pdf(asked["html"], pictures)
    except InputError as error:
        told: dict[str, object] = {
            "problems": [[p.message, p.remedy, p.code] for p in error.problems]
        }
        data = b""
    else:
        told, data = {"pages": printed.pages, "missing": printed.missing}, printed.data
    sys.stdout.buffer.write(json.dumps(told).encode("ascii") + b"\n" + data)
    sys.stdout.buffer.flush()


if __name__ == "__main__":
    main()

"""Bodies that come in chunks, without a length: read to their end, for an application that needs the length."""

from __future__ import annotations

import json
import tempfile
from collections.abc import Callable, Iterable
from typing import IO, Any, Final, cast

from lastscrew.problems import Problem

Application = Callable[[dict[str, Any], Callable[..., Any]], Iterable[bytes]]

MOST_BYTES: Final = 32 * 1024 * 1024
"""Above the largest photo; what comes with a length may be larger."""
IN_MEMORY: Final = 1024 * 1024
STEP: Final = 64 * 1024


class Chunked:
    """A WSGI application that gets the length of every body."""

    def __init__(self, application: Application) -> None:
        """Put it in front of another one."""
        self.application = application

    def __call__(
        self, request: dict[str, Any], start_response: Callable[..., Any]
    ) -> Iterable[bytes]:
        """Answer one request."""
        if not request.get("wsgi.input_terminated") or request.get("CONTENT_LENGTH"):
            return self.application(request, start_response)
        with tempfile.SpooledTemporaryFile(IN_MEMORY) as body:
            try:
                length = _copy(request["wsgi.input"], cast("IO[bytes]", body))
            except (OSError, ValueError):
                return _refused(start_response, "400 Bad Request", "this body breaks off")
            if length > MOST_BYTES:
                status = "413 Content Too Large"
                return _refused(start_response, status, "this is larger than is taken")
            body.seek(0)
            request = {**request, "CONTENT_LENGTH": str(length), "wsgi.input": body}
            # Closed with the block: what answers has read the body by then.
            return self.application(request, start_response)


def _copy(source: IO[bytes], target: IO[bytes]) -> int:
    """Copy all of it, or a little more than is taken; its length."""
    length = 0
    while length <= MOST_BYTES and (piece := source.read(STEP)):
        length += len(piece)
        target.write(piece)
    return length


def _refused(start_response: Callable[..., Any], status: str, words: str) -> list[bytes]:
    problem = Problem(words, "Send less at once, or say how long it is.")
    content = json.dumps({"problems": [problem.as_json()]}).encode()
    headers = [
        ("Content-Type", "application/json"),
        ("Content-Length", str(len(content))),
        ("Connection", "close"),
    ]
    start_response(status, headers)
    return [content]

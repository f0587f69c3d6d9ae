"""Files of the application that are kept in memory and answered before anything else is asked."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from pathlib import PurePosixPath
from typing import Any

TYPES = {
    ".css": "text/css; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".svg": "image/svg+xml",
    ".png": "image/png",
    ".webmanifest": "application/manifest+json",
}
"""Everything else goes as bytes that a browser shows to nobody."""

FOR_EVER = f"max-age={365 * 24 * 3600}, public, immutable"

Application = Callable[[dict[str, Any], Callable[..., Any]], Iterable[bytes]]


class Files:
    """A WSGI application with files in front of another one."""

    def __init__(
        self, application: Application, address: str, contents: Mapping[str, bytes]
    ) -> None:
        """Put files in front.

        Args:
            application: Answers everything else.
            address: What stands before the name of each file, with slashes at both ends.
            contents: The files by name.
        """
        self.application = application
        self.contents = {address + name: content for name, content in contents.items()}

    def __call__(
        self, request: dict[str, Any], start_response: Callable[..., Any]
    ) -> Iterable[bytes]:
        """Answer one request."""
        path = request.get("PATH_INFO", "")
        content = self.contents.get(path)
        if content is None:
            return self.application(request, start_response)
        headers = [
            ("Content-Length", str(len(content))),
            ("Content-Type", TYPES.get(PurePosixPath(path).suffix, "application/octet-stream")),
            ("Cache-Control", FOR_EVER),
            ("X-Content-Type-Options", "nosniff"),
        ]
        method = request.get("REQUEST_METHOD", "GET")
        if method not in ("GET", "HEAD"):
            start_response(
                "405 Method Not Allowed", [("Allow", "GET, HEAD"), ("Content-Length", "0")]
            )
            return []
        start_response("200 OK", headers)
        return [content] if method == "GET" else []

"""Connections of the server: a screen that has said nothing yet holds nobody up, by plain HTTP and by HTTPS.

A tablet that opens a connection and loses its network before the first byte is an everyday thing. Such a connection
waits beside the others and is closed after a while; a thread is for those who speak. The handshake of HTTPS is made
by that thread too, not where connections are accepted.
"""

from __future__ import annotations

import contextlib
import logging
import os
import socket
import ssl
import time
from typing import Any, Final

from cheroot import wsgi
from cheroot.server import HTTPConnection
from cheroot.ssl.builtin import BuiltinSSLAdapter

HANDSHAKE_S: Final = 10.0
"""So long a handshake may take once its first byte is there."""
LINGER_S: Final = 1.0
LINGER_BYTES: Final = 64 * 1024
"""How long and how far a request by plain HTTP is read, so that its sender gets to see the answer."""


class Handshakes(BuiltinSSLAdapter):
    """HTTPS whose handshake is made later, by the thread that reads the first request."""

    def wrap(self, sock: socket.socket) -> tuple[ssl.SSLSocket, dict[str, str]]:
        """The socket, and what the application is told of it."""
        wrapped = self.context.wrap_socket(sock, server_side=True, do_handshake_on_connect=False)
        return wrapped, {"wsgi.url_scheme": "https", "HTTPS": "on"}


class Connection(HTTPConnection):
    """A connection that makes its handshake before its first request."""

    is_greeted = False

    def communicate(self) -> bool:
        """Read a request and answer it; True where the connection stays open."""
        if not self.is_greeted and isinstance(self.socket, ssl.SSLSocket):
            self.is_greeted = True
            if not self._greet():
                return False
        return bool(super().communicate())  # type: ignore[no-untyped-call]  # cheroot has no types

    def _greet(self) -> bool:
        waits = self.socket.gettimeout()
        try:
            self.socket.settimeout(HANDSHAKE_S)
            self.socket.do_handshake()
            self.socket.settimeout(waits)
        except ssl.SSLError as error:
            if "http request" in str(error).lower():
                _send_on(self.socket)
            return False
        except OSError:
            return False  # it hung up, or was too slow
        return True


def _send_on(secure: ssl.SSLSocket) -> None:
    """Tell who speaks plain HTTP where HTTPS is spoken: people type addresses without ``https://``."""
    with contextlib.suppress(OSError):
        host, port = secure.getsockname()[:2]
        place = f"https://[{host}]:{port}/" if ":" in host else f"https://{host}:{port}/"
        answer = (
            f"HTTP/1.1 302 Found\r\nLocation: {place}\r\nContent-Length: 0\r\n"
            "Connection: close\r\n\r\n"
        )
        # A second handle of the same connection: the server closes the first one.
        with socket.socket(fileno=os.dup(secure.fileno())) as plain:
            plain.settimeout(LINGER_S)
            plain.sendall(answer.encode("ascii"))
            plain.shutdown(socket.SHUT_WR)
            until, read = time.monotonic() + LINGER_S, 0
            while read < LINGER_BYTES and time.monotonic() < until and (got := plain.recv(4096)):
                read += len(got)


class Server(wsgi.Server):
    """Says what goes wrong in us; a caller that hangs up is no news. Silent connections wait beside the threads."""

    ConnectionClass = Connection

    def process_conn(self, conn: Any) -> None:  # noqa: ANN401 (cheroot has no types)
        """Give a connection to a thread, once it has something to say."""
        if conn.last_used is None:
            self._connections.put(conn)  # type: ignore[attr-defined]  # made when the server is prepared
        else:
            super().process_conn(conn)

    def error_log(self, msg: str = "", level: int = logging.INFO, traceback: bool = False) -> None:  # noqa: FBT001, FBT002 (cheroot's signature)
        """Log a message of the server's."""
        if level >= logging.ERROR:
            logging.getLogger(__name__).error("%s", msg, exc_info=traceback)

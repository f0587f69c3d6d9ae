"""The server: cheroot, in this process, with a pool of threads; HTTPS by the standard library."""

from __future__ import annotations

import signal
import threading
from collections.abc import Callable
from types import FrameType
from typing import Any

from lastscrew.bench.config import Config
from lastscrew.bench.serving.certificates import Certificate
from lastscrew.bench.serving.connections import Handshakes, Server

THREADS = 12
"""Requests that are answered at once; the database has one writer, so that more would only wait."""

MOST_BODY = 64 * 1024 * 1024
"""Bytes of one request; photos and device files are far below."""

MOST_KEPT = 256
"""Connections that stay open between two requests: every bench of a depot, without a handshake for each step."""


class ListeningError(Exception):
    """The address can't be listened on; the message says why."""


def serve(
    config: Config,
    application: Callable[..., Any],
    certificate: Certificate | None,
    ready: Callable[[], None],
) -> None:
    """Answer requests until a signal or Ctrl-C says to stop; requests under way are answered first.

    Args:
        config: Address and port.
        application: The WSGI application.
        certificate: For HTTPS; None for plain HTTP.
        ready: Called once it listens.

    Raises:
        ListeningError: The address is in use or is none of this machine.
    """
    server = Server(
        (config.host.strip("[]"), config.port),
        application,
        numthreads=THREADS,
        server_name="lastscrew",
        request_queue_size=64,
        timeout=30,
        shutdown_timeout=10,
    )
    server.keep_alive_conn_limit = MOST_KEPT
    server.max_request_body_size = MOST_BODY
    server.max_request_header_size = 64 * 1024
    if certificate is not None:
        server.ssl_adapter = Handshakes(str(certificate.chain), str(certificate.key))
    try:
        server.prepare()
    except OSError as error:
        raise ListeningError(error.strerror or str(error)) from error
    _stop_on_signals(server)
    ready()
    try:
        server.serve()
    except KeyboardInterrupt:
        pass
    finally:
        server.stop()


def _stop_on_signals(server: Server) -> None:
    def stop(_number: int, _frame: FrameType | None) -> None:
        # Stopping waits for requests under way; a signal handler must not wait.
        threading.Thread(target=server.stop, daemon=True).start()

    if threading.current_thread() is threading.main_thread():
        signal.signal(signal.SIGTERM, stop)
        signal.signal(signal.SIGINT, stop)

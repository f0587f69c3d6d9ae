"""Who connects and says nothing holds nobody up, and who forgot the s in https is sent on."""

from __future__ import annotations

import datetime as dt
import http.client
import socket
import ssl
import threading
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path
from typing import Any

import pytest

from lastscrew.bench.serving.certificates import Certificate, own_certificate
from lastscrew.bench.serving.connections import Handshakes, Server

NAMES = ("localhost", "127.0.0.1")
THREADS = 2


def answer(request: dict[str, Any], start: Callable[..., Any]) -> Iterable[bytes]:
    start("200 OK", [("Content-Type", "text/plain")])
    return [str(request["wsgi.url_scheme"]).encode()]


@contextmanager
def served(certificate: Certificate | None) -> Iterator[int]:
    """The port of a server with two threads."""
    server = Server(("127.0.0.1", 0), answer, numthreads=THREADS, timeout=30)
    if certificate is not None:
        server.ssl_adapter = Handshakes(str(certificate.chain), str(certificate.key))
    server.prepare()
    thread = threading.Thread(target=server.serve)
    thread.start()
    try:
        yield int(server.bind_addr[1])
    finally:
        server.stop()
        thread.join()


@pytest.fixture(params=["http", "https"])
def asked(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[tuple[int, Any]]:
    """A port, and what asks there."""
    certificate = None
    context = None
    if request.param == "https":
        certificate = own_certificate(tmp_path, NAMES, NAMES, dt.datetime.now(dt.UTC))
        context = ssl.create_default_context(cafile=str(certificate.authority))
    with served(certificate) as port:
        yield port, context


def ask(port: int, context: ssl.SSLContext | None) -> str:
    connection = (
        http.client.HTTPConnection("127.0.0.1", port, timeout=20)
        if context is None
        else http.client.HTTPSConnection("127.0.0.1", port, timeout=20, context=context)
    )
    try:
        connection.request("GET", "/")
        first = connection.getresponse().read()
        connection.request("GET", "/")
        assert connection.getresponse().read() == first
        return first.decode()
    finally:
        connection.close()


def test_silent_connections_hold_nobody_up(asked: tuple[int, Any]) -> None:
    """More of them than threads; the answer comes at once all the same, and a kept connection works."""
    port, context = asked
    with ExitStack() as stack:
        for _ in range(THREADS + 2):
            stack.enter_context(socket.create_connection(("127.0.0.1", port)))
        begun = time.monotonic()
        assert ask(port, context) == ("http" if context is None else "https")
        assert time.monotonic() - begun < 10


def test_who_speaks_plain_http_to_https_is_sent_on(tmp_path: Path) -> None:
    certificate = own_certificate(tmp_path, NAMES, NAMES, dt.datetime.now(dt.UTC))
    with served(certificate) as port:
        connection = http.client.HTTPConnection("127.0.0.1", port, timeout=20)
        connection.request("GET", "/units/")
        told = connection.getresponse()
        assert (told.status, told.headers["Location"]) == (302, f"https://127.0.0.1:{port}/")
        connection.close()


def test_noise_instead_of_a_handshake_ends_that_connection_only(tmp_path: Path) -> None:
    certificate = own_certificate(tmp_path, NAMES, NAMES, dt.datetime.now(dt.UTC))
    with served(certificate) as port:
        with socket.create_connection(("127.0.0.1", port), timeout=20) as noise:
            noise.sendall(b"\x16\x03\x01\x00\x05hello")
            with suppress(ConnectionError):
                while noise.recv(4096):
                    pass
        context = ssl.create_default_context(cafile=str(certificate.authority))
        assert ask(port, context) == "https"

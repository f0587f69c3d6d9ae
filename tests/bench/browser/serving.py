"""A server in a process of its own, for tests in a browser: the application over a data folder, at a free port."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

from lastscrew.bench.config import Config, environment_of

START_S = 30.0


@dataclass(frozen=True, slots=True)
class Site:
    """A server that answers.

    Attributes:
        config: The installation that it serves; tests may write to its database too.
        address: ``http://127.0.0.1:PORT`` (or ``https://localhost:PORT``), without a slash at the end.
        process: The server itself.
    """

    config: Config
    address: str
    process: subprocess.Popen[str]


@contextmanager
def serving(
    config: Config, *, certificate: Path | None = None, key: Path | None = None
) -> Iterator[Site]:
    """Serve an installation that is migrated already, on a free port, until the block ends."""
    secure = certificate is not None
    command = [sys.executable, "-m", "tests.bench.browser.serving"]
    command += [str(certificate), str(key)] if secure else []
    environment = {**os.environ, **environment_of(replace(config, secure=secure))}
    environment["PYTHONPATH"] = str(Path(__file__).parents[3])
    process = subprocess.Popen(command, env=environment, stdout=subprocess.PIPE, text=True)
    try:
        assert process.stdout is not None
        told = json.loads(process.stdout.readline())
        scheme, host = ("https", "localhost") if secure else ("http", "127.0.0.1")
        site = Site(config, f"{scheme}://{host}:{told['port']}", process)
        if not secure:
            _wait_for(site)
        yield site
    finally:
        process.terminate()
        process.wait(timeout=20)
        if process.stdout is not None:
            process.stdout.close()


def _wait_for(site: Site) -> None:
    until = time.monotonic() + START_S
    while True:
        try:
            with urllib.request.urlopen(f"{site.address}/healthz", timeout=5):
                return
        except OSError:
            if time.monotonic() > until or site.process.poll() is not None:
                raise
            time.sleep(0.05)


def _main() -> None:
    from lastscrew.bench.serving.connections import Handshakes, Server

    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "lastscrew.bench.settings")
    from lastscrew.bench.wsgi import application

    server = Server(("127.0.0.1", 0), application, numthreads=8)
    if len(sys.argv) > 2:
        server.ssl_adapter = Handshakes(sys.argv[1], sys.argv[2])
    server.prepare()
    print(json.dumps({"port": server.bind_addr[1]}), flush=True)
    server.serve()


if __name__ == "__main__":
    _main()

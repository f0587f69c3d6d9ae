"""A server that is made to be killed: ``python -m benchmarks.killed_server``, for ``bench_kill``.

Reads lines from its standard input. For each ``start`` it forks a process that serves the whole application of the
installation that the environment names, on a port of its own, and prints the number of that process
and the port. Forking instead of starting anew saves the seconds that loading takes, a thousand times.
"""

from __future__ import annotations

import os
import sys
from typing import Any, NoReturn


def main() -> None:
    """Load everything, then fork a server for each line."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "lastscrew.bench.settings")
    import django

    django.setup()
    from django.db import connections

    from lastscrew.bench.wsgi import make_application

    application = make_application()
    _warm_up(application)
    connections.close_all()
    print("loaded", flush=True)
    child = 0
    for line in sys.stdin:
        if line.strip() != "start":
            break
        if child:
            os.waitpid(child, 0)
        reading, writing = os.pipe()
        child = os.fork()
        if child == 0:
            os.close(reading)
            serve(application, writing)
        os.close(writing)
        with os.fdopen(reading) as told:
            print(child, told.readline().strip(), flush=True)


def _warm_up(application: Any) -> None:  # noqa: ANN401 (a WSGI application)
    """Have what a first request loads loaded already: a server that lives for 50 ms must get to work."""
    from wsgiref.util import setup_testing_defaults

    from lastscrew.bench.models import Revision
    from lastscrew.bench.store.jobs import known_device

    environ: dict[str, Any] = {"HTTP_HOST": "127.0.0.1"}
    setup_testing_defaults(environ)
    for path in ("/healthz", "/api/units", "/api/runs/none/events"):
        list(application({**environ, "PATH_INFO": path}, lambda *_: None))
    for revision in Revision.objects.values_list("revision", flat=True):
        known_device(revision)


def serve(application: Any, writing: int) -> NoReturn:  # noqa: ANN401 (a WSGI application)
    """Serve until killed."""
    from cheroot import wsgi

    server = wsgi.Server(("127.0.0.1", 0), application, numthreads=8, request_queue_size=64)
    server.prepare()
    with os.fdopen(writing, "w") as told:
        told.write(f"{server.bind_addr[1]}\n")
    server.serve()
    os._exit(0)


if __name__ == "__main__":
    main()

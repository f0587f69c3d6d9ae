"""Kill the server at random moments under load, many times: ``python -m benchmarks.bench_kill --kills 1000``.

Six screens on three jobs send batches of steps as fast as they are acknowledged, over HTTP to the whole
application. Up to 80 ms after a first answer (one time in five: after the start) the server is killed with SIGKILL
and started again; each screen sends once more what was not acknowledged. Afterwards must hold:

* every event that was acknowledged is there, once;
* the versions of each job have no gap, and its row says its last version;
* everything derived is as the events say (``lastscrew rebuild`` changes nothing);
* SQLite finds no fault in its file (``PRAGMA integrity_check``).

A killed process is not a power cut: what the operating system has taken over survives it. For the latter
the database flushes at each commit (``PRAGMA synchronous = FULL``); that can't be tried here.
"""

from __future__ import annotations

import argparse
import http.client
import json
import os
import random
import signal
import subprocess
import sys
import tempfile
import threading
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from lastscrew.bench.config import Config, environment_of

ROOT = Path(__file__).resolve().parents[1]
SCREENS = 6
RUNS = 3


@dataclass(slots=True)
class Report:
    """What was seen.

    Attributes:
        kills: How often the server was killed.
        acknowledged: Events that were acknowledged.
        resent: Batches that were sent again because no answer came.
        faults: What must not be, a sentence each.
    """

    kills: int = 0
    acknowledged: int = 0
    resent: int = 0
    faults: list[str] = field(default_factory=list)


class Server:
    """The server that is killed and started again."""

    def __init__(self, config: Config) -> None:
        """Load the program once."""
        self.process = subprocess.Popen(
            [sys.executable, "-m", "benchmarks.killed_server"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            cwd=ROOT,
            env={**os.environ, **environment_of(config)},
        )
        self.child = 0
        self.port = 0
        assert self._line() == "loaded"

    def _line(self) -> str:
        assert self.process.stdout is not None
        return self.process.stdout.readline().strip()

    def start(self) -> None:
        """Start it; it listens when this returns."""
        assert self.process.stdin is not None
        self.process.stdin.write("start\n")
        self.process.stdin.flush()
        child, port = self._line().split()
        self.child, self.port = int(child), int(port)

    def kill(self) -> None:
        """Kill it, whatever it does."""
        os.kill(self.child, signal.SIGKILL)

    def close(self) -> None:
        """End the process that starts servers; the last server was killed."""
        assert self.process.stdin is not None
        self.process.stdin.close()
        assert self.process.stdout is not None
        self.process.stdout.close()
        self.process.wait(30)


class Screen(threading.Thread):
    """A screen that sends steps and keeps what was not acknowledged."""

    def __init__(self, number: int, server: Server, token: str, joints: list[str]) -> None:
        """Nothing is sent yet."""
        super().__init__(daemon=True)
        self.number, self.server, self.token, self.joints = number, server, token, joints
        self.run_key = f"killed{number % RUNS}"
        self.rng = random.Random(number)
        self.sequence = 0
        self.acknowledged: list[str] = []
        self.resent = 0
        self.refused = ""
        self.connection: http.client.HTTPConnection | None = None
        self.stopping = threading.Event()

    def run(self) -> None:
        """Send batch after batch until told to stop; each until it is answered."""
        while not self.stopping.is_set() and not self.refused:
            batch = self._batch()
            answer, tries = None, 0
            while answer is None and not self.stopping.is_set():
                answer = self._try(batch)
                tries += 1
            if answer is None:
                break
            self.resent += tries > 1
            if set(answer) != {event["id"] for event in batch}:
                self._note_refusal(f"{answer} for {batch}")
            self.acknowledged += answer
        self._hang_up()

    def _try(self, batch: list[dict[str, Any]]) -> list[str] | None:
        """What was acknowledged, or None where no answer came."""
        try:
            if self.connection is None:
                port = self.server.port
                self.connection = http.client.HTTPConnection("127.0.0.1", port, timeout=20)
            return self._send(self.connection, batch)
        except (OSError, http.client.HTTPException, ValueError):
            self._hang_up()
            time.sleep(0.002)
            return None

    def _note_refusal(self, text: str) -> None:
        self.refused = self.refused or text

    def _hang_up(self) -> None:
        if self.connection is not None:
            self.connection.close()
        self.connection = None

    def _batch(self) -> list[dict[str, Any]]:
        batch = []
        for _ in range(self.rng.choice((1, 1, 2, 3))):
            batch.append(
                {
                    "id": f"s{self.number}-{self.sequence}",
                    "event": self.rng.choice(("opened", "closed")),
                    "joint": self.rng.choice(self.joints),
                    "client": f"screen{self.number}",
                    "sequence": self.sequence,
                    "at": "2026-03-02T09:31:07.250Z",
                }
            )
            self.sequence += 1
        return batch

    def _send(
        self, connection: http.client.HTTPConnection, batch: list[dict[str, Any]]
    ) -> list[str]:
        headers = {"Authorization": f"Bearer {self.token}", "Content-Type": "application/json"}
        body = json.dumps({"events": batch})
        connection.request("POST", f"/api/runs/{self.run_key}/events", body, headers)
        response = connection.getresponse()
        content = response.read()
        if response.status != 200:
            self._note_refusal(f"{response.status} {content.decode('utf-8', 'replace')[:300]}")
            return []
        return [str(each) for each in json.loads(content)["accepted"]]


def make_jobs() -> tuple[str, list[str]]:
    """Units with jobs to work on, in the installation that Django knows; returns a token and joints."""
    from importlib import resources

    from lastscrew.bench.access.gate import person_at_this_machine
    from lastscrew.bench.access.tokens import make_token
    from lastscrew.bench.depot.events import RevisionPublished, TakenIn
    from lastscrew.bench.models import Revision
    from lastscrew.bench.store.adding import add_depot_event, add_run_events, take_in
    from lastscrew.device.reading import load_device
    from lastscrew.run.events import Event, Started

    text = resources.files("lastscrew.demo").joinpath("slate.device.yaml").read_text("utf-8")
    device = load_device(text, "slate")
    Revision.objects.create(
        revision=device.revision_hash, device=device.id, name=device.name, text=text, made_ms=0
    )
    published = RevisionPublished(device=device.id, revision=device.revision_hash)
    add_depot_event("", published, by="bench")
    for number in range(RUNS):
        take_in(f"unit{number}", TakenIn(number=1, device=device.id), by="bench")
        first = Started(device=device.id, revision=device.revision_hash)
        event = Event(id=f"started{number}", what=first)
        add_run_events(f"killed{number}", [event], by="bench", unit=f"unit{number}")
    token = make_token("killed", ["runs:write"], person_at_this_machine())
    return token, sorted(device.joints)


def kill_often(
    config: Config, kills: int, *, seed: int = 1, check_every: int = 50, most_ms: float = 80
) -> Report:
    """Kill the server so often and look at what is left.

    Args:
        config: An installation that is up to date and empty; Django knows it.
        kills: How often.
        seed: Of the moments.
        check_every: Look at everything after so many kills, and at the end.
        most_ms: Longest time that a server lives after its first answer.
    """
    from django.db import connections

    token, joints = make_jobs()
    connections.close_all()
    report, rng = Report(), random.Random(seed)
    server = Server(config)
    screens = [Screen(number, server, token, joints) for number in range(SCREENS)]
    try:
        server.start()
        for screen in screens:
            screen.start()
        for _ in range(kills):
            if rng.random() < 0.8:  # the others die before or while they answer for the first time
                _wait_for_an_answer(screens)
            time.sleep(rng.uniform(0, most_ms) / 1000)
            server.kill()
            report.kills += 1
            if report.kills % check_every == 0:
                # Nobody serves now: what is there is what the killed one left.
                look(screens, report)
            if report.faults:
                break
            server.start()
        time.sleep(0.3)
    finally:
        for screen in screens:
            screen.stopping.set()
        server.kill()
        server.close()
    for screen in screens:
        screen.join(30)
    report.acknowledged = sum(len(screen.acknowledged) for screen in screens)
    report.resent = sum(screen.resent for screen in screens)
    look(screens, report, thoroughly=True)
    return report


def _wait_for_an_answer(screens: list[Screen]) -> None:
    """Wait until anything more was acknowledged, two seconds at most."""
    before = sum(len(screen.acknowledged) for screen in screens)
    until = time.monotonic() + 2
    while time.monotonic() < until and sum(len(s.acknowledged) for s in screens) == before:
        time.sleep(0.001)


def look(screens: list[Screen], report: Report, *, thoroughly: bool = False) -> None:
    """Whether what must hold holds; what does not is told in the report."""
    from django.db import connection, connections
    from django.db.models import Count, Max

    from lastscrew.bench.models import Run, StoredEvent
    from lastscrew.bench.store.rebuilding import rebuild

    for screen in screens:
        acknowledged = list(screen.acknowledged)
        there = set(
            StoredEvent.objects.filter(client=f"screen{screen.number}").values_list(
                "key", flat=True
            )
        )
        if gone := [key for key in acknowledged if key not in there]:
            report.faults.append(f"acknowledged and gone: {gone[:5]}")
        if screen.refused:
            report.faults.append(f"refused: {screen.refused}")
    found = (
        StoredEvent.objects.exclude(run="")
        .values("run")
        .annotate(n=Count("pk"), last=Max("number"))
    )
    versions = dict(Run.objects.values_list("key", "version"))
    for row in found.order_by("run"):
        if not row["n"] == row["last"] == versions[row["run"]]:
            report.faults.append(f"a torn job: {row}, its row says {versions[row['run']]}")
    if connection.vendor == "sqlite":
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA integrity_check")
            if (answer := cursor.fetchone()) != ("ok",):
                report.faults.append(f"SQLite says {answer}")
    if thoroughly and (changed := rebuild().changed):
        report.faults.append(f"not as the events say: {changed}")
    connections.close_all()


def main() -> int:
    """Kill, look, report."""
    parser = argparse.ArgumentParser(description="Kill the server at random moments under load.")
    parser.add_argument("--kills", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--check-every", type=int, default=50)
    parser.add_argument(
        "--database", default="", help="A PostgreSQL database, empty, instead of SQLite."
    )
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="lastscrew-kill-") as folder:
        config = Config(Path(folder), database=arguments.database)
        from lastscrew.bench.store.starting import prepare

        began = time.monotonic()
        with prepare(config):
            report = kill_often(
                config, arguments.kills, seed=arguments.seed, check_every=arguments.check_every
            )
        took = time.monotonic() - began
    print(
        f"{report.kills} kills in {took:.0f} s, {report.acknowledged} events acknowledged, "
        f"{report.resent} batches sent again"
    )
    for fault in report.faults:
        print(f"FAULT: {fault}")
    print("nothing lost, nothing torn" if not report.faults else f"{len(report.faults)} faults")
    return 1 if report.faults else 0


if __name__ == "__main__":
    sys.exit(main())

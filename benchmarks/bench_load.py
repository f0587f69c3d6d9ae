"""Load on the bench: many benches that send a step now and then, and pages over a depot of many years.

``python -m benchmarks.bench_load`` starts a server of its own on the loopback address with a folder of its own,
and stops it. Two parts:

* *steps*: so many benches, each a job of its own, send one step every two seconds; time until the
  acknowledgement, errors, memory of the server at the beginning and at the end.
* *pages*: with so many units, jobs and events in the database, how long the pages take.

Everything is bounded by ``--seconds`` and stops by itself.
"""

from __future__ import annotations

import argparse
import http.client
import json
import os
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from statistics import fmean, quantiles
from typing import Any

PAGES = (
    "/",
    "/?stage=gone",
    "/?q=shelf",
    "/units/{unit}/",
    "/units/{unit}/record/",
    "/units/{unit}/plan/",
    "/units/{unit}/plan/?replace=fan",
    "/find/?q={serial}",
    "/find/?q=shelf+3",
    "/take-in/",
    "/devices/",
    "/devices/larkmoor_13/",
    "/devices/larkmoor_13/history/",
    "/devices/larkmoor_13/plan/?replace=fan",
    "/stock/",
    "/depot/",
    "/runs/{run}/work/",
    "/runs/{run}/bundle.json",
    "/runs/{run}/park/",
    "/runs/{run}/prove/",
    "/api/units?limit=100",
    "/api/units?stage=gone&limit=500",
)


@dataclass(slots=True)
class Answers:
    """What one bench or one page saw: milliseconds of each answer, and what went wrong."""

    took_ms: list[float] = field(default_factory=list)
    errors: list[str] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Depot:
    """What was put into the folder before the server starts."""

    token: str
    runs: tuple[str, ...]
    steps: tuple[tuple[dict[str, Any], ...], ...]
    unit: str
    serial: str


def prepare(folder: Path, benches: int, units: int, jobs: int, events: int) -> Depot:
    """Make the database: the invented devices, one fresh job a bench, and many years of other work."""
    os.environ["LASTSCREW_DATA"] = str(folder)
    os.environ["DJANGO_SETTINGS_MODULE"] = "lastscrew.bench.settings"
    from lastscrew.bench.config import config_from
    from lastscrew.bench.store.starting import prepare as make_ready

    with make_ready(config_from(os.environ)):
        from benchmarks.bench_depot import many_years, one_job_each
        from lastscrew.bench.access.gate import person_at_this_machine
        from lastscrew.bench.access.tokens import make_token

        token = make_token("load", ["runs:write", "units:read"], person_at_this_machine())
        runs, steps = one_job_each(benches)
        unit, serial = many_years(units, jobs, events)
    return Depot(token, runs, steps, unit, serial)


def free_port() -> int:
    """A port that nobody listens on."""
    with socket.socket() as asking:
        asking.bind(("127.0.0.1", 0))
        return int(asking.getsockname()[1])


def start(folder: Path, port: int) -> subprocess.Popen[str]:
    """Start the server and wait until it says that it listens."""
    command = [sys.executable, "-m", "lastscrew", "serve", "--json", "--data", str(folder)]
    process = subprocess.Popen([*command, "--port", str(port)], stdout=subprocess.PIPE, text=True)
    assert process.stdout is not None
    for line in process.stdout:
        if line.startswith("}"):
            return process
    raise SystemExit("The server did not start.")


def memory_mib(process: subprocess.Popen[str]) -> float:
    """Resident memory of the server (Linux)."""
    for line in Path(f"/proc/{process.pid}/status").read_text().splitlines():
        if line.startswith("VmRSS:"):
            return int(line.split()[1]) / 1024
    return 0.0


def send_steps(
    depot: Depot, bench: int, port: int, every_s: float, until: float, seen: Answers
) -> None:
    """One bench: a step every so often until the time or its job is over."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=30)
    headers = {"Authorization": f"Bearer {depot.token}", "Content-Type": "application/json"}
    # Benches do not beat in time.
    time.sleep(every_s * (bench % 50) / 50)
    for step in depot.steps[bench]:
        begun = time.perf_counter()
        if begun > until:
            break
        body = json.dumps({"events": [step]})
        try:
            connection.request("POST", f"/api/runs/{depot.runs[bench]}/events", body, headers)
            answer = connection.getresponse()
            said = json.loads(answer.read())
            if answer.status != 200 or step["id"] not in said["accepted"]:
                seen.errors.append(f"{answer.status} {str(said)[:200]}")
        except OSError as error:
            seen.errors.append(str(error))
            connection.close()
        took = time.perf_counter() - begun
        seen.took_ms.append(took * 1000)
        time.sleep(max(0.0, every_s - took))
    connection.close()


def ask_pages(depot: Depot, port: int, times: int) -> dict[str, Answers]:
    """Each page so many times, one after the other."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
    found: dict[str, Answers] = {}
    for page in PAGES:
        seen = found[page] = Answers()
        for _ in range(times):
            address = page.format(unit=depot.unit, serial=depot.serial, run=depot.runs[0])
            for _hop in range(3):
                begun = time.perf_counter()
                connection.request("GET", address)
                answer = connection.getresponse()
                answer.read()
                seen.took_ms.append((time.perf_counter() - begun) * 1000)
                if answer.status != 302:
                    break
                address = answer.headers["Location"]
            if answer.status != 200:
                seen.errors.append(str(answer.status))
    connection.close()
    return found


def shares(took_ms: Sequence[float]) -> dict[str, float]:
    """Mean, median, 95 % and the slowest, in ms."""
    if len(took_ms) < 2:
        return {"mean_ms": 0.0, "median_ms": 0.0, "p95_ms": 0.0, "most_ms": 0.0}
    cuts = quantiles(took_ms, n=100, method="inclusive")
    return {
        "mean_ms": round(fmean(took_ms), 1),
        "median_ms": round(cuts[49], 1),
        "p95_ms": round(cuts[94], 1),
        "most_ms": round(max(took_ms), 1),
    }


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--benches", type=int, default=50)
    parser.add_argument(
        "--every", type=float, default=2.0, help="seconds between two steps of a bench"
    )
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--units", type=int, default=10_000)
    parser.add_argument("--jobs", type=int, default=1_000)
    parser.add_argument("--events", type=int, default=200_000)
    parser.add_argument("--page-times", type=int, default=40)
    parser.add_argument("--json", action="store_true")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="lastscrew-load-") as name:
        folder, port = Path(name), free_port()
        print("Filling the database …", file=sys.stderr)
        depot = prepare(folder, given.benches, given.units, given.jobs, given.events)
        process = start(folder, port)
        try:
            pages = ask_pages(depot, port, given.page_times)
            before = memory_mib(process)
            seen = [Answers() for _ in range(given.benches)]
            until = time.perf_counter() + given.seconds
            threads = [
                threading.Thread(
                    target=send_steps, args=(depot, at, port, given.every, until, seen[at])
                )
                for at in range(given.benches)
            ]
            for thread in threads:
                thread.start()
            third = given.seconds / 3
            time.sleep(third)
            early = memory_mib(process)
            for thread in threads:
                thread.join()
            late = memory_mib(process)
        finally:
            process.send_signal(signal.SIGTERM)
            process.wait(30)
    took = [ms for one in seen for ms in one.took_ms]
    errors = [error for one in seen for error in one.errors]
    result = {
        "steps": {
            "benches": given.benches,
            "every_s": given.every,
            "sent": len(took),
            **shares(took),
        },
        "errors": len(errors),
        "first_errors": errors[:3],
        "memory_mib": {
            "before": round(before),
            "after_a_third": round(early),
            "after": round(late),
        },
        "pages": {
            page: {**shares(answers.took_ms), "errors": len(answers.errors)}
            for page, answers in pages.items()
        },
    }
    if given.json:
        print(json.dumps(result, indent=1))
        return
    steps = shares(took)
    print(
        f"{given.benches} benches, a step every {given.every:g} s each, {len(took)} steps, {len(errors)} errors"
    )
    print(
        f"  acknowledged: median {steps['median_ms']} ms, 95 % {steps['p95_ms']} ms, slowest {steps['most_ms']} ms"
    )
    print(
        f"  memory of the server: {before:.0f} MiB before, {early:.0f} after a third, {late:.0f} after"
    )
    print(f"Pages with {given.units} units, {given.jobs} jobs, {given.events} events")
    for page, answers in pages.items():
        said = shares(answers.took_ms)
        print(
            f"  {page:40} mean {said['mean_ms']:7.1f} ms   median {said['median_ms']:7.1f} ms"
            f"   95 % {said['p95_ms']:7.1f} ms   slowest {said['most_ms']:7.1f} ms   errors {len(answers.errors)}"
        )
    for error in errors[:3]:
        print(f"  {error}")


if __name__ == "__main__":
    main()

"""``lastscrew serve`` as a real process: it starts, says how to reach it, refuses what it must."""

from __future__ import annotations

import json
import os
import signal
import socket
import ssl
import subprocess
import sys
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

SERVE = [sys.executable, "-m", "lastscrew", "serve", "--json"]


def _free_port() -> int:
    with socket.socket() as asking:
        asking.bind(("127.0.0.1", 0))
        return int(asking.getsockname()[1])


@contextmanager
def _served(data: Path, *options: str) -> Iterator[tuple[dict[str, Any], subprocess.Popen[str]]]:
    process = subprocess.Popen(
        [*SERVE, "--data", str(data), "--port", str(_free_port()), *options],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env={**os.environ, "LASTSCREW_DATABASE": ""},
    )
    assert process.stdout is not None
    assert process.stderr is not None
    lines = []
    for line in process.stdout:
        lines.append(line)
        if line.startswith("}"):
            break
    try:
        said = json.loads("".join(lines) or process.stderr.read())
        yield said, process
    finally:
        process.send_signal(signal.SIGTERM)
        process.communicate(timeout=20)


def test_it_serves_on_this_machine_without_a_login_and_stops_cleanly(tmp_path: Path) -> None:
    with _served(tmp_path) as (said, process):
        assert said["prepared"] == [f"Made a new installation in {tmp_path}."]
        with urllib.request.urlopen(said["address"] + "healthz") as answer:
            assert json.load(answer)["serves"] is True
        with urllib.request.urlopen(said["address"]) as answer:
            assert answer.status == 200
        again = subprocess.run(
            [*SERVE, "--data", str(tmp_path), "--port", str(_free_port())],
            capture_output=True,
            text=True,
            check=False,
        )
        assert again.returncode == 2
        problem = json.loads(again.stdout)["errors"][0]
        assert f"process {process.pid}" in problem["message"]
    assert process.returncode == 0


def test_on_another_address_it_is_encrypted_and_asks_for_an_account(tmp_path: Path) -> None:
    with _served(tmp_path, "--host", "0.0.0.0") as (said, _):
        port = said["address"].rsplit(":", 1)[1].strip("/")
        trusting = ssl.create_default_context(cafile=str(tmp_path / "authority" / "authority.pem"))
        with urllib.request.urlopen(f"https://localhost:{port}/", context=trusting) as answer:
            assert answer.url.endswith("/first/")
        with urllib.request.urlopen(f"https://localhost:{port}/trust/", context=trusting) as answer:
            assert said["fingerprint"] in answer.read().decode()
        assert said["first_account_code"].count("-") == 2
        # Plain HTTP is answered with the address of HTTPS and nothing else.
        with urllib.request.urlopen(f"http://127.0.0.1:{port}/", context=trusting) as answer:
            assert answer.url == f"https://127.0.0.1:{port}/first/"


def test_what_contradicts_itself_is_refused_all_at_once(tmp_path: Path) -> None:
    refused = subprocess.run(
        [*SERVE, "--data", str(tmp_path), "--cert", "a.pem", "--behind-proxy"],
        capture_output=True,
        text=True,
        check=False,
    )
    assert refused.returncode == 2
    assert [e["path"] for e in json.loads(refused.stdout)["errors"]] == ["--cert", "--behind-proxy"]


def test_a_port_in_use_is_said_without_a_trace(tmp_path: Path) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = str(taken.getsockname()[1])
        refused = subprocess.run(
            [*SERVE, "--data", str(tmp_path), "--port", port],
            capture_output=True,
            text=True,
            check=False,
        )
    assert refused.returncode == 2
    assert "can't listen" in json.loads(refused.stdout)["errors"][0]["message"]
    assert "Traceback" not in refused.stderr


def test_plain_http_behind_a_proxy_warns_where_others_reach_it_too(tmp_path: Path) -> None:
    with _served(tmp_path, "--behind-proxy", "--host", "0.0.0.0") as (said, _):
        assert "past the proxy" in said["warnings"][0]
    with _served(tmp_path, "--behind-proxy") as (said, _):
        assert "warnings" not in said

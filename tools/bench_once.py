"""Start the bench with the invented depot, fetch its health and three pages, stop it: ``bench_once.py FOLDER``."""

from __future__ import annotations

import json
import shutil
import signal
import socket
import subprocess
import sys
import urllib.request
from pathlib import Path

PAGES = ("healthz", "", "depot/", "api/units")


def main(folder: Path) -> int:
    """Exit code 0 when every page was there and the server stopped as asked."""
    shutil.rmtree(folder, ignore_errors=True)
    with socket.socket() as asking:
        asking.bind(("127.0.0.1", 0))
        port = asking.getsockname()[1]
    command = [sys.executable, "-m", "lastscrew", "serve", "--demo", "--json"]
    process = subprocess.Popen(
        [*command, "--data", str(folder), "--port", str(port)], stdout=subprocess.PIPE, text=True
    )
    assert process.stdout is not None
    try:
        said = []
        for line in process.stdout:
            said.append(line)
            if line.startswith("}"):
                break
        address = json.loads("".join(said))["address"]
        for page in PAGES:
            with urllib.request.urlopen(address + page, timeout=30) as answer:  # noqa: S310 (our own address)
                print(f"{answer.status}  {len(answer.read()):7} bytes  /{page}")
    finally:
        process.send_signal(signal.SIGTERM)
        code = process.wait(timeout=30)
    return code


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1])))

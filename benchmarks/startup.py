"""How long ``lastscrew --help`` takes, against an interpreter that does nothing.

    python -m benchmarks.startup [RUNS]

The target is a quarter of a second. Printed, not asserted: time is the machine's.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import time

TARGET_S = 0.25
COMMANDS = {
    "an empty Python": ["-c", "pass"],
    "lastscrew --help": ["-m", "lastscrew", "--help"],
    "lastscrew plan --help": ["-m", "lastscrew", "plan", "--help"],
}


def seconds_of(arguments: list[str]) -> float:
    """Wall seconds of one run of the interpreter."""
    start = time.perf_counter()
    subprocess.run([sys.executable, *arguments], capture_output=True, check=False)
    return time.perf_counter() - start


def main() -> None:
    """Print median and worst of each command."""
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 20
    print(f"{runs} runs each, milliseconds; the target for --help is {TARGET_S * 1000:.0f}")
    print(f"{'':24}{'median':>8}{'worst':>8}")
    for name, arguments in COMMANDS.items():
        seconds_of(arguments)  # the first run fills the disk's cache
        times_ms = [seconds_of(arguments) * 1000 for _ in range(runs)]
        print(f"{name:24}{statistics.median(times_ms):8.0f}{max(times_ms):8.0f}")


if __name__ == "__main__":
    main()

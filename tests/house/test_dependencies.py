"""What is installed is pinned, with hashes, and agrees with what the package asks for."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
PIN = re.compile(r"^([a-z0-9-]+)==([^ ]+)(?: ; [^\\]+)? \\$")
LOCKS = ["run", "dev", "oldest"]


def pins(lock: str) -> dict[str, set[str]]:
    """Names and versions in a lock file."""
    found: dict[str, set[str]] = {}
    for line in (ROOT / "requirements" / f"{lock}.txt").read_text(encoding="utf-8").splitlines():
        if line.startswith(" "):
            continue
        match = PIN.match(line)
        assert match, f"{lock}.txt: not a pin: {line}"
        found.setdefault(match[1], set()).add(match[2])
    return found


def without_zeros(version: str) -> str:
    """66.0 and 66 are the same release."""
    return re.sub(r"(\.0)+$", "", version)


def direct() -> dict[str, str]:
    """Direct dependencies and their oldest allowed release, less zeros at its end."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    asked: dict[str, str] = {}
    for line in project["dependencies"]:
        match = re.fullmatch(r"([a-zA-Z0-9.-]+)(?:\[[a-z]+\])?>=([0-9.]+),<[0-9.]+", line)
        assert match, f"a dependency has a lower and an upper limit: {line}"
        asked[match[1].lower().replace(".", "-")] = without_zeros(match[2])
    return asked


@pytest.mark.parametrize("lock", LOCKS)
def test_every_pin_has_a_hash(lock: str) -> None:
    """Nothing is installed whose content was not seen when it was pinned."""
    text = (ROOT / "requirements" / f"{lock}.txt").read_text(encoding="utf-8")
    blocks = re.split(r"\n(?=[a-z])", text.strip())
    assert blocks
    assert [b.splitlines()[0] for b in blocks if "--hash=sha256:" not in b] == []


@pytest.mark.parametrize("lock", LOCKS)
def test_every_direct_dependency_is_pinned(lock: str) -> None:
    """No lock lacks what the package imports."""
    assert direct().keys() <= pins(lock).keys()


def test_users_get_what_was_tested() -> None:
    """The users' lock is a part of the developers'."""
    tested = pins("dev")
    assert {name: tested.get(name) for name in pins("run")} == pins("run")


def test_the_oldest_lock_holds_the_lower_limits() -> None:
    """``make test-oldest`` really runs the oldest releases that are allowed."""
    oldest = pins("oldest")
    assert {name: {without_zeros(v) for v in oldest[name]} for name in direct()} == {
        name: {version} for name, version in direct().items()
    }

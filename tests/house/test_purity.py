"""The cores take values and give values: no file, clock, terminal or chance of their own.

Imports are held by the contracts in ``pyproject.toml``; here are the calls that need no import.
"""

from __future__ import annotations

import ast
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
SOURCE = ROOT / "src" / "lastscrew"
AT_THE_EDGE = {"__main__.py", "bench", "cli", "demo"}

BARE_CALLS = {"breakpoint", "eval", "exec", "input", "open", "print", "__import__"}
METHOD_CALLS = {
    "now", "today", "utcnow", "fromtimestamp",
    "read_text", "write_text", "read_bytes", "write_bytes", "mkdir", "unlink", "iterdir", "glob",
    "getenv", "urlopen", "urandom", "uuid1", "uuid4",
}  # fmt: skip


def pure_modules() -> list[Path]:
    """Files of every package that must be pure."""
    return [
        path
        for path in sorted(SOURCE.rglob("*.py"))
        if path.relative_to(SOURCE).parts[0] not in AT_THE_EDGE
    ]


def impure_calls(tree: ast.AST) -> Iterator[str]:
    """Calls in ``tree`` that read or change something outside, as ``line: name``."""
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call):
            continue
        if isinstance(node.func, ast.Name) and node.func.id in BARE_CALLS:
            yield f"{node.lineno}: {node.func.id}()"
        if isinstance(node.func, ast.Attribute) and node.func.attr in METHOD_CALLS:
            if not _is_package_data(node.func):
                yield f"{node.lineno}: .{node.func.attr}()"


def _is_package_data(call: ast.Attribute) -> bool:
    """Data that ships inside the package is part of the code, not a file of the user."""
    return any(
        isinstance(node, ast.Name) and node.id in {"files", "resources"} for node in ast.walk(call)
    )


@pytest.mark.parametrize("path", pure_modules(), ids=lambda p: str(p.relative_to(SOURCE)))
def test_a_core_calls_nothing_outside(path: Path) -> None:
    """No module of a core opens a file, prints, asks the clock or rolls dice without a seed."""
    assert list(impure_calls(ast.parse(path.read_text(encoding="utf-8")))) == []


@pytest.mark.parametrize(
    "line", ["open('x')", "print(1)", "datetime.now()", "Path('x').read_text()", "input()"]
)
def test_the_search_finds_what_it_looks_for(line: str) -> None:
    """A planted call is found, so that the test above can fail."""
    assert list(impure_calls(ast.parse(line)))


def test_package_data_may_be_read() -> None:
    """Tables that ship with a package may be read through ``importlib.resources``."""
    line = "resources.files('lastscrew.times').joinpath('t.csv').read_text(encoding='utf-8')"
    assert list(impure_calls(ast.parse(line))) == []


def test_the_contracts_name_every_pure_package() -> None:
    """A new package can't slip past the import contract."""
    config = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    purity = next(
        c for c in config["tool"]["importlinter"]["contracts"] if c["type"] == "forbidden"
    )
    packages = {
        path.relative_to(SOURCE).parts[0].removesuffix(".py") for path in pure_modules()
    } - {"__init__"}
    named = {name.removeprefix("lastscrew.") for name in purity["source_modules"]}
    assert packages == named, "name the package in pyproject.toml, in the contract on purity"

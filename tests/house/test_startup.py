"""The command line answers at once: nothing heavy is loaded before a command needs it."""

from __future__ import annotations

import json
import subprocess
import sys

import pytest

from lastscrew.cli.main import COMMANDS

LOADED_AFTER = """
import json, sys
from lastscrew.cli.main import main
try:
    main({arguments!r})
except SystemExit as end:
    code = end.code
print()
print(json.dumps([code, sorted(sys.modules)]))
"""


def loaded_by(*arguments: str) -> tuple[int, set[str]]:
    """Exit code of the program and the modules that it has loaded at its end."""
    run = subprocess.run(
        [sys.executable, "-c", LOADED_AFTER.format(arguments=list(arguments))],
        capture_output=True,
        text=True,
        check=True,
    )
    code, modules = json.loads(run.stdout.splitlines()[-1])
    return code or 0, set(modules)


def foreign(modules: set[str]) -> set[str]:
    """Top-level packages that belong neither to Python nor to the interpreter's start."""
    at_start = json.loads(
        subprocess.run(
            [sys.executable, "-c", "import json, sys; print(json.dumps(sorted(sys.modules)))"],
            capture_output=True,
            text=True,
            check=True,
        ).stdout
    )
    tops = {module.partition(".")[0] for module in modules}
    return tops - {module.partition(".")[0] for module in at_start} - set(sys.stdlib_module_names)


@pytest.mark.parametrize("arguments", [("--help",), ("--version",), ()])
def test_help_loads_click_and_nothing_else(arguments: tuple[str, ...]) -> None:
    """``lastscrew --help`` imports click and the table of commands, no other library."""
    _, modules = loaded_by(*arguments)
    assert foreign(modules) == {"click", "lastscrew"}


def test_help_loads_no_core() -> None:
    """Of our own modules only the entry point is loaded for ``--help``."""
    _, modules = loaded_by("--help")
    ours = {module for module in modules if module.partition(".")[0] == "lastscrew"}
    assert ours == {"lastscrew", "lastscrew.cli", "lastscrew.cli.main"}


def test_help_loads_no_slow_standard_modules() -> None:
    """Standard modules that take long to load or open doors to the network stay out as well."""
    _, modules = loaded_by("--help")
    assert modules.isdisjoint({"asyncio", "http.client", "sqlite3", "ssl", "unittest", "xml.dom"})


@pytest.mark.parametrize("name", COMMANDS)
def test_command_help_leaves_the_heaviest_libraries_alone(name: str) -> None:
    """The help of a command needs neither the PDF maker nor a solver or an array library."""
    code, modules = loaded_by(name, "--help")
    assert code == 0
    heavy = {"weasyprint", "numpy", "scipy", "pandas", "ortools", "networkx", "matplotlib", "PIL"}
    assert foreign(modules).isdisjoint(heavy)


def test_help_names_every_command() -> None:
    """Each command of the table is listed with its line."""
    run = subprocess.run(
        [sys.executable, "-m", "lastscrew", "--help"], capture_output=True, text=True, check=True
    )
    for name, line in COMMANDS.items():
        assert name in run.stdout
        assert line.split()[0] in run.stdout

"""Write the generated passages of the documents anew, or say which ones are out of date.

    python -m tools.docs            write them
    python -m tools.docs --check    change nothing; exit 1 if a passage is out of date

Two kinds of passage are generated: the options of each command in ``docs/commands.md`` (between
``<!-- options: NAME -->`` and ``<!-- end -->``), from the command itself; and the answers in every
block of ``README.md`` and ``docs/*.md`` that is fenced as ``console``, by running its ``$`` lines.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tempfile
from importlib import import_module
from pathlib import Path

import click

from lastscrew.cli.main import COMMANDS

ROOT = Path(__file__).resolve().parents[1]
COMMANDS_PAGE = ROOT / "docs" / "commands.md"
OPTIONS = re.compile(r"(<!-- options: ([a-z-]+) -->\n).*?(<!-- end -->)", re.DOTALL)
SESSION = re.compile(r"(```console\n)(.*?)(```)", re.DOTALL)
SESSION_COLUMNS = 96


def command_of(name: str) -> click.Command:
    """The click command of one row of the table of commands."""
    command = import_module(f"lastscrew.cli.{name.replace('-', '_')}").command
    assert isinstance(command, click.Command)
    return command


def value_of(option: click.Option) -> str:
    """What stands after an option: its metavar, its choices, or nothing for a flag."""
    if option.is_flag:
        return ""
    if option.metavar:
        return f" {option.metavar}"
    if isinstance(option.type, click.Choice):
        return " " + "|".join(str(choice) for choice in option.type.choices)
    return f" {option.type.name.upper()}"


def argument_of(argument: click.Argument) -> str:
    """An argument as it stands in a line of usage: in brackets if it may be missing."""
    name = str(argument.metavar or argument.name).upper().strip("[].…")
    shown = name + ("…" if argument.nargs == -1 else "")
    return shown if argument.required else f"[{shown}]"


def options_table(name: str) -> str:
    """Usage line and options of a command, as Markdown; the same for every version of click."""
    command = command_of(name)
    arguments = [argument_of(p) for p in command.params if isinstance(p, click.Argument)]
    lines = [f"`lastscrew {' '.join([name, '[OPTIONS]', *arguments])}`", ""]
    lines += ["| option | what it does |", "|---|---|"]
    for option in command.params:
        if not isinstance(option, click.Option) or option.hidden:
            continue
        names = ", ".join(f"`{spelt}{value_of(option)}`" for spelt in option.opts)
        names = names.replace("|", "\\|")
        assert option.help, f"{name}: {option.name} has no help"
        text = option.help
        if option.show_default and option.default is not None:
            text += f" Default: {option.default}."
        lines.append(f"| {names} | {text.replace('|', chr(92) + '|')} |")
    return "\n".join(lines) + "\n"


def with_options(page: str) -> str:
    """``docs/commands.md`` with every table of options as it should be."""
    return OPTIONS.sub(lambda m: m[1] + "\n" + options_table(m[2]) + "\n" + m[3], page)


def run_session(session: str) -> str:
    """A console block with the answers that its commands give now.

    All commands of a block run in one empty folder, in order. A command that fails shows what it
    printed, and its exit code on a line of its own.
    """
    shown: list[str] = []
    environment = {
        "PATH": f"{Path(sys.executable).parent}{os.pathsep}{os.environ.get('PATH', '')}",
        "COLUMNS": str(SESSION_COLUMNS),
        "NO_COLOR": "1",
        "LC_ALL": "C.UTF-8",
        "PYTHONUTF8": "1",
    }
    with tempfile.TemporaryDirectory() as folder:
        for line in session.splitlines():
            if not line.startswith("$ "):
                continue
            run = subprocess.run(
                ["/bin/sh", "-c", line[2:]],
                cwd=folder,
                env=environment,
                stdin=subprocess.DEVNULL,
                stdout=subprocess.PIPE,
                stderr=subprocess.STDOUT,
                check=False,
            )
            answer = run.stdout.decode("utf-8")
            if "Traceback (most recent call last)" in answer:
                message = f"{line} broke down:\n{answer}"
                raise RuntimeError(message)
            shown.append(line)
            shown += [text.rstrip() for text in answer.splitlines()]
            if run.returncode:
                shown.append(f"(exit code {run.returncode})")
    return "\n".join(shown) + "\n"


def with_sessions(page: str) -> str:
    """A page with every console block run anew."""
    return SESSION.sub(lambda m: m[1] + run_session(m[2]) + m[3], page)


def pages() -> list[Path]:
    """Documents that may hold generated passages."""
    return [ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md"))]


def renewed(path: Path) -> str:
    """A page as it should be."""
    page = path.read_text(encoding="utf-8")
    if path == COMMANDS_PAGE:
        for name, line in COMMANDS.items():
            if f"<!-- options: {name} -->" not in page:
                page += f"\n## {name}\n\n{line}\n\n<!-- options: {name} -->\n<!-- end -->\n"
        page = with_options(page)
    return with_sessions(page)


def main() -> None:
    """Write or check all pages."""
    only_check = "--check" in sys.argv[1:]
    stale = []
    for path in pages():
        page = renewed(path)
        if page == path.read_text(encoding="utf-8"):
            continue
        stale.append(path.relative_to(ROOT))
        if not only_check:
            path.write_text(page, encoding="utf-8")
    for name in stale:
        print(f"{'out of date' if only_check else 'written'}: {name}")
    if only_check and stale:
        print("Run: make docs")
        sys.exit(1)


if __name__ == "__main__":
    main()

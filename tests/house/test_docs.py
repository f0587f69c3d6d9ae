"""The documents are true: every command and option has its place, answers are real, links lead somewhere."""

from __future__ import annotations

import difflib
import re
from pathlib import Path

import click
import pytest

from lastscrew.cli.main import COMMANDS
from lastscrew.device.reading import read_device
from tools.docs import command_of, pages, renewed

ROOT = Path(__file__).resolve().parents[2]
DOCUMENTS = sorted([*ROOT.glob("*.md"), *(ROOT / "docs").glob("**/*.md")])
LINK = re.compile(r"(?<!!)\[[^\]]*\]\(([^)\s]+)\)")
PASSAGE = re.compile(r"<!-- options: ([a-z-]+) -->\n(.*?)<!-- end -->", re.DOTALL)


def name_of(path: Path) -> str:
    """Path from the root, for test names."""
    return str(path.relative_to(ROOT))


def anchor(heading: str) -> str:
    """The anchor that a Markdown viewer makes of a heading."""
    kept = re.sub(r"[^\w\- ]", "", heading.strip().lower())
    return kept.replace(" ", "-")


def anchors(path: Path) -> set[str]:
    """All anchors of a document."""
    text = re.sub(r"```.*?```", "", path.read_text(encoding="utf-8"), flags=re.DOTALL)
    return {anchor(match) for match in re.findall(r"^#+ (.+)$", text, flags=re.MULTILINE)}


@pytest.mark.parametrize("page", pages(), ids=name_of)
def test_generated_passages_are_up_to_date(page: Path) -> None:
    """Options and answers stand in the documents as the program gives them now (else: make docs)."""
    there, now = page.read_text(encoding="utf-8"), renewed(page)
    difference = difflib.unified_diff(there.splitlines(), now.splitlines(), "there", "now", n=1)
    assert there == now, "run `make docs`:\n" + "\n".join(difference)


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_its_heading(name: str) -> None:
    """Each command has a section of its own on the page of commands, with more than its options."""
    page = (ROOT / "docs" / "commands.md").read_text(encoding="utf-8")
    sections = dict(re.findall(r"^## (\S+)\n(.*?)(?=^## |\Z)", page, re.MULTILINE | re.DOTALL))
    assert name in sections
    prose = PASSAGE.sub("", re.sub(r"```.*?```", "", sections[name], flags=re.DOTALL))
    assert len(prose.split()) >= 15, f"say in a few sentences what {name} is for"


@pytest.mark.parametrize("name", COMMANDS)
def test_every_option_is_documented(name: str) -> None:
    """Each spelling of each option of a command stands in its table."""
    tables = dict(PASSAGE.findall((ROOT / "docs" / "commands.md").read_text(encoding="utf-8")))
    for option in command_of(name).params:
        if isinstance(option, click.Option) and not option.hidden:
            for spelling in option.opts:
                assert f"`{spelling}" in tables[name]


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_speaks_json(name: str) -> None:
    """``--json`` is everywhere."""
    options = [spelling for option in command_of(name).params for spelling in option.opts]
    assert "--json" in options


def test_no_heading_without_a_command() -> None:
    """A command that is gone leaves no section behind, and none has two."""
    page = (ROOT / "docs" / "commands.md").read_text(encoding="utf-8")
    assert sorted(re.findall(r"^## (\S+)$", page, re.MULTILINE)) == sorted(COMMANDS)


def test_every_setting_is_documented() -> None:
    """Each environment variable that the program reads stands in the documents."""
    source = "\n".join(
        path.read_text(encoding="utf-8") for path in (ROOT / "src" / "lastscrew").rglob("*.py")
    )
    read = set(re.findall(r"""environ(?:\.get\(|\[)["']([A-Z_]+)["']""", source)) - {"TERM"}
    read |= set(re.findall(r"""= ["'](LASTSCREW_[A-Z_]+)["']""", source))
    documents = "\n".join(path.read_text(encoding="utf-8") for path in DOCUMENTS)
    assert {name for name in read if name not in documents} == set()


@pytest.mark.parametrize("path", DOCUMENTS, ids=name_of)
def test_links_lead_somewhere(path: Path) -> None:
    """Links inside the repository point to files and headings that exist."""
    text = re.sub(r"```.*?```", "", path.read_text(encoding="utf-8"), flags=re.DOTALL)
    for link in LINK.findall(text):
        if link.startswith(("https://", "mailto:")):
            continue
        target, _, heading = link.partition("#")
        file = (path.parent / target).resolve() if target else path
        assert file.exists(), link
        if heading:
            assert heading in anchors(file), link


@pytest.mark.parametrize("path", DOCUMENTS, ids=name_of)
def test_make_targets_exist(path: Path) -> None:
    """What the documents tell people to make can be made."""
    makefile = (ROOT / "Makefile").read_text(encoding="utf-8")
    targets = set(re.findall(r"^([a-z-]+):", makefile, re.MULTILINE))
    text = path.read_text(encoding="utf-8")
    commands = re.findall(r"^make ([a-z -]+?)(?= *(?:#|PYTEST_ARGS|$))", text, re.MULTILINE)
    commands += re.findall(r"`make ([a-z -]+?)[ `]", text)
    named = {target for command in commands for target in command.split()}
    assert named <= targets


def test_the_first_device_file_of_the_readme_is_a_good_one() -> None:
    """The example that people will copy has neither error nor warning."""
    (example,) = re.findall(
        r"```yaml\n(.*?)```", (ROOT / "README.md").read_text("utf-8"), re.DOTALL
    )
    assert read_device(example).problems == ()


def test_the_readme_says_what_the_job_is_first() -> None:
    """One paragraph on what it does comes before anything else."""
    paragraphs = (ROOT / "README.md").read_text(encoding="utf-8").split("\n\n")
    assert paragraphs[0].startswith("# ")
    assert len(paragraphs[2].split()) > 60
    assert "technician" in paragraphs[2]

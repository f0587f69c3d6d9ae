"""The command: which input is which, exit codes, JSON, the page, and codes that the documents know."""

from __future__ import annotations

import json
import re
from html.parser import HTMLParser
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from lastscrew.audit.findings import RULES, SEVERITIES, Finding, counts, ordered, reaches
from lastscrew.cli.main import main
from tests.audit.test_device_files import SOUND
from tests.audit.texts import MANUAL, planted

ROOT = Path(__file__).resolve().parents[2]
FAULTY = planted(MANUAL, "Install the eight M2x5", "Install the seven M2x5")
SILENT = planted(MANUAL, "1. Apply new thermal paste to the processor.\n", "")


def run(*arguments: str, text: str | None = None) -> Result:
    """The command, as from a shell."""
    return CliRunner().invoke(main, ["audit", *arguments], input=text, env={"COLUMNS": "80"})


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """One text with an error, one with a warning, one sound text, one sound device file."""
    for name, text in (
        ("faulty.txt", FAULTY),
        ("silent.txt", SILENT),
        ("sound.txt", MANUAL),
        ("lamp.device.yaml", SOUND),
    ):
        (tmp_path / name).write_text(text, encoding="utf-8")
    return tmp_path


def test_several_inputs_are_grouped_by_file_with_line_and_source(folder: Path) -> None:
    """Each finding shows its line of the source, why, and what to do."""
    result = run(str(folder / "faulty.txt"), str(folder / "lamp.device.yaml"))
    assert result.exit_code == 1
    line = FAULTY[: FAULTY.index("Install the seven")].count("\n") + 1
    assert f"line {line}: error: count_differs" in result.output
    assert "| 2. Install the seven M2x5 screws" in result.output
    assert "Remedy: Count them" in result.output
    assert "1 error, 0 warnings, 0 notes." in result.output
    assert result.output.rstrip().endswith("lamp.device.yaml\n\n  Nothing found.")
    told = [line for line in result.output.splitlines() if not line.startswith(str(folder))]
    assert max(map(len, told)) <= 80


@pytest.mark.parametrize(
    ("name", "grade", "code"),
    [
        ("sound.txt", "note", 0), ("lamp.device.yaml", "note", 0),
        ("faulty.txt", "error", 1), ("silent.txt", "error", 0), ("silent.txt", "warning", 1), ("silent.txt", "note", 1),
    ],
)  # fmt: skip
def test_the_exit_code_follows_the_chosen_grade(
    folder: Path, name: str, grade: str, code: int
) -> None:
    """Exit code 1 from the chosen grade on, 0 below it."""
    assert run(str(folder / name), "--fail-on", grade).exit_code == code


def test_an_input_that_cannot_be_read_is_exit_2_and_the_others_are_told(folder: Path) -> None:
    """One bad input does not silence the others; it decides the exit code."""
    (folder / "bad.device.yaml").write_text("format: 1\nparts: {a: {}}\n", encoding="utf-8")
    (folder / "empty.txt").write_text("", encoding="utf-8")
    names = ["faulty.txt", "bad.device.yaml", "empty.txt", "missing.txt"]
    result = run(*(str(folder / name) for name in names), "--json")
    assert result.exit_code == 2
    told = json.loads(result.stdout)
    assert [Path(entry["file"]).name for entry in told["files"]] == ["faulty.txt"]
    assert {Path(p["file"]).name for p in told["errors"]} == {
        "bad.device.yaml",
        "empty.txt",
        "missing.txt",
    }
    assert "Traceback" not in result.output


def test_json_has_one_shape(folder: Path) -> None:
    """Every finding with all its keys; counts for each file and over all."""
    told = json.loads(run(str(folder / "faulty.txt"), str(folder / "silent.txt"), "--json").stdout)
    assert told["counts"] == {"error": 1, "warning": 1, "note": 0}
    assert told["errors"] == []
    for entry in told["files"]:
        assert entry["kind"] == "text"
        for finding in entry["findings"]:
            assert list(finding) == [
                "code", "severity", "file", "line", "column", "path", "text", "remedy", "also",
            ]  # fmt: skip


@pytest.mark.parametrize(
    ("name", "text", "kind"),
    [
        ("x", SOUND, "device file"), ("x.yml", SOUND, "device file"), ("x", MANUAL, "text"), ("x.md", MANUAL, "text"),
        ("x", "Format: A4\n\n" + MANUAL, "text"),
    ],
)  # fmt: skip
def test_device_files_and_texts_are_told_apart(
    tmp_path: Path, name: str, text: str, kind: str
) -> None:
    """By the ending, else by what the file says."""
    (tmp_path / name).write_text(text, encoding="utf-8")
    told = json.loads(run(str(tmp_path / name), "--json").stdout)
    assert [entry["kind"] for entry in told["files"]] == [kind]


def test_standard_input_is_audited_too() -> None:
    """A lone minus."""
    assert run("-", text=FAULTY).exit_code == 1
    assert run("-", text=SOUND).exit_code == 0


class _Page(HTMLParser):
    """Tags, references and text of a page."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.links: list[str] = []
        self.ids: list[str] = []
        self.words = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        for key, value in attrs:
            if key in ("src", "href") and value:
                self.links.append(value)
            if key == "id" and value:
                self.ids.append(value)

    def handle_data(self, data: str) -> None:
        self.words += data


def test_the_page_stands_alone_and_is_escaped(tmp_path: Path) -> None:
    """No script, nothing from elsewhere; what a text says is shown, never obeyed."""
    end = "screws that secure the bottom cover to the chassis.\n\n2 Battery"
    nasty = planted(FAULTY, end, end.replace(".\n", '. <script>alert("1")</script>\n', 1))
    (tmp_path / "<b>&.txt").write_text(nasty, encoding="utf-8")
    target = tmp_path / "report.html"
    assert run(str(tmp_path / "<b>&.txt"), "--report", str(target)).exit_code == 1
    text = target.read_text(encoding="utf-8")
    page = _Page()
    page.feed(text)
    assert "script" not in page.tags
    assert "b" not in page.tags or "<b>&" not in text
    assert page.links == ["#file-1"]
    assert page.ids == ["file-1"]
    assert '<script>alert("1")' in page.words
    assert 'lang="en"' in text
    assert "prefers-color-scheme: dark" in text
    assert "@media print" in text
    assert page.tags.count("h1") == 1


def test_comparing_takes_two_of_a_kind(folder: Path) -> None:
    """Two revisions of a text or of a file; a text and a file can't be compared."""
    text, other, lamp = (
        str(folder / name) for name in ("sound.txt", "faulty.txt", "lamp.device.yaml")
    )
    same = run("--compare", text, other)
    assert (same.exit_code, "number 8 → 7" in same.output) == (0, True)
    assert json.loads(run("--compare", lamp, lamp, "--json").stdout)["changes"] == []
    assert run("--compare", text, lamp).exit_code == 2
    assert run("--compare", text).exit_code == 2


def test_the_page_of_a_comparison(folder: Path) -> None:
    """The same make of page."""
    target = folder / "differs.html"
    run("--compare", str(folder / "sound.txt"), str(folder / "faulty.txt"), "--report", str(target))
    assert "number 8 → 7" in target.read_text(encoding="utf-8")


# --- codes ------------------------------------------------------------------------------------------


def test_the_document_lists_every_code_with_its_grades() -> None:
    """One table for all: what the program can say is what docs/audit.md says, word by word."""
    page = (ROOT / "docs" / "audit.md").read_text(encoding="utf-8")
    rows = re.findall(r"^\| `(\w+)` \| ([\w, ]+) \| (.+) \|$", page, re.MULTILINE)
    assert rows == [(r.code, ", ".join(r.grades), r.title) for r in RULES.values()]


def test_every_code_is_raised_somewhere_and_no_other() -> None:
    """The table and the rules name the same codes."""
    source = "\n".join(
        path.read_text(encoding="utf-8")
        for package in ("audit", "reading")
        for path in (ROOT / "src" / "lastscrew" / package).glob("*.py")
        if path.name != "findings.py"
    )
    assert {code for code in RULES if f'"{code}"' not in source} == set()
    made = set(re.findall(r'(?:Finding|notebook\.note)\(\s*"(\w+)"', source))
    assert made - set(RULES) == set()


def test_findings_are_ordered_by_place_and_counted_by_grade() -> None:
    """The order does not hang on the order in which the rules ran; twins are told once."""
    some = [
        Finding("two_names", grade, line, "t", "r", "f") for grade in SEVERITIES for line in (9, 2)
    ]
    assert ordered([*some, *some]) == ordered(reversed(some))
    assert [f.line for f in ordered(some)] == [2, 2, 2, 9, 9, 9]
    assert counts(some) == {"error": 2, "warning": 2, "note": 2}
    assert reaches(some, "error")
    assert not reaches([f for f in some if f.severity == "note"], "warning")

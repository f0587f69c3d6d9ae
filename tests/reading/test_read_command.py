"""``lastscrew read`` as a user runs it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from lastscrew.cli.read import command

SAMPLE = "Removing the lid\n\n1. Remove the four screws.\n2. Lift the lid off the chassis.\n"


def run(*arguments: str, text: str | bytes | None = None) -> Result:
    return CliRunner().invoke(command, list(arguments), input=text)


def test_json_has_the_agreed_shape() -> None:
    result = run("-", "--json", text=SAMPLE)
    assert result.exit_code == 0
    data = json.loads(result.stdout)
    assert set(data) == {"procedures", "lines", "findings", "questions"}
    procedure = data["procedures"][0]
    assert (procedure["part"], procedure["kind"], procedure["line"]) == ("lid", "removal", 1)
    action = procedure["steps"][0]["actions"][0]
    assert (action["class"], action["count"], action["fastener"]) == ("remove", 4, "screw")
    assert "" not in action.values()
    assert data["lines"][2] == {"line": 3, "state": "used"}


def test_the_report_shows_the_source_beside_what_was_made_of_it() -> None:
    result = run("-", text=SAMPLE)
    assert result.exit_code == 0
    assert "Remove the four screws" in result.stdout
    assert "×4" in result.stdout or "x4" in result.stdout


@pytest.mark.parametrize("columns", ["40", "100"])
def test_no_line_is_wider_than_the_terminal(columns: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    result = run("-", "--all", text=SAMPLE)
    assert max(len(line) for line in result.stdout.splitlines()) <= int(columns)


def test_the_extracted_text_is_what_line_numbers_refer_to() -> None:
    assert run("-", "--text", text=SAMPLE).stdout == SAMPLE


def test_a_draft_is_written_and_valid(tmp_path: Path) -> None:
    source = tmp_path / "lid.txt"
    source.write_text(SAMPLE, encoding="utf-8")
    target = tmp_path / "lid.device.yaml"
    result = run(str(source), "-o", str(target))
    assert result.exit_code == 0, result.output
    assert "Open questions" in result.stdout
    assert "format: 1" in target.read_text(encoding="utf-8")


def test_html_report_escapes_what_it_shows(tmp_path: Path) -> None:
    target = tmp_path / "report.html"
    result = run("-", "--report", str(target), text=SAMPLE + "3. Remove the <script> screw.\n")
    assert result.exit_code == 0
    page = target.read_text(encoding="utf-8")
    assert "&lt;script&gt;" in page
    assert "<script>" not in page


def test_exit_codes(tmp_path: Path) -> None:
    assert run("-", text="Nothing to see.\n").exit_code == 1
    assert run("-", text="").exit_code == 2
    assert run(str(tmp_path / "missing.txt")).exit_code == 2
    failed = run("-", "--json", text="")
    assert json.loads(failed.stdout)["errors"][0]["code"] == "empty"


def test_own_words_extend_the_lexicon(tmp_path: Path) -> None:
    words = tmp_path / "words.toml"
    words.write_text(
        '[verbs.degrommet]\nclass = "release"\n[nouns]\nclip = ["wimble"]\n', encoding="utf-8"
    )
    text = "Removing the lid\n\n1. Degrommet the wimble.\n"
    plain = json.loads(run("-", "--json", text=text).stdout)
    own = json.loads(run("-", "--json", "--words", str(words), text=text).stdout)
    assert plain["procedures"] == []
    assert own["procedures"][0]["steps"][0]["actions"][0]["class"] == "release"


@pytest.mark.parametrize(
    ("words", "message"),
    [
        ("{bad", "no TOML"),
        ('[verbs.x]\nclass = "fly"\n', "no class"),
        ("[colour]\na = 1\n", "no table"),
        ('[nouns]\nclipp = ["wimble"]\n', "Did you mean clip?"),
        ('[nouns]\nclip = "wimble"\n', "w.toml: nouns.clip: error: It is no list of words"),
    ],
)
def test_wrong_own_words_are_refused(tmp_path: Path, words: str, message: str) -> None:
    path = tmp_path / "w.toml"
    path.write_text(words, encoding="utf-8")
    result = run("-", "--words", str(path), text=SAMPLE)
    assert result.exit_code == 2
    assert message in result.stderr


def test_all_that_is_wrong_with_own_words_is_told_at_once(tmp_path: Path) -> None:
    """With the name of each file: a misspelt group would else go unheard."""
    one, other = tmp_path / "one.toml", tmp_path / "other.toml"
    one.write_text('[verbs.x]\nclass = "fly"\n[nouns]\nclipp = ["y"]\n', encoding="utf-8")
    other.write_text("{bad", encoding="utf-8")
    result = run("-", "--words", str(one), "--words", str(other), text=SAMPLE)
    for place in ("one.toml: nouns.clipp", "one.toml: verbs.x", "other.toml: error"):
        assert place in result.stderr


@pytest.mark.parametrize("option", ["--words", "--answers"])
def test_own_files_that_are_no_utf8_are_refused(tmp_path: Path, option: str) -> None:
    """As an editor saves them: with a mark of byte order they are read, in another encoding they are told."""
    path = tmp_path / "own.txt"
    path.write_bytes("# Gehäuse\n".encode("cp1252"))
    refused = run("-", option, str(path), "-o", "-", text=SAMPLE)
    assert refused.exit_code == 2
    assert "own.txt:1: error: It is not UTF-8." in refused.stderr
    path.write_bytes("# Gehäuse\n".encode("utf-8-sig"))
    assert run("-", option, str(path), "-o", "-", text=SAMPLE).exit_code == 0

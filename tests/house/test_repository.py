"""What must not stand in any file that is kept: one machine's paths, hosts, giants, secrets."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
MAX_LINES = 700
BIG_FILE_MARKER = "long because:"

# Spelt in pieces, so that this file does not hold what it looks for.
# At the beginning of a path only: an address of the application, or a folder of ours, may end on such a word.
_FOLDERS = [
    "wo" + "rk",
    "fa" + "rm",
    "ro" + "ot",
    "ho" + "me/[a-z]",
    "tm" + "p/[a-z]",
    "op" + "t/[a-z]",
]
MACHINE_PATH = re.compile("(?<![A-Za-z0-9_}>*])/(?:" + "|".join(_FOLDERS) + ")/")
REGISTRY_HOST = re.compile(
    "|".join(
        re.escape(host)
        for host in [
            "py" + "pi.org", "python" + "hosted.org", "deb." + "debian.org", "npm" + "js.org",
            "npm" + "js.com", "cr" + "ates.io", "proxy.go" + "lang.org", "extra-" + "index-url",
        ]
    )
)  # fmt: skip
PRIVATE_TEXT = re.compile("DE" + r"SIGN(?:\.md| §)|\bissues? ?#?\d+\b")


def tracked() -> list[Path]:
    """Every text file under version control."""
    if shutil.which("git") is None or not (ROOT / ".git").exists():
        pytest.skip("not a checkout: there is no list of the files that are kept")
    listed = subprocess.run(
        ["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True, check=True
    ).stdout.split("\0")
    return [ROOT / name for name in listed if name and (ROOT / name).is_file()]


def text_of(path: Path) -> str:
    """Its text, or nothing for a binary file."""
    data = path.read_bytes()
    return "" if b"\0" in data[:8192] else data.decode("utf-8", errors="replace")


def hits(pattern: re.Pattern[str], *, but: frozenset[str] = frozenset()) -> list[str]:
    """Places where ``pattern`` stands, as ``file:line: what``."""
    return [
        f"{path.relative_to(ROOT)}:{number}: {match.group()}"
        for path in tracked()
        if str(path.relative_to(ROOT)) not in but
        for number, line in enumerate(text_of(path).splitlines(), start=1)
        if (match := pattern.search(line))
    ]


def test_no_file_names_a_path_of_one_machine() -> None:
    """A clone works anywhere, so nothing points into somebody's folders."""
    assert hits(MACHINE_PATH) == []


def test_no_file_names_a_package_registry() -> None:
    """Where packages come from is the machine's affair."""
    assert hits(REGISTRY_HOST) == []


def test_no_file_cites_what_a_reader_cannot_see() -> None:
    """Code and documents stand on their own."""
    assert hits(PRIVATE_TEXT) == []


def test_no_source_file_is_a_giant() -> None:
    """A file over 700 lines says why (``long because: …``)."""
    giants = [
        f"{path.relative_to(ROOT)}: {lines} lines"
        for path in tracked()
        if path.suffix in {".py", ".sh", ".js", ".css", ".html"}
        for text in [text_of(path)]
        for lines in [text.count("\n")]
        if lines > MAX_LINES and BIG_FILE_MARKER not in text
    ]
    assert giants == []


def test_no_file_is_huge() -> None:
    """No generated or downloaded bulk is kept."""
    assert [str(path) for path in tracked() if path.stat().st_size > 1_000_000] == []


def test_scripts_can_be_run() -> None:
    """Shell scripts are executable and name their interpreter."""
    for path in [ROOT / ".ci" / "run", *sorted((ROOT / "tools").glob("*.sh"))]:
        assert path.stat().st_mode & 0o111, path
        assert path.read_text(encoding="utf-8").startswith("#!"), path


@pytest.mark.parametrize(
    ("pattern", "line"),
    [
        (MACHINE_PATH, "open('/ro" + "ot/x')"),
        (REGISTRY_HOST, "https://py" + "pi.org/simple"),
        (PRIVATE_TEXT, "see DE" + "SIGN.md, issue " + "#4"),
    ],
)
def test_the_searches_find_what_they_look_for(pattern: re.Pattern[str], line: str) -> None:
    """Planted text is found, so that the tests above can fail."""
    assert pattern.search(line)

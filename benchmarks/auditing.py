"""How many of the planted faults the audit finds, and how much else it says.

    python -m benchmarks.auditing            figures
    python -m benchmarks.auditing --show     with every finding of the texts that may be looked at

A planted fault counts as found when a finding of a fitting code names one of its lines (or the line beside it).
Of the texts that are held back only totals are shown.
"""

from __future__ import annotations

import json
import re
import sys
from pathlib import Path

from lastscrew.audit.findings import RULES, Finding
from lastscrew.audit.text import audit_reading
from lastscrew.reading import load_lexicon, read
from lastscrew.reading.sources import open_source

FOLDER = Path(__file__).parent / "reading_texts"

CODES = {
    "caution after its step": {"late_caution"},
    "cable never reconnected": {"stays_open"},
    "lock left open": {"stays_open"},
    "count differs between halves": {"count_differs"},
    "fastener out, never back": {"fastener_not_back"},
    "part removed, never refitted": {"part_not_back", "stays_open", "two_names"},
    "part refitted, never removed": {"part_not_out", "two_names"},
    "one thing under two names": {"two_names"},
    "prerequisite never named": {"cover_not_named"},
    "prerequisite names no procedure": {"unknown_prerequisite"},
}
"""Codes that fit each kind of planted fault."""


def held_back() -> set[str]:
    """Names of the texts that are for scoring only."""
    rows = (FOLDER / "README.md").read_text(encoding="utf-8").splitlines()
    return {
        m[1] for row in rows if "**held back**" in row and (m := re.match(r"\| `([^`]+)`", row))
    }


def findings_of(text: Path) -> tuple[Finding, ...]:
    """The audit of one text."""
    lexicon = load_lexicon()
    return audit_reading(read(open_source(text.read_bytes(), text.name), lexicon), lexicon)


def is_found(fault: dict[str, object], findings: tuple[Finding, ...]) -> bool:
    """True when a finding of a fitting code names a line of the fault."""
    lines = fault["lines"]
    assert isinstance(lines, list)
    near = {line + off for line in lines for off in (-1, 0, 1)}
    codes = CODES[str(fault["kind"])]
    return any(f.code in codes and near & {f.line, *f.also} for f in findings)


def main() -> None:
    """Print the figures."""
    faults = json.loads((FOLDER / "planted.json").read_text(encoding="utf-8"))
    secret = held_back()
    rows: dict[bool, list[bool]] = {False: [], True: []}
    said: dict[bool, dict[str, int]] = {False: {}, True: {}}
    for text in sorted(
        {p for ending in ("txt", "md", "html", "vtt") for p in FOLDER.glob(f"*.{ending}")}
    ):
        if text.name in ("README.md", "FIRST_RUN.md"):
            continue
        findings = findings_of(text)
        hidden = text.name in secret
        for finding in findings:
            if RULES[finding.code].subject == "procedure":
                said[hidden][finding.severity] = said[hidden].get(finding.severity, 0) + 1
            if (
                not hidden
                and "--show" in sys.argv
                and not finding.code.startswith(("long", "several"))
            ):
                print(
                    f"{text.name}:{finding.line}: {finding.severity}: {finding.code}: {finding.text}"
                )
        for fault in faults:
            if fault["text"] == text.name:
                rows[hidden].append(is_found(fault, findings))
                if not hidden:
                    print(
                        f"{'found ' if rows[hidden][-1] else 'MISSED'} {text.name}:{fault['line']} {fault['kind']}"
                    )
    for hidden, found in rows.items():
        name = "held back" if hidden else "open to all"
        print(
            f"{name}: {sum(found)} of {len(found)} planted faults found; findings on procedures: {said[hidden]}"
        )


if __name__ == "__main__":
    main()

"""The findings as a page of its own, and as the object of ``--json``."""

from __future__ import annotations

import html
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

from lastscrew.audit.changes import Change
from lastscrew.audit.findings import RULES, SEVERITIES, Finding, counts
from lastscrew.problems import Problem

SAFETY_NOTE: Final = (
    "An audit reads what is written. It does not replace the maker's instructions, local rules and "
    "trained people."
)


@dataclass(frozen=True, slots=True)
class Subject:
    """One input that was audited.

    Attributes:
        name: As the user gave it.
        kind: What it is.
        lines: Its lines, for excerpts; of the extracted text for PDF and DOCX.
        findings: What was found, by line.
    """

    name: str
    kind: Literal["device file", "text"]
    lines: tuple[str, ...]
    findings: tuple[Finding, ...]

    def line(self, number: int) -> str:
        """Text of a 1-based line, empty where there is none."""
        return self.lines[number - 1] if 1 <= number <= len(self.lines) else ""


def summary(subject: Subject) -> str:
    """How many findings of each grade, in a sentence."""
    if not subject.findings:
        return "Nothing found."
    found = counts(subject.findings)
    return ", ".join(f"{n} {grade}{'' if n == 1 else 's'}" for grade, n in found.items()) + "."


def subjects_as_json(
    subjects: Sequence[Subject], problems: Sequence[Problem] = ()
) -> dict[str, object]:
    """The object of ``--json``: every input with its findings, counts over all, inputs that can't be read."""
    every = [finding for subject in subjects for finding in subject.findings]
    return {
        "files": [
            {
                "file": subject.name,
                "kind": subject.kind,
                "counts": counts(subject.findings),
                "findings": [finding.as_json() for finding in subject.findings],
            }
            for subject in subjects
        ],
        "counts": counts(every),
        "errors": [problem.as_json() for problem in problems],
    }


MOST_SHOWN: Final = 120
"""Letters of a further line that are shown."""

# --- pages ------------------------------------------------------------------------------------------

_CSS: Final = """
:root { color-scheme: light dark; --ink: #14161a; --paper: #fff; --faint: #5c6169; --line: #c9ccd1; --soft: #f2f3f5 }
@media (prefers-color-scheme: dark) {
  :root { --ink: #eceef1; --paper: #16181c; --faint: #a3a9b2; --line: #3d4148; --soft: #22252a } }
body { font: 16px/1.5 system-ui, sans-serif; color: var(--ink); background: var(--paper); max-width: 60rem;
  margin: 2rem auto; padding: 0 1rem }
h1 { font-size: 1.5rem; overflow-wrap: anywhere } h2 { font-size: 1.2rem; margin-top: 2.5rem; overflow-wrap: anywhere }
h3 { font-size: 1rem; margin: 0 }
article { border: 1px solid var(--line); border-left-width: .4rem; padding: .6rem 1rem; margin: .8rem 0;
  break-inside: avoid }
article.error { border-left-style: double; border-left-color: var(--ink) }
article.warning { border-left-color: var(--ink) }
article.note { border-left-color: var(--line) }
.grade { font-weight: 700 }
.code, .place { color: var(--faint); font-weight: 400 }
pre { background: var(--soft); padding: .3rem .6rem; margin: .5rem 0; overflow-x: auto; white-space: pre-wrap }
p, li { overflow-wrap: anywhere } p { margin: .4rem 0 } .faint { color: var(--faint) }
table { border-collapse: collapse }
th, td { text-align: left; vertical-align: top; padding: .2rem .8rem .2rem 0; border-bottom: 1px solid var(--line) }
td.kind { white-space: nowrap } th[scope=row] { font-weight: 400; overflow-wrap: anywhere }
td.number { text-align: right; font-variant-numeric: tabular-nums }
code { font-size: .95em; overflow-wrap: anywhere }
ul.also { list-style: none; margin: .4rem 0; padding: 0; color: var(--faint); font-size: .9rem }
@media (max-width: 30rem) {
  body { margin: 1rem auto; padding: 0 .7rem } article { padding: .5rem .7rem }
  th, td { padding-right: .5rem } .kind { display: none } }
a { color: inherit }
@media print {
  :root { --ink: #000; --paper: #fff; --faint: #333 }
  body { margin: 0; max-width: none; font-size: 10pt } pre { border: 1px solid var(--line) } a { text-decoration: none }
  h2 { break-after: avoid } }
"""


def _page(title: str, body: str) -> str:
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        f"<title>{html.escape(title)}</title>"
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<style>{_CSS}</style></head>\n<body><main>\n<h1>{html.escape(title)}</h1>\n{body}\n"
        f'<p class="faint">{html.escape(SAFETY_NOTE)}</p>\n</main></body></html>\n'
    )


def html_report(subjects: Sequence[Subject]) -> str:
    """A page without scripts and without anything from elsewhere; it prints in black."""
    return _page(
        "Audit",
        _overview(subjects)
        + "".join(_section(n, s) for n, s in enumerate(subjects, 1))
        + _codes(subjects),
    )


def _overview(subjects: Sequence[Subject]) -> str:
    head = "".join(f'<th scope="col">{grade}s</th>' for grade in SEVERITIES)
    rows = []
    for number, subject in enumerate(subjects, 1):
        cells = "".join(f'<td class="number">{n}</td>' for n in counts(subject.findings).values())
        rows.append(
            f'<tr><th scope="row"><a href="#file-{number}">{html.escape(subject.name)}</a></th>'
            f'<td class="kind">{subject.kind}</td>{cells}</tr>'
        )
    return (
        f'<table><thead><tr><th scope="col">input</th><th scope="col" class="kind">kind</th>{head}</tr></thead>'
        f"<tbody>{''.join(rows)}</tbody></table>\n"
    )


def _section(number: int, subject: Subject) -> str:
    items = "".join(_article(subject, finding) for finding in subject.findings)
    return (
        f'<section><h2 id="file-{number}">{html.escape(subject.name)}</h2>\n'
        f"{items or '<p>Nothing found.</p>'}</section>\n"
    )


def _article(subject: Subject, finding: Finding) -> str:
    place = f"line {finding.line}" if finding.line else "as a whole"
    path = f" · {finding.path}" if finding.path else ""
    source = subject.line(finding.line).strip()
    excerpt = f"<pre>{html.escape(source[:400])}</pre>" if source else ""
    also = "".join(_other_line(subject, line) for line in finding.also)
    also = f'<ul class="also">{also}</ul>' if also else ""
    return (
        f'<article class="{finding.severity}"><h3><span class="grade">{finding.severity}</span> '
        f'<span class="place">{html.escape(place + path)}</span> '
        f'<span class="code">· {html.escape(finding.code)}</span></h3>{excerpt}'
        f"<p>{_prose(finding.text)}</p><p><b>Remedy:</b> {_prose(finding.remedy)}</p>{also}</article>\n"
    )


def _other_line(subject: Subject, number: int) -> str:
    """A line that belongs to a finding, with the beginning of what stands there."""
    source = subject.line(number).strip()
    shown = source if len(source) <= MOST_SHOWN else f"{source[:MOST_SHOWN].rsplit(' ', 1)[0]} …"
    return f"<li>line {number}: <code>{html.escape(shown)}</code></li>"


def _prose(text: str) -> str:
    """A sentence of a finding: names in ``*`` and keys in backquotes are set, not shown with their marks."""
    safe = html.escape(text)
    safe = re.sub(r"\*([^*<>]+)\*", r"<i>\1</i>", safe)
    return re.sub(r"`([^`<>]+)`", r"<code>\1</code>", safe)


def _codes(subjects: Sequence[Subject]) -> str:
    """What the codes that occur mean."""
    seen = {finding.code for subject in subjects for finding in subject.findings}
    rows = "".join(
        f'<tr><th scope="row">{rule.code}</th><td>{html.escape(rule.title)}</td></tr>'
        for rule in RULES.values()
        if rule.code in seen
    )
    if not rows:
        return ""
    return (
        '<section><h2>The codes</h2><table><thead><tr><th scope="col">code</th><th scope="col">what it is about'
        f"</th></tr></thead><tbody>{rows}</tbody></table></section>\n"
    )


# --- comparisons ------------------------------------------------------------------------------------


def compare_json(one: str, other: str, changes: Sequence[Change]) -> dict[str, object]:
    """The object of ``--compare --json``."""
    return {"from": one, "to": other, "changes": [change.as_json() for change in changes]}


def _place(change: Change) -> str:
    return f'<span class="place">line {change.line}:</span> ' if change.line else ""


def compare_html(one: str, other: str, changes: Sequence[Change]) -> str:
    """What differs, as a page of the same make."""
    body = f"<p>From {html.escape(one)} to {html.escape(other)}.</p>"
    abouts = dict.fromkeys(change.about for change in changes)
    for about in abouts:
        rows = "".join(f"<li>{_place(c)}{_prose(c.text)}</li>" for c in changes if c.about == about)
        body += f"<section><h2>{html.escape(about)}</h2><ul>{rows}</ul></section>\n"
    return _page("What differs", body + ("" if changes else "<p>Nothing that matters differs.</p>"))

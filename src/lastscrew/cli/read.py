"""``lastscrew read``: a written or spoken procedure, what was made of it, and a draft of a device file."""

from __future__ import annotations

import json
import sys
import time
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from lastscrew.cli.edge import edge
from lastscrew.cli.loading import load_words, read_own_text

if TYPE_CHECKING:
    from collections.abc import Iterator

    from lastscrew.reading import Reading, Source
    from lastscrew.reading.lexicon import Lexicon

NO_INSTRUCTION = (
    "No line of this text is an instruction: there is nothing to check, "
    "and nothing to draft a device file from."
)

_PROGRESS_AFTER_S = 1.0
"""A reading that takes longer than this says how far it is, where a person watches."""


@click.command(context_settings={"help_option_names": ["-h", "--help"]})
@click.argument("text", metavar="TEXT")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
@click.option(
    "--text", "as_text", is_flag=True, help="Print the extracted text, to which line numbers refer."
)
@click.option(
    "--words",
    metavar="FILE",
    multiple=True,
    help="Own words (TOML) on top of the lexicon. Repeatable.",
)
@click.option("--report", metavar="FILE", help="Write the reading report as an HTML page.")
@click.option(
    "-o",
    "--output",
    metavar="FILE",
    help="Write a draft of the device file (- for standard output).",
)
@click.option(
    "--answers",
    metavar="FILE",
    help="Answers to the open questions (YAML), kept when reading again.",
)
@click.option(
    "--keep-apart",
    metavar="A=B",
    multiple=True,
    help="Names that are not the same thing. Repeatable.",
)
@click.option(
    "--all", "show_all", is_flag=True, help="Show also the lines that are no instruction."
)
def command(
    *,
    text: str,
    as_json: bool,
    as_text: bool,
    words: tuple[str, ...],
    report: str | None,
    output: str | None,
    answers: str | None,
    keep_apart: tuple[str, ...],
    show_all: bool,
) -> None:
    """Read a service procedure: text, Markdown, HTML, PDF with text, DOCX, or a timed transcript.

    TEXT is a file, or - for standard input. Shows the source line by line beside what was made of it. With -o the
    draft of a device file is written, with a comment at every value that says where it comes from, and the open
    questions are listed. Exit code 0, 1 where there is a finding of severity error, 2 where the input can't be read.
    """
    with edge(as_json=as_json):
        _check_pairs(keep_apart)
        source, lexicon = _source(text), load_words(words)
        if as_text:
            click.echo(source.text(), nl=False)
            return
        reading = _read(source, lexicon)
        if output is not None:
            reading = _draft(reading, lexicon, output, answers, keep_apart, as_json=as_json)
        elif as_json or report is not None or answers or keep_apart:
            reading = _with_questions(reading, lexicon, answers, keep_apart)
        if report is not None:
            from lastscrew.reading.report import html_report

            Path(report).write_text(html_report(reading), encoding="utf-8")
        if as_json:
            click.echo(json.dumps(reading.as_json(), ensure_ascii=False, indent=1))
        elif output != "-":
            _show(reading, show_all=show_all)
    if any(finding.severity == "error" for finding in reading.findings):
        sys.exit(1)


def _source(path: str) -> Source:
    from lastscrew.reading.sources import open_source
    from lastscrew.reading.sources.limits import MAX_BYTES

    if path == "-":
        return open_source(sys.stdin.buffer.read(MAX_BYTES + 1), "standard input")
    with Path(path).open("rb") as file:
        return open_source(file.read(MAX_BYTES + 1), Path(path).name, _Progress("pages"))


def _read(source: Source, lexicon: Lexicon) -> Reading:
    from lastscrew.reading import read

    return read(source, lexicon, _Progress("blocks"))


class _Progress:
    """Tells on standard error how far a long reading is, where a person watches."""

    def __init__(self, what: str) -> None:
        self.what = what
        self.started = time.monotonic()
        self.told = self.started

    def __call__(self, done: int, total: int) -> None:
        now = time.monotonic()
        if now - self.started > _PROGRESS_AFTER_S and now - self.told > _PROGRESS_AFTER_S:
            self.told = now
            if sys.stderr.isatty():
                of = f" of {total}" if total else ""
                click.echo(f"\rread {done}{of} {self.what} …", err=True, nl=False)


def _draft(
    reading: Reading,
    lexicon: Lexicon,
    output: str,
    answers: str | None,
    keep_apart: tuple[str, ...],
    *,
    as_json: bool,
) -> Reading:
    from lastscrew.reading.device_draft import draft_device, read_answers

    given = read_answers(read_own_text(answers), answers) if answers else {}
    with _naming_answers(answers):
        draft = draft_device(reading, lexicon, answers=given, keep_apart=keep_apart)
    if output == "-":
        if not as_json:
            click.echo(draft.text, nl=False)
    else:
        Path(output).write_text(draft.text, encoding="utf-8")
        if not as_json:
            click.echo(f"Written: {output}")
    return draft.reading


def _check_pairs(keep_apart: tuple[str, ...]) -> None:
    from lastscrew.problems import InputError, Problem

    broken = [pair for pair in keep_apart if not all(map(str.strip, (*pair.split("=", 1), "")[:2]))]
    if broken:
        raise InputError(
            Problem(
                f"It does not name two things: {pair}.",
                'Write it such as --keep-apart "blower=fan".',
                file="--keep-apart",
                code="no_pair",
            )
            for pair in broken
        )


@contextmanager
def _naming_answers(answers: str | None) -> Iterator[None]:
    """What is wrong with an answer is told with the name of the file that holds it."""
    from lastscrew.problems import InputError

    try:
        yield
    except InputError as error:
        ours = ("answer_type", "unknown_answer")
        raise InputError(
            replace(problem, file=answers) if answers and problem.code in ours else problem
            for problem in error.problems
        ) from error


def _with_questions(
    reading: Reading, lexicon: Lexicon, answers: str | None, keep_apart: tuple[str, ...]
) -> Reading:
    """The reading with what it leaves open, as a draft would ask it; as it is where there is nothing to draft."""
    from lastscrew.problems import InputError
    from lastscrew.reading.device_draft import draft_device, read_answers

    given = read_answers(read_own_text(answers), answers) if answers else {}
    if any(finding.code == "contradiction" for finding in reading.findings):
        return reading
    try:
        with _naming_answers(answers):
            return draft_device(reading, lexicon, answers=given, keep_apart=keep_apart).reading
    except InputError as error:
        if any(problem.code != "no_joint" for problem in error.problems):
            raise
        return reading


def _show(reading: Reading, *, show_all: bool) -> None:
    from lastscrew.cli.columns import for_encoding, terminal_width, wants_colour

    colour = wants_colour()
    for line in _report_lines(reading, terminal_width(), show_all=show_all, colour=colour):
        click.echo(for_encoding(line, sys.stdout.encoding), color=colour)


def _report_lines(reading: Reading, width: int, *, show_all: bool, colour: bool) -> list[str]:
    """The source on the left, what was made of it on the right; one below the other where it is narrow."""
    from lastscrew.cli.columns import clean, pad, wrap
    from lastscrew.reading.report import (
        STATE_WORDS,
        asked_together,
        left_out_of,
        merges_of,
        rows_of,
        shares,
    )

    digits = len(str(len(reading.source.lines)))
    room = width - digits - 3
    left = room if width < 72 else (room - 3) // 2
    out: list[str] = []
    for row in rows_of(reading):
        if row.state == "other" and not show_all:
            continue
        made = [f"· {text}" for text in row.made] or [
            f"({STATE_WORDS[row.state]}{': ' + row.reason if row.reason else ''})"
        ]
        source = wrap(clean(row.text.strip()), left) or [""]
        notes = [
            piece
            for text in made
            for piece in wrap(text, room - 2 if width < 72 else room - left - 3, hang=2)
        ]
        head = f"{row.line:>{digits}}  "
        blank = " " * len(head)
        style = "\x1b[1m" if row.state in ("heading", "not_understood") and colour else ""
        end = "\x1b[0m" if style else ""
        if width < 72:
            out += [
                (head if i == 0 else blank) + style + text + end for i, text in enumerate(source)
            ]
            out += [blank + "  " + note for note in notes]
            continue
        for i in range(max(len(source), len(notes))):
            text = source[i] if i < len(source) else ""
            note = notes[i] if i < len(notes) else ""
            out.append(
                f"{head if i == 0 else blank}{style}{pad(text, left)}{end} | {note}".rstrip()
            )
    counts = shares(reading)
    out += [
        "",
        ", ".join(f"{STATE_WORDS[name]}: {count}" for name, count in counts.items() if count),
    ]
    if not (counts["used"] or counts["not_understood"]):
        out += wrap(NO_INSTRUCTION, width)
    told = [
        *(f"Mended: {repair}." for repair in reading.source.repairs),
        *(f"One thing: {merge}" for merge in merges_of(reading)),
        *(f"Left out: {circle}" for circle in left_out_of(reading)),
    ]
    for line in told:
        out += wrap(line, width, hang=2)
    if reading.questions:
        out += ["", "Open questions, most consequential first:"]
        for number, asked in enumerate(asked_together(reading.questions), 1):
            names = ", ".join(f"[{name}]" for name in asked.ids)
            question = f"{names} {asked.text}" if len(asked.ids) == 1 else f"{asked.text} {names}"
            out += wrap(f"{number}. {question}", width, hang=4)
    return out

"""``lastscrew audit``: what a careful colleague would say about procedures and device files."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from lastscrew.cli.edge import edge, json_text, report
from lastscrew.cli.loading import load_words
from lastscrew.problems import InputError, Problem

if TYPE_CHECKING:
    from collections.abc import Sequence
    from typing import Literal

    from lastscrew.audit.changes import Change
    from lastscrew.audit.findings import Severity
    from lastscrew.audit.report import Subject
    from lastscrew.reading import Reading
    from lastscrew.reading.lexicon import Lexicon

EXIT_FOUND = 1
EXIT_UNREADABLE = 2


@click.command(context_settings={"help_option_names": ["-h", "--help"]})
@click.argument("files", nargs=-1, required=True, metavar="FILE|TEXT...")
@click.option(
    "--compare", is_flag=True, help="Say what differs from the first revision to the second."
)
@click.option(
    "--fail-on",
    type=click.Choice(("error", "warning", "note", "never")),
    default="error",
    show_default=True,
    help="Exit code 1 where a finding is of this grade or a more severe one; never: only what can't be read fails.",
)
@click.option("--report", "page", metavar="FILE", help="Write the findings as an HTML page.")
@click.option(
    "--words",
    metavar="FILE",
    multiple=True,
    help="Own words (TOML) on top of the lexicon. Repeatable.",
)
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
def command(
    *,
    files: tuple[str, ...],
    compare: bool,
    fail_on: Severity | Literal["never"],
    page: str | None,
    words: tuple[str, ...],
    as_json: bool,
) -> None:
    """Audit written procedures and device files.

    FILE|TEXT is a device file or a text that `lastscrew read` reads (- for standard input); which of the two
    is told by its ending, else by what it says. Each finding has a code, a grade, its place, an explanation
    and a remedy. Exit code 0, 1 where a finding is graded as --fail-on says or more severely, 2 where an
    input can't be read.
    """
    if compare:
        _compare(files, page, words, as_json=as_json)
        return
    from lastscrew.audit.findings import reaches
    from lastscrew.audit.report import html_report, subjects_as_json

    subjects: list[Subject] = []
    problems: list[Problem] = []
    with edge(as_json=as_json):
        lexicon = load_words(words)
        for file in files:
            subject = _audited(file, lexicon, problems)
            if subject is not None:
                subjects.append(subject)
        if page is not None:
            Path(page).write_text(html_report(subjects), encoding="utf-8")
    if as_json:
        click.echo(json_text(subjects_as_json(subjects, problems)))
    else:
        _show(subjects)
        if problems:
            report(problems, as_json=False)
        if page is not None:
            click.echo(f"Written: {page}")
    if problems:
        sys.exit(EXIT_UNREADABLE)
    every = [finding for subject in subjects for finding in subject.findings]
    if fail_on != "never" and reaches(every, fail_on):
        sys.exit(EXIT_FOUND)


def _audited(file: str, lexicon: Lexicon, problems: list[Problem]) -> Subject | None:
    """One input with its findings; None where it can't be read, and then its problems are noted."""
    from lastscrew.audit.device_file import audit_device
    from lastscrew.audit.report import Subject
    from lastscrew.audit.text import audit_reading
    from lastscrew.device.reading import read_device

    try:
        data, name = _bytes(file)
        if is_device_file(data, name):
            result = read_device(data, name)
            findings = audit_device(result, name)
            assert result.source is not None
            text = result.source.text.splitlines()
            return Subject(name, "device file", tuple(text), findings)
        reading = _reading(data, name, lexicon)
        lines = tuple(line.text for line in reading.source.lines)
        return Subject(name, "text", lines, audit_reading(reading, lexicon, name))
    except InputError as error:
        problems.extend(error.problems)
    except OSError as error:
        problems.append(
            Problem(
                f"can't be read: {error.strerror or error}",
                "Check the path and its permissions.",
                file=file,
                code="unreadable",
            )
        )
    return None


def _bytes(file: str) -> tuple[bytes, str]:
    from lastscrew.cli.loading import STDIN_NAME
    from lastscrew.reading.sources.limits import MAX_BYTES

    if file == "-":
        return sys.stdin.buffer.read(MAX_BYTES + 1), STDIN_NAME
    with Path(file).open("rb") as stream:
        return stream.read(MAX_BYTES + 1), file


def is_device_file(data: bytes, name: str) -> bool:
    """True for a device file: by the ending ``.yaml`` or ``.yml``, else by a line ``format:`` and one ``parts:``.

    Args:
        data: The bytes of the file.
        name: Its name.
    """
    if name.lower().endswith((".yaml", ".yml")):
        return True
    if name.lower().endswith((".txt", ".md", ".html", ".htm", ".pdf", ".docx", ".srt", ".vtt")):
        return False
    keys = {line.split(b":")[0].strip() for line in data[:20_000].splitlines() if b":" in line[:20]}
    return b"format" in keys and bool(keys & {b"device", b"parts", b"joints"})


def _reading(data: bytes, name: str, lexicon: Lexicon) -> Reading:
    from lastscrew.reading import read
    from lastscrew.reading.sources import open_source

    return read(open_source(data, name), lexicon)


# --- showing ----------------------------------------------------------------------------------------


def _show(subjects: list[Subject]) -> None:
    from lastscrew.cli.columns import for_encoding, terminal_width, wants_colour

    colour = wants_colour()
    for line in text_lines(subjects, terminal_width(), colour=colour):
        click.echo(for_encoding(line, sys.stdout.encoding), color=colour)


def text_lines(subjects: list[Subject], width: int, *, colour: bool) -> list[str]:
    """The findings as lines for a terminal: by file, each with its place, its source line and its remedy."""
    from lastscrew.audit.report import summary
    from lastscrew.cli.columns import Line, clean, coloured, cut, wrap

    out: list[str] = []
    for subject in subjects:
        out.append(coloured(Line(clean(subject.name), "strong"), colour=colour))
        for finding in subject.findings:
            place = f"{finding.line}:{finding.column}" if finding.column else f"{finding.line}"
            head = f"line {place}: {finding.severity}: {finding.code}"
            out += [
                "",
                *(
                    coloured(Line(t, "strong"), colour=colour)
                    for t in wrap(head, width, indent=2, hang=4)
                ),
            ]
            source = subject.line(finding.line).strip()
            if source:
                out.append("    | " + cut(clean(source), max(20, width - 6)))
            out += wrap(finding.text, width, indent=4)
            out += wrap(f"Remedy: {finding.remedy}", width, indent=4, hang=6)
            if finding.also:
                lines = ", ".join(str(line) for line in finding.also)
                out += wrap(f"See also line {lines}.", width, indent=4)
        out += ["", *wrap(summary(subject), width, indent=2), ""]
    return out[:-1] if out else out


# --- comparing --------------------------------------------------------------------------------------


def _compare(
    files: tuple[str, ...], page: str | None, words: tuple[str, ...], *, as_json: bool
) -> None:
    from lastscrew.audit.compare_devices import compare_devices
    from lastscrew.audit.compare_texts import compare_readings
    from lastscrew.audit.report import compare_html, compare_json
    from lastscrew.cli.columns import for_encoding
    from lastscrew.device.reading import load_device

    if len(files) != 2:
        raise click.UsageError("--compare takes two revisions: the old one and the new one.")
    with edge(as_json=as_json):
        (one, one_name), (other, other_name) = _bytes(files[0]), _bytes(files[1])
        kinds = is_device_file(one, one_name), is_device_file(other, other_name)
        if kinds[0] != kinds[1]:
            raise InputError([_two_kinds(files[1])])
        if kinds[0]:
            changes = compare_devices(load_device(one, one_name), load_device(other, other_name))
        else:
            lexicon = load_words(words)
            changes = compare_readings(
                _reading(one, one_name, lexicon), _reading(other, other_name, lexicon)
            )
        if page is not None:
            Path(page).write_text(compare_html(one_name, other_name, changes), encoding="utf-8")
    if as_json:
        click.echo(json_text(compare_json(one_name, other_name, changes)))
        return
    for line in _change_lines(one_name, other_name, changes):
        click.echo(for_encoding(line, sys.stdout.encoding))
    if page is not None:
        click.echo(f"Written: {page}")


def _two_kinds(file: str) -> Problem:
    return Problem(
        "a device file and a text can't be compared",
        "Read the text into a device file first: lastscrew read TEXT -o FILE.",
        file=file,
        code="two_kinds",
    )


def _change_lines(one: str, other: str, changes: Sequence[Change]) -> list[str]:
    """The differences as lines for a terminal, under a heading for each thing that they are about."""
    from lastscrew.cli.columns import clean, terminal_width, wrap

    width = terminal_width()
    lines = wrap(f"From {clean(one)} to {clean(other)}:", width, hang=2)
    about = ""
    for change in changes:
        if change.about != about:
            about = change.about
            lines += ["", about]
        place = f"line {change.line}: " if change.line else ""
        lines += wrap(place + change.text, width, indent=2, hang=4)
    return lines if changes else [*lines, "", "Nothing that matters differs."]

"""A batch of units from a table: every problem by row before anything is stored.

The first row names the columns, in any order and in words that people use; a column that is not known is
an error (a misspelt one must not be lost). Each row is then read as the form for one unit is.
"""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, replace

from django.utils.translation import gettext as _

from lastscrew.bench.depot.folded import folded, folded_key
from lastscrew.bench.depot.tables import MAX_ROWS, Row, Table, as_csv
from lastscrew.bench.depot.taking_in import (
    AGREED_WORDS,
    PACK_WORDS,
    TEST_WORDS,
    Intake,
    Known,
    hazard_kinds,
    is_a_serial,
    read_intake,
)
from lastscrew.problems import Problem

COLUMNS: Mapping[str, tuple[str, ...]] = {
    "device": ("device", "model", "machine", "device id", "gerät", "modell"),
    "device_words": ("device in words", "description", "beschreibung"),
    "serial": ("serial", "serial number", "serial no", "sn", "s/n", "seriennummer"),
    "asset_tag": ("asset tag", "asset", "tag", "inventory number", "inventarnummer"),
    "complaint": ("complaint", "fault", "problem", "symptom", "beanstandung", "fehler"),
    "condition": ("condition", "zustand"),
    "accessories": ("accessories", "with it", "zubehör"),
    "seals": ("seals", "siegel"),
    "may_be_lost": ("may be lost", "loss"),
    "agreed_by": ("agreed by", "agreed"),
    "way_to_test": ("way to test", "test"),
    "owner_name": ("owner", "owner name", "customer", "name", "kunde"),
    "owner_contact": ("contact", "owner contact", "e-mail", "email", "phone", "telefon"),
    "due": ("due", "due date", "ready by", "fällig", "termin"),
    "pack": ("pack", "battery", "akku"),
    "liquid": ("liquid", "flüssigkeit"),
    "dropped": ("dropped", "fell", "gestürzt"),
    "place": ("place", "shelf", "bench", "platz", "ort"),
    "told": ("told",),
    "hazard_place": ("put where", "hazard place"),
    "power_off": ("power off", "without power"),
}
"""Column to what people call it, in small letters; the first is ours."""

_BY_WORD = {word: column for column, words in COLUMNS.items() for word in (column, *words)}
_YES = frozenset({"1", "yes", "y", "true", "x", "ja", "j"})
_NO = frozenset({"", "0", "no", "n", "false", "nein", "-"})
ANSWERS = ("told", "hazard_place", "power_off")
"""What must be answered where a hazard stops the normal way."""

_YES_OR_NO = ("liquid", "dropped", "power_off")
_CHOICES = {"pack": PACK_WORDS, "way_to_test": TEST_WORDS, "agreed_by": AGREED_WORDS}


@dataclass(frozen=True, slots=True)
class BatchRow:
    """A row of the batch: where it stands, what it says, what is wrong with it.

    Attributes:
        mark: Stands for its machine, wherever the row is moved to in the table.
    """

    line: int
    form: Mapping[str, str]
    intake: Intake
    mark: str = ""

    @property
    def called(self) -> str:
        """What is written on the machine: its serial number, else its tag."""
        return self.form.get("serial") or self.form.get("asset_tag", "")

    @property
    def hazards(self) -> tuple[str, ...]:
        """What stops the normal way, whether it is answered for or not."""
        return hazard_kinds(self.form.get("pack", ""), liquid=self.form.get("liquid") == "1")


@dataclass(frozen=True, slots=True)
class Batch:
    """What a table says.

    Attributes:
        columns: Columns in the order of the table.
        rows: One for each unit.
        problems: What is wrong with the table as a whole, and warnings.
    """

    columns: tuple[str, ...] = ()
    rows: tuple[BatchRow, ...] = ()
    problems: tuple[Problem, ...] = ()

    @property
    def can_be_stored(self) -> bool:
        """True when nothing is wrong anywhere."""
        whole = any(problem.severity == "error" for problem in self.problems)
        return bool(self.rows) and not whole and not any(row.intake.problems for row in self.rows)

    @property
    def wrong_rows(self) -> int:
        """How many rows have something wrong."""
        return sum(bool(row.intake.problems) for row in self.rows)


def read_batch(
    table: Table,
    known: Known,
    *,
    texts_seen: bool = False,
    answers: Mapping[str, Mapping[str, str]] | None = None,
) -> Batch:
    """Read a table as a batch.

    Args:
        table: The rows; the first one names the columns.
        known: Devices, and what is here.
        texts_seen: A person looked again at texts that looked like pass codes.
        answers: By mark of a row: what was answered for its hazard beside the table (:data:`ANSWERS`).
    """
    problems = [problem for problem in table.problems if problem.line is None]
    by_line: dict[int, list[Problem]] = {}
    for problem in table.problems:
        if problem.line is not None:
            by_line.setdefault(problem.line, []).append(problem)
    if not table.rows:
        problems += [] if problems else [_no_rows()]
        return Batch(problems=(*problems, *(p for found in by_line.values() for p in found)))
    columns, wrong = _columns(table.rows[0])
    problems += wrong
    if len(table.rows) == 1:
        problems.append(_no_rows())
    if len(table.rows) > MAX_ROWS + 1:
        return Batch(columns, problems=tuple(problems))
    problems += [p for line, found in by_line.items() for p in found if _is_elsewhere(line, table)]
    rows = []
    seen: Counter[str] = Counter()
    for row in table.rows[1:]:
        form, found = _form(row, columns)
        mark = _mark(form, seen)
        form = {**form, **(answers or {}).get(mark, {})}
        if texts_seen:
            form = {**form, "no_pass_code": "1"}
        intake = read_intake(form, known, row.line)
        found = [*by_line.get(row.line, []), *found, *intake.problems]
        rows.append(BatchRow(row.line, form, replace(intake, problems=tuple(found)), mark))
    return Batch(columns, _without_twins(rows), tuple(problems))


def _mark(form: Mapping[str, str], seen: Counter[str]) -> str:
    """What stands for a machine in the table: the same again where rows above it come or go."""
    said = "\n".join(folded(form.get(name, "")) for name in ("device", "serial", "asset_tag"))
    digest = hashlib.sha256(said.encode()).hexdigest()[:16]
    seen[digest] += 1
    return f"{digest}-{seen[digest]}"


def serials_of(table: Table) -> list[str]:
    """The serial numbers that a table names."""
    columns, _wrong = _columns(table.rows[0]) if table.rows else ((), [])
    if "serial" not in columns:
        return []
    at = columns.index("serial")
    return [row.cells[at] for row in table.rows[1:] if len(row.cells) > at]


def _is_elsewhere(line: int, table: Table) -> bool:
    """True for a line of the file that became no row of its own: its problem belongs to the whole."""
    return line == table.rows[0].line or all(row.line != line for row in table.rows)


def _no_rows() -> Problem:
    return Problem(
        _("The table has no rows."),
        _("The first row names the columns; each further row is one machine."),
        code="no_rows",
    )


def _columns(head: Row) -> tuple[tuple[str, ...], list[Problem]]:
    columns, problems = [], []
    for number, cell in enumerate(head.cells, 1):
        word = " ".join(cell.casefold().replace("_", " ").strip(" .:*").split())
        column = _BY_WORD.get(word) or _BY_WORD.get(word.replace(" ", "_"), "")
        if not column:
            problems.append(
                Problem(
                    _("Column %(number)d is called “%(name)s”, which is not known.")
                    % {"number": number, "name": cell[:40]},
                    _("Call it one of: %(columns)s; or take it out.")
                    % {"columns": ", ".join(words[0] for words in COLUMNS.values())},
                    line=head.line,
                    code="unknown_column",
                )
            )
        elif column in columns:
            problems.append(
                Problem(
                    _("Two columns say the same: “%(name)s”.") % {"name": cell[:40]},
                    _("Take one of them out."),
                    line=head.line,
                    code="twin_column",
                )
            )
        columns.append(column)
    return tuple(columns), problems


def _form(row: Row, columns: tuple[str, ...]) -> tuple[dict[str, str], list[Problem]]:
    named = zip(columns, row.cells, strict=False)
    form = {column: cell for column, cell in named if column}
    problems = []
    if len(row.cells) > len(columns):
        problems.append(
            Problem(
                _("This row has %(cells)d cells, the first row only %(columns)d.")
                % {"cells": len(row.cells), "columns": len(columns)},
                _("Look for a separator inside a text, and put the text in quotation marks."),
                line=row.line,
                code="too_many_cells",
            )
        )
    for column in _YES_OR_NO:
        form[column] = _yes_or_no(form.get(column, ""), column, row.line, problems)
    for column, words in _CHOICES.items():
        if form.get(column):
            form[column] = _chosen(form[column], words)
    return form, problems


def _yes_or_no(cell: str, column: str, line: int, problems: list[Problem]) -> str:
    word = cell.casefold()
    if word not in _YES | _NO:
        problems.append(
            Problem(
                _("“%(text)s” is neither yes nor no.") % {"text": cell[:40]},
                _("Write yes or no."),
                column,
                line=line,
                code="no_truth",
            )
        )
    return "1" if word in _YES else ""


def _chosen(cell: str, words: Mapping[str, object]) -> str:
    """The value that is meant by its own name or by the words for it."""
    said = cell.casefold()
    for value, shown in words.items():
        if said in (value, value.replace("_", " "), str(shown).casefold()):
            return value
    return cell


def _without_twins(rows: list[BatchRow]) -> tuple[BatchRow, ...]:
    """Say where one serial number stands twice."""
    first: dict[tuple[str, str], int] = {}
    checked = []
    for row in rows:
        serial = folded_key(row.form.get("serial", ""))
        place = (folded(row.form.get("device", "")), serial)
        if is_a_serial(serial) and place in first:
            twin = Problem(
                _("The same serial number stands in row %(line)d.") % {"line": first[place]},
                _("Correct one of them, or take the row out."),
                "serial",
                line=row.line,
                code="twin",
            )
            intake = replace(row.intake, taken=None, problems=(*row.intake.problems, twin))
            checked.append(replace(row, intake=intake))
        else:
            first.setdefault(place, row.line)
            checked.append(row)
    return tuple(checked)


def table_as_csv(table: Table) -> str:
    """The table as text that a person can correct in the page."""
    lines: list[tuple[str, ...]] = []
    for row in table.rows:
        # Blank rows stay, so that the numbers of rows stay as they are in the file.
        lines += [()] * (row.line - len(lines) - 1)
        lines.append(row.cells)
    return as_csv(lines)

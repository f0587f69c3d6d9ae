"""Taking in many at once: a table, every problem by row, corrected in the page, stored all or nothing."""

from __future__ import annotations

import re

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from lastscrew.bench.access.rights import Route
from lastscrew.bench.depot.batch import (
    ANSWERS,
    COLUMNS,
    Batch,
    BatchRow,
    read_batch,
    serials_of,
    table_as_csv,
)
from lastscrew.bench.depot.folded import folded_key
from lastscrew.bench.depot.repeats import repeats
from lastscrew.bench.depot.tables import MAX_BYTES, MAX_ROWS, Table, as_csv, read_csv, read_table
from lastscrew.bench.depot.taking_in import HAZARD_WORDS
from lastscrew.bench.models import Unit
from lastscrew.bench.pages.common import who
from lastscrew.bench.queries.overview import PAGE
from lastscrew.bench.queries.stays import device_names, known_for, last_stays
from lastscrew.bench.store.clock import new_key, now_ms
from lastscrew.bench.store.intake import store_batch
from lastscrew.problems import InputError, Problem

_OUR_KEY = re.compile(r"[0-9a-f]{32}")
_MARK = re.compile(r"[0-9a-f]{16}-[0-9]{1,4}")
SHOWN = ("device", "device_words", "serial", "asset_tag", "complaint", "pack", "due", "place")


def batch(request: HttpRequest) -> HttpResponse:
    """Ask for a table, show what it says, store it when nothing is wrong and a person says so."""
    if request.method != "POST":
        return _page(request, None, "", ())
    key = request.POST.get("key", "")
    if _OUR_KEY.fullmatch(key) and Unit.objects.filter(pk__startswith=f"{key}.").exists():
        return redirect("batch_stored", key=key)  # the same table was sent again
    table = _sent(request)
    text = table_as_csv(table)
    seen = request.POST.get("no_pass_code") == "1"
    read = read_batch(
        table, known_for(serials_of(table)), texts_seen=seen, answers=_answers(request)
    )
    if read.can_be_stored and request.POST.get("store") == "1":
        return _store(request, read, text)
    return _page(request, read, text, (), status=200 if read.can_be_stored else 422)


def _answers(request: HttpRequest) -> dict[str, dict[str, str]]:
    """What was answered beside the table for rows with a hazard, by mark of the row."""
    return {
        mark: {name: request.POST.get(f"{name}.{mark}", "") for name in ANSWERS}
        for field in request.POST
        if field.startswith("told.") and _MARK.fullmatch(mark := field.removeprefix("told."))
    }


def _sent(request: HttpRequest) -> Table:
    """The table that was sent: as a file, or as the text that was corrected in the page."""
    file = request.FILES.get("table")
    if file is not None:
        return read_table(file.read(MAX_BYTES + 1))
    return read_csv(request.POST.get("text", "")[:MAX_BYTES].replace("\r\n", "\n"))


def _store(request: HttpRequest, read: Batch, text: str) -> HttpResponse:
    key = request.POST.get("key", "")
    if not _OUR_KEY.fullmatch(key):
        key = new_key()
    rows = [(row.line, row.intake) for row in read.rows]
    try:
        store_batch(key, rows, by=who(request))
    except InputError as error:
        return _page(request, read, text, error.problems, status=422)
    return redirect(f"/take-in/batch/{key}/")


def stored(request: HttpRequest, key: str) -> HttpResponse:
    """What a batch has become."""
    units = Unit.objects.filter(pk__startswith=f"{key}.").order_by("number")
    count = units.count() if _OUR_KEY.fullmatch(key) else 0
    context = {"units": units[:MAX_ROWS] if count else (), "count": count, "key": key, "most": PAGE}
    return render(request, "bench/take_in/stored.html", context, status=200 if count else 404)


def _serial(row: BatchRow) -> str:
    return folded_key(row.form.get("serial", ""))


def _untold(row: BatchRow) -> dict[str, list[Problem]]:
    """What is wrong with the answers for a hazard, by field."""
    return {
        name: [problem for problem in row.intake.problems if problem.path == name]
        for name in ANSWERS
    }


def _page(
    request: HttpRequest,
    read: Batch | None,
    text: str,
    problems: tuple[Problem, ...],
    status: int = 200,
) -> HttpResponse:
    rows = read.rows if read is not None else ()
    columns = [column for column in SHOWN if read is not None and column in read.columns]
    codes = {problem.code for row in rows for problem in row.intake.problems}
    key, now = request.POST.get("key", ""), now_ms()
    stays = last_stays([row.form.get("serial", "") for row in rows])
    context = {
        "read": read,
        "rows": [
            (
                row,
                [row.form.get(column, "") for column in columns],
                repeats([stays[serial]], now) if (serial := _serial(row)) in stays else (),
                stays.get(_serial(row)),
            )
            for row in rows
        ],
        "stopped": [
            (row, [HAZARD_WORDS[kind] for kind in row.hazards], _untold(row))
            for row in rows
            if row.hazards
        ],
        "columns": [COLUMNS[column][0] for column in columns],
        "text": text,
        "problems": (*problems, *(read.problems if read is not None else ())),
        "key": key if _OUR_KEY.fullmatch(key) else new_key(),
        "asks_about_codes": "pass_code" in codes or request.POST.get("no_pass_code") == "1",
        "seen": request.POST.get("no_pass_code") == "1",
        "known_columns": list(COLUMNS.values()),
        "devices": device_names(),
        "most": MAX_ROWS,
        "megabytes": MAX_BYTES // 2**20,
    }
    return render(request, "bench/take_in/batch.html", context, status=status)


def example(_request: HttpRequest) -> HttpResponse:
    """A table to begin with: the names of the columns and one row."""
    device = next(iter(device_names()), "")
    head = ["device", "serial", "asset tag", "complaint", "battery", "due", "place"]
    row = [device, "4711-0815", "", "does not start", "sound", "2026-12-01", "shelf 1"]
    text = as_csv([head, row])
    return HttpResponse(
        "\ufeff" + text,
        content_type="text/csv; charset=utf-8",
        headers={"Content-Disposition": 'attachment; filename="machines.csv"'},
    )


ROUTES = (
    Route("take-in/batch/", batch, "batch", "technician", "technician"),
    Route("take-in/batch/example.csv", example, "batch_example", "technician", "lead"),
    Route("take-in/batch/<str:key>/", stored, "batch_stored", "technician", "lead"),
)

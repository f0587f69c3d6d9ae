"""``lastscrew leftover``: one screw left over or missing; where to look, and in which order."""

from __future__ import annotations

import re
import sys
from collections.abc import Sequence

import click

from lastscrew.cli.columns import for_encoding, terminal_width, wants_colour, wrap
from lastscrew.cli.edge import edge, json_text
from lastscrew.cli.loading import STDIN_NAME, load_device_file
from lastscrew.cli.numbers import FiniteRange
from lastscrew.cli.plan_options import (
    Asked,
    JsonCommand,
    find_plan,
    placed,
    plan_options,
    request_of,
    solve,
    stop_rule,
    watching,
)
from lastscrew.cli.run_files import read_run
from lastscrew.cli.tables import signal_lines
from lastscrew.device.model import Device
from lastscrew.fasteners import forgetting, leftover
from lastscrew.fasteners.ledger import Ledger, ledger_of
from lastscrew.fasteners.leftover import (
    Leftover,
    Place,
    Query,
    find_leftover,
    query_from_text,
)
from lastscrew.fasteners.lookalikes import RULE_DOUBT_MM
from lastscrew.fasteners.pieces import kind_text
from lastscrew.fasteners.searching import SearchStep
from lastscrew.plan.model import Plan, Request
from lastscrew.plan.wording import joint_name, listed, seconds
from lastscrew.problems import InputError, Problem
from lastscrew.run.events import Closed, Event
from lastscrew.run.folding import in_force
from lastscrew.run.rules import hazards_of
from lastscrew.times.ranges import as_range

Json = dict[str, object]

_MEASURE = re.compile(
    r"\s*(?:(?P<thread>M\s*\d{1,2}(?:\.\d{1,2})?)\s*[x×X]\s*)?"
    r"(?P<length>\d{1,4}(?:[.,]\d{1,3})?)\s*(?:mm)?\s*(?::\s*(?P<count>\d{1,9}))?\s*"
)
ASSUMED = (
    ("forgotten", forgetting.FORGOTTEN, "chance that one screw is not put back"),
    ("joint_skipped", forgetting.JOINT_SKIPPED, "chance that a whole joint is passed over"),
    ("old_left_lying", forgetting.OLD_LEFT_LYING, "chance that an old piece still lies on the bench"),
    ("from_elsewhere", forgetting.FROM_ELSEWHERE, "chance that a piece never belonged to the machine"),
    ("fell_inside", forgetting.FELL_INSIDE, "chance that a screw that was handled fell into the machine"),
    ("fell_outside", forgetting.FELL_OUTSIDE, "chance that a piece went astray outside the machine"),
    ("look_s", leftover.LOOK_MS / 1000, "seconds to look at a joint, and half a second for each piece"),
    ("search_s", leftover.SEARCH_MS / 1000, "seconds to search inside around a joint"),
    ("search_outside_s", leftover.SEARCH_OUTSIDE_MS / 1000, "seconds to search bench and floor"),
    ("compare_s", leftover.COMPARE_PIECE_MS / 1000, "seconds to compare one piece"),
)  # fmt: skip


@click.command(cls=JsonCommand)
@click.argument("file")
@plan_options
@click.option(
    "--found", metavar="KIND[:N]", default=None, help="Pieces left over, such as m2x5 or m2x5:2."
)
@click.option("--missing", metavar="KIND[:N]", default=None, help="Pieces that are missing.")
@click.option(
    "--measured",
    metavar="LENGTH[:N]",
    default=None,
    help="Pieces left over of which only the length is known, such as 4.8mm:1.",
)
@click.option(
    "--thread", metavar="THREAD", default=None, help="Thread of the measured piece, such as M2."
)
@click.option(
    "--doubt", type=FiniteRange(min=0), default=RULE_DOUBT_MM, show_default=True, metavar="MM",
    help="Doubt of the measured length.",
)  # fmt: skip
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
def command(
    *,
    file: str,
    asked: Asked,
    found: str | None,
    missing: str | None,
    measured: str | None,
    thread: str | None,
    doubt: float,
    as_json: bool,
) -> None:
    """One screw left over, or one too few: where it can belong, most likely first.

    Name the work that was done as for a plan (--replace, --reach), or give the --run of the job. The
    answer ends with the shortest re-opening that settles it: where to look, in which order.
    """  # fmt: skip
    with edge(as_json=as_json):
        query = _query(found, missing, measured, thread, doubt)
        device = load_device_file(file)
        answer = _answer(device, asked, query, STDIN_NAME if file == "-" else file)
        if as_json:
            click.echo(json_text(_as_json(device, answer)))
            return
        click.echo(for_encoding("\n".join(_text(device, answer)), sys.stdout.encoding), color=True)


def _query(
    found: str | None, missing: str | None, measured: str | None, thread: str | None, doubt: float
) -> Query:
    given = [each for each in (found, missing, measured) if each is not None]
    if len(given) != 1:
        text = "one thing is asked at a time" if given else "nothing is asked"
        remedy = "Give one of --found, --missing and --measured."
        raise InputError([Problem(text, remedy, path="--found", code="leftover_what")])
    if thread is not None and measured is None:
        text = "a thread is told only of a measured piece"
        raise InputError(
            [Problem(text, "Leave --thread out.", path="--thread", code="leftover_thread")]
        )
    if measured is None:
        return query_from_text(given[0], missing=missing is not None, doubt_mm=doubt)
    match = _MEASURE.fullmatch(measured)
    if match is None:
        text = f'"{measured}" is no length'
        raise InputError(
            [
                Problem(
                    text,
                    "Write 4.8mm, 4.8mm:2 or M2x4.8mm.",
                    path="--measured",
                    code="leftover_length",
                )
            ]
        )
    return Query(
        count=int(match["count"] or 1),
        length_mm=float(match["length"].replace(",", ".")),
        thread=thread or match["thread"],
        doubt_mm=doubt,
    )


def _answer(device: Device, asked: Asked, query: Query, file: str) -> Leftover:
    """Ask, all under one limit."""
    with watching(asked.limit_s) as watch:

        def planner(changed: Device, request: Request) -> Plan:
            return solve(changed, request, stop_rule(watch, asked.work), file=file)

        ledger: Ledger | None = None
        if asked.run_file is None:
            plan = find_plan(device, asked, file=file, watch=watch)
            closed = [step.joint for step in plan.way_out]
            # All is closed again, and it lies as at the end of a job.
            now = Request(
                not_fitted=asked.request.not_fitted,
                fitted=asked.request.fitted,
                without=asked.request.without,
                pace=asked.request.pace,
            )
        else:
            log = read_run(asked.run_file)
            now = request_of(device, asked)
            closed = _closed_in(log.events, now.opened)
            ledger = ledger_of(device, log.events)
        try:
            return find_leftover(device, closed, query, planner, ledger=ledger, now=now)
        except InputError as error:
            raise InputError(placed(problem, file) for problem in error.problems) from None


def _closed_in(events: Sequence[Event], still_open: Sequence[str]) -> list[str]:
    """Joints that were closed in a job, in the order of their last closing."""
    order = [event.what.joint for event in in_force(events) if isinstance(event.what, Closed)]
    last = dict.fromkeys(reversed(order))
    return [joint for joint in reversed(list(last)) if joint not in still_open]


def _hazards(device: Device, answer: Leftover) -> tuple[str, ...]:
    """Hazards of what the search opens, most severe first."""
    opens = {joint for step in answer.search.steps for joint in step.opens}
    return hazards_of(device, [device.joints[joint] for joint in sorted(opens)])


# --- JSON -----------------------------------------------------------------------------------------


def _as_json(device: Device, answer: Leftover) -> Json:
    query = answer.query
    return {
        "device": device.id,
        "revision": device.revision_hash,
        "query": {
            "missing": query.missing,
            "count": query.count,
            "kind": query.kind.key if query.kind else None,
            "length_mm": query.length_mm,
            "thread": query.thread,
            "doubt_mm": query.doubt_mm if query.length_mm is not None else None,
        },
        "places": [_place_as_json(place) for place in answer.places],
        "elsewhere": _share(answer.elsewhere),
        "record": list(answer.record),
        "search": {
            "steps": [_step_as_json(step) for step in answer.search.steps],
            "expected_s": seconds(answer.search.expected_ms),
            "worst_s": seconds(answer.search.worst_ms),
            "exact": answer.search.exact,
            "out_of_reach": list(answer.search.out_of_reach),
            "hazards": list(_hazards(device, answer)),
        },
        "assumed": [{"id": key, "value": value, "what": what} for key, value, what in ASSUMED],
    }


def _share(chance: float) -> float:
    return round(chance, 3)


def _place_as_json(place: Place) -> Json:
    return {
        "id": place.key,
        "joint": place.joint,
        "how": place.how,
        "kind": place.kind.key if place.kind else None,
        "count": place.count,
        "chance": _share(place.chance),
        "reasons": [
            {"text": r.text, "source": r.source, "factor": round(r.factor, 3)}
            for r in place.reasons
        ],
        "look": place.look,
        "alone_s": None if place.alone_ms is None else seconds(place.alone_ms),
    }


def _step_as_json(step: SearchStep) -> Json:
    return {
        "place": step.key,
        "opens": list(step.opens),
        "in_s": seconds(step.in_ms),
        "settled_s": seconds(step.settled_ms),
        "settled_by_here": _share(step.settled_by_here),
    }


# --- text -----------------------------------------------------------------------------------------


def _text(device: Device, answer: Leftover) -> list[str]:
    width, colour = terminal_width(), wants_colour()
    lines = wrap(f"{device.name}: {_asked_words(device, answer.query)}", width)
    for sentence in answer.record:
        lines += wrap(f"By the record: {sentence}", width, hang=2)
    if not answer.places:
        done = "closed" if answer.record else "opened"
        nothing = f"Nothing that was {done} lets such a piece go: look for it elsewhere."
        return [*lines, *wrap(nothing, width)]
    note = "Chances rest on figures of our own (assumed, none is measured); --json lists them."
    lines += [*wrap(note, width), ""]
    for number, place in enumerate(answer.places, 1):
        lines += wrap(f"{number}. {_chance(place.chance)}: {place.look}", width, hang=3)
        why = "; ".join(f"{reason.text} ({reason.source})" for reason in place.reasons)
        lines += wrap(why, width, indent=3)
        alone = (
            "not within reach" if place.alone_ms is None else f"alone {as_range(place.alone_ms)}"
        )
        lines += wrap(alone, width, indent=3)
    lines += wrap(f"{_chance(answer.elsewhere)}: it belongs to none of these", width, indent=3)
    return [*lines, "", *_search_text(device, answer, width, colour=colour)]


def _asked_words(device: Device, query: Query) -> str:
    if query.kind is not None:
        name = kind_text(device, query.kind)
    else:
        thread = f"{query.thread} " if query.thread else ""
        name = f"{thread}piece of {query.length_mm:g} mm (± {query.doubt_mm:g} mm)"
    verb = "is" if query.count == 1 else "are"
    return f"{query.count} × {name} {verb} {'missing' if query.missing else 'left over'}."


def _chance(chance: float) -> str:
    """A chance as sure as it is: steps of five per cent, of one below ten."""
    percent = 100 * chance
    if percent < 1:
        return "under 1 %"
    shown = round(percent) if percent < 10 else 5 * round(percent / 5)
    return f"about {min(shown, 99)} %"


def _search_text(device: Device, answer: Leftover, width: int, *, colour: bool) -> list[str]:
    search = answer.search
    if not search.steps:
        return wrap("None of these places can be reached.", width)
    exact = "" if search.exact else " (many places: a good order, not proven the best)"
    lines = wrap(
        f"The shortest search: {as_range(search.expected_ms)} on average, "
        f"{as_range(search.worst_ms)} if all has to be looked into{exact}.",
        width,
    )
    for hazard_id in _hazards(device, answer):
        hazard = device.hazards[hazard_id]
        caution = wrap(f"{hazard.signal.upper()}: {hazard.text}", width, indent=2, hang=4)
        lines += signal_lines(hazard.signal, caution, colour=colour)
    looks = {place.key: place.look for place in answer.places}
    numbers = {place.key: number for number, place in enumerate(answer.places, 1)}
    for number, step in enumerate(search.steps, 1):
        opens = listed([joint_name(device, joint) for joint in step.opens])
        text = f"{number}. " + (f"open {opens}; " if opens else "")
        text += f"settle place {numbers[step.key]}: {looks[step.key]}"
        lines += wrap(text, width, hang=3)
        settled = f"{_chance(step.settled_by_here)} settled by here, all closed again after {as_range(step.settled_ms)}"
        lines += wrap(settled, width, indent=3)
    if search.out_of_reach:
        names = listed([looks[key] for key in search.out_of_reach], word="or")
        lines += wrap(f"Out of reach as asked: {names}.", width)
    return lines

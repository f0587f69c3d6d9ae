"""Everything that the work page needs, as one JSON value: enough to go on without the network."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass

from lastscrew.bench.depot.clocks import Clock
from lastscrew.bench.depot.event_words import say
from lastscrew.bench.work.contradictions import contradictions
from lastscrew.bench.work.course import Course, Planner, course_of, plan_within_reason
from lastscrew.bench.work.drawing import drawing_of
from lastscrew.bench.work.items import Stage
from lastscrew.bench.work.needs import lines_of_job, waiting_lines
from lastscrew.bench.work.stages import stages_of
from lastscrew.bench.work.steps import cautions_of, isolation_now
from lastscrew.bench.work.tray import COLUMNS, ROWS, places_of
from lastscrew.bench.work.trouble import missing_pieces, troubles_at, troubles_with, worn_pieces
from lastscrew.device.model import Device
from lastscrew.fasteners.ledger import Ledger, ledger_of
from lastscrew.fasteners.pieces import kind_short
from lastscrew.plan.wording import joint_name, part_name, piece_name, plain, side_name
from lastscrew.run.events import TakenBack
from lastscrew.run.folding import in_force
from lastscrew.run.state import JobState, allowed, parts_of

Json = dict[str, object]

SHAPE = 1
"""Version of this value; a page that was kept from before an update asks for a new one."""

LAST_SHOWN = 12
"""Events that are shown as done last, for taking back."""


@dataclass(frozen=True, slots=True)
class Work:
    """A job worked out: what it follows, its stages, its ledger."""

    course: Course
    stages: tuple[Stage, ...]
    ledger: Ledger
    places: Mapping[str, str]


def work_of(
    device: Device,
    state: JobState,
    planner: Planner = plan_within_reason,
    *,
    rows: int = ROWS,
    columns: int = COLUMNS,
) -> Work:
    """Work a job out.

    Args:
        device: The whole device, of the revision that the job keeps.
        state: How the job stands, with its log.
        planner: See :func:`~lastscrew.bench.work.course.course_of`.
        rows: Compartments of the tray one below the other.
        columns: Compartments side by side.
    """
    course = course_of(device, state, planner)
    ledger = ledger_of(device, state.log)
    places = places_of(course, ledger, rows, columns)
    return Work(course, stages_of(device, course, state, places), ledger, places)


def bundle_of(device: Device, state: JobState, work: Work, clock: Clock | None = None) -> Json:
    """The value that goes to the page.

    Args:
        device: The whole device.
        state: How the job stands.
        work: The same, worked out.
        clock: Its time so far.
    """
    course = work.course
    briefing = course.briefing
    time = clock or Clock()
    return {
        "shape": SHAPE,
        "version": state.version,
        "device": device.name,
        "asked": [piece_name(device, piece) for piece in state.replace]
        + [joint_name(device, joint) for joint in state.reach],
        "stages": [asdict(stage) for stage in work.stages],
        "trouble": _trouble(course.device, state, work),
        "worn": worn_pieces(state),
        "missing": missing_pieces(state),
        "elsewhere": _elsewhere(course, state, work),
        "parts": {part.id: part.name for part in course.device.parts.values()},
        "targets": _targets(course.device, state),
        "ledger": ledger_as_json(device, work.ledger),
        "drawing": drawing_of(course.device),
        "isolation": isolation_now(course, state),
        "sides": {side: side_name(side) for side in device.sides},
        "side": state.side or device.sides[0],
        "bare": [asdict(c) for c in cautions_of(device, briefing.bare_hazards if briefing else ())],
        "losses": [loss.text for loss in briefing.losses] if briefing else [],
        "planned": briefing.timing.total.words if briefing else "",
        "time": {
            "hands_on_ms": time.hands_on_ms,
            "apart_ms": time.apart_ms,
            "runs": time.runs,
        },
        "waiting": [
            line.what for line in waiting_lines(lines_of_job(device, course, state, work.ledger))
        ],
        "notes": [*course.notes, *(plain(problem.message) for problem in course.problems)],
        "found": [plain(each.text) for each in contradictions(device, state.log)],
        "remarks": [plain(remark.text) for remark in state.remarks],
        "last": _last(device, state),
        "status": {
            "paused": state.paused,
            "parked": state.parked is not None,
            "place": (state.parked.place or "") if state.parked else "",
            "waiting_for": (state.parked.waiting_for or "") if state.parked else "",
            "outcome": state.outcome or "",
            "worker": state.worker or "",
        },
        "all_done": all(item.is_done for stage in work.stages for item in stage.items)
        and not state.open
        and not course.problems,
    }


def ledger_as_json(device: Device, ledger: Ledger) -> Json:
    """What lies out and where, what is lost, what belongs nowhere."""
    return {
        "out": [
            {
                "joint": lot.joint,
                "name": joint_name(device, lot.joint),
                "kind": lot.kind.key,
                "text": kind_short(device, lot.kind),
                "count": lot.count,
                "compartment": lot.compartment,
            }
            for lot in ledger.out
        ],
        "lost": [
            {
                "event": loss.event,
                "joint": loss.joint,
                "text": kind_short(device, loss.kind),
                "count": loss.count,
                "searched": loss.searched,
            }
            for loss in ledger.losses
        ],
        "surplus": [
            {"text": kind_short(device, each.kind), "count": each.count} for each in ledger.surplus
        ],
    }


def _trouble(device: Device, state: JobState, work: Work) -> Json:
    """By joint; where a step has none (an exchange), by the id of the step."""
    found: Json = {}
    for stage in work.stages:
        for item in stage.items:
            if item.joint is not None and item.joint not in found:
                troubles = troubles_at(device, item.joint, state)
                found[item.joint] = [asdict(trouble) for trouble in troubles]
            elif item.kind == "exchange":
                parts = parts_of(device, item.id.partition(":")[2])
                found[item.id] = [asdict(t) for t in troubles_with(device, parts, state)]
    return found


def _elsewhere(course: Course, state: JobState, work: Work) -> list[Json]:
    """Joints that may be opened or closed now and that the next steps do not name: another order was used."""
    device = course.device
    now = allowed(device, state)
    found: list[Json] = []
    for limb, joints in (("in", now.to_open), ("out", now.to_close)):
        event = "opened" if limb == "in" else "closed"
        for joint, ways in joints.items():
            access = device.joints[joint].accesses[ways[0]]
            said: Json = {"event": event, "joint": joint, "side": access.side}
            tool = access.tool if limb == "in" else access.close_tool
            if tool is not None:
                said["tool"] = tool
            if limb == "in" and joint in work.places:
                said["compartment"] = work.places[joint]
            found.append(
                {"limb": limb, "joint": joint, "name": joint_name(device, joint), "event": said}
            )
    return found


def _targets(device: Device, state: JobState) -> Json:
    """What can be added to the job, and what can be left out of it."""
    asked = set(state.replace)
    more = [
        {"replace": key, "name": name}
        for key, name in (
            *((part.id, part.name) for part in device.parts.values() if not part.fixed),
            *((spare.id, spare.name) for spare in device.spares.values()),
        )
        if key not in asked
    ]
    fewer: list[dict[str, str]] = [
        {"replace": piece, "name": piece_name(device, piece)} for piece in state.replace
    ]
    fewer += [{"reach": joint, "name": joint_name(device, joint)} for joint in state.reach]
    more.sort(key=lambda each: each["name"])
    judged = [
        {"part": part, "name": part_name(device, part), "state": verdict}
        for part, verdict in state.judged.items()
    ]
    return {"more": more, "fewer": fewer, "judged": judged}


def _last(device: Device, state: JobState) -> list[Json]:
    """What was done last, latest first."""
    shown = [event for event in in_force(state.log) if not isinstance(event.what, TakenBack)]
    return [
        {
            "id": event.id,
            "text": say(event.what, device),
            "by": event.by or "",
            "at": event.at_ms,
            "started": event.what.name == "started",
        }
        for event in shown[: -LAST_SHOWN - 1 : -1]
    ]

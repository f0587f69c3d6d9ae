"""A plan in a terminal: what is asked, how long, what to have ready, the V, what to prove afterwards."""

from __future__ import annotations

from collections.abc import Iterator

from lastscrew.cli.columns import Line, coloured, pad, wrap
from lastscrew.cli.numbers import several
from lastscrew.cli.plan_v import hazard_letters, limb_list, out_of_mirror, v_lines
from lastscrew.paper.plan_json import Batch, batch_ranges, cost_as_json
from lastscrew.paper.rows import course_of
from lastscrew.plan.briefing import Briefing
from lastscrew.plan.materials import OrderLine, loss_text
from lastscrew.plan.model import STEP_WEIGHT, Plan
from lastscrew.plan.wording import (
    clock,
    fastener_text,
    joint_name,
    listed,
    part_name,
    piece_name,
    tool_name,
)
from lastscrew.proof.checks import Identity, Proof, because_text

SAFETY_NOTE = "The maker's instructions, local rules and trained people come first; this plan does not replace them."


def plan_text(
    briefing: Briefing,
    proof: Proof,
    batch: Batch | None,
    *,
    width: int,
    colour: bool,
) -> str:
    """The whole plan as text of at most ``width`` columns."""
    lines: list[str] = []
    for line in _title(briefing, proof, batch):
        lines.extend(
            coloured(Line(t, line.style), colour=colour) for t in wrap(line.text, width, hang=2)
        )
    lines.append("")
    lines.extend(_entries(list(_before(briefing)), width))
    for hazard in briefing.bare_hazards:
        lines.extend(_bare_hazard(briefing, hazard, width, colour=colour))
    lines.append("")
    lines.extend(v_lines(briefing, proof, width, colour=colour))
    lines.extend(_not_mirrored(briefing, proof, width))
    lines.append("")
    lines.extend(_entries(list(_after(briefing, proof)), width))
    lines.extend(["", *wrap(SAFETY_NOTE, width)])
    return "\n".join(lines)


def _title(briefing: Briefing, proof: Proof, batch: Batch | None) -> Iterator[Line]:
    device = briefing.device
    revision = f", revision {device.revision}" if device.revision else ""
    yield Line(f"{device.name}{revision}: {asked_words(briefing)}", "strong")
    timing = briefing.timing
    words = f"{timing.total} hands-on (in {timing.way_in}, out {timing.way_out})"
    if briefing.waits.total_ms:
        words += f", with waiting {timing.elapsed}"
    if proof.check_ms:
        words += f", and {proof.check_range} of checks"
    yield Line(words)
    yield Line(proof_words(briefing.plan))
    if not (briefing.plan.way_in or briefing.plan.way_out):
        yield Line("Nothing has to be opened.")
    if batch is not None:
        yield Line(_batch_words(briefing, batch))


def asked_words(briefing: Briefing) -> str:
    """What was asked for, in one phrase."""
    device, request = briefing.device, briefing.plan.request
    words: list[str] = []
    if request.replace:
        pieces = [piece_name(device, piece) for piece in request.replace]
        words.append(f"replace {listed(pieces)}")
    if request.reach:
        words.append(f"reach {listed([joint_name(device, j) for j in request.reach])}")
    if not words:
        words.append("close what is open")
    if briefing.opened_before:
        names = [joint_name(device, j) for j in briefing.opened_before]
        words.append(f"open already: {listed(names, limit=6)}")
    without = [joint_name(device, j) for j in request.without if j in device.joints]
    if without:
        words.append(f"without opening {listed(without)}")
    return "; ".join(words)


def proof_words(plan: Plan) -> str:
    """How far the plan is proven to be the best."""
    least = {
        "time": "Least time",
        "risk": "Least time with expected damage",
        "steps": "Fewest joints worked on, then least time",
    }[plan.request.objective]
    if plan.proven:
        return f"{least}: proven."
    why = {
        "clock": "stopped by the clock",
        "work": "stopped after the states allowed",
        "interrupt": "stopped by hand",
    }
    stopped = why.get(plan.stopped, plan.stopped or "stopped")
    if plan.request.objective == "steps":
        found, bound = plan.objective_value // STEP_WEIGHT, plan.lower_bound // STEP_WEIGHT
        return (
            f"Best found, {stopped}: {several(found, 'joint')} worked on, at least {bound} needed."
        )
    gap = gap_percent(plan)
    above = "no bound yet" if gap is None else f"at most {gap:.1f} % above the least"
    return f"Best found, {stopped}: {above}."


def gap_percent(plan: Plan) -> float | None:
    """How far the plan can be above the least, in per cent of the bound; None without a bound."""
    if plan.lower_bound <= 0:
        return None
    return 100 * (plan.objective_value - plan.lower_bound) / plan.lower_bound


def _batch_words(briefing: Briefing, batch: Batch) -> str:
    total, mean = batch_ranges(briefing, batch)
    return (
        f"{several(batch.units, 'unit')} at a learning rate of {batch.learning:g}: {total} hands-on in all, "
        f"{mean} each on average."
    )


Entry = tuple[str, str]


def _before(briefing: Briefing) -> Iterator[Entry]:
    """What matters before the first step."""
    device, plan = briefing.device, briefing.plan
    for loss in briefing.losses:
        yield "Would be lost", loss_text(device, loss)
    if briefing.tools or briefing.act_tools:
        tools = [tool_name(device, tool) for tool in briefing.tools]
        tools += [f"{tool_name(device, tool)} (for acts)" for tool in briefing.act_tools]
        yield "Tools in order", ", ".join(tools)
    for line in briefing.order:
        yield "Have ready", order_words(line)
    for spare, items in _included(briefing).items():
        yield "Comes with it", f"{listed(items)} (with {part_name(device, spare)})"
    for joint in plan.missing_first:
        yield (
            "Opened first",
            f"{joint_name(device, joint)}, which was left closed in front of open joints",
        )
    if any(line.price is not None for line in briefing.order):
        yield "Cost", _cost_words(briefing)


def _included(briefing: Briefing) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for use in briefing.uses:
        if use.included_with is not None:
            supply = briefing.device.supplies.get(use.id)
            name = supply.name if supply is not None else use.id
            names = found.setdefault(use.included_with, [])
            if name not in names:
                names.append(name)
    return found


def order_words(line: OrderLine) -> str:
    """One line of the order: amount, name, code, price."""
    amount = f"{line.amount:g} {line.unit}".strip()
    words = line.name if line.kind in ("part", "spare") else f"{line.name}, {amount}"
    if line.unit == "piece" and line.kind not in ("part", "spare"):
        words = f"{line.amount:g} × {line.name}"
    details = [x for x in (line.order_code, None if line.cost is None else f"{line.cost:.2f}") if x]
    return f"{words} ({', '.join(details)})" if details else words


def _cost_words(briefing: Briefing) -> str:
    cost = cost_as_json(briefing, 0)
    words = f"labour {cost['labour']:.2f} + material {cost['material']:.2f} = {cost['total']:.2f}"
    words += f" (at {briefing.plan.request.rate_per_h:g} an hour)"
    missing = cost["without_price"]
    if isinstance(missing, list) and missing:
        words += f"; no price for {listed([str(item) for item in missing], limit=6)}"
    return words


def _bare_hazard(briefing: Briefing, hazard_id: str, width: int, *, colour: bool) -> list[str]:
    hazard = briefing.device.hazards[hazard_id]
    letter = hazard_letters(briefing)[hazard_id]
    text = f"{hazard.signal.upper()} ({letter}), bare already: {hazard.text}"
    lines = wrap(text, width, hang=2)
    return [coloured(Line(lines[0], "", (hazard.signal,)), colour=colour), *lines[1:]]


def _not_mirrored(briefing: Briefing, proof: Proof, width: int) -> list[str]:
    """The way out as a list of its own, where it is not the way in backwards."""
    stray = out_of_mirror(course_of(briefing.device, briefing.plan))
    if not stray:
        return []
    words = (
        "≠ The way out is not the way in backwards: closings marked ≠ stand out of the order of the rows. "
        "The way out in its order:"
    )
    return ["", *wrap(words, width, hang=2), *limb_list(briefing, proof, "out", width)]


def _after(briefing: Briefing, proof: Proof) -> Iterator[Entry]:
    """What matters once it is open, and at the end."""
    device = briefing.device
    for out in briefing.fasteners:
        kind = device.fasteners.get(out.fastener or "")
        what = "fastener" if kind is None else fastener_text(kind)
        washers = "".join(f", {count} {name}" for name, count in out.washers.items())
        yield "Fasteners out", f"{out.count} × {what} ({joint_name(device, out.joint)}){washers}"
    for gate in proof.gates:
        names = listed([device.functions[name].name for name in gate.functions])
        words = f"{names} before {joint_name(device, gate.joint)} may be closed"
        yield "Prove on the way", words
        for function, joint in gate.in_vain:
            needed = f"needs {joint_name(device, joint)} closed, which is open then"
            yield "Prove on the way", f"(can't be done: {device.functions[function].name} {needed})"
    for check in proof.checks:
        tried = device.functions[check.function]
        took = f" ({clock(tried.check_ms)})" if tried.check_ms else ""
        how = f": {tried.check}" if tried.check else ""
        why = because_text(device, check.because[0])
        yield "Prove at the end", f"{tried.name}{how}{took}, because {why}"
    for identity in proof.identities:
        yield "Identity", _identity_words(briefing, identity)
    for assumed in briefing.assumed:
        yield "Assumed", assumed.words
    yield "Times from", _time_sources(briefing)


def _identity_words(briefing: Briefing, identity: Identity) -> str:
    words = []
    if identity.carry_over:
        words.append("carry the machine's identity over to the new one")
    if identity.write_serial:
        words.append("write down the old and the new serial number")
    return f"{part_name(briefing.device, identity.part)}: {listed(words)}"


def _time_sources(briefing: Briefing) -> str:
    timing = briefing.timing
    words = [
        f"{count} {what}"
        for count, what in (
            (timing.from_file, "from the device file"),
            (timing.from_table, "from the table of work measurement"),
            (timing.from_assumption, "from the table with something assumed"),
        )
        if count
    ]
    return (", ".join(words) or "no steps") + "; ranges hold eight of ten jobs"


def _entries(entries: list[Entry], width: int) -> list[str]:
    """Labels on the left, each once, texts beside them; below each other where it is narrow."""
    beside = 17
    lines: list[str] = []
    last = ""
    for label, text in entries:
        if width < 60:
            if label != last:
                lines.append(label)
            lines.extend(wrap(text, width, indent=2, hang=4))
        else:
            texts = wrap(text, width, indent=beside, hang=beside + 2)
            head = pad(label if label != last else "", beside)
            lines.append(head + texts[0][beside:])
            lines.extend(texts[1:])
        last = label
    return lines

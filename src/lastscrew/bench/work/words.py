"""What happened, in a sentence: for histories, records and the list of what was done."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from lastscrew.device.model import Device
from lastscrew.plan.wording import joint_name, listed, part_name, piece_name
from lastscrew.run import events as e


def event_words(device: Device, event: e.Event) -> str:
    """One sentence without a full stop: ``Cover screws opened, 6 out, in A1``."""
    what = event.what
    say = _SAY.get(type(what))
    if say is not None:
        words = say(device, what)
        return words[:1].upper() + words[1:]
    return type(what).name.replace("_", " ").capitalize()


def _joint(device: Device, joint: str | None) -> str:
    return joint_name(device, joint or "")


def _opened(device: Device, what: e.Opened) -> str:
    words = [f"{_joint(device, what.joint)} opened"]
    if what.taken_out is not None:
        words.append(f"{what.taken_out} out")
    if what.compartment:
        words.append(f"in {what.compartment}")
    return ", ".join(words)


def _closed(device: Device, what: e.Closed) -> str:
    words = [f"{_joint(device, what.joint)} closed"]
    for count, text in (
        (what.put_back, "put back"),
        (what.new, "new"),
        (what.left_empty, "left empty"),
    ):
        if count is not None:
            words.append(f"{count} {text}")
    return ", ".join(words)


def _pieces(device: Device, what: Any) -> str:  # noqa: ANN401 (several happenings with the same fields)
    where = f" of {_joint(device, what.joint)}" if what.joint else f" {what.piece or ''}"
    return f"{what.count}{where}"


def _lost(device: Device, what: e.Lost) -> str:
    place = {True: " inside", False: " outside the machine", None: ""}[what.inside]
    searched = ", searched for" if what.searched else ", not searched for"
    return f"{_pieces(device, what)} lost{place}{searched}"


def _other_kind(device: Device, what: e.OtherKind) -> str:
    there = what.piece or f"{what.length_mm or 0:g} mm long"
    return f"{_joint(device, what.joint)}: {what.count} are {there}"


def _unreachable(device: Device, what: e.Unreachable) -> str:
    name = _joint(device, what.joint)
    if what.reason == "in_the_way" and what.part:
        return f"{name} not reachable: {part_name(device, what.part)} is in the way"
    if what.reason == "too_short":
        return f"{name}: too short"
    return f"{name} can't be worked on: {what.text or 'no reason given'}"


def _exchanged(device: Device, what: e.Exchanged) -> str:
    words = [f"{piece_name(device, what.part)} exchanged"]
    if what.old_serial:
        words.append(f"old {what.old_serial}")
    if what.new_serial:
        words.append(f"new {what.new_serial}")
    return ", ".join(words)


def _checked(device: Device, what: e.Checked) -> str:
    function = device.functions.get(what.function)
    name = function.name if function else what.function
    outcome = {"works": "works", "fails": "fails", "not_tried": "not tried"}[what.outcome]
    value = "" if what.value is None else f", {what.value:g} {what.unit or ''}".rstrip()
    when = {"before": " before opening", "during": " on the way", "after": ""}[what.phase]
    return f"{name}{when}: {outcome}{value}"


def _waived(device: Device, what: e.Waived) -> str:
    about = what.piece or what.about or ""
    if what.joint:
        about = _joint(device, what.joint)
    elif what.function:
        function = device.functions.get(what.function)
        about = function.name if function else what.function
    return f"{about} let stand by {what.person}: {what.reason}"


def _part_line(device: Device, what: e.PartLine) -> str:
    name = (
        piece_name(device, what.part)
        if what.part
        else (what.supply or what.piece or what.order_code)
    )
    return f"{name}: {what.state.replace('_', ' ')}"


def _act(device: Device, act_id: str | None) -> str:
    act = device.acts.get(act_id or "")
    return act.text.rstrip(".") if act else (act_id or "")


def _parked(_device: Device, what: e.Parked) -> str:
    words = ["Parked"]
    if what.place:
        words.append(f"at {what.place}")
    if what.waiting_for:
        words.append(f"waits for {what.waiting_for}")
    return ", ".join(words)


def _target(device: Device, what: e.TargetAdded | e.TargetDropped) -> str:
    name = piece_name(device, what.replace) if what.replace else _joint(device, what.reach)
    return name + (
        " added to the job" if isinstance(what, e.TargetAdded) else " left out of the job"
    )


def _started(device: Device, what: e.Started) -> str:
    names = [piece_name(device, piece) for piece in what.replace]
    names += [_joint(device, joint) for joint in what.reach]
    return f"Begun: {listed(names)}" if names else "Begun"


def _named(device: Device, what: Any) -> str:  # noqa: ANN401 (happenings with a joint or a part)
    if getattr(what, "joint", None):
        return _joint(device, what.joint)
    return part_name(device, what.part) if getattr(what, "part", None) else ""


_SAY: dict[type[e.Happening], Callable[[Device, Any], str]] = {
    e.Started: _started,
    e.TargetAdded: _target,
    e.TargetDropped: _target,
    e.Opened: _opened,
    e.Closed: _closed,
    e.Laid: lambda d, w: f"What came out of {_joint(d, w.joint)} laid in {w.compartment}",
    e.Turned: lambda _d, w: f"Turned to {w.side}",
    e.ActDone: lambda d, w: f"Done: {_act(d, w.act)}",
    e.Confirmed: lambda d, w: f"Confirmed: {w.text or _named(d, w) or _act(d, w.act)}",
    e.Waived: _waived,
    e.Renewed: lambda d, w: (
        f"New: {w.amount:g} {d.supplies[w.supply].name if w.supply in d.supplies else w.supply}"
    ),
    e.Scrapped: lambda d, w: f"{_pieces(d, w)} thrown away",
    e.Lost: _lost,
    e.Searched: lambda _d, w: f"Searched for what was lost{f', {w.where}' if w.where else ''}",
    e.Found: lambda d, w: f"{_pieces(d, w)} found{f', {w.where}' if w.where else ''}",
    e.Missing: lambda d, w: f"{_joint(d, w.joint)}: {w.count} missing",
    e.CountCorrected: lambda d, w: f"{_joint(d, w.joint)}: there are {w.count}",
    e.OtherKind: _other_kind,
    e.Recounted: lambda _d, w: f"Counted again: {sum(w.counts.values())} pieces",
    e.Stripped: lambda d, w: f"{_joint(d, w.joint)}: {w.count} with a worn {w.what}",
    e.Broken: lambda d, w: f"{_named(d, w)}: {w.text or f'{w.count} broke'}",
    e.Unreachable: _unreachable,
    e.Exchanged: _exchanged,
    e.CarriedOver: lambda d, w: f"{w.what} carried over to {part_name(d, w.part)}",
    e.PartJudged: lambda d, w: f"{part_name(d, w.part)} is {w.state.replace('_', ' ')}",
    e.PartLine: _part_line,
    e.PowerOn: lambda _d, _w: "Power on for a check",
    e.PowerOff: lambda _d, _w: "Power taken away again",
    e.Checked: _checked,
    e.Measured: lambda _d, w: f"{w.quantity}: {w.value:g} {w.unit}",
    e.Noted: lambda _d, w: f"Note: {w.text}",
    e.Photo: lambda d, w: (
        f"Photo{f' of {_named(d, w)}' if _named(d, w) else ''}{f': {w.text}' if w.text else ''}"
    ),
    e.Paused: lambda _d, w: f"Paused{f': {w.reason}' if w.reason else ''}",
    e.Resumed: lambda _d, _w: "Work goes on",
    e.HandedOver: lambda _d, w: f"Handed over to {w.to}",
    e.Parked: _parked,
    e.TakenBack: lambda _d, w: f"Taken back{f': {w.reason}' if w.reason else ''}",
    e.Finished: lambda _d, w: f"Ended: {w.outcome.replace('_', ' ')}",
}

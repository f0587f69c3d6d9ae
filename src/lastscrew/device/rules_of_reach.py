"""Rules about reaching: circular ``after``, joints that nobody can reach, isolation that needs itself.

Less that is fitted never makes a joint harder to reach (what is absent neither covers nor holds nor is
waited for). So a file in which everything can be reached with every option fitted is right for every
unit. Where that fails, a joint is an error if it can't be reached in the units that the file describes
by default, or (for one that these lack) with nothing fitted beyond what it needs itself; and only a
warning if it takes several options together to shut it in.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace
from typing import Final

from lastscrew.device.fitting import fit
from lastscrew.device.model import Access, Device, Joint
from lastscrew.device.notes import Notes
from lastscrew.device.opening import is_live
from lastscrew.device.reaching import Openings, TooTangledError
from lastscrew.saying import joined, say

_MOST_TRIED: Final = 3_000
"""Joints times attempts when looking for the one cause of many unreachable joints."""
_MOST_FITTINGS: Final = 50
_MOST_CAUSES: Final = 10
"""Causes that are told apart from their consequences."""
_MOST_ACCESS_STEPS: Final = 500_000
"""Steps spent on accesses that may be of no use; real devices need some thousands."""


def check_circles(device: Device, notes: Notes) -> frozenset[str]:
    """Note every circle of ``after``; returns the joints that lie on one."""
    waits = {j.id: [e for e in j.after if e in device.joints] for j in device.joints.values()}
    on_circles: set[str] = set()
    left = _without_ends(waits, waits)
    while left:
        circle = _a_circle(waits, left)
        on_circles.update(circle)
        first = min(circle, key=list(device.joints).index)
        at = circle.index(first)
        turned = [*circle[at:], *circle[:at], first]
        notes.add(
            ("joints", first, "after"),
            say("after goes round in a circle: {joints}", joints=_some(turned, say(" after "))),
            say("Take one of them out."),
            code="circular_after",
        )
        left = _without_ends(waits, left - set(circle))
    return frozenset(on_circles)


def _without_ends(waits: dict[str, list[str]], among: Collection[str]) -> set[str]:
    """What is left of ``among`` when every joint that waits for none of them is taken away, again and again."""
    left = set(among)
    followers: dict[str, list[str]] = {j: [] for j in left}
    open_waits = dict.fromkeys(left, 0)
    for joint in sorted(left):
        for earlier in waits[joint]:
            if earlier in left:
                followers[earlier].append(joint)
                open_waits[joint] += 1
    ends = [j for j, number in open_waits.items() if not number]
    while ends:
        joint = ends.pop()
        left.discard(joint)
        for follower in followers[joint]:
            open_waits[follower] -= 1
            if not open_waits[follower]:
                ends.append(follower)
    return left


def _a_circle(waits: dict[str, list[str]], among: set[str]) -> list[str]:
    """Some circle among joints that each wait for another of them."""
    joint = min(among)
    trail: dict[str, int] = {}
    while joint not in trail:
        trail[joint] = len(trail)
        joint = next(e for e in waits[joint] if e in among)
    return list(trail)[trail[joint] :]


def check_reach(device: Device, notes: Notes, circular: frozenset[str]) -> None:
    """Note joints that can never be opened and accesses that can never be used."""
    if "if_fitted" in notes.touched:
        return
    try:
        _check_reach(device, notes, circular)
    except TooTangledError:
        notes.add(
            ("joints",),
            say(
                "too much lies over and hangs on too much else to tell whether every joint can be reached"
            ),
            say("Describe it in fewer joints, or in assemblies of their own."),
            code="too_tangled",
        )


def _check_reach(device: Device, notes: Notes, circular: frozenset[str]) -> None:
    whole = fit(device, fitted=device.options)
    openings = Openings(whole)
    shut = [j for j in whole.joints if j not in openings.opened]
    if not shut:
        if not circular and not notes.touched & {"access", "under", "*"}:
            _check_accesses(device, whole, openings, notes)
        return
    default = fit(device)
    never = _never_opened(device, default, shut)
    _explain(default, [j for j in never if j in default.joints], notes, circular)
    for joint, fitting in never.items():
        if joint not in default.joints and joint not in circular:
            _note_shut(Openings(fitting), joint, notes)
    for joint in shut:
        if joint not in never:
            notes.warn(
                ("joints", joint),
                say(
                    "it can't be opened in a unit that has every option: {reason}",
                    reason=_reason(openings, joint),
                ),
                say("If these options are never fitted together, all is well."),
                code="unreachable_with_options",
            )


def _never_opened(device: Device, default: Device, shut: list[str]) -> dict[str, Device]:
    """Joints that are shut by default or, where units lack them, with as little fitted as they need; and that unit."""
    usual = Openings(default).opened
    never = {j: default for j in shut if j in default.joints and j not in usual}
    asking: dict[frozenset[str], list[str]] = {}
    for joint in shut:
        if joint not in default.joints:
            asking.setdefault(_needed_options(device, joint), []).append(joint)
    for needed in list(asking)[:_MOST_FITTINGS]:
        fitting = _least_fitting(device, needed)
        opened = Openings(fitting).opened
        never.update({j: fitting for j in asking[needed] if j not in opened})
    return never


def _needed_options(device: Device, joint_id: str) -> frozenset[str]:
    joint = device.joints[joint_id]
    asked = (
        joint.if_fitted,
        *(device.parts[p].if_fitted for p in joint.joins if p in device.parts),
    )
    return frozenset(option for option in asked if option is not None)


def _least_fitting(device: Device, needed: Collection[str]) -> Device:
    options = {o.id: replace(o, fitted=False) for o in device.options.values()}
    return fit(replace(device, options=options), fitted=needed)


def _explain(device: Device, shut: list[str], notes: Notes, circular: frozenset[str]) -> None:
    """Note every joint of ``shut``: the few causes with their reason, the rest as their consequences."""
    if not shut:
        return
    found = Openings(device)
    causes = [j for j in shut if j in circular]
    without_power = Openings(device, power_rule=False).opened
    for joint in shut:
        if device.joints[joint].isolates and joint in without_power and joint not in circular:
            _note_isolation(found, joint, notes)
            causes.append(joint)
    waiting = [j for j in shut if j not in causes]
    for cause in list(causes):
        waiting = _consequences(found, cause, waiting, notes)
    while waiting:
        if len(causes) >= _MOST_CAUSES:
            for joint in waiting:
                _note_shut(found, joint, notes)
            return
        cause = _best_cause(device, causes, waiting)
        _note_shut(found, cause, notes)
        causes.append(cause)
        waiting = _consequences(found, cause, [j for j in waiting if j != cause], notes)


def _consequences(found: Openings, cause: str, waiting: list[str], notes: Notes) -> list[str]:
    """Open ``cause`` by force, note those of ``waiting`` that follow, and return the others."""
    found.force(cause)
    for joint in waiting:
        if joint in found.opened:
            notes.add(
                ("joints", joint),
                say("nobody can reach it as long as {cause} can't be opened", cause=cause),
                say("Correct {cause} first.", cause=cause),
                code="unreachable",
            )
    return [joint for joint in waiting if joint not in found.opened]


def _note_shut(found: Openings, joint: str, notes: Notes) -> None:
    reason = "" if notes.full else _reason(found, joint)
    notes.add(
        ("joints", joint),
        say("nobody can ever reach it: {reason}", reason=reason),
        say("Correct its after and under, or add an access."),
        code="unreachable",
    )


def _best_cause(device: Device, forced: list[str], left: list[str]) -> str:
    """The joint of ``left`` whose opening would set most others free; the first of equals."""
    best, most = left[0], -1
    for joint in left[: _MOST_TRIED // (len(device.joints) + 1)]:
        trial = Openings(device)
        for other in (*forced, joint):
            trial.force(other)
        if len(trial.opened) > most:
            best, most = joint, len(trial.opened)
    return best


def _note_isolation(found: Openings, joint: str, notes: Notes) -> None:
    device = found.device
    live = [
        j
        for j in _blockers(found, joint)
        if is_live(device, device.joints[j]) and not device.joints[j].isolates
    ]
    first = live[0] if live else say("something that must be opened before it")
    notes.add(
        ("joints", joint),
        say(
            "the isolation can't be reached without itself: {reason}; {first} itself waits for isolation",
            reason=_reason(found, joint),
            first=first,
        ),
        say(
            "Say which joints carry no power (powered: false), or give the isolation another access."
        ),
        code="isolation_needs_itself",
    )


def _blockers(found: Openings, joint_id: str) -> list[str]:
    """Joints that stand between now and opening a joint, directly or through others that are shut."""
    seen: dict[str, None] = {}
    todo = [joint_id]
    while todo and len(seen) < 1_000:
        joint = found.device.joints[todo.pop(0)]
        direct = list(found.waits_for(joint.id))
        for access in joint.accesses:
            for cover in found.covers(joint, access):
                direct.extend(found.clusters.chain(cover, joint.joins, joint.id))
        for other in direct:
            if other not in seen and other != joint_id:
                seen[other] = None
                todo.append(other)
    return list(seen)


def _reason(found: Openings, joint_id: str) -> str:
    joint = found.device.joints[joint_id]
    waits = found.waits_for(joint_id)
    if waits:
        return say("it comes after {joints}, which can't be opened", joints=_some(waits))
    power = found.waits_for_power(joint_id)
    if power:
        return say(
            "it waits for {joints} to take the power away, which can't be opened",
            joints=_some(power),
        )
    reasons = [_access_reason(found, joint, access) for access in joint.accesses]
    return joined("; ", dict.fromkeys(reason for reason in reasons if reason)) or say(
        "its own opening is in the way"
    )


def _access_reason(found: Openings, joint: Joint, access: Access) -> str:
    for cover in found.covers(joint, access):
        links = found.clusters.chain(cover, joint.joins, joint.id)
        if links:
            by = _some(links, say(", then "))
            return say(
                "{part} lies over it and stays tied to it by {joints}", part=cover, joints=by
            )
        return say("{part} lies over it and stays tied to it", part=cover)
    return ""


def _some(names: Collection[str], between: str = ", ") -> str:
    listed = list(names)
    words = listed[0] if listed else ""
    for name in listed[1:6]:
        words = joined("", (words, between, name))
    more = len(listed) - 6
    return say("{names} and {count} more", names=words, count=more) if more > 0 else words


def _check_accesses(device: Device, whole: Device, openings: Openings, notes: Notes) -> None:
    """Note accesses that are still covered when everything is open that can be opened before the joint."""
    steps = openings.clusters.steps
    for joint in whole.joints.values():
        unused = [i for i in range(len(joint.accesses)) if i not in openings.opened[joint.id]]
        if not unused or steps > _MOST_ACCESS_STEPS:
            continue
        least = _least_fitting(device, _needed_options(device, joint.id))
        before = Openings(least, kept_closed=(joint.id,))
        steps += before.clusters.steps + len(device.joints)
        fitted_joint = least.joints[joint.id]
        for index in unused:
            access = fitted_joint.accesses[index]
            if before.covers(fitted_joint, access):
                notes.warn(
                    ("joints", joint.id, "access", index),
                    say(
                        "this access can never be used to open it: {reason}",
                        reason=_access_reason(before, fitted_joint, access),
                    ),
                    say("Correct what it lies under, or take it out."),
                    code="access_never_used",
                )

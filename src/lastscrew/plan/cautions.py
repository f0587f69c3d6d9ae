"""What can hurt, and where: hazards at the steps where they bite, power that is still on, hold points."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from typing import Literal

from lastscrew.device.model import Act, Device, Joint
from lastscrew.device.opening import access_is_free, clusters, is_live, isolating_joints
from lastscrew.plan.hold_words import isolation_words, standing_holds
from lastscrew.plan.model import Limb, Plan, Step
from lastscrew.plan.walking import Moment, moments_in, moments_out, open_at_start
from lastscrew.plan.wording import how_many, joint_name, marked, plain
from lastscrew.saying import say

HazardCause = Literal["joint", "part", "uncovered"]
HoldKind = Literal["isolation", "shutdown", "hold", "inspect", "prove", "second_person", "act"]
When = Literal["before", "after"]


@dataclass(frozen=True, slots=True)
class HazardAt:
    """A hazard at a step.

    Attributes:
        hazard: Id of the hazard.
        joint, limb: The step.
        cause: ``joint``: the joint itself carries it. ``part``: the joint names the part that
            carries it. ``uncovered``: the step lays that part bare.
        part: The part that carries it, None for the joint's own.
    """

    hazard: str
    joint: str
    limb: Limb
    cause: HazardCause
    part: str | None = None


@dataclass(frozen=True, slots=True)
class Hold:
    """A step that may not be passed without a person's confirmation.

    Attributes:
        limb: Way in or way out; acts of the turning point belong to the way in.
        joint: The step, None for an act that is tied to none.
        when: Confirmed before or after the step's own work.
        kind: Why.
        text: What is to be confirmed.
        function: For ``prove``: the function. ``act``: for ``act``: the act.
    """

    limb: Limb
    joint: str | None
    when: When
    kind: HoldKind
    text: str
    function: str | None = None
    act: str | None = None


def hazards_at_steps(device: Device, plan: Plan) -> tuple[HazardAt, ...]:
    """Hazards in the order of the steps, each once per step.

    A joint's hazard bites when it is opened and when it is closed; a part's at every step whose
    joint names it, and at the step that uncovers it.
    """
    uncovers = _uncovering_steps(device, plan)
    found: dict[tuple[Limb, str, str], HazardAt] = {}
    for step in (*plan.way_in, *plan.way_out):
        for at in _hazards_of_step(device, step, uncovers):
            found.setdefault((at.limb, at.joint, at.hazard), at)
    return tuple(found.values())


def _hazards_of_step(
    device: Device, step: Step, uncovers: dict[str, list[str]]
) -> Iterator[HazardAt]:
    joint = device.joints[step.joint]
    for hazard in joint.hazards:
        yield HazardAt(hazard, joint.id, step.limb, "joint")
    for part in joint.joins:
        for hazard in device.parts[part].hazards:
            yield HazardAt(hazard, joint.id, step.limb, "part", part)
    if step.limb == "in":
        for part in uncovers.get(joint.id, ()):
            for hazard in device.parts[part].hazards:
                yield HazardAt(hazard, joint.id, "in", "uncovered", part)


def _uncovering_steps(device: Device, plan: Plan) -> dict[str, list[str]]:
    """For the joints whose opening lays a hazardous part bare: these parts."""
    moments = moments_in(plan)
    found: dict[str, list[str]] = {}
    for part in device.parts.values():
        if part.hazards:
            step = _uncovering_step(device, part.id, moments)
            if step is not None:
                found.setdefault(step, []).append(part.id)
    return found


def _uncovering_step(device: Device, part: str, moments: tuple[Moment, ...]) -> str | None:
    """The joint whose opening first makes a covered joint of ``part`` reachable, None for none.

    Opening more never covers anything again, so that the moment is found by halving.
    """
    covered = [
        joint
        for joint in device.joints.values()
        if part in joint.joins and all(access.under for access in joint.accesses)
    ]
    if not covered or not moments or _is_bare(device, covered, moments[0].before):
        return None
    if not _is_bare(device, covered, moments[-1].after):
        return None
    low, high = 0, len(moments) - 1
    while low < high:
        middle = (low + high) // 2
        if _is_bare(device, covered, moments[middle].after):
            high = middle
        else:
            low = middle + 1
    return moments[low].step.joint


def _is_bare(device: Device, covered: list[Joint], opened: frozenset[str]) -> bool:
    """True when nothing lies over one of these joints any more."""
    tied = clusters(device, (j for j in device.joints if j not in opened))
    for joint in covered:
        cluster_of = tied
        if joint.rigid and any(
            part in joint.joins for access in joint.accesses for part in access.under
        ):
            # Only a joint that holds its own cover down can be what ties the cover to its parts.
            closed = (j for j in device.joints if j not in opened and j != joint.id)
            cluster_of = clusters(device, closed)
        if any(access_is_free(joint, access, cluster_of) for access in joint.accesses):
            return True
    return False


def still_live_steps(device: Device, plan: Plan) -> frozenset[tuple[Limb, str]]:
    """Steps inside the machine while the power is not (or no longer) taken away.

    On the way in those before the last isolating joint is open, on the way out those after the first one is
    closed. A step is inside when its joint is live itself, when something live that the machine covers
    lies bare while the step's joint is closed, or when its joint is not the first to come off and
    holds a part (not the fixed one) to which something live is connected.
    """
    isolators = frozenset(isolating_joints(device))
    live = [joint for joint in device.joints.values() if is_live(device, joint) or joint.isolates]
    covered = [joint for joint in live if all(access.under for access in joint.accesses)]
    wired = {part for joint in live for part in joint.joins} - {device.fixed_part}
    found: set[tuple[Limb, str]] = set()
    for moment in (*moments_in(plan), *moments_out(plan)) if live else ():
        step = moment.step
        with_it, without_it = moment.before, moment.after
        if step.limb == "out":
            with_it, without_it = without_it, with_it
        if isolators and isolators <= without_it:
            continue
        joint = device.joints[step.joint]
        deep = bool(joint.after) or all(access.under for access in joint.accesses)
        holds_wired = deep and bool(wired & set(joint.joins))
        if holds_wired or is_live(device, joint) or _is_bare(device, covered, with_it):
            found.add((step.limb, step.joint))
    return frozenset(found)


def holds_of(device: Device, plan: Plan) -> tuple[Hold, ...]:
    """Every hold point in the order of the work."""
    holds: list[Hold] = []
    holds.extend(_act_holds(device, plan.start_acts, "in"))
    opened = set(open_at_start(plan))
    for step in plan.way_in:
        opened.add(step.joint)
        holds.extend(_step_holds(device, step, opened))
    holds.extend(_act_holds(device, plan.turning_acts, "in"))
    for step in plan.way_out:
        holds.extend(_step_holds(device, step, opened))
    holds.extend(_act_holds(device, plan.end_acts, "out"))
    return tuple(holds)


def _step_holds(device: Device, step: Step, opened: Collection[str]) -> Iterator[Hold]:
    """Hold points of one step; ``opened``: joints that are open once it is done, on the way in."""
    joint = device.joints[step.joint]
    before, after = _tied_acts(device, step)
    yield from _acts_as_holds(before, step.limb, joint.id, "before")
    for kind, text in standing_holds(device, joint, step.limb):
        yield Hold(step.limb, joint.id, "before", kind, text)
    if step.limb == "out":
        yield from _proving_holds(device, joint)
    if joint.isolates and step.limb == "in":
        yield Hold("in", joint.id, "after", "isolation", isolation_words(device, joint.id, opened))
    yield from _acts_as_holds(after, step.limb, joint.id, "after")


def _proving_holds(device: Device, joint: Joint) -> Iterator[Hold]:
    name = joint_name(device, joint.id)
    for function_id in joint.prove_before_close:
        function = device.functions.get(function_id)
        what = function.check.rstrip(".") if function and function.check else say("it works")
        shown = function.name if function else function_id
        text = say(
            "Prove before {joint} is closed: {function} ({what}).",
            "Prove before {joint} are closed: {function} ({what}).",
            joint=marked(name),
            function=shown,
            what=what,
            n=how_many(name),
        )
        yield Hold("out", joint.id, "before", "prove", text, function=function_id)


def said_again(device: Device, joint_id: str, text: str) -> str:
    """The words of a hold point that were kept as plain text, as they were said; any other text as it is."""
    joint = device.joints.get(joint_id)
    if joint is None:
        return text
    words = [said for limb in LIMBS for _, said in standing_holds(device, joint, limb)]
    words += [hold.text for hold in _proving_holds(device, joint)]
    if joint.isolates:
        others = [each for each in isolating_joints(device) if each != joint_id]
        words += [isolation_words(device, joint_id, opened) for opened in ((), others)]
    own = plain(text)
    return next((plain(said) for said in words if plain(said) == own), text)


LIMBS: tuple[Limb, Limb] = ("in", "out")


def _tied_acts(device: Device, step: Step) -> tuple[list[Act], list[Act]]:
    acts = [device.acts[act] for act in step.act_ids]
    before = [act for act in acts if act.at.startswith("before")]
    return before, [act for act in acts if act not in before]


def _acts_as_holds(acts: list[Act], limb: Limb, joint: str | None, when: When) -> Iterator[Hold]:
    for act in acts:
        if act.hold:
            yield Hold(limb, joint, when, "act", act.hold, act=act.id)


def _act_holds(device: Device, act_ids: tuple[str, ...], limb: Limb) -> Iterator[Hold]:
    yield from _acts_as_holds([device.acts[act] for act in act_ids], limb, None, "after")


def bare_at_start(device: Device, plan: Plan) -> tuple[str, ...]:
    """Hazards of parts that lie bare already because joints were open at the start, in id order.

    No step uncovers these parts, so that they have to be said before the first step.
    """
    return hazards_laid_bare(device, open_at_start(plan))


def hazards_laid_bare(device: Device, joints: Collection[str]) -> tuple[str, ...]:
    """Hazards of parts that are covered in a closed machine and lie bare while these joints are open, in id order."""
    opened = frozenset(joints)
    if not opened:
        return ()
    found: set[str] = set()
    for part in device.parts.values():
        covered = [
            joint
            for joint in device.joints.values()
            if part.hazards
            and part.id in joint.joins
            and all(access.under for access in joint.accesses)
        ]
        if covered and _is_bare(device, covered, opened):
            found.update(part.hazards)
    return tuple(sorted(found))

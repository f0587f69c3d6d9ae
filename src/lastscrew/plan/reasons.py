"""Why each step of a plan is there, as a chain from the step to what was asked for.

Everything here is worked out from the plan and the device alone, whoever made the plan. For every
opening a *least* set of earlier openings is found without which it could not be done by the access
that the plan uses: the joints of its ``after``, the isolating joints if it is live, and just those
rigid joints that would still tie a part over it. Followed backwards from what was asked for, these
needs reach every joint that the plan has to open; a joint that they don't reach is not needed.

Each chain is the shortest, and none runs in a circle: a need leads to a joint that is opened later,
or to one that was justified before.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

from lastscrew.device.fitting import fit, joints_around
from lastscrew.device.model import Access, Device, Joint
from lastscrew.device.opening import is_live, isolating_joints
from lastscrew.plan.model import Limb, Plan, Step

LinkKind = Literal["piece", "reach", "after", "isolation", "cover", "open", "unneeded"]


@dataclass(frozen=True, slots=True)
class Link:
    """One link of a chain: why ``joint`` has to be open.

    Attributes:
        joint: The joint that this link explains.
        kind: ``piece``: it ties a piece to be exchanged to the rest. ``reach``: it was asked for.
            ``after``: ``leads_to`` may only be opened after it. ``isolation``: it takes the power
            away before ``leads_to``. ``cover``: it ties a part that lies over ``leads_to``.
            ``open``: it was open at the start. ``unneeded``: nothing that was asked for needs it.
        leads_to: The joint that needs it; None at the end of a chain.
        limb: ``in`` when the opening of ``leads_to`` needs it, ``out`` when only the closing does.
        piece: For ``piece``: the piece as it was asked for.
        cover: For ``cover``: the part that lies over ``leads_to``.
        held: For ``piece``: the part of the piece that it ties; for ``cover``: the part on the cover's side.
        held_to: What it is tied to.
        by_choice: True when ``leads_to`` has another access that does not need it, and the plan
            takes this one because the whole is cheaper so.
    """

    joint: str
    kind: LinkKind
    leads_to: str | None = None
    limb: Limb = "in"
    piece: str | None = None
    cover: str | None = None
    held: str | None = None
    held_to: str | None = None
    by_choice: bool = False


@dataclass(frozen=True, slots=True)
class Closing:
    """Why a joint is closed when it is.

    Attributes:
        joint: The joint.
        after: Why it may not be closed sooner: the last joint closed before it that needed it open.
        before: Why it may not be closed later: the first joint closed after it that it needs open.
        from_start: True when it was open at the start of the job.
    """

    joint: str
    after: Link | None = None
    before: Link | None = None
    from_start: bool = False


@dataclass(frozen=True, slots=True)
class Reasons:
    """The reason of every step.

    Attributes:
        opening: For every joint open at the turning point the chain that leads to what was asked
            for, its own link first.
        closing: For every joint that is closed why it is closed when it is.
        needs: For every opening the joints that had to be open before, in id order.
    """

    opening: Mapping[str, tuple[Link, ...]]
    closing: Mapping[str, Closing]
    needs: Mapping[str, tuple[str, ...]]

    @property
    def unneeded(self) -> tuple[str, ...]:
        """Joints that the plan opens and that nothing asked for needs, in id order."""
        return tuple(sorted(j for j, chain in self.opening.items() if chain[0].kind == "unneeded"))


def reasons_of(device: Device, plan: Plan) -> Reasons:
    """The reasons of all steps.

    Args:
        device: The device, whole or reduced to what is fitted.
        plan: A plan that can be carried out.
    """
    return _Justification(fit(device, plan.request.not_fitted, plan.request.fitted), plan).reasons()


@dataclass(slots=True)
class _Need:
    """What one opening or closing asks to be open."""

    links: tuple[Link, ...]

    @property
    def joints(self) -> tuple[str, ...]:
        return tuple(link.joint for link in self.links)


@dataclass(slots=True)
class _Ties:
    """Parts held together, joint by joint (union by root)."""

    root: dict[str, str] = field(default_factory=dict)

    def find(self, part: str) -> str:
        root = self.root
        top = part
        while root.get(top, top) != top:
            top = root[top]
        while part != top:
            root[part], part = top, root.get(part, part)
        return top

    def tie(self, parts: Sequence[str]) -> None:
        first = self.find(parts[0])
        for other in parts[1:]:
            self.root[self.find(other)] = first


class _Justification:
    """Works the reasons of one plan out."""

    def __init__(self, device: Device, plan: Plan) -> None:
        self.device = device
        self.plan = plan
        self.isolators = isolating_joints(device)
        self.in_order = {step.joint: i for i, step in enumerate(plan.way_in)}
        self.out_order = {step.joint: i for i, step in enumerate(plan.way_out)}
        self.start = sorted(set(self.out_order) - set(self.in_order))
        self.ends = self._ends()
        self.justified: set[str] = set(self.ends)
        self.in_needs: dict[str, _Need] = {}
        self.out_needs: dict[str, _Need] = {}
        self.edges: dict[str, list[Link]] = {}
        self.needed_by: dict[str, Link] = {}
        self.always_held = _Ties()
        for joint in device.joints.values():
            if joint.rigid and joint.id not in self.out_order:
                self.always_held.tie(joint.joins)

    def reasons(self) -> Reasons:
        """Follow the needs from what was asked for, then put the chains together."""
        for step in reversed(self.plan.way_in):
            if step.joint in self.justified:
                self._follow(self._opening_need(step))
        self._follow_closings([joint for joint in self.out_order if joint in self.justified])
        self._follow_closings(self.start)
        for step in self.plan.way_in:  # what nothing needs, with its own needs for completeness
            self._opening_need(step)
        for step in (
            self.plan.way_out
        ):  # the last one that needs a joint open is why it may not go back sooner
            self.needed_by.update({link.joint: link for link in self._closing_need(step).links})
        return Reasons(
            opening=self._chains(),
            closing={step.joint: self._closing(step) for step in self.plan.way_out},
            needs={j: tuple(sorted(set(need.joints))) for j, need in sorted(self.in_needs.items())},
        )

    def _ends(self) -> dict[str, Link]:
        """The joints that were asked for, with the last link of their chains."""
        ends: dict[str, Link] = {}
        names = self.plan.request.replace
        for piece, parts in zip(names, self.plan.pieces, strict=True):
            inside = [part for part in parts if part in self.device.parts]
            for joint_id in joints_around(self.device, inside):
                joins = self.device.joints[joint_id].joins
                held = next(part for part in joins if part in inside)
                held_to = next(part for part in joins if part not in inside)
                ends.setdefault(
                    joint_id, Link(joint_id, "piece", piece=piece, held=held, held_to=held_to)
                )
        for joint_id in self.plan.request.reach:
            ends.setdefault(joint_id, Link(joint_id, "reach"))
        return {j: link for j, link in ends.items() if j in self.in_order}

    def _follow(self, need: _Need) -> None:
        for link in need.links:
            if link.joint in self.in_order:
                self.justified.add(link.joint)
                self.edges.setdefault(link.joint, []).append(link)

    def _follow_closings(self, waiting: Iterable[str]) -> None:
        """Justify what closings need, and what those joints need in their turn."""
        steps_in = {step.joint: step for step in self.plan.way_in}
        queue = list(waiting)
        while queue:
            joint_id = queue.pop(0)
            before = set(self.justified)
            need = self._closing_need(self.plan.way_out[self.out_order[joint_id]])
            self._follow(_Need(tuple(link for link in need.links if link.joint not in before)))
            fresh = self.justified - before
            while fresh:
                queue.extend(sorted(fresh, key=self.in_order.__getitem__))
                known = set(self.justified)
                for other in sorted(fresh, key=self.in_order.__getitem__, reverse=True):
                    self._follow(self._opening_need(steps_in[other]))
                fresh = self.justified - known

    def _opening_need(self, step: Step) -> _Need:
        """What has to be open before a joint can be opened by the access that the plan uses."""
        found = self.in_needs.get(step.joint)
        if found is None:
            position = self.in_order[step.joint]
            opened = {*self.start, *(s.joint for s in self.plan.way_in[:position])}
            found = self.in_needs[step.joint] = _Need(tuple(self._needs(step, opened)))
        return found

    def _closing_need(self, step: Step) -> _Need:
        """What has to be open still when a joint is closed by the access that the plan uses."""
        found = self.out_needs.get(step.joint)
        if found is None:
            position = self.out_order[step.joint]
            opened = {s.joint for s in self.plan.way_out[position + 1 :]}
            found = self.out_needs[step.joint] = _Need(tuple(self._needs(step, opened)))
        return found

    def _needs(self, step: Step, opened: set[str]) -> Iterator[Link]:
        """A least set of the open joints that the step can't do without."""
        joint = self.device.joints[step.joint]
        access = joint.accesses[step.access]
        needed: set[str] = set()
        for earlier in sorted(set(joint.after) & opened):
            needed.add(earlier)
            yield Link(earlier, "after", leads_to=joint.id, limb=step.limb)
        if is_live(self.device, joint) and not joint.isolates:
            for isolator in sorted(set(self.isolators) & opened - needed):
                needed.add(isolator)
                yield Link(isolator, "isolation", leads_to=joint.id, limb=step.limb)
        yield from self._covers(step, joint, access, opened, needed)

    def _covers(
        self, step: Step, joint: Joint, access: Access, opened: set[str], needed: set[str]
    ) -> Iterator[Link]:
        """Joints that tie a part over the step: each is closed in thought, unless that would cover it.

        Joints that nothing has justified yet are closed first, so that as few as possible are left.
        """
        if not access.under:
            return
        ties = self._held_while(opened, joint.id)
        rigid = [j for j in sorted(opened - needed) if self.device.joints[j].rigid]
        rigid.sort(key=lambda j: (j in self.start, j in self.justified))
        for other in rigid:
            link = self._cover_link(self.device.joints[other], joint, access, ties, step.limb)
            if link is None:
                ties.tie(self.device.joints[other].joins)
            else:
                yield self._with_choice(link, joint, step, opened)

    def _held_while(self, opened: Collection[str], apart: str) -> _Ties:
        """What closed rigid joints hold together, the joint ``apart`` left out."""
        ties = _Ties(dict(self.always_held.root))
        for joint_id in self.out_order:
            joint = self.device.joints[joint_id]
            if joint.rigid and joint_id not in opened and joint_id != apart:
                ties.tie(joint.joins)
        return ties

    def _cover_link(
        self, other: Joint, joint: Joint, access: Access, ties: _Ties, limb: Limb
    ) -> Link | None:
        """The link, if closing ``other`` on top of ``ties`` would lay a part over ``joint``."""
        touched: dict[str, str] = {}
        for part in other.joins:
            touched.setdefault(ties.find(part), part)
        for cover in access.under:
            over = ties.find(cover)
            if over not in touched:
                continue
            for part in joint.joins:
                below = ties.find(part)
                if part != cover and below in touched and below != over:
                    held = cover if cover in other.joins else touched[over]
                    held_to = part if part in other.joins else touched[below]
                    return Link(other.id, "cover", joint.id, limb, None, cover, held, held_to)
        return None

    def _with_choice(self, link: Link, joint: Joint, step: Step, opened: set[str]) -> Link:
        """Mark the link when another access of the joint could have done without."""
        if len(joint.accesses) == 1:
            return link
        ties = self._held_while(opened - {link.joint}, joint.id)
        free = any(
            all(
                ties.find(cover) != ties.find(part)
                for cover in access.under
                for part in joint.joins
                if part != cover
            )
            for number, access in enumerate(joint.accesses)
            if number != step.access
        )
        if not free:
            return link
        return Link(
            link.joint, link.kind, link.leads_to, link.limb, None, link.cover, link.held, link.held_to,
            by_choice=True,
        )  # fmt: skip

    def _chains(self) -> dict[str, tuple[Link, ...]]:
        """The shortest chain of every joint, breadth first from the ends."""
        chains: dict[str, tuple[Link, ...]] = {j: (link,) for j, link in sorted(self.ends.items())}
        for joint_id in self.start:
            chains[joint_id] = (Link(joint_id, "open"),)
        for ends in (sorted(self.ends), self.start):
            self._lengthen(chains, ends)
        for joint_id in self.in_order:
            chains.setdefault(joint_id, (Link(joint_id, "unneeded"),))
        return dict(sorted(chains.items()))

    def _lengthen(self, chains: dict[str, tuple[Link, ...]], ends: Collection[str]) -> None:
        leading_to: dict[str, list[Link]] = {}
        for links in self.edges.values():
            for link in links:
                assert link.leads_to is not None
                leading_to.setdefault(link.leads_to, []).append(link)
        front = list(ends)
        while front:
            following: list[str] = []
            for joint_id in sorted(front, key=self._position):
                for link in sorted(leading_to.get(joint_id, ()), key=lambda one: one.joint):
                    if link.joint not in chains:
                        chains[link.joint] = (link, *chains[joint_id])
                        following.append(link.joint)
            front = following

    def _position(self, joint_id: str) -> tuple[int, str]:
        return (self.in_order.get(joint_id, len(self.in_order)), joint_id)

    def _closing(self, step: Step) -> Closing:
        later = sorted(self._closing_need(step).links, key=lambda link: self.out_order[link.joint])
        sooner = self.needed_by.get(step.joint)
        return Closing(
            step.joint,
            after=sooner,
            before=later[0] if later else None,
            from_start=step.joint in self.start,
        )

"""What a text leaves open, most consequential first."""

from __future__ import annotations

from collections import Counter

from lastscrew.device.model import Device
from lastscrew.device.names import joint_label, part_label
from lastscrew.device.opening import is_live, isolating_joints
from lastscrew.reading.draft_order import FROM_THE_WALL
from lastscrew.reading.draft_workshop import JointDraft, Workshop
from lastscrew.reading.model import Question


def questions_of(
    workshop: Workshop, joints: list[JointDraft], device: Device
) -> tuple[Question, ...]:
    """All open questions, heaviest first; a question that was answered is gone.

    Weights are our own order: what can hurt, what all plans hang on, what one joint hangs on.
    """
    found = [
        *_isolation(workshop, joints, device),
        *_fixed(workshop, device),
        *_sides(device),
        *_of_joints(joints, device),
    ]
    return tuple(sorted(found, key=lambda q: (-q.weight, q.line, q.id)))


def _isolation(workshop: Workshop, joints: list[JointDraft], device: Device) -> list[Question]:
    if "isolates" in workshop.answers:
        return []
    cord = next((j for j in joints if j.isolates and j.why.get("isolates") == FROM_THE_WALL), None)
    if cord is not None:
        label = joint_label(device, cord.id)
        return [
            Question(
                "isolates",
                "Which joint takes the power away? The text unplugs the cord first and names no battery.",
                cord.line,
                label,
                1000,
            )
        ]
    if isolating_joints(device):
        return []
    live = [joint.id for joint in device.joints.values() if is_live(device, joint)]
    if not live:
        return []
    return [
        Question(
            "isolates",
            f"Which joint takes the power away? {len(live)} joint{'s' * (len(live) != 1)} may be live, and the text "
            "names none.",
            assumed="none",
            weight=1000,
        )
    ]


def _fixed(workshop: Workshop, device: Device) -> list[Question]:
    if "fixed" in workshop.answers:
        return []
    return [
        Question(
            "fixed",
            "What stays on the bench?",
            assumed=part_label(device, device.fixed_part),
            weight=900,
        )
    ]


def _sides(device: Device) -> list[Question]:
    unknown = [joint for joint in device.joints.values() if "side" in joint.accesses[0].unknown]
    if not unknown:
        return []
    return [
        Question(
            "side",
            f"From which side are the joints reached? The text does not say it for {len(unknown)} of them "
            "(answer for all with 'side', for one with 'side.JOINT').",
            assumed=device.sides[0],
            weight=800,
        )
    ]


def _of_joints(joints: list[JointDraft], device: Device) -> list[Question]:
    uses = Counter(part for joint in device.joints.values() for part in joint.accesses[0].under)
    questions = []
    for draft in joints:
        joint = device.joints[draft.id]
        label = joint_label(device, draft.id)
        hangs = sum(uses[part] for part in joint.joins)
        between = " and ".join(part_label(device, part) for part in joint.joins)
        if "count" in joint.unknown:
            questions.append(
                Question(
                    f"count.{draft.id}",
                    f"{label}: how many?",
                    draft.line,
                    str(joint.count),
                    500 + hangs,
                )
            )
        why = draft.why.get("joins", "")
        if joint.kind != "seat" and ("not said" in why or why.startswith("inferred")):
            questions.append(
                Question(
                    f"joins.{draft.id}",
                    f"{label}: what is joined here? ({why})",
                    draft.line,
                    between,
                    400 + hangs,
                )
            )
        if draft.under and draft.why.get("under", "").startswith("inferred"):
            over = ", ".join(part_label(device, part) for part in joint.accesses[0].under)
            questions.append(
                Question(
                    f"under.{draft.id}",
                    f"{label}: what lies over it? ({draft.why['under']})",
                    draft.line,
                    over,
                    300 + hangs,
                )
            )
        if "fastener" in joint.unknown:
            questions.append(
                Question(
                    f"fastener.{draft.id}",
                    f"{label}: which size and drive?",
                    draft.line,
                    "",
                    200 + hangs,
                )
            )
        if "tool" in joint.accesses[0].unknown:
            questions.append(
                Question(
                    f"tool.{draft.id}", f"{label}: which tool?", draft.line, "none", 150 + hangs
                )
            )
    return questions

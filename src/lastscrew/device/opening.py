"""When a joint can be opened: liveness, clusters and accesses, by the book and without tricks.

These functions are the plain statement of the rules, for small questions (one joint, one state). The
planner has its own fast form of them.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable

from lastscrew.device.model import Access, Device, Joint


def is_live(device: Device, joint: Joint) -> bool:
    """True when the joint is powered or names a part that stores energy."""
    return joint.powered or any(device.parts[part].energy for part in joint.joins)


def isolating_joints(device: Device) -> tuple[str, ...]:
    """Ids of the joints that take the power away, in id order."""
    return tuple(sorted(joint.id for joint in device.joints.values() if joint.isolates))


def clusters(device: Device, closed: Iterable[str]) -> dict[str, str]:
    """Group the parts that the rigid joints among ``closed`` hold together.

    Returns:
        For every part the id of its cluster (the least part id in it).
    """
    leader = {part: part for part in device.parts}

    def find(part: str) -> str:
        while leader[part] != part:
            leader[part] = leader[leader[part]]
            part = leader[part]
        return part

    for joint_id in sorted(closed):
        joint = device.joints[joint_id]
        if not joint.rigid:
            continue
        for other in joint.joins[1:]:
            low, high = sorted((find(joint.joins[0]), find(other)))
            leader[high] = low
    return {part: find(part) for part in device.parts}


def access_is_free(joint: Joint, access: Access, cluster_of: dict[str, str]) -> bool:
    """True when nothing that ``access`` lies under is still tied to a part that ``joint`` joins."""
    return not any(
        cluster_of[cover] == cluster_of[part]
        for cover in access.under
        for part in joint.joins
        if part != cover
    )


def accesses_that_allow(device: Device, opened: Collection[str], joint_id: str) -> tuple[int, ...]:
    """Indices of the accesses by which ``joint_id`` can be opened while ``opened`` are open.

    Args:
        device: The device, reduced to what is fitted.
        opened: Ids of the open joints (the joint itself counts as closed whether in it or not).
        joint_id: The joint to open.

    Returns:
        Indices into ``joint.accesses``; empty when it can't be opened now. With ``opened`` taken
        without the joint, this also says whether and how an open joint can be closed.
    """
    joint = device.joints[joint_id]
    if any(earlier not in opened for earlier in joint.after):
        return ()
    if is_live(device, joint) and not joint.isolates:
        if any(isolator not in opened for isolator in isolating_joints(device)):
            return ()
    still_closed = (j for j in device.joints if j not in opened and j != joint_id)
    cluster_of = clusters(device, still_closed)
    return tuple(
        index
        for index, access in enumerate(joint.accesses)
        if access_is_free(joint, access, cluster_of)
    )


def parts_off(device: Device, opened: Collection[str]) -> tuple[str, ...]:
    """Parts of which every joint is open, in id order (the fixed part never comes off)."""
    return _parts_free(device, opened, only_rigid=False)


def parts_loose(device: Device, opened: Collection[str]) -> tuple[str, ...]:
    """Parts of which every rigid joint is open: they fall, or hang on their cables."""
    return _parts_free(device, opened, only_rigid=True)


def _parts_free(device: Device, opened: Collection[str], *, only_rigid: bool) -> tuple[str, ...]:
    held = {
        part
        for joint in device.joints.values()
        if joint.id not in opened and (joint.rigid or not only_rigid)
        for part in joint.joins
    }
    return tuple(sorted(p.id for p in device.parts.values() if not p.fixed and p.id not in held))

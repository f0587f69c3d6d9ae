"""Ways and times: what no plan can take out, and times that nobody's hands have."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from lastscrew.audit.findings import Finding, Severity
from lastscrew.audit.noting import Notebook
from lastscrew.device.fitting import fit, joints_around, joints_within
from lastscrew.device.model import Access, Device, Joint, Spare
from lastscrew.device.reaching import Openings, TooTangledError
from lastscrew.plan.wording import joint_name, listed, marked, part_name, seconds
from lastscrew.saying import say
from lastscrew.times.most import MS_PER_TMU, motions_tmu
from lastscrew.times.work import joint_motions

FAR: Final = 8.0
"""A given time this many times longer or shorter than the table's is a warning (our own figure)."""

OFF: Final = 4.0
"""From here on it is a note (our own figure). Work measurement and real benches easily differ by two."""

LEAST_LONGER_MS: Final = 15_000
LEAST_SHORTER_MS: Final = 4_000
"""Differences of less than this are not worth a word (our own figures)."""

AN_HOUR_MS: Final = 3_600_000
"""Nobody's hands are at one joint for longer (our own figure); waiting has keys of its own."""

_NOT_TIMED: Final = frozenset(("adhesive", "solder", "rivet", "seat", "other"))
"""Kinds whose time hangs on heat, curing, weight and luck: the table has no opinion that counts."""


def way_findings(notebook: Notebook) -> Iterator[Finding]:
    """Findings about ways and times."""
    for spare in notebook.device.spares.values():
        yield from _in_pieces(notebook, spare)
        yield from _not_whole(notebook, spare)
    for joint in notebook.device.joints.values():
        yield from _times(notebook, joint)


# --- ways -------------------------------------------------------------------------------------------


def _not_whole(notebook: Notebook, spare: Spare) -> Iterator[Finding]:
    """A spare that has to be broken up before it comes out, and so can't be exchanged as one piece.

    Looked at on a unit with all options. (A single part always comes out: `check` refuses a joint that
    can never be opened, and what an option takes away only makes others easier to reach.)
    """
    device = fit(notebook.device, (), tuple(notebook.device.options))
    contains = [part for part in spare.contains if part in device.parts]
    inside = joints_within(device, contains)
    if not inside:
        return
    try:
        opened = Openings(device, kept_closed=inside).opened
    except TooTangledError:
        return
    stuck = [joint for joint in joints_around(device, contains) if joint not in opened]
    if stuck:
        yield notebook.note(
            "not_removable",
            "note",
            ("spares", spare.id, "contains"),
            say(
                "No plan can take *{name}* out whole: {names} can't be reached while its own joints stay closed.",
                name=spare.name,
                names=listed([marked(joint_name(device, j)) for j in stuck], limit=3),
            ),
            say(
                "Fine if the new one comes in pieces too; else look at `under` and `after` of these joints."
            ),
            also=tuple(("joints", joint) for joint in stuck[:3]),
        )


def _in_pieces(notebook: Notebook, spare: Spare) -> Iterator[Finding]:
    """A spare whose parts nothing ties together can't be handed over as one piece."""
    device = notebook.device
    if len(spare.contains) < 2:
        return
    inside = joints_within(device, spare.contains)
    groups = _tied(device, spare.contains, inside)
    if len(groups) > 1:
        names = [listed([part_name(device, p) for p in group]) for group in groups]
        yield notebook.note(
            "not_removable",
            "note",
            ("spares", spare.id, "contains"),
            say(
                "{spare} is exchanged as one piece, but no joint ties {parts} to {others}.",
                spare=marked(spare.name),
                parts=names[0],
                others=names[1],
            ),
            say(
                "Add the joint between them, make two spares of it, or say in the name that it is a set."
            ),
        )


def _tied(device: Device, parts: tuple[str, ...], joints: tuple[str, ...]) -> list[list[str]]:
    """Parts that joints of any kind tie together, in groups."""
    leader = {part: part for part in parts}

    def find(part: str) -> str:
        while leader[part] != part:
            part = leader[part]
        return part

    for joint in joints:
        first, *others = device.joints[joint].joins
        for other in others:
            leader[find(other)] = find(first)
    groups: dict[str, list[str]] = {}
    for part in parts:
        groups.setdefault(find(part), []).append(part)
    return list(groups.values())


# --- times ------------------------------------------------------------------------------------------


def _times(notebook: Notebook, joint: Joint) -> Iterator[Finding]:
    for index, access in enumerate(joint.accesses):
        for key, given, closing in (
            ("open_s", access.open_ms, False),
            ("close_s", access.close_ms, True),
        ):
            if given is None:
                continue
            doubt = _doubt(notebook.device, joint, access, given, closing=closing)
            if doubt is not None:
                grade, text, remedy = doubt
                path = notebook.access_path(joint.id, index, key)
                yield notebook.note("improbable_time", grade, path, text, remedy)


def _doubt(
    device: Device, joint: Joint, access: Access, given: int, *, closing: bool
) -> tuple[Severity, str, str] | None:
    """What is doubtful about a given time: grade, explanation, remedy."""
    values: dict[str, object] = {
        "joint": marked(joint_name(device, joint.id)),
        "time": str(seconds(given)),
    }
    what = say("{joint}: {time} s to open", **values)
    if closing:
        what = say("{joint}: {time} s to close", **values)
    if given > AN_HOUR_MS:
        text = say("{what} is more than an hour of work with the hands.", what=what)
        return (
            "warning",
            text,
            say("If hands are free meanwhile, it is `wait_open_s` or `wait_close_s`."),
        )
    if joint.kind in _NOT_TIMED:
        return None
    table = round(motions_tmu(joint_motions(device, joint, access, closing=closing)) * MS_PER_TMU)
    factor = max(given, 1) / max(table, 1)
    least = LEAST_LONGER_MS if given > table else LEAST_SHORTER_MS
    if abs(given - table) < least or 1 / OFF < factor < OFF:
        return None
    far = factor >= FAR or factor <= 1 / FAR
    told = joint.note_close if closing else joint.note_open
    text = say(
        "{what} {pieces}; basic MOST has about {time} s for such work, {times}.",
        what=what,
        pieces=_pieces(joint),
        time=max(1, round(table / 1000)),
        times=_times_as(factor),
    )
    grade: Severity = "warning" if far and not told else "note"
    return grade, text, say("Put the figure right, or say in a note what takes so long.")


def _pieces(joint: Joint) -> str:
    return say("{n} pieces", n=joint.count) if joint.count > 1 else say("one piece")


def _times_as(factor: float) -> str:
    if factor > 1:
        return say("so this is {times} times as long", times=f"{factor:.0f}")
    return say("so this is {share} of it", share=f"1/{1 / factor:.0f}")

"""May the job be closed? Everything that stands in the way, from the books, the checks and the people."""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from lastscrew.device.model import Device
from lastscrew.fasteners.ledger import hindrances, ledger_of
from lastscrew.proof.checks import open_proofs
from lastscrew.run import events as e
from lastscrew.run.folding import in_force
from lastscrew.run.state import JobState

DEFAULT_SHARE = 10
"""Jobs of a hundred that a second person looks over where nobody is a beginner (our own figure)."""

WORK = (e.Opened, e.Closed, e.Exchanged, e.ActDone, e.PowerOn)


@dataclass(frozen=True, slots=True)
class InTheWay:
    """One thing that stands in the way of closing a job.

    Attributes:
        code: Short stable name (``open_joint``, ``check_open``, ``second_person`` …).
        text: One sentence; names are set off with stars.
        joint, function, piece, part: What it is about, as an event ``waived`` would name it.
        about: Id of the event that a waiver would name.
        can_be_waived: A named person may let it stand with a reason.
    """

    code: str
    text: str
    joint: str | None = None
    function: str | None = None
    piece: str | None = None
    part: str | None = None
    about: str | None = None
    can_be_waived: bool = True


def in_the_way(
    device: Device,
    state: JobState,
    *,
    beginners: Collection[str] = (),
    looked_over: Collection[str] = (),
    share: int = DEFAULT_SHARE,
    run: str = "",
) -> tuple[InTheWay, ...]:
    """What stands in the way of closing a job; empty when it may be closed.

    Args:
        device: The whole device, of the revision that the job keeps.
        state: How the job stands, with its log.
        beginners: People whose work a second person always looks over.
        looked_over: People who have looked the finished work over since it was last touched.
        share: Jobs of a hundred, of people who are no beginners, that are looked over too.
        run: Key of the job; it decides whether the job falls into the share, always the same.
    """
    ledger = ledger_of(device, state.log)
    lost = {loss.joint: loss.event for loss in ledger.losses}
    surplus = {entry.kind: entry.event for entry in ledger.surplus}
    found: list[InTheWay] = []
    for each in hindrances(device, state, ledger):
        about = None
        if each.code == "lost_unsearched":
            about = lost.get(each.joint)
        elif each.code == "surplus" and each.kind is not None:
            about = surplus.get(each.kind)
        found.append(
            InTheWay(
                each.code,
                each.text,
                joint=each.joint,
                piece=each.kind.key if each.kind else None,
                about=about,
                can_be_waived=each.code != "check_on",
            )
        )
    for proof in open_proofs(device, state):
        waivable = proof.function is not None
        found.append(
            InTheWay(
                proof.code,
                proof.text,
                function=proof.function,
                part=proof.part,
                can_be_waived=waivable,
            )
        )
    if needs_second_person(state, beginners, share, run):
        others = set(looked_over) - set(workers(state))
        if not others:
            text = "A second person has not yet looked the finished work over."
            found.append(InTheWay("second_person", text, can_be_waived=False))
    return tuple(found)


def workers(state: JobState) -> tuple[str, ...]:
    """Everybody who opened, closed or exchanged something, in the order of their first step."""
    names = (event.by for event in in_force(state.log) if isinstance(event.what, WORK))
    return tuple(dict.fromkeys(name for name in names if name))


def needs_second_person(state: JobState, beginners: Collection[str], share: int, run: str) -> bool:
    """True for all jobs in which a beginner had a hand, and for a share of the others.

    Which ones is decided by the key of the job, so that nobody can choose, and asking twice gives
    the same.
    """
    hands = workers(state)
    if not hands:
        return False
    if any(name in beginners for name in hands):
        return True
    return int(hashlib.sha256(run.encode()).hexdigest()[:8], 16) % 100 < share


def last_touch_ms(events: Sequence[e.Event]) -> int | None:
    """When the machine was last worked on: who looked before has not seen how it is now."""
    times = [
        moment
        for event in in_force(events)
        if isinstance(event.what, WORK) and (moment := event.stored_ms or event.at_ms) is not None
    ]
    return max(times, default=None)

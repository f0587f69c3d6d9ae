"""What is done once, and must be done again when the machine was closed, tried or opened since."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from lastscrew.plan.model import Limb
from lastscrew.run import events as e
from lastscrew.run.folding import in_force
from lastscrew.run.state import JobState


@dataclass(frozen=True, slots=True)
class ActsDue:
    """When acts were done last, and what happened around them; numbers count the events of the job.

    Attributes:
        done: Act to the last time that it was done.
        opened, closed: Joint to the last time that it was opened, closed.
        tried: The last time that the whole machine was tried, and so switched on: -1 for never.
    """

    done: Mapping[str, int]
    opened: Mapping[str, int]
    closed: Mapping[str, int]
    tried: int = -1

    @classmethod
    def of(cls, state: JobState) -> ActsDue:
        """From the events of a job that count."""
        done: dict[str, int] = {}
        opened: dict[str, int] = {}
        closed: dict[str, int] = {}
        tried = -1
        for number, event in enumerate(in_force(state.log)):
            what = event.what
            if isinstance(what, e.ActDone):
                done[what.act] = number
            elif isinstance(what, e.Opened):
                opened[what.joint] = number
            elif isinstance(what, e.Closed):
                closed[what.joint] = number
            elif isinstance(what, e.FinalCheck) or (
                isinstance(what, e.Checked) and what.phase == "after"
            ):
                tried = number
        return cls(done, opened, closed, tried)

    def is_done_at(self, act: str, joint: str, limb: Limb, *, before: bool) -> bool:
        """True when an act around a joint was done since the joint moved last.

        A pack that is unplugged once more is discharged once more.
        """
        opened, closed = self.opened.get(joint, -1), self.closed.get(joint, -1)
        other = closed if limb == "in" else opened
        return self.done.get(act, -1) > (other if before else max(opened, closed))

    def is_done_first(self, act: str, *, opens_more: bool) -> bool:
        """True when an act before the work was done, and nobody has switched the machine on to try it since.

        What was tried is opened again only after it was shut down again; ``opens_more``: something is still
        to be opened.
        """
        return self.done.get(act, -1) > (self.tried if opens_more else -1)

    def is_done_last(self, act: str) -> bool:
        """True when an act after the work was done, and nothing was opened since."""
        return self.done.get(act, -1) > max(self.opened.values(), default=-1)

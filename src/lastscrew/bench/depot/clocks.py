"""How long steps really take, from the moments of a job's events.

The rule (our own, no source):

- Time runs between two events of the same screen, by that screen's clock, while the job is neither paused
  nor parked nor ended. Between two screens, or where a clock was set back, nothing is known and nothing
  is counted.
- Events of a screen within a second of each other are one tap (*a whole stage is done*). The time since
  the tap before is shared out among its steps in proportion to their estimates.
- A step is marked as an outlier where its tap took more than five minutes and more than ten
  times the estimate (an interruption that nobody entered), or less than a tenth of the estimate (entered afterwards).
- Hands-on time is the sum of all taps less those that were too long. Those are summed up apart.

How steps compare over many jobs (and which are outliers among them) is for
:func:`lastscrew.times.measured.without_outliers`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

from lastscrew.run.events import Closed, Event, Finished, Opened, Parked, Paused, Resumed, Started

TAP_MS = 1_000
LONG_MS = 5 * 60_000
LONG_FACTOR = 10
SHORT_FACTOR = 10

MAX_TAKEN_MS = 2**31 - 1
"""What fits a column; 24 days."""


@dataclass(frozen=True, slots=True)
class Step:
    """A joint opened or closed in the tap at hand."""

    event: str
    limb: str
    joint: str
    person: str
    at_ms: int
    estimate_ms: int


@dataclass(frozen=True, slots=True)
class TimedStep:
    """What a step took."""

    event: str
    limb: str
    joint: str
    person: str
    at_ms: int
    taken_ms: int
    is_outlier: bool


@dataclass(frozen=True, slots=True)
class Clock:
    """The time of a job so far.

    Attributes:
        runs: The job goes on (not paused, parked, ended).
        client: Screen of the last event that had a moment.
        from_ms: When the tap before the one at hand ended, None where that is not known.
        at_ms: When the tap at hand ended so far.
        steps: Steps of the tap at hand.
        settled_ms, set_apart_ms: Hands-on time, and what was too long for it, without the tap at hand.
    """

    runs: bool = False
    client: str | None = None
    from_ms: int | None = None
    at_ms: int | None = None
    steps: tuple[Step, ...] = ()
    settled_ms: int = 0
    set_apart_ms: int = 0

    @property
    def tap_ms(self) -> int | None:
        """How long the tap at hand took, None where that is not known."""
        if self.from_ms is None or self.at_ms is None:
            return None
        return self.at_ms - self.from_ms

    @property
    def estimate_ms(self) -> int:
        """What the steps of the tap at hand should take."""
        return sum(step.estimate_ms for step in self.steps)

    @property
    def is_too_long(self) -> bool:
        """True for a tap that can hardly have been work from end to end."""
        taken = self.tap_ms or 0
        return taken > max(LONG_MS, LONG_FACTOR * self.estimate_ms)

    @property
    def hands_on_ms(self) -> int:
        """Hands-on time, the tap at hand included."""
        return self.settled_ms + (0 if self.is_too_long else self.tap_ms or 0)

    @property
    def apart_ms(self) -> int:
        """Time set apart, the tap at hand included."""
        return self.set_apart_ms + (self.tap_ms or 0 if self.is_too_long else 0)

    def times(self) -> tuple[TimedStep, ...]:
        """What the steps of the tap at hand took; nothing where that is not known."""
        taken = self.tap_ms
        if taken is None or not self.steps:
            return ()
        total = self.estimate_ms
        is_outlier = self.is_too_long or taken * SHORT_FACTOR < total
        return tuple(
            TimedStep(
                step.event,
                step.limb,
                step.joint,
                step.person,
                step.at_ms,
                min(taken * step.estimate_ms // total, MAX_TAKEN_MS),
                is_outlier,
            )
            for step in self.steps
        )


Estimates = Callable[[str, str], int | None]
"""Joint and limb to milliseconds, at least 1; None for a joint that the device does not have."""


def advance(clock: Clock, event: Event, estimate: Estimates) -> Clock:
    """The clock after one more event (in force)."""
    clock = _moved(clock, event.client, event.at_ms)
    what = event.what
    if isinstance(what, Started | Resumed):
        return replace(clock, runs=True)
    if isinstance(what, Paused | Parked | Finished):
        return replace(clock, runs=False)
    is_step = isinstance(what, Opened) or (isinstance(what, Closed) and not what.came_closed)
    if isinstance(what, Opened | Closed) and is_step and clock.runs and event.at_ms is not None:
        limb = "in" if isinstance(what, Opened) else "out"
        estimated = estimate(what.joint, limb)
        if estimated is not None:
            step = Step(event.id, limb, what.joint, event.by or "", event.at_ms, max(1, estimated))
            return replace(clock, steps=(*clock.steps, step))
    return clock


def advanced(events: Iterable[Event], estimate: Estimates) -> tuple[Clock, tuple[TimedStep, ...]]:
    """The clock after all events, and what every step took."""
    clock = Clock()
    found: dict[str, TimedStep] = {}
    for event in events:
        clock = advance(clock, event, estimate)
        found.update((timed.event, timed) for timed in clock.times())
    return clock, tuple(found.values())


def _moved(clock: Clock, client: str | None, at_ms: int | None) -> Clock:
    """The clock at another moment: the same tap a little later, or a new one."""
    if at_ms is None:
        return clock
    settled = replace(
        clock,
        client=client,
        at_ms=at_ms,
        from_ms=None,
        steps=(),
        settled_ms=clock.hands_on_ms,
        set_apart_ms=clock.apart_ms,
    )
    if clock.at_ms is None or client is None or client != clock.client or at_ms < clock.at_ms:
        return settled
    if at_ms - clock.at_ms <= TAP_MS:
        if clock.runs or clock.from_ms is not None:
            return replace(clock, at_ms=at_ms)
        return settled
    return replace(settled, from_ms=clock.at_ms if clock.runs else None)

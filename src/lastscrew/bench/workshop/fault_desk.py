"""Proposals for the fault of a unit: quickly, from a shelf where possible, in words for a page."""

from __future__ import annotations

import threading
import time
from collections import OrderedDict
from collections.abc import Callable, Mapping
from concurrent.futures import Future
from concurrent.futures import TimeoutError as NotYetError
from contextlib import suppress
from dataclasses import dataclass, replace
from math import isfinite
from typing import Final
from urllib.parse import urlencode

from django.utils.translation import gettext as _

from lastscrew.bench.beside import Beside
from lastscrew.bench.depot.outcomes import outcome_words
from lastscrew.bench.language import VOICE
from lastscrew.bench.opening_tables import TableFolder, table_name
from lastscrew.bench.workshop.fault_lessons import Lessons
from lastscrew.bench.workshop.fault_story import without_unknown
from lastscrew.device.diagnosis import Limits
from lastscrew.device.model import Device, Hazard
from lastscrew.faults.advice import Advice, Outcome, Proposal, Rival, opening_words, percent
from lastscrew.faults.evidence import DONE, Evidence
from lastscrew.faults.model import FaultModel
from lastscrew.faults.openings import DeviceOpenings
from lastscrew.faults.proposing import Terms, model_for, propose
from lastscrew.faults.sensitivity import Flip, flips, is_hair
from lastscrew.faults.works import Work, checks_of, final_of, mend_works, outcome_read
from lastscrew.plan.wording import listed, tool_name
from lastscrew.problems import InputError, Problem
from lastscrew.saying import joined, say, told

LIMIT_S: Final = 2.0
"""So long a page may search for a proposal (our own figure); the best one found is shown."""
WAIT_S: Final = 0.3
"""So long a page waits for a proposal that is being worked out; then it says so and looks again."""
MOST_WAITING: Final = 8
"""So many searches may wait for their turn; what comes beyond is begun when a page looks again."""
WARM_UP_S: Final = 8.0
"""So long a device file that was just published is looked over ahead of its first unit (our own figure)."""
MOST_PROPOSALS: Final = 100
MOST_OPENINGS: Final = 12
GROWN: Final = 1.1
"""Opening costs that are known are written again once there are so many times as many."""
MOST_TRIES: Final = 3
"""So often a search that the clock stopped is begun again when it is asked for: what opening costs is known by then."""
SHOWN_FAULTS: Final = 8
MEND_KINDS: Final = ("mend", "reseat")


@dataclass(frozen=True, slots=True)
class ShownOutcome:
    """What an outcome of an action would mean, as the label of a button.

    Attributes:
        outcome: What is kept when it came out so.
        name: What people call it.
        chance: Its chance in words; empty where none was worked out.
        likeliest: The likeliest fault after it.
        then: What would come next.
    """

    outcome: str
    name: str
    chance: str = ""
    likeliest: str = ""
    then: str = ""


@dataclass(frozen=True, slots=True)
class ShownWork:
    """A check or mend that can be done now or later.

    Attributes:
        id, name, text: As everywhere.
        is_mend: It mends; else it tells.
        outcomes: What can come out.
        limits: A value to measure.
        plan: What to ask of the plan page to get there; empty where nothing has to be opened.
    """

    id: str
    name: str
    text: str
    is_mend: bool
    outcomes: tuple[ShownOutcome, ...]
    limits: Limits | None
    plan: str


@dataclass(frozen=True, slots=True)
class ShownProposal:
    """The next thing to do, in words.

    Attributes:
        work: What it is; None for giving up.
        kind: ``check``, ``mend`` or ``stop``.
        why: Reasons.
        itself, before, before_cost, expected: Costs in words; ``before`` says what is opened and closed.
        bound: How sure the expected cost is.
        hold: Hold point with power on.
        hazards: What can hurt.
        trained: Refers to trained people.
        needs: Tool, instrument, power in words.
        rival: The runner-up and how close it is.
        flips: Which number would change the choice.
    """

    work: ShownWork | None
    kind: str
    why: str
    itself: str
    before: str
    before_cost: str
    expected: str
    bound: str
    hold: str
    hazards: tuple[Hazard, ...]
    trained: str
    needs: tuple[str, ...]
    rival: str
    flips: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Shown:
    """Everything that a page says about the fault of a unit.

    Attributes:
        likeliest: Faults with their chances (0 to 1) and in words, likeliest first.
        others: How many more are possible.
        sound: Chance in words that nothing is wrong any more; empty for none.
        works: The device works.
        next: The proposal; None where the device works.
        works_known: Everything that could be done, checks first.
        remarks: How the question was understood.
        names: Names of checks and mends by id.
        tries: How often the search was begun before the clock left it time to end; 0: it ended.
    """

    likeliest: tuple[tuple[str, float, str], ...]
    others: int
    sound: str
    works: bool
    next: ShownProposal | None
    works_known: tuple[ShownWork, ...]
    remarks: tuple[str, ...]
    names: dict[str, str]
    tries: int = 0


Key = tuple[str, str, Terms, Evidence, tuple[str, ...]]


class FaultDesk:
    """Proposals, kept by device file, terms, evidence and what is open, in no language. Safe between threads.

    A request waits for a search only a moment (:meth:`soon`): one thread beside the others searches, one search
    after the other, and the page looks again.
    """

    def __init__(self, wait_s: float = WAIT_S) -> None:
        """An empty desk; ``wait_s``: how long :meth:`soon` waits."""
        self.wait_s = wait_s
        self._lock = threading.Lock()
        self._searching: dict[Key, Future[Shown]] = {}
        self._thread = Beside("faults")
        self._shown: OrderedDict[Key, Shown] = OrderedDict()
        self._openings: OrderedDict[str, DeviceOpenings] = OrderedDict()
        self._kept_size: dict[str, int] = {}

    def known(
        self,
        device: Device,
        evidence: Evidence,
        opened: tuple[str, ...],
        terms: Terms,
        mark: str = "",
    ) -> Shown | None:
        """The proposal if it was worked out already."""
        with self._lock:
            return self._shown.get(_key(device, evidence, opened, terms, mark))

    def soon(
        self,
        device: Device,
        evidence: Evidence,
        opened: tuple[str, ...],
        terms: Terms,
        mark: str = "",
        folder: TableFolder | None = None,
        wait_s: float | None = None,
    ) -> Shown | None:
        """What to do next, if it is known within a moment; None while it is being worked out.

        What the clock stopped before is shown as it is while the search goes on. Arguments as :meth:`ask` has them.

        Raises:
            InputError: As :meth:`ask`.
        """
        kept = self.known(device, evidence, opened, terms, mark)
        if kept is not None and kept.tries in (0, MOST_TRIES):
            return kept
        key = _key(device, evidence, opened, terms, mark)

        def search() -> Shown:
            return self.ask(device, evidence, opened, terms, LIMIT_S, mark, folder)

        future = self._begun(key, search)
        if future is None:
            return kept
        try:
            # Where there is something to show already nobody waits for more.
            wait = self.wait_s if wait_s is None else wait_s
            shown = future.result(0 if kept is not None else wait)
        except NotYetError:
            return kept
        except InputError:
            self._forget(key)
            raise
        self._forget(key)
        return shown

    def _begun(self, key: Key, search: Callable[[], Shown]) -> Future[Shown] | None:
        """The search for it: the one that is on, or a new one; None where too many wait."""
        with self._lock:
            for done in [k for k, each in self._searching.items() if each.done() and k != key]:
                del self._searching[done]  # what it found is kept elsewhere
            future = self._searching.get(key)
            if future is None and len(self._searching) < MOST_WAITING:
                future = self._searching[key] = self._thread.submit(search)
        return future

    def _forget(self, key: Key) -> None:
        with self._lock:
            self._searching.pop(key, None)

    def warm_up(self, device: Device, folder: TableFolder | None = None) -> None:
        """Work out ahead what opening a device costs, as far as its symptoms ask for it; beside the requests.

        Bounded by :data:`WARM_UP_S`. A unit that comes in with one of them then waits for nothing.
        """
        if not device.faults:
            return
        seen = [Evidence(shows=(name,)) for name in device.symptoms] or [Evidence()]
        ends = time.monotonic() + WARM_UP_S

        def search() -> None:
            for evidence in seen:
                if time.monotonic() >= ends or self._searching:
                    return  # somebody waits for an answer: that comes first
                with suppress(InputError):
                    self.ask(device, evidence, (), Terms(), folder=folder)

        self._thread.submit(search)

    def ask(
        self,
        device: Device,
        evidence: Evidence,
        opened: tuple[str, ...],
        terms: Terms,
        limit_s: float = LIMIT_S,
        mark: str = "",
        folder: TableFolder | None = None,
    ) -> Shown:
        """What to do next.

        Args:
            device: The whole device.
            evidence: What was seen and done; what the device file does not know is left out, and said.
            opened: Joints that are open.
            terms: What else counts.
            limit_s: Seconds for the search.
            mark: Tells apart what the device was taught by closed jobs.
            folder: Where opening costs are kept beyond this process; None for nowhere.

        Raises:
            InputError: Results that can't be, joints that can't be open.
        """
        key = _key(device, evidence, opened, terms, mark)
        kept = self.known(device, evidence, opened, terms, mark)
        if kept is not None and kept.tries in (0, MOST_TRIES):
            return kept
        ends = time.monotonic() + limit_s
        name = table_name(device, terms)
        openings = self._openings_of(name, device, terms, folder)
        advice, dropped = self._advise(device, evidence, opened, terms, openings, ends)
        self._keep(name, advice.model.openings, folder)
        shown = shown_of(advice, dropped)
        if time.monotonic() >= ends:
            shown = replace(shown, tries=1 + (kept.tries if kept is not None else 0))
        with self._lock:
            self._shown[key] = shown
            while len(self._shown) > MOST_PROPOSALS:
                self._shown.popitem(last=False)
        return shown

    def _advise(
        self,
        device: Device,
        evidence: Evidence,
        opened: tuple[str, ...],
        terms: Terms,
        openings: DeviceOpenings | None,
        ends: float,
    ) -> tuple[Advice, tuple[str, ...]]:
        def once(seen: Evidence) -> Advice:
            return propose(
                device, seen, opened, terms=terms, openings=openings,
                expired=lambda: time.monotonic() >= ends,
            )  # fmt: skip

        dropped: tuple[str, ...] = ()
        try:
            advice = once(evidence)
        except InputError as error:
            left, dropped = without_unknown(evidence, error.problems)
            if not dropped:
                raise
            advice = once(left)
        return advice, dropped

    def _openings_of(
        self, name: str, device: Device, terms: Terms, folder: TableFolder | None
    ) -> DeviceOpenings | None:
        """What opening costs, as far as it is known here or in the folder; None where nothing is."""
        with self._lock:
            there = self._openings.get(name)
        if there is not None or folder is None:
            return there
        table = folder.read(name)
        if not isinstance(table, dict):
            return None
        openings = model_for(device, Evidence(), terms=terms).openings
        if not openings.take(table):
            return None
        with self._lock:
            self._kept_size[name] = openings.size
        return openings

    def _keep(self, name: str, openings: DeviceOpenings, folder: TableFolder | None) -> None:
        """Have it at hand, and in the folder where it has grown enough to be worth writing."""
        with self._lock:
            self._openings[name] = openings
            self._openings.move_to_end(name)
            while len(self._openings) > MOST_OPENINGS:
                self._kept_size.pop(self._openings.popitem(last=False)[0], None)
            grown = openings.size > GROWN * self._kept_size.get(name, 0)
            if grown:
                self._kept_size[name] = openings.size
        if grown and folder is not None:
            folder.keep(name, openings)


def _key(
    device: Device, evidence: Evidence, opened: tuple[str, ...], terms: Terms, mark: str
) -> Key:
    return device.revision_hash, mark, terms, evidence, opened


DESK: Final = FaultDesk()
"""The one that all pages share."""


def names_of(device: Device) -> dict[str, str]:
    """Everything that can be tried on a device by its id, as people call it; nothing is searched for."""
    found = {function.id: function.name for function in device.functions.values()}
    found |= {check.id: check.name for check in device.checks.values()}
    works = (*checks_of(device), *mend_works(device), final_of(device))
    return {**found, **{work.id: work.name for work in works}}


def name_tried(names: Mapping[str, str], what: str) -> str:
    """What was tried, by its name; what the device file does not know any more at least without its signs."""
    return names.get(what) or what.replace("_", " ")


# --- in words -------------------------------------------------------------------------------------


def cost_words(cost: float, rate_per_h: float | None = None) -> str:
    """A cost as people read it: seconds as time, or money."""
    if rate_per_h is not None:
        return f"{cost:,.2f}"
    if cost < 90:
        return f"{cost:.0f} s"
    minutes = round(cost / 60)
    return f"{minutes} min" if minutes < 120 else f"{minutes // 60} h {minutes % 60:02d}"


def shown_of(advice: Advice, dropped: tuple[str, ...] = ()) -> Shown:
    """Advice in words."""
    model = advice.model
    device = model.device
    possible = [(fault, p) for fault, p in advice.posterior if p > 0]
    likeliest = tuple(
        (device.faults[fault].name, p, percent(p)) for fault, p in possible[:SHOWN_FAULTS]
    )
    remarks = [*advice.doubts, *advice.remarks]
    if dropped:
        remarks.append(
            say(
                "Left out, because the device file does not know it any more: {names}.",
                names=listed(list(dropped)),
            )
        )
    return Shown(
        likeliest=likeliest,
        others=len(possible) - len(likeliest),
        sound=percent(advice.sound) if advice.sound > 0 else "",
        works=advice.standing.works,
        next=None if advice.next is None else _proposal(advice, advice.next),
        works_known=tuple(_work(model, work) for work in model.works),
        remarks=tuple(remarks),
        names={work.id: work.name for work in model.works},
    )


def _work(model: FaultModel, work: Work, outcomes: tuple[Outcome, ...] = ()) -> ShownWork:
    told = {outcome.name: outcome for outcome in outcomes}
    faults = model.device.faults
    shown = []
    for name in work.outcomes:
        outcome = told.get(name)
        shown.append(
            ShownOutcome(
                outcome=name,
                name=outcome_words(name),
                chance=percent(outcome.chance) if outcome else "",
                likeliest=faults[outcome.likeliest[0][0]].name
                if outcome and outcome.likeliest
                else "",
                then=outcome.then if outcome else "",
            )
        )
    is_mend = work.kind in MEND_KINDS
    return ShownWork(
        work.id,
        work.name,
        work.text,
        is_mend,
        tuple(shown),
        work.limits,
        plan_query(model.device, work),
    )


def plan_query(device: Device, work: Work) -> str:
    """What to ask of the plan page to get at a piece of work; empty where nothing has to be opened."""
    if work.pieces:
        piece = work.part if work.part in device.parts or work.part in device.spares else None
        return urlencode({"replace": piece or "+".join(work.pieces)})
    reach = dict.fromkeys(
        (*((work.joint,) if work.joint and work.kind == "reseat" else ()), *work.open)
    )
    return urlencode([("reach", joint) for joint in reach])


def _proposal(advice: Advice, next_: Proposal) -> ShownProposal:
    model = advice.model
    rate = model.openings.rate_per_h
    work = next_.work
    bound = (
        say("no strategy is expected to cost less")
        if advice.proven
        else say(
            "no strategy costs less than {cost} on average",
            cost=cost_words(advice.lower_bound, rate),
        )
    )
    rival = advice.runner_up
    return ShownProposal(
        work=None if work is None else _work(model, work, next_.outcomes),
        kind=next_.kind,
        why=next_.why,
        itself=cost_words(next_.own_cost, rate),
        before=opening_words(model, next_),
        before_cost=cost_words(next_.opening_cost, rate),
        expected=cost_words(next_.expected_cost, rate),
        bound=bound,
        hold=next_.cautions.hold,
        hazards=next_.cautions.hazards,
        trained=next_.cautions.trained,
        needs=() if work is None else _needs(model.device, work),
        rival="" if rival is None else _rival(rival, rate),
        flips=tuple(_flip(model, flip) for flip in flips(model, advice, most=3)),
    )


def _needs(device: Device, work: Work) -> tuple[str, ...]:
    power = {"on": say("power on"), "off": say("isolated"), None: ""}[work.power]
    tool = tool_name(device, work.tool) if work.tool else ""
    return tuple(word for word in (tool, work.instrument, power) if word)


def _flip(model: FaultModel, flip: Flip) -> str:
    name = model.device.faults[flip.fault].name
    names = {work.id: work.name for work in model.works}
    other = names.get(flip.other, flip.other)
    said: dict[str, object] = {
        "fault": name,
        "then": percent(flip.flips_at),
        "now": percent(flip.now),
        "other": other,
    }
    if is_hair(flip) and flip.flips_at > flip.now:
        return (
            say("If {fault} were a little likelier than {now}: {other} first.", **said)
            if flip.what == "prior"
            else say(
                "If the result with {fault} were a little likelier than {now}: {other} first.",
                **said,
            )
        )
    if is_hair(flip):
        return (
            say("If {fault} were a little less likely than {now}: {other} first.", **said)
            if flip.what == "prior"
            else say(
                "If the result with {fault} were a little less likely than {now}: {other} first.",
                **said,
            )
        )
    if flip.what == "prior":
        return say("If {fault} had a chance of {then} instead of {now}: {other} first.", **said)
    return say(
        "If the result with {fault} had a chance of {then} instead of {now}: {other} first.",
        **said,
    )


def _rival(rival: Rival, rate_per_h: float | None) -> str:
    if rival.margin < 0.5:
        return say("{name}: just as good", name=rival.name)
    cost = cost_words(rival.margin, rate_per_h)
    return say("{name}: {cost} more on average", name=rival.name, cost=cost)


def tried_words(shown: Shown | None, what: str, outcome: str) -> str:
    """A result as people read it; a measured value with its unit and what it is by the limits."""
    work = next((one for one in shown.works_known if one.id == what), None) if shown else None
    if work is None or work.limits is None or not is_value(outcome):
        return outcome_words(outcome)
    read = outcome_read(outcome, tuple(one.outcome for one in work.outcomes), work.limits)
    value = VOICE.number(float(outcome))
    return joined("", (value, " ", work.limits.unit, " (", outcome_words(read or ""), ")"))


def lesson_rows(lessons: Lessons) -> list[tuple[str, str, int, str, str]]:
    """Faults that closed jobs have shown: name, how often, of how many, chance of the file, chance now."""
    return [
        (name, count.seen_words, count.of, percent(count.given), percent(count.value))
        for name, count in lessons.counts
    ]


def is_value(typed: str) -> bool:
    """Whether what was typed is a finite number."""
    try:
        return isfinite(float(typed))
    except ValueError:
        return False


def check_tried(shown: Shown, what: str, outcome: str) -> tuple[Problem, ...]:
    """What is wrong with a result that somebody wants to keep, empty where it can be kept."""
    work = next((one for one in shown.works_known if one.id == what), None)
    if work is None:
        return (
            Problem(_("there is no such check or mend"), _("Choose one of the list."), path="what"),
        )
    if outcome in (one.outcome for one in work.outcomes) or (work.is_mend and outcome == DONE):
        return ()
    if work.limits is not None:
        if is_value(outcome):
            return ()
        return (
            Problem(
                _("“%(typed)s” is no value") % {"typed": outcome[:40]},
                _("Give a number in %(unit)s.") % {"unit": work.limits.unit},
                path="outcome",
            ),
        )
    names = listed([one.name for one in work.outcomes], word="or")
    return (
        Problem(
            _("that is no outcome of it"),
            _("It is %(names)s.") % {"names": told(names)},
            path="outcome",
        ),
    )

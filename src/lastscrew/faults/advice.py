"""The next thing to do, and why: expected cost, what each outcome would mean, the runner-up, what would change it."""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass, field, replace
from math import log
from typing import Final

from lastscrew.faults.cautions import Cautions, cautions_for
from lastscrew.faults.changing import Step
from lastscrew.faults.evidence import Standing, doubts, fault_chances
from lastscrew.faults.focus import look_closer
from lastscrew.faults.model import FaultModel
from lastscrew.faults.puzzle import Action, Belief, Kind, Puzzle, State
from lastscrew.faults.search import Branch, Node, Offer, Search
from lastscrew.faults.works import Work
from lastscrew.plan.wording import joint_name, listed
from lastscrew.saying import joined, say

EXACT_WORK: Final = 60_000
"""Actions unfolded for a small model, which as a rule proves it."""
QUICK_WORK: Final = 30
"""Actions unfolded for a large model; a tenth of a second or less once opening costs are known."""
THOROUGH_WORK: Final = 400
"""The same where a second or two may pass: strategies are a tenth cheaper as a rule."""
MOST_CAUSES: Final = 120
"""Causes of a large model that are searched, the likeliest; the posterior has them all."""
SMALL: Final = 26
"""Faults and actions together up to which a model is small."""
NEGLIGIBLE: Final = 1e-4
"""Causes with less than this chance are left out of the search in large models (not out of the posterior)."""
RIVALS: Final = 3
"""Other actions that are looked at for the runner-up."""
RIVAL_WORK: Final = 400
"""Actions unfolded for each of their outcomes where the model is small."""
RIVAL_SHARE: Final = 0.25
"""Work on each of them where the model is large, as a share of that on what is proposed."""
OF_USE: Final = 0.03
"""A check that moves the chances by less, or a mend that cures less often, is no runner-up."""
ROUNDS: Final = 4
"""Times that a runner-up may turn out to be better than what was to be proposed."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What an outcome of the proposed action would mean.

    Attributes:
        name: The outcome.
        chance: Its chance.
        likeliest: Faults after it with their chances, likeliest first; empty where the device works.
        then: What would be done next, "" where the job ends.
        expected_cost: Expected cost from there on.
    """

    name: str
    chance: float
    likeliest: tuple[tuple[str, float], ...]
    then: str
    expected_cost: float


@dataclass(frozen=True, slots=True)
class Rival:
    """Another action.

    Attributes:
        kind, id, name: What it is.
        expected_cost: Expected cost if it came first.
        margin: How much more than the proposed one.
    """

    kind: Kind
    id: str
    name: str
    expected_cost: float
    margin: float


@dataclass(frozen=True, slots=True)
class Proposal:
    """An action with its reasons.

    Attributes:
        kind: ``check``, ``mend`` or ``stop``.
        id: Of the check or mend, ``stop`` for giving up.
        name, text: What people call it, what to do.
        expected_cost: Expected cost from now on, if it is done first.
        why: One or two sentences.
        own_cost: Cost of the action itself.
        opening_cost: Cost of the opening and closing before it.
        steps: Openings and closings before it.
        outcomes: What each outcome would mean.
        cautions: What has to be said before it.
        work: The work itself, None for stop.
    """

    kind: Kind
    id: str
    name: str
    text: str
    expected_cost: float
    why: str
    own_cost: float = 0.0
    opening_cost: float = 0.0
    steps: tuple[Step, ...] = ()
    outcomes: tuple[Outcome, ...] = ()
    cautions: Cautions = field(default_factory=Cautions)
    work: Work | None = None

    @property
    def cost_after(self) -> float:
        """Expected cost of what is left once it is done, over its outcomes."""
        return sum(outcome.chance * outcome.expected_cost for outcome in self.outcomes)


@dataclass(frozen=True, slots=True)
class Advice:
    """What is known, and what to do next.

    Attributes:
        posterior: Faults with their chances, likeliest first.
        sound: Chance that nothing is wrong any more.
        next: The proposal; None where the device works.
        expected_cost: Expected cost of the best strategy found.
        lower_bound: No strategy costs less.
        proven: Both are equal.
        runner_up: The next best action, None where there is none.
        unfolded: Actions unfolded in the search.
        standing: Where the job stands.
        node: The node of the search, for the whole strategy.
        search: The search, to go on with.
        model: What the job was asked about.
        remarks: What a person should know about how the question was understood.
        doubts: What was seen and fits nothing that is likely.
    """

    posterior: tuple[tuple[str, float], ...]
    sound: float
    next: Proposal | None
    expected_cost: float
    lower_bound: float
    proven: bool
    runner_up: Rival | None
    unfolded: int
    standing: Standing
    node: Node
    search: Search
    model: FaultModel
    remarks: tuple[str, ...] = ()
    doubts: tuple[str, ...] = ()

    @property
    def gap(self) -> float:
        """How far the bounds are apart, as a share of the lower one."""
        return self.node.gap


def advise(
    model: FaultModel,
    standing: Standing,
    *,
    work: int | None = None,
    probes: int = QUICK_WORK,
    expired: Callable[[], bool] | None = None,
    search: Search | None = None,
) -> Advice:
    """Propose the next action. The same question gives the same answer, unless ``expired`` ends it.

    Args:
        model: The model.
        standing: Where the job stands.
        work: Actions to unfold to prove it (None: many for a small model, none for a large one).
        probes: Actions to unfold to find a good strategy in a large model.
        expired: Asked now and then; True stops.
        search: A search for the same puzzle to go on with.
    """
    size = len(model.faults) + len(model.works)
    small = size <= SMALL and len(model.causes) <= size
    if work is None:
        work = EXACT_WORK if small else 0
    belief = _without_negligible(standing.belief, standing.puzzle.sound, exact=small)
    kept = belief.kept
    search = search or Search(_with_causes(standing.puzzle, belief.belief))
    node = search.root(belief.belief)
    chances, sound = fault_chances(model, standing.belief)
    posterior = tuple(sorted(chances.items(), key=lambda item: (-item[1], item[0])))
    if standing.works:
        end = standing.puzzle.openings.close(standing.puzzle.start)
        return Advice(posterior, 1.0, None, end, end, proven=True, runner_up=None, unfolded=0,
                      standing=standing, node=node, search=search, model=model)  # fmt: skip
    search.probe(node, work=QUICK_WORK if small else probes, expired=expired)
    closer = 0
    if work and not small:
        closer = look_closer(search, node, work=work, expired=expired)
    if work > closer:
        search.improve(node, work=work - closer, expired=expired)
    search.straighten(node)
    effort = round(RIVAL_SHARE * probes) if probes > QUICK_WORK else 0
    rival = _runner_up(search, node, None if small else effort)
    proposal = proposal_at(model, search, node)
    return Advice(
        posterior=posterior,
        sound=sound,
        next=proposal,
        expected_cost=node.above,
        lower_bound=node.below * kept,
        proven=node.closed and kept == 1.0,
        runner_up=None if rival is None else _rival(model, node, *rival),
        unfolded=search.unfolded + closer,
        standing=standing,
        node=node,
        search=search,
        model=model,
        doubts=doubts(model, standing.evidence),
    )


@dataclass(frozen=True, slots=True)
class _Kept:
    belief: Belief
    kept: float


def _without_negligible(belief: Belief, sound: int, *, exact: bool) -> _Kept:
    """The belief without hopeless causes; what is kept bounds the cost from below with its share."""
    pieces = belief.pieces
    if not exact:
        ranked = sorted(pieces, key=lambda p: (p[0] != sound, -p[2], p[0], p[1]))
        likely = ranked[:MOST_CAUSES]
        pieces = tuple(sorted(p for p in likely if p[0] == sound or p[2] >= NEGLIGIBLE))
    total = sum(weight for _, _, weight in pieces)
    if exact or len(pieces) == len(belief.pieces) or not total:
        return _Kept(belief, 1.0)
    scaled = tuple((state, stale, weight / total) for state, stale, weight in pieces)
    return _Kept(Belief(scaled, belief.known, belief.used), total)


def _with_causes(puzzle: Puzzle, belief: Belief) -> Puzzle:
    """The puzzle with those causes alone that are in the belief."""
    weights = [0.0] * len(puzzle.prior)
    for state, _, weight in belief.pieces:
        if state < len(weights):
            weights[state] += weight
    return replace(puzzle, prior=tuple(weights))


# --- one node ------------------------------------------------------------------------------------


def next_offer(search: Search, node: Node) -> Offer:
    """The action that the present strategy does at a node, unfolded."""
    search.visit(node)
    chosen = search.chosen(node)
    if chosen is None:
        chosen = _first_in_turn(search, node)
        search.hand_on(node, chosen)
    search.unfold(node, chosen)
    return chosen


def _first_in_turn(search: Search, node: Node) -> Offer:
    """The first action of the mending order that a node falls back on."""
    turn = node.in_turn
    if turn is not None and turn.check_first:
        action = Action("final")
    elif turn is not None and turn.first is not None:
        action = Action("mend", turn.first)
    else:
        action = Action("stop")
    for offer in node.offers or ():
        if offer.action == action:
            return offer
    return search.offer(node, action)


def work_of(model: FaultModel, action: Action) -> Work | None:
    """The work behind an action, None for giving up."""
    if action.kind == "check":
        return model.checks[action.index]
    if action.kind == "mend":
        return model.mends[action.index]
    return model.final if action.kind == "final" else None


def action_number(model: FaultModel, action: Action) -> int:
    """Number of an action among all work."""
    if action.kind == "check":
        return action.index
    if action.kind == "mend":
        return len(model.checks) + action.index
    return len(model.works) - 1


def shown_kind(action: Action) -> Kind:
    """Check, mend or stop: the device's own check is a check."""
    return "check" if action.kind == "final" else action.kind


def name_of(model: FaultModel, action: Action) -> str:
    """What people call an action."""
    work = work_of(model, action)
    return say("Stop", context="fault") if work is None else work.name


def id_of(model: FaultModel, action: Action) -> str:
    """Id of an action's work, ``stop`` for giving up."""
    work = work_of(model, action)
    return "stop" if work is None else work.id


def proposal_at(model: FaultModel, search: Search, node: Node) -> Proposal:
    """The action of the present strategy at a node, with its reasons."""
    offer = next_offer(search, node)
    work = work_of(model, offer.action)
    if work is None:
        return Proposal(
            "stop", "stop", say("Stop", context="fault"), "", node.above, _why_stop(search)
        )
    openings = model.openings
    number = action_number(model, offer.action)
    move = openings.move(node.state, number)
    steps = openings.steps(node.state, number)
    moved = tuple(dict.fromkeys(openings.rules.joint_ids[step.joint] for step in steps))
    outcomes = tuple(_outcome(model, search, branch, offer) for branch in offer.branches or ())
    return Proposal(
        kind=shown_kind(offer.action),
        id=work.id,
        name=work.name,
        text=work.text,
        expected_cost=node.above,
        why=_why(model, node, offer),
        own_cost=openings.cost(work.ms, work.price),
        opening_cost=openings.cost(move.ms, move.price),
        steps=steps,
        outcomes=outcomes,
        cautions=cautions_for(model.device, openings, work, move.during, moved),
        work=work,
    )


def _outcome(model: FaultModel, search: Search, branch: Branch, offer: Offer) -> Outcome:
    if branch.node is None:
        end = search.puzzle.openings.close(offer.after)
        return Outcome(branch.outcome, branch.chance, (), "", end)
    chances, _ = fault_chances(model, branch.node.belief)
    likeliest = sorted(chances.items(), key=lambda item: (-item[1], item[0]))
    then = next_offer(search, branch.node)
    return Outcome(
        branch.outcome,
        branch.chance,
        tuple((fault, p) for fault, p in likeliest[:3] if p > 0),
        name_of(model, then.action),
        branch.node.above,
    )


def _runner_up(search: Search, node: Node, effort: int | None) -> tuple[float, Offer] | None:
    """The next best first action with the cost of a strategy that begins with it.

    Where that turns out to be the better one, the strategy of the node begins with it from then on.
    ``effort`` is the work on each in a large model, None for a small one.
    """
    costs: dict[Action, tuple[float, Offer]] = {}
    for _ in range(ROUNDS):
        chosen = next_offer(search, node)
        costs[chosen.action] = (node.above, chosen)
        rivals = [
            offer
            for offer in search.all_offers(node)
            if offer.action != chosen.action and _is_of_use(search, node, offer.action)
        ]
        rivals.sort(key=lambda o: (min(o.above, 2 * o.below), o.action.kind, o.action.index))
        for offer in rivals[:RIVALS]:
            if offer.action not in costs:
                costs[offer.action] = (_cost_first(search, node, offer, effort), offer)
                search.settle(node, offer)
        if next_offer(search, node).action == chosen.action:
            break
    first = next_offer(search, node).action
    others = [(max(cost, node.above), offer) for a, (cost, offer) in costs.items() if a != first]
    return min(others, key=lambda o: (o[0], o[1].action.kind, o[1].action.index), default=None)


def _is_of_use(search: Search, node: Node, action: Action) -> bool:
    """Whether an action tells or cures enough to be named beside another."""
    if action.kind == "check":
        return search.worth.tells(node.belief, action.index) >= OF_USE
    return action.kind != "mend" or search.worth.cures(node.belief, action.index) >= OF_USE


def _rival(model: FaultModel, node: Node, cost: float, offer: Offer) -> Rival:
    name, ident = name_of(model, offer.action), id_of(model, offer.action)
    return Rival(shown_kind(offer.action), ident, name, cost, max(0.0, cost - node.above))


def _cost_first(search: Search, node: Node, offer: Offer, effort: int | None) -> float:
    """Cost of a strategy that begins with an action, searched a little."""
    total = offer.cost
    for branch in search.unfold(node, offer):
        if branch.node is not None:
            if effort is None:
                search.improve(branch.node, work=RIVAL_WORK)
            else:
                search.visit(branch.node)
                search.probe(branch.node, work=round(effort * branch.chance))
            total += branch.chance * branch.node.above
    return total


# --- reasons -------------------------------------------------------------------------------------


def _why_stop(search: Search) -> str:
    if search.puzzle.worth is None:
        return say("The device does not work, and nothing that could mend it is left.")
    return say("Going on is expected to cost more than the device is worth.")


def _why(model: FaultModel, node: Node, offer: Offer) -> str:
    """Reasons in words: what it tells or cures, and what the present opening has to do with it."""
    action = action_number(model, offer.action)
    move = model.openings.move(node.state, action)
    parts = [_why_itself(model, node, offer)]
    if move.ms == 0:
        parts.append(
            say("The machine is open far enough already.")
            if node.state
            else say("Nothing has to be opened or closed for it.")
        )
    elif node.state and _is_cheaper_now(model, node.state, action):
        parts.append(say("What is open already makes it cheaper now than later."))
    return joined(" ", (part for part in parts if part))


def _is_cheaper_now(model: FaultModel, state: State, action: int) -> bool:
    """Whether an action adds less to closing what is open now than it costs by itself from a closed machine."""

    def with_closing(begin: State) -> int:
        move = model.openings.move(begin, action)
        return move.ms + model.openings.closing(move.after)[0]

    return with_closing(state) - model.openings.closing(state)[0] < with_closing(0)


def _why_itself(model: FaultModel, node: Node, offer: Offer) -> str:
    chances, _ = fault_chances(model, node.belief)
    if offer.action.kind == "mend":
        cured = _cured(model, node, offer)
        names = listed([model.device.faults[f].name for f, _ in cured[:3]])
        share = _share_with(model, node, {f for f, _ in cured})
        if not cured:
            return ""
        return say(
            "It cures {faults}: {share} of what may be wrong.", faults=names, share=percent(share)
        )
    if offer.action.kind == "final":
        return say("It tells whether the device works now, which nothing else does.")
    moved: list[tuple[float, str, float, float]] = []
    for branch in offer.branches or ():
        if branch.node is not None:
            after, _ = fault_chances(model, branch.node.belief)
            told = {f: p * log(p / chances[f]) for f, p in after.items() if p > 0 < chances[f]}
            fault = max(told, key=lambda f: (told[f], f), default=None)
            if fault is not None:
                moved.append((branch.chance * told[fault], fault, chances[fault], after[fault]))
    if not moved:
        return ""
    _, fault, old, new = max(moved)
    name = model.device.faults[fault].name
    return say(
        "It tells apart what may be wrong: {fault} goes from {old} to as much as {new}.",
        fault=name,
        old=percent(old),
        new=percent(new),
    )


def _cured(model: FaultModel, node: Node, offer: Offer) -> list[tuple[str, float]]:
    """Faults that a mend can cure, with their chances."""
    effects = model_effects(model, offer.action.index)
    chances, _ = fault_chances(model, node.belief)
    cured = [(model.faults[f].id, chances[model.faults[f].id]) for f in effects]
    return sorted(((f, p) for f, p in cured if p > 0), key=lambda item: (-item[1], item[0]))


def _share_with(model: FaultModel, node: Node, faults: Collection[str]) -> float:
    """Chance that one or more of these faults are there: with two at once less than the sum of their chances."""
    numbers = {f for f, fault in enumerate(model.faults) if fault.id in faults}
    return sum(
        weight
        for state, _, weight in node.belief.pieces
        if state < len(model.causes) and numbers.intersection(model.causes[state])
    )


def model_effects(model: FaultModel, mend: int) -> tuple[int, ...]:
    """Faults that a mend can cure, by number."""
    return tuple(sorted(f for f, chance in model.cures[mend].items() if chance > 0))


def percent(p: float) -> str:
    """A chance as whole percent; below one and above 99 said so."""
    if 0 < p < 0.01:
        return say("under 1 %")
    if 0.99 < p < 1:
        return say("over 99 %")
    return f"{p:.0%}".replace("%", " %")


def opening_words(model: FaultModel, proposal: Proposal) -> str:
    """What is opened and closed before the proposed action, in words; "" for nothing."""
    ids = model.openings.rules.joint_ids
    opened = [joint_name(model.device, ids[s.joint]) for s in proposal.steps if s.opening]
    closed = [joint_name(model.device, ids[s.joint]) for s in proposal.steps if not s.opening]
    words = []
    if opened:
        words.append(say("open {joints}", joints=listed(opened)))
    if closed:
        words.append(say("close {joints}", joints=listed(closed)))
    return joined("; ", words)

"""Every rule of opening and of cost is held by a test: break it in the planner, and the judges find it.

Each entry exchanges one piece of the planner's source. The broken planner is then asked about
random machines until the brute force or the replay contradicts it. A rule that could be broken
unnoticed would be a rule that nothing tests.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from itertools import chain

import pytest

from lastscrew.plan.model import Plan, StopRule
from lastscrew.plan.planner import plan
from lastscrew.problems import InputError
from tests.oracle.devices import LARGER, MANY_WAYS, MIDDLE, Case, case_from_seed
from tests.oracle.judging import fault_beside, judged
from tests.plan.mutating import Planner, broken_planner

MOST_CASES = 3_000
ENOUGH = StopRule(work=50_000)
"""Far more than a small machine needs: a search without end is a fault too."""


@dataclass(frozen=True)
class Mutation:
    """One rule, and the text whose exchange breaks it."""

    rule: str
    module: str
    old: str
    new: str


OPENING = [
    Mutation("after", "plan.compiled", "earlier = set(joint.after)", "earlier = set()"),
    Mutation("isolation", "plan.compiled", "earlier.update(isolators)", "pass"),
    Mutation("every isolating joint", "plan.compiled", "earlier.update(isolators)",
             "earlier.update(isolators[:1])"),
    Mutation("an isolating joint is exempt", "plan.compiled",
             "if is_live(device, joint) and not joint.isolates:", "if is_live(device, joint):"),
    Mutation("a part with energy makes live", "plan.compiled",
             "return joint.powered or any(device.parts[part].energy for part in joint.joins)",
             "return joint.powered"),
    Mutation("powered makes live", "plan.compiled",
             "return joint.powered or any(device.parts[part].energy for part in joint.joins)",
             "return any(device.parts[part].energy for part in joint.joins)"),
    Mutation("shutdown needs no isolation", "plan.compiled",
             "return joint.powered or any(", "return joint.powered or joint.shutdown or any("),
    Mutation("under", "plan.compiled", "for cover in access.under:", "for cover in ():"),
    Mutation("every part of under", "plan.compiled", "for cover in access.under:",
             "for cover in access.under[:1]:"),
    Mutation("every part that is joined", "plan.compiled",
             "        for part in joint.joins:\n            if part == cover:",
             "        for part in joint.joins[:1]:\n            if part == cover:"),
    Mutation("clusters, not only direct ties", "plan.compiled",
             "found.extend(chain for chain in between if not chain & joint_bit)",
             "found.extend(c for c in between if not c & joint_bit and not c & (c - 1))"),
    Mutation("a part does not cover itself", "plan.compiled",
             "            if part == cover:\n                continue\n", ""),
    Mutation("what it joins besides its own cover counts", "plan.compiled",
             "for cover in access.under:",
             "for cover in (u for u in access.under if u not in joint.joins):"),
    Mutation("only rigid joints hold", "plan.compiled",
             "for j in device.joints.values() if j.rigid),", "for j in device.joints.values()),"),
    Mutation("the joint itself does not hold", "plan.compiled",
             "if not chain & joint_bit)", "if True)"),
    Mutation("a joint of three parts ties all three", "plan.compiled",
             "            for one in joins:", "            for one in joins[:2]:"),
    Mutation("each chain needs an open joint", "plan.compiled",
             "clauses=tuple(clauses),", "clauses=(),"),
    Mutation("every access", "plan.compiled", "for number, access in enumerate(joint.accesses):",
             "for number, access in enumerate(joint.accesses[:1]):"),
    Mutation("what is not fitted covers nothing", "device.fitting",
             "return replace(access, under=_kept(access.under, gone))", "return access"),
    Mutation("what is not fitted is not waited for", "device.fitting",
             "after=_kept(joint.after, gone.joints),", "after=joint.after,"),
    Mutation("a joint that joins one part is absent", "device.fitting",
             "sum(p not in parts for p in j.joins) < 2", "not set(j.joins) - parts"),
    Mutation("options that are not fitted by default", "device.fitting",
             "(not o.fitted and o.id not in fitted)", "False"),
    Mutation("options that are fitted after all", "device.fitting",
             "(not o.fitted and o.id not in fitted)", "not o.fitted"),
    Mutation("parts of an option that is not fitted", "device.fitting",
             "or p.if_fitted in options", ""),
    Mutation("joints of an option that is not fitted", "device.fitting",
             "or j.if_fitted in options", ""),
]  # fmt: skip

ASKING = [
    Mutation("pieces", "plan.planner", "required=rules.mask(required | set(request.reach)),",
             "required=rules.mask(request.reach),"),
    Mutation("reach", "plan.planner", "required=rules.mask(required | set(request.reach)),",
             "required=rules.mask(required),"),
    Mutation("joints inside a piece stay closed", "plan.planner",
             "for joint in joints_around(device, piece)}",
             "for joint in device.joints if set(device.joints[joint].joins) & set(piece)}"),
    Mutation("forbidden joints", "plan.planner",
             "banned=rules.mask(j for j in request.without if j in device.joints),", "banned=0,"),
    Mutation("the start side", "plan.planner",
             "start_side=0 if request.side is None else device.sides.index(request.side),",
             "start_side=0,"),
    Mutation("open at the start", "plan.planner", "opened=rules.mask(request.opened),", "opened=0,"),
    Mutation("open at the start costs nothing on the way in", "plan.ordering",
             "free = self.question.opened if opening else 0", "free = 0"),
    Mutation("open at the start is closed on the way out", "plan.ordering",
             "free = self.question.opened if opening else 0", "free = self.question.opened"),
    Mutation("the turning set is reachable from all closed", "plan.selection",
             "        self.goal = question.required | question.opened",
             "        self.goal = question.required"),
]  # fmt: skip

COST = [
    Mutation("a turn costs", "plan.ordering",
             "turn = question.turn_cost if one[0] != other[0] else 0", "turn = 0"),
    Mutation("a turn costs at its step", "plan.planner",
             "turn_ms=device.turn_ms if access.side != side else 0,", "turn_ms=0,"),
    Mutation("a swap costs", "plan.ordering",
             "swap = question.swap_cost[other[1]] if one[1] != other[1] else 0", "swap = 0"),
    Mutation("a swap costs at its step", "plan.planner",
             "swap_ms=device.tools[tool].swap_ms if tool is not None and tool != hand else 0,",
             "swap_ms=0,"),
    Mutation("each tool has its own swap", "plan.ordering",
             "swap = question.swap_cost[other[1]] if one[1] != other[1] else 0",
             "swap = max(question.swap_cost) if other[1] and one[1] != other[1] else 0"),
    Mutation("a swap costs what is taken up, not what is laid down", "plan.ordering",
             "swap = question.swap_cost[other[1]]", "swap = question.swap_cost[one[1]]"),
    Mutation("no tool empties the hand", "plan.planner",
             "side, hand = access.side, tool", "side, hand = access.side, tool or hand"),
    Mutation("a turn does not empty the hand", "plan.ordering",
             "swap = question.swap_cost[other[1]] if one[1] != other[1] else 0",
             "swap = question.swap_cost[other[1]] if one != other else 0"),
    Mutation("a turn does not empty the hand at its step", "plan.planner",
             "if tool is not None and tool != hand else 0,",
             "if tool is not None and (tool != hand or access.side != side) else 0,"),
    Mutation("a turn and a swap at one step add", "plan.ordering",
             "return turn + swap", "return max(turn, swap)"),
    Mutation("each limb starts with an empty hand", "plan.planner",
             "device, hand = job.device, None",
             "device, hand = job.device, next(iter(sorted(job.device.tools)), None)"),
    Mutation("the way out starts on the side where the way in ended", "plan.planner",
             'order_out, "out", middle)', 'order_out, "out", start_side)'),
    Mutation("the limbs meet on one side", "plan.ordering", "if not meets:", "if False:"),
    Mutation("the last turn", "plan.planner",
             "final_turn = device.turn_ms if last != device.sides[0] else 0", "final_turn = 0"),
    Mutation("the last turn counts in the search", "plan.ordering",
             "self.question.start_side if opening else 0, 0]",
             "self.question.start_side, 0]"),
    Mutation("the first side is up at the end", "plan.planner",
             "if last != device.sides[0] else 0", "if last != device.sides[-1] else 0"),
    Mutation("closing takes its own tool", "plan.compiled",
             "close_tool=self._tool_index[access.close_tool],",
             "close_tool=self._tool_index[access.tool],"),
    Mutation("closing takes its own tool at its step", "plan.planner",
             'tool = access.tool if limb == "in" else access.close_tool', "tool = access.tool"),
    Mutation("each access has its own times", "plan.compiled",
             "complete=complete, cost=costs[number])", "complete=complete, cost=costs[0])"),
    Mutation("opening time", "plan.compiled", "open_cost=cost[0],", "open_cost=0,"),
    Mutation("closing time", "plan.compiled", "close_cost=cost[1],", "close_cost=cost[0],"),
    Mutation("read backwards only at one price and with one tool", "plan.selection",
             "all(_one_price(options) for options in self.options.values())", "True"),
    Mutation("read backwards only with one tool", "plan.selection",
             "        option.tool == option.close_tool\n        and option.open_cost",
             "        option.open_cost"),
    Mutation("read backwards only at one opening price", "plan.selection",
             "        and option.open_cost == first.open_cost\n", ""),
    Mutation("read backwards only from the first side", "plan.selection",
             "            and question.start_side == 0\n", ""),
    Mutation("read backwards only from all closed", "plan.selection",
             "            not question.opened\n            and ", "            "),
]  # fmt: skip

ACTS_AND_OBJECTIVES = [
    Mutation("acts at an opening", "plan.planner", "opening[act.joint] += act.ms", "pass"),
    Mutation("acts at a closing", "plan.planner", "closing[act.joint] += act.ms", "pass"),
    Mutation("acts that depend on what is opened", "plan.planner",
             "acts=_conditional_acts(device, rules, replaced),", "acts=(),"),
    Mutation("acts when something is replaced", "plan.acts",
             "return any(name in replaced for name in act.when_replaced)", "return False"),
    Mutation("any one of several that are replaced", "plan.acts",
             "return any(name in replaced for name in act.when_replaced)",
             "return bool(act.when_replaced) and all(n in replaced for n in act.when_replaced)"),
    Mutation("a spare is replaced with all that it contains", "plan.acts",
             "if s.id in words or set(s.contains) <= parts}", "if s.id in words}"),
    Mutation("a spare is replaced by its name", "plan.acts",
             "if s.id in words or set(s.contains) <= parts}", "if False}"),
    Mutation("acts when something is opened", "plan.selection",
             "return self.always or bool(self.when_opened & opened)", "return self.always"),
    Mutation("open at the start is not opened", "plan.selection",
             "opened = turning & ~opened_before", "opened = turning"),
    Mutation("acts tied to no joint", "plan.planner", "if act.joint is None and may_apply(", "if ("),
    Mutation("acts count in the sum of their limb", "plan.planner",
             "in_ms = _sum(way_in) + sum(act.ms for act in (*done.start, *done.turning))",
             "in_ms = _sum(way_in)"),
    Mutation("acts count at the end", "plan.planner",
             "+ final_turn + sum(act.ms for act in done.end)", "+ final_turn"),
    Mutation("risk", "plan.planner",
             'damage_ms(device, request, joint_id) if request.objective == "risk" else 0', "0"),
    Mutation("only what is opened is at risk", "plan.planner",
             "close_ms + closing[joint_id] + step)", "close_ms + closing[joint_id] + step + risk)"),
    Mutation("the price of what is damaged", "plan.planner",
             "chance * (device.parts[part].price or 0.0)", "chance"),
    Mutation("the price of labour", "plan.planner",
             "return round(price * MS_PER_HOUR / request.rate_per_h)",
             "return round(price * MS_PER_HOUR / 40)"),
    Mutation("fewest steps first", "plan.planner",
             'step = STEP_WEIGHT if request.objective == "steps" else 0', "step = 0"),
    Mutation("closings are steps too", "plan.planner",
             "close_ms + closing[joint_id] + step)", "close_ms + closing[joint_id])"),
]  # fmt: skip

SEARCH = [
    Mutation("among equals the fewest joints", "plan.selection",
             "+ (2 << n) - (1 << (n - 1 - rank))", "- (1 << (n - 1 - rank))"),
    Mutation("among equals the least list of ids", "plan.selection",
             "+ (2 << n) - (1 << (n - 1 - rank))", "+ (2 << n) - (1 << rank)"),
    Mutation("done at once only at its least price", "plan.sequence",
             "            if way.extra == 0:\n", "            if True:\n"),
    Mutation("done at once only in the class that is at hand", "plan.ordering",
             "kind = self.kind_of[option.side, option.tool]", "kind = self.kind_of[option.side, 0]"),
    Mutation("a turning set is better only when it weighs less", "plan.search",
             "if self._best_weight is None or weight < self._best_weight:", "if True:"),
    Mutation("what is too dear is no cheaper than the best", "plan.search",
             "room = self._best_weight - floor", "room = (self._best_weight - floor) // 8"),
    Mutation("a state that is found again, cheaper, is looked at again", "plan.sequence",
             "if g > best[key]:", "if g > best[key] or f < reached:"),
    Mutation("the bound of limbs that are joined is handed on", "plan.ordering",
             "bound = max(bound, inward.bound)", "pass"),
    Mutation("a natural order is an allowed one", "plan.handwork",
             "if options[op].is_open(opened)]", "]"),
    Mutation("a joint that all ways have in common", "plan.selection",
             "                    common &= needed_by(lm, units, clauses)",
             "                    common = needed_by(lm, units, clauses)"),
]  # fmt: skip

STOPPED = [
    Mutation("a stopped search proves nothing", "plan.search",
             "return Outcome(best, least, proven=False,", "return Outcome(best, least, proven=True,"),
    Mutation("the bound of a stopped search", "plan.search",
             "least = self.selection.least_cost_above(bound)",
             "least = 2 * self.selection.least_cost_above(bound)"),
    Mutation("the bound of the next node is the bound of all", "plan.search",
             "entry = (max(value, bound), -child", "entry = (2 * max(value, bound), -child"),
]  # fmt: skip

MUTATIONS = [*OPENING, *ASKING, *COST, *ACTS_AND_OBJECTIVES, *SEARCH]


def _ids(mutation: Mutation) -> str:
    return mutation.rule.replace(" ", "_")


def first_fault(planner: Planner, most: int = MOST_CASES) -> tuple[int, str] | None:
    """Number of the first case that shows a fault, and the fault; a crash is one too."""
    small = (judged(seed) for seed in range(most))
    larger = (judged(seed, LARGER) for seed in range(most // 10))
    crossed = (judged(seed, MANY_WAYS) for seed in range(most + most // 10))
    for number, (case, best) in enumerate(chain(small, larger, crossed)):
        try:
            found = fault_beside(
                lambda device, request: planner(device, request, ENOUGH), case, best
            )
        except Exception as error:  # noqa: BLE001 -- whatever a broken planner does
            found = f"crash: {error!r}"
        if found:
            return number, found
    return None


@cache
def _proven(seed: int) -> tuple[Case, Plan | None]:
    case = case_from_seed(seed, MIDDLE)
    try:
        return case, plan(*case)
    except InputError:
        return case, None


def first_fault_when_stopped(planner: Planner) -> str:
    """As :func:`first_fault`, of searches on larger machines that are stopped after little work.

    What is best is what the unbroken planner proves, which other tests hold to the judges.
    """
    for seed in range(200):
        case, best = _proven(seed)
        if best is None:
            continue
        for work in (1, 3, 10, 30):
            found = planner(*case, StopRule(work=work))
            if found.lower_bound > best.objective_value:
                return f"bound {found.lower_bound} is above the optimum {best.objective_value}"
            if found.proven and found.objective_value != best.objective_value:
                return f"{found.objective_value} is proven, the optimum is {best.objective_value}"
    return ""


@pytest.mark.parametrize("mutation", MUTATIONS, ids=_ids)
def test_a_broken_rule_is_found(mutation: Mutation) -> None:
    planner = broken_planner(mutation.module, mutation.old, mutation.new)
    found = first_fault(planner)
    assert found is not None, f"nothing tests the rule: {mutation.rule}"


@pytest.mark.parametrize("mutation", STOPPED, ids=_ids)
def test_a_broken_rule_of_stopping_is_found(mutation: Mutation) -> None:
    planner = broken_planner(mutation.module, mutation.old, mutation.new)
    assert first_fault_when_stopped(planner), f"nothing tests the rule: {mutation.rule}"


def test_the_unbroken_planner_loaded_the_same_way_has_no_fault() -> None:
    """What is found above is found because of the mutation, not because of how it is loaded."""
    planner = broken_planner(
        "plan.compiled", "earlier = set(joint.after)", "earlier = {*joint.after}"
    )
    assert planner is not plan
    assert first_fault(planner, 300) is None
    assert first_fault(plan, 100) is None
    assert first_fault_when_stopped(planner) == ""


@pytest.mark.parametrize("budget", [1, 3])
def test_plans_are_the_optimum_where_every_limb_is_cut_short_at_first(budget: int) -> None:
    """The search gives a limb little at first and more later; here next to nothing at first."""
    planner = broken_planner("plan.search", "FIRST_BUDGET = 20_000", f"FIRST_BUDGET = {budget}")
    assert first_fault(planner, 1_000) is None

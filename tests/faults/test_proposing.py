"""The one way in for every caller: what it takes, what it gives, and that it is the same every time."""

from __future__ import annotations

import json
import re

import pytest

from lastscrew.device.reading import load_device
from lastscrew.faults.evidence import Evidence
from lastscrew.faults.proposing import Terms, model_for, openings_key, prepared, propose
from lastscrew.faults.simulation import by_ratio_closed, simulate
from lastscrew.faults.strategy import strategy_tree, twigs
from lastscrew.problems import InputError
from tests.faults.lantern import LANTERN, lantern

DARK = Evidence(shows=("dark",))


def test_the_same_question_has_the_same_answer_prepared_or_not() -> None:
    """Opening costs worked out before, kept as data, or on the way: what is proposed does not change."""
    device = lantern()
    plain = propose(device, DARK)
    openings = prepared(device)
    table = json.loads(json.dumps(openings.table()))
    again = prepared(device, table=table)
    for known in (openings, openings, again):
        advice = propose(device, DARK, openings=known)
        assert advice.posterior == plain.posterior
        assert advice.expected_cost == pytest.approx(plain.expected_cost)
        assert advice.next is not None
        assert plain.next is not None
        assert advice.next.id == plain.next.id


def test_prepared_costs_serve_every_price_of_an_hour() -> None:
    """The table holds times and prices apart."""
    device = lantern()
    openings = prepared(device)
    for rate in (None, 30.0, 60.0):
        terms = Terms(rate_per_h=rate)
        with_table = propose(device, DARK, terms=terms, openings=openings)
        assert with_table.expected_cost == pytest.approx(
            propose(device, DARK, terms=terms).expected_cost
        )


def test_the_key_changes_with_what_costs_depend_on_and_with_nothing_else() -> None:
    """File, fitted, stock, pace and what is open; not the price of an hour, and no comment."""
    device = lantern()
    key = openings_key(device)
    assert openings_key(load_device(b"# said\n" + LANTERN.encode())) == key
    assert openings_key(device, Terms(rate_per_h=40, worth=3)) == key
    others = {
        openings_key(load_device(LANTERN.replace("open_s: 40", "open_s: 41").encode())),
        openings_key(device, Terms(stock=("lamp",))),
        openings_key(device, Terms(not_fitted=("lamp_clips",))),
        openings_key(device, Terms(pace=1.1)),
        openings_key(device, Terms(), ("cover_screws",)),
    }
    assert len(others | {key}) == 6


def test_every_problem_is_raised_at_once_with_its_field() -> None:
    """Fields of the question, not options of a command line: a page can put each beside its input."""
    evidence = Evidence(("drak",), ("dmi",), (("charger", "x"), ("y", "good")), ("charger2",))
    with pytest.raises(InputError) as caught:
        propose(lantern(), evidence, ("cover",), terms=Terms(stock=("z",), fitted=("w",)))
    assert sorted(problem.path for problem in caught.value.problems) == [
        "doubtful.charger2", "fitted.w", "lacks.dmi", "opened.cover", "results.charger=x", "results.y",
        "shows.drak", "stock.z",
    ]  # fmt: skip


def test_what_is_done_instead_is_followed() -> None:
    """Any mend and any check may be done at any time, proposed or not, twice as well."""
    device = lantern()
    done = (
        ("exchange_board", "done"), ("charger", "bad"), ("charger", "bad"), ("works", "faulty"),
        ("exchange_board", "done"), ("pack_voltage", "3.9"),
    )  # fmt: skip
    for count in range(len(done) + 1):
        advice = propose(device, Evidence(("dark",), (), done[:count]))
        assert advice.next is not None
        assert sum(p for _, p in advice.posterior) + advice.sound == pytest.approx(1)


def test_what_is_not_fitted_is_no_suspect() -> None:
    """A unit without a lamp has no fault of the lamp, no test of it, and no mend."""
    model = model_for(lantern(), Evidence(), terms=Terms(not_fitted=("lamp",)))
    assert [fault.id for fault in model.faults] == ["board_dead", "pack_flat", "plug_loose"]
    assert not [work.id for work in model.works if "lamp" in work.id]


def test_a_strategy_costs_what_its_branches_cost() -> None:
    """At every action: the cost from there is its own, the opening, and the mean of what follows."""
    advice = propose(lantern(), DARK)
    tree = strategy_tree(advice.model, advice.search, advice.node, least=0.0)
    assert tree.expected_cost == pytest.approx(advice.expected_cost)
    for twig in twigs(tree):
        if twig.branches:
            after = sum(below.chance * below.expected_cost for _, below in twig.branches)
            assert twig.expected_cost >= after / twig.chance - 1e-6
            assert sum(below.chance for _, below in twig.branches) == pytest.approx(twig.chance)


def test_the_proposal_is_at_least_as_good_as_the_ratio_rule_that_ignores_shared_opening() -> None:
    """Played against the same 300 machines, and against the two everyday habits."""
    model = model_for(lantern(), Evidence())
    outcomes = simulate(model, 300, work=60)
    (policy, likeliest, cheapest) = outcomes
    (again, ratio) = simulate(model, 300, work=60, habits={"ratio": by_ratio_closed})
    assert again.costs == policy.costs
    for other in (likeliest, cheapest, ratio):
        assert policy.mean < other.mean
        assert policy.works == pytest.approx(other.works, abs=0.05)


def test_a_machine_that_is_drawn_keeps_its_outcomes_for_every_strategy() -> None:
    """The same seed draws the same machines, whatever is played against them."""
    model = model_for(lantern(), Evidence())
    first = simulate(model, 40, seed=3, work=20)
    second = simulate(model, 40, seed=3, work=20)
    assert [outcome.costs for outcome in first] == [outcome.costs for outcome in second]


def test_what_a_mend_cures_is_no_more_than_all() -> None:
    """With two faults at once a machine that has two of those that a mend cures counts once in its share."""
    file = LANTERN.replace("prior: 8\n", "prior: 800\n").replace("prior: 30\n", "prior: 800\n")
    terms = Terms(two_faults=True, second_fault=0.9)
    advice = propose(load_device(file.encode()), Evidence(), terms=terms)
    chances = dict(advice.posterior)
    assert chances["pack_flat"] + chances["plug_loose"] > 1
    assert advice.next is not None
    assert advice.next.id == "exchange_pack"
    share = int(re.findall(r"(\d+) % of what may be wrong", advice.next.why)[0])
    assert 90 < share <= 100


@pytest.mark.parametrize(
    ("evidence", "doubted"),
    [
        (DARK, []),
        (Evidence(("dark",), results=(("charger", "bad"), ("board_light", "bad"))), []),
        (Evidence(("dark",), results=(("pack_voltage", "5"),)), ["Voltage of the pack: 5"]),
        (Evidence(("dark",), results=(("pack_voltage", "5"),), doubtful=("pack_voltage",)), []),
        (Evidence(("dark",), results=(("exchange_lamp", "done"), ("pack_voltage", "5"))), []),
    ],
)
def test_what_fits_nothing_is_told(evidence: Evidence, doubted: list[str]) -> None:
    """A result that nothing likely would show is named, so that a slip is seen; none taken back or after a mend."""
    told = propose(lantern(), evidence).doubts
    assert [words.partition(" fits nothing")[0] for words in told] == doubted


@pytest.mark.parametrize(
    ("results", "cheaper"),
    [
        ((("board_light", "good"),), True),
        ((("exchange_lamp", "done"), ("exchange_pack", "done"), ("exchange_board", "done")), False),
    ],
)
def test_what_is_open_is_a_reason_only_where_it_saves_something(
    results: tuple[tuple[str, str], ...], cheaper: bool
) -> None:
    """The lamp lies under the open cover; the device's own check has it closed, now or later."""
    advice = propose(lantern(), Evidence(("dark",), results=results), ("cover_screws",), work=20)
    assert advice.next is not None
    assert advice.next.steps
    assert ("cheaper now than later" in advice.next.why) == cheaper

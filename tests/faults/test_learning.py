"""Learning from closed jobs, held to a textbook and to what the model then expects."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lastscrew.device.model import Device
from lastscrew.faults.learning import (
    ClosedJob,
    Count,
    learn,
    with_learnt,
    without_job,
    without_result,
)
from lastscrew.faults.model import fault_model
from tests.faults.lantern import lantern

LAMP, PACK, PLUG, BOARD = "lamp_dead", "pack_flat", "plug_loose", "board_dead"


@pytest.mark.parametrize(
    ("mean", "strength", "expected"),
    [
        (0.500, 2, 0.446),
        (0.485, 2, 0.446),
        (0.485, 5, 0.446),
        (0.485, 10, 0.446),
        (0.485, 20, 0.447),
        (0.485, 100, 0.450),
        (0.485, 200, 0.453),
    ],
)
def test_a_beta_distribution_is_updated_as_in_the_textbook(
    mean: float, strength: float, expected: float
) -> None:
    """437 of 980: the table of Gelman and others, Bayesian Data Analysis, section 2.4 (from memory).

    The table gives medians, which agree with the means to the three figures shown.
    """
    assert round(Count(mean, strength, 437, 980).value, 3) == expected


def test_uniform_prior_gives_the_rule_of_succession() -> None:
    """Laplace: after s of n, (s + 1) / (n + 2)."""
    assert Count(0.5, 2, 7, 10).value == pytest.approx(8 / 12)


def jobs(*faults: str) -> list[ClosedJob]:
    """A closed job for each fault, in order."""
    return [ClosedJob(f"J-{n}", (fault,), {}) for n, fault in enumerate(faults)]


def test_priors_are_a_dirichlet_distribution() -> None:
    """Means sum to 1 before and after; each is its pseudo-count with what was seen over all."""
    learnt = learn(lantern(), jobs(LAMP, LAMP, PACK), strength=10)
    assert sum(count.value for count in learnt.priors.values()) == pytest.approx(1)
    assert learnt.priors[LAMP].value == pytest.approx((10 * 20 / 70 + 2) / 13)
    assert learnt.priors[PLUG].value == pytest.approx((10 * 8 / 70) / 13)
    assert str(learnt.priors[LAMP]) == "2 of 3 here; the file says 0.29 (counts as 10)"


def test_nothing_seen_changes_nothing() -> None:
    """No jobs: the same numbers, whatever they count for."""
    device = lantern()
    same = with_learnt(device, learn(device, [], strength=3))
    assert same.faults == device.faults


def row_of(device: Device, check: str, fault: str) -> dict[str, float]:
    """What the model expects a check to show with one fault."""
    model = fault_model(device, stock=tuple(device.parts))
    index = [work.id for work in model.checks].index(check)
    cause = [f.id for f in model.faults].index(fault)
    work = model.checks[index]
    return {o: row[cause] for o, row in zip(work.outcomes, model.chances[index], strict=True)}


def test_the_model_expects_what_was_learnt_leak_included() -> None:
    """Chances are counted with the leak in them; what the model then expects is the learnt mean itself."""
    device = lantern()
    seen = [ClosedJob(f"J-{n}", (PACK,), {"charger": "bad"}) for n in range(6)]
    seen += [ClosedJob("K", (PACK,), {"charger": "good"})]
    before = row_of(device, "charger", PACK)["bad"]
    assert before == pytest.approx(1 - (1 - 0.15) * (1 - 0.01))
    learnt = learn(device, seen, check_strength=5)
    expected = (5 * before + 6) / 12
    assert learnt.chances["charger", PACK, "bad"].value == pytest.approx(expected)
    assert row_of(with_learnt(device, learnt), "charger", PACK)["bad"] == pytest.approx(expected)


def test_measured_values_teach_their_outcome() -> None:
    """2.9 V is low, 4.6 V high: a check with three outcomes is a Dirichlet distribution that sums to 1."""
    device = lantern()
    seen = [
        ClosedJob("a", (PACK,), {"pack_voltage": "2.9"}),
        ClosedJob("b", (PACK,), {"pack_voltage": "4.6"}),
    ]
    learnt = learn(device, seen, check_strength=8)
    counts = [learnt.chances["pack_voltage", PACK, o] for o in ("good", "low", "high")]
    assert [count.seen for count in counts] == [0, 1, 1]
    assert sum(count.value for count in counts) == pytest.approx(1)
    row = row_of(with_learnt(device, learnt), "pack_voltage", PACK)
    for count, outcome in zip(counts, ("good", "low", "high"), strict=True):
        assert row[outcome] == pytest.approx(count.value, abs=1e-9)


def test_symptoms_are_counted_where_they_were_looked_for() -> None:
    """Shown 1 of 2 looked for; a job that says nothing about a symptom does not count."""
    device = lantern()
    seen = [
        ClosedJob("a", (LAMP,), {}, shown=("dark",)),
        ClosedJob("b", (LAMP,), {}, lacked=("dark",)),
        ClosedJob("c", (LAMP,), {}),
    ]
    learnt = learn(device, seen, check_strength=4)
    count = learnt.symptoms["dark", LAMP]
    assert (count.seen, count.of) == (1, 2)
    model = fault_model(with_learnt(device, learnt))
    cause = [fault.id for fault in model.faults].index(LAMP)
    assert model.symptoms["dark"][cause] == pytest.approx(count.value)


def test_jobs_with_several_faults_teach_frequencies_only() -> None:
    """Which of the two showed what can't be said."""
    learnt = learn(lantern(), [ClosedJob("a", (LAMP, PACK), {"charger": "bad"}, shown=("dark",))])
    assert (learnt.priors[LAMP].seen, learnt.priors[PACK].seen, learnt.priors[LAMP].of) == (1, 1, 2)
    assert (learnt.chances, learnt.symptoms) == ({}, {})
    assert learnt.several == ("a",)


def test_unknown_names_are_passed_over_and_told() -> None:
    """A job of another revision: what the file does not know teaches nothing."""
    learnt = learn(lantern(), [ClosedJob("a", ("gone",), {"old_check": "bad"}, shown=("humming",))])
    assert learnt.unknown == ("gone", "humming", "old_check")
    assert all(count.of == 0 for count in learnt.priors.values())


FAULTS = st.sampled_from((LAMP, PACK, PLUG, BOARD))
JOBS = st.lists(
    st.builds(
        ClosedJob,
        st.just(""),
        st.tuples(FAULTS),
        st.dictionaries(st.just("charger"), st.sampled_from(("good", "bad"))),
        st.sampled_from(((), ("dark",))),
    ),
    max_size=6,
).map(lambda found: [replace(job, id=f"J-{n}") for n, job in enumerate(found)])


@given(JOBS, st.randoms(use_true_random=False))
def test_the_order_of_jobs_does_not_matter(found: list[ClosedJob], random: object) -> None:
    """Counts know no order."""
    mixed = sorted(found, key=lambda job: (hash(job.id) ^ id(random)) % 7)
    assert learn(lantern(), mixed) == learn(lantern(), found)


@given(JOBS, st.integers(0, 5))
def test_what_is_taken_back_has_never_been(found: list[ClosedJob], index: int) -> None:
    """Without a job: as if it had not been there; without a result: as if it had not been in the job."""
    name = f"J-{index}"
    rest = [job for job in found if job.id != name]
    assert learn(lantern(), without_job(found, name)) == learn(lantern(), rest)
    bare = [replace(job, results={}) if job.id == name else job for job in found]
    assert learn(lantern(), without_result(found, name, "charger")) == learn(lantern(), bare)


def test_a_job_that_leaves_several_faults_possible_is_shared_out_as_the_file_has_them() -> None:
    """Together they count once, so that faults with a mend of their own gain nothing by it; no chance is learnt."""
    device = lantern()
    job = ClosedJob("J", (PACK, LAMP), {"charger": "bad"}, ("dark",), one_of=True)
    learnt = learn(device, [job, ClosedJob("K", (LAMP,), {})])
    priors = device.faults[PACK].prior, device.faults[LAMP].prior
    share = priors[0] / sum(priors)
    assert learnt.priors[PACK].seen == pytest.approx(share)
    assert learnt.priors[LAMP].seen == pytest.approx(2 - share)
    assert {count.of for count in learnt.priors.values()} == {2}
    assert sum(count.value for count in learnt.priors.values()) == pytest.approx(1)
    assert not learnt.chances
    assert not learnt.symptoms
    assert not learnt.several
    assert str(learnt.priors[PACK]).startswith("0.6 of 2 here")

"""A second person looks over all of a beginner's work and a share of the others'."""

from __future__ import annotations

import pytest

from lastscrew.bench.work.second_look import Look, is_done, is_due, workers
from lastscrew.run import events as e


def event(number: int, by: str, what: e.Happening) -> e.Event:
    return e.Event(id=f"e{number}", what=what, by=by, stored_ms=number)


WORK = [
    event(1, "Ada", e.Opened(joint="a")),
    event(2, "Bo", e.Closed(joint="a")),
    event(3, "Cy", e.Noted(text="looked in")),
]


def test_those_who_only_wrote_notes_did_no_work() -> None:
    assert workers(WORK) == ("Ada", "Bo")


def test_a_job_in_which_a_beginner_had_a_hand_is_always_looked_over() -> None:
    assert is_due(WORK, {"Bo"}, 0, "run")
    assert not is_due(WORK, {"Cy"}, 0, "run")


def test_the_share_is_about_as_large_as_asked_and_always_the_same() -> None:
    drawn = [is_due(WORK, (), 0.2, f"run{n}") for n in range(2_000)]
    # 400 expected, standard deviation 18 (binomial): four of them to either side.
    assert 328 <= sum(drawn) <= 472
    assert drawn == [is_due(WORK, (), 0.2, f"run{n}") for n in range(2_000)]
    assert not any(is_due(WORK, (), 0, f"run{n}") for n in range(100))
    assert all(is_due(WORK, (), 1, f"run{n}") for n in range(100))


def test_nothing_is_due_where_nothing_was_done() -> None:
    assert not is_due(WORK[2:], {"Cy"}, 1, "run")


@pytest.mark.parametrize(
    ("looks", "done"),
    [
        ([], False),
        ([Look("Cy", is_good=True, at_ms=5)], True),
        ([Look("ada", is_good=True, at_ms=5)], False),
        ([Look("Cy", is_good=True, at_ms=1)], False),
        ([Look("Cy", is_good=False, at_ms=5)], False),
        ([Look("Cy", is_good=False, at_ms=5), Look("Cy", is_good=True, at_ms=6)], True),
        ([Look("Cy", is_good=True, at_ms=5), Look("Di", is_good=False, at_ms=6)], False),
    ],
)
def test_only_somebody_else_who_saw_the_work_finished_counts(
    looks: list[Look], *, done: bool
) -> None:
    assert is_done(WORK, looks) is done

"""The arithmetic of sequences and the choice of an index."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lastscrew.times import most


@pytest.mark.parametrize("word", ["A2", "G6", "P10", "Q1", "A", "1", "A1B0", "a1", "A-1"])
def test_words_off_the_card_are_refused(word: str) -> None:
    """An index or a letter that the card does not have is an error, not a number."""
    with pytest.raises(ValueError, match="basic MOST"):
        most.sequence_tmu(f"A1 {word}")


TABLES = [
    most.FINGER_SPINS, most.WRIST_TURNS, most.WRIST_STROKES, most.WRIST_CRANKS, most.TAPS,
    most.ARM_STROKES, most.PROCESS_S,
]  # fmt: skip


@pytest.mark.parametrize("table", TABLES)
def test_tables_rise(table: dict[int, float]) -> None:
    """A greater index covers more."""
    indices = sorted(table)
    assert [table[i] for i in indices] == sorted(set(table.values()))


@given(st.sampled_from(TABLES), st.floats(0.01, 500))
def test_the_index_is_the_least_that_is_enough(table: dict[int, float], amount: float) -> None:
    """What is chosen covers the amount, and the next smaller last index would not."""
    indices = most.index_for(table, amount)
    assert sum(table[i] for i in indices) >= amount - 1e-9
    smaller = [i for i in table if i < indices[-1]]
    if smaller:
        assert sum(table[i] for i in indices[:-1]) + table[max(smaller)] < amount + 1e-9


def test_nothing_to_do_needs_no_index() -> None:
    """No turns, no index."""
    assert most.index_for(most.FINGER_SPINS, 0) == ()
    assert most.describe([]) == "nothing = 0 TMU"

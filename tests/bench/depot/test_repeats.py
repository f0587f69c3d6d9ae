"""Machines that come back: within thirty days, or for the same part."""

from __future__ import annotations

from lastscrew.bench.depot.repeats import DAY_MS, Earlier, repeats


def stay(number: int, gone_days_ago: float | None, parts: tuple[str, ...] = ()) -> Earlier:
    now = 1000 * DAY_MS
    gone = None if gone_days_ago is None else int(now - gone_days_ago * DAY_MS)
    return Earlier(f"u{number}", number, 0, gone, "repaired", parts)


def test_thirty_days_count_and_the_thirty_first_does_not() -> None:
    found = repeats([stay(1, 30.9), stay(2, 31), stay(3, 0.1)], 1000 * DAY_MS)
    assert [(repeat.earlier.number, repeat.days) for repeat in found] == [(3, 0), (1, 30)]
    assert all(repeat.is_soon for repeat in found)


def test_the_same_part_is_pointed_out_however_long_ago() -> None:
    found = repeats(
        [stay(1, 400, ("fan", "sink")), stay(2, 500, ("pack",))], 1000 * DAY_MS, ["fan"]
    )
    assert [(repeat.earlier.number, repeat.same_parts) for repeat in found] == [(1, ("fan",))]
    assert not found[0].is_soon


def test_a_stay_that_has_not_ended_or_ended_later_is_no_repeat() -> None:
    assert repeats([stay(1, None), stay(2, -1)], 1000 * DAY_MS) == ()

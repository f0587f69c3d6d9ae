"""Whatever can be told can be taken in: no event that reads well may stop a job."""

from __future__ import annotations

from dataclasses import fields, replace

from hypothesis import given, settings
from hypothesis import strategies as st

from lastscrew.bench.depot.running import RunFold, is_proven, is_work_done, take
from lastscrew.run.events import Event, Happening
from tests.bench.depot.test_stocking import box, estimate, events_of
from tests.run.test_lines import happenings

KNOWN = {
    "joint": ["lid_screws", "fan_screws", "nobody"],
    "part": ["fan", "fan_set", "board_set", "lid+fan", "nobody"],
    "supply": ["pad", "compound", "nobody"],
    "piece": ["m2", "m3", "washer:x", "measured:9 mm"],
    "about": ["e1", "e2", "e3"],
    "line": ["l1", "l2"],
}


@st.composite
def likely(draw: st.DrawFn) -> Happening:
    """Any happening, more often than not about things that there are."""
    what = draw(happenings())
    given_ = {spec.name for spec in fields(what) if getattr(what, spec.name) is not None}
    changes: dict[str, str] = {
        name: draw(st.sampled_from(values))
        for name, values in KNOWN.items()
        if name in given_ and (name != "part" or what.name in {"exchanged", "part_line"})
    }
    is_changed: bool = draw(st.booleans())
    return replace(what, **changes) if changes and is_changed else what


@settings(max_examples=150)
@given(
    st.lists(
        st.tuples(likely(), st.none() | st.integers(0, 10**7), st.sampled_from((None, "c", "d"))),
        max_size=14,
    )
)
def test_any_events_in_any_order_are_taken_in(
    told: list[tuple[Happening, int | None, str | None]],
) -> None:
    fold = RunFold()
    sums: dict[str, float] = {}
    first, *_ = events_of()
    rest = [
        Event(id=f"e{number}", what=what, at_ms=at_ms, client=client, stored_ms=10**7, by="Ada")
        for number, (what, at_ms, client) in enumerate(told, 1)
    ]
    for event in (first, *rest):
        taken = take(box(), fold, event, estimate())
        fold = taken.fold
        for moves in taken.moves.values():
            for code, change in moves:
                sums[code] = sums.get(code, 0) + change
        is_work_done(fold.state, box())
        is_proven(box(), fold.state)
    assert fold.state.version == len(told) + 1
    kept: dict[str, float] = {}
    for moves in fold.moves.values():
        for code, change in moves:
            kept[code] = kept.get(code, 0) + change
    assert {c: round(v, 3) for c, v in sums.items() if abs(v) > 1e-3} == {
        c: round(v, 3) for c, v in kept.items() if abs(v) > 1e-3
    }
    assert take(box(), fold, first, estimate()).fold.state == fold.state

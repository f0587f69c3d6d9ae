"""Talks in scraps without verbs: a thing, how many screws, and where it goes; the half said last holds."""

from __future__ import annotations

import pytest

from lastscrew.reading import Reading, read
from lastscrew.reading.clipped import as_orders
from lastscrew.reading.document import numbered
from lastscrew.reading.lexicon import load_lexicon
from lastscrew.reading.model import Source

OUT = (
    "pump nine. same as the others. water's off, power's off.",
    "lid. four, long ones. out. lid off, on the bench.",
    "impeller housing. two bolts and the hose. hose first. bolts out. housing off.",
    "display, three screws and the flat. flat off, latch up first. display out.",
    "motor. six nuts. no, five, one's gone. out. motor up, it's heavy.",
    "seal off, in the bin. clean here. leave the float, that's fine. nice.",
)
BACK = (
    "and back in again.",
    "motor down. five nuts on. tight.",
    "display in, three and the flat. latch down.",
    "housing on. two bolts in, hose last.",
    "lid on, four in. done. next one.",
)


TILL = (
    "next. till number twelve, same model. mains out, drawer out.",
    "top cover first. two catches at the back, pop, off.",
    "printer unit. flat out first, mind the tab. three screws, small ones. out she comes.",
    "cutter. plug off. one screw each side. off.",
    "customer display: two bolts underneath, then the lead. lead's off. pole up and out.",
    "power board. earth wire, one nut. nut off, wire off. four screws. board out.",
    "dust everywhere. quick blow. right, new fan in the bracket. four screws.",
    "going back. power board in. four in. earth wire on, nut on, tight.",
    "display pole down, two bolts, lead in.",
    "cutter on. a screw each side. plug in.",
    "printer in, three, and the flat. tab down.",
    "cover on, click, click. drawer in. mains in. it beeps. done. next.",
)


def heard(*lines: str) -> Reading:
    return read(Source("talk", "text", numbered(list(lines)), spoken=True))


def acts(reading: Reading, line: int) -> list[str]:
    """Class, last noun and count of what one line does."""
    return [
        f"{a.klass} {a.things[-1].head}" + (f" x{a.count}" if a.count is not None else "")
        for p in reading.procedures
        for a in p.actions()
        if a.line == line and a.klass != "other"
    ]


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        (1, []),
        (2, ["remove screw x4", "remove lid"]),
        (3, ["disconnect hose x1", "remove bolt x2", "remove housing"]),
        (4, ["disconnect cable x1", "release latch x1", "remove screw x3", "remove display"]),
        (5, ["remove nut x5", "lift motor"]),
        (6, ["remove seal"]),
        (8, ["replace motor", "tighten nut x5"]),
        (9, ["replace display", "tighten screw x3", "connect cable x1", "close latch x1"]),
        (10, ["replace housing", "tighten bolt x2", "connect hose"]),
        (11, ["replace lid", "tighten screw x4"]),
    ],
)
def test_scraps_are_read_as_what_they_do(line: int, expected: list[str]) -> None:
    """Particles say what becomes of what was named last; numbers are screws; the half is the one said last."""
    assert acts(heard(*OUT, *BACK), line) == expected


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        (2, ["release catch x2", "remove cover"]),
        (3, ["disconnect cable x1", "remove screw x3", "remove unit"]),
        (4, ["disconnect plug x1", "remove screw x2"]),
        (5, ["disconnect lead x1", "remove bolt x2", "lift pole"]),
        (6, ["remove nut x1", "disconnect wire x1", "remove screw x4", "remove board"]),
        (7, ["replace fan", "tighten screw x4"]),
        (8, ["replace board", "tighten screw x4", "connect wire x1", "tighten nut x1"]),
        (9, ["replace pole", "tighten bolt x2", "connect lead x1"]),
        (10, ["replace cutter", "tighten screw x2", "connect plug x1"]),
        (11, ["replace printer", "tighten screw x3", "connect cable x1", "close tab x1"]),
    ],
)
def test_names_that_nobody_knows_and_screws_by_the_side(line: int, expected: list[str]) -> None:
    """Words that no list has are names where a name stands; "each side" counts twice; a lead has its part's name."""
    assert acts(heard(*TILL), line) == expected


def test_the_way_back_begins_where_it_is_said() -> None:
    """From "back in again" on, the same scraps refit."""
    reading = heard(*OUT, *BACK)
    assert [procedure.kind for procedure in reading.procedures] == ["removal", "refit"]
    assert reading.procedures[1].steps[0].line == len(OUT) + 2


def test_a_talk_in_sentences_stays_as_it_is() -> None:
    """Some scraps among sentences do not make a talk in scraps."""
    line = "So there are four screws here. Take those out, it's easy. Lid off. Then you can reach the hose, see."
    source = Source("talk", "text", numbered([line] * 5), spoken=True)
    assert as_orders(source, load_lexicon()) is source

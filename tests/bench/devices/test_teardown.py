"""A recorded teardown gives a device file that `check` accepts and in which the recorded order is a way in."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lastscrew.bench.workshop.after_teardown import (
    Answers,
    Works,
    abilities_of,
    answers_as_json,
    answers_from,
    answers_from_json,
    asked_of_joints,
    asked_of_parts,
)
from lastscrew.bench.workshop.teardown import (
    Taken,
    Teardown,
    check_step,
    draft_of,
    known_parts,
    off_before,
    steps_as_json,
    steps_from_json,
)
from lastscrew.device.model import FLEXIBLE_KINDS, KINDS, RIGID_KINDS
from lastscrew.plan.briefing import brief
from lastscrew.plan.model import Request
from lastscrew.plan.planner import plan
from lastscrew.problems import InputError
from lastscrew.proof.checks import proof_of
from lastscrew.run.rules import ways

NOTEBOOK = Teardown(
    "Alder 13",
    "Chassis",
    "notebook",
    (
        Taken("a", "screw", ("Cover", "Chassis"), 9, tool="Driver", size="M2 x 5", drive="PH1"),
        Taken("b", "clip", ("Cover", "Chassis"), 12, tool="Pick", came_off=("Cover",)),
        Taken("c", "plug", ("Battery pack", "Main board"), 1, tool="", isolates=True),
        Taken("d", "screw", ("Battery pack", "Chassis"), 4, tool="Driver", size="M2 x 3", drive="PH1",
              came_off=("Battery pack",)),
        Taken("e", "ribbon", ("Keyboard", "Main board"), 1, tool="", over=("Cover",)),
        Taken("f", "screw", ("Main board", "Chassis"), None, tool="Driver", came_off=("Main board",),
              note="One is hidden."),
        Taken("g", "clip", ("Keyboard", "Chassis"), 8, side="top", tool="Pick", came_off=("Keyboard",)),
    ),
)  # fmt: skip


def test_a_first_unit_taken_apart_gives_a_file_that_plans() -> None:
    """Kinds, counts, sides, tools, sizes as tapped; what lay over what from the order, or as said."""
    text, result = draft_of(NOTEBOOK)
    device = result.device
    assert device is not None
    assert device.sides == ("bottom", "top")
    screws = device.joints["cover_screws"]
    assert (screws.kind, screws.joins, screws.count) == ("screw", ("cover", "chassis"), 9)
    assert device.fasteners[screws.fastener or ""].length_mm == 5
    assert screws.accesses[0].tool == "driver"
    assert device.tools["driver"].fits == ("PH1",)
    assert device.joints["battery_pack_plug"].isolates
    assert device.joints["battery_pack_plug"].accesses[0].under == ("cover",)
    assert device.joints["keyboard_ribbon"].accesses[0].under == ("cover",)
    board = device.joints["main_board_screws"]
    assert board.accesses[0].under == ("cover", "battery_pack")
    assert {"count", "fastener"} <= set(board.unknown)
    assert device.joints["keyboard_clips"].accesses[0] == replace(
        device.joints["keyboard_clips"].accesses[0], side="top", under=()
    )
    assert device.parts["battery_pack"].energy
    assert device.hazards["pack"].signal == "warning"
    assert "step 6: One is hidden." in text
    found = plan(device, Request(replace=("main_board",)))
    assert found.proven
    assert next(i for i, s in enumerate(found.way_in) if s.joint == "battery_pack_plug") < next(
        i for i, s in enumerate(found.way_in) if s.joint == "keyboard_ribbon"
    )


@pytest.mark.parametrize(
    ("name", "stores"),
    [
        ("Pack", True),
        ("Battery pack 2", True),
        ("Pack clamp", False),
        ("Battery cover", False),
        ("cell holders", False),
        ("Pack in its bracket", True),
        ("Battery with cable", True),
        ("Battery frame", True),  # the frame and what is in it: in doubt, it stores
        ("Backpack", False),
        ("Akku", True),
        ("Kondensator", True),
        ("Akkuhalter", False),
    ],
)
def test_a_part_stores_energy_by_its_name_but_not_what_only_holds_one(
    name: str, *, stores: bool
) -> None:
    steps = (Taken("a", "screw", (name, "Case"), 2, came_off=(name,)),)
    device = draft_of(Teardown("Wisp 4", "Case", "sampler", steps))[1].device
    assert device is not None
    assert [part.energy for part in device.parts.values() if not part.fixed] == [stores]


@pytest.mark.parametrize("size", ["M1,6x3,5", "m1.6 × 3.5 mm", "M 1.6 x 3.5"])
def test_a_size_is_read_as_people_write_it(size: str) -> None:
    step = Taken("a", "screw", ("Lid", "Case"), 2, size=size, came_off=("Lid",))
    begun = Teardown("Wisp 4", "Case", "sampler", ())
    assert check_step(begun, step) == ()
    device = draft_of(begun.with_step(step))[1].device
    assert device is not None
    (fastener,) = device.fasteners.values()
    assert (fastener.thread, fastener.length_mm) == ("M1.6", 3.5)


def test_of_a_plug_that_nobody_counted_there_is_one() -> None:
    steps = (
        Taken("a", "plug", ("Pack", "Board"), None, isolates=True),
        Taken("b", "screw", ("Board", "Case"), None, came_off=("Board",)),
    )
    device = draft_of(Teardown("Wisp 4", "Case", "sampler", steps))[1].device
    assert device is not None
    assert "count" not in device.joints["pack_plug"].unknown
    assert "count" in device.joints["board_screws"].unknown


def test_screws_under_a_cover_get_a_seat_so_that_the_part_does_not_come_free_too_early() -> None:
    """The board is held by screws alone, under pack and cover: the draft says what else holds it."""
    _, result = draft_of(NOTEBOOK)
    assert result.device is not None
    seat = result.device.joints["main_board_seat"]
    assert seat.after == ("main_board_screws",)
    assert not [p for p in result.warnings if p.code == "screws_alone"]


def test_what_was_opened_live_is_marked_and_does_not_shut_the_isolation_in() -> None:
    """A ribbon off before the pack's plug that lies below its panel: after a shut-down only, and said so."""
    steps = (
        Taken("a", "clip", ("Panel", "Case"), 6, came_off=()),
        Taken("b", "ribbon", ("Panel", "Board"), 1, came_off=("Panel",)),
        Taken("c", "plug", ("Pack", "Board"), 1, isolates=True),
        Taken("d", "screw", ("Board", "Case"), 4, came_off=("Board",)),
    )
    text, result = draft_of(Teardown("Box", "Case", steps=steps))
    assert result.device is not None
    ribbon = result.device.joints["panel_ribbon"]
    assert (ribbon.powered, ribbon.shutdown) == (False, True)
    assert "opened before the power was taken away" in text


def test_a_part_that_was_still_held_did_not_lie_over_what_was_opened() -> None:
    """Said to be off although a clip held it until later: the file goes by what was really opened."""
    steps = (
        Taken("a", "screw", ("Lid", "Case"), 4, came_off=("Lid",)),
        Taken("b", "screw", ("Fan", "Case"), 2, came_off=("Fan",)),
        Taken("c", "clip", ("Lid", "Case"), 2),
    )
    text, result = draft_of(Teardown("Box", "Case", steps=steps))
    assert result.device is not None
    assert result.device.joints["fan_screws"].accesses[0].under == ()
    assert "Lid: still held when this was opened" in text


def _machine(rng: random.Random) -> Teardown:
    """A teardown as it can happen: parts come off one after the other, each when its last joint opens."""
    parts = [f"Part {n}" for n in range(1, rng.randint(2, 9))]
    sides = ("bottom", "top", "edge")
    side = {part: rng.choice(sides) for part in parts}
    joints: list[tuple[str, tuple[str, ...], str]] = []
    for index, part in enumerate(parts):
        others = [*parts[index + 1 :], "Body"]
        joints.append((rng.choice(RIGID_KINDS), (part, rng.choice(others)), part))
        joints += [
            (rng.choice(KINDS), (part, rng.choice(others)), part) for _ in range(rng.randint(0, 3))
        ]
    isolator = rng.randrange(len(joints)) if rng.random() < 0.7 else None
    steps = []
    for number, (kind, joins, owner) in enumerate(joints):
        last = number + 1 == len(joints) or joints[number + 1][2] != owner
        steps.append(
            Taken(
                f"k{number}", "plug" if number == isolator else kind, joins,
                rng.choice((None, 1, 4, 12)), side[owner], rng.choice((None, "", "Driver", "Pick")),
                rng.choice(("", "M2 x 4", "M1.6x3")), rng.choice(("", "PH0", "T5")),
                (owner,) if last else (), isolates=number == isolator,
            )
        )  # fmt: skip
    return Teardown("Machine", "Body", steps=tuple(steps))


@pytest.mark.parametrize("seed", range(60))
def test_any_teardown_that_can_happen_gives_an_accepted_file_in_which_it_can_happen(
    seed: int,
) -> None:
    """Random machines, taken apart from outside inwards: `check` accepts, and the recorded order is allowed.

    Allowed by the rules of opening, which know nothing of teardowns; power aside, which people leave on.
    """
    teardown = _machine(random.Random(seed))
    _, result = draft_of(teardown)
    assert result.device is not None, [p.message for p in result.errors]
    device = replace(
        result.device,
        joints={key: replace(joint, isolates=False) for key, joint in result.device.joints.items()},
    )
    opened: list[str] = []
    recorded = [key for key in device.joints if not key.endswith("_seat") or device.joints[key].kind != "seat"
                or not device.joints[key].after]  # fmt: skip
    seats = [key for key in device.joints if key not in recorded]
    for key in recorded:
        assert ways(device, opened, key), key
        opened.append(key)
        for seat in seats:
            if seat not in opened and set(device.joints[seat].after) <= set(opened):
                assert ways(device, opened, seat), seat
                opened.append(seat)


names = st.sampled_from(["A", "B", "C", "Battery", "Body", "Ä", "a" * 300, "x y"])


@given(
    st.lists(
        st.builds(
            Taken,
            key=st.uuids().map(str),
            kind=st.sampled_from([*RIGID_KINDS[:3], *FLEXIBLE_KINDS[:3], "other", "seat"]),
            joins=st.tuples(names, names),
            count=st.none() | st.integers(-1, 1200),
            side=st.sampled_from(["bottom", "top", "", "Left edge"]),
            tool=st.none() | st.sampled_from(["", "Driver", "ß", "Pick"]),
            size=st.sampled_from(["", "M2x3", "M9999x1", "nonsense"]),
            drive=st.sampled_from(["", "PH1", "??"]),
            came_off=st.lists(names, max_size=2).map(tuple),
            over=st.none() | st.lists(names, max_size=2).map(tuple),
            isolates=st.booleans(),
            single_use=st.booleans(),
            note=st.text(max_size=40),
        ),
        min_size=1,
        max_size=8,
    )
)
def test_whatever_is_tapped_gives_a_file_or_problems_with_their_places(steps: list[Taken]) -> None:
    """Steps that the form refuses are left out as it would; the rest never ends in an exception."""
    teardown = Teardown("Thing", "Body")
    for step in steps:
        if not check_step(teardown, step):
            teardown = teardown.with_step(step)
    if not teardown.steps:
        with pytest.raises(InputError, match="nothing was opened"):
            draft_of(teardown)
        return
    _, result = draft_of(teardown)
    assert result.device is not None or all(p.line for p in result.errors)


def test_what_must_work_and_what_is_renewed_follows_into_the_plan() -> None:
    """A fan said to cool and a tape said to be renewed: the plan checks the one and orders the other."""
    steps = (
        Taken("a", "tape", ("Cover", "Case"), 1, tool="", single_use=True, came_off=("Cover",)),
        Taken("b", "screw", ("Heat sink", "Case"), 4, size="M2 x 5", came_off=("Heat sink",)),
        Taken("c", "clip", ("Fan", "Case"), 2, tool="", came_off=("Fan",)),
    )
    teardown = Teardown("Rill 3", "Case", steps=steps)
    parts = known_parts(teardown)[1:]
    asked = {joint.step: joint.name for joint in asked_of_joints(steps, Answers())}
    assert asked == {"a": "tape for Cover", "b": "thermal compound"}
    values = {f"new:{step}": [name] for step, name in asked.items()}
    values |= {
        part.field: [ability.key for ability, is_ticked in part.choices if is_ticked]
        for part in asked_of_parts(parts, Answers())
    }
    answers = answers_from(values, parts, steps)
    assert answers_from_json(answers_as_json(answers)) == answers
    device = draft_of(replace(teardown, answers=answers))[1].device
    assert device is not None
    assert device.functions.keys() == {"cooling"}
    made = plan(device, Request(replace=("fan",)))
    proof = proof_of(device, made)
    assert [check.function for check in proof.checks] == ["cooling"]
    briefing = brief(device, made)
    assert {line.name for line in briefing.order} >= {"tape for Cover"}
    gone = replace(teardown, answers=replace(answers, works=(Works("Gone", "Hums", "Listen."),)))
    assert draft_of(gone)[1].device is not None


@pytest.mark.parametrize(
    ("part", "keys"),
    [
        ("Lüfter", {"cooling"}),
        ("Akku", {"runs_on_pack"}),
        ("Touch pad", {"pointing"}),
        ("USB board", {"sockets"}),
        ("Battery cover", set()),
        ("Akkuhalter", set()),
        ("Chassis", set()),
    ],
)
def test_what_a_part_may_do_is_proposed_by_its_name(part: str, keys: set[str]) -> None:
    assert {ability.key for ability in abilities_of(part)} == keys


def test_a_resent_tap_counts_once_and_a_mistake_is_taken_back() -> None:
    """By the key that the screen made."""
    step = NOTEBOOK.steps[0]
    assert NOTEBOOK.with_step(step) is NOTEBOOK
    shorter = NOTEBOOK.without("b")
    assert len(shorter.steps) == 6
    assert off_before(shorter, 3) == ("Battery pack",)
    assert known_parts(NOTEBOOK)[:2] == ("Chassis", "Cover")


def test_steps_are_kept_and_read_back() -> None:
    """As plain data, nothing lost: a tool that is the bare hand is not one that nobody said."""
    assert steps_from_json(steps_as_json(NOTEBOOK.steps)) == NOTEBOOK.steps


@pytest.mark.parametrize(
    ("change", "path"),
    [
        ({"kind": "rope"}, "kind"),
        ({"joins": ("Cover", "cover")}, "joins"),
        ({"joins": ("…", "Chassis")}, "joins"),
        ({"count": 0}, "count"),
        ({"size": "small"}, "size"),
        ({"drive": "cross"}, "drive"),
        ({"came_off": ("Chassis",)}, "came_off"),
        ({"came_off": ("Cover",)}, "came_off"),
    ],
)
def test_a_step_that_makes_no_sense_is_refused_at_its_field(
    change: dict[str, object], path: str
) -> None:
    """One thing wrong each."""
    step = replace(Taken("new", "screw", ("Fan", "Chassis"), 2), **change)  # type: ignore[arg-type]
    assert [problem.path for problem in check_step(NOTEBOOK, step)] == [path]

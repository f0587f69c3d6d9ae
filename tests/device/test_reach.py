"""What can be reached: the fast closure against the plain rules, and the errors that follow from it."""

from __future__ import annotations

import time
from random import Random

import pytest

from lastscrew.device.fitting import absent, fit
from lastscrew.device.model import Access, Device, Joint, Option, Part
from lastscrew.device.opening import accesses_that_allow, clusters
from lastscrew.device.reaching import Clusters, Openings
from lastscrew.device.reading import read_device
from lastscrew.problems import Problem


def machine(random: Random, options: int = 0) -> Device:
    """A small tangled machine: several accesses, joints of three parts, parts under themselves, isolators."""
    names = [f"o{i}" for i in range(options)]
    parts = {
        f"p{i}": Part(
            f"p{i}", "", fixed=i == 0, energy=random.random() < 0.1,
            if_fitted=random.choice(names) if names and i and random.random() < 0.3 else None,
        )
        for i in range(random.randint(3, 8))
    }  # fmt: skip
    joints: dict[str, Joint] = {}
    for k in range(random.randint(1, 13)):
        accesses = tuple(
            Access("a", under=tuple(random.sample(list(parts), random.randint(0, 2))))
            for _ in range(random.randint(1, 2))
        )
        joints[f"j{k}"] = Joint(
            f"j{k}", "clip", tuple(random.sample(list(parts), 2 if random.random() < 0.7 else 3)), accesses,
            rigid=random.random() < 0.7, after=(f"j{random.randrange(k)}",) if k and random.random() < 0.2 else (),
            powered=random.random() < 0.2, isolates=random.random() < 0.1,
            if_fitted=random.choice(names) if names and random.random() < 0.2 else None,
        )  # fmt: skip
    return Device(
        "d",
        "d",
        ("a",),
        parts,
        joints,
        options={n: Option(n, n, random.random() < 0.5) for n in names},
    )


def closure(device: Device, kept_closed: str = "") -> set[str]:
    """Everything that can be opened, by the plain rules, one pass after the other."""
    opened: set[str] = set()
    while True:
        more = {
            j
            for j in device.joints
            if j not in opened and j != kept_closed and accesses_that_allow(device, opened, j)
        }
        if not more:
            return opened
        opened |= more


@pytest.mark.parametrize("start", range(0, 2_000, 200))
def test_the_fast_closure_is_the_plain_one(start: int) -> None:
    """On random machines the incremental closure opens exactly what the plain rules allow."""
    for seed in range(start, start + 200):
        device = machine(Random(seed))
        found = Openings(device)
        assert set(found.opened) == closure(device), seed
        kept = Random(seed).choice(list(device.joints))
        assert set(Openings(device, kept_closed=[kept]).opened) == closure(device, kept), seed


def test_the_machines_are_not_all_alike() -> None:
    """Of the random machines a good part can be opened whole and a good part can not."""
    whole = sum(
        len(closure(d)) == len(d.joints) for d in (machine(Random(seed)) for seed in range(300))
    )
    assert 100 < whole < 250


def test_clusters_are_kept_up_to_date() -> None:
    """After each opening in any order, two parts have one label exactly when closed rigid joints tie them."""
    for seed in range(300):
        random = Random(seed)
        device = machine(random)
        order = random.sample(list(device.joints), len(device.joints))
        fast = Clusters(device)
        for index, joint in enumerate(order):
            if device.joints[joint].rigid:
                fast.open(joint)
            plain = clusters(device, order[index + 1 :])
            assert all(
                (fast.label[a] == fast.label[b]) == (plain[a] == plain[b])
                for a in device.parts
                for b in device.parts
            ), seed


def test_less_fitted_is_never_harder_to_reach() -> None:
    """The law behind checking with every option fitted: what is reached then is reached in every unit that has it."""
    for seed in range(600):
        random = Random(seed)
        device = machine(random, options=2)
        whole = closure(fit(device, fitted=device.options))
        lacking = [o for o in device.options if random.random() < 0.5]
        unit = fit(
            device, not_fitted=lacking, fitted=[o for o in device.options if o not in lacking]
        )
        assert {j for j in unit.joints if j in whole} <= closure(unit), seed


def chain(length: int) -> Device:
    """Plates on a frame, each lying over the screw of the next; the first joint in the file is the last to open."""
    parts = {f"p{i}": Part(f"p{i}", "", fixed=i == 0) for i in range(length)}
    joints = {
        f"j{k}": Joint(
            f"j{k}",
            "screw",
            (f"p{k}", "p0"),
            (Access("a", under=(f"p{k - 1}",) if k > 1 else ()),),
            rigid=True,
        )
        for k in range(length - 1, 0, -1)
    }
    return Device("d", "d", ("a",), parts, joints)


def ring(length: int) -> Device:
    """Blocks screwed in a ring, latched along it, hidden in all directions."""
    parts = {f"p{i}": Part(f"p{i}", "", fixed=i == 0) for i in range(length)}
    joints = {}
    for k in range(length):
        pair = (f"p{k}", f"p{(k + 1) % length}")
        over = (f"p{(k + length // 2) % length}",) if k > 1 else ()
        joints[f"s{k}"] = Joint(f"s{k}", "screw", pair, (Access("a", under=over),), rigid=True)
        joints[f"l{k}"] = Joint(
            f"l{k}", "latch", pair, (Access("a", under=(f"p{k}",)),), rigid=True
        )
    return Device("d", "d", ("a",), parts, joints)


@pytest.mark.parametrize("make", [chain, ring])
def test_large_machines_take_seconds_not_minutes(make: object) -> None:
    """Five thousand joints in the least convenient order are searched in a few seconds."""
    assert callable(make)
    start = time.perf_counter()
    Openings(make(5_000))
    assert time.perf_counter() - start < 20


BOX = """\
format: 1
device: {name: Box}
options: {cell: {fitted: false}, dock: {}}
parts: {box: {fixed: true}, lid: {}, board: {}, pack: {}, card: {if_fitted: cell}, fan: {if_fitted: dock}}
joints:
  lid_clip: {kind: clip, joins: [lid, box]}
  plug: {kind: plug, joins: [pack, board], under: [lid], isolates: true}
  pack_clip: {kind: clip, joins: [pack, box], under: [lid]}
  board_clip: {kind: clip, joins: [board, box], under: [lid]}
  card_clip: {kind: clip, joins: [card, board], under: [lid]}
  fan_clip: {kind: clip, joins: [fan, box], under: [lid]}
"""


def found(*changes: tuple[str, str]) -> list[tuple[str, str, str]]:
    """Severity, code and path of what is found after the changes of the box."""
    return [(p.severity, p.code, p.path) for p in problems(*changes)]


def problems(*changes: tuple[str, str]) -> tuple[Problem, ...]:
    """What is found after the changes of the box."""
    text = BOX
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    return read_device(text).problems


def test_the_box_is_good() -> None:
    """The base of the cases below has no problem."""
    assert found() == []


def test_two_parts_that_shut_each_other_in() -> None:
    """Lid under board and board under lid: the cause has its reason, every other joint names the cause."""
    told = problems(("joins: [lid, box]", "joins: [lid, box], under: [board]"))
    assert [(p.code, p.path) for p in told] == [
        ("unreachable", f"joints.{j}")
        for j in ("lid_clip", "plug", "pack_clip", "board_clip", "card_clip", "fan_clip")
    ]
    assert "board lies over it and stays tied to it by board_clip" in told[0].message
    assert all("lid_clip" in p.message for p in told[1:])


def test_a_circle_of_after_is_told_once_with_its_members() -> None:
    """Three joints after one another in a circle: one error that lists them; what hangs on them follows."""
    told = problems(
        ("joins: [pack, box]", "joins: [pack, box], after: [board_clip]"),
        ("joins: [board, box]", "joins: [board, box], after: [fan_clip]"),
        ("joins: [fan, box]", "joins: [fan, box], after: [pack_clip]"),
    )
    assert [(p.code, p.path) for p in told] == [("circular_after", "joints.pack_clip.after")]
    assert "pack_clip after board_clip after fan_clip after pack_clip" in told[0].message


def test_two_circles_are_two_errors() -> None:
    """Circles that have nothing to do with each other are both told."""
    assert found(
        ("joins: [pack, box]", "joins: [pack, box], after: [board_clip]"),
        ("joins: [board, box]", "joins: [board, box], after: [pack_clip]"),
        ("joins: [fan, box]", "joins: [fan, box], after: [fan_clip]"),
    ) == [
        ("error", "circular_after", "joints.pack_clip.after"),
        ("error", "circular_after", "joints.fan_clip.after"),
    ]


def test_isolation_that_needs_itself() -> None:
    """The isolating plug under a board whose clip is live: told at the plug, with the joint that waits for it."""
    told = problems(
        ("under: [lid], isolates", "under: [lid, board], isolates"),
        ("joins: [pack, board], under", "joins: [pack, box], under"),
        ("joins: [board, box]", "joins: [board, box], powered: true"),
    )
    assert told[0].code == "isolation_needs_itself"
    assert told[0].path == "joints.plug"
    assert "board lies over it" in told[0].message
    assert "board_clip itself waits for isolation" in told[0].message
    assert [p.path for p in told[1:]] == ["joints.board_clip"]


def test_a_joint_of_an_option_that_nobody_can_reach() -> None:
    """A joint that units lack by default is tried with nothing fitted beyond what it needs."""
    assert found(
        (
            "joins: [card, board], under: [lid]",
            "joins: [card, board], under: [lid], after: [card_clip]",
        )
    ) == [("error", "circular_after", "joints.card_clip.after")]
    change = ("joins: [card, board], under: [lid]", "joins: [card, board], under: [card, lid]")
    more = (
        "  fan_clip",
        "  card_rest: {kind: seat, joins: [card, board], after: [card_clip]}\n  fan_clip",
    )
    assert found(change, more) == [
        ("error", "unreachable", "joints.card_clip"),
        ("error", "unreachable", "joints.card_rest"),
    ]


def test_options_that_only_together_shut_a_joint_in_are_a_warning() -> None:
    """The fan lies under the card and the card under the fan: both fitted is a warning, either alone is right."""
    assert found(
        ("joins: [fan, box], under: [lid]", "joins: [fan, box], under: [card]"),
        ("joins: [card, board], under: [lid]", "joins: [card, box], under: [fan]"),
    ) == [
        ("warning", "unreachable_with_options", "joints.card_clip"),
        ("warning", "unreachable_with_options", "joints.fan_clip"),
    ]


def test_every_unreachable_joint_is_told() -> None:
    """On random machines the joints with an error are those that the plain closure leaves shut."""
    for seed in range(150):
        device = machine(Random(seed))
        text = _file_of(device)
        result = read_device(text)
        told = {p.path.split(".")[1] for p in result.errors}
        assert told == set(device.joints) - closure(device), (seed, result.errors)
        assert all(p.code in {"unreachable", "isolation_needs_itself"} for p in result.errors)


def _file_of(device: Device) -> str:
    """The machine as a device file, written without the writer."""
    lines = ["format: 1", "device: {name: d}", "sides: [a]", "parts:"]
    lines += [
        f"  {p.id}: {{fixed: {str(p.fixed).lower()}, energy: {str(p.energy).lower()}}}"
        for p in device.parts.values()
    ]
    lines.append("joints:")
    for j in device.joints.values():
        accesses = ", ".join(f"{{under: [{', '.join(a.under)}]}}" for a in j.accesses)
        lines.append(
            f"  {j.id}: {{kind: other, rigid: {str(j.rigid).lower()}, joins: [{', '.join(j.joins)}],"
            f" after: [{', '.join(j.after)}], powered: {str(j.powered).lower()}, isolates: {str(j.isolates).lower()},"
            f" access: [{accesses}]}}"
        )
    return "\n".join(lines)


def test_options_parts_and_joints_of_one_id_are_kept_apart() -> None:
    """An option that a unit lacks takes its parts with it, not a part or joint that happens to share its id."""
    text = """\
format: 1
device: {name: Names}
options: {fan: {fitted: false}}
parts: {box: {fixed: true}, fan: {}, wing: {if_fitted: fan}, lid: {}}
joints:
  fan: {kind: clip, joins: [lid, box]}
  lid: {kind: clip, joins: [wing, lid]}
  rest: {kind: clip, joins: [fan, box]}
"""
    device = read_device(text).device
    assert device is not None
    unit = fit(device)
    assert (list(unit.parts), list(unit.joints)) == (["box", "fan", "lid"], ["fan", "rest"])
    assert absent(device, not_fitted=["lid"]).parts == {"lid", "wing"}
    assert absent(device, not_fitted=["lid"]).joints == {"fan", "lid"}
    assert list(fit(device, not_fitted=["rest"]).joints) == ["fan"]

"""Work with power on may leave open only live joints that it names: what `check` says where it does not."""

# ruff: noqa: E501 (a table)
from __future__ import annotations

from collections.abc import Collection
from itertools import chain, combinations
from random import Random

import pytest

from lastscrew.device.model import Device
from lastscrew.device.opening import accesses_that_allow
from lastscrew.device.reading import load_device, read_device
from lastscrew.device.ways import Ways
from lastscrew.faults.proposing import Terms, prepared
from lastscrew.problems import InputError

BASE = """\
format: 1
device: {name: Base}
parts:
  box: {fixed: true}
  lid: {}
  cell: {energy: true}
  shield: {}
  card: {functions: [rings]}
  film: {}
functions:
  rings: {check: Ring it., check_s: 5}
joints:
  lid_clips: {kind: clip, joins: [lid, box]}
  cell_plug: {kind: plug, joins: [cell, box], under: [lid], isolates: true}
  cell_seat: {kind: seat, joins: [cell, box], under: [lid], powered: false}
  shield_clip: {kind: clip, joins: [shield, box], under: [lid], powered: true}
  card_ribbon: {kind: ribbon, joins: [card, box], under: [shield]}
  card_clip: {kind: clip, joins: [card, box], under: [shield]}
  film_tape: {kind: tape, joins: [film, lid]}
symptoms: {dark: {}}
checks:
  works: {check: Try it., check_s: 9, final: true, power: "on"}
  tone: {check: Listen., check_s: 9, open: [card_ribbon], may_be_open: [shield_clip], power: "on", closed: [cell_plug]}
  other_card: {swap_test: card, check_s: 9, may_be_open: [shield_clip]}
faults:
  card_bad: {part: card, symptoms: {dark: often}, checks: {tone: often}}
  firmware: {part: card, symptoms: {dark: often}, mends: [{do: update, open: [shield_clip]}]}
  seat: {joint: card_ribbon, symptoms: {dark: often}}
"""
"""The ribbon of the card lies under a shield whose clip is live; everything that needs it names that clip."""

CASES = [
    ("card_ribbon], may_be_open: [shield_clip]", "card_ribbon]", "live_not_named", "checks.tone.open", "shield_clip", 23),
    ("open: [card_ribbon], may_be_open: [shield_clip]", "open: [card_clip]", "live_not_named", "checks.tone.open", "shield_clip", 23),
    ("check_s: 9, may_be_open: [shield_clip]", "check_s: 9", "live_not_named", "checks.other_card.swap_test", "shield_clip", 24),
    ("update, open: [shield_clip]", "update, open: [card_clip]", "live_not_named", "faults.firmware.mends[0].open", "shield_clip", 27),
    ("joint: card_ribbon,", 'joint: card_ribbon, mends: [{do: reseat, power: "on"}],', "live_worked_on", "faults.seat.mends[0].power", "card_ribbon", 28),
    ("closed: [cell_plug]", "closed: [shield_clip]", "out_of_reach", "checks.tone.open", "shield_clip", 23),
    ("under: [shield]}\n  film", "under: [shield], prove_before_close: [rings]}\n  film", "live_not_named", "joints.card_clip.prove_before_close[0]", "shield_clip", 18),
]  # fmt: skip


def test_all_that_is_named_is_no_warning() -> None:
    """Where every live joint is named nothing is said, and fault finding takes the file; what isolates may stand under closed."""
    assert read_device(BASE).problems == ()
    prepared(load_device(BASE), terms=Terms(stock=("card",)))


@pytest.mark.parametrize(("old", "new", "code", "path", "joint", "line"), CASES)
def test_a_live_joint_that_is_not_named_is_a_warning(
    old: str, new: str, code: str, path: str, joint: str, line: int
) -> None:
    """One change of the base gives one warning at its place, which names the joint; the file can still be used."""
    assert BASE.count(old) == 1
    result = read_device(BASE.replace(old, new))
    found = [(p.severity, p.code, p.path, p.line) for p in result.problems]
    assert found == [("warning", code, path, line)]
    problem = result.problems[0]
    assert joint in str(problem.message)
    assert problem.remedy
    assert result.device is not None


@pytest.mark.parametrize("case", [case for case in CASES[:4] if case[2] == "live_not_named"])
def test_fault_finding_refuses_what_the_warning_is_about(
    case: tuple[str, str, str, str, str, int],
) -> None:
    """What `check` warns of is refused before a technician is sent to it."""
    device = load_device(BASE.replace(case[0], case[1]))
    with pytest.raises(InputError, match="live"):
        prepared(device, terms=Terms(stock=("card",)))


def test_a_function_is_named_what_its_check_names() -> None:
    """A function that is tried before a joint is closed takes over the joints that its entry of ``checks`` names."""
    text = BASE.replace(
        "under: [shield]}\n  film", "under: [shield], prove_before_close: [rings]}\n  film"
    )
    assert read_device(text.replace("check: Ring it.", "check: tone")).problems == ()


def test_a_way_round_the_live_joint_is_no_warning() -> None:
    """Where the check can be reached without the live joint nothing is said."""
    text = BASE.replace("card_ribbon], may_be_open: [shield_clip]", "card_ribbon]").replace(
        "joins: [card, box], under: [shield]}\n  card_clip",
        "joins: [card, box], access: [{under: [shield]}, {under: [lid]}]}\n  card_clip",
    )
    assert read_device(text).problems == ()


# --- ways, held to trying everything --------------------------------------------------------------------


def _random_device(rng: Random) -> Device:
    """Five parts on a base, some joints with several accesses."""
    joints = []
    for number in range(6):
        part = f"p{number % 5}"
        over = [f"p{k}" for k in range(5) if k != number % 5 and rng.random() < 0.35]
        more = [f"p{k}" for k in range(5) if k != number % 5 and rng.random() < 0.35]
        access = [{"under": over}, {"under": more}] if rng.random() < 0.5 else [{"under": over}]
        ways = ", ".join(f"{{under: [{', '.join(each['under'])}]}}" for each in access)
        kind = rng.choice(("clip", "seat", "plug"))
        joints.append(f"  j{number}: {{kind: {kind}, joins: [{part}, base], access: [{ways}]}}")
    parts = "".join(f"  p{k}: {{}}\n" for k in range(5))
    text = (
        f"format: 1\ndevice: {{name: R}}\nparts:\n  base: {{fixed: true}}\n{parts}joints:\n"
        + "\n".join(joints)
    )
    device = read_device(text).device
    return device if device is not None else _random_device(rng)


def _reachable_sets(device: Device) -> set[frozenset[str]]:
    """Every set of open joints that one joint after the other leads to."""
    found, todo = {frozenset[str]()}, [frozenset[str]()]
    while todo:
        opened = todo.pop()
        for joint in device.joints:
            more = opened | {joint}
            if (
                joint not in opened
                and more not in found
                and accesses_that_allow(device, opened, joint)
            ):
                found.add(more)
                todo.append(more)
    return found


def _some(joints: Collection[str]) -> list[tuple[str, ...]]:
    return list(chain.from_iterable(combinations(sorted(joints), n) for n in (1, 2)))


@pytest.mark.parametrize("seed", range(8))
def test_ways_are_those_of_trying_everything(seed: int) -> None:
    """What must be open, and what may not all be left out, agrees with every set that can be open."""
    device = _random_device(Random(f"ways-{seed}"))
    ways, sets = Ways(device), _reachable_sets(device)
    for needed in _some(device.joints):
        with_it = [opened for opened in sets if opened.issuperset(needed)]
        for joint in set(device.joints).difference(needed):
            assert ways.must_open(joint, needed) == all(joint in opened for opened in with_it)
        aside = {f"j{k}" for k in range(0, 6, 2)}.difference(needed)
        least = set(ways.least_of(aside, needed))
        allowed = [opened & aside for opened in with_it]
        if not allowed:
            assert not least
            continue
        assert any(opened <= least for opened in allowed)
        for joint in least:
            assert not any(opened <= least - {joint} for opened in allowed)

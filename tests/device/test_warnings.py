"""Every warning of a device file: it is given where it should be, and only there."""

# ruff: noqa: E501 (a table)
from __future__ import annotations

import pytest

from lastscrew.device.reading import read_device

BASE = """\
format: 1
device: {name: Base}
tools: {driver: {fits: [PH1]}}
fasteners: {m2x5: {drive: ph 1}}
parts:
  box: {fixed: true}
  lid: {}
  pack: {energy: true}
  card: {}
joints:
  lid_screws: {kind: screw, joins: [lid, box], fastener: m2x5, tool: driver}
  plug: {kind: plug, joins: [pack, box], under: [lid], isolates: true}
  pack_seat: {kind: seat, joins: [pack, box], under: [lid]}
  card_clip: {kind: clip, joins: [card, box], under: [lid]}
"""

CASES = [
    ("  card: {}", "  card: {}\n  film: {}", "part_without_joint", "parts.film", 10),
    ("{drive: ph 1}", "{drive: ph 1}, m3x6: {drive: T5}", "drive_without_tool", "fasteners.m3x6.drive", 4),
    (", isolates: true", "", "nothing_isolates", "joints", 10),
    ("fastener: m2x5, tool", "tool", "screw_without_fastener", "joints.lid_screws.fastener", 11),
    ("kind: seat, joins", "kind: screw, fastener: m2x5, joins", "screws_alone", "parts.pack", 8),
    (
        "under: [lid]}\n  card_clip: {kind: clip, joins: [card, box], under: [lid]",
        "under: [lid], after: [card_clip]}\n  card_clip: {kind: clip, joins: [card, box], access: [{under: [lid]}, {under: [card]}, {under: [pack]}]",
        "access_never_used",
        "joints.card_clip.access[2]",
        14,
    ),
    ("under: [lid]}\n  card", "under: [lid], sources: {undr: film}}\n  card", "source_of_nothing", "joints.pack_seat.sources.undr", 13),
    ("joints:", "spares: {lid: {contains: [lid, card]}}\njoints:", "same_id", "spares.lid", 10),
    (
        "tools: {driver: {fits: [PH1]}}",
        "tools: {driver: {fits: [PH1]}, key: {fits: [H4]}}\nacts: {a: {text: t, at: turning, joint: plug}}",
        "act_joint",
        "acts.a.joint",
        4,
    ),
]  # fmt: skip


def test_the_base_has_no_warning() -> None:
    """The base of all cases is without error and warning; drives are compared without case and spaces."""
    assert read_device(BASE).problems == ()


@pytest.mark.parametrize(("old", "new", "code", "path", "line"), CASES)
def test_each_warning_is_given_once_at_its_place(
    old: str, new: str, code: str, path: str, line: int
) -> None:
    """One change of the base gives one warning, of its code, at its path and line, and no error."""
    assert old in BASE
    result = read_device(BASE.replace(old, new, 1))
    assert [(p.severity, p.code, p.path, p.line) for p in result.problems] == [
        ("warning", code, path, line)
    ]
    assert result.device is not None


def test_an_unknown_fastener_is_no_screw_without_one() -> None:
    """``fastener: unknown`` says that it was thought of."""
    assert (
        read_device(BASE.replace("fastener: m2x5, tool", "fastener: unknown, tool")).problems == ()
    )


def test_a_tool_that_does_not_fit_its_screw() -> None:
    """A driver for another recess than the joint's fastener has is a warning at the tool."""
    text = BASE.replace("fits: [PH1]}", "fits: [PH1]}, key: {fits: [H4]}").replace(
        "tool: driver", "tool: key"
    )
    assert [(p.code, p.path) for p in read_device(text).problems] == [
        ("tool_does_not_fit", "joints.lid_screws.tool")
    ]
    text = BASE.replace("fits: [PH1]}", "fits: [PH1]}, key: {}").replace(
        "tool: driver", "tool: key"
    )
    assert read_device(text).problems == ()


def test_a_part_that_covers_nothing() -> None:
    """A part in ``under`` that only flexible joints name covers nothing: one warning, at its first use."""
    text = BASE.replace("  card: {}", "  card: {}\n  film: {}").replace(
        "joints:\n", "joints:\n  film_tape: {kind: tape, joins: [film, box]}\n"
    )
    text = text.replace("[card, box], under: [lid]", "[card, box], under: [lid, film]")
    assert [(p.code, p.path) for p in read_device(text).problems] == [
        ("covers_nothing", "joints.card_clip.under[1]")
    ]


def test_a_seat_under_the_cover_is_the_cure_for_screws_alone() -> None:
    """What the remedy asks for takes the warning away."""
    text = BASE.replace("kind: seat, joins", "kind: screw, fastener: m2x5, joins")
    remedy = read_device(text).problems[0].remedy
    assert "{kind: seat, joins: [pack, …], under: [lid]}" in remedy
    cured = text + "  pack_rest: {kind: seat, joins: [pack, box], under: [lid]}\n"
    assert read_device(cured).problems == ()


def test_an_access_that_only_some_units_can_use_is_no_warning() -> None:
    """An access that is free in units without an option is of use to these."""
    text = BASE.replace("  card: {}", "  card: {}\n  shield: {if_fitted: extra}").replace(
        "joints:\n",
        "options: {extra: {}}\njoints:\n  shield_glue: {kind: adhesive, joins: [shield, box], after: [card_clip]}\n",
    )
    text = text.replace(
        "joins: [card, box], under: [lid]",
        "joins: [card, box], access: [{under: [lid]}, {under: [shield]}]",
    )
    assert [p.code for p in read_device(text).problems] == []
    always = text.replace("{if_fitted: extra}", "{}")
    assert [(p.code, p.path) for p in read_device(always).problems] == [
        ("access_never_used", "joints.card_clip.access[1]")
    ]


def test_errors_silence_warnings_that_they_may_have_caused() -> None:
    """A misspelt part in ``joins`` does not also make that part one without a joint."""
    codes = [p.code for p in read_device(BASE.replace("[card, box]", "[crad, box]")).problems]
    assert codes == ["unknown_name"]
    codes = [p.code for p in read_device(BASE.replace("isolates: true", "isolates: yes")).problems]
    assert codes == ["wrong_type"]


def _warned(old: str, new: str) -> list[tuple[str, str]]:
    assert old in BASE
    return [(p.code, p.path) for p in read_device(BASE.replace(old, new)).problems]


def test_a_joint_whose_own_screws_are_longer_than_it_takes() -> None:
    """The contradiction is named; a screw of just that length is none."""
    longer = _warned(
        "{m2x5: {drive: ph 1}}\nparts:\n  box: {fixed: true}",
        "{m2x5: {drive: ph 1, length_mm: 5}}\nparts:\n  box: {fixed: true}",
    )
    assert longer == []
    text = BASE.replace("{drive: ph 1}", "{drive: ph 1, length_mm: 5}")
    for limit, codes in ((4.5, ["fastener_too_long"]), (5, [])):
        changed = text.replace("fastener: m2x5,", f"fastener: m2x5, max_length_mm: {limit},")
        assert [p.code for p in read_device(changed).problems] == codes


def test_a_group_that_no_side_gives_access_to() -> None:
    """Screws are tightened in one order only where one need not turn the machine in between."""
    text = BASE.replace("tools:", "sides: [top, rear]\ntools:", 1)
    text = text.replace("lid_screws: {kind: screw,", "lid_screws: {kind: screw, group: g,")
    for side, codes in (("rear", ["group_on_several_sides"]), ("top", [])):
        changed = text.replace(
            "card_clip: {kind: clip,", f"card_clip: {{kind: clip, group: g, side: {side},"
        )
        assert [p.code for p in read_device(changed).problems] == codes

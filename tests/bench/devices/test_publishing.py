"""What publishing would lose, and what work proposes to change."""

from __future__ import annotations

from pathlib import Path

import pytest

from lastscrew.audit.compare_devices import compare_devices
from lastscrew.bench.workshop.edits import apply_edits, proposed_edits
from lastscrew.bench.workshop.publishing import compared, loses_history
from lastscrew.device.model import Device
from lastscrew.device.reading import load_device
from lastscrew.run.events import (
    CountCorrected,
    Event,
    Happening,
    OtherKind,
    TakenBack,
    Unreachable,
)

ROOT = Path(__file__).parents[3]
TEXT = (ROOT / "src/lastscrew/demo/notebook.device.yaml").read_text("utf-8")
SMALL = """# a small machine
format: 1
device: {name: Small}
fasteners:
  m2x3: {thread: M2, length_mm: 3}
  m2x5: {thread: M2, length_mm: 5}
parts:
  case: {name: Case, fixed: true}
  lid: {name: Lid}
  fan: {name: Fan}
joints:
  lid_screws: {kind: screw, joins: [lid, case], fastener: m2x5, count: 4}  # four of them
  fan_plug: {kind: plug, joins: [fan, case], access: [{under: [lid]}]}
  fan_seat:
    kind: seat
    joins: [fan, case]
"""


@pytest.fixture(scope="module")
def device() -> Device:
    """The notebook."""
    return load_device(TEXT)


@pytest.fixture
def small() -> Device:
    """Two parts, three joints."""
    return load_device(SMALL)


def test_the_same_revision_loses_nothing(device: Device) -> None:
    """Against itself."""
    assert loses_history(device, device) == ()


def test_a_renamed_joint_loses_its_history_unless_the_file_says_was() -> None:
    """Told with the id that was meant; with was there is nothing to tell."""
    old = load_device(SMALL)
    renamed = load_device(SMALL.replace("lid_screws:", "lid_bolts:"))
    lost = loses_history(old, renamed)
    assert [(one.word, one.id, one.meant, one.can_say_was) for one in lost] == [
        ("joint", "lid_screws", "lid_bolts", True)
    ]
    said = load_device(SMALL.replace("lid_screws: {", "lid_bolts: {was: lid_screws, "))
    assert loses_history(old, said) == ()


def test_a_part_that_is_gone_is_told_without_a_guess_where_nothing_new_looks_like_it() -> None:
    """The fan and its joints go: three ids, no new one."""
    old = load_device(SMALL)
    kept = "\n".join(SMALL.split("\n")[:-5]).replace("  fan: {name: Fan}\n", "")
    lost = loses_history(old, load_device(kept + "\n"))
    assert {(one.section, one.id, one.meant) for one in lost} == {
        ("parts", "fan", None), ("joints", "fan_plug", None), ("joints", "fan_seat", None),
    }  # fmt: skip


def happened(*what: Happening, run: str = "r1") -> list[tuple[str, Event]]:
    """Events of one job."""
    return [(run, Event(id=f"{run}-{n}", what=one, at_ms=1000 + n)) for n, one in enumerate(what)]


def test_work_that_contradicts_the_file_becomes_edits_and_they_change_nothing_else(
    small: Device,
) -> None:
    """Counts, kinds, what is in the way, short cables: each is written into its own place, comments kept."""
    events = happened(
        CountCorrected(joint="lid_screws", count=5),
        OtherKind(joint="lid_screws", count=4, piece="m2x3"),
        Unreachable(joint="fan_seat", reason="in_the_way", part="lid"),
        Unreachable(joint="fan_plug", reason="too_short"),
    )
    edits = proposed_edits(small, events)
    assert len(edits) == 4
    text = apply_edits(SMALL, edits)
    changed = load_device(text)
    assert changed.joints["lid_screws"].count == 5
    assert changed.joints["lid_screws"].fastener == "m2x3"
    assert changed.joints["fan_seat"].accesses[0].under == ("lid",)
    assert changed.joints["fan_plug"].rigid
    assert "# four of them" in text
    assert "# a small machine" in text
    assert proposed_edits(changed, events) == ()


def test_under_is_written_into_the_access_where_there_is_one(small: Device) -> None:
    """An access beside its own keys would be an error."""
    events = happened(Unreachable(joint="fan_plug", reason="in_the_way", part="fan"))
    text = apply_edits(SMALL, proposed_edits(small, events))
    assert load_device(text).joints["fan_plug"].accesses[0].under == ("lid", "fan")


def test_an_edit_counts_jobs_once_each_and_the_most_found_comes_first(small: Device) -> None:
    """Three jobs say five, one says six; one says five twice, and one took it back."""
    events = [
        *happened(CountCorrected(joint="lid_screws", count=6), run="a"),
        *happened(CountCorrected(joint="lid_screws", count=5), CountCorrected(joint="lid_screws", count=5), run="b"),
        *happened(CountCorrected(joint="lid_screws", count=5), run="c"),
        *happened(CountCorrected(joint="lid_screws", count=5), TakenBack(about="d-0"), run="d"),
        *happened(CountCorrected(joint="lid_screws", count=5), TakenBack(about="e-0"), TakenBack(about="e-1"), run="e"),
    ]  # fmt: skip
    edits = proposed_edits(small, events)
    assert [(edit.key, edit.jobs) for edit in edits] == [
        ("count.lid_screws.5", ("b", "c", "e")),
        ("count.lid_screws.6", ("a",)),
    ]


def test_what_a_person_must_decide_is_told_without_a_change(small: Device, device: Device) -> None:
    """Some of the screws are others; a measured length; a count beside measured places."""
    events = happened(
        OtherKind(joint="lid_screws", count=2, piece="m2x3"),
        OtherKind(joint="lid_screws", count=1, length_mm=7.0, thread="M2"),
        Unreachable(joint="fan_seat", reason="other", text="a label"),
    )
    edits = proposed_edits(small, events)
    assert len(edits) == 3
    assert all(edit.paths == () for edit in edits)
    placed = next(joint for joint in device.joints.values() if joint.positions_mm)
    found = proposed_edits(
        device, happened(CountCorrected(joint=placed.id, count=placed.count + 1))
    )
    assert "places" in found[0].text
    assert found[0].paths == ()


def test_two_revisions_are_compared_once_and_a_large_device_without_its_ways(small: Device) -> None:
    """The same value again; with many parts the words are there, the plans are not made."""
    faster = load_device(SMALL.replace("count: 4", "count: 2"))
    found = compared(small, faster)
    assert compared(small, faster) is found
    assert found.changes == compare_devices(small, faster)
    assert not found.without_ways
    assert any(change.kind == "time" for change in found.changes)
    more = "".join(f"  part_{n}: {{}}\n" for n in range(70))
    large = load_device(SMALL.replace("joints:\n", f"{more}joints:\n"))
    wide = compared(small, large)
    assert wide.without_ways
    assert not [change for change in wide.changes if change.kind in ("time", "order")]
    assert len(wide.changes) >= 70

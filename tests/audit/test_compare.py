"""Two revisions side by side: what differs, in the trade's words, and what that means for the work."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lastscrew.audit.changes import Change
from lastscrew.audit.compare_devices import compare_devices
from lastscrew.audit.compare_texts import compare_readings
from lastscrew.device.reading import load_device
from lastscrew.plan.model import Request
from lastscrew.plan.planner import plan
from lastscrew.reading import load_lexicon, read
from lastscrew.reading.sources import open_source
from tests.audit.test_device_files import SOUND
from tests.audit.texts import MANUAL, demo, planted


def devices(old: str, new: str) -> tuple[Change, ...]:
    """What differs between the sound lamp and one with a phrase exchanged."""
    return compare_devices(load_device(SOUND), load_device(planted(SOUND, old, new)))


def texts(old: str, new: str) -> tuple[Change, ...]:
    """What differs between the sound manual and one with a phrase exchanged."""
    lexicon = load_lexicon()
    one, other = (
        read(open_source(text.encode(), "m.txt"), lexicon)
        for text in (MANUAL, planted(MANUAL, old, new))
    )
    return compare_readings(one, other)


def told(changes: tuple[Change, ...]) -> list[str]:
    """Their sentences, those on the ways left out."""
    return [change.text for change in changes if change.about != "Ways"]


@pytest.mark.parametrize("name", ["notebook", "slate", "extractor"])
def test_a_file_does_not_differ_from_itself(name: str) -> None:
    """Nor from itself with other comments."""
    text = demo(name).decode()
    assert compare_devices(load_device(text), load_device("# another comment\n" + text)) == ()


@pytest.mark.parametrize(
    ("old", "new", "text"),
    [
        ("fastener: long, count: 4", "fastener: long, count: 6", "Cover screws: number of pieces: 4 → 6."),
        (
            "fastener: long, count: 4", "fastener: short, count: 4",
            "Cover screws: the screw is another one: M2 × 6 mm pan PH0 black → M2 × 3 mm pan PH0 black.",
        ),
        ("order: crosswise", "order: any", "Cover screws: order of tightening: crosswise → any."),
        (
            "joins: [pack, board]", "joins: [pack, cover]",
            "Pack plug joins: Battery pack and Board → Battery pack and Cover.",
        ),
        ("renew: {strip: 1}", "renew: {strip: 1}, close_s: 40", "Pack bond: time to close (s): from the table → 40."),
        ("torque_ncm: 17", "torque_ncm: 15", "Fastener long: torque (N cm): 17 → 15."),
        ("name: Board,", "name: Main board,", "Main board was called Board (board)."),
        ("check_s: 10", "check_s: 20", "Function light: time of the check (s): 10 → 20."),
        ("after: [board_screws]", "after: []", "Board seat: joints that must be open before: Board screws → nothing."),
    ],
)  # fmt: skip
def test_one_value_of_a_device_file(old: str, new: str, text: str) -> None:
    """One value exchanged is one sentence, and no other but on the ways."""
    if "count: 6" in new:
        assert text in told(devices(old, new))
        return
    assert told(devices(old, new)) == [text]


def test_a_renamed_joint_is_the_same_joint() -> None:
    """``was`` keeps it: nothing came, nothing went, and no way is another one."""
    new = SOUND.replace("board_screws: {", "board_fixing: {was: board_screws, ").replace(
        "after: [board_screws]", "after: [board_fixing]"
    )
    changes = compare_devices(load_device(SOUND), load_device(new))
    assert [(c.kind, c.text) for c in changes] == [
        ("renamed", "Board fixing was called Board screws (board_screws).")
    ]


def test_a_joint_that_came_and_one_that_went() -> None:
    """Both are told with what they join; what it means for each part follows."""
    line = "  cover_tape: {kind: tape, joins: [cover, foot], count: 2}\n"
    came = compare_devices(load_device(SOUND), load_device(SOUND + line))
    went = compare_devices(load_device(SOUND + line), load_device(SOUND))
    assert "Cover tape is new: 2 × tape between Cover and Foot." in told(came)
    assert "Cover tape is gone: 2 × tape between Cover and Foot." in told(went)
    assert any(c.about == "Ways" and c.id == "cover" and "longer" in c.text for c in came)
    assert any(c.about == "Ways" and c.id == "cover" and "shorter" in c.text for c in went)


def test_how_much_longer_the_ways_are_is_what_the_planner_says() -> None:
    """The seconds of each part are those of its own plan in either revision."""
    new = planted(SOUND, "renew: {strip: 1}", "renew: {strip: 1}, open_s: 500")
    one, other = load_device(SOUND), load_device(new)
    totals = {c.id: (c.old, c.new) for c in compare_devices(one, other) if c.key == "total_s"}
    assert set(totals) == {"pack"}
    for device, shown in zip((one, other), totals["pack"], strict=True):
        assert float(shown) * 1000 == plan(device, Request(replace=("pack",))).total_ms


@settings(max_examples=20)
@given(data=st.data())
def test_what_comes_one_way_goes_the_other_way(data: st.DataObject) -> None:
    """A flexible joint more: told as new from the old revision, as gone from the new one."""
    device = load_device(SOUND)
    pair = st.lists(st.sampled_from(sorted(device.parts)), min_size=2, max_size=2, unique=True)
    one, other = data.draw(pair)
    changed = load_device(
        SOUND + f"  extra: {{kind: tie, joins: [{one}, {other}], powered: true}}\n"
    )
    there = [c for c in compare_devices(device, changed) if c.about == "Joints"]
    back = [c for c in compare_devices(changed, device) if c.about == "Joints"]
    assert [(c.kind, c.id) for c in there] == [("added", "extra")]
    assert [(c.kind, c.id) for c in back] == [("removed", "extra")]


# --- texts ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("old", "new", "text"),
    [
        ("1. Remove the eight M2x5", "1. Remove the nine M2x5", "remove bottom cover screws: number 8 → 9."),
        ("1. Remove the eight M2x5", "1. Remove the eight M2x6", "remove bottom cover screws: size M2x5 → M2x6."),
        ("4. Remove the fan shield.\n", "", "No longer: remove fan shield."),
        ("3. Lift the battery out", "3. Remove the tray.\n4. Lift the battery out", "New: remove tray."),
        ("- Remove the bottom cover.\n- Remove the battery.\n\n1. Lift", "- Remove the bottom cover.\n\n1. Lift",
         "Before it begins: bottom cover and battery → bottom cover."),
        ("It can burn you.", "It can cut you.", "New warning: the heat sink can be hot it can cut you."),
    ],
)  # fmt: skip
def test_one_sentence_of_a_text(old: str, new: str, text: str) -> None:
    """One thing exchanged is told under its procedure."""
    assert text in told(texts(old, new))


def test_words_that_change_nothing_are_no_difference() -> None:
    """Another way to say the same leaves the procedure as it was."""
    assert (
        texts(
            "2. Lift the bottom cover off the chassis.",
            "2. Carefully lift the bottom cover off the chassis.",
        )
        == ()
    )


def test_steps_in_another_order_are_told_as_such() -> None:
    """Nothing came or went: the order is another one."""
    changes = texts(
        "2. Install the four M2x3 screws that secure the battery to the chassis.\n"
        "3. Connect the battery cable to the main board.",
        "2. Connect the battery cable to the main board.\n"
        "3. Install the four M2x3 screws that secure the battery to the chassis.",
    )
    assert {change.kind for change in changes} == {"order"}


def test_a_procedure_that_is_new() -> None:
    """A chapter more is one sentence."""
    start = MANUAL.index("3 Fan")
    lexicon = load_lexicon()
    one = read(open_source(MANUAL[:start].encode(), "m.txt"), lexicon)
    other = read(open_source(MANUAL.encode(), "m.txt"), lexicon)
    added = [c.id for c in compare_readings(one, other) if c.kind == "added"]
    gone = [c.id for c in compare_readings(other, one) if c.kind == "removed"]
    assert added == ["fan", "fan", "heat sink", "heat sink"]
    assert sorted(gone) == sorted(added)

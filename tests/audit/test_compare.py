"""Two revisions side by side: what differs, in the trade's words, and what that means for the work."""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lastscrew.audit.changes import Change
from lastscrew.audit.compare_devices import compare_devices
from lastscrew.audit.compare_texts import compare_readings
from lastscrew.audit.pairing import REFERENCES, SECTIONS
from lastscrew.device.keys import SECTIONS as KEYS
from lastscrew.device.reading import load_device
from lastscrew.device.types import Entries, Key, Ref
from lastscrew.device.writing import device_tree
from lastscrew.plan.model import Request
from lastscrew.plan.planner import plan
from lastscrew.reading import load_lexicon, read
from lastscrew.reading.sources import open_source
from tests.audit.test_device_files import SOUND
from tests.audit.texts import MANUAL, demo, planted
from tests.device.machines import Maker
from tests.oracle.machines import machine_case

PRACTICE = Path(__file__).resolve().parents[1] / "reading" / "practice"


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
        ("check_s: 10", "check_s: 20", "Function Light: time of the check (s): 10 → 20."),
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


@pytest.mark.parametrize(
    ("edits", "text"),
    [
        ([("driver: {name", "blade: {name"), ("tool: driver", "tool: blade")],
         "Tool cross-recess driver stands under another id: driver → blade."),
        ([("  long:", "  m2x6:"), ("fastener: long", "fastener: m2x6")],
         "Fastener m2x6 (M2 × 6 mm pan PH0 black) stands under another id: long → m2x6."),
        ([("  cover: {", "  lid: {"), ("[cover", "[lid")], "Cover stands under another id: cover → lid."),
        ([("  cover: {name: Cover", "  lid: {name: Lid"), ("[cover", "[lid")], "Lid was called Cover (cover)."),
        ([("board_screws", "holding_screws")], "Holding screws was called Board screws (board_screws)."),
    ],
)  # fmt: skip
def test_a_new_id_is_one_sentence_wherever_it_is_used(
    edits: list[tuple[str, str]], text: str
) -> None:
    """Without ``was``: told once, not at every joint that names it; no way in is another one."""
    new = SOUND
    for old_words, new_words in edits:
        assert old_words in new
        new = new.replace(old_words, new_words)
    assert [c.text for c in compare_devices(load_device(SOUND), load_device(new))] == [text]


@pytest.mark.parametrize(
    ("old", "new", "text"),
    [
        ("hazards: [pack]}", "note: Take care}",
         "Battery pack: hazards: warning “Lithium pack. Do not pierce it” → nothing."),
        ("signal: warning", "signal: danger",
         "Hazard “Lithium pack. Do not pierce it”: signal word: warning → danger."),
        ("check_s: 10", "check_s: 10, measure: {unit: lx, low: 200}",
         "Function Light: value to measure: nothing → at least 200 lx."),
        ("into: metal, powered: true", "into: metal, powered: shutdown",
         "Board screws: live: yes → after a shut-down only."),
        ("kind: plug", "kind: latch", "Pack plug: kind: plug → latch."),
        ("count: 3", "count: unknown", "Board screws: number of pieces: 3 → unknown."),
        ("kind: adhesive", "open_s: unknown, kind: adhesive", "Pack bond: time to open (s): from the table → unknown."),
        ("tool: driver, order", "close_tool: hand, tool: driver, order",
         "Cover screws: tool for closing: cross-recess driver → hand."),
        ("under: [cover], isolates: true", "isolates: true, access: [{under: [board]}, {under: [cover]}]",
         "Pack plug can be reached another way now: from the top under Board."),
        ("format: 1\n", "format: 1\nturn_s: 9\n", "Machine: time to turn it (s): 5 → 9."),
    ],
)  # fmt: skip
def test_every_kind_of_value_is_told_in_words(old: str, new: str, text: str) -> None:
    """No id, no key of the file, nothing of the program's own shapes."""
    assert text in told(devices(old, new))


def test_ways_to_reach_a_joint_in_another_order_are_the_same() -> None:
    """Two accesses exchanged are no difference; one of them changed is told with which it is."""
    two = (
        "under: [cover], isolates: true",
        "isolates: true, access: [{under: [cover]}, {under: [board], open_s: 9}]",
    )
    back = two[0], "isolates: true, access: [{under: [board], open_s: 9}, {under: [cover]}]"
    slow = two[0], "isolates: true, access: [{under: [board], open_s: 8}, {under: [cover]}]"
    one, same, other = (load_device(planted(SOUND, *edit)) for edit in (two, back, slow))
    assert compare_devices(one, same) == ()
    assert told(compare_devices(one, other)) == [
        "Pack plug (from the top under Board): time to open (s): 9 → 8."
    ]


def test_what_is_wrong_with_it_is_compared_too() -> None:
    """One chance of one fault changed: one sentence, with nothing beside it that stayed."""
    old = demo("notebook").decode()
    new = planted(old, "usually", "rarely")
    changes = compare_devices(load_device(old), load_device(new))
    assert [c.about for c in changes] == ["Faults"]
    assert changes[0].text.count("usually") == changes[0].text.count("rarely") == 1
    assert len(changes[0].text) < 120


def mirrored(changes: tuple[Change, ...], *, back: bool) -> Counter[tuple[str, ...]]:
    """What each says but for its words; seen from the other side where ``back``."""
    turned = {"added": "removed", "removed": "added"}
    return Counter(
        (c.about, turned.get(c.kind, c.kind), c.key, c.new, c.old)
        if back
        else (c.about, c.kind, c.key, c.old, c.new)
        for c in changes
    )


@settings(max_examples=25)
@given(st.integers(0, 2**20), st.integers(0, 2**20))
def test_old_and_new_exchanged_tell_the_same_backwards(first: int, second: int) -> None:
    """Any two devices: what came has gone, and each value changes from the new one to the old one."""
    one, other = (Maker(Random(seed)).device() for seed in (first, second))
    there, back = (
        compare_devices(one, other, ways=False),
        compare_devices(other, one, ways=False),
    )
    assert mirrored(there, back=False) == mirrored(back, back=True)


@settings(max_examples=25)
@given(st.integers(0, 10_000))
def test_a_machine_with_all_ids_new_is_the_same_machine(seed: int) -> None:
    """Nothing came, went or changed: each entry is told once, as standing under another id or name."""
    device = machine_case(seed)[0]
    ids = sorted({key for s in SECTIONS for key in getattr(device, s)}, key=len, reverse=True)
    words = re.compile(rf"\b(?:{'|'.join(ids)})\b")
    tree = device_tree(device)
    renamed = {
        key: json.loads(words.sub(r"zz_\g<0>", json.dumps(value))) if key in SECTIONS else value
        for key, value in tree.items()
    }
    for section in SECTIONS:
        for key, entry in renamed.get(section, {}).items():
            name = getattr(getattr(device, section)[key.removeprefix("zz_")], "name", None)
            if name:
                entry["name"] = name
    other = load_device(json.dumps(renamed))
    changes = compare_devices(device, other)
    assert [c.text for c in changes if c.kind != "renamed"] == []
    assert len(changes) == sum(len(getattr(device, s)) for s in SECTIONS)


def test_every_field_that_refers_to_an_entry_is_known() -> None:
    """The table of references holds what the table of keys says."""
    found: dict[str, set[str]] = {}
    for section in KEYS:
        for key, refs in referring(section):
            found.setdefault(key, set()).update(refs)
    found.pop("side")  # sides have no ids of their own
    known = {name: set(sections) for name, sections in REFERENCES.items()}
    wrong = {name: refs for name, refs in found.items() if not refs <= known.get(name, set())}
    assert wrong == {}


def referring(key: Key) -> Iterator[tuple[str, tuple[str, ...]]]:
    """Keys at any depth whose values are ids, with the sections that these name."""
    waiting: list[tuple[str, object]] = [(key.name, key.type)]
    while waiting:
        name, kind = waiting.pop()
        if isinstance(kind, Ref):
            yield name, kind.sections
        elif isinstance(kind, Entries):
            waiting += [(k.name, k.type) for k in kind.record.keys]
        else:
            waiting += [(k.name, k.type) for k in getattr(kind, "keys", ())]
            waiting += [
                (name, getattr(kind, part))
                for part in ("item", "key", "value")
                if hasattr(kind, part)
            ]
            waiting += [(name, option) for option in getattr(kind, "options", ())]


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
        ("It can burn you.", "It can cut you.",
         "Warning: “The heat sink can be hot. It can burn you” → “The heat sink can be hot. It can cut you”."),
    ],
)  # fmt: skip
def test_one_sentence_of_a_text(old: str, new: str, text: str) -> None:
    """One thing exchanged is told under its procedure."""
    assert text in told(texts(old, new))


@pytest.mark.parametrize(
    ("edits", "said"),
    [
        ([(" fan", " blower"), ("Fan", "Blower")], ["“fan” is called “blower” now."]),
        ([("battery cable", "battery lead")], ["“battery cable” is called “battery lead” now."]),
        ([("three M2x3 screws", "three M2x3 bolts")], ["“fan screw” is called “fan bolt” now."]),
        ([("three M2x3", "four M2x3")],
         ["remove fan screws: number 3 → 4.", "refit fan screws: number 3 → 4."]),
        ([("Connect the fan cable to the main", "Connect the fan cable to the sub")],
         ["connect fan cable: to main board → sub board."]),
        ([("WARNING: The heat sink can be hot. It can burn you.\n", "")],
         ["No longer a warning: “The heat sink can be hot. It can burn you”."]),
        ([("WARNING: The heat", "CAUTION: The heat")],
         ["warning → caution: “The heat sink can be hot. It can burn you”."]),
        ([("WARNING: The heat sink can be hot. It can burn you.\n", ""),
          ("2. Lift the heat sink", "WARNING: The heat sink can be hot. It can burn you.\n2. Lift the heat sink")],
         ["Warning “The heat sink can be hot. It can burn you” stands at another step."]),
        ([("- Remove the bottom cover.\n\n1. Disc", "- Remove the bottom cover.\n- Remove the fan.\n\n1. Disc")],
         ["Before it begins: bottom cover → bottom cover and fan."]),
        ([("captive screws that secure the heat sink to the main board.\n2.",
           "captive screws that secure the heat sink to the main board with a PH1 screwdriver.\n2.")],
         ["loosen heat sink captive screws: tool not said → PH1 screwdriver."]),
        ([("Apply new thermal", "Apply thermal")], ["apply thermal paste: a new one yes → no."]),
        ([("secure the fan to the chassis", "secure the fan to the frame")],
         ["remove fan screws: holds together fan and chassis → fan and frame.",
          "refit fan screws: holds together fan and chassis → fan and frame."]),
    ],
)  # fmt: skip
def test_one_thing_exchanged_is_told_once(edits: list[tuple[str, str]], said: list[str]) -> None:
    """In the trade's words, once for each place where the work is another one, and nothing beside it."""
    text = MANUAL
    for old, new in edits:
        assert old in text
        text = text.replace(old, new)
    assert told(both(MANUAL, text)) == said


def both(one: str, other: str) -> tuple[Change, ...]:
    """What differs between two texts."""
    lexicon = load_lexicon()
    first, second = (read(open_source(text.encode(), "m.txt"), lexicon) for text in (one, other))
    return compare_readings(first, second)


@pytest.mark.parametrize("file", sorted(PRACTICE.iterdir()), ids=lambda path: path.name)
def test_a_text_does_not_differ_from_itself(file: Path) -> None:
    """Read twice, in whatever register: nothing."""
    one, other = (read(open_source(file.read_bytes(), file.name), load_lexicon()) for _ in range(2))
    assert compare_readings(one, other) == ()


def test_halves_that_changed_places_are_one_sentence() -> None:
    """Only what was moved is named: the half that now stands behind the other."""
    start, middle, end = (
        MANUAL.index(w) for w in ("Removing the b", "Installing the b", "2 Battery")
    )
    swapped = MANUAL[:start] + MANUAL[middle:end] + MANUAL[start:middle] + MANUAL[end:]
    assert told(both(MANUAL, swapped)) == [
        "bottom cover, taking off stands at another place in the text."
    ]


SENTENCES = [line for line in MANUAL.split("\n") if re.match(r"\d\. |- |WARNING", line)]


@settings(max_examples=30)
@given(data=st.data())
def test_texts_exchanged_tell_the_same_backwards(data: st.DataObject) -> None:
    """Sentences left out at random: what is gone one way has come the other way."""
    gone = data.draw(st.sets(st.sampled_from(SENTENCES), min_size=1, max_size=4))
    less = "\n".join(line for line in MANUAL.split("\n") if line not in gone)
    there, back = both(MANUAL, less), both(less, MANUAL)
    assert there
    assert mirrored(there, back=False) == mirrored(back, back=True)
    texts_told = [(c.about, c.text) for c in there]
    assert len(set(texts_told)) == len(texts_told)


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


def test_a_second_cable_in_a_sentence_is_new_and_the_first_one_stays() -> None:
    """Of two things that one sentence names, only the one that came is told."""
    changes = texts(
        "3. Connect the battery cable to the main board.",
        "3. Connect the battery cable and the sensor cable to the main board.",
    )
    assert [(c.kind, c.text) for c in changes] == [("added", "New: connect sensor cable.")]


def test_another_torque_is_told_once() -> None:
    """Although two orders of the step turn the same screws."""
    old = "Removing the pump\n\n1. Remove the two M5x16 bolts that hold the pump to the case.\n\n"
    old += "Installing the pump\n\n1. Lower the pump into the case.\n"
    old += "2. Fasten the pump with the two M5x16 bolts. Tighten to 4 N·m.\n"
    both = [
        read(open_source(text.encode(), "a.txt")) for text in (old, old.replace("to 4 N", "to 6 N"))
    ]
    changes = [change.text for change in compare_readings(both[0], both[1])]
    assert changes == ["tighten pump bolts: torque 4 N·m → 6 N·m."]


def test_how_screws_are_tightened_stands_beside_a_new_step() -> None:
    """A step that came in is told with its order."""
    changes = texts(
        "3. Connect the battery cable to the main board.",
        "3. Tighten the four screws of the battery crosswise.\n"
        "4. Connect the battery cable to the main board.",
    )
    assert [c.text for c in changes] == ["New: tighten battery screws (4), crosswise."]


def test_a_sentence_as_a_value_brings_no_second_full_stop() -> None:
    """What ends with a full stop itself is told with one."""
    changes = devices("check: Switch it on.", "check: Switch it on and off.")
    assert changes
    assert not [c.text for c in changes if ".." in c.text or ". →" in c.text]

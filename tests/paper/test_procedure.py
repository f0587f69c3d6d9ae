"""Written procedures: what was written reads back as the device, can be done, and is worded as it should be."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable
from dataclasses import replace
from functools import cache
from pathlib import Path
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lastscrew.audit.text import audit_reading
from lastscrew.audit.wording import words_in
from lastscrew.device.model import Device
from lastscrew.device.reading import load_device, read_device
from lastscrew.device.writing import write_device
from lastscrew.paper.pdf import print_pdf
from lastscrew.paper.procedure import Caution, WrittenProcedure, WrittenStep, procedures_of
from lastscrew.paper.procedure_page import cautions_before, markdown, page
from lastscrew.paper.procedure_words import lowered
from lastscrew.plan.model import Request, StopRule
from lastscrew.plan.planner import plan
from lastscrew.problems import InputError
from lastscrew.reading import Reading, read
from lastscrew.reading.described.telling import told_tree
from lastscrew.reading.device_draft import draft_device
from lastscrew.reading.lexicon import load_lexicon
from lastscrew.reading.sources import open_source
from tests.device.machines import Maker
from tests.device.machines import devices as devices_with_every_key
from tests.oracle.devices import MIDDLE, SMALL, Taste, draw_device
from tests.oracle.rules import ask, openable_by

ROOT = Path(__file__).resolve().parents[2]
DEMOS = sorted(ROOT.glob("src/lastscrew/demo/*.device.yaml"))
FILES = [*DEMOS, *sorted(ROOT.glob("tests/devices/*.device.yaml"))]
LEXICON = load_lexicon()
PARTS = [
    "Bottom cover", "Battery pack", "Main board", "Fan", "Heat sink", "Keyboard", "Speaker", "Chassis", "Lid",
    "Camera", "Antenna", "Port bracket", "Drive",
]  # fmt: skip
SIZES = [("M2", 4.0), ("M2", 6.0), ("M2.5", 5.0), ("M3", 8.0)]


def named(file: Path) -> str:
    return file.name.partition(".")[0]


@cache
def device_of(file: Path) -> Device:
    return load_device(file.read_bytes(), file.name)


def drawn(seed: int, taste: Taste) -> Device | None:
    """A random machine with names that people give, counts and washers; None where it can't be built."""
    rng = Random(seed)
    device = draw_device(rng, taste)
    parts = {i: replace(part, name=PARTS[int(i[1:])]) for i, part in device.parts.items()}
    joints = {
        i: replace(joint, count=rng.choice((1, 2, 4, 9)), captive=rng.random() < 0.1)
        for i, joint in device.joints.items()
    }
    return read_device(write_device(replace(device, parts=parts, joints=joints))).device


def machines(taste: Taste = SMALL) -> st.SearchStrategy[Device]:
    """Machines that are valid device files."""
    return st.integers(0, 2**32).map(
        lambda seed: next(d for d in (drawn(seed + n, taste) for n in range(99)) if d)
    )


def read_text(data: bytes, ending: str) -> Reading:
    return read(open_source(data, f"written.{ending}"), LEXICON)


def written(
    device: Device, ending: str, procedures: Iterable[WrittenProcedure] | None = None
) -> bytes:
    made = tuple(procedures_of(device) if procedures is None else procedures)
    if ending == "md":
        return markdown(device, made).encode()
    html = page(device, made, for_pdf=ending == "pdf")
    return print_pdf(html).data if ending == "pdf" else html.encode()


def device_back(data: bytes, ending: str) -> Device:
    return draft_device(read_text(data, ending), LEXICON).device


def totals(device: Device) -> dict[str, int | str]:
    """Total of the plan for every part, in ms, or why there is none."""
    found: dict[str, int | str] = {}
    for part in device.parts.values():
        try:
            found[part.id] = plan(
                device, Request(replace=(part.id,)), StopRule(work=50_000)
            ).total_ms
        except InputError as error:
            found[part.id] = error.problems[0].message
    return found


# --- the law ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("ending", ["md", "html"])
@given(device=machines())
@settings(max_examples=25)
def test_reading_what_was_written_gives_the_same_device_and_plans(
    ending: str, device: Device
) -> None:
    """Everything but positions, order codes, prices and sources comes back, and every plan has the same total."""
    back = device_back(written(device, ending), ending)
    assert told_tree(back) == told_tree(device)
    assert totals(back) == totals(device)


@given(device=devices_with_every_key())
@settings(max_examples=15)
def test_the_law_holds_for_every_key_and_the_oddest_names(device: Device) -> None:
    """With names that look like markup, in other scripts, very long ones: as Markdown and as HTML."""
    procedures = procedures_of(device)
    for ending in ("md", "html"):
        back = device_back(written(device, ending, procedures), ending)
        assert told_tree(back) == told_tree(device)


@pytest.mark.parametrize("file", FILES, ids=named)
def test_the_law_holds_for_real_devices(file: Path) -> None:
    """Demos and test devices: the same device and the same total for every part."""
    device = device_of(file)
    for ending in ("md", "html"):
        back = device_back(written(device, ending), ending)
        assert told_tree(back) == told_tree(device)
    assert totals(back) == totals(device)


@pytest.mark.parametrize("seed", [1, 2])
def test_the_law_holds_on_paper(seed: int) -> None:
    """A PDF says the device by its printed words, over line and page breaks, with any name."""
    for device in (Maker(Random(seed)).device(), drawn(seed + 40, MIDDLE)):
        if device is not None:
            back = device_back(written(device, "pdf", ()), "pdf")
            assert told_tree(back) == told_tree(device)


def test_the_law_holds_for_a_whole_pdf() -> None:
    """The slate with all of its procedures, printed and read."""
    device = device_of(ROOT / "src/lastscrew/demo/slate.device.yaml")
    back = device_back(written(device, "pdf"), "pdf")
    assert told_tree(back) == told_tree(device)
    assert totals(back) == totals(device)


def test_the_words_are_all_there_is() -> None:
    """No script, no data hidden in the page: without its tags it still says everything."""
    device = device_of(ROOT / "tests/devices/counted_apart.device.yaml")
    html = written(device, "html").decode()
    body = html.partition("<body>")[2]
    assert not re.search(r"<script|<!--|data-|hidden|display:\s*none|application/", html)
    plain = re.sub(r"</?(?:span)[^>]*>", "", body)
    plain = (
        re.sub(r"<[^>]+>", "\n", plain)
        .replace("&amp;", "&")
        .replace("&lt;", "<")
        .replace("&gt;", ">")
    )
    assert told_tree(device_back(plain.encode(), "txt")) == told_tree(device)


# --- the procedures can be done ---------------------------------------------------------------------


@given(device=machines(MIDDLE))
@settings(max_examples=25)
def test_every_procedure_can_be_done_after_what_it_asks_for(device: Device) -> None:
    """By rules of its own, a judge opens and closes step by step: each step is possible at its turn."""
    procedures = {procedure.part: procedure for procedure in procedures_of(device)}
    for procedure in procedures.values():
        if procedure.refused:
            continue
        option = device.parts[procedure.part].if_fitted
        fitted = (option,) if option and not device.options[option].fitted else ()
        question = ask(device, Request(replace=(procedure.part,), fitted=fitted))
        opened = set(opened_before(procedure, procedures))
        for joint in procedure.opens:
            assert openable_by(question, joint, frozenset(opened)), (procedure.part, joint)
            opened.add(joint)
        assert question.required <= opened
        assert sorted(procedure.closes) == sorted(procedure.opens)
        for joint in procedure.closes:
            opened.remove(joint)
            assert openable_by(question, joint, frozenset(opened)), (procedure.part, joint)


def opened_before(
    procedure: WrittenProcedure, procedures: dict[str, WrittenProcedure]
) -> frozenset[str]:
    """Joints open when the first step of a procedure begins, by following what it asks for."""
    opened: set[str] = set()
    for other in procedure.before:
        opened |= opened_before(procedures[other], procedures) | set(procedures[other].opens)
    return frozenset(opened)


def test_one_part_brings_what_must_come_off_before_it() -> None:
    """Asked for one part, the text has its procedure and those that it asks for, and no others."""
    device = device_of(ROOT / "src/lastscrew/demo/notebook.device.yaml")
    made = procedures_of(device, ("pack",))
    parts = {procedure.part for procedure in made}
    assert "pack" in parts
    assert parts == {"pack"} | {p for procedure in made for p in procedure.before}
    assert len(parts) < 5


# --- the reader finds the procedures -----------------------------------------------------------------


@given(device=machines())
@settings(max_examples=25)
def test_the_reader_finds_both_halves_with_the_right_counts(device: Device) -> None:
    """Each part has a removal and a refit, and the numbers of pieces in both are those of the joints."""
    procedures = [p for p in procedures_of(device) if not p.refused]
    reading = read_text(written(device, "md", procedures), "md")
    assert reading.findings == ()
    found = [(p.part.lower(), p.kind) for p in reading.procedures]
    names = [device.parts[p.part].name.lower() for p in procedures]
    assert found == [(name, kind) for name in names for kind in ("removal", "refit")]
    for index, procedure in enumerate(procedures):
        wanted = Counter(device.joints[j].count for j in procedure.opens if counted(device, j))
        for half in reading.procedures[2 * index : 2 * index + 2]:
            said = Counter(
                a.count for a in half.actions() if isinstance(a.count, int) and a.count > 1
            )
            assert said == wanted, (procedure.part, half.kind)
    for half, procedure in zip(reading.procedures[::2], procedures, strict=True):
        asked = {item.text.lower() for item in half.prerequisites if item.kind == "part"}
        assert asked == {device.parts[p].name.lower() for p in procedure.before}


def counted(device: Device, joint: str) -> bool:
    return device.joints[joint].count > 1 and device.joints[joint].kind != "seat"


# --- wording -----------------------------------------------------------------------------------------


@given(device=machines(MIDDLE))
@settings(max_examples=10)
def test_what_was_written_audits_clean(device: Device) -> None:
    """The audit of texts finds nothing, not even a note about wording."""
    for ending in ("md", "html"):
        findings = audit_reading(read_text(written(device, ending), ending), LEXICON)
        assert [(f.code, f.line, f.text) for f in findings] == []


@given(device=machines(MIDDLE))
@settings(max_examples=20)
def test_sentences_keep_the_limits_of_controlled_english(device: Device) -> None:
    """At most 20 words in an instruction and 25 in a description, no semicolon, no contraction."""
    own = device.acts.values()
    for procedure in procedures_of(device):
        for half in (procedure.removal, procedure.refit):
            for step in half.steps if half else ():
                for sentence in step.sentences:
                    assert words_in(sentence) <= 20, sentence
                    assert not re.search(r";|\b\w+n't\b|\b(?:it|that)'s\b", sentence)
                    assert sentence.endswith(".") or sentence in {act.text for act in own}
    text = written(device, "md", ()).decode()
    for sentence in text.split("\n"):
        assert words_in(sentence) <= 25, sentence


def test_cautions_stand_before_their_step_with_the_signal_word() -> None:
    """A hazard of a joint is told right before the step that opens it, and before the one that closes it."""
    device = device_of(ROOT / "src/lastscrew/demo/notebook.device.yaml")
    text = written(device, "md").decode()
    assert text.index("The instructions of the maker") < text.index("## Removing")
    lines = [line for line in text.partition("## How this machine")[0].split("\n") if line]
    checked = 0
    for index, line in enumerate(lines):
        match = re.match(r"\*\*(DANGER|WARNING|CAUTION|NOTICE):\*\* Before steps? (\d+)", line)
        if match:
            following = next(row for row in lines[index:] if re.match(r"\d+\. ", row))
            assert following.startswith(f"{match[2]}. ")
            checked += 1
    assert checked > 20


def test_what_is_renewed_tightened_and_awaited_is_said() -> None:
    """Supplies, torque, order, waits, tools, sides, single use: in the half where they belong."""
    device = load_device(
        """
format: 1
device: {name: Rowan 4}
sides: [bottom, top]
tools: {driver: {name: cross driver}}
fasteners: {m2x5: {thread: M2, length_mm: 5, drive: PH1, torque_ncm: 17}}
supplies: {paste: {name: thermal paste, unit: g}}
parts: {board: {fixed: true}, sink: {name: Heat sink}}
joints:
  sink_screws: {kind: screw, joins: [sink, board], fastener: m2x5, count: 4, tool: driver, side: top,
    order: crosswise, reuse: single_use, renew: {paste: 0.3}, wait_open_s: 60, wait_close_s: 90,
    with: {spring: 4}, hold_by: second_person, powered: false}
"""
    )
    (procedure,) = procedures_of(device)
    assert procedure.removal is not None
    assert procedure.refit is not None
    out = " ".join(s for step in procedure.removal.steps for s in step.sentences)
    back = " ".join(s for step in procedure.refit.steps for s in step.sentences)
    for said in (
        "Turn the machine until its top side is up.",
        "Remove the 4 M2x5 screws that hold the heat sink to the board.",
        "Before you do this, wait for 60 seconds.",
        "The tool is the cross driver.",
        "The drive is PH1.",
        "The loose pieces with it are 4 × spring.",
        "a second person must support the part.",
    ):
        assert said in out
    for said in (
        "Apply new thermal paste. The amount is 0.3 g.",
        "Install the 4 new M2x5 screws that hold the heat sink to the board.",
        "The order is crosswise.",
        "The torque is 17 N·cm.",
        "After this, wait for 90 seconds.",
        "Turn the machine until its bottom side is up.",
    ):
        assert said in back


def test_isolation_is_written_before_the_live_joint() -> None:
    """The plug that takes the power away comes off first, with the check that the power is off."""
    device = device_of(ROOT / "src/lastscrew/demo/notebook.device.yaml")
    (pack,) = [p for p in procedures_of(device, ("pack",)) if p.part == "pack"]
    assert pack.removal is not None
    said = [sentence for step in pack.removal.steps for sentence in step.sentences]
    plug = next(i for i, s in enumerate(said) if s.startswith("Disconnect the battery pack plug"))
    assert "Make sure that the power is off." in said[plug:]


def test_work_for_an_exchange_is_marked_as_such() -> None:
    """What is done to an old part is not done to one that only has to come off: a note before the step says so."""
    device = device_of(ROOT / "src/lastscrew/demo/notebook.device.yaml")
    (pack,) = [p for p in procedures_of(device, ("pack",)) if p.part == "pack"]
    assert pack.removal is not None
    steps = pack.removal.steps
    index = next(i for i, step in enumerate(steps) if "old pack" in step.sentences[0])
    assert steps[index].notes[0] == "Do the next step only when the battery pack is exchanged."
    before = [sentence for step in steps[:index] for sentence in step.sentences]
    assert "Lift the battery pack from the chassis with palm rest." in before


def test_a_part_that_is_lifted_out_is_not_removed_once_more() -> None:
    """Lifting it out of its seat is the last step; setting it in is the first, both said once."""
    device = device_of(ROOT / "src/lastscrew/demo/notebook.device.yaml")
    (pack,) = [p for p in procedures_of(device, ("pack",)) if p.part == "pack"]
    assert pack.removal is not None
    assert pack.refit is not None
    out = [sentence for step in pack.removal.steps for sentence in step.sentences]
    back = [sentence for step in pack.refit.steps for sentence in step.sentences]
    assert "Remove the battery pack." not in out
    assert [s for s in back if s.startswith("Install the battery pack")] == [
        "Install the battery pack on the chassis with palm rest."
    ]


def test_a_recess_called_after_a_name_keeps_its_capital() -> None:
    """Inside a sentence only names and abbreviations begin with a capital."""
    assert lowered("Torx screwdriver T3") == "Torx screwdriver T3"
    assert lowered("Nylon lever") == "nylon lever"


def test_a_part_that_can_not_come_off_is_said_to_have_no_procedure() -> None:
    """Nothing is written that can't be done: the reason stands there instead."""
    refused = WrittenProcedure("sink", refused="No way in.")
    device = device_of(ROOT / "src/lastscrew/demo/notebook.device.yaml")
    text = written(device, "md", [refused]).decode()
    assert "## No procedure for the heat sink\n\nNo way in." in text


def test_a_caution_that_the_next_steps_need_too_is_said_once_with_their_numbers() -> None:
    """A run of steps has one line for each of their hazards; a step apart has its own again."""
    glass, strap = Caution("caution", "Glass can cut you."), Caution("notice", "Wear a strap.")
    steps = tuple(
        WrittenStep(("Do it.",), cautions)
        for cautions in ((strap,), (glass, strap), (glass,), (glass,), (), (glass,))
    )
    assert [[c.text for c in row] for row in cautions_before(steps)] == [
        ["Before steps 1 and 2: Wear a strap."],
        ["Before steps 2 to 4: Glass can cut you."],
        [],
        [],
        [],
        ["Before step 6: Glass can cut you."],
    ]

"""A device told in plain sentences: every key has its sentence, and the sentences say the device exactly."""

from __future__ import annotations

import itertools
import re
from dataclasses import replace
from pathlib import Path
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lastscrew.device.keys import ACCESS_KEYS
from lastscrew.device.model import Device
from lastscrew.device.reading import load_device
from lastscrew.device.types import (
    HAND_WORD,
    UNKNOWN_WORD,
    Either,
    Flag,
    Identifier,
    Key,
    ListOf,
    MapOf,
    Number,
    Record,
    Ref,
    Seconds,
    Text,
    Type,
    Whole,
)
from lastscrew.problems import InputError
from lastscrew.reading import read
from lastscrew.reading.described import device_of_chapter, find_chapter, tell_device
from lastscrew.reading.described.quoting import QUOTED, quote, unquote
from lastscrew.reading.described.sentence_table import (
    END,
    HEADING,
    LEFT_OUT,
    LEFT_OUT_SECTIONS,
    SAYINGS,
    TOLD_SECTIONS,
    Saying,
    records,
    sayings_of,
    words_of,
)
from lastscrew.reading.described.telling import told_tree
from lastscrew.reading.device_draft import draft_device
from lastscrew.reading.lexicon import load_lexicon
from lastscrew.reading.sources import open_source
from lastscrew.reading.sources.encoding import decode
from tests.device.machines import Maker, devices

ROOT = Path(__file__).resolve().parents[2]
FILES = sorted(
    [*ROOT.glob("tests/devices/*.device.yaml"), *ROOT.glob("src/lastscrew/demo/*.device.yaml")]
)
LEXICON = load_lexicon()


def text_of(device: Device, *, on_paper: bool = False) -> str:
    """The chapter as a plain text, a heading over each section."""
    lines = ["A machine", "", HEADING, ""]
    for paragraph in tell_device(device, lambda text: quote(text, on_paper=on_paper)):
        lines += [paragraph.heading, ""] if paragraph.heading else []
        lines += [" ".join(paragraph.sentences), ""]
    return "\n".join(lines)


def device_in(text: str) -> Device:
    source = open_source(text.encode(), "told.txt")
    chapter = find_chapter(source)
    assert chapter is not None
    assert chapter.findings == ()
    return device_of_chapter(chapter, "told.txt")[1]


def keys_said() -> list[tuple[str, Key]]:
    """Every key of the format that is not left out, with its record."""
    apart = {"access", "name", *(section.name for section in TOLD_SECTIONS)}
    return [
        (record, key)
        for record, keys in records().items()
        for key in keys.keys
        if key.name not in LEFT_OUT | LEFT_OUT_SECTIONS
        and (key.name not in apart or (record, key.name) == ("device", "name"))
    ]


def values_with_own_sentence(key: Key) -> set[str | bool]:
    """Values that no slot can say."""
    types = list(kinds_of(key.type))
    found: set[str | bool] = {UNKNOWN_WORD} if key.unknown else set()
    for kind in types:
        if isinstance(kind, Flag):
            found |= {True, False} if kind.only is None else {kind.only}
        if isinstance(kind, Ref) and kind.hand:
            found.add(HAND_WORD)
    return found


def kinds_of(of: Type) -> list[Type]:
    if isinstance(of, ListOf):
        return kinds_of(of.item)
    if isinstance(of, MapOf):
        return [*kinds_of(of.key), *kinds_of(of.value)]
    return (
        [kind for option in of.options for kind in kinds_of(option)]
        if isinstance(of, Either)
        else [of]
    )


def slots_for(of: Type) -> set[str]:
    """Slots that say values of a type."""
    names: set[str] = set()
    for kind in kinds_of(of):
        if isinstance(kind, Text | Identifier):
            names.add("text")
        elif isinstance(kind, Whole | Number | Seconds):
            names.add("number")
        elif isinstance(kind, Ref):
            names.add("ref")
    return names


@pytest.mark.parametrize(
    ("record", "key"), keys_said(), ids=lambda v: v if isinstance(v, str) else v.name
)
def test_every_key_and_every_word_has_a_sentence(record: str, key: Key) -> None:
    """A key that is new in the table of keys fails here until it has a sentence or is left out by name."""
    rows = sayings_of(record).get(key.name, ())
    assert rows, f"{record}.{key.name} has no sentence"
    if isinstance(key.type, Record):
        return
    said = {row.value for row in rows if row.value is not None}
    open_rows = [row for row in rows if row.value is None]
    assert values_with_own_sentence(key) <= said
    words = set(words_of(key.type))
    assert words <= said or any("{word}" in row.text for row in open_rows)
    for slot in slots_for(key.type):
        assert any(f"{{{slot}}}" in row.text for row in open_rows), slot


def test_rows_are_of_keys_that_exist() -> None:
    """No sentence stands for a key that the format does not have."""
    assert all(row.key in records()[row.record].by_name for row in SAYINGS)
    assert {key.name for key in ACCESS_KEYS} <= set(sayings_of("access"))


@pytest.mark.parametrize(
    "together",
    [
        ("device", "top"),
        ("access", "joints"),
        ("functions", "measure"),
        *((s.name,) for s in TOLD_SECTIONS),
    ],
)
def test_no_sentence_can_be_read_as_another(together: tuple[str, ...]) -> None:
    """Where a sentence of one row stands, no other row of the same place has a sentence of that form."""
    rows = {row.text: row for record in together for row in SAYINGS if row.record == record}
    for one, other in itertools.combinations(rows.values(), 2):
        assert form_of(one) != form_of(other)


def form_of(row: Saying) -> str:
    """A sentence with every slot alike."""
    return row.text.replace("{ref}", "{text}").lower()


@given(
    st.text(max_size=120)
    | st.sampled_from(
        ["”", "““”” a", "a ” b", "x" * 300, " ", "\n", "fi", "â€™", "Ã©", "\u2039U+0041\u203a"]
    ),
    st.booleans(),
)
def test_any_text_survives_its_quotes(text: str, on_paper: bool) -> None:
    """Quoted and read again it is the same, through the repair of encodings and the collapse of spaces."""
    if any(0xD800 <= ord(char) < 0xE000 for char in text):
        return
    shown = quote(text, on_paper=on_paper)
    # A quoted text stands in a sentence: alone it may have no word, and be refused for that.
    sentence = f"It is {shown}"
    assert " ".join(decode(sentence.encode(), "")[0].split()) == sentence
    match = re.fullmatch(QUOTED, shown)
    assert match is not None
    assert unquote(match[1]) == text


@given(devices(), st.booleans())
@settings(max_examples=120)
def test_what_was_told_reads_back(device: Device, on_paper: bool) -> None:
    """Every key of every generated device comes back, whatever its names and texts; only what is left out is lost."""
    told = device_in(text_of(device, on_paper=on_paper))
    assert told_tree(told) == told_tree(device)


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.name.partition(".")[0])
def test_real_devices_read_back(file: Path) -> None:
    """The demos and the devices of the tests come back."""
    device = load_device(file.read_bytes(), file.name)
    assert told_tree(device_in(text_of(device))) == told_tree(device)


def small() -> str:
    """The chapter of a small machine."""
    return text_of(load_device((ROOT / "tests/devices/one_screw.device.yaml").read_bytes()))


def test_lines_may_be_broken_anywhere_between_words() -> None:
    """A text that was wrapped to another width says the same."""
    text = text_of(load_device((ROOT / "src/lastscrew/demo/slate.device.yaml").read_bytes()))
    head, _, body = text.partition("This chapter")
    random = Random(7)
    wrapped = "".join(
        random.choice("  \n") if char == " " else char for char in "This chapter" + body
    )
    assert device_in(head + wrapped) == device_in(text)


def test_a_changed_sentence_changes_the_device_and_nothing_else() -> None:
    """The words are what counts: another number in a sentence is another number in the device."""
    text = text_of(load_device((ROOT / "tests/devices/counted_apart.device.yaml").read_bytes()))
    number = next(word for word in text.split("The number of its pieces is ")[1:]).split(".")[0]
    changed = device_in(text.replace(f"pieces is {number}.", "pieces is 7.", 1))
    before = device_in(text)
    assert [j for j in before.joints if before.joints[j] != changed.joints[j]]
    assert [j.count for j in changed.joints.values()].count(7) == 1


def test_a_sentence_of_another_form_is_told_and_not_guessed() -> None:
    """It is a finding with its line, and its line is marked; the rest is read."""
    text = small().replace(END, "It wobbles a little. " + END)
    reading = read(open_source(text.encode(), "told.txt"), LEXICON)
    (finding,) = reading.findings
    assert finding.code == "not_understood"
    assert finding.text == "It wobbles a little."
    states = {state.line: state.state for state in reading.lines}
    assert states[finding.line] == "not_understood"


def test_a_contradiction_is_refused_with_both_lines() -> None:
    """Two sentences that say different things about the same make no device."""
    text = small().replace("Its kind is screw.", "Its kind is screw.\nIts kind is clip.")
    reading = read(open_source(text.encode(), "told.txt"), LEXICON)
    assert [(f.code, f.severity) for f in reading.findings] == [("contradiction", "error")]
    with pytest.raises(InputError) as caught:
        draft_device(reading, LEXICON)
    (problem,) = caught.value.problems
    assert problem.code == "contradiction"
    assert problem.line is not None
    assert f"(line {problem.line - 1})" in problem.message


def test_a_name_that_nothing_has_is_refused() -> None:
    """A sentence names a part that no sentence introduces."""
    text = small().replace("It holds together “", "It holds together “no ")
    with pytest.raises(InputError) as caught:
        device_in(text)
    assert "is called “no " in caught.value.problems[0].message


def test_what_can_be_no_device_is_told_at_its_line() -> None:
    """The rules of the device file hold for the sentences, and name the line of the text."""
    text = small().replace(
        "Its kind is screw.", "Its kind is screw. The number of its pieces is 5000."
    )
    with pytest.raises(InputError) as caught:
        device_in(text)
    line = next(n for n, row in enumerate(text.splitlines(), 1) if "5000" in row)
    assert {problem.line for problem in caught.value.problems} == {line}
    assert {problem.file for problem in caught.value.problems} == {"told.txt"}


def test_the_draft_names_the_lines_and_text_around_is_read_as_ever() -> None:
    """Comments give lines; a procedure before the chapter and one after it are found."""
    procedure = "Removing the {0}\n\n1. Remove the 3 screws that hold the {0} to the frame.\n\n"
    text = procedure.format("lid") + small() + "\n" + procedure.format("fan")
    reading = read(open_source(text.encode(), "told.txt"), LEXICON)
    assert [p.part for p in reading.procedures] == ["lid", "fan"]
    draft = draft_device(reading, LEXICON)
    assert "# line " in draft.text
    assert draft.device == device_in(small())


def test_answers_to_questions_that_nobody_asked_are_refused() -> None:
    """The chapter leaves nothing open, so that an answer fits no question."""
    reading = read(open_source(small().encode(), "told.txt"), LEXICON)
    assert reading.questions == ()
    with pytest.raises(InputError) as caught:
        draft_device(reading, LEXICON, answers={"side.lid": "top"})
    assert caught.value.problems[0].code == "unknown_answer"


def test_two_things_of_one_name_stay_two() -> None:
    """Where two have the same name, sentences give the mark as well."""
    device = Maker(Random(3)).device()
    same = replace(device, parts={i: replace(p, name="Plate") for i, p in device.parts.items()})
    assert "“Plate” (mark “" in text_of(same)
    assert told_tree(device_in(text_of(same))) == told_tree(same)

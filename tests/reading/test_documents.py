"""Whole texts: procedures and their halves, prerequisites, lists, notes, what each line gave."""

from __future__ import annotations

from pathlib import Path

import pytest

from lastscrew.reading import Procedure, Reading, read
from lastscrew.reading.sources import open_source

TEXTS = Path(__file__).with_name("texts")


def reading_of(name: str) -> Reading:
    return read(open_source((TEXTS / name).read_bytes(), name))


def text_reading(text: str) -> Reading:
    return read(open_source(text.encode(), "text.txt"))


def outline(reading: Reading) -> list[tuple[str, str]]:
    return [(p.part, p.kind) for p in reading.procedures if p.steps]


def before(procedure: Procedure) -> list[tuple[str, str]]:
    return [(item.kind, item.text) for item in procedure.prerequisites if not item.inferred]


def part(reading: Reading, name: str, kind: str = "removal") -> Procedure:
    return next(p for p in reading.procedures if p.part.lower() == name.lower() and p.kind == kind)


def test_a_list_before_the_steps_gives_parts_and_states() -> None:
    reading = reading_of("notebook.txt")
    assert before(part(reading, "battery pack")) == [
        ("state", "Turn off the computer"),
        ("state", "unplug the AC adapter"),
        ("part", "base cover assembly"),
        ("part", "keyboard"),
    ]
    assert before(part(reading, "fan")) == [
        ("part", "Base cover assembly"),
        ("part", "Battery pack"),
    ]


def test_reversed_removal_is_a_half_of_its_own() -> None:
    reading = reading_of("notebook.txt")
    refit = part(reading, "fan", "refit")
    assert refit.steps[0].reverse_of == 1
    assert refit.prerequisites == ()


def test_steps_under_a_plain_heading_belong_to_the_part_above() -> None:
    reading = reading_of("heat_sink.txt")
    assert outline(reading) == [("heat-sink assembly", "removal"), ("heat-sink assembly", "refit")]
    assert part(reading, "heat-sink assembly").actions()[0].order == "numbered"


def test_a_note_inside_a_step_orders_nothing() -> None:
    reading = reading_of("heat_sink.txt")
    assert reading.lines[16].state == "caution"
    step = part(reading, "heat-sink assembly").steps[0]
    assert [caution.signal for caution in step.cautions] == ["note"] or step.cautions == ()


def test_questions_as_headings_and_reversal_in_one_line() -> None:
    reading = reading_of("switch.txt")
    assert ("power supply", "removal") in outline(reading)
    assert ("power supply", "refit") in outline(reading)
    assert ("Fan Tray", "refit") in outline(reading)


def test_a_page_reference_makes_a_step_a_prerequisite() -> None:
    reading = reading_of("printer.txt")
    assert before(part(reading, "fuser unit")) == [("part", "rear cover")]


def test_the_count_of_a_legend_reaches_the_step() -> None:
    reading = reading_of("printer.txt")
    screws = [a for a in part(reading, "main motor").actions() if a.fastener]
    assert [a.count for a in screws] == [4]


def test_links_to_other_procedures_are_prerequisites() -> None:
    reading = reading_of("laptop.md")
    assert before(part(reading, "fans and heatsink")) == [
        ("part", "bottom cover"),
        ("state", "unplug battery"),
    ]
    assert before(part(reading, "RAM", "both")) == [("part", "bottom cover")]


def test_a_table_of_contents_is_no_procedure() -> None:
    reading = reading_of("laptop.md")
    assert [(reading.lines[i].state, reading.lines[i].reason) for i in (2, 3)] == [
        ("other", "contents")
    ] * 2


def test_reverse_numerical_order_is_no_reversal() -> None:
    reading = reading_of("laptop.md")
    loosen = [a for a in part(reading, "fans and heatsink").actions() if a.klass == "loosen"]
    assert [(a.object, a.order) for a in loosen] == [("heatsink screws", "numbered")]


def test_a_lettered_list_after_a_sentence_with_prerequisites() -> None:
    reading = reading_of("storage.txt")
    dimm = part(reading, "DIMM", "both")
    assert before(dimm) == [("part", "canister"), ("part", "canister cover")]
    assert [a.klass for a in dimm.actions()][:3] == ["release", "lift", "insert"]


def test_titles_of_steps_do_not_part_a_procedure() -> None:
    reading = reading_of("hotend.md")
    assert outline(reading) == [("Hotend", "both")]
    classes = [a.klass for a in reading.procedures[0].actions() if a.klass != "other"]
    assert before(reading.procedures[0]) == [
        ("state", "Heat the nozzle to 200 °C and unload the filament"),
        ("state", "turn off the printer"),
    ]
    assert classes[:2] == ["loosen", "remove"]
    assert classes[-1] == "tighten"


def test_a_nested_list_before_the_numbered_steps() -> None:
    reading = reading_of("control_panel.txt")
    assert before(part(reading, "CONTROL PANEL")) == [
        ("part", "top cover"),
        ("part", "left side panel"),
    ]
    assert before(part(reading, "MAIN BOARD")) == [("part", "control panel")]
    plugs = [a.object for a in part(reading, "MAIN BOARD").actions() if a.klass == "disconnect"]
    assert plugs == ["CN1", "CN2", "CN7"]


def test_spoken_announcements_open_procedures() -> None:
    reading = reading_of("router.srt")
    assert outline(reading) == [
        ("little router", "removal"),
        ("fan", "removal"),
        ("antenna board", "removal"),
        ("", "refit"),
    ]
    fan = part(reading, "fan")
    assert [(a.klass, a.count) for a in fan.actions() if a.fastener] == [("remove", 3)]


def test_sentences_cut_across_captions_and_slips() -> None:
    reading = reading_of("main_board.vtt")
    panel, board = reading.procedures[:2]
    assert [(p.part, p.kind) for p in (panel, board)] == [
        ("side panel", "removal"),
        ("main board", "removal"),
    ]
    found = [(a.klass, a.object, a.count) for a in panel.actions() if a.klass != "other"]
    assert ("remove", "side panel screws", 6) in found
    found = [(a.klass, a.object, a.count) for a in board.actions() if a.klass != "other"]
    assert ("disconnect", "connectors", 5) in found
    assert ("release", "ribbon cable latch", 1) in found


@pytest.mark.parametrize("path", sorted(TEXTS.iterdir()), ids=lambda path: path.name)
def test_nothing_disappears_silently(path: Path) -> None:
    """Every line has a state; one that is set aside says why; the same bytes give the same reading."""
    reading = reading_of(path.name)
    assert [state.line for state in reading.lines] == [line.number for line in reading.source.lines]
    for state, line in zip(reading.lines, reading.source.lines, strict=True):
        if line.text.strip() and state.state == "other":
            assert state.reason, line
    assert reading_of(path.name).as_json() == reading.as_json()


def test_replacement_under_the_same_part_is_the_other_half() -> None:
    reading = text_reading(
        "Fan\n\nRemoval\n\n1. Remove the two screws.\n\nReplacement\n\n1. Tighten the two screws.\n"
    )
    assert outline(reading) == [("Fan", "removal"), ("Fan", "refit")]


def test_replace_in_a_list_means_refit() -> None:
    reading = text_reading("Replacing the fan\n\n1. Remove the fan.\n2. Replace the cover.\n")
    assert [a.klass for a in reading.procedures[0].actions()] == ["remove", "replace"]
    assert reading.procedures[0].kind == "both"


def test_a_passive_that_restates_a_step_counts_once() -> None:
    text = "Removing the lid\n\n1. Remove the four screws from the lid.\n2. Once the screws are out, the lid can be removed.\n3. Remove the lid.\n"  # noqa: E501
    assert [a.klass for a in text_reading(text).procedures[0].actions()] == ["remove", "remove"]


def test_a_passive_alone_counts() -> None:
    text = "Removing the lid\n\n1. The four screws of the lid must be removed.\n"
    assert [(a.klass, a.count) for a in text_reading(text).procedures[0].actions()] == [
        ("remove", 4)
    ]


def test_no_procedure_at_all_is_an_error() -> None:
    reading = text_reading("The weather was fine.\nNobody came.\n")
    assert [finding.code for finding in reading.findings] == ["no_procedure"]
    assert reading.findings[0].severity == "error"


def test_an_order_that_is_not_understood_says_so() -> None:
    reading = text_reading("Removing the lid\n\n1. Remove the lid.\n2. Lid flange screw gromble.\n")
    assert reading.lines[3].state == "not_understood"
    assert [finding.line for finding in reading.findings] == [4]


def test_prerequisites_in_a_table() -> None:
    text = "Removing the pump\n\nPrerequisites | Remove the rear door; drain the tank\n\n1. Remove the pump.\n"
    reading = read(
        open_source(
            text.replace("Prerequisites |", "| Prerequisites |")
            .replace("tank\n", "tank |\n")
            .encode(),
            "t.md",
        )
    )
    assert [item.kind for item in reading.procedures[0].prerequisites] == ["part", "state"]


def test_screw_tables_give_counts_and_sizes() -> None:
    text = "# Removing the lid\n\n| Part | Screw | Quantity |\n|---|---|---|\n| Lid | M2.5x6 | 7 |\n\n1. Remove the screws that hold the lid.\n"  # noqa: E501
    reading = read(open_source(text.encode(), "t.md"))
    assert [(a.count, a.size) for a in reading.procedures[0].actions()] == [(7, "M2.5x6")]


def test_an_unpunctuated_talk_is_read_part_by_part() -> None:
    reading = reading_of("mini_pc.txt")
    parts = [name for name, kind in outline(reading) if kind == "removal"]
    assert parts == ["finch mini pc", "ssd", "ram", "fan", "motherboard"]
    counts = {
        a.object: a.count
        for p in reading.procedures
        for a in p.actions()
        if a.fastener and a.klass == "remove"
    }
    assert counts["bottom plate screws"] == 4
    assert counts["fan screws"] == 4
    assert "motherboard" in [a.object for a in part(reading, "", "refit").actions()]


def test_numbered_titles_and_lists_of_the_same_shape() -> None:
    reading = reading_of("old_notebook.txt")
    assert [name for name, _ in outline(reading)] == [
        "keyboard",
        "keyboard",
        "Hard disk module",
        "DVD drive",
    ]
    assert before(part(reading, "Hard disk module")) == [("part", "keyboard")]


def test_a_lettered_list_of_what_comes_off_ends_where_numbers_begin() -> None:
    reading = reading_of("mixed_marks.txt")
    board = part(reading, "system board")
    assert [text for _, text in before(board)] == ["Base cover", "Battery pack", "Memory module"]
    screws = [(a.count, a.size) for a in board.actions() if a.fastener == "screw"]
    assert screws == [(5, "PM2.0×4.0"), (2, "4-40x3/16"), (8, "M3×6")]


def test_pronouns_stand_for_what_the_verb_is_done_to() -> None:
    reading = reading_of("old_notebook.txt")
    found = [(a.klass, a.object) for a in part(reading, "keyboard").actions()]
    assert ("disconnect", "FFC cables") in found


def test_the_title_of_a_book_is_told_as_one() -> None:
    """Lines above the first procedure that name the machine and the book are no work that was not understood."""
    reading = text_reading(
        "Dunnock R12 Tape Drive Enclosure\nReplaceable Unit Replacement Guide\n\n"
        "Replacing the fan tray\n\n1. Loosen the two captive screws.\n2. Slide the fan tray out.\n"
    )
    told = [(line.state, line.reason) for line in reading.lines[:2]]
    assert all(
        state == "heading" or (state, reason) == ("other", "title") for state, reason in told
    )
    assert outline(reading) == [("fan tray", "both")]

"""What comes before: prerequisites, covers, power, names, wording."""

from __future__ import annotations

import pytest

from tests.audit.texts import MANUAL, audited, codes, line_of, planted


def test_circular_prerequisites_are_an_error_told_once() -> None:
    """The cover asks for the fan and the fan asks for the cover: nobody can begin."""
    text = planted(
        MANUAL,
        "Before you begin: switch off the notebook and unplug the power adapter.",
        "Before you begin\n- Unplug the power adapter.\n- Remove the fan.",
    )
    found = [f for f in audited(text) if f.code == "circular_prerequisites"]
    assert len(found) == 1
    assert found[0].severity == "error"
    assert '"bottom cover" needs "fan" needs "bottom cover"' in found[0].text


def test_a_prerequisite_without_a_procedure_names_the_nearest() -> None:
    """A slip of the pen: the part that is meant is offered."""
    start = MANUAL.index("3 Fan")
    text = MANUAL[:start] + planted(
        MANUAL[start:], "- Remove the battery.", "- Remove the battrey."
    )
    found = [f for f in audited(text) if f.code == "unknown_prerequisite"]
    assert [f.line for f in found] == [line_of(text, "battrey")]
    assert found[0].severity == "warning"
    assert 'Is "battery" meant?' in found[0].remedy


def test_a_state_is_no_procedure() -> None:
    """Switching off and unplugging ask for no procedure of their own."""
    assert "unknown_prerequisite" not in codes(MANUAL)


def test_a_cover_that_all_others_take_off_first() -> None:
    """Everything else on the main board asks for the bottom cover; one procedure does not."""
    start = MANUAL.index("4 Heat sink")
    text = MANUAL[:start] + planted(
        MANUAL[start:],
        "- Remove the bottom cover.\n- Remove the battery.\n",
        "- Switch off the notebook.\n",
    )
    found = [f for f in audited(text) if f.code == "cover_not_named"]
    assert found
    assert all(f.line >= line_of(text, "4 Heat sink") for f in found)
    assert any("bottom cover" in f.text for f in found)


def test_a_cover_that_a_prerequisite_takes_off_need_not_be_named() -> None:
    """The battery asks for the cover, so a procedure that asks for the battery has asked for both."""
    start = MANUAL.index("4 Heat sink")
    text = MANUAL[:start] + planted(MANUAL[start:], "- Remove the bottom cover.\n", "")
    assert codes(text) == []


def test_a_cable_before_the_battery_is_told() -> None:
    """A live cable is parted although the battery's plug comes later in the same procedure."""
    text = planted(
        MANUAL,
        "1. Disconnect the battery cable from the main board.",
        "1. Disconnect the speaker cable from the main board.\n2. Disconnect the battery cable from the main board.",
    )
    text = planted(
        text,
        "3. Connect the battery cable to the main board.",
        "3. Connect the speaker cable to the main board.\n4. Connect the battery cable to the main board.",
    )
    found = [f for f in audited(text) if f.code == "not_isolated"]
    assert [f.line for f in found] == [line_of(text, "Disconnect the speaker cable")]


def test_power_that_is_never_taken_away_is_told() -> None:
    """The text knows a battery, and one procedure parts a cable without asking for it."""
    start = MANUAL.index("3 Fan")
    text = MANUAL[:start] + planted(MANUAL[start:], "- Remove the battery.\n", "")
    assert "not_isolated" in codes(text)


def test_power_given_back_too_early_is_told() -> None:
    """The battery goes in before another cable does."""
    text = planted(
        MANUAL,
        "3. Connect the battery cable to the main board.",
        "3. Connect the battery cable to the main board.\n4. Connect the speaker cable to the main board.",
    )
    text = planted(
        text,
        "2. Remove the four M2x3 screws that secure the battery",
        "2. Disconnect the speaker cable from the main board.\n3. Remove the four M2x3 screws that secure the battery",
    )
    assert codes(text) == ["not_isolated"]


def test_mains_taken_away_after_a_cable_is_told() -> None:
    """A machine without a battery: the cord is unplugged after a cable, in the same procedure."""
    text = (
        "Removing the fan\n\n1. Disconnect the fan lead from the power board.\n"
        "2. Unplug the power cord.\n3. Lift out the fan.\n"
    )
    found = [f for f in audited(text) if f.code == "not_isolated"]
    assert [(f.line, f.also) for f in found] == [(3, (4,))]
    turned = text.replace("1. Disconnect the fan lead from the power board.\n", "").replace(
        "3. Lift", "3. Disconnect the fan lead from the power board.\n4. Lift"
    )
    assert "not_isolated" not in [f.code for f in audited(turned)]


def test_a_general_instruction_to_disconnect_the_battery_covers_all() -> None:
    """Said once before all procedures, it need not be said again."""
    start = MANUAL.index("3 Fan")
    text = MANUAL[:start] + planted(MANUAL[start:], "- Remove the battery.\n", "")
    text = planted(
        text,
        "Marl 14 service manual\n",
        "Marl 14 service manual\n\nBefore any work, disconnect the battery.\n",
    )
    assert "not_isolated" not in codes(text)


# --- names ------------------------------------------------------------------------------------------


def test_one_thing_under_two_names_is_a_note() -> None:
    """The main board is called the system board once."""
    text = planted(
        MANUAL,
        "2. Lift the heat sink off the main board.",
        "2. Lift the heat sink off the system board.",
    )
    found = [f for f in audited(text) if f.code == "two_names"]
    assert [(f.severity, f.line) for f in found] == [("note", line_of(text, "system board"))]


def test_two_things_under_one_name() -> None:
    """A bracket is taken off, and much later a bracket again."""
    text = planted(
        MANUAL,
        "1. Lift the locking bar of the fan connector.",
        "1. Remove the cable bracket.\n2. Lift the locking bar of the fan connector.",
    )
    text = planted(
        text,
        "5. Lift the fan out of the chassis.",
        "5. Lift the fan out of the chassis.\n6. Remove the cable bracket.",
    )
    text = planted(
        text,
        "1. Place the fan in the chassis.",
        "1. Place the fan in the chassis.\n2. Install the cable bracket.",
    )
    found = [f for f in audited(text) if f.code == "one_name"]
    assert [f.severity for f in found] == ["warning"]


def test_left_and_right_are_not_one_thing() -> None:
    """Names that differ by a word that tells them apart are two things and two names."""
    text = planted(
        MANUAL,
        "4. Remove the fan shield.",
        "4. Remove the left fan shield.\n5. Remove the right fan shield.",
    )
    text = planted(
        text,
        "2. Place the fan shield on the fan.",
        "2. Place the left fan shield on the fan.\n3. Place the right fan shield on the fan.",
    )
    assert codes(text) == []


# --- wording ----------------------------------------------------------------------------------------


def test_twenty_words_pass_and_twenty_one_do_not() -> None:
    """The limit of a procedural sentence is exact; the list mark is no word."""
    twenty = "2. Lift the bottom cover off the chassis and " + " ".join(["very"] * 11) + " slowly."
    assert len(twenty.split()) - 1 == 20
    longer = planted(twenty, "very", "very very")
    old = "2. Lift the bottom cover off the chassis."
    assert "long_sentence" not in [f.code for f in audited(planted(MANUAL, old, twenty))]
    assert "long_sentence" in [f.code for f in audited(planted(MANUAL, old, longer))]


def test_an_order_that_begins_late_is_measured_too() -> None:
    """As in "Slowly and with both of your hands lift …": the verb stands in the middle."""
    late = (
        "2. Slowly and with both of your hands lift the bottom cover off the chassis"
        + " and up" * 6
    )
    old = "2. Lift the bottom cover off the chassis."
    assert "long_sentence" in [f.code for f in audited(planted(MANUAL, old, f"{late}."))]


def test_one_instruction_in_a_sentence() -> None:
    """Two verbs are two instructions; how one is done is not a second one."""
    old = "2. Lift the bottom cover off the chassis."
    two = planted(MANUAL, old, "2. Open the lid and lift the bottom cover off the chassis.")
    manner = planted(MANUAL, old, "2. Lift the bottom cover by pulling its edge.")
    assert "several_instructions" in [f.code for f in audited(two)]
    assert "several_instructions" not in [f.code for f in audited(manner)]


def test_wording_findings_are_notes_that_cite_the_standard() -> None:
    """A long sentence harms nobody by itself; where the limit comes from is told."""
    text = planted(
        MANUAL, "2. Lift the bottom cover off the chassis.",
        "2. Lift the bottom cover off the chassis with both of your hands and put it aside on a soft cloth where "
        "nobody can step on it.",
    )  # fmt: skip
    found = [f for f in audited(text) if f.code in ("long_sentence", "several_instructions")]
    assert {f.severity for f in found} == {"note"}
    assert all("Simplified Technical English, rule 5." in f.text for f in found)


def test_a_caution_after_its_step_is_late_and_before_it_is_not() -> None:
    """The hot heat sink is warned of once it is in the hand."""
    warning = "WARNING: The heat sink can be hot. It can burn you.\n"
    text = planted(MANUAL, warning, "")
    step = "2. Lift the heat sink off the main board.\n"
    text = planted(text, step, step + warning)
    found = [f for f in audited(text) if f.code == "late_caution"]
    assert [(f.severity, f.line, f.also) for f in found] == [
        ("warning", line_of(text, "WARNING"), (line_of(text, "2. Lift the heat sink"),))
    ]
    assert "late_caution" not in codes(MANUAL)


@pytest.mark.parametrize("text", ["Nothing to do here.", "The fan is black.\n\nThe lid is grey."])
def test_a_text_without_instructions_says_so(text: str) -> None:
    """No procedure is an error: there is nothing that could be audited."""
    assert codes(text) == ["no_procedure"]

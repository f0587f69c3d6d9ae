"""The two halves of a procedure: what comes out goes back, in the same number, and everything is closed again."""

from __future__ import annotations

import pytest

from lastscrew.audit.findings import Finding
from tests.audit.texts import MANUAL, audited, codes, line_of, planted


def only(text: str) -> Finding:
    """The one finding about a text, wording aside."""
    found = [f for f in audited(text) if f.code not in ("long_sentence", "several_instructions")]
    assert len(found) == 1, found
    return found[0]


def test_a_sound_manual_has_no_finding() -> None:
    """Eight halves that agree with each other: nothing to say, not even a note."""
    assert audited(MANUAL) == ()


@pytest.mark.parametrize(
    ("old", "new", "code", "severity", "at"),
    [
        (
            "Install the four M2x3 screws that secure the battery",
            "Install the three M2x3 screws that secure the battery",
            "count_differs", "error", "Install the three M2x3 screws that secure the battery",
        ),
        (
            "2. Install the eight M2x5 screws that secure the bottom cover to the chassis.\n", "",
            "fastener_not_back", "warning", "Remove the eight M2x5",
        ),
        (
            "1. Remove the eight M2x5 screws that secure the bottom cover to the chassis.\n", "",
            "fastener_not_out", "warning", "Install the eight M2x5",
        ),
        ("4. Connect the fan cable to the main board.\n", "", "stays_open", "warning", "Disconnect the fan cable"),
        (
            "5. Press down the locking bar of the fan connector.\n", "",
            "stays_open", "warning", "Lift the locking bar",
        ),
        ("2. Place the fan shield on the fan.\n", "", "stays_open", "warning", "Remove the fan shield"),
        ("4. Remove the fan shield.\n", "", "part_not_out", "warning", "Place the fan shield"),
        (
            "2. Disconnect the fan cable from the main board.\n", "",
            "never_opened", "note", "Connect the fan cable",
        ),
        (
            "1. Apply new thermal paste to the processor.\n", "",
            "supply_not_renewed", "warning", "Clean the old thermal paste",
        ),
    ],
)  # fmt: skip
def test_a_planted_fault_is_found_where_it_is_and_nothing_else(
    old: str, new: str, code: str, severity: str, at: str
) -> None:
    """One sentence of the sound manual exchanged or left out: that, its place and its grade, and no more."""
    text = planted(MANUAL, old, new)
    if "locking bar" in at:
        assert "stays_open" in codes(text)
        return
    finding = next(f for f in audited(text) if f.code == code)
    assert (finding.severity, finding.line) == (severity, line_of(text, at))
    assert [c for c in codes(text) if c != code] in ([], ["stays_open"])


def test_a_bracket_that_never_goes_back() -> None:
    """A part that is taken off and of which the other half never speaks."""
    text = planted(MANUAL, "4. Remove the fan shield.", "4. Remove the fan bracket.")
    text = planted(text, "2. Place the fan shield on the fan.\n", "")
    finding = only(text)
    assert (finding.code, finding.line) == ("part_not_back", line_of(text, "fan bracket"))


def test_a_tape_that_is_peeled_off_and_not_replaced_is_a_note() -> None:
    """Of tapes texts are often silent: that is said softly."""
    text = planted(
        MANUAL,
        "4. Remove the fan shield.",
        "4. Peel off the tape over the fan cable.\n5. Remove the fan shield.",
    )
    finding = only(text)
    assert (finding.code, finding.severity) == ("stays_open", "note")


def test_a_part_renamed_between_the_halves() -> None:
    """What comes off as a dome and goes back as a canopy is told once, as one thing under two names."""
    text = planted(MANUAL, "4. Remove the fan shield.", "4. Remove the dome.")
    text = planted(text, "2. Place the fan shield on the fan.", "2. Place the canopy on the fan.")
    finding = only(text)
    assert (finding.code, finding.severity) == ("two_names", "warning")
    assert {finding.line, *finding.also} == {line_of(text, "the canopy"), line_of(text, "the dome")}


@pytest.mark.parametrize(
    "refit",
    [
        "2. Install two of the screws on the left.\n3. Install the other two screws on the right.",
        "2. Insert the four M2x3 screws.\n3. Tighten the four M2x3 screws.",
        "2. Install the screws that secure the battery to the chassis.",
        "2. Secure the battery to the chassis with its screws.",
        "2. Install all of the screws.",
    ],
)
def test_the_same_number_said_otherwise_is_no_finding(refit: str) -> None:
    """Four out and two and two back, inserted and then tightened, or without a number: all sound."""
    text = planted(
        MANUAL, "2. Install the four M2x3 screws that secure the battery to the chassis.", refit
    )
    assert codes(text) == []


@pytest.mark.parametrize(
    "refit",
    [
        "Reverse the removal steps.",
        "Installation is the reverse of removal.",
        "To install, follow the removal steps in reverse order.",
        "Reassemble in the reverse order of disassembly.",
    ],
)
def test_steps_done_backwards_put_everything_back(refit: str) -> None:
    """A half that only says so leaves nothing open."""
    start = MANUAL.index("1. Place the battery in the chassis.")
    end = MANUAL.index("3 Fan")
    assert codes(MANUAL[:start] + refit + "\n\n" + MANUAL[end:]) == []


def test_backwards_does_not_renew_what_was_cleaned_off() -> None:
    """The old paste does not come back by doing the steps in reverse."""
    start = MANUAL.index("1. Apply new thermal paste")
    assert codes(MANUAL[:start] + "Reverse the removal steps.\n") == ["supply_not_renewed"]


def test_a_new_part_that_is_stuck_on_brings_its_adhesive() -> None:
    """As feet and seals do; where the old one goes back, the adhesive is missed."""
    text = (
        "Removing the foot\n\n1. Pull off the foot.\n2. Clean the adhesive residue off the base.\n\n"
        "Installing the foot\n\n1. Stick the new foot in place.\n"
    )
    assert "supply_not_renewed" not in codes(text)
    assert "supply_not_renewed" in codes(text.replace("Stick the new foot", "Put the foot"))


def test_a_number_beside_reverse_is_still_compared() -> None:
    """Reverse order covers what is not said, not what is said otherwise."""
    start, end = MANUAL.index("1. Place the battery in the chassis."), MANUAL.index("3 Fan")
    half = "Reverse the removal steps. Tighten the five screws that secure the battery to the chassis.\n\n"
    assert "count_differs" in codes(MANUAL[:start] + half + MANUAL[end:])


def test_a_text_without_any_other_half_has_one_note() -> None:
    """Silence is no error: one note for the whole text, however many parts it takes off."""
    kept, skip = [], False
    for line in MANUAL.splitlines():
        if line.startswith("Installing"):
            skip = True
        elif line.startswith("Removing") or line[:2] in ("2 ", "3 ", "4 "):
            skip = False
        if not skip:
            kept.append(line)
    found = audited("\n".join(kept))
    assert {f.code for f in found} == {"no_way_back", "supply_not_renewed"}
    assert {f.severity for f in found} == {"note"}


def test_two_screws_on_each_of_two_fans_are_four() -> None:
    """What is counted on each piece may be a multiple in the other half."""
    text = planted(
        MANUAL,
        "3. Remove the three M2x3 screws that secure the fan to the chassis.",
        "3. Remove the two M2x3 screws on each fan.",
    )
    text = planted(
        text,
        "Install the three M2x3 screws that secure the fan",
        "Install the four M2x3 screws that secure the fan",
    )
    assert "count_differs" not in codes(text)


def test_a_new_part_in_place_of_the_old_is_no_finding() -> None:
    """Inserting the new battery puts back what taking the battery out took out."""
    text = planted(
        MANUAL,
        "1. Place the battery in the chassis.",
        "1. Insert the new battery into the chassis.",
    )
    assert codes(text) == []


def test_what_may_not_be_used_again_must_be_renewed() -> None:
    """A tape that is discarded asks for a new one, and has it where the text says so."""
    text = planted(
        MANUAL, "4. Remove the fan shield.",
        "4. Peel off the tape over the fan cable. The tape cannot be reused.\n5. Remove the fan shield.",
    )  # fmt: skip
    assert codes(text) == ["supply_not_renewed"]
    renewed = planted(
        text,
        "5. Press down the locking bar",
        "5. Stick a new tape over the fan cable.\n6. Press down the locking bar",
    )
    assert codes(renewed) == []


def test_several_kinds_of_screws_that_go_back_in_one_breath() -> None:
    """Six and two come out; eight go back is sound, seven is not."""
    out = "1. Remove the six M2x5 screws and the two M2x8 screws that secure the bottom cover to the chassis."
    text = planted(
        MANUAL, "1. Remove the eight M2x5 screws that secure the bottom cover to the chassis.", out
    )
    text = planted(text, "2. Install the eight M2x5 screws", "2. Install the eight screws")
    assert codes(text) == []
    assert codes(planted(text, "Install the eight screws", "Install the seven screws")) == [
        "count_differs"
    ]

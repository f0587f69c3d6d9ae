"""What a job finds otherwise than the device file says: the rest of the job is planned with it."""

from __future__ import annotations

from lastscrew.bench.work.contradictions import as_found, contradictions
from lastscrew.bench.workshop.edits import proposed_edits
from lastscrew.device.model import Device
from lastscrew.run import events as e
from tests.bench.work.conftest import Screen

SAID: tuple[e.Happening, ...] = (
    e.CountCorrected(joint="cover_screws", count=8),
    e.OtherKind(joint="fan_screws", count=3, piece="m2x3"),
    e.OtherKind(joint="board_screws", count=1, length_mm=4.5),
    e.Unreachable(joint="fan_plug", reason="in_the_way", part="clock_cell"),
    e.Unreachable(joint="speaker_plug", reason="too_short"),
    e.Unreachable(joint="pad_ribbon", reason="other", text="glued over"),
)


def found_by(device: Device, *what: e.Happening) -> Screen:
    screen = Screen.at(device, "fan")
    for each in what:
        screen.happen(each)
    return screen


def test_each_is_a_sentence_that_names_the_joint_and_what_the_file_says(notebook: Device) -> None:
    found = contradictions(notebook, found_by(notebook, *SAID).events)
    assert [each.joint for each in found] == [what.joint for what in SAID if hasattr(what, "joint")]
    assert all(each.text.startswith("*") and each.text.endswith(".") for each in found)


def test_whatever_is_found_here_is_proposed_to_the_lead_as_well(notebook: Device) -> None:
    job = found_by(notebook, *SAID)
    edits = proposed_edits(notebook, [("r1", event) for event in job.events])
    found = contradictions(notebook, job.events)
    assert {edit.joint for edit in edits} == {each.joint for each in found}


def test_the_device_of_the_job_is_as_it_was_found(notebook: Device) -> None:
    device = as_found(notebook, contradictions(notebook, found_by(notebook, *SAID).events))
    assert device.joints["cover_screws"].count == 8
    assert device.joints["speaker_plug"].rigid
    assert all("clock_cell" in access.under for access in device.joints["fan_plug"].accesses)
    changed = {key for key, joint in device.joints.items() if joint != notebook.joints[key]}
    assert changed == {"cover_screws", "speaker_plug", "fan_plug"}


def test_the_last_count_of_a_job_is_the_one_that_holds(notebook: Device) -> None:
    job = found_by(
        notebook,
        e.CountCorrected(joint="cover_screws", count=9),
        e.CountCorrected(joint="cover_screws", count=8),
    )
    assert [each.value for each in contradictions(notebook, job.events)] == [8]


def test_what_was_taken_back_contradicts_nothing(notebook: Device) -> None:
    job = Screen.at(notebook, "fan")
    said = job.happen(e.CountCorrected(joint="cover_screws", count=9))
    job.happen(e.TakenBack(about=said.id))
    assert contradictions(notebook, job.events) == ()


def test_a_missing_screw_does_not_change_the_device(notebook: Device) -> None:
    job = found_by(notebook, e.Missing(joint="board_screws", count=1))
    assert contradictions(notebook, job.events) == ()


def test_another_kind_is_told_of_as_many_as_were_counted(notebook: Device) -> None:
    """Six were counted: it is one of six, not of the seven that the device file has."""
    what = (
        e.CountCorrected(joint="cover_screws", count=6),
        e.OtherKind(joint="cover_screws", count=1, piece="m2x3"),
    )
    _counted, other = contradictions(notebook, found_by(notebook, *what).events)
    assert "1 of 6 is M2 × 3 mm" in other.text
    all_six = e.OtherKind(joint="cover_screws", count=6, piece="m2x3")
    _counted, other = contradictions(notebook, found_by(notebook, what[0], all_six).events)
    assert (other.key, other.value) == ("fastener", "m2x3")

"""What a job finds otherwise than the device file says becomes an edit that a lead may publish."""

from __future__ import annotations

from importlib.resources import files

import pytest

from lastscrew.bench.work.contradictions import as_found, contradictions, edited, proposals
from lastscrew.device.model import Device
from lastscrew.device.reading import load_device
from lastscrew.run import events as e
from tests.bench.work.conftest import Screen


def found_by(device: Device, *what: e.Happening) -> Screen:
    screen = Screen.at(device, "fan")
    for each in what:
        screen.happen(each)
    return screen


TEXT = (files("lastscrew.demo") / "notebook.device.yaml").read_text("utf-8")

CASES: list[tuple[e.Happening, str, object]] = [
    (e.CountCorrected(joint="cover_screws", count=8), "count", 8),
    (e.OtherKind(joint="fan_screws", count=3, piece="m2x3"), "fastener", "m2x3"),
    (e.Unreachable(joint="fan_plug", reason="in_the_way", part="clock_cell"), "under", "clock_cell"),
    (e.Unreachable(joint="speaker_plug", reason="too_short"), "rigid", True),
    (e.Missing(joint="board_screws", count=1), "count", 4),
]  # fmt: skip


@pytest.mark.parametrize(("what", "key", "value"), CASES)
def test_each_kind_of_contradiction_can_be_written_into_the_file(
    notebook: Device, what: e.Happening, key: str, value: object
) -> None:
    job = found_by(notebook, what)
    proposal = proposals(notebook, [("r1", job.events)])[0]
    assert (proposal.key, proposal.value, proposal.jobs) == (key, value, ("r1",))
    changed = load_device(edited(TEXT, proposal))
    joint = changed.joints[proposal.joint]
    if key == "under":
        assert all("clock_cell" in access.under for access in joint.accesses)
    else:
        assert getattr(joint, key) == value
    others = {k: j for k, j in changed.joints.items() if k != proposal.joint}
    assert others == {k: j for k, j in notebook.joints.items() if k != proposal.joint}
    assert contradictions(changed, job.events) == () or key == "count"


def test_a_missing_screw_of_one_unit_is_no_certain_mistake_of_the_file(notebook: Device) -> None:
    job = found_by(notebook, e.Missing(joint="board_screws", count=1))
    assert not proposals(notebook, [("r1", job.events)])[0].is_certain
    assert proposals(notebook, [("r1", job.events), ("r2", job.events)])[0].is_certain


def test_what_most_jobs_met_stands_first(notebook: Device) -> None:
    one = found_by(notebook, e.CountCorrected(joint="cover_screws", count=8))
    two = found_by(
        notebook, e.Unreachable(joint="fan_plug", reason="in_the_way", part="clock_cell")
    )
    found = proposals(notebook, [("a", one.events), ("b", two.events), ("c", two.events)])
    assert [each.joint for each in found] == ["fan_plug", "cover_screws"]


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


def test_a_sentence_without_an_edit_is_kept_as_a_sentence(notebook: Device) -> None:
    job = found_by(notebook, e.Unreachable(joint="fan_plug", reason="other", text="glued over"))
    proposal = proposals(notebook, [("r1", job.events)])[0]
    assert not proposal.is_edit
    assert "glued over" in proposal.text
    with pytest.raises(ValueError, match="words only"):
        edited(TEXT, proposal)


def test_a_missing_screw_does_not_change_the_device_of_the_job(notebook: Device) -> None:
    job = found_by(notebook, e.Missing(joint="board_screws", count=1))
    found = contradictions(notebook, job.events)
    assert as_found(notebook, found) == notebook

"""What the program writes audits clean; what is then spoilt in it is found.

Each sentence of a refitting half left out, each number changed, each prerequisite left out, one at a time. Where a
half says a thing twice ("Install the fan." and "Install the fan on the board."), leaving out one of them is no fault.
"""

from __future__ import annotations

import re
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lastscrew.audit.device_file import audit_device
from lastscrew.audit.findings import Finding
from lastscrew.audit.text import audit_reading
from lastscrew.device.model import Device
from lastscrew.device.reading import load_device, read_device
from lastscrew.device.writing import write_device
from lastscrew.paper.procedure import procedures_of
from lastscrew.paper.procedure_page import markdown
from lastscrew.reading import load_lexicon, read
from lastscrew.reading.sources import open_source
from tests.oracle.machines import machine_case
from tests.paper.machines import tower

FOLDER = Path(__file__).parent / "machines"
CHAPTER = "## How this machine is held together"
UNTOUCHED = re.compile(
    r"(?:Turn the machine|Connect all external|Make sure|Photograph|Before|Apply new)"
)


class Spoilt(NamedTuple):
    """A written text with one slip: what kind, the sentence, the text."""

    kind: str
    line: str
    text: str


def written(device: Device) -> str:
    """Procedures for all parts."""
    return markdown(device, procedures_of(device))


def audited(text: str) -> tuple[Finding, ...]:
    """Findings about a text."""
    lexicon = load_lexicon()
    return audit_reading(read(open_source(text.encode(), "written.md"), lexicon), lexicon)


def spoilt(text: str) -> Iterator[Spoilt]:
    """Every text with one slip."""
    head, _, chapter = text.partition(CHAPTER)
    lines = head.split("\n")
    half = ""
    for index, line in enumerate(lines):
        if line.startswith("## "):
            half = line
        kinds = list(_slips_of(line, half, lines))
        for kind, new in kinds:
            changed = [*lines[:index], *new, *lines[index + 1 :]]
            yield Spoilt(kind, line, "\n".join(changed) + "\n" + CHAPTER + chapter)


def _slips_of(line: str, half: str, lines: list[str]) -> Iterator[tuple[str, list[str]]]:
    if line.startswith("- Remove the") and half.startswith("## Removing"):
        yield "prerequisite", []
    step = re.match(r"\d+\. (.*)", line)
    if step is None or not half.startswith("## Refitting") or UNTOUCHED.match(step[1]):
        return
    number = re.search(r"\bthe (\d+) ", step[1])
    if number:
        yield "number", [line.replace(f"the {number[1]} ", f"the {int(number[1]) + 1} ", 1)]
    if not _said_twice(step[1], half, lines):
        yield "sentence", []


def _said_twice(sentence: str, half: str, lines: list[str]) -> bool:
    """Another step of the half names the same part as installed."""
    part = re.match(r"Install the (.+?)(?: on the .*)?\.", sentence)
    if part is None or " that " in sentence:
        return False
    own = lines[lines.index(half) :]
    end = next((n for n, row in enumerate(own[1:], 1) if row.startswith("## ")), len(own))
    again = [
        row for row in own[:end] if re.match(rf"\d+\. Install the {re.escape(part[1])}\b", row)
    ]
    return len(again) > 1


def found(text: str, clean: set[tuple[str, str]]) -> bool:
    """A finding that the sound text does not have."""
    return any((f.code, re.sub(r"\d+", "", f.text)) not in clean for f in audited(text))


def rate(device: Device) -> tuple[int, int, list[str]]:
    """How many slips are found of how many, and those that are not."""
    text = written(device)
    clean = {(f.code, re.sub(r"\d+", "", f.text)) for f in audited(text)}
    every = list(spoilt(text))
    missed = [f"{slip.kind}: {slip.line}" for slip in every if not found(slip.text, clean)]
    return len(every) - len(missed), len(every), missed


@pytest.mark.parametrize("name", ["hand_drill", "wall_router"])
def test_nearly_every_slip_in_a_written_text_is_found(name: str) -> None:
    """Nine in ten, of sentences, numbers and prerequisites together."""
    hit, every, missed = rate(load_device((FOLDER / f"{name}.device.yaml").read_bytes()))
    assert every > 20
    assert hit >= 0.88 * every, missed


@settings(max_examples=6)
@given(st.integers(0, 10_000))
def test_a_generated_machine_is_written_without_contradiction(seed: int) -> None:
    """Not one error or warning about the procedures of a random machine."""
    device = machine_case(seed)[0]
    said = [f for f in audited(written(device)) if f.severity != "note"]
    assert [f for f in said if f.code != "not_understood"] == []


@settings(max_examples=20)
@given(st.integers(0, 10_000))
def test_a_generated_machine_that_is_right_has_no_error(seed: int) -> None:
    """The audit of a device file calls nothing an error that `check` accepts."""
    text = write_device(machine_case(seed)[0])
    assert [
        f for f in audit_device(read_device(text, "m.device.yaml")) if f.severity == "error"
    ] == []


@settings(max_examples=20)
@given(st.integers(0, 10_000))
def test_what_is_the_same_everywhere_is_told_once(seed: int) -> None:
    """A machine whose file names no function: one finding says so, however many contacts there are."""
    device = replace(machine_case(seed)[0], functions={})
    parts = {key: replace(part, functions=()) for key, part in device.parts.items()}
    joints = {
        key: replace(joint, functions=(), prove_before_close=())
        for key, joint in device.joints.items()
    }
    text = write_device(replace(device, parts=parts, joints=joints))
    said = [
        f.code
        for f in audit_device(read_device(text, "m.device.yaml"))
        if f.code != "check_warning"
    ]
    assert said.count("nothing_proves") <= 1


def test_a_file_of_three_hundred_joints_is_audited_at_once() -> None:
    """Some hundredths of a second on an idle machine; a search for each pair would take minutes."""
    result = read_device(write_device(tower(100)), "tower.device.yaml")
    start = time.process_time()
    found = audit_device(result)
    assert time.process_time() - start < 3
    assert [f for f in found if f.severity == "error"] == []

"""What an audit says: findings with a code, a grade, a place, an explanation and a remedy.

How findings are graded. An *error* is a contradiction that stands in the text or file: two figures for the
same thing, an order that can't be kept. A *warning* is something that most likely goes wrong at the bench. A
*note* is what a colleague would mention. What a text does not say is no error of the text: silence is a
warning where the text speaks of everything around it, and a note otherwise.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final, Literal

Severity = Literal["error", "warning", "note"]
Subject = Literal["procedure", "wording", "device"]

SEVERITIES: Final[tuple[Severity, ...]] = ("error", "warning", "note")
"""Most severe first."""


@dataclass(frozen=True, slots=True)
class Rule:
    """One code: what it is about, what it says, and the grades that its findings may have."""

    code: str
    subject: Subject
    title: str
    grades: tuple[Severity, ...]


@dataclass(frozen=True, slots=True)
class Finding:
    """Something that a person should look at.

    Attributes:
        code: One of :data:`RULES`.
        severity: How it is graded.
        line: 1-based line that it is about, 0 where it is about the whole.
        text: What is wrong, and why that matters; whole sentences.
        remedy: What would put it right.
        file: Name of the text or file.
        column: 1-based column where that is known, else 0.
        path: Path to the value in a device file, such as ``joints.cover_screws.count``.
        also: Other lines that belong to it.
    """

    code: str
    severity: Severity
    line: int
    text: str
    remedy: str
    file: str = ""
    column: int = 0
    path: str = ""
    also: tuple[int, ...] = ()

    def as_json(self) -> dict[str, object]:
        """The shape of ``--json``."""
        return {
            "code": self.code,
            "severity": self.severity,
            "file": self.file,
            "line": self.line,
            "column": self.column,
            "path": self.path,
            "text": self.text,
            "remedy": self.remedy,
            "also": list(self.also),
        }


def _rules(*rows: tuple[str, Subject, str, str]) -> dict[str, Rule]:
    return {
        code: Rule(code, subject, title, tuple(s for s in SEVERITIES if s in grades.split()))
        for code, subject, title, grades in rows
    }


RULES: Final[dict[str, Rule]] = _rules(
    # --- procedures: the two halves ---
    ("count_differs", "procedure", "As many go back as came out? The halves name different numbers.", "error warning"),
    ("size_differs", "procedure", "Screws go back in another size than came out, or than the list says.", "warning"),
    ("fastener_not_back", "procedure", "A fastener comes out, and the other half never puts it back.", "warning"),
    ("fastener_not_out", "procedure", "A fastener goes back that never came out.", "warning note"),
    ("part_not_back", "procedure", "A part comes off, and the other half never puts it back.", "warning"),
    ("left_in_place", "procedure", "The fasteners of a part come out, and no step takes it off.", "warning"),
    ("part_not_out", "procedure", "A part goes back that never came off.", "warning note"),
    ("stays_open", "procedure", "A cable, tape, shield or lock is opened and never closed.", "warning note"),
    ("never_opened", "procedure", "A cable is connected or a lock closed that was never opened.", "warning note"),
    ("no_way_back", "procedure", "Nothing says how what was taken off goes back.", "note"),
    ("supply_not_renewed", "procedure", "A supply is taken off and nothing new is applied.", "warning note"),
    # --- procedures: what comes before ---
    ("circular_prerequisites", "procedure", "Procedures that each must be done before the other.", "error"),
    ("order_left_out", "procedure", "The order of the text runs in a circle; the draft leaves a piece out.", "warning"),
    ("unknown_prerequisite", "procedure", "A prerequisite that names no procedure of the text.", "error warning note"),
    ("cover_not_named", "procedure", "A part must come off first and is not named.", "warning"),
    ("not_isolated", "procedure", "Power is not taken away before live work, or is given back too early.", "warning"),
    # --- procedures: names ---
    ("two_names", "procedure", "One thing under two names.", "warning note"),
    ("one_name", "procedure", "Two things under one name.", "warning note"),
    # --- wording ---
    ("long_sentence", "wording", "An instruction of more words than the wording standard allows.", "note"),
    ("several_instructions", "wording", "More than one instruction in a sentence.", "note"),
    ("semicolon", "wording", "A semicolon in an instruction.", "note"),
    ("contraction", "wording", "A contraction in an instruction.", "note"),
    ("late_caution", "wording", "A caution that comes after the step it concerns.", "warning"),
    ("not_understood", "wording", "A line that looks like an instruction and was not understood.", "warning"),
    ("no_procedure", "wording", "No instruction was found.", "error"),
    # --- device files: fasteners ---
    ("screw_too_long", "device", "A screw that is longer than its own joint takes.", "error"),
    ("look_alike", "device", "Screws that look alike, and the wrong one does harm.", "warning note"),
    ("torque_high", "device", "A torque above what the thread bears.", "warning"),
    ("torque_low", "device", "A torque below what any property class asks for.", "note"),
    ("odd_drive", "device", "A recess that is not made for screws of that thread.", "note"),
    ("same_fastener", "device", "One kind of fastener under two ids.", "note"),
    ("unusual_count", "device", "A number of pieces that does not go with the rest.", "warning note"),
    # --- device files: proof and safety ---
    ("nothing_proves", "device", "A joint that disturbs something, and no check that would show it.", "warning note"),
    ("function_without_check", "device", "A function that nobody says how to try.", "warning"),
    ("no_renewal", "device", "Something that may be used once, and nothing new to put in its place.", "warning note"),
    ("energy_without_hazard", "device", "A part that stores energy, and no hazard that says so.", "warning"),
    # --- device files: ways and times ---
    ("not_removable", "device", "A spare that no plan can take out whole.", "note"),
    ("improbable_time", "device", "A time far from what work measurement has for such work.", "warning note"),
    ("improbable_chance", "device", "A chance of damage that no bench could live with.", "note"),
    ("same_place", "device", "Two pieces of a joint at one place.", "warning"),
    # --- device files: faults ---
    ("faults_alike", "device", "Two faults that nothing tells apart, and no mend cures both.", "warning"),
    ("fault_not_mended", "device", "A fault that nothing mends.", "warning"),
    ("mend_unlikely", "device", "A fault whose best mend fails more often than not.", "note"),
    ("fault_hidden", "device", "A fault that hardly shows in any symptom or check.", "note"),
    ("check_tells_nothing", "device", "A check whose outcome no fault changes.", "note"),
    ("symptom_of_nothing", "device", "A symptom that no fault shows.", "note"),
    ("leak_high", "device", "A check that a sound device fails often.", "warning"),
    ("prior_missing", "device", "A fault without a frequency beside others that have one.", "warning"),
    ("priors_do_not_add_up", "device", "Frequencies on two scales, or shares above 1.", "warning note"),
    # --- device files: entries ---
    ("same_name", "device", "Two entries with the same name.", "warning"),
    ("unused_entry", "device", "An entry that nothing refers to.", "note"),
    ("left_unknown", "device", "Values that the file leaves unknown.", "note"),
    ("price_missing", "device", "A chance of damage to a part without a price.", "note"),
    ("check_warning", "device", "Something that `lastscrew check` warns of.", "warning"),
)  # fmt: skip
"""Every code, in the order of the documents."""


def ordered(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Findings by place, then by grade and code, each once."""
    return tuple(
        sorted(
            set(findings),
            key=lambda f: (
                f.file, f.line, f.column, SEVERITIES.index(f.severity), f.code, f.path, f.text,
                f.also, f.remedy,
            ),
        )
    )  # fmt: skip


def counts(findings: Iterable[Finding]) -> dict[Severity, int]:
    """How many of each grade, the most severe first."""
    found = list(findings)
    return {grade: sum(f.severity == grade for f in found) for grade in SEVERITIES}


def reaches(findings: Iterable[Finding], grade: Severity) -> bool:
    """True when a finding is of this grade or a more severe one."""
    least = SEVERITIES.index(grade)
    return any(SEVERITIES.index(finding.severity) <= least for finding in findings)

"""The table of sequences in docs/times.md is what the program has.

``python -m tests.times.test_documented`` writes it anew.
"""

from __future__ import annotations

import re
from pathlib import Path

from lastscrew.device.model import KINDS, RIGID_KINDS, Access, Device, Fastener, Joint, Part, Tool
from lastscrew.times.most import MS_PER_TMU, Motion, motions_tmu
from lastscrew.times.work import joint_motions

PAGE = Path(__file__).resolve().parents[2] / "docs" / "times.md"
PASSAGE = re.compile(r"(<!-- sequences -->\n).*?(<!-- end sequences -->)", re.DOTALL)

TOOL = Tool("driver", "cross-recess screwdriver", ("PH1",))
FASTENERS = {
    "screw": Fastener("screw", "M2", 5.0, "PH1"),
    "nut": Fastener("nut", "M2", None, "H4"),
}
PARTS = {"base": Part("base", "Base", fixed=True), "lid": Part("lid", "Lid")}


def _joint(kind: str, tool: str | None) -> Joint:
    fastener = kind if kind in FASTENERS else None
    access = (Access("bottom", tool, close_tool=tool),)
    return Joint("j", kind, ("base", "lid"), access, kind in RIGID_KINDS, fastener=fastener)


def _motions(kind: str, tool: str | None, *, closing: bool) -> tuple[Motion, ...]:
    joint = _joint(kind, tool)
    device = Device(
        "d", "D", ("bottom",), PARTS, {"j": joint}, tools={"driver": TOOL}, fasteners=FASTENERS
    )  # fmt: skip
    return joint_motions(device, joint, joint.accesses[0], closing=closing)


def _seconds(kind: str, tool: str | None, *, closing: bool) -> str:
    return f"{motions_tmu(_motions(kind, tool, closing=closing)) * MS_PER_TMU / 1000:.1f}"


def table() -> str:
    """Kind, direction, sequences with reasons by a tool, seconds by a tool and by hand."""
    lines = [
        "| kind | way | sequences by a tool, and why | s | s by hand |",
        "|---|---|---|---|---|",
    ]
    for kind in KINDS:
        for closing in (False, True):
            motions = _motions(kind, TOOL.id, closing=closing)
            said = "; ".join(f"`{motion.sequence}` {motion.why}" for motion in motions)
            with_tool = _seconds(kind, TOOL.id, closing=closing)
            by_hand = _seconds(kind, None, closing=closing)
            way = "close" if closing else "open"
            lines.append(f"| {kind} | {way} | {said} | {with_tool} | {by_hand} |")
    return "\n".join(lines)


def renewed(text: str) -> str:
    """The page with the table as the program has it now."""
    return PASSAGE.sub(lambda match: f"{match[1]}{table()}\n{match[2]}", text)


def test_the_table_is_up_to_date() -> None:
    """Every sequence, reason and time of the page (else: python -m tests.times.test_documented)."""
    text = PAGE.read_text(encoding="utf-8")
    assert PASSAGE.search(text)
    assert renewed(text) == text


if __name__ == "__main__":
    PAGE.write_text(renewed(PAGE.read_text(encoding="utf-8")), encoding="utf-8")

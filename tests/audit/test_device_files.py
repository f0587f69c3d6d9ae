"""Device files: what a careful colleague would raise, and nothing more."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from lastscrew.audit.device_file import audit_device
from lastscrew.audit.findings import Finding
from lastscrew.audit.torques import TORQUE_SPANS, torque_span
from lastscrew.device.reading import read_device
from lastscrew.problems import InputError
from tests.audit.texts import demo, line_of, planted

SOUND = """\
format: 1
device: {name: Lamp, frame_mm: {top: [100, 100]}}
tools: {driver: {name: cross-recess driver, fits: [PH0]}}
supplies: {strip: {name: adhesive strip}}
fasteners:
  short: {thread: M2, length_mm: 3, drive: PH0, head: pan, finish: black, torque_ncm: 13}
  long: {thread: M2, length_mm: 6, drive: PH0, head: pan, finish: black, torque_ncm: 17}
hazards: {pack: {signal: warning, text: "Lithium pack. Do not pierce it."}}
functions: {light: {name: Light, check: Switch it on., check_s: 10}}
parts:
  foot: {name: Foot, fixed: true}
  cover: {name: Cover}
  pack: {name: Battery pack, energy: true, hazards: [pack]}
  board: {name: Board, functions: [light]}
joints:
  cover_screws: {kind: screw, joins: [cover, foot], fastener: long, count: 4, tool: driver, order: crosswise}
  pack_plug: {kind: plug, joins: [pack, board], under: [cover], isolates: true}
  pack_bond: {kind: adhesive, joins: [pack, foot], under: [cover], reuse: single_use, renew: {strip: 1}}
  board_screws: {kind: screw, joins: [board, foot], fastener: short, count: 3, under: [cover], tool: driver,
                 into: metal, powered: true}
  board_seat: {kind: seat, joins: [board, foot], under: [cover], after: [board_screws], powered: true}
"""


def audited(text: str | bytes) -> tuple[Finding, ...]:
    """Findings about a device file."""
    return audit_device(read_device(text, "lamp.device.yaml"))


def test_a_sound_file_has_no_finding() -> None:
    """A small machine in which everything has its check, its supply and its tool."""
    assert audited(SOUND) == ()


@pytest.mark.parametrize(
    ("old", "new", "code", "severity", "at"),
    [
        # fasteners
        ("into: metal", "max_length_mm: 2",
         "screw_too_long", "error", "max_length_mm: 2"),
        ("kind: adhesive, joins: [pack, foot], under: [cover], reuse: single_use, renew: {strip: 1}",
         "kind: screw, joins: [pack, foot], under: [cover], fastener: short, max_length_mm: 4, hazards: [pack]",
         "look_alike", "note", "pack_bond"),
        ("torque_ncm: 13", "torque_ncm: 130", "torque_high", "warning", "torque_ncm: 130"),
        ("torque_ncm: 13", "torque_ncm: 1.3", "torque_low", "note", "torque_ncm: 1.3"),
        ("count: 4, tool: driver, order: crosswise", "count: 2, tool: driver, order: crosswise",
         "unusual_count", "warning", "order: crosswise"),
        ("count: 4, tool: driver, order: crosswise", "count: 400, tool: driver", "unusual_count", "note", "count: 400"),
        ("count: 4, tool: driver, order: crosswise", "count: 4, tool: driver, order: numbered",
         "unusual_count", "note", "order: numbered"),
        ("count: 4, tool: driver, order", "count: 4, tool: driver, with: {washer: 3}, order",
         "unusual_count", "warning", "with: {washer"),
        # proof and safety
        ("check: Switch it on., ", "", "function_without_check", "warning", "light: {name: Light"),
        (", renew: {strip: 1}", "", "no_renewal", "warning", "reuse: single_use"),
        ("energy: true, hazards: [pack]", "energy: true", "energy_without_hazard", "warning", "pack: {name"),
        ("board: {name: Board", "board: {name: Heat sink", "no_renewal", "note", "board: {name"),
        # times
        ("tool: driver, order: crosswise", "tool: driver, order: crosswise, open_s: 900",
         "improbable_time", "warning", "open_s: 900"),
        ("tool: driver, order: crosswise", "tool: driver, order: crosswise, open_s: 0.5",
         "improbable_time", "warning", "open_s: 0.5"),
        ("renew: {strip: 1}", "renew: {strip: 1}, close_s: 4000", "improbable_time", "warning", "close_s: 4000"),
        # places and entries
        ("count: 4, tool", "count: 4, positions_mm: [[1, 1], [9, 9], [1, 1], [5, 5]], tool",
         "same_place", "warning", "positions_mm"),
        ("name: Board", "name: Cover", "same_name", "warning", "board: {name"),
        ("fasteners:\n", "fasteners:\n  odd: {thread: M9}\n", "unused_entry", "note", "odd:"),
        ("count: 4, tool", "count: unknown, tool", "left_unknown", "note", "count: unknown"),
        ("renew: {strip: 1}", "renew: {strip: 1}, damage: {pack: 0.1}", "price_missing", "note", "pack: {name"),
        # what check warns of is told too
        ("fits: [PH0]", "fits: [PH1]", "check_warning", "warning", "tool: driver, order"),
    ],
)  # fmt: skip
def test_a_planted_fault_is_found_where_it_is(
    old: str, new: str, code: str, severity: str, at: str
) -> None:
    """One value of the sound file exchanged: the fault, its line and its grade."""
    text = planted(SOUND, old, new)
    found = [f for f in audited(text) if f.code == code]
    assert (severity, line_of(text, at)) in {(f.severity, f.line) for f in found}
    assert all(
        f.text.endswith(".") and f.remedy.endswith((".", ")", "`")) and f.path for f in found
    )


def test_a_contact_that_no_function_would_show() -> None:
    """A plug between two parts without a function: nobody would notice that it is not in."""
    text = planted(SOUND, "  board: {name: Board", "  fan: {name: Fan}\n  board: {name: Board")
    text = planted(text, "joins: [pack, board]", "joins: [pack, foot]")
    text += "  fan_plug: {kind: plug, joins: [fan, cover]}\n  fan_seat: {kind: seat, joins: [fan, foot]}\n"
    found = [f for f in audited(text) if f.code == "nothing_proves"]
    assert [(f.severity, f.path) for f in found] == [("warning", "joints.fan_plug")]
    assert "nothing_proves" not in {
        f.code for f in audited(planted(text, "name: Fan", "name: Fan, functions: [light]"))
    }


def test_a_screw_that_can_pierce_the_pack_unannounced_is_a_warning() -> None:
    """Without a hazard or a note beside it, the longer look-alike is more than a note."""
    text = planted(
        SOUND,
        "kind: adhesive, joins: [pack, foot], under: [cover], reuse: single_use, renew: {strip: 1}",
        "kind: screw, joins: [pack, foot], under: [cover], fastener: short, tool: driver, max_length_mm: 4",
    )
    text = planted(text, "energy: true, hazards: [pack]", "energy: true")
    found = [f for f in audited(text) if f.code == "look_alike"]
    assert [f.severity for f in found] == ["warning"]
    assert "pierce Battery pack" in found[0].text


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("finish: black, torque_ncm: 17", "finish: nickel, torque_ncm: 17"),
        (
            "drive: PH0, head: pan, finish: black, torque_ncm: 17",
            "drive: T5, head: pan, finish: black, torque_ncm: 17",
        ),
    ],
)
def test_screws_that_differ_visibly_are_no_look_alikes(old: str, new: str) -> None:
    """Another finish or drive is seen before it is felt."""
    text = planted(SOUND, "into: metal", "max_length_mm: 4")
    assert "look_alike" in {f.code for f in audited(text)}
    assert "look_alike" not in {f.code for f in audited(planted(text, old, new))}


def test_a_spare_that_must_be_broken_up_to_come_out() -> None:
    """The screws of the board are below the cover, and both are to be exchanged as one piece."""
    text = planted(
        SOUND, "joints:\n",
        "spares: {kit: {name: Kit, contains: [cover, board]}}\njoints:\n  hinge: {kind: clip, joins: [cover, board]}\n",
    )  # fmt: skip
    found = [f for f in audited(text) if f.code == "not_removable"]
    assert [(f.severity, f.path) for f in found] == [("note", "spares.kit.contains")]
    assert "Board screws" in found[0].text


def test_a_spare_of_pieces_that_nothing_ties() -> None:
    """A set is handed over in pieces; the file should say so."""
    text = planted(
        SOUND, "joints:\n", "spares: {kit: {name: Kit, contains: [cover, board]}}\njoints:\n"
    )
    found = [f for f in audited(text) if f.code == "not_removable"]
    assert [(f.severity, f.path) for f in found] == [("note", "spares.kit.contains")]


def test_a_file_with_errors_is_not_audited() -> None:
    """It is never half used; every problem is told at once."""
    with pytest.raises(InputError) as caught:
        audited(
            SOUND.replace("kind: plug", "kind: plugg").replace("fastener: long", "fastener: lung")
        )
    assert [p.severity for p in caught.value.problems].count("error") == 2


@pytest.mark.parametrize("name", ["notebook", "slate", "extractor"])
def test_the_demo_machines_have_justified_notes_only(name: str) -> None:
    """Look-alikes that a person should know, kits in pieces, one value left unknown on purpose."""
    found = audit_device(read_device(demo(name), f"{name}.device.yaml"))
    assert {f.severity for f in found} == {"note"}
    assert {f.code for f in found} <= {"look_alike", "not_removable", "left_unknown", "no_renewal"}
    assert len(found) <= 5


@pytest.mark.parametrize("name", ["notebook", "slate", "extractor"])
def test_an_audit_is_the_same_every_time(name: str) -> None:
    """Sorted by place, each finding once."""
    first, second = (audit_device(read_device(demo(name))) for _ in range(2))
    assert first == second
    assert len(set(first)) == len(first)
    assert [f.line for f in first] == sorted(f.line for f in first)


# --- torques ----------------------------------------------------------------------------------------


LARGER = {
    "M5": (
        2.26,
        91 * 0.11298,
    ),  # metric-bolt-torque.com, class 4.6; cncexpo.com, class 12.9 dry: 91 lbf in
    "M6": (3.84, 19),  # metric-bolt-torque.com, class 4.6; operator's table, class 12.9 dry
    "M8": (
        8 * 1.35582,
        47,
    ),  # 10w40.com, low grade: 8 to 12 lbf ft; operator's table, class 12.9 dry
    "M10": (15 * 1.35582, 95),  # the same two
    "M12": (40, 165),  # operator's table, class 4.8 lubricated and class 12.9 dry
}
"""Least and greatest published torque of larger threads, in newton-metres, as the tables have them."""


@pytest.mark.parametrize("thread", LARGER)
def test_the_spans_of_larger_threads_are_those_of_the_published_tables(thread: str) -> None:
    """M5 to M12: the least and the greatest value that was read, to a percent."""
    span = torque_span(thread)
    low, high = LARGER[thread]
    assert span is not None
    assert (span.low_ncm, span.high_ncm) == pytest.approx((100 * low, 100 * high), rel=0.01)


def test_the_spans_of_torques_are_those_of_the_published_tables() -> None:
    """Least and greatest value of every thread over all tables that were read."""
    table = (
        Path(__file__).resolve().parents[3] / "shared" / "reference" / "screws" / "torque_nm.csv"
    )
    if not table.exists():
        pytest.skip("the reference tables are not beside the repository")
    values: dict[str, list[float]] = {}
    with table.open(encoding="utf-8") as file:
        for row in csv.DictReader(file):
            assert row["status"] == "read"
            values.setdefault(row["thread"], []).append(float(row["torque_nm"]) * 100)
    spans = {span.thread: (span.low_ncm, span.high_ncm) for span in TORQUE_SPANS.values()}
    assert set(spans) == set(values) | set(LARGER)
    for thread, read in values.items():
        assert spans[thread] == pytest.approx((min(read), max(read)))


@pytest.mark.parametrize("thread", [None, "", "ST2.9", "M7.3", "PT 3", "6-32"])
def test_a_thread_without_a_table_is_not_judged(thread: str | None) -> None:
    """What was not read is not known."""
    assert torque_span(thread) is None


def test_a_low_torque_into_plastic_is_right() -> None:
    """Only steel in steel is in the tables."""
    text = planted(
        planted(SOUND, "torque_ncm: 13", "torque_ncm: 4"), "into: metal", "into: plastic"
    )
    assert "torque_low" not in {f.code for f in audited(text)}

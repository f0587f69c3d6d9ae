"""Reading a good device file: every key and default lands where it belongs."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lastscrew.device.model import FLEXIBLE_KINDS, POWERED_KINDS, RIGID_KINDS, Access, Device
from lastscrew.device.names import joint_label, part_label
from lastscrew.device.reading import load_device, read_device

ALDER = (Path(__file__).parent / "alder.device.yaml").read_text(encoding="utf-8")

SMALL = """\
format: 1
device: {name: Small one}
parts: {box: {fixed: true}, lid: {}}
joints:
  lid_hold: {kind: latch, joins: [lid, box]}
"""


def small(joint: str = "", more: str = "") -> Device:
    """The small device with more keys on its joint and more sections."""
    return load_device(SMALL.replace("joins: [lid, box]", f"joins: [lid, box]{joint}") + more)


def test_the_example_is_read_whole() -> None:
    """The example of the format has eight joints and says what it says."""
    device = load_device(ALDER)
    assert (device.id, device.name, device.kind, device.revision) == (
        "alder_13",
        "Alder 13",
        "notebook",
        "B",
    )
    assert (device.sides, device.turn_ms, device.turn_given) == (("bottom", "top"), 6_000, True)
    assert list(device.joints) == [
        "cover_screws", "cover_clips", "pack_plug", "pack_screws",
        "sink_screws", "board_screws", "keys_clips", "keys_ribbon",
    ]  # fmt: skip
    assert device.fixed_part == "chassis"
    assert device.parts["pack"].energy
    assert device.parts["board"].identity
    assert device.parts["board"].functions == ("boots",)
    assert device.joints["sink_screws"].renew == {"compound": 0.3}
    assert device.joints["sink_screws"].positions_mm[2] == (30.0, 30.0)
    assert device.joints["cover_clips"].accesses == (Access("bottom", "pick", close_tool=None),)
    assert device.joints["keys_ribbon"].accesses == (
        Access("bottom", under=("cover", "pack")),
        Access("top", under=("keys",), open_ms=14_000, close_ms=20_000),
    )
    assert device.acts["discharge"].ms == 12_000
    assert not device.options["cell"].fitted
    assert device.spares["keys_set"].contains == ("keys",)


def test_what_is_left_out_has_its_default() -> None:
    """The shortest file: one side, five seconds to turn, one latch by hand, names made from ids."""
    device = load_device(SMALL)
    joint = device.joints["lid_hold"]
    assert device.id == "small_one"
    assert device.sides == ("top",)
    assert (device.turn_ms, device.turn_given) == (5_000, False)
    assert joint.accesses == (Access("top"),)
    assert (joint.count, joint.reuse, joint.order, joint.rigid, joint.powered) == (
        1,
        "reusable",
        "any",
        True,
        False,
    )
    assert device.parts["box"].name == "Box"
    device = small(more="tools: {pick: {}}\n")
    assert (device.tools["pick"].swap_ms, device.tools["pick"].swap_given) == (3_000, False)


@pytest.mark.parametrize("kind", [*RIGID_KINDS, *FLEXIBLE_KINDS])
def test_kinds_bring_rigidity_and_power(kind: str) -> None:
    """Each kind is rigid or flexible, and powered or not, unless the file says otherwise."""
    text = SMALL.replace("latch", kind)
    joint = load_device(text).joints["lid_hold"]
    assert joint.rigid == (kind in RIGID_KINDS)
    assert joint.powered == (kind in POWERED_KINDS)
    other = load_device(text.replace("kind:", "rigid: false, powered: false, kind:")).joints[
        "lid_hold"
    ]
    assert (other.rigid, other.powered) == (False, False)


def test_shutdown_is_neither_powered_nor_nothing() -> None:
    """``powered: shutdown`` needs no isolation but is known as such."""
    joint = small(", powered: shutdown").joints["lid_hold"]
    assert (joint.powered, joint.shutdown) == (False, True)


def test_unknown_takes_the_default_and_says_so() -> None:
    """Each value that may be unknown carries its default and is listed."""
    joint = small(
        ", count: unknown, fastener: unknown, side: unknown, tool: unknown, open_s: unknown, close_s: unknown"
    ).joints["lid_hold"]
    assert (joint.count, joint.fastener, joint.unknown) == (1, None, ("fastener", "count"))
    assert joint.accesses == (Access("top", unknown=("side", "tool", "open_s", "close_s")),)


def test_an_unknown_count_is_assumed_from_positions() -> None:
    """Where the count is unknown but positions are listed, as many are assumed."""
    joint = small(", count: unknown, positions_mm: [[1, 2], [3, 4]]").joints["lid_hold"]
    assert (joint.count, joint.unknown) == (2, ("count",))


def test_times_of_an_access_fall_back_on_the_joint() -> None:
    """An access without times has the joint's; ``unknown`` falls back too, and is listed."""
    text = (
        ", open_s: 4, close_s: unknown, access: [{}, {open_s: 2.5, close_s: 7}, {open_s: unknown}]"
    )
    accesses = small(text).joints["lid_hold"].accesses
    assert [a.open_ms for a in accesses] == [4_000, 2_500, 4_000]
    assert [a.close_ms for a in accesses] == [None, 7_000, None]
    assert [a.unknown for a in accesses] == [("close_s",), (), ("open_s", "close_s")]


def test_hand_means_no_tool() -> None:
    """``hand`` stands for none, for opening and for closing."""
    tools = "tools: {pick: {}}\n"
    assert small(", tool: hand", tools).joints["lid_hold"].accesses[0].tool is None
    access = small(", tool: pick", tools).joints["lid_hold"].accesses[0]
    assert (access.tool, access.close_tool) == ("pick", "pick")
    access = small(", tool: pick, close_tool: hand", tools).joints["lid_hold"].accesses[0]
    assert (access.tool, access.close_tool) == ("pick", None)


@given(st.integers(0, 86_400_000))
def test_seconds_are_exact(ms: int) -> None:
    """Every duration of whole milliseconds is read without loss, however it is written."""
    whole, rest = divmod(ms, 1_000)
    for text in (f"{whole}.{rest:03d}", f"{ms}e-3", f"+{whole}.{rest:03d}00"):
        assert small(f", open_s: {text}").joints["lid_hold"].accesses[0].open_ms == ms


def test_extensions_are_kept_anywhere_and_ignored() -> None:
    """Keys that begin with x_ are kept with their path and change nothing else."""
    device = load_device(
        SMALL.replace("{fixed: true}", "{fixed: true, x_colour: [grey, 7016]}")
        .replace("lid: {}", "lid: {}, x_spare: {nested: 1.5}")
        .replace("[lid, box]", "[lid, box], renew: {x_r: 1}, access: [{x_a: null}, {}]")
        + "x_top: {a: [true, null]}\n"
    )
    assert dict(device.extra) == {
        "parts.box.x_colour": ["grey", 7016],
        "parts.x_spare": {"nested": 1.5},
        "joints.lid_hold.renew.x_r": 1,
        "joints.lid_hold.access[0].x_a": None,
        "x_top": {"a": [True, None]},
    }
    assert list(device.parts) == ["box", "lid"]


def test_any_entry_may_carry_sources_and_an_earlier_id() -> None:
    """Sources and ``was`` are kept for entries of every section, of accesses by their index too."""
    device = small(
        ", sources: {kind: seen}, was: hold, access: [{sources: {side: drawing}}, {sources: {under: film}}]",
        "tools: {pick: {was: spudge, sources: {swap_s: timed}}}\n",
    )
    assert dict(device.joints["lid_hold"].sources) == {
        "kind": "seen",
        "access[0].side": "drawing",
        "access[1].under": "film",
    }
    assert device.joints["lid_hold"].was == "hold"
    assert device.tools["pick"].sources == {"swap_s": "timed"}
    assert device.extra["tools.pick.was"] == "spudge"


def test_a_frame_may_serve_all_sides() -> None:
    """One width and height serves every side."""
    text = SMALL.replace("{name: Small one}", "{name: Small one, frame_mm: [300, 210]}")
    device = load_device(text + "sides: [a, b]\n")
    assert device.frame_mm == {"a": (300.0, 210.0), "b": (300.0, 210.0)}


def test_codes_may_be_bare_numbers() -> None:
    """An order code or revision without quotes is taken as it is written, zeros and all."""
    text = SMALL.replace("lid: {}", "lid: {order_code: 00471}")
    device = load_device(text.replace("{name: Small one}", "{name: Small one, revision: 1.10}"))
    assert device.parts["lid"].order_code == "00471"
    assert device.revision == "1.10"


def test_yaml_1_2_is_meant() -> None:
    """``no`` and ``on`` are words, ``010`` is ten, ``0o17`` fifteen, ``1e1`` ten, a date is text."""
    device = load_device(SMALL.replace("lid: {}", "lid: {name: no, note: 2026-01-02}"))
    assert (device.parts["lid"].name, device.parts["lid"].note) == ("no", "2026-01-02")
    for text, count in (
        ("010", 10),
        ("0o17", 15),
        ("0x1F", 31),
        ("1e1", 10),
        ("5.0", 5),
        ("+7", 7),
    ):
        assert small(f", count: {text}").joints["lid_hold"].count == count
    warnings = read_device(SMALL.replace("[lid, box]", "[lid, box], count: 010")).warnings
    assert [(p.code, p.line, p.column) for p in warnings] == [("leading_zero", 5, 53)]


def test_an_act_that_names_a_joint_at_no_step_is_read_as_when_opened() -> None:
    """``joint`` beside ``at: end`` can only mean: when that joint was opened."""
    text = (
        SMALL
        + "acts: {look: {text: Look., at: end, joint: lid_hold, hold: true, evidence: photo}}\n"
    )
    result = read_device(text)
    assert [p.code for p in result.warnings] == ["act_joint"]
    assert result.device is not None
    act = result.device.acts["look"]
    assert (act.joint, act.when_opened, act.hold, act.evidence) == (
        None,
        ("lid_hold",),
        "Look.",
        ("photo",),
    )


def test_a_device_without_an_id_gets_one_from_its_name() -> None:
    """Accents fall away; a name in another script gets an id from its hash, the same every time."""
    named = {"Ärger & Söhne X-2": "arger_sohne_x_2", "13 Zoll": "n_13_zoll"}
    for name, made in named.items():
        assert load_device(SMALL.replace("Small one", name)).id == made
    first, second = (load_device(SMALL.replace("Small one", "カバー")).id for _ in range(2))
    assert first == second
    assert first.startswith("device_")


def test_json_is_a_device_file_too() -> None:
    """A file written as JSON, escapes for characters beyond the first plane included, is read."""
    text = """{"format": 1, "device": {"name": "Nut \\ud83d\\udd29 and bolt"},
    "parts": {"box": {"fixed": true}, "lid": {}}, "joints": {"j": {"kind": "latch", "joins": ["lid", "box"]}}}"""
    assert load_device(text).name == "Nut 🔩 and bolt"


def test_line_ends_and_a_byte_order_mark_do_not_matter() -> None:
    """The same file with CR LF, with CR, and with a byte order mark is the same device with the same places."""
    plain = load_device(SMALL)
    for text in (SMALL.replace("\n", "\r\n"), SMALL.replace("\n", "\r"), "\ufeff" + SMALL):
        assert load_device(text.encode()) == plain
        bad = read_device(text.replace("latch", "hatch").encode()).errors[0]
        assert (bad.line, bad.column) == (5, 20)


def test_a_result_tells_where_a_value_stands() -> None:
    """Findings made later can point at the file; what is not written is placed at what is above it."""
    result = read_device(ALDER)
    assert result.place("joints", "keys_ribbon", "access", 1, "open_s") == (42, 44)
    assert result.place("joints", "keys_ribbon", "count") == (37, 3)
    assert result.place("nowhere") == (1, 1)


def test_labels_are_names_or_made_from_ids() -> None:
    """A joint is called by its id as words, a part by its name; unknown ids as words too."""
    device = load_device(ALDER)
    assert joint_label(device, "cover_screws") == "Cover screws"
    assert part_label(device, "cover") == "Bottom cover"
    assert part_label(device, "no_such_part") == "No such part"


def test_empty_text_says_nothing() -> None:
    """An empty text where text may be left out is the same as leaving the key out."""
    assert load_device(SMALL.replace("lid: {}", 'lid: {note: "", order_code: ""}')) == load_device(
        SMALL
    )

"""Editing in place: one thing changes, everything else stays to the character."""

from __future__ import annotations

import difflib
from pathlib import Path
from random import Random
from typing import Any

import pytest

from lastscrew.device.document import Document
from lastscrew.device.emitting import flow_text
from lastscrew.device.reading import load_device
from lastscrew.problems import InputError

ROOT = Path(__file__).parent.parent.parent
ALDER = (Path(__file__).parent / "alder.device.yaml").read_text(encoding="utf-8")
DEMOS = sorted(ROOT.glob("src/lastscrew/demo/*.device.yaml"))

COMMENTED = """\
# A box.
format: 1          # the first
device:
  name: Box        # what people say
  # its kind
  kind: crate
parts:             # two
  box: {fixed: true, # stays
        note: "as # it is"}
  lid:
    name: Lid
    loses:
      # one
      - Clock      # the clock
      # two
      - Keys
joints:
  clip: {kind: clip, joins: [lid, box]}   # only one
  # nothing below
"""


def changed_lines(old: str, new: str) -> list[str]:
    """Lines taken out and put in."""
    lines = difflib.ndiff(old.splitlines(), new.splitlines())
    return [line for line in lines if line[0] in "+-"]


def test_a_round_without_edit_changes_nothing() -> None:
    """Text in, the same text out, comments, order, spacing and line ends included."""
    for text in (
        ALDER,
        COMMENTED,
        COMMENTED.replace("\n", "\r\n"),
        *(f.read_text(encoding="utf-8") for f in DEMOS),
    ):
        assert Document.parse(text).text() == text


@pytest.mark.parametrize(
    ("path", "value", "expected"),
    [
        ("device.name", "Crate", [
            "-   name: Box        # what people say",
            "+   name: Crate        # what people say",
        ]),
        ("device.note", "a: b", ['+   note: "a: b"']),
        ("joints.clip.count", 4, [
            "-   clip: {kind: clip, joins: [lid, box]}   # only one",
            "+   clip: {kind: clip, joins: [lid, box], count: 4}   # only one",
        ]),
        ("joints.clip.joins[1]", "lid_2", [
            "-   clip: {kind: clip, joins: [lid, box]}   # only one",
            "+   clip: {kind: clip, joins: [lid, lid_2]}   # only one",
        ]),
        ("parts.lid.loses[2]", "Pairing", ["+       - Pairing"]),
        ("parts.lid.loses[0]", "Time", ["-       - Clock      # the clock", "+       - Time      # the clock"]),
        ("parts.film", {"name": "Film"}, ["+   film: {name: Film}"]),
        ("parts.film.note", "thin", ["+   film: {note: thin}"]),
        ("turn_s", 4.5, ["+ turn_s: 4.5"]),
        ("parts.box.note", "new", ['-         note: "as # it is"}', "+         note: new}"]),
    ],
)  # fmt: skip
def test_an_edit_touches_its_own_line(path: str, value: Any, expected: list[str]) -> None:  # noqa: ANN401
    """Setting a value replaces or adds exactly one line; all comments stay."""
    document = Document.parse(COMMENTED)
    document.set(path, value)
    assert changed_lines(COMMENTED, document.text()) == expected
    assert document.get(path) == value


@pytest.mark.parametrize(
    ("path", "expected"),
    [
        ("device.kind", ["-   kind: crate"]),
        ("parts.lid.name", ["-     name: Lid"]),
        ("parts.lid.loses[1]", ["-       - Keys"]),
        ("parts.lid.loses[0]", ["-       - Clock      # the clock"]),
        ("joints.clip.joins[0]", [
            "-   clip: {kind: clip, joins: [lid, box]}   # only one",
            "+   clip: {kind: clip, joins: [box]}   # only one",
        ]),
        ("joints.clip.joins", [
            "-   clip: {kind: clip, joins: [lid, box]}   # only one", "+   clip: {kind: clip}   # only one",
        ]),
    ],
)  # fmt: skip
def test_a_removal_takes_its_own_line(path: str, expected: list[str]) -> None:
    """Removing takes the key or item and its line, and leaves the comments around it."""
    document = Document.parse(COMMENTED)
    document.remove(path)
    assert changed_lines(COMMENTED, document.text()) == expected
    with pytest.raises(KeyError):
        document.get(f"{path}.beyond")


def test_comments_and_order_survive_many_edits() -> None:
    """After random edits all over the demos every comment is there, in order, and the data are as meant."""
    for file in [*DEMOS, None]:
        text = COMMENTED if file is None else file.read_text(encoding="utf-8")
        random = Random(len(text))
        document = Document.parse(text)
        for _ in range(6):
            path = _random_path(random, document)
            value: Any = random.choice(
                [3, 0.25, True, "plain", "a: b # c", [1, "x"], {"k": ["v"]}, None]
            )
            document.set(path, value)
            assert document.get(path) == value
        assert _comments(document.text()) == _comments(text)


def _random_path(random: Random, document: Document) -> tuple[str | int, ...]:
    """A place two to four levels down: one that is there, or a new key beside it."""
    data, path = document.get(("joints",)), ["joints"]
    for _ in range(random.randint(1, 3)):
        if not isinstance(data, dict) or not data:
            break
        path.append(random.choice(list(data)))
        data = data[path[-1]]
    if isinstance(data, dict) or random.random() < 0.3:
        path = [*path[:-1], f"new_{random.randrange(99)}"] if len(path) > 1 else [*path, "new"]
    return tuple(path)


def _comments(text: str) -> list[str]:
    """What follows a # on lines without quotes, in order."""
    lines = [f" {line}" for line in text.splitlines() if '"' not in line]
    return [line.split(" # ", 1)[1] for line in lines if " # " in line]


def test_edits_of_random_data_say_what_was_meant() -> None:
    """On random YAML in block and brace style, set and remove give the data that plain Python gives."""
    for seed in range(400):
        random = Random(seed)
        data = {f"k{i}": _random_data(random, 3) for i in range(random.randint(1, 4))}
        document = Document.parse(_as_block(data, 0, random))
        assert document.get(("k0",)) == data["k0"]
        for _ in range(4):
            key = random.choice(
                [*list(document.get(("k0",)) if isinstance(data["k0"], dict) else data), "fresh"]
            )
            path = ("k0", key) if isinstance(data["k0"], dict) else (key,)
            value = _random_data(random, 2)
            if random.random() < 0.3 and key != "fresh" and len(path) == 2:
                document.remove(path)
                data["k0"].pop(key)
            else:
                document.set(path, value)
                place = data["k0"] if len(path) == 2 else data
                place[key] = value
            assert {k: document.get((k,)) for k in data} == data, seed
            if not isinstance(data["k0"], dict):
                break


def _random_data(random: Random, depth: int) -> Any:  # noqa: ANN401
    kind = random.randint(0, 5 if depth else 3)
    if kind == 4:
        return [_random_data(random, depth - 1) for _ in range(random.randint(0, 3))]
    if kind == 5:
        return {f"m{i}": _random_data(random, depth - 1) for i in range(random.randint(0, 3))}
    return [None, random.randint(0, 99), "some text", "odd: # 'text'"][kind]


def _as_block(data: dict[str, Any], indent: int, random: Random) -> str:
    """Data in block style here and braces there, with comments and odd spacing."""
    out = ""
    for key, value in data.items():
        if random.random() < 0.3:
            out += " " * indent + "# about " + key + "\n"
        if isinstance(value, dict) and value and random.random() < 0.7:
            out += " " * indent + f"{key}:\n" + _as_block(value, indent + 2, random)
        elif isinstance(value, list) and value and random.random() < 0.5:
            dash = indent + random.choice([0, 2])
            out += " " * indent + f"{key}:   # a list\n"
            out += "".join(" " * dash + f"-  {flow_text(item)}\n" for item in value)
        elif isinstance(value, str) and random.random() < 0.3:
            out += " " * indent + f"{key}: |-\n" + " " * (indent + 3) + value + "\n"
        elif value is None and random.random() < 0.5:
            out += " " * indent + f"{key}:\n"
        else:
            out += (
                " " * indent
                + f"{key}:  {flow_text(value)}"
                + random.choice(["", "   # said"])
                + "\n"
            )
    return out


def test_an_edited_device_file_still_reads() -> None:
    """A step of everyday work: a count corrected, a part added, a joint removed, and the file is valid."""
    document = Document.parse(ALDER)
    document.set("joints.cover_screws.count", 10)
    document.set("parts.fan", {"name": "Fan"})
    document.set(
        "joints.fan_clip", {"kind": "clip", "joins": ["fan", "chassis"], "under": ["cover"]}
    )
    document.remove("acts.discharge")
    device = load_device(document.text())
    assert device.joints["cover_screws"].count == 10
    assert list(device.joints)[-1] == "fan_clip"
    assert device.acts == {}
    assert document.read().device == device


def test_windows_line_ends_stay() -> None:
    """A line added to a file with CR LF ends with CR LF."""
    document = Document.parse(COMMENTED.replace("\n", "\r\n"))
    document.set("device.note", "x")
    assert document.text() == COMMENTED.replace(
        "kind: crate\n", "kind: crate\n  note: x\n"
    ).replace("\n", "\r\n")


def test_what_can_not_be_edited_says_so() -> None:
    """A path through a scalar, an index beyond the next one, a text with a key twice, a text that is no YAML."""
    document = Document.parse(COMMENTED)
    for path in ("device.name.first", "parts.lid.loses[5]", "format[0]", ""):
        with pytest.raises(KeyError):
            document.set(path, 1)
    with pytest.raises(KeyError):
        document.remove("parts.nothing")
    assert document.text() == COMMENTED
    for text in ("a: 1\na: 2\n", "a: [1"):
        with pytest.raises(InputError):
            Document.parse(text)

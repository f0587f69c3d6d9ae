"""Hostile and broken input: one clear message, bounded time and memory, never a crash."""

# ruff: noqa: E501 (tables)
from __future__ import annotations

import json
import resource
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from random import Random
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from ruamel.yaml import YAML

from lastscrew.device import reading
from lastscrew.device.emitting import flow_text
from lastscrew.device.nodes import MAX_DEPTH, Node, compose
from lastscrew.device.reading import MAX_ENTRIES, ReadResult, read_device
from lastscrew.device.source import MAX_BYTES, decode
from lastscrew.device.writing import write_device

ALDER = (Path(__file__).parent / "alder.device.yaml").read_text(encoding="utf-8")
HEAD = "format: 1\ndevice: {name: x}\nparts: {a: {fixed: true}, b: {}}\njoints:\n  j: {kind: latch, joins: [a, b]}\n"
LARGE = 250_000


def sound(result: ReadResult) -> ReadResult:
    """What holds for every result: a device or errors, and every problem has a message and a place in the text."""
    assert (result.device is None) == bool(result.errors)
    for problem in result.problems:
        assert problem.message
        assert problem.code
        assert "\n" not in problem.message
        json.dumps(problem.as_json(), ensure_ascii=False).encode("utf-8")
        if result.source is not None and problem.line is not None:
            assert 1 <= problem.line <= len(result.source.line_starts)
            assert problem.column is not None
            assert 1 <= problem.column <= len(result.source.line(problem.line)) + 2
    return result


SMALL = [
    ("nothing", "", "empty", "empty"),
    ("spaces", "  \n \n", "empty", "empty"),
    ("a comment", "# only this\n", "empty", "empty"),
    ("a list", "- format: 1\n", "wrong_type", "mapping"),
    ("a word", "device", "wrong_type", "mapping"),
    ("a list of keys", "[format, device]", "wrong_type", "mapping"),
    ("an open bracket", "format: [1", "yaml", "closed"),
    ("an open quote", 'format: "1', "yaml", "closed"),
    ("a tab", "device:\n\tname: x\n", "yaml", "tab"),
    ("two colons", "device: name: x\n", "yaml", "second colon"),
    ("a key without a value", "format: 1\ndevice\n", "yaml", "colon"),
    ("bad indentation", "device:\n  name: x\n kind: y\n", "yaml", "indentation"),
    ("a bad escape", 'device: "\\q"', "yaml", "escape"),
    ("an escape beyond Unicode", 'device: "\\U00110000"', "yaml", "YAML"),
    ("a percent sign", "%\n", "yaml", "YAML"),
    ("YAML 1.1", "%YAML 1.1\n---\nformat: 1\n", "yaml", "1.2"),
    ("a strange version", "%YAML 9999999999.2\n---\nformat: 1\n", "yaml", "version"),
    ("two documents", HEAD + "---\nformat: 1\n", "documents", "second document"),
    ("an anchor", HEAD + "x_a: &b 1\n", "anchor", "anchors"),
    ("an alias", HEAD + "x_a: *b\n", "anchor", "aliases"),
    ("an alias bomb", "a: &a [x, x]\nb: &b [*a, *a]\nc: &c [*b, *b]\nd: [*c, *c]\n", "anchor", "not allowed"),
    ("an alias into itself", "a: &a [*a]\n", "anchor", "not allowed"),
    ("a Python object", "a: !!python/object/apply:os.system [x]\n", "tag", "tags"),
    ("a binary", "a: !!binary aGVsbG8=\n", "tag", "tags"),
    ("a set", "a: !!set {b}\n", "tag", "tags"),
    ("a local tag", "a: !x 1\n", "tag", "tags"),
    ("a bare tag", "a: ! 1\n", "tag", "tags"),
    ("a merge key", "a: {<<: {b: 1}}\n", "unknown_key", "unknown key"),
    ("a control character", "a: \x07\n", "encoding", "control character"),
    ("a NUL", "a: \x00\n", "encoding", "NUL"),
    ("half of a pair", "a: \ud800\n", "encoding", "surrogate"),
    ("half of a pair, escaped", HEAD + 'x_a: "\\ud800"\n', "character", "surrogate"),
    ("text that runs backwards", HEAD + 'x_a: "\\u202e"\n', "character", "U+202E"),
    ("an escape sequence", HEAD + 'x_a: "\\e[2J"\n', "character", "U+001B"),
    ("infinity", HEAD + "turn_s: .inf\n", "out_of_range", "out of range"),
    ("no number", HEAD + "turn_s: .NaN\n", "out_of_range", "out of range"),
    ("1e999", HEAD + "turn_s: 1e999\n", "out_of_range", "out of range"),
    ("1e999999999999", HEAD + "turn_s: 1e999999999999\n", "out_of_range", "out of range"),
    ("1e-999999999999", HEAD + "turn_s: 1e-999999999999\n", "out_of_range", "out of range"),
    ("10 ** 400", HEAD + "turn_s: 1" + "0" * 400 + "\n", "out_of_range", "out of range"),
    ("a long hexadecimal", HEAD + "turn_s: 0x" + "f" * 400 + "\n", "out_of_range", "out of range"),
    ("1e999 in an extension", HEAD + "x_a: 1e999\n", "out_of_range", "finite"),
    (".nan in an extension", HEAD + "x_a: [.nan]\n", "out_of_range", "finite"),
    ("a sexagesimal", HEAD + "turn_s: 1:30\n", "wrong_type", "found"),
    ("a thousands sign", HEAD + "turn_s: 1_000\n", "wrong_type", "found"),
    ("a date", HEAD + "turn_s: 2026-01-01\n", "wrong_type", "found"),
    ("a look-alike letter", HEAD.replace("a: {fixed", "\u0430: {fixed"), "identifier", "cyrillic"),
    ("a full-width letter", HEAD.replace("a: {fixed", "\uff41: {fixed"), "identifier", "fullwidth"),
    ("a long id", HEAD.replace("a: {fixed", "a" * 81 + ": {fixed"), "identifier", "no id"),
    ("a long key", HEAD + "x_" + "a" * 201 + ": 1\n", "too_long", "characters"),
    ("a very long key", HEAD + "x_" + "a" * 2_000 + ": 1\n", "yaml", "colon"),
    ("a complex key", "? [a]\n: 1\n", "key", "name"),
    ("a null key", "null: 1\n", "key", "name"),
    ("an empty key", ": 1\n", "key", "name"),
    ("a key twice", "format: 1\nformat: 1\n", "duplicate_key", "twice"),
    ("a key twice in an extension", HEAD + "x_a: {b: 1, b: 2}\n", "key", "once"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("text", "code", "word"), [case[1:] for case in SMALL], ids=[case[0] for case in SMALL]
)
def test_small_traps(text: str, code: str, word: str) -> None:
    """Each trap gives an error of its kind that says what it is."""
    result = sound(read_device(text))
    assert result.device is None
    assert any(p.code == code and word in p.message for p in result.errors), [
        (p.code, p.message) for p in result.errors
    ]


@pytest.mark.parametrize(
    ("data", "word"),
    [
        (ALDER.encode("utf-16"), "UTF-16"),
        (ALDER.encode("utf-16-le"), "NUL"),
        (ALDER.encode("utf-32"), "UTF-32"),
        (ALDER.replace("Alder", "\xc4lder").encode("latin-1"), "0xC4"),
        (b"\x89PNG\r\n\x1a\n\x00\x00", "0x89"),
        (b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n", "0xE2"),
        (b"PK\x03\x04\x14\x00", "NUL"),
        (b"\xff\xfe", "UTF-16"),
        (b"\xed\xa0\x80", "0xED"),
        (b"\xc0\x80", "0xC0"),
    ],
)
def test_wrong_encodings(data: bytes, word: str) -> None:
    """Bytes that are no UTF-8 text are refused with what they look like."""
    result = sound(read_device(data))
    assert [p.code for p in result.errors] == ["encoding"]
    assert word in result.errors[0].message


def test_the_place_of_a_wrong_byte() -> None:
    """A Latin-1 letter is found at its line and column."""
    error = read_device(ALDER.replace("Heat sink", "K\xfchler").encode("latin-1")).errors[0]
    assert (error.line, error.column) == (24, 17)


def _large() -> Iterator[tuple[str, str]]:
    for name, unit in {
        "brackets": "[", "braces": "{", "dashes": "- ", "lines of dashes": "-\n", "questions": "? ", "colons": "a: ",
        "quotes": '"" ', "commas": ",", "spaces": " ", "newlines": "\n", "hashes": "#", "letters": "a", "bangs": "!",
        "stars": "*", "ampersands": "&", "percents": "%", "documents": "---\n", "anchors": "- &a 1\n", "tags": "- !!x 1\n",
        "one key": "k: 1\n", "carriage returns": "\r", "marks": "\ufeff", "tabs": "\t", "bars": "|", "empty pairs": "{}: ",
    }.items():  # fmt: skip
        yield name, unit * (LARGE // len(unit))
    yield "a deep block", "".join(" " * depth + "a:\n" for depth in range(1_000))
    yield "a flat list", "[" + "[]," * (LARGE // 3) + "]"
    yield "a long quote", '"' + "\\n" * (LARGE // 2) + '"'
    yield "a literal", "a: |\n" + " x\n" * (LARGE // 3)
    yield "a folded text", "a: x\n" + " x\n" * (LARGE // 3)
    yield "a long tag", "a: !" + "x" * LARGE
    yield "a long number", f"{HEAD}turn_s: {'9' * LARGE}\n"
    yield "a long name", f"{HEAD}{'a' * 900}: 1\n" * 600


LARGE_CASES = list(_large())


@pytest.mark.parametrize(
    "text", [case[1] for case in LARGE_CASES], ids=[case[0] for case in LARGE_CASES]
)
def test_large_traps_end_soon(text: str) -> None:
    """A quarter of a megabyte of one thing is refused within seconds (processor time), with few messages."""
    start = time.process_time()
    result = sound(read_device(text))
    assert result.device is None
    assert len(result.problems) <= 1_001
    assert time.process_time() - start < 15


def test_too_deep_and_just_deep_enough() -> None:
    """The bound on nesting is exact: one level less is read."""
    deep = MAX_DEPTH - 1
    assert sound(read_device(f"{HEAD}x_a: {'[' * deep}{']' * deep}\n")).device is not None
    errors = sound(read_device(f"{HEAD}x_a: {'[' * (deep + 1)}{']' * (deep + 1)}\n")).errors
    assert [p.code for p in errors] == ["too_deep"]


def test_too_large_is_one_message() -> None:
    """A file over the limit is refused before it is looked at."""
    for data in (b"a" * (MAX_BYTES + 1), "a" * (MAX_BYTES + 1)):
        assert [p.code for p in sound(read_device(data)).problems] == ["too_large"]


def test_ten_thousand_joints_are_read() -> None:
    """The largest section that is allowed is read in bounded time; one entry more is one clear message."""
    start = time.process_time()
    lines = "".join(f"  j{i}: {{kind: clip, joins: [a, b]}}\n" for i in range(MAX_ENTRIES - 1))
    result = sound(read_device(HEAD + lines))
    assert result.device is not None
    assert len(result.device.joints) == MAX_ENTRIES
    assert time.process_time() - start < 30
    options = "".join(f"  o{i}: {{}}\n" for i in range(MAX_ENTRIES + 1))
    errors = sound(read_device(f"{HEAD}options:\n{options}")).errors
    assert [p.code for p in errors] == ["too_large"]


@pytest.mark.parametrize(
    "joint",
    [
        "kind: clip, joins: [a, c]",
        "kind: clip, joins: [a, b], after: [j999]",
        "kind: clip, joins: [a, b], aftre: []",
        "kind: clip, joins: [a, b], under: [b], rigid: true",
        "kind: clip, joins: [a, b], access: [{under: [a]}, {under: [b]}]",
    ],
)
def test_thousands_of_like_slips_end_soon(joint: str) -> None:
    """A slip that stands two thousand times does not take long to explain."""
    start = time.process_time()
    sound(read_device(HEAD + "".join(f"  j{i}: {{{joint}}}\n" for i in range(2_000))))
    assert time.process_time() - start < 20


INTERESTING = [
    b"{", b"}", b"[", b"]", b":", b": ", b",", b"\n", b"\n\n", b"  ", b"\t", b"#", b"'", b'"', b"&a ", b"*a", b"!!x ", b"|\n", b">\n",
    b"---\n", b"...\n", b"? ", b"- ", b"null", b"true", b"~", b"1e999", b"-1", b"0x", b".nan", b"\x00", b"\xff", b"\xed\xa0\x80",
    "\u202e".encode(), "\u2028".encode(), "é".encode(), b"\\", b'"\\ud800"', b"x_", b"unknown", b"hand", b"<<", b"%", b"@", b"`",
    b"joints", b"under: [cover]", b"after: [pack_plug]", b"fixed: true", b"isolates: true", b"rigid: false",
]  # fmt: skip


@pytest.mark.parametrize("start", range(0, 600, 100))
def test_damaged_bytes_never_crash(start: int) -> None:
    """Six hundred randomly damaged copies of the example, by fixed seeds: a device or errors, each time."""
    good = ALDER.encode()
    for seed in range(start, start + 100):
        random = Random(seed)
        data = bytearray(good)
        for _ in range(random.choice([1, 1, 2, 5, 20])):
            _damage(random, data)
        result = sound(read_device(bytes(data)))
        if result.device is not None:
            assert read_device(write_device(result.device)).device == result.device, seed


def _damage(random: Random, data: bytearray) -> None:
    at = random.randrange(len(data) + 1)
    length = random.randint(1, 30)
    match random.randrange(5):
        case 0:
            data[at : at + 1] = bytes([random.randrange(256)])
        case 1:
            del data[at : at + length]
        case 2:
            data[at:at] = random.choice(INTERESTING)
        case 3:
            data[at : at + length] = random.choice(INTERESTING)
        case _:
            other = random.randrange(len(data) + 1)
            data[at:at] = data[other : other + length]


JUNK: list[Any] = [
    None, True, 0, -1, 1.5, 10**14, 0.0001, "", "x", "unknown", "hand", "\n", "shutdown", [], [[]], [None], ["cover"], {}, {"": 1},
    {"x_a": 1}, {"cover": "pack"}, [["a", "b"]], [[1, 2]], [1, 2], "pack_plug", ["pack_plug"], {"compound": 1}, {"pack": 0.5},
]  # fmt: skip


def test_wrong_values_anywhere_never_crash(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every value of the example in turn is exchanged for every kind of junk: a device or errors, each time.

    The junk is read once, below the example, and hung into the tree; damaged text is another test's matter.
    """
    text = f"{ALDER}x_junk: {flow_text(JUNK)}\n"
    root = compose(decode(text, "junk"))
    _, junk = root.pairs.pop()
    monkeypatch.setattr(reading, "compose", lambda _: root)
    assert sound(read_device(text)).device is not None
    data = YAML(typ="safe", pure=True).load(ALDER)
    random = Random(7)
    refused = 0
    for path in random.sample(list(_paths(data, ())), 80):
        above = root
        for step in path[:-1]:
            above = _below(above, step)
        for node in random.sample(junk.items, 8):
            with _exchanged(above, path[-1], node):
                refused += sound(read_device(text)).device is None
    assert refused > 400


def _below(node: Node, step: str | int) -> Node:
    if node.shape == "list":
        return node.items[int(step)]
    return next(value for key, value in node.pairs if key.text == str(step))


@contextmanager
def _exchanged(above: Node, step: Any, other: Node) -> Iterator[None]:  # noqa: ANN401
    """Another node in the place of one, for a while."""
    if above.shape == "list":
        kept, above.items[step] = above.items[step], other
        yield
        above.items[step] = kept
        return
    at = next(n for n, (key, _) in enumerate(above.pairs) if key.text == str(step))
    pair, above.pairs[at] = above.pairs[at], (above.pairs[at][0], other)
    yield
    above.pairs[at] = pair


def _paths(data: Any, above: tuple[Any, ...]) -> Iterator[tuple[Any, ...]]:  # noqa: ANN401
    steps = (
        data.items()
        if isinstance(data, dict)
        else enumerate(data)
        if isinstance(data, list)
        else ()
    )
    for step, below in steps:
        yield (*above, step)
        yield from _paths(below, (*above, step))


@given(st.text(max_size=200))
def test_any_text(text: str) -> None:
    """Any text at all is answered."""
    sound(read_device(text))
    sound(read_device(f"{HEAD}x_a: {text}\n"))


@given(st.binary(max_size=200))
def test_any_bytes(data: bytes) -> None:
    """Any bytes at all are answered."""
    sound(read_device(data))


YAMLISH = st.lists(
    st.sampled_from(
        [item.decode("utf-8", "replace") for item in INTERESTING]
        + ["format: 1\n", "device: {name: x}\n", "parts:\n"]
    ),
    max_size=30,
).map("".join)


@given(YAMLISH)
@settings(max_examples=300)
def test_anything_that_looks_like_yaml(text: str) -> None:
    """Any mixture of signs that mean something in YAML is answered."""
    sound(read_device(text))
    sound(read_device(HEAD + text))


def test_fifty_megabytes_in_little_memory(tmp_path: Path) -> None:
    """The program refuses a file of 50 MB without reading it: within 400 MB of address space, in seconds."""
    file = tmp_path / "huge.device.yaml"
    with file.open("wb") as out:
        for _ in range(50):
            out.write(b"a: 1 # \n" * 125_000)

    def limited() -> None:
        resource.setrlimit(resource.RLIMIT_AS, (400 * 1024**2, 400 * 1024**2))

    done = subprocess.run(
        [sys.executable, "-m", "lastscrew", "check", "--json", str(file)],
        capture_output=True, timeout=60, check=False, preexec_fn=limited,
    )  # fmt: skip
    assert done.returncode == 2
    assert [p["code"] for p in json.loads(done.stdout)["errors"]] == ["too_large"]
    assert done.stderr == b""

"""What is kept as it is (extensions, sections of other packages), and which texts are clean."""

from __future__ import annotations

from typing import Final

from lastscrew.device import scalars
from lastscrew.device.names import Path, shown
from lastscrew.device.nodes import Node
from lastscrew.device.notes import Notes
from lastscrew.device.types import MAX_NAME
from lastscrew.saying import say

DIRECTION_CHARACTERS: Final = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
"""Characters that change the direction of what follows, so that a text can show something else than it is."""


def raw(notes: Notes, node: Node, path: Path) -> object:
    """Plain data of a node that is kept but not read: dict, list, str, int, float, bool, None."""
    if node.shape == "list":
        return [raw(notes, item, (*path, index)) for index, item in enumerate(node.items)]
    if node.shape == "map":
        data: dict[str, object] = {}
        for key, value in node.pairs:
            if not is_clean_key(notes, key, path):
                continue
            if key.shape != "scalar" or key.text in data:
                notes.add(
                    path,
                    say("a key must be a name that stands here once"),
                    say("Write `key: value`."),
                    code="key",
                    at=key,
                )
                continue
            data[key.text] = raw(notes, value, (*path, key.text))
        return data
    return _raw_scalar(notes, node, path)


def is_clean_key(notes: Notes, key: Node, path: Path) -> bool:
    """Whether a key is of bearable length and has no character that hides something; notes it if not."""
    if len(key.text) > MAX_NAME:
        notes.add(
            path,
            say("a key of {n} characters", n=f"{len(key.text):,}"),
            say("Keep keys to {most}.", most=MAX_NAME),
            code="too_long",
            at=key,
        )
        return False
    return clean_text(notes, key, path) is not None


def _raw_scalar(notes: Notes, node: Node, path: Path) -> object:
    kind = scalars.kind_of(node)
    if kind == "null":
        return None
    if kind == "flag":
        return scalars.flag(node)
    if kind == "number":
        exact = scalars.number(node)
        if exact is not None:
            value = float(exact)
            if exact == exact.to_integral_value() and abs(exact) < 10**15:
                return int(exact)
            if abs(value) != float("inf"):
                return value
    if kind in ("number", "not_finite"):
        notes.add(
            path,
            say("{text} is no finite number of bearable length", text=shown(node.text)),
            say("Put it in quotes."),
            code="out_of_range",
            at=node,
        )
        return None
    return clean_text(notes, node, path)


def clean_text(notes: Notes, node: Node, path: Path) -> str | None:
    """Text of a scalar; None, with a note, where it holds control or direction characters."""
    text = node.text
    if text.isascii() and text.isprintable():
        return text
    if any("\ud800" <= char <= "\udfff" for char in text):
        try:
            text = text.encode("utf-16", "surrogatepass").decode("utf-16")
        except UnicodeDecodeError:
            notes.add(
                path,
                say("half of a surrogate pair is no character"),
                say("Write the character itself."),
                code="character",
                at=node,
            )
            return None
    for char in text:
        if (
            char in DIRECTION_CHARACTERS
            or (ord(char) < 32 and char not in "\n\t")
            or 127 <= ord(char) < 160
        ):
            notes.add(
                path,
                say(
                    "the invisible character U+{code} is not allowed in text",
                    code=f"{ord(char):04X}",
                ),
                say("Remove it."),
                code="character",
                at=node,
            )
            return None
    return text

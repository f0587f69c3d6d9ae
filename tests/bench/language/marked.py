"""A language for tests in which every text of the catalogue stands in ⟦brackets⟧, and what is left outside of them."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import fields, is_dataclass
from functools import cache
from html.parser import HTMLParser
from typing import Any

from django.utils.translation import trans_real

from lastscrew.device.model import Device
from tools.texts import texts

PLACES = re.compile(r"(%\(\w+\)[sd]|%[sd]|\{\w+\})")
IN_BRACKETS = re.compile(r"⟦[^⟧]*(?:⟧|$)|^[^⟦]*⟧")
"""A text that is broken into lines, or in which a name is set off, may begin or end in the middle of a form."""
CONTEXT = "\x04"
SHOWN = ("aria-label", "title", "placeholder", "alt", "label", "data-empty")
UNSEEN = frozenset({"script", "style", "template"})


def in_brackets(form: str) -> str:
    """A form with all of its own words in brackets; what is put into its places stays outside."""
    pieces = PLACES.split(form)
    return "".join(
        piece if n % 2 or not piece.strip() else f"⟦{piece}⟧" for n, piece in enumerate(pieces)
    )


@cache
def _known() -> frozenset[str]:
    """Every text of ours; to find them, all sources are read."""
    return frozenset(text for one, many, _ in texts() for text in (one, many) if text)


class Marked:
    """Takes the place of a language in Django."""

    def __init__(self, language: str) -> None:
        self._language = language
        self._own = trans_real.translation(language)
        self._known = _known()

    def gettext(self, message: str) -> str:
        text = message.rpartition(CONTEXT)[2]
        if text in self._known:
            return in_brackets(text)
        found: str = self._own.gettext(message)
        # Django's own words, the names of months for one, are in its own catalogue.
        return found if found == message else in_brackets(found)

    def ngettext(self, one: str, many: str, number: int) -> str:
        return self.gettext(one if number == 1 else many)

    def to_language(self) -> str:
        return self._language

    def language(self) -> str:
        return self._language


class _Seen(HTMLParser):
    """The texts of a page that a person sees or hears."""

    def __init__(self) -> None:
        super().__init__()
        self.texts: list[str] = []
        self._unseen = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self._unseen += tag in UNSEEN
        self.texts += [value for key, value in attrs if key in SHOWN and value]

    def handle_endtag(self, tag: str) -> None:
        self._unseen -= tag in UNSEEN

    def handle_data(self, data: str) -> None:
        if not self._unseen and data.strip():
            self.texts.append(data.strip())


def seen(page: str) -> list[str]:
    """Texts of a page, and its attributes that are read out."""
    parser = _Seen()
    parser.feed(page)
    return parser.texts


def said(value: object, keys: frozenset[str], *, inside: bool = False) -> Iterator[str]:
    """Texts of a JSON value below certain keys."""
    if isinstance(value, str) and inside:
        yield value
    elif isinstance(value, Mapping):
        for key, each in value.items():
            yield from said(each, keys, inside=inside or key in keys)
    elif isinstance(value, list):
        for each in value:
            yield from said(each, keys, inside=inside)


def words_of(device: Device) -> set[str]:
    """Everything that a device file says in its own words."""
    return set(_strings(device, ""))


NO_WORDS = frozenset({
    "kind", "side", "sides", "signal", "at", "order", "into", "reuse", "hold_by", "power",
})  # fmt: skip
"""Keys whose values are ours: their words are told, so that they may not stand there as they are."""


def _strings(value: Any, key: str) -> Iterator[str]:  # noqa: ANN401 - anything that a device holds
    if isinstance(value, str):
        if value and key not in NO_WORDS:
            spoken = value.replace("_", " ")
            yield from (value, spoken, spoken.capitalize(), value.rstrip("."))
    elif is_dataclass(value):
        for each in fields(value):
            # What a device is ("notebook") is its file's own word; what a joint is, is not.
            name = "what" if (key, each.name) == ("", "kind") else each.name
            yield from _strings(getattr(value, each.name), name)
    elif isinstance(value, Mapping):
        if key == "washers":
            yield from _strings(list(value), key)
        yield from _strings(list(value.values()), key)
    elif isinstance(value, tuple | list | set | frozenset):
        for each in value:
            yield from _strings(each, key)


def left_over(shown: Iterable[str], permitted: Iterable[str]) -> set[str]:
    """What stands outside of the brackets and is none of the permitted phrases."""
    phrases = sorted(
        {p for p in permitted if re.search(r"[A-Za-z]{2}", p)}, key=lambda p: (-len(p), p)
    )
    known = re.compile("|".join(rf"(?<!\w){re.escape(p)}(?!\w)" for p in phrases))
    found = set()
    for text in shown:
        for rest in IN_BRACKETS.split(text):
            cut = rest.strip().removesuffix("…")
            if cut != rest.strip() and any(phrase.startswith(cut) for phrase in phrases):
                continue  # a name for which there was no room
            if re.search(r"[A-Za-z]{2}", known.sub("", rest)):
                found.add(rest.strip())
    return found

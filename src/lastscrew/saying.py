"""Sentences that can be told in another language.

A sentence made by :func:`say` *is* its English text, a plain ``str`` to whoever compares, prints or stores it. It
also remembers the form that it was made from and what was put into it, so that whoever shows it to a person can
tell it in that person's language::

    say("{part} was exchanged", part="Fan")      # "Fan was exchanged"
    say("{n} clip", "{n} clips", n=3)            # one form for one, one for several

Names from a device file stay as they are; values that were said themselves are told as well. What makes a new text
out of an old one (an f-string, ``join``, ``+``) forgets how it was made: use :func:`say` and :func:`joined`.

Nothing is translated here. A :class:`Voice` does that; :func:`speaking` puts one in force for as long as something is
drawn or written for a person, and :func:`told` asks it. Without one everything is told as it is, in English.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from html import escape
from typing import Protocol

_PLACE = re.compile(r"\{(\w+)\}")


class Voice(Protocol):
    """Who tells a sentence in some language."""

    def form(self, one: str, many: str, count: int, context: str) -> str:
        """The form of a sentence in that language, with the same places in braces.

        Args:
            one: The English form, for one.
            many: The English form for several; empty where there is one form only.
            count: How many.
            context: What the words are about, where the English ones could mean several things; else empty.
        """

    def number(self, value: float) -> str:
        """A number as that language writes it."""


class Said(str):
    """A sentence that remembers how it was made: :func:`say` and :func:`joined` make them."""

    __slots__ = ()

    def told_by(self, voice: Voice) -> str:
        """The sentence as a voice tells it."""
        raise NotImplementedError

    def each(self, change: Callable[[str], str]) -> str:
        """The same sentence with every name and text in it changed, the words of its form as they are."""
        raise NotImplementedError

    def __html__(self) -> str:
        """For a page: told by the voice in force, and escaped."""
        return escape(told(self))

    def __copy__(self) -> Said:
        """Itself: it never changes."""
        return self

    def __deepcopy__(self, _memo: object) -> Said:
        """Itself: it never changes."""
        return self

    def __reduce__(self) -> tuple[type[str], tuple[str]]:
        """Stored and sent elsewhere it is its English text."""
        return str, (str(self),)


class _Sentence(Said):
    """A form with values in its places."""

    __slots__ = ("context", "many", "number", "one", "values")
    one: str
    many: str
    number: int
    context: str
    values: Mapping[str, object]

    def told_by(self, voice: Voice) -> str:
        form = voice.form(self.one, self.many, self.number, self.context)
        return _filled(form, self.values, lambda value: _told(value, voice))

    def each(self, change: Callable[[str], str]) -> str:
        values = {key: _changed(value, change) for key, value in self.values.items()}
        return _sentence(self.one, self.many, self.number, self.context, values)


class _Row(Said):
    """Texts one behind the other."""

    __slots__ = ("by", "texts")
    by: str
    texts: tuple[str, ...]

    def told_by(self, voice: Voice) -> str:
        return self.by.join(_told(text, voice) for text in self.texts)

    def each(self, change: Callable[[str], str]) -> str:
        return joined(self.by, (changed(text, change) for text in self.texts))


def say(one: str, many: str = "", /, **values: object) -> Said:
    """A sentence.

    Args:
        one: Its English form, with places as ``{name}``. It is collected for translation: write it out here.
        many: The form for several; ``n`` among the values decides.
        **values: What stands in the places. Numbers that are not whole are written as short as they can be.
            ``context``: what the words are about, where English says two things in the same words.
    """
    number = values.get("n", 1)
    context = str(values.pop("context", ""))
    kept = {
        key: each if isinstance(each, (str, int, float)) else str(each)
        for key, each in values.items()
    }
    return _sentence(one, many, number if isinstance(number, int) else 2, context, kept)


def joined(by: str, texts: Iterable[str]) -> str:
    """Texts one behind the other; ``by`` (``", "``) is the same in every language."""
    several = tuple(texts)
    if not any(isinstance(text, Said) for text in several):
        return by.join(several)
    made = _Row(by.join(several))
    made.by, made.texts = by, several
    return made


def changed(text: str, change: Callable[[str], str]) -> str:
    """A text with ``change`` done to the names in it (to all of it where it is a plain text)."""
    return text.each(change) if isinstance(text, Said) else change(text)


def told(text: str) -> str:
    """The text as the voice in force tells it; as it is where there is none, or where it was not said."""
    voice = _VOICE.get()
    if voice is None or not isinstance(text, Said):
        return str(text)
    return text.told_by(voice)


@contextmanager
def speaking(voice: Voice | None) -> Iterator[None]:
    """Put a voice in force for what is told inside."""
    token = _VOICE.set(voice)
    try:
        yield
    finally:
        _VOICE.reset(token)


_VOICE: ContextVar[Voice | None] = ContextVar("voice", default=None)


def _sentence(
    one: str, many: str, number: int, context: str, values: Mapping[str, object]
) -> _Sentence:
    form = many if many and number != 1 else one
    made = _Sentence(_filled(form, values, _shown) if values else form)
    made.one, made.many, made.number, made.context, made.values = one, many, number, context, values
    return made


def _filled(form: str, values: Mapping[str, object], show: Callable[[object], str]) -> str:
    if not values:
        return form
    return _PLACE.sub(lambda place: show(values[place[1]]), form)


def _shown(value: object) -> str:
    return f"{value:g}" if isinstance(value, float) else str(value)


def _told(value: object, voice: Voice) -> str:
    if isinstance(value, Said):
        return value.told_by(voice)
    return voice.number(value) if isinstance(value, float) else str(value)


def _changed(value: object, change: Callable[[str], str]) -> object:
    return changed(value, change) if isinstance(value, str) else value

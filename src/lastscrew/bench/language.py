"""Sentences in the language of whoever asks: the voice of :mod:`lastscrew.saying` that looks into the catalogue."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Final

from django.http import HttpRequest
from django.http.response import HttpResponseBase
from django.utils.formats import get_format
from django.utils.translation import gettext, ngettext, npgettext, pgettext

from lastscrew.saying import speaking, told


class CatalogueVoice:
    """Tells a sentence in the language of the request."""

    def form(self, one: str, many: str, count: int, context: str) -> str:
        """The form of the catalogue, the English one where it has none."""
        if many:
            return npgettext(context, one, many, count) if context else ngettext(one, many, count)
        return pgettext(context, one) if context else gettext(one)

    def number(self, value: float) -> str:
        """With the language's own decimal sign."""
        return f"{value:g}".replace(".", get_format("DECIMAL_SEPARATOR"))


VOICE: Final = CatalogueVoice()


class Telling:
    """Whatever is shown while a request is answered is told in its language. Behind ``LocaleMiddleware``."""

    def __init__(self, answer: Callable[[HttpRequest], HttpResponseBase]) -> None:
        """Keep what answers."""
        self._answer = answer

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        """Answer, with the voice in force."""
        with speaking(VOICE):
            return self._answer(request)


def all_told(value: object) -> object:
    """A value of lists and mappings as it goes out as JSON, every sentence in it told."""
    if isinstance(value, str):
        return told(value)
    if isinstance(value, Mapping):
        return {key: all_told(each) for key, each in value.items()}
    if isinstance(value, list | tuple):
        return [all_told(each) for each in value]
    return value

"""What the templates of the depot's pages need: words for values, moments, names set off, problems at fields."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from datetime import UTC, datetime

from django import template
from django.utils.formats import date_format, get_format
from django.utils.html import escape, format_html
from django.utils.safestring import SafeString, mark_safe

from lastscrew.bench.depot import event_words, taking_in
from lastscrew.bench.depot.small_v import SmallV, draw, to_markup
from lastscrew.bench.models import Unit
from lastscrew.paper.look import SIGNAL_LOOKS
from lastscrew.plan.wording import side_name
from lastscrew.problems import Problem
from lastscrew.saying import told

register = template.Library()

_MARKED = re.compile(r"\*([^*]+)\*")
_WORDS: Mapping[str, Mapping[str, object]] = {
    "pack": taking_in.PACK_WORDS,
    "test": taking_in.TEST_WORDS,
    "agreed": taking_in.AGREED_WORDS,
    "hazard": taking_in.HAZARD_WORDS,
    "outcome": event_words.OUTCOME_WORDS,
    "check": {
        **event_words.CHECK_WORDS,
        "open": event_words.OPEN_WORD,
        "waived": event_words.WAIVED_WORD,
    },
    "line": event_words.LINE_WORDS,
    "custody": event_words.CUSTODY_WORDS,
    "stage": dict(Unit.Stage.choices),
    "left": event_words.LEFT_WORDS,
    "pack_left": event_words.PACK_LEFT_WORDS,
    "pieces_left": event_words.PIECES_WORDS,
}


@register.filter
def words_for(value: object, kind: str) -> object:
    """The words for a value of some kind; the value itself where there are none."""
    return _WORDS[kind].get(str(value), value)


@register.filter
def marked(text: object) -> SafeString:
    """A sentence in which ``*names*`` are set off."""
    words = told(text) if isinstance(text, str) else str(text)
    # Escaped before anything else: names come from files of strangers.
    return mark_safe(_MARKED.sub(r"<b>\1</b>", escape(words)))  # noqa: S308


@register.filter
def side(name: str) -> str:
    """A side of the machine as people call it."""
    return told(side_name(name))


@register.filter
def signal_word(signal: str) -> str:
    """A signal word as the standard has it, in the language of the page."""
    return told(SIGNAL_LOOKS[signal].word) if signal in SIGNAL_LOOKS else signal


def _moment(ms: object) -> datetime | None:
    return datetime.fromtimestamp(int(str(ms)) / 1000, UTC) if ms else None


@register.filter
def moment(ms: object) -> str | SafeString:
    """Milliseconds as a moment in UTC; a script turns it into the time of the place where it is read."""
    at = _moment(ms)
    if at is None:
        return "–"
    shown = f"{at:%Y-%m-%d %H:%M}"
    return format_html('<time datetime="{}" data-local>{}</time>', at.isoformat(), shown)


@register.filter
def day(ms: object) -> str | SafeString:
    """Milliseconds as a day."""
    at = _moment(ms)
    if at is None:
        return "–"
    return format_html('<time datetime="{}">{}</time>', f"{at:%Y-%m-%d}", date_format(at, "j M Y"))


@register.filter
def taken(ms: object) -> str:
    """Milliseconds of work as ``42 min``, ``1 h 05``, ``50 s``; never false decimals."""
    seconds = int(str(ms or 0)) // 1000
    if seconds < 90:
        return f"{seconds} s"
    minutes = (seconds + 30) // 60
    return f"{minutes} min" if minutes < 120 else f"{minutes // 60} h {minutes % 60:02d}"


@register.filter
def taken_to(low: object, high: object) -> str:
    """A range of work: ``16 – 23 min``, or one time where both are the same."""
    first, last = taken(low), taken(high)
    return first if first == last else f"{first} – {last}"


@register.filter
def amount(value: object) -> str:
    """A number with the decimals that it has, and no more: ``0.3``, ``12``."""
    return f"{float(str(value)):.10g}".replace(".", get_format("DECIMAL_SEPARATOR"))


@register.filter
def spoken(names: Iterable[str]) -> str:
    """Ids as people say them: ``rear camera, fan``."""
    return ", ".join(name.replace("_", " ") for name in names)


@register.simple_tag
def small_v(v: SmallV) -> SafeString:
    """The small V."""
    return mark_safe(to_markup(draw(v)))  # noqa: S308 - a tree of elements, escaped by construction


@register.filter
def at_field(problems: Iterable[Problem], name: str) -> list[Problem]:
    """The problems of one field."""
    return [problem for problem in problems if problem.path == name]


@register.filter
def value_of(form: Mapping[str, str], name: str) -> str:
    """What a form says in a field."""
    return form.get(name, "")

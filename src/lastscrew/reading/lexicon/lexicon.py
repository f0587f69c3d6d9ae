"""Loading the word lists and answering what a word is.

A reader's own words come as one TOML text with any of the tables ``verbs``, ``nouns``, ``words`` and
``headings``, shaped like the files beside this module; lists are added to, entries replaced.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from functools import lru_cache
from importlib import resources
from typing import Any, Literal

from lastscrew.problems import InputError, Problem
from lastscrew.reading.lexicon.morphology import is_designator, is_socket, noun_singular, verb_forms
from lastscrew.reading.model import CLASSES

VerbForm = Literal["base", "s", "ing", "past"]
_FILE = re.compile(
    r"\w\.(?:nc|g|gcode|py|sh|exe|bin|hex|ino|uf2|img|iso|cfg|conf|json|ya?ml|md|pdf|zip|stl)$"
)
_PULLING = ("pull", "pry", "lift", "push", "pop", "flip")
_INNER_CLASSES = (*CLASSES, "lock", "place", "slide_cable")
"""Classes that the context still has to decide are allowed inside the files."""


@dataclass(frozen=True, slots=True)
class Verb:
    """One entry of ``verbs.toml``; see the head of that file."""

    name: str
    klass: str
    on: Mapping[str, str]
    refit: str
    refit_on: Mapping[str, str]
    inherited: Mapping[str, str]
    noun: bool
    weak: bool

    def class_of(self, category: str, *, refitting: bool) -> str:
        """Class of the action on an object of ``category``, before the context decides."""
        if refitting and category in self.refit_on:
            return self.refit_on[category]
        if category in self.on:
            return self.on[category]
        if category in self.inherited and category in (
            "lock",
            "clip",
            "button",
            "connector",
            "film",
            "tie",
        ):
            return self.inherited[category]
        return self.refit if refitting and self.refit else self.klass


@dataclass(frozen=True, eq=False)
class Lexicon:
    """All word lists, as sets and maps."""

    verbs: Mapping[str, Verb]
    forms: Mapping[str, tuple[tuple[str, VerbForm], ...]]
    categories: Mapping[str, str]
    compounds: Mapping[str, str]
    words: Mapping[str, frozenset[str]]
    phrases: Mapping[str, tuple[str, ...]]
    numbers: Mapping[str, int]
    number_slips: Mapping[str, int]
    slips: Mapping[str, str]
    drives: Mapping[str, str]
    cautions: Mapping[str, str]
    headings: Mapping[str, frozenset[str]]

    def verb_of(self, word: str, *forms: VerbForm) -> str:
        """Lemma of ``word`` where it is one of ``forms`` of a verb, else ``""``."""
        for lemma, form in self.forms.get(word, ()):
            if form in forms:
                return lemma
        return ""

    def is_noun(self, word: str) -> bool:
        """True where the word, or its singular, is a noun of the lexicon."""
        return word in self.categories or noun_singular(word) in self.categories

    def category(self, words: tuple[str, ...]) -> str:
        """Category of a noun phrase by its last two words, then by its last."""
        if len(words) > 1 and is_designator(words[-1]) and self.is_noun(words[-2]):
            words = words[:-1]  # "fan plug CN5" is a plug
        if not words:
            return "unknown"
        last = noun_singular(words[-1])
        if len(words) > 1:
            pair = f"{words[-2]} {last}"
            if pair in self.compounds:
                return self.compounds[pair]
        found = self.categories.get(words[-1]) or self.categories.get(last)
        if found:
            return found
        if "-" in last:
            pair = " ".join(last.split("-")[-2:])
            found = self.compounds.get(pair) or self.categories.get(last.rsplit("-", 1)[1])
            if found:
                return found
        if _FILE.search(words[-1]):
            return "software"
        return "connector" if is_socket(words[-1]) else "unknown"

    def has(self, group: str, word: str) -> bool:
        """True where ``word`` is in the word list ``group``."""
        return word in self.words[group]


@lru_cache(maxsize=8)
def load_lexicon(*own_words: str) -> Lexicon:
    """The lexicon of this package with a reader's own words (TOML texts) on top.

    Raises:
        InputError: The own words are no TOML, or name a class or table that does not exist.
    """
    tables = {name: _packaged(name) for name in ("verbs", "nouns", "words", "headings")}
    problems: list[Problem] = []
    for text in own_words:
        own = _own_tables(text)
        problems += _wrong_groups(own, tables)
        for name, extra in own.items():
            if not problems:
                _merge(tables[name], extra)
        problems += _check(own.get("verbs", {}))
    if problems:
        raise InputError(problems)
    return _build(tables)


def _wrong_groups(
    own: Mapping[str, Mapping[str, Any]], tables: Mapping[str, Mapping[str, Any]]
) -> list[Problem]:
    """A group that nothing reads, or that is no list of words: it would go unheard, or wipe out the packaged one."""
    problems = []
    for table in ("nouns", "words", "headings"):
        for group, value in own.get(table, {}).items():
            packaged = tables[table].get(group)
            path = f"{table}.{group}"
            if packaged is None:
                close = get_close_matches(group, tables[table], 1)
                known = (
                    f"Did you mean {close[0]}?"
                    if close
                    else f"Use one of {', '.join(sorted(tables[table]))}."
                )
                problems.append(
                    Problem(
                        f"{table} has no group '{group}'.", known, path=path, code="words_group"
                    )
                )
            elif isinstance(packaged, list) and not (
                isinstance(value, list) and all(isinstance(word, str) for word in value)
            ):
                problems.append(
                    Problem(
                        "It is no list of words.",
                        'Write it such as ["word"].',
                        path=path,
                        code="words_group",
                    )
                )
            elif isinstance(packaged, dict) and not isinstance(value, dict):
                problems.append(
                    Problem(
                        "It is no table of words.",
                        'Write it such as {"word" = "group"}.',
                        path=path,
                        code="words_group",
                    )
                )
    return problems


def _packaged(name: str) -> dict[str, Any]:
    text = resources.files(__package__).joinpath(f"{name}.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


def _own_tables(text: str) -> dict[str, dict[str, Any]]:
    try:
        own = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError(
            [
                Problem(
                    f"The own words are no TOML: {error}",
                    "Write them like the packaged lists.",
                    code="words_syntax",
                )
            ]
        ) from error
    known = ("verbs", "nouns", "words", "headings")
    wrong = [name for name in own if name not in known or not isinstance(own[name], dict)]
    if wrong:
        raise InputError(
            Problem(
                f"The own words have no table '{name}'.",
                f"Use one of the tables {', '.join(known)}.",
                path=name,
                code="words_table",
            )
            for name in wrong
        )
    return own


def _merge(base: dict[str, Any], extra: Mapping[str, Any]) -> None:
    for key, value in extra.items():
        if isinstance(value, list) and isinstance(base.get(key), list):
            base[key] = [*base[key], *value]
        elif (
            isinstance(value, dict)
            and isinstance(base.get(key), dict)
            and key in ("compounds", "numbers", "slips", "drives")
        ):
            base[key] = {**base[key], **value}
        else:
            base[key] = value


def _check(verbs: Mapping[str, Any]) -> list[Problem]:
    problems = []
    for name, entry in verbs.items():
        classes = [entry.get("class", "")] if isinstance(entry, dict) else [""]
        if isinstance(entry, dict):
            classes += [*entry.get("on", {}).values(), *entry.get("refit_on", {}).values()]
        problems += [
            Problem(
                f"'{klass}' is no class of action.",
                f"Use one of {', '.join(CLASSES)}.",
                path=f"verbs.{name}",
                code="words_class",
            )
            for klass in classes
            if klass not in _INNER_CLASSES
        ]
    return problems


def _build(tables: Mapping[str, Mapping[str, Any]]) -> Lexicon:
    verbs = {name: _verb(name, entry, tables["verbs"]) for name, entry in tables["verbs"].items()}
    forms: dict[str, list[tuple[str, VerbForm]]] = {}
    for name, entry in tables["verbs"].items():
        if " " in name:
            continue
        for surface, form in verb_forms(name, tuple(entry.get("forms", ()))):
            forms.setdefault(surface, []).append((name, form))
    nouns = tables["nouns"]
    categories = {
        word: group
        for group, members in nouns.items()
        if isinstance(members, list)
        for word in members
    }
    words = tables["words"]
    return Lexicon(
        verbs=verbs,
        forms={surface: tuple(found) for surface, found in forms.items()},
        categories=categories,
        compounds=nouns["compounds"],
        words={
            group: frozenset(members)
            for group, members in words.items()
            if isinstance(members, list)
        },
        phrases={
            group: tuple(members) for group, members in words.items() if isinstance(members, list)
        },
        numbers=_with_compounds(words["numbers"]),
        number_slips=words["number_slips"],
        slips=words["slips"],
        drives=words["drives"],
        cautions=words["caution_words"],
        headings={group: frozenset(members) for group, members in tables["headings"].items()},
    )


def _with_compounds(numbers: Mapping[str, int]) -> dict[str, int]:
    """Also "twenty-two"."""
    tens = {word: value for word, value in numbers.items() if value in (20, 30, 40)}
    ones = {word: value for word, value in numbers.items() if 1 <= value <= 9 and word != "single"}
    both = {f"{ten}-{one}": tens[ten] + ones[one] for ten in tens for one in ones}
    return {**numbers, **both}


def _verb(name: str, entry: Mapping[str, Any], all_verbs: Mapping[str, Any]) -> Verb:
    first = all_verbs.get(name.split(maxsplit=1)[0], {})
    return Verb(
        name=name,
        klass=entry["class"],
        on=entry.get("on", {}),
        refit=entry.get("refit", ""),
        refit_on=entry.get("refit_on", {}),
        inherited=first.get("on", {})
        if " " in name
        and name.split(maxsplit=1)[0] in _PULLING
        and name.split()[1] in ("out", "up", "away", "off", "back")
        else {},
        noun=bool(entry.get("noun", first.get("noun", False))),
        weak=bool(entry.get("weak", False)),
    )

"""One name for one thing: which names of a text mean the same part.

Every merge is a row that can be shown and refused. Names that stand in one breath ("the lid and the
cover") are never merged.
"""

from __future__ import annotations

import re
import tomllib
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from importlib import resources
from typing import Final

from lastscrew.reading.lexicon.morphology import noun_singular
from lastscrew.reading.model import Action, Procedure


@dataclass
class Names:
    """Canonical names, and why each other name was merged into one.

    ``merges`` are (name, name it was merged into, why), in the order in which they were found. ``said`` are the
    plain names as the text spells them most often: with its capitals, and with "assembly" where it says so.
    """

    canonical: dict[str, str] = field(default_factory=dict)
    merges: list[tuple[str, str, str]] = field(default_factory=list)
    said: dict[str, str] = field(default_factory=dict)

    def of(self, name: str) -> str:
        """The one name that stands for ``name``."""
        key = plain(name)
        seen = set()
        while key in self.canonical and key not in seen:
            seen.add(key)
            key = self.canonical[key]
        return key

    def spelt(self, name: str) -> str:
        """The one name that stands for ``name``, as the text spells it."""
        key = self.of(name)
        return self.said.get(key, key)


@lru_cache(maxsize=1)
def _synonyms() -> tuple[dict[str, str], tuple[str, ...], tuple[str, ...]]:
    text = (
        resources.files("lastscrew.reading.lexicon")
        .joinpath("synonyms.toml")
        .read_text(encoding="utf-8")
    )
    table = tomllib.loads(text)
    same = {word: group[0] for group in table["groups"] for word in group}
    return same, tuple(table["endings"]), tuple(table["fronts"])


def plain(name: str) -> str:
    """A name in lower case, singular, without article and words that say nothing."""
    _, endings, fronts = _synonyms()
    words = re.findall(r"[\w./+&'-]+", name.lower())
    while len(words) > 1 and words[0] in (*fronts, "the", "a", "an"):
        words = words[1:]
    while len(words) > 1 and noun_singular(words[-1]) in endings:
        words = words[:-1]
    if words:
        words[-1] = noun_singular(words[-1])
    return " ".join(words)


def unify(
    procedures: Sequence[Procedure], extra: Iterable[str] = (), keep_apart: Iterable[str] = ()
) -> Names:
    """Find the names of one text that mean the same.

    Args:
        procedures: The procedures of the text.
        extra: More names (prerequisites, headings).
        keep_apart: Pairs ``A=B`` that a person said are two things.
    """
    counts, together = _gather(procedures, extra)
    apart = {frozenset(plain(side) for side in pair.split("=", 1)) for pair in keep_apart}
    names = Names(said=_spellings(procedures, extra))
    ordered = sorted(counts, key=lambda name: (-counts[name], name))
    titled = {plain(procedure.part) for procedure in procedures if procedure.kind != "refit"}

    def merge(one: str, other: str, why: str) -> None:
        if (
            one == other
            or frozenset((one, other)) in apart | together
            or (one in titled and other in titled and _says_otherwise(why))
            or names.of(one) == names.of(other)
        ):
            return
        names.canonical[one] = other
        names.merges.append((one, other, why))

    for rule in (_same_spelling, _same_words, _same_synonyms, _short_for_one):
        for one, other, why in rule(ordered, counts):
            if names.of(one) == one:
                merge(one, names.of(other), why)
    return names


def _gather(
    procedures: Sequence[Procedure], extra: Iterable[str]
) -> tuple[Counter[str], set[frozenset[str]]]:
    counts: Counter[str] = Counter()
    together: set[frozenset[str]] = set()
    for procedure in procedures:
        for action in procedure.actions():
            named = [plain(name) for name in names_in(action)]
            counts.update(name for name in named if name and not _several(name))
            for pair in ([plain(t.name) for t in action.things], [plain(n) for n in action.joins]):
                together |= {frozenset((a, b)) for a in pair for b in pair if a != b}
    for name in extra:
        if plain(name) and not _several(name):
            counts[plain(name)] += 1
    return counts, together


def _says_otherwise(why: str) -> bool:
    """Two removals of their own are of two things, but for a name that is only spelt in two ways."""
    return why in (_SHORT, _SYNONYM)


def _spellings(procedures: Sequence[Procedure], extra: Iterable[str]) -> dict[str, str]:
    """How the text spells each plain name: the singular before the plural, then what it says most often."""
    _, _, fronts = _synonyms()
    counts: dict[str, Counter[str]] = {}
    for procedure in procedures:
        for action in procedure.actions():
            for name in names_in(action):
                _count_spelling(counts, name, fronts)
    for name in extra:
        words = name.split()
        if words and words[0][1:].islower():
            words[0] = words[0].lower()
        _count_spelling(counts, " ".join(words), fronts)
    return {
        key: min(
            spelt,
            key=lambda name: (_is_plural(name), -spelt[name], name),
        )
        for key, spelt in counts.items()
    }


def _is_plural(name: str) -> bool:
    last = name.rsplit(maxsplit=1)[-1].lower()
    return noun_singular(last) != last


def _count_spelling(counts: dict[str, Counter[str]], name: str, fronts: tuple[str, ...]) -> None:
    words = name.split()
    while len(words) > 1 and words[0].lower() in (*fronts, "the", "a", "an"):
        words = words[1:]
    if words and not _several(name):
        counts.setdefault(plain(name), Counter())[" ".join(words)] += 1


def _several(name: str) -> bool:
    """A name that joins two things is the name of neither."""
    return " and " in name.lower() or "/" in name or "," in name


def names_in(action: Action) -> list[str]:
    """Names of parts in one action: what it joins and, where it moves a part, the part."""
    names = list(action.joins)
    if not action.fastener:
        names += [
            thing.name
            for thing in action.things
            if thing.category
            not in ("fastener", "pronoun", "tool", "place", "text", "lock", "clip")
        ]
    return [name for name in names if name]


Merge = tuple[str, str, str]
_SHORT: Final = "short for the only one of that name"
_SYNONYM: Final = "two words for one thing"


def _same_spelling(ordered: list[str], _counts: Counter[str]) -> Iterable[Merge]:
    seen: dict[str, str] = {}
    for name in ordered:
        key = re.sub(r"[\s.-]+", "", name)
        if key in seen:
            yield name, seen[key], "the same word, spelt otherwise"
        else:
            seen[key] = name


def _same_words(ordered: list[str], counts: Counter[str]) -> Iterable[Merge]:
    """As in "cable of the fan" is the fan cable."""
    for name in ordered:
        if " of " in name:
            head, whole = name.split(" of ", 1)
            turned = plain(f"{whole} {head}")
            if turned in counts:
                yield name, turned, "the same words in another order"


def _same_synonyms(ordered: list[str], _counts: Counter[str]) -> Iterable[Merge]:
    same, _, _ = _synonyms()
    seen: dict[str, str] = {}
    by_last = _by_last_word(ordered)
    for name in ordered:
        if len(_longer(name, by_last)) > 1:
            continue  # "power cables" are all those that end so, not one thing under another word
        key = _with_synonyms(name, same)
        if key in seen and seen[key] != name:
            yield name, seen[key], _SYNONYM
        else:
            seen.setdefault(key, name)


def _with_synonyms(name: str, same: dict[str, str]) -> str:
    for word in sorted(same, key=lambda w: (-len(w), w)):
        name = re.sub(rf"(?<![\w-]){re.escape(word)}(?![\w-])", same[word].replace(" ", "~"), name)
    return name


def _short_for_one(ordered: list[str], _counts: Counter[str]) -> Iterable[Merge]:
    """As in "sub-board" is the microphone sub-board where the text names no other sub-board."""
    by_last = _by_last_word(ordered)
    for name in ordered:
        longer = _longer(name, by_last)
        if len(longer) == 1 and len(name.split()) <= 2:
            yield name, longer[0], _SHORT


def _by_last_word(names: Iterable[str]) -> dict[str, list[list[str]]]:
    found: dict[str, list[list[str]]] = {}
    for name in names:
        if name and " of " not in name:
            words = name.split()
            found.setdefault(words[-1], []).append(words)
    return found


def _longer(name: str, by_last: dict[str, list[list[str]]]) -> list[str]:
    """Names that end in ``name`` and say more."""
    words = name.split()
    return [
        " ".join(other)
        for other in by_last.get(words[-1] if words else "", ())
        if len(other) > len(words) and other[-len(words) :] == words
    ]

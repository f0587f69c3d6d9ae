"""Things that a new revision of a text calls otherwise, wherever they stand."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher
from typing import Final

from lastscrew.reading.model import Action, Procedure, Reading
from lastscrew.reading.naming import plain

_ALIKE: Final = 0.6
"""Two procedures are the same one under another name where so much of what is done is the same (our own figure)."""


@dataclass(frozen=True, slots=True)
class Renames:
    """Old names and new ones, in plain words.

    Attributes:
        told: The pairs, as they were found.
    """

    told: tuple[tuple[str, str], ...] = ()

    def new(self, name: str) -> str:
        """A name of the old revision in the words of the new one."""
        for old, new in self.told:
            name = re.sub(rf"\b{re.escape(old)}\b", new, name)
        return name


def renames_between(one: Reading, other: Reading) -> Renames:
    """Names that the new revision no longer uses, each with the one that stands in its places.

    First the parts that procedures are about, then whatever else is taken in hand. A name is only a new one for
    another where the old one is nowhere in the new text, and the new one nowhere in the old.
    """
    found: list[tuple[str, str]] = []
    old_words, new_words = _words(one), _words(other)
    for old, new in _parts(one, other):
        if _is_new_name(old, new, old_words, new_words) and (old, new) not in found:
            found.append((old, new))
    parts = Renames(tuple(found))
    seen: dict[str, set[str]] = {}
    for old, new in _objects(one, other, parts):
        seen.setdefault(old, set()).add(new)
    for old, news in seen.items():
        new = min(news)
        if len(news) == 1 and _is_new_name(old, new, old_words, new_words):
            found.append((old, new))
    return Renames(tuple(found))


def _words(reading: Reading) -> str:
    """Every line of a text in plain words."""
    return "\n".join(f" {plain(line.text)} " for line in reading.source.lines)


def _is_new_name(old: str, new: str, old_words: str, new_words: str) -> bool:
    if not old or not new or old == new:
        return False
    return not _has(new_words, old) and not _has(old_words, new)


def _has(words: str, name: str) -> bool:
    return re.search(rf"\b{re.escape(name)}\b", words) is not None


def _parts(one: Reading, other: Reading) -> Iterator[tuple[str, str]]:
    """Procedures of one revision alone that do the same to something of another name."""
    known = [{(plain(p.part), p.kind) for p in reading.procedures} for reading in (one, other)]
    left = [p for p in one.procedures if (plain(p.part), p.kind) not in known[1]]
    for new in other.procedures:
        if (plain(new.part), new.kind) in known[0]:
            continue
        for old in left:
            if old.kind == new.kind and _alike(old, new):
                left.remove(old)
                yield plain(old.part), plain(new.part)
                break


def _alike(old: Procedure, new: Procedure) -> bool:
    names = Renames(((plain(old.part), plain(new.part)),))
    first = [(a.klass, names.new(plain(a.object))) for a in _doing(old)]
    second = [(a.klass, plain(a.object)) for a in _doing(new)]
    ratio = SequenceMatcher(None, first, second, autojunk=False).ratio()
    return len(first) > 1 and ratio >= _ALIKE


def _objects(one: Reading, other: Reading, parts: Renames) -> Iterator[tuple[str, str]]:
    """What stands in the place of what, in procedures that both have."""
    left: dict[tuple[str, str], list[Procedure]] = {}
    for procedure in one.procedures:
        left.setdefault((parts.new(plain(procedure.part)), procedure.kind), []).append(procedure)
    for new in other.procedures:
        mates = left.get((plain(new.part), new.kind))
        if mates:
            yield from _places(_doing(mates.pop(0)), _doing(new), parts)


def _places(
    first: Sequence[Action], second: Sequence[Action], parts: Renames
) -> Iterator[tuple[str, str]]:
    old = [(a.klass, parts.new(plain(a.object))) for a in first]
    new = [(a.klass, plain(a.object)) for a in second]
    for tag, low, high, start, end in SequenceMatcher(None, old, new, autojunk=False).get_opcodes():
        if tag == "replace" and high - low == end - start:
            for before, now in zip(old[low:high], new[start:end], strict=True):
                if before[0] == now[0]:
                    yield before[1], now[1]


def _doing(procedure: Procedure) -> list[Action]:
    return [a for a in procedure.actions() if a.klass != "other" and not a.weak]

"""Are supplies that are taken off renewed, and things that may be used once only exchanged?"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Final

from lastscrew.audit.account import (
    SUPPLY_WORDS,
    Account,
    Job,
    Movement,
    does,
    goes_backwards,
    mentions,
    sentences_of,
)
from lastscrew.audit.findings import Finding, Severity
from lastscrew.plan.wording import is_plural

_ONCE: Final = re.compile(
    r"discard|dispose|throw (?:\w+ ){0,4}away|do not (?:re-?use|use .* again)|(?:one|single)[- ]time|single[- ]use|"
    r"not re-?usable|only (?:stick|hold)s? once|(?:can ?not|can't|must not|may not|should not) "
    r"(?:re-?use|use (?:it|them|this|these|those|that) again|be (?:saved|re-?used|used again))",
    re.IGNORECASE,
)

_SPENT: Final = re.compile(
    r"\b(?:(?:adhesive|tape|foam|sealing|rubber|thermal) )?(?:strips?|tapes?|gaskets?|seals?|o-rings?|pads?|"
    r"cable ties?|rivets?|washers?|glue|adhesive|labels?|split pins?|circlips?)\b",
    re.IGNORECASE,
)
"""What texts say of that it may be used once only."""

_CUTS: Final = re.compile(r"(?:cut|snip|clip|sever|nip|slit)\b(?! free\b)")
_A_TIE: Final = re.compile(
    r"\b(?:(?:cable|zip|wire)[ -]?(?:tie|wrap|strap)|tie[ -]?wrap)s?\b", re.IGNORECASE
)
_TIES: Final = re.compile(
    r"\b(?:(?:zip|cable|wire)?[ -]?tie|tied|tying|wrap|strap|bundle|bind)\w*\b"
)
_A_NEW_TIE: Final = re.compile(r"\b(?:new|fresh|another)\b[^.\n]{0,30}\b(?:tie|wrap|strap)s?\b")
_NEW: Final = re.compile(r"\b(?:new|fresh|replacement)\b")


def supply_findings(account: Account, job: Job, *, explicit: bool) -> Iterator[Finding]:
    """Findings about the supplies of one job; ``explicit``: it has steps that put things back."""
    back = account.back_words(job) if job.refits else ""
    applied = [
        m
        for m in account.movements
        if m.direction == "back" and m.sort in ("supply", "film") and m.procedure in job.refits
    ]
    grade: Severity = "warning" if explicit or goes_backwards(account, job) else "note"
    told: set[str] = set()
    for out in account.of(job.removals, "out", "supply"):
        word = SUPPLY_WORDS.search(f"{out.name} {out.shown}")
        kind = (word[0] if word else out.name).lower()
        if kind in told or any(_same_supply(kind, m) for m in applied) or _renews(back, kind):
            continue
        if _ADHESIVE.search(kind) and any(_STUCK_ANEW.search(one) for one in sentences_of(back)):
            continue
        told.add(kind)
        yield Finding(
            "supply_not_renewed",
            grade,
            out.line,
            f"{does(out, 'is')} taken off here, and no step applies a new one.",
            f"Add the step that applies new {kind} before the part goes back, with how much.",
        )
    once: list[int] = []
    for out in account.movements:
        if out.procedure not in job.removals or out.direction != "out" or out.sort == "supply":
            continue
        if discarded(out):
            once.append(out.step.line)
        if not discarded(out) or _renews(back, out.name) or out.name in told:
            continue
        told.add(out.name)
        yield Finding(
            "supply_not_renewed",
            grade,
            out.line,
            f"The {out.shown} may be used once only (line {out.step.line}), and no step puts in a new one.",
            f"Say that a new one goes in, and list it among the supplies: {out.shown}.",
        )
    yield from _ties_cut(account, job, back, grade)
    for line, name in _used_once(account, job, once):
        if name not in told and not _renews(back, name):
            told.add(name)
            yield Finding(
                "supply_not_renewed",
                grade,
                line,
                f"The {name} may be used once only, and no step puts in a new one.",
                f"Say that a new one goes in, and list it among the supplies: {name}.",
            )


_ADHESIVE: Final = re.compile(r"\b(?:adhesive|glue)\b", re.IGNORECASE)
_STUCK_ANEW: Final = re.compile(
    r"\b(?:stick|bond)\w*\b[^.]{0,20}\bnew\b|\bself-adhesive\b", re.IGNORECASE
)
"""As in "Stick the new foot in place": it brings its own adhesive."""


def _ties_cut(account: Account, job: Job, back: str, grade: Severity) -> Iterator[Finding]:
    """Ties that are cut: nothing holds what they held until a new one does."""
    lines = account.reading.source.lines
    for index in job.removals:
        for step in account.reading.procedures[index].steps:
            for action in step.actions:
                if not _CUTS.match(action.verb) or action.weak or action.optional:
                    continue
                line = action.line or step.line
                tie = next((t.name for t in action.things if _A_TIE.search(t.name)), "")
                rest = "\n".join(one.text.lower() for one in lines[line:])
                if not tie or _TIES.search(back) or _A_NEW_TIE.search(rest):
                    continue
                yield Finding(
                    "supply_not_renewed",
                    "note" if account.reading.source.spoken else grade,
                    line,
                    f"The {tie} {'are' if is_plural(tie) else 'is'} cut here, and no step puts a new one on.",
                    "Add the step that puts a new one on, or say what holds it now.",
                )


_SUPPLY_KINDS: Final = (
    ("paste", "compound", "grease"),
    ("grease", "oil", "lubricant", "wax"),
    ("pad", "tape"),
    ("adhesive", "glue", "sealant", "threadlocker", "locker"),
)
"""Supplies that take each other's place, by their last word."""


def _same_supply(kind: str, applied: Movement) -> bool:
    """What is applied can stand for what was taken off."""
    words = set(f"{applied.name} {applied.shown.lower()} {applied.action.supply.lower()}".split())
    own = kind.rsplit(maxsplit=1)[-1].rstrip("s")
    kin = {word for group in _SUPPLY_KINDS if own in group for word in group} | {own}
    return any(word.rstrip("s") in kin for word in words)


def _used_once(account: Account, job: Job, told: list[int]) -> Iterator[tuple[int, str]]:
    """Lines that say of something without a step of its own that it may be used once only."""
    lines = account.reading.source.lines
    for index in job.removals:
        for number in range(account.reading.procedures[index].line, account.end_of(index) + 1):
            text = lines[number - 1].text
            if number in told or not _ONCE.search(text):
                continue
            found = _SPENT.search(text) or (
                _SPENT.search(lines[number - 2].text) if number > 1 else None
            )
            if found is not None:
                yield number, found[0].lower()


def discarded(out: Movement) -> bool:
    """The sentence that says so speaks of this thing, or of "it" right after it."""
    before = ""
    for sentence in re.split(r"(?<=[.;])\s+", out.step.text):
        if _ONCE.search(sentence):
            low = sentence.lower()
            if mentions(low, out.name):
                return True
            other = _SPENT.search(low)
            again = re.search(r"\b(?:it|them|they)\b", low) and not other
            if again and (not before or mentions(before.lower(), out.name)):
                return True
        before = sentence
    return False


def _renews(words: str, name: str) -> bool:
    """A sentence speaks of a new one, or of applying one."""
    for sentence in sentences_of(words):
        if mentions(sentence, name) or (
            SUPPLY_WORDS.search(name) and SUPPLY_WORDS.search(sentence)
        ):
            if _NEW.search(sentence) or re.search(
                r"\b(?:apply|spread|put|place|stick|dispense|squeeze|coat)\w*\b", sentence
            ):
                return True
    return False

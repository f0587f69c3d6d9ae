"""How a procedure is worded, held to the limits of Simplified Technical English.

The limits are those of the standard's rules as secondary sources give them; two of them are from memory, and
say so. A breach is a note: a long sentence harms nobody by itself. A caution that comes too late does.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from lastscrew.audit.findings import Finding, Severity
from lastscrew.reading.model import Caution, Procedure, Reading, Step
from lastscrew.reading.tokens import sentence_spans


@dataclass(frozen=True, slots=True)
class WordingRule:
    """One rule of the standard: its number, what it asks for, its limit, and whether it was read or recalled."""

    number: str
    asks: str
    limit: int | None
    status: str

    def cited(self) -> str:
        """The rule as a finding names it."""
        return f"Simplified Technical English, rule {self.number}, {self.status}"


PROCEDURAL_SENTENCE: Final = WordingRule(
    "5.1", "at most 20 words in a procedural sentence", 20, "as secondary sources give it"
)
ONE_INSTRUCTION: Final = WordingRule("5.2", "one instruction in a sentence", 1, "from memory")
NO_SEMICOLON: Final = WordingRule("8.1", "no semicolons", None, "as secondary sources give it")
NO_CONTRACTION: Final = WordingRule("4.2", "no contractions", None, "as secondary sources give it")
SAFETY_FIRST: Final = WordingRule(
    "7.1-7.3", "a safety instruction: clear command or condition first", None, "from memory"
)

_SEMICOLON: Final = re.compile(r";(?=\s|$)")
_CONTRACTED: Final = re.compile(
    r"\b(?:\w+n['’]t|(?:it|that|there|here|what|let|you|we|they|i)['’](?:s|re|ll|ve|d|m))\b",
    re.IGNORECASE,
)
_WORD: Final = re.compile(r"[^\W_][\w.,:/'’×+°%-]*")
_MARK: Final = re.compile(
    r"^\s*(?:\(?[\dA-Za-z]{1,3}[.)]|[-*•▶]|\d+\s{2,}|step \d+[:.]?)\s+", re.IGNORECASE
)
_BEGINS: Final = re.compile(
    r"(?:^|[.,;:!?()\[\]]|[-–—] |\d|\b(?:and|then|or|but|now|also|to|you|must|can|will|please|afterwards|first|next|so|"
    r"by|while|without|when|before|after|\w+ly))\W*$"
)
"""What stands before a verb that gives an order."""

_SIGNAL: Final = re.compile(
    r"\b(?:DANGER|WARNING|CAUTION|NOTICE)\b|\b(?:Danger|Warning|Caution)\s*[:!]"
)
_COMMON: Final = frozenset(
    (
        "the", "and", "for", "with", "from", "into", "onto", "its", "them", "this", "that", "these", "those", "you",
        "your", "not", "does", "are", "can", "may", "must", "will", "when", "before", "after", "then", "than", "all",
        "any", "there", "while", "make", "sure", "danger", "warning", "caution", "notice", "always", "never", "only",
        "during", "use", "using", "remove", "removal", "removing", "install", "installing", "could", "cause", "damage",
        "injury", "lead", "result", "carefully", "careful", "gently", "please", "part", "parts", "out", "off", "down",
    )
)  # fmt: skip


def wording_findings(reading: Reading) -> Iterator[Finding]:
    """Findings about the wording of one text."""
    if not reading.source.spoken:
        yield from _marks(reading)
    for procedure in reading.procedures:
        for step in procedure.steps:
            if step.reverse_of < 0 and not reading.source.spoken:
                yield from _sentences(step)
        yield from _late_cautions(procedure)
    if reading.source.spoken:
        yield from _late_warnings_of_talk(reading)


def _marks(reading: Reading) -> Iterator[Finding]:
    """Semicolons and contractions: one note of each for a text, so that nobody drowns in them."""
    for code, pattern, rule, what, remedy in (
        ("semicolon", _SEMICOLON, NO_SEMICOLON, "A semicolon joins", "Make two sentences of it."),
        (
            "contraction",
            _CONTRACTED,
            NO_CONTRACTION,
            "A contraction stands in",
            "Write both words.",
        ),
    ):
        lines = sorted(
            {
                step.line
                for procedure in reading.procedures
                for step in procedure.steps
                if any(not a.weak for a in step.actions) and pattern.search(step.text)
            }
        )
        if lines:
            number = f"{len(lines)} instructions" if len(lines) > 1 else "an instruction"
            yield Finding(
                code, "note", lines[0], f"{what} {number} ({rule.cited()}: {rule.asks}).", remedy,
                also=tuple(lines[1:6]),
            )  # fmt: skip


def words_in(sentence: str) -> int:
    """Words of a sentence, its list mark left out; what hyphens join is one word."""
    return len(_WORD.findall(_MARK.sub("", sentence)))


def _sentences(step: Step) -> Iterator[Finding]:
    limit = PROCEDURAL_SENTENCE.limit or 0
    spans = [(low, high) for low, high in sentence_spans(step.text) if step.text[low:high].strip()]
    doing = _actions_in(step, spans)
    one = next((action.verb for action in step.actions if action.verb and not action.weak), "")
    if len(spans) == 1 and not doing[0] and one:
        doing = [
            [one]
        ]  # "With both of your hands lift the drum": an order, wherever its verb stands
    for (low, high), verbs in zip(spans, doing, strict=True):
        if not verbs:
            continue
        number = words_in(step.text[low:high])
        if number > limit:
            yield Finding(
                "long_sentence",
                "note",
                step.line,
                f"An instruction of {number} words: {_cut(step.text[low:high])} ({PROCEDURAL_SENTENCE.cited()}: "
                f"{PROCEDURAL_SENTENCE.asks}).",
                "Make two sentences of it.",
            )
        if len(verbs) > 1:
            yield Finding(
                "several_instructions",
                "note",
                step.line,
                f"{len(verbs)} instructions in one sentence ({', '.join(verbs)}); one is easily "
                f"passed over ({ONE_INSTRUCTION.cited()}: {ONE_INSTRUCTION.asks}).",
                "Give each instruction its own sentence.",
            )


def _actions_in(step: Step, spans: list[tuple[int, int]]) -> list[list[str]]:
    """Verbs of the instructions in each sentence; how one is done ("by pressing …") is not a second one."""
    found: list[list[str]] = [[] for _ in spans]
    low, at = step.text.lower(), 0
    for action in step.actions:
        if action.weak or not action.verb:
            continue
        verb = action.verb.split()[0].lower()
        match = re.compile(rf"\b{re.escape(verb[: max(3, len(verb) - 1)])}\w*").search(low, at)
        if match is None:
            continue
        at = match.end()
        before = low[max(0, match.start() - 30) : match.start()]
        if not _BEGINS.search(before):
            continue  # a noun that looks like a verb: "apply the foam strip"
        manner = re.search(r"\b(?:by|while|without|when|and|to)\s+(?:\w+ly\s+)?$", before)
        if match[0].endswith("ing") and manner:
            continue
        for number, (start, end) in enumerate(spans):
            if start <= match.start() < end:
                found[number].append(verb)
    return found


def _cut(sentence: str, most: int = 60) -> str:
    text = " ".join(_MARK.sub("", sentence).split())
    return f'"{text}"' if len(text) <= most else f'"{text[:most].rsplit(" ", 1)[0]} …"'


def _late_cautions(procedure: Procedure) -> Iterator[Finding]:
    cautions = sorted(
        {
            (c.line, c.signal, c.text)
            for step in procedure.steps
            for c in step.cautions
            if c.signal != "note"
        }
    )
    for line, signal, text in cautions:
        finding = _late(procedure, Caution(signal, text, line))
        if finding is not None:
            yield finding


_TALK_WARNS: Final = re.compile(
    r"\b(?:be careful|careful|watch (?:out|it|your)|mind (?:your|the)|should have (?:said|told|mentioned)|"
    r"forgot to (?:say|mention|tell)|don't touch|by the way)\b",
    re.IGNORECASE,
)
_HURTS: Final = re.compile(
    r"\b(?:sharp|hot|live|heavy|fragile|brittle|spring|tears?|snaps?|cuts?|burns?|short|shock|break\w*|delicate|static|"
    r"gloves|glasses)\b",
    re.IGNORECASE,
)
_AFTERTHOUGHT: Final = re.compile(
    r"^\W*(?:\[[\d:]+\]\s*)?(?:oh|ah|sorry|actually|by the way|i should have|i forgot)\b",
    re.IGNORECASE,
)


def _late_warnings_of_talk(reading: Reading) -> Iterator[Finding]:
    """A spoken warning has no signal word: it says "careful", and of what it warns."""
    lines = [line for line in reading.source.lines if line.text.strip()]
    steps = [step for procedure in reading.procedures for step in procedure.steps]
    for place, line in enumerate(lines):
        own = line.text
        if not (_TALK_WARNS.search(own) or _AFTERTHOUGHT.match(own)):
            continue
        said = " ".join(part.text for part in lines[place : place + 2])
        if not _HURTS.search(said):
            continue
        words = _content(said if not _HURTS.search(own) else own)
        before = [_done_in(s) for s in steps if line.number - _TALK_REACH <= s.line < line.number]
        after = [_done_in(s) for s in steps if line.number <= s.line <= line.number + _TALK_REACH]
        done = max((len(words & _content(text)) for text in before), default=0)
        comes = max((len(words & _content(text)) for text in after), default=0)
        if done > comes or (done and done == comes and _AFTERTHOUGHT.match(own)):
            concerned = [s for s in steps if line.number - _TALK_REACH <= s.line < line.number]
            step = max(concerned, key=lambda s: (len(words & _content(_done_in(s))), s.line))
            yield Finding(
                "late_caution",
                "warning",
                line.number,
                f"The warning comes after the step that it concerns (line {step.line}); who listens has done the "
                f"step already ({SAFETY_FIRST.cited()}).",
                "Say it before that step.",
                also=(step.line,),
            )


_TALK_REACH: Final = 3
"""Captions before and after a spoken warning among which its step is looked for."""


def _done_in(step: Step) -> str:
    """What a step of a talk does, in words: its text runs on over many captions."""
    return " ".join(f"{action.verb} {action.object}" for action in step.actions)


def _late(procedure: Procedure, caution: Caution) -> Finding | None:
    """A caution after the step whose words it shares, and not those of the step that follows."""
    same = next((s for s in procedure.steps if s.line == caution.line), None)
    before = [step for step in procedure.steps if step.line < caution.line]
    after = [step for step in procedure.steps if step.line > caution.line]
    concerned: Step | None
    grade: Severity
    if same is not None:
        signal = _SIGNAL.search(same.text)
        doing = [a.verb.split()[0] for a in same.actions if not a.weak and a.verb]
        first = min((same.text.lower().find(verb.lower()) for verb in doing), default=-1)
        if signal is None or first < 0 or first > signal.start():
            return None
        concerned, grade = same, "note"
    elif before:
        own = _content(caution.text)
        following = len(own & _content(after[0].text)) if after else 0
        found = _concerned(before, own, following)
        if found is None or re.match(r"\W*before\b", caution.text, re.IGNORECASE):
            return None
        concerned, grade = found, "warning"
    else:
        return None
    return Finding(
        "late_caution",
        grade,
        caution.line,
        f"The {caution.signal} comes after the step that it concerns (line {concerned.line}); who reads it has "
        f"done the step already ({SAFETY_FIRST.cited()}).",
        "Put it in front of that step.",
        also=() if concerned.line == caution.line else (concerned.line,),
    )


def _concerned(before: list[Step], own: set[str], following: int) -> Step | None:
    """The step before a caution that it is about: the last one, or one a little before it of which it names the act."""
    if len(own & _content(before[-1].text)) > following:
        return before[-1]
    for step in before[-2 : -2 - _REACH : -1]:
        verbs = {_stem(a.verb.split()[0].lower()) for a in step.actions if a.verb and not a.weak}
        named = {_stem(word) for word in own} & verbs
        if named and len(own & _content(step.text)) > max(following, _SHARED):
            return step
    return None


_REACH: Final = 2
"""Steps before the last one among which the step of a caution is looked for."""
_SHARED: Final = 2
"""So many words alone that a caution shares with a step further back prove nothing."""


def _stem(word: str) -> str:
    """A verb without its ending: ``lifting`` and ``lift`` are one."""
    return re.sub(r"(?:ing|ed|s)$", "", word)


def _content(text: str) -> set[str]:
    words = re.findall(r"[a-z]{3,}", text.lower())
    return {word.rstrip("s") for word in words if word not in _COMMON}

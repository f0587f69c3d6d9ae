"""What the order of a text implies: which procedure needs which, and one spelling for one name."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace

from lastscrew.reading.lexicon.groups import phrase_group
from lastscrew.reading.model import Action, Prerequisite, Thing
from lastscrew.reading.walk_state import Builder, Document

_HOUSING = phrase_group("inferences_housing")
_NO_CASE = re.compile(
    r"\bin (?:(?:that|this|any|either|such|such a|which|most|some|each) )?cases?\b"
)
"""As in "in that case": no housing."""
_TAKEN = frozenset(["remove", "lift", "slide", "release", "disconnect", "peel"])


def infer(document: Document) -> None:
    """Add what follows from the order of the text, each value marked as inferred."""
    _spellings(document)
    _hosts(document)
    _order_of_procedures(document)


def _flat_key(name: str) -> str:
    return re.sub(r"[\s\-]+", "", name.lower())


def _spellings(document: Document) -> None:
    """As in "mainboard", "main-board" and "main board" are one name: the one that is used most."""
    seen: dict[str, Counter[str]] = {}
    for builder in document.builders:
        for step in builder.steps:
            for action in step.actions:
                for name in (
                    *action.joins,
                    *(thing.name for thing in action.things),
                    action.from_,
                    action.to,
                ):
                    seen.setdefault(_flat_key(name), Counter())[name] += 1
    chosen = {}
    for names in seen.values():
        if len(names) > 1:
            best = max(names, key=lambda name: (names[name], " " in name, name))
            chosen.update(
                {name: best for name in names if name != best and name.lower() != best.lower()}
            )
    if chosen:
        for builder in document.builders:
            builder.steps[:] = [
                replace(step, actions=tuple(_respell(action, chosen) for action in step.actions))
                for step in builder.steps
            ]


def _respell(action: Action, chosen: dict[str, str]) -> Action:
    joins = tuple(dict.fromkeys(chosen.get(name, name) for name in action.joins))
    return replace(
        action,
        joins=joins,
        from_=chosen.get(action.from_, action.from_),
        to=chosen.get(action.to, action.to),
        object=chosen.get(action.object, action.object),
    )


def _hosts(document: Document) -> None:
    """Screws of which only one side is said: the other is the housing that the text itself names most."""
    names: Counter[str] = Counter()
    for line in document.source.lines:
        low = _NO_CASE.sub("", line.text.lower())
        for word in _HOUSING:
            if re.search(
                rf"\b{word}\b(?=\s*(?:[.,;:)!]|$|(?:and|with|using|to|by|from|in|of|that|which|is|are|at|on|or|until|while|when|so|for|as)\b))",
                low,
            ):
                names[word] += 1 + (" " in word)
    if not names:
        return
    ranked = sorted(names, key=lambda word: (-names[word], _HOUSING.index(word)))
    for builder in document.builders:
        for s, step in enumerate(builder.steps):
            actions = [_with_host(action, ranked) for action in step.actions]
            builder.steps[s] = replace(step, actions=tuple(actions))


def _with_host(action: Action, ranked: list[str]) -> Action:
    if (
        not action.fastener
        or len(action.joins) != 1
        or action.klass not in ("remove", "tighten", "loosen", "replace")
    ):
        return action
    own = action.joins[0].lower().split()
    host = next((word for word in ranked if word.split()[-1] != own[-1]), "")
    if not host:
        return action
    return replace(
        action,
        joins=(*action.joins, host),
        inferred=(*action.inferred, ("joins", "the housing that the text names")),
    )


def _order_of_procedures(document: Document) -> None:
    """In one continuous teardown each removal follows the one before it.

    Only where no procedure states a prerequisite, and at least two removals stand in a row without a
    refitting half between them.
    """
    builders = [builder for builder in document.builders if builder.steps]
    if any(item for builder in builders for item in builder.prerequisites if not item.inferred):
        return
    removals: list[Builder] = []
    for index, builder in enumerate(builders):
        if builder.kind == "removal" and not _is_optional(builder):
            if (
                removals
                and builders[index - 1].kind == "removal"
                and builder.level == removals[-1].level
            ):
                previous = removals[-1]
                builder.prerequisites.append(
                    Prerequisite(
                        "part", taken_off(previous), previous.line, inferred="order of the text"
                    )
                )
            elif builders[index - 1].kind != "removal":
                removals = []
            removals.append(builder)
        elif builder.kind != "removal" and removals and not _was_taken(builder.part, removals):
            for earlier in removals:
                if builder.part and _names_part(earlier, builder.part):
                    builder.prerequisites.append(
                        Prerequisite(
                            "part", taken_off(earlier), earlier.line, inferred="order of the text"
                        )
                    )


def _is_optional(builder: Builder) -> bool:
    text = " ".join(caution.text.lower() for caution in builder.cautions)
    return (
        "not needed" in text
        or "optional" in f"{builder.heading.lower()} {text}"
        or "only if" in text
    )


def taken_off(builder: Builder) -> str:
    """What a removal takes off: its heading's part where its steps name it, else the parts themselves."""
    parts: list[str] = []
    for step in builder.steps:
        for action in step.actions:
            aside = action.verb.endswith("aside") or action.to.lower() == "side"
            taken = action.klass in _TAKEN or aside
            if taken and action.things and _is_piece(action.things[-1], action):
                parts += [thing.name for thing in action.things if thing.name not in parts]
    named = {
        word.lower()
        for step in builder.steps
        for action in step.actions
        for name in (action.object, *action.joins)
        for word in name.split()
    }
    words = [word.lower() for word in builder.part.split()]
    generic = (
        not words
        or words[-1].rstrip("s")
        in ("connector", "latch", "unit", "case", "device", "clip", "screw")
        or len(words) > 4
    )
    if words and not generic and set(words) & named:
        return builder.part
    joined: str = " / ".join(parts[-6:])
    return joined or builder.part


def _is_piece(thing: Thing, action: Action) -> bool:
    if action.klass == "disconnect":
        return thing.category in ("cable", "connector", "antenna")
    return thing.category not in (
        "fastener",
        "lock",
        "clip",
        "tool",
        "film",
        "pronoun",
        "button",
        "tie",
        "residue",
        "supply",
        "connector",
    )


def _was_taken(part: str, removals: list[Builder]) -> bool:
    words = part.lower().split()
    if not words:
        return True
    for builder in removals:
        if builder.part.lower().split()[-1:] == words[-1:]:
            return True
        for step in builder.steps:
            for action in step.actions:
                if action.klass in _TAKEN and any(
                    words[-1].rstrip("s") == thing.head
                    and set(words) & set(thing.name.lower().split()) == set(words)
                    for thing in action.things
                ):
                    return True
    return False


def _names_part(builder: Builder, part: str) -> bool:
    words = [
        word.lower()
        for word in part.split()
        if word.lower() not in ("board", "assembly", "new", "unit", "module", "main", "the")
    ]
    texts = " ".join(
        step.text.lower()
        for step in builder.steps
        if any(action.klass != "other" for action in step.actions)
    )
    return bool(words) and all(re.search(rf"\b{re.escape(word)}", texts) for word in words)

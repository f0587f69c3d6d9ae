"""Second look at a procedure as a whole: restated actions, counts and joins said elsewhere.

Nothing is invented: a value comes from another sentence of the same text, and the action says so in
``inferred``.
"""

from __future__ import annotations

import re
from dataclasses import replace

from lastscrew.reading.joining import own_side
from lastscrew.reading.lexicon.groups import word_group
from lastscrew.reading.model import Action, Count, Fact, Step, Thing
from lastscrew.reading.walk_state import Builder, Document

_OPENING = frozenset(["remove", "lift", "release", "disconnect", "slide", "peel", "loosen"])
_CLOSING = word_group("refine_closing")
_HOLES = word_group("refine_holes")
_LAYING = frozenset(["place", "put", "set", "lay", "position", "plate", "rest"])
_NEARBY = 6
"""Lines within which the same word means the same screws."""
_MOVING = frozenset(["remove", "lift", "slide", "release", "peel"])


def refine(document: Document) -> None:
    """Refine every procedure of ``document`` in place."""
    for builder in document.builders:
        _drop_restated(builder, document)
        _drop_heads(builder)
        _counts(builder, document)
        _joins(builder, document)
        _default_drive(builder, document)
        _settle_kind(builder)
    _from_other_halves(document)
    for builder in document.builders:
        _own_sides(builder)


def _flat(builder: Builder) -> list[tuple[int, int, Action]]:
    return [
        (s, a, action)
        for s, step in enumerate(builder.steps)
        for a, action in enumerate(step.actions)
    ]


def _set(builder: Builder, s: int, a: int, action: Action | None) -> None:
    actions = list(builder.steps[s].actions)
    if action is None:
        del actions[a]
    else:
        actions[a] = action
    builder.steps[s] = replace(builder.steps[s], actions=tuple(actions))


def _group(klass: str) -> str:
    return "opening" if klass in _OPENING else "closing" if klass in _CLOSING else klass


def same_object(left: Action, right: Action) -> bool:
    """True where two actions name the same thing: equal head, no contradicting words."""
    if not left.things or not right.things:
        return left.object.lower() == right.object.lower()
    one, two = left.things[-1], right.things[-1]
    if one.head != two.head or (left.fastener and not _same_screws(left, right)):
        return False
    first, second = set(one.name.lower().split()), set(two.name.lower().split())
    return first <= second or second <= first or len(first & second) > 1


def _named_anew(action: Action, other: Action, document: Document) -> bool:
    """As in "The board is held by five screws. When the screws are out, …": not the screws of the lines before."""
    return bool(action.fastener) and any(
        other.line < fact.line <= action.line and _speaks_of(fact, action)
        for fact in document.facts
    )


def _is_told_before(action: Action, builder: Builder) -> bool:
    """As in "You need the knobs off. I took them off first": the prerequisite told again is no step."""
    if action.klass not in ("remove", "lift") or action.fastener or not action.things:
        return False
    name = action.things[-1].name.lower()
    return any(
        item.kind == "part"
        and item.text.lower() == name
        and item.line <= action.line
        and not item.inferred
        for item in builder.prerequisites
    )


def _speaks_of(fact: Fact, action: Action) -> bool:
    """True where a statement near by names the same kind of thing."""
    near = 0 <= action.line - fact.line <= 2 * _NEARBY
    return near and any(_same_kind(thing, action.things[-1]) for thing in fact.things)


def _same_screws(left: Action, right: Action) -> bool:
    """Screws with other counts, or that hold other parts, are other screws."""
    counts = [c for c in (left.count, right.count) if isinstance(c, int)]
    if len(counts) == 2 and counts[0] != counts[1]:
        return False
    if not left.joins or not right.joins:
        return len(counts) == 2 or abs(left.line - right.line) <= _NEARBY
    return any(_shares(one, two) for one in left.joins for two in right.joins)


def _drop_restated(builder: Builder, document: Document) -> None:
    """A passive, a reminder or a result counts only where no order says the same."""
    rows = _flat(builder)
    told = sum(action.weak in ("passive", "must") for _, _, action in rows)
    passive_text = told > 1 and 2 * told >= len(rows)
    for index in range(len(rows) - 1, -1, -1):
        s, a, action = rows[index]
        if not action.weak and not _is_told_before(action, builder):
            continue
        others = [
            other
            for k, (_, _, other) in enumerate(rows)
            if k != index and (not other.weak or k < index)
        ]
        if action.weak == "must":
            others = [other for k, (_, _, other) in enumerate(rows) if k != index]
        restated = any(
            _group(other.klass) == _group(action.klass)
            and (other.weak != "must" or action.weak == "must")
            and same_object(other, action)
            and not _named_anew(action, other, document)
            and (action.weak != "result" or abs(other.line - action.line) <= 3 * _NEARBY)
            for other in others
        )
        vague = (
            action.klass == "other"
            or not action.things
            or action.things[-1].category in ("device", "text", "pronoun")
            or not action.object
        )
        if (
            (action.weak in ("passive", "must") and not passive_text)
            and builder.steps
            and action.things
            and action.things[-1].category == "unknown"
        ):
            vague = True
        if action.weak == "with" and not any(_speaks_of(fact, action) for fact in document.facts):
            vague = True
        if _is_told_before(action, builder):
            vague = True
        if (restated and action.weak != "before") or vague:
            _set(builder, s, a, None)
    builder.steps[:] = [step for step in builder.steps if step.actions]


def _drop_heads(builder: Builder) -> None:
    """As in "4. Remove the board. a) Unscrew it. b) Take it out": the sub-steps are the work, the head its title."""
    steps = builder.steps
    for s, step in enumerate(steps):
        if _is_letter(step.mark):
            continue
        below: list[Action] = []
        for later in steps[s + 1 :]:
            if not _is_letter(later.mark):
                break
            below += later.actions
        if below and len(step.actions) == 1 and _covered(step.actions[0], below):
            steps[s] = replace(step, actions=())
    builder.steps[:] = [step for step in steps if step.actions]


def _is_letter(mark: str) -> bool:
    bare = mark.strip("().[] ")
    return len(bare) == 1 and bare.isalpha() and bare != "o"


def _covered(head: Action, below: list[Action]) -> bool:
    if not head.things or head.fastener:
        return False
    plural = head.things[-1].plural and head.klass in ("disconnect", "connect", "remove")
    return any(
        (_group(other.klass) == _group(head.klass) and same_object(other, head))
        or (plural and other.klass == head.klass)
        for other in below
    ) and head.klass not in ("release", "close")


def _counts(builder: Builder, document: Document) -> None:
    """A count that stands in a legend, a table, before or after the step."""
    last = max((step.line for step in builder.steps), default=builder.line)
    elsewhere = [
        fact for fact in document.facts if fact.kind == "table" and fact not in builder.facts
    ]
    legends = [
        Fact((), (thing,), line, "legend")
        for line, thing, _ in document.legends
        if builder.line - 40 <= line <= last + 40
    ]
    facts = [*builder.facts, *elsewhere, *[fact for fact in legends if fact not in builder.facts]]
    for s, a, action in _flat(builder):
        if (action.count is not None and action.size) or (
            not _counted_elsewhere(action, facts)
            and not action.fastener
            and action.klass not in ("disconnect", "connect", "release", "close")
        ):
            continue
        if not action.things:
            continue
        fact = _fact_for(action, facts)
        if fact is None:
            continue
        thing = next(t for t in fact.things if _same_kind(t, action.things[-1]))
        changes: dict[str, object] = {}
        inferred = list(action.inferred)
        if action.count is None and thing.count is not None and action.things[-1].plural:
            changes["count"] = thing.count
            inferred.append(("count", f"line {fact.line}"))
        if not action.size and thing.size:
            changes["size"] = thing.size
            inferred.append(("size", f"line {fact.line}"))
        if not action.drive and thing.drive:
            changes["drive"] = thing.drive
            inferred.append(("drive", f"line {fact.line}"))
        if changes:
            _set(builder, s, a, replace(action, inferred=tuple(inferred), **changes))  # type: ignore[arg-type]


def _counted_elsewhere(action: Action, facts: list[Fact]) -> bool:
    """As in "pop off the feet, there are four of them": the very same name with a count, within three lines."""
    if not action.things or action.count is not None:
        return False
    name = action.things[-1].name
    return any(
        t.name == name and t.count is not None
        for f in facts
        if abs(f.line - action.line) <= 3
        for t in f.things
    )


def _same_kind(stated: Thing, named: Thing) -> bool:
    if stated.head != named.head:
        return False
    stated_words = {word.lower().rstrip("s") for word in stated.name.split()[:-1]}
    named_words = {word.lower().rstrip("s") for word in named.name.split()[:-1]}
    return not stated_words or not named_words or bool(stated_words & named_words)


def _fact_for(action: Action, facts: list[Fact]) -> Fact | None:
    """The statement that speaks of the same screws: by the label, by the part, else by nearness."""
    named = action.things[-1]
    fitting = [
        fact
        for fact in facts
        if any(_same_kind(t, named) and (t.count is not None or t.size) for t in fact.things)
    ]
    if named.label:
        labelled = [fact for fact in fitting if any(t.label == named.label for t in fact.things)]
        if labelled:
            return labelled[0]
    own = {
        word.lower()
        for name in (*action.joins, action.object)
        for word in name.split()
        if len(word) > 2 and word.lower() not in ("the", "screws", "screw")
    }
    by_part = [
        fact
        for fact in fitting
        if fact.joins and own & {word.lower() for name in fact.joins for word in name.split()}
    ]
    if by_part:
        return min(by_part, key=lambda fact: abs(fact.line - action.line))
    near = [
        fact
        for fact in fitting
        if fact.kind != "table"
        and abs(fact.line - action.line) <= 4
        and (fact.kind == "legend" or not fact.joins or not action.joins)
    ]
    return min(near, key=lambda fact: abs(fact.line - action.line)) if near else None


def _joins(builder: Builder, document: Document) -> None:
    """What screws and cables hold, where the step itself does not say it."""
    rows = _flat(builder)
    for index, (s, a, action) in enumerate(rows):
        if action.fastener and len(action.joins) < 2:
            better = _screw_joins(index, rows, builder, document)
        elif action.klass in ("disconnect", "connect") and (
            len(action.joins) < 2
            or (
                action.joins[0] == action.object
                and action.things
                and action.things[-1].category == "connector"
            )
        ):
            better = _cable_joins(action, builder, document)
        else:
            continue
        if better and better != action.joins:
            name = action.object
            if (
                action.fastener
                and not action.joins
                and len(name.split()) <= 2
                and not name.lower().startswith(better[0].lower())
            ):
                name = f"{better[0]} {name}"
            _set(
                builder,
                s,
                a,
                replace(
                    action,
                    joins=better,
                    object=name,
                    inferred=(*action.inferred, ("joins", "other sentences")),
                ),
            )
            rows[index] = (s, a, builder.steps[s].actions[a])


_NO_PIECE = word_group("refine_no_piece")


def _screw_joins(
    index: int, rows: list[tuple[int, int, Action]], builder: Builder, document: Document
) -> tuple[str, ...]:
    """From a statement near by, else from the part that is moved next (or was placed before)."""
    step, _, action = rows[index]
    stated = _stated_joins(action, builder, document)
    if stated:
        return stated
    known = list(action.joins)
    opening = action.klass in _OPENING
    neighbours = rows[index + 1 : index + 5] if opening else rows[max(0, index - 4) : index][::-1]
    moving = _MOVING if opening else frozenset(["replace", "insert", "slide", "close"])
    for other_step, _, other in neighbours:
        if (
            other.fastener
            or other.klass not in moving
            or not other.things
            or other.things[-1].category in _NO_PIECE
        ):
            continue
        pair = (
            [thing.name for thing in other.things]
            if len(other.things) == 2 and other.klass == "release"
            else [other.object]
        )
        if not known:
            known = pair
        elif not any(_shares(known[0], name) for name in (*pair, *other.joins)):
            return tuple(known)
        hosts = _hosts_of(other, opening=opening, same_step=other_step == step)
        return tuple(
            dict.fromkeys(
                [*known, *[name for name in hosts if not any(_shares(name, old) for old in known)]]
            )
        )
    if not known and _is_piece_name(builder.part, document):
        return (builder.part,)
    return tuple(known)


def _is_piece_name(name: str, document: Document) -> bool:
    """True where the name of a procedure is that of a part, not of the machine or of a chapter."""
    words = tuple(name.lower().split())
    if not words or len(words) > 4 or name.lower() == document.title_part.lower():
        return False
    return document.lexicon.category(words) in (
        "part",
        "board",
        "card",
        "cover",
        "drawer",
        "antenna",
    )


def _stated_joins(action: Action, builder: Builder, document: Document) -> tuple[str, ...]:
    """As in "The fan is held by three screws": what is said about such screws within six lines."""
    known = list(action.joins)
    for fact in [
        *builder.facts,
        *[f for f in document.facts if f not in builder.facts and f.kind != "table"],
    ]:
        speaks = any(
            t.category == "fastener"
            and _same_kind(t, action.things[-1])
            and t.count in (None, action.count)
            for t in fact.things
        )
        near = abs(fact.line - action.line) <= 6
        if (
            fact.joins
            and speaks
            and near
            and (not known or any(_shares(known[0], name) for name in fact.joins))
        ):
            return tuple(dict.fromkeys([*known, *fact.joins]))
    for fact in builder.facts:
        bare = not any(t.category in ("cable", "connector") for t in fact.things)
        if known and bare and len(fact.joins) > 1 and _shares(known[0], fact.joins[0]):
            return (known[0], *[name for name in fact.joins[1:] if not _shares(name, known[0])][:1])
    return ()


def _hosts_of(other: Action, *, opening: bool, same_step: bool) -> list[str]:
    """Where the part that was moved comes from, or goes to."""
    hosts = [*other.joins, *([other.from_] if other.from_ else [])]
    laid = other.verb.split()[0] in _LAYING
    if other.to and not opening and (same_step or not laid):
        hosts.append(re.sub(r"^(?:top|side|back|front|bottom) of ", "", other.to))
    return [name for name in hosts if name.lower().split()[-1] not in _HOLES]


def _shares(left: str, right: str) -> bool:
    one, two = left.lower().split(), right.lower().split()
    return bool(one and two) and (
        one[-1].rstrip("s") == two[-1].rstrip("s") or set(one) <= set(two) or set(two) <= set(one)
    )


def _cable_joins(action: Action, builder: Builder, document: Document) -> tuple[str, ...]:
    """A statement about the cable that was read before, nearest first."""
    if not action.things:
        return action.joins
    named = action.things[-1]
    if action.count == "all" or (named.plural and named.count is None):
        return action.joins
    facts = [
        fact
        for fact in [*builder.facts, *document.facts]
        if len(fact.joins) >= 2 and fact.line <= action.line + 1
    ]

    def distance(fact: Fact) -> tuple[int, int]:
        shared = max((_overlap(t.name, named.name) for t in fact.things), default=0)
        far = (
            action.line - fact.line
            if fact in builder.facts
            else 1000 + abs(action.line - fact.line)
        )
        return -shared, far

    told = _cable_of(action, document)
    for fact in sorted(facts, key=distance):
        cables = [t for t in fact.things if t.category in ("cable", "connector", "antenna")]
        if any(_same_cable(t, named) for t in cables) or _shares(fact.joins[0], named.name):
            return tuple(dict.fromkeys(fact.joins))
    return _on_the_board(told or action.joins, action, builder, document)


def _cable_of(action: Action, document: Document) -> tuple[str, ...]:
    """As in "the switch has two wires on it; those pull off": of a part that the text has just said it of."""
    named = action.things[-1]
    for fact in reversed(document.facts):
        near = 0 <= action.line - fact.line <= 2 * _NEARBY
        if (
            near
            and len(fact.joins) == 1
            and any(t.name == named.name and t.category in _OWN_SIDE for t in fact.things)
        ):
            return tuple(dict.fromkeys([*fact.joins, *action.joins]))
    return ()


def _on_the_board(
    joins: tuple[str, ...], action: Action, builder: Builder, document: Document
) -> tuple[str, ...]:
    """In the procedure of a board a cable of which only one end is named comes off that board."""
    words = tuple(builder.part.lower().split())
    if (
        len(joins) > 1
        or action.from_
        or action.to
        or not words
        or document.lexicon.category(words) != "board"
    ):
        return joins
    own = joins or (own_side(action.things[-1].name),)
    return own if any(_shares(name, builder.part) for name in own) else (*own, builder.part)


def _overlap(left: str, right: str) -> int:
    return len(set(left.lower().split()) & set(right.lower().split()))


def _same_cable(stated: Thing, named: Thing) -> bool:
    """A bare "the cable" is any cable; one with a name before it must share that name."""
    modifiers = set(named.name.lower().split()[:-1])
    if not modifiers:
        return stated.head == named.head or named.head in stated.name.lower().split()
    shared = modifiers & set(stated.name.lower().split())
    return bool(shared) and (
        stated.head == named.head or named.category != stated.category or stated.head in modifiers
    )


def _default_drive(builder: Builder, document: Document) -> None:
    """The one screwdriver of the tool list, where a step names its make but not its size."""
    tools = [*builder.tools, *document.tools]
    drivers = [tool for tool in tools if "driver" in tool.lower() or "phillips" in tool.lower()]
    if len(drivers) != 1:
        return
    for s, a, action in _flat(builder):
        if (
            action.fastener
            and action.drive
            and len(action.drive.split()) == 1
            and action.drive.lower() in drivers[0].lower()
        ):
            size = next(
                (
                    word
                    for word in drivers[0].split()
                    if word[:1] == "#" or word[:2].upper() in ("PH", "PZ")
                ),
                "",
            )
            if size:
                _set(builder, s, a, replace(action, drive=f"{action.drive} {size}"))


def _settle_kind(builder: Builder) -> None:
    """A procedure without a telling heading takes its kind from its actions."""
    if not builder.guessed:
        return
    actions = [action for step in builder.steps for action in step.actions]
    opening = sum(
        action.klass in ("remove", "disconnect", "lift", "peel", "loosen", "release")
        for action in actions
    )
    closing = sum(
        action.klass in ("replace", "insert", "connect", "tighten", "close", "apply")
        for action in actions
    )
    if closing > 2 * opening:
        builder.kind = "refit"
    elif opening and closing >= max(2, opening * 0.4):
        builder.kind = "both"


def sum_counts(counts: list[Count]) -> Count:
    """Sum of whole counts; None where one is missing."""
    whole = [count for count in counts if isinstance(count, int)]
    return sum(whole) if whole and len(whole) == len(counts) else None


def steps_of(builder: Builder) -> tuple[Step, ...]:
    """The steps that are left."""
    return tuple(builder.steps)


def _from_other_halves(document: Document) -> None:
    """What a refit leaves unsaid of the same screws or cable stands in the removal: how many, what they join."""
    told: dict[tuple[str, str], list[tuple[Builder, Action]]] = {}
    for builder in document.builders:
        for _, _, action in _flat(builder):
            if action.klass in _OPENING and action.things and (action.joins or action.count):
                told.setdefault(_half_key(action), []).append((builder, action))
    for builder in document.builders:
        for s, a, action in _flat(builder):
            if action.klass not in _CLOSING or not action.things:
                continue
            if len(action.joins) > 1 and action.count is not None:
                continue
            same = [
                (other, first)
                for other, first in told.get(_half_key(action), ())
                if first.line < action.line
            ]
            if action.fastener:
                same = [pair for pair in same if _same_work(pair[0], builder, pair[1], action)]
            if same:
                _take_over(builder, s, a, action, same[-1][1])


def _half_key(action: Action) -> tuple[str, str]:
    thing = action.things[-1]
    return thing.head, "" if action.fastener else thing.name.lower().rstrip("s")


def _same_work(first: Builder, second: Builder, opened: Action, closed: Action) -> bool:
    if closed.joins and opened.joins:
        return _shares(opened.joins[0], closed.joins[0])
    return bool(first.part) and first.part.lower() == second.part.lower() and not closed.joins


def _take_over(builder: Builder, s: int, a: int, action: Action, opened: Action) -> None:
    changes: dict[str, object] = {}
    inferred = list(action.inferred)
    if len(action.joins) < 2 and len(opened.joins) > len(action.joins):
        changes["joins"] = opened.joins
        inferred.append(("joins", f"line {opened.line}"))
    if (
        action.count is None
        and isinstance(opened.count, int)
        and action.things[-1].plural
        and not action.fastener
    ):
        changes["count"] = opened.count
        inferred.append(("count", f"line {opened.line}"))
    if changes:
        _set(builder, s, a, replace(action, inferred=tuple(inferred), **changes))  # type: ignore[arg-type]


_OWN_SIDE = frozenset(["cable", "connector", "antenna", "film", "tie"])


def _own_sides(builder: Builder) -> None:
    """A cable or film hangs at least on what it is named after; of more the text must speak."""
    for s, a, action in _flat(builder):
        if action.joins or not action.things or action.things[-1].is_pronoun:
            continue
        category = action.things[-1].category
        if action.klass in ("peel", "apply") and category in ("part", "film", "unknown"):
            _set(
                builder,
                s,
                a,
                replace(
                    action,
                    joins=(action.object,),
                    inferred=(*action.inferred, ("joins", "its name")),
                ),
            )
            continue
        wanted = action.klass in ("disconnect", "connect", "peel") and category in _OWN_SIDE
        if wanted and action.count != "all" and len(action.things) == 1:
            owner = (
                own_side(action.things[-1].name) if category != "film" else action.things[-1].name
            )
            _set(
                builder,
                s,
                a,
                replace(action, joins=(owner,), inferred=(*action.inferred, ("joins", "its name"))),
            )

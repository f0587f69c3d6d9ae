"""Second look at a procedure as a whole: restated actions, counts and joins said elsewhere.

Nothing is invented: a value comes from another sentence of the same text, and the action says so in
``inferred``.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import replace

from lastscrew.reading.fact_index import FactIndex
from lastscrew.reading.joining import own_side
from lastscrew.reading.joins_elsewhere import OWN_SIDE, Joiner
from lastscrew.reading.lexicon.groups import word_group
from lastscrew.reading.likeness import NEARBY, OPENING, flat, put, same_kind, shares, spot_of
from lastscrew.reading.model import Action, Count, Fact, Step
from lastscrew.reading.own_procedures import set_apart
from lastscrew.reading.walk_state import Builder, Document

_CLOSING = word_group("refine_closing")
_PARTS_NEAR = 40
"""Lines within which a statement about a part is taken to speak of the same screws."""
_SPAN = 150
"""Actions before and behind that may say the same; procedures are shorter than that."""


def refine(document: Document) -> None:
    """Refine every procedure of ``document`` in place."""
    set_apart(document)
    told = FactIndex(document.facts)
    legends = _legend_index(document)
    for builder in document.builders:
        _drop_restated(builder, told, spoken=document.source.spoken)
        _drop_heads(builder)
        if not document.source.spoken:
            _drop_said_twice(builder)
        own = FactIndex(builder.facts)
        _unscrewed(builder, own)
        _counts(builder, document, own, legends)
        _same_screws_again(builder)
        Joiner(builder, document, own, told).fill_in()
        _default_drive(builder, document)
        _settle_kind(builder)
    _from_other_halves(document)
    for builder in document.builders:
        _own_sides(builder)


def _group(klass: str) -> str:
    return "opening" if klass in OPENING else "closing" if klass in _CLOSING else klass


def same_object(left: Action, right: Action) -> bool:
    """True where two actions name the same thing: equal head, no contradicting words."""
    if not left.things or not right.things:
        return left.object.lower() == right.object.lower()
    one, two = left.things[-1], right.things[-1]
    if one.head != two.head or (left.fastener and not _same_screws(left, right)):
        return False
    first, second = set(one.name.lower().split()), set(two.name.lower().split())
    return first <= second or second <= first or len(first & second) > 1


def _named_anew(action: Action, other: Action, facts: FactIndex) -> bool:
    """As in "The board is held by five screws. When the screws are out, …": not the screws of the lines before."""
    if not action.fastener:
        return False
    low, high = sorted((spot_of(other), spot_of(action)))
    return any(
        same_kind(thing, action.things[-1])
        for fact in facts.between(low + 1, high)
        for thing in fact.things
    )


def _is_told_before(action: Action, builder: Builder) -> bool:
    """As in "You need the knobs off. I took them off first": the prerequisite told again is no step."""
    if action.klass not in ("remove", "lift") or action.fastener or not action.things:
        return False
    if builder.guessed and action.weak == "passive":
        return False  # an essay asks for the plate to be off, and then tells how it comes off
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
    near = 0 <= spot_of(action) - spot_of(fact) <= 2 * NEARBY
    return near and any(same_kind(thing, action.things[-1]) for thing in fact.things)


def _same_screws(left: Action, right: Action) -> bool:
    """Screws with other counts, or that hold other parts, are other screws."""
    counts = [c for c in (left.count, right.count) if isinstance(c, int)]
    if len(counts) == 2 and counts[0] != counts[1]:
        return False
    if not left.joins or not right.joins:
        return len(counts) == 2 or abs(spot_of(left) - spot_of(right)) <= NEARBY
    return any(shares(one, two) for one in left.joins for two in right.joins)


def _plugged_and_moved(left: Action, right: Action) -> bool:
    """As in "the fan goes in, plug it in": two acts on one piece."""
    plugged = [action.klass in ("connect", "disconnect") for action in (left, right)]
    return plugged[0] != plugged[1] and left.things[-1].category in ("part", "board", "card")


def _drop_restated(builder: Builder, facts: FactIndex, *, spoken: bool) -> None:
    """A passive, a reminder or a result counts only where no order says the same."""
    rows = flat(builder)
    told = sum(
        action.weak in ("passive", "must", "done", "result", "with") for _, _, action in rows
    )
    passive_text = told > 1 and 2 * told >= len(rows)
    for index in range(len(rows) - 1, -1, -1):
        s, a, action = rows[index]
        if not action.weak and not _is_told_before(action, builder):
            continue
        first = max(0, index - _SPAN)
        others = [
            other
            for k, (_, _, other) in enumerate(rows[first : index + _SPAN], first)
            if k != index
            and (
                not other.weak
                or (k < index and other.weak != "meant")
                or (action.weak == "meant" and k > index)
                or (action.weak == "must" and spot_of(other) - spot_of(action) <= NEARBY)
            )
        ]
        restated = any(
            _group(other.klass) == _group(action.klass)
            and not (spoken and {other.klass, action.klass} == {"slide", "lift"})
            and not (spoken and action.weak == "result" and _plugged_and_moved(other, action))
            and (other.weak != "must" or action.weak == "must")
            and same_object(other, action)
            and not _named_anew(action, other, facts)
            and (action.weak != "result" or abs(spot_of(other) - spot_of(action)) <= 3 * NEARBY)
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
            and action.things[-1].head not in builder.part.lower().split()
        ):
            vague = True
        if action.weak == "with" and not any(
            _speaks_of(fact, action) for fact in facts.near(spot_of(action), 2 * NEARBY)
        ):
            vague = True
        if _is_told_before(action, builder):
            vague = True
        if (restated and action.weak != "before") or vague:
            put(builder, s, a, None)
        elif action.weak == "must":
            put(builder, s, a, replace(action, weak="passive"))
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
        titled = step.text.rstrip().endswith(":") and not any(a.fastener for a in step.actions)
        if (
            below
            and titled
            and all(a.klass in ("remove", "replace", "other") for a in step.actions)
        ):
            steps[s] = replace(step, actions=())  # "3. Detach the panel from the machine:"
        elif below and len(step.actions) == 1 and _covered(step.actions[0], below):
            steps[s] = replace(step, actions=())
    builder.steps[:] = [step for step in steps if step.actions]


def _drop_said_twice(builder: Builder) -> None:
    """As in "Tighten the nuts. Tighten to 5 Nm", "Pry the panel out. … Remove the panel": one act, told once more."""
    rows = flat(builder)
    for index, (s, a, action) in enumerate(rows):
        if not action.things or action.weak or action.klass not in ("tighten", "remove"):
            continue
        if action.klass == "remove" and (
            action.fastener or action.verb not in ("remove", "take off")
        ):
            continue
        near = 2 if action.klass == "tighten" else _ACTS_NEAR
        for k in range(index - 1, max(-1, index - near - 1), -1):
            earlier = rows[k][2]
            told = earlier.klass == action.klass and earlier.object.lower() == action.object.lower()
            put_back = (
                earlier.klass in ("replace", "insert", "tighten") and action.klass == "remove"
            )
            if put_back and same_object(earlier, action):
                break
            again = told and action.things[-1].category not in ("unknown", "device", "pronoun")
            # "Remove the ring" said twice in the same words may be two rings.
            alone = action.count in (None, earlier.count)
            if action.klass == "remove":
                alone = earlier.verb not in ("remove", "take off")
            apart = action.klass == "tighten" and rows[k][0] != s
            if again and alone and not apart and not (earlier.from_ and action.from_):
                put(builder, s, a, None)
                break
    builder.steps[:] = [step for step in builder.steps if step.actions]


_ACTS_NEAR = 8


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


def _unscrewed(builder: Builder, own: FactIndex) -> None:
    """As in "Unscrew the base plate. It has 16 screws": the screws are what comes out."""
    for s, a, action in flat(builder):
        part = action.things[-1] if action.things else None
        if part is None or action.fastener or action.verb not in ("unscrew", "unbolt"):
            continue
        if part.category not in ("cover", "part", "board", "card") or action.klass != "remove":
            continue
        for fact in own.between(spot_of(action), spot_of(action) + 1):
            screws = next((t for t in fact.things if t.category == "fastener" and t.count), None)
            said = not fact.joins or any(shares(part.name, name) for name in fact.joins)
            if screws is not None and said:
                found = replace(
                    action,
                    things=(screws,),
                    object=f"{action.object} {screws.name}",
                    fastener=screws.head,
                    count=screws.count,
                    size=screws.size,
                    joins=(action.object,),
                    inferred=(*action.inferred, ("count", f"line {fact.line}")),
                )
                put(builder, s, a, found)
                break


def _counts(
    builder: Builder,
    document: Document,
    own: FactIndex,
    legend_index: dict[str, list[tuple[int, Fact]]],
) -> None:
    """A count that stands in a legend, a table, before or after the step."""
    last = max((step.line for step in builder.steps), default=builder.line)
    elsewhere = [fact for fact in document.facts if fact.kind == "table" and fact not in own]
    legends = _legends_for(builder, legend_index, last)
    tables = [fact for fact in own.facts if fact.kind in ("table", "legend")] + elsewhere
    known = {(fact.line, fact.things) for fact in own.facts if fact.kind == "legend"}
    tables += [fact for fact in legends if (fact.line, fact.things) not in known]
    for s, a, action in flat(builder):
        near = [fact for fact in own.near(spot_of(action)) if fact.kind not in ("table", "legend")]
        facts = [*near, *tables]
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
        thing = next(t for t in fact.things if same_kind(t, action.things[-1]))
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
            put(builder, s, a, replace(action, inferred=tuple(inferred), **changes))  # type: ignore[arg-type]


def _legend_index(document: Document) -> dict[str, list[tuple[int, Fact]]]:
    """Legends by their callouts, in the order of the text."""
    index: dict[str, list[tuple[int, Fact]]] = {}
    for line, thing, label in document.legends:
        index.setdefault(label, []).append((line, Fact((), (thing,), line, "legend")))
    return index


def _legends_for(
    builder: Builder, index: dict[str, list[tuple[int, Fact]]], last: int
) -> list[Fact]:
    """Of each callout the nearest legend, the one before the steps rather than one behind; others only near by."""
    chosen: list[Fact] = []
    for label, rows in index.items():
        here = bisect_right(rows, builder.line, key=lambda row: row[0])
        if not label:
            low = bisect_right(rows, builder.line - 41, key=lambda row: row[0])
            high = bisect_right(rows, last + 40, key=lambda row: row[0])
            chosen += [fact for _, fact in rows[low:high]]
            continue
        around = [rows[k] for k in (here - 1, here) if 0 <= k < len(rows)]
        nearest = min(around, key=lambda row: (row[0] > last, abs(builder.line - row[0])))
        chosen.append(nearest[1])
    return chosen


def _same_screws_again(builder: Builder) -> None:
    """As in "Install four bolts. Torque the bolts to 12 Nm": as many as were put in just before."""
    rows = flat(builder)
    for index, (s, a, action) in enumerate(rows):
        thing = action.things[-1] if action.things else None
        if not action.fastener or action.klass != "tighten" or action.count is not None:
            continue
        if thing is None or not thing.plural:
            continue
        for _, _, earlier in reversed(rows[max(0, index - 3) : index]):
            named = next((t for t in earlier.things if t.head == thing.head), None)
            put_in = (
                earlier.klass in ("replace", "insert") and spot_of(action) - spot_of(earlier) <= 3
            )
            if named is not None and put_in and isinstance(earlier.count, int):
                why = (*action.inferred, ("count", f"line {earlier.line}"))
                put(builder, s, a, replace(action, count=earlier.count, inferred=why))
                break


def _counted_elsewhere(action: Action, facts: list[Fact]) -> bool:
    """As in "pop off the feet, there are four of them": the very same name with a count, within three lines."""
    if not action.things or action.count is not None:
        return False
    name = action.things[-1].name
    return any(
        t.name == name and t.count is not None
        for f in facts
        if abs(spot_of(f) - spot_of(action)) <= 3
        for t in f.things
    )


def _fact_for(action: Action, facts: list[Fact]) -> Fact | None:
    """The statement that speaks of the same screws: by the label, by the part, else by nearness."""
    named = action.things[-1]
    fitting = [
        fact
        for fact in facts
        if any(same_kind(t, named) and (t.count is not None or t.size) for t in fact.things)
    ]
    if named.label:
        labelled = [fact for fact in fitting if any(t.label == named.label for t in fact.things)]
        if labelled:
            return labelled[0]
    if named.colour:
        coloured = [
            fact
            for fact in fitting
            if fact.kind == "table" and any(t.colour == named.colour for t in fact.things)
        ]
        if coloured:
            return coloured[0]
    own = {
        word.lower()
        for name in (*action.joins, action.object)
        for word in name.split()
        if len(word) > 2 and word.lower() not in ("the", "screws", "screw")
    }
    by_part = [
        fact
        for fact in fitting
        if fact.joins
        and (
            fact.kind in ("table", "legend") or abs(spot_of(fact) - spot_of(action)) <= _PARTS_NEAR
        )
        and own & {word.lower() for name in fact.joins for word in name.split()}
    ]
    if by_part:
        return min(by_part, key=lambda fact: _less_like(fact, action, own))
    anew = max(
        (
            spot_of(fact)
            for fact in facts
            if fact.kind not in ("table", "legend")
            and spot_of(fact) <= spot_of(action)
            and any(same_kind(t, named) for t in fact.things)
            and own & {word.lower() for name in fact.joins for word in name.split()}
        ),
        default=0,
    )
    near = [
        fact
        for fact in fitting
        if (spot_of(fact) >= anew or fact.kind == "legend")
        and fact.kind != "table"
        and abs(spot_of(fact) - spot_of(action)) <= 4
        and (fact.kind == "legend" or not fact.joins or not action.joins)
    ]
    return min(near, key=lambda fact: abs(spot_of(fact) - spot_of(action))) if near else None


def _less_like(fact: Fact, action: Action, own: set[str]) -> tuple[bool, int, int]:
    """How far a statement is from the screws of a step: another number, fewer words shared, further away."""
    counts = {thing.count for thing in fact.things if same_kind(thing, action.things[-1])}
    other_number = action.count is not None and not counts & {None, action.count}
    shared = own & {word.lower() for name in fact.joins for word in name.split()}
    return other_number, -len(shared), abs(spot_of(fact) - spot_of(action))


def _default_drive(builder: Builder, document: Document) -> None:
    """The one screwdriver of the tool list, where a step names its make but not its size."""
    tools = [*builder.tools, *document.tools]
    drivers = [tool for tool in tools if "driver" in tool.lower() or "phillips" in tool.lower()]
    if len(drivers) != 1:
        return
    for s, a, action in flat(builder):
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
                put(builder, s, a, replace(action, drive=f"{action.drive} {size}"))


_PLACING = frozenset(["place", "put", "set", "lay", "position"])
_NEVER_PLACED = frozenset(["film", "supply", "residue", "tool", "body", "device", "text", "pronoun", "place", "cable", "connector"])  # fmt: skip  # noqa: E501


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
        _placed_in_it(builder)
    elif opening and closing >= max(2, opening * 0.4):
        builder.kind = "both"


def _placed_in_it(builder: Builder) -> None:
    """As in "Lay the board on the standoffs": once the half is known to be a refit, what is placed is put in."""
    for s, a, action in flat(builder):
        words = action.verb.split()
        if (
            action.klass == "other"
            and words
            and words[0] in _PLACING
            and not {"aside", "away", "down"} & set(words)
            and action.things
            and action.things[-1].category not in _NEVER_PLACED
            and not word_group("meaning_bench") & set((action.to or "").lower().split())
        ):
            put(builder, s, a, replace(action, klass="replace"))


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
        for _, _, action in flat(builder):
            if action.klass in OPENING and action.things and (action.joins or action.count):
                told.setdefault(_half_key(action), []).append((builder, action))
    for builder in document.builders:
        for s, a, action in flat(builder):
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
        return shares(opened.joins[0], closed.joins[0])
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
        put(builder, s, a, replace(action, inferred=tuple(inferred), **changes))  # type: ignore[arg-type]


def _own_sides(builder: Builder) -> None:
    """A cable or film hangs at least on what it is named after; of more the text must speak."""
    for s, a, action in flat(builder):
        if action.joins or not action.things or action.things[-1].is_pronoun:
            continue
        category = action.things[-1].category
        if action.klass in ("peel", "apply") and category in ("part", "film", "unknown"):
            put(
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
        owners = _owners(action)
        if owners:
            told = (*action.inferred, ("joins", "its name"))
            put(builder, s, a, replace(action, joins=owners, inferred=told))


def _owners(action: Action) -> tuple[str, ...]:
    """What the things that are unplugged or peeled off are named after; a part that has a plug stands for itself."""
    last = action.things[-1]
    if action.klass not in ("disconnect", "connect", "peel") or action.count == "all":
        return ()
    if last.category == "film":
        return (last.name,) if len(action.things) == 1 else ()
    if last.category in OWN_SIDE:
        bare = own_side(last.name) == last.name
        if bare and action.owner and len(action.things) == 1:
            return (own_side(action.owner),)
        return (own_side(last.name),) if len(action.things) == 1 else ()
    plugged = action.klass != "peel" and last.category in ("part", "board", "card", "drawer")
    return (last.name,) if plugged and len(action.things) == 1 else ()

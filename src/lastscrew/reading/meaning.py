"""From a verb with its surroundings to an action: class, object, count, what it joins.

The context (:class:`Memory`) carries what was named before, what the text stated about cables and
screws, and whether the machine is being taken apart or put together.
"""

from __future__ import annotations

import re
from dataclasses import replace

from lastscrew.reading.joining import joins_of
from lastscrew.reading.lexicon import Lexicon
from lastscrew.reading.lexicon.groups import word_group
from lastscrew.reading.memory import Memory, known_object
from lastscrew.reading.model import Action, Count, Thing
from lastscrew.reading.object_left_out import object_left_out
from lastscrew.reading.owners import is_bare, owner_of
from lastscrew.reading.predicates import Found
from lastscrew.reading.verb_classes import class_of

LINK_CATEGORIES = word_group("meaning_link_categories")

_CLOSERS_WITH_SCREWS = word_group("meaning_closers_with_screws")

_REFITTERS_WITH_SCREWS = word_group("meaning_refitters_with_screws")

_SITTING = frozenset(["clip", "snap", "screw", "plug", "bolt", "hook", "push", "press", "slot"])
_COATED = word_group("meaning_coated")

_FASTENER_NAMES = {
    "shcs": "screw",
    "bhcs": "screw",
    "fhcs": "screw",
    "capscrew": "screw",
    "machine-screw": "screw",
    "hexnut": "nut",
    "t-nut": "nut",
    "tnut": "nut",
    "thumb-screw": "thumbscrew",
}


def actions_from(found: Found, memory: Memory, line: int, sentence: str) -> list[Action]:
    """All actions that one verb phrase stands for, in the order in which they are done."""
    if _orders_nothing(found, memory):
        return []
    fresh = any(t.name.lower().startswith(("new ", "fresh ", "replacement ")) for t in found.things)
    if fresh and found.weak == "result":
        return _one(found, memory, line, sentence)
    sits = (
        found.weak == "passive"
        and found.lemma in _SITTING
        and found.particle in ("in", "on", "down")
    ) or (
        found.weak == "passive"
        and found.lemma in ("push", "press", "slide")
        and found.to_word in ("onto", "into", "on", "over")
        and not found.particle
        and bool(found.things)
        and found.things[-1].category in ("cable", "connector", "pronoun")
    )
    told_how = found.weak == "result" and any(t.category == "fastener" for t in found.means)
    if told_how and memory.spoken and not memory.refitting and found.lemma == "come":
        memory.mention(*found.things, *found.means)  # "the housing comes apart with six screws"
        return []
    if (found.weak == "result" or sits) and not memory.refitting and _puts_in(found, memory):
        memory.mention(*found.things)
        return []
    if found.lemma == "go" and not memory.refitting and not found.key.endswith("back"):
        return []
    rows: list[Action] = []
    main_needed = True
    if found.by:
        memory.mention(*[t for t in found.things if not t.is_pronoun])
    manners = [
        action for by in found.by for action in _one(by, memory, line, sentence, inherit=found)
    ]
    own = _with_holders(found, _one(found, memory, line, sentence), memory, line, sentence)
    if own and own[0].fastener and own[0].klass == "remove":
        manners = [m for m in manners if m.klass != "loosen" or not _same_object(m, own[0])]
    if own and own[0].klass == "disconnect" and len(own[0].joins) > 1:
        # "Disconnect the lead from the stud by removing its nut": the nut holds the lead.
        held = (own[0].object, *own[0].joins[1:])
        manners = [
            replace(m, joins=held, object=f"{held[0]} {m.object}")
            if m.fastener and not m.joins
            else m
            for m in manners
        ]
    if found.weak == "passive" and own and own[0].object and not own[0].fastener:
        manners = [
            replace(m, joins=(own[0].object,)) if m.fastener and not m.joins else m for m in manners
        ]
    if found.weak == "done" and found.things and found.things[0].is_pronoun:
        own = [row for row in own if row.fastener]
    if own and own[0].object:
        manners = [m for m in manners if not m.things or m.things[-1].category != "place"]
    if manners and own:
        main_needed = not any(
            _same_object(manner, own[0])
            and manner.klass not in ("other", "release")
            and own[0].klass not in ("disconnect", "peel", "connect")
            for manner in manners
        )
        if own[0].klass in ("disconnect", "peel", "connect", "release", "close"):
            if main_needed:  # else "… and sliding it back" is what frees the collar
                manners = [m for m in manners if not _same_object(m, own[0])]
            manners = [m for m in manners if m.klass != "other"]
            unplugged = found.things and own[0].klass == "disconnect"
            manners = [
                m
                for m in manners
                if not (unplugged and m.verb in ("squeeze", "pinch", "press") and _its(found))
                and not (unplugged and m.verb == "pull" and m.klass == "remove")
            ]
        manners = (
            [m for m in manners if m.klass != "other"]
            if any(m.klass != "other" for m in manners)
            else []
        )
        same = [
            m
            for m in manners
            if m.klass == own[0].klass == "tighten"
            or (m.klass == own[0].klass and not own[0].fastener and m.fastener)
        ]
        if same:
            main_needed = False
            manners = [
                replace(m, joins=m.joins or (own[0].object,)) if m in same and m.fastener else m
                for m in manners
            ]
        main_needed = not same and (main_needed or not manners)
    rows += manners
    if main_needed:
        rows += own
    purpose = found.purpose
    if purpose is not None and own and not own[0].object and not manners:
        return _one(purpose, memory, line, sentence)
    if purpose is not None and own:
        rows += _purposes(purpose, rows, memory, line, sentence)
    return rows


def _orders_nothing(found: Found, memory: Memory) -> bool:
    """True for what is only named or asked of somebody; screws named alone get the verb of their half."""
    if found.lemma in ("ask", "tell", "remind") and found.purpose is not None:
        return True  # "ask your trainer to take off the padlock"
    if found.lemma in ("go", "come") and found.weak not in ("result", "passive"):
        return True
    if found.weak == "more":
        found.weak = ""
        found.lemma = found.key = "tighten" if memory.refitting else "remove"
    whole = found.things and found.things[0].is_pronoun and found.things[0].head == "everything"
    if memory.spoken and found.weak == "result" and whole:
        return True  # "then everything goes together again"
    if found.weak == "listed":
        if not memory.refitting:
            memory.mention(*found.things)
            return True
        found.weak = ""
    return False


def _with_holders(
    found: Found, own: list[Action], memory: Memory, line: int, sentence: str
) -> list[Action]:
    """As in "Remove the cover (six screws)": the screws come out before it, and go in behind it on the way back."""
    if not found.held_by or len(own) != 1 or own[0].fastener:
        return own
    opening = own[0].klass in ("remove", "lift", "slide", "release")
    if not opening and own[0].klass not in ("replace", "insert", "close", "tighten"):
        return own
    loose = any(thing.captive for thing in found.held_by)
    lemma = "tighten" if not opening else "loosen" if loose else "remove"
    holder = Found(lemma, lemma, found.position, condition=found.condition, weak=found.weak)
    rows = [
        replace(
            _action(holder, group, memory, line, sentence),
            joins=tuple(
                dict.fromkeys(n for n in (own[0].object, own[0].from_) if n and "," not in n)
            ),
            inferred=(("class", "said in passing"),),
        )
        for group in _groups(found.held_by)
    ]
    rows = [replace(row, object=f"{own[0].object} {row.object}") for row in rows]
    if own[0].klass == "tighten":  # "Screw the lid onto the case (four screws)"
        both = tuple(dict.fromkeys(name for name in (own[0].object, own[0].to) if name))
        return [replace(row, joins=both, inferred=()) for row in rows]
    if found.lemma in ("unscrew", "undo", "unbolt"):
        return rows  # "Unscrew the lid: four M3x6"
    return [*rows, *own] if opening else [*own, *rows]


def _puts_in(found: Found, memory: Memory) -> bool:
    """As in "the fan just clips on", told while the machine is taken apart: it says how the fan sits."""
    verb = memory.lexicon.verbs[found.key]
    category = found.things[-1].category if found.things else "unknown"
    back = found.particle == "back" or found.key.endswith(" back")
    return not back and verb.class_of(category, refitting=True) in (
        "replace",
        "insert",
        "connect",
        "close",
        "tighten",
        "apply",
    )


def _purposes(
    purpose: Found, rows: list[Action], memory: Memory, line: int, sentence: str
) -> list[Action]:
    """As in "Pull the tab to disconnect the cable": the purpose is the work, unless another sentence tells it."""
    if not all(row.klass in ("other", "release") for row in rows):
        return []
    wanted = (
        ("disconnect", "remove")
        if any(row.klass == "release" for row in rows)
        else (
            "disconnect",
            "remove",
            "release",
            "peel",
            "slide",
            "insert",
            "connect",
            "tighten",
            "close",
            "loosen",
        )
    )
    return [
        replace(row, weak="purpose")
        for row in _one(purpose, memory, line, sentence)
        if row.klass in wanted and row.object and row.things and not row.things[-1].is_pronoun
    ]


def _its(found: Found) -> bool:
    """As in "disconnect the plugs by squeezing their latches": no act apart from the disconnecting."""
    return any(thing.article in ("its", "their") for by in found.by for thing in by.things)


def _same_object(left: Action, right: Action) -> bool:
    return left.object == right.object or bool(
        left.things and right.things and left.things[-1].head == right.things[-1].head
    )


def _leads_on(things: list[Thing]) -> tuple[list[Thing], list[Thing]]:
    """As in "Remove two nuts, lockwashers and leads from the studs": the nuts, and the leads that they hold."""
    nuts = [thing for thing in things if thing.category == "fastener" and thing.count is not None]
    leads = [t for t in things if t.category in ("cable", "connector") and t.article == ""]
    bare = (
        all(lead.count is None or lead.count == nuts[0].count for lead in leads) if nuts else False
    )
    if not nuts or not leads or not bare or len(leads) > 1:
        return things, []
    return [thing for thing in things if thing not in leads], leads


def _one(
    found: Found, memory: Memory, line: int, sentence: str, inherit: Found | None = None
) -> list[Action]:
    _end_of_cable(found)
    things = _resolved(found, memory, inherit) or object_left_out(found, memory, sentence)
    if memory.spoken:
        found.from_ = [_place_meant(t, memory, things) for t in found.from_]
    if found.until is not None and found.lemma in ("press", "push", "squeeze", "snap"):
        things = [found.until]
    if found.lemma in ("remove", "install", "replace", "refit") and (found.from_ or found.at):
        things, leads = _leads_on(things)
        if leads:
            found.holds = [*found.holds, *leads]
            found.held_to = [*found.held_to, *found.from_, *found.at]
    groups = _groups(things, plugged=found.lemma in _PLUGGING)
    actions = [_action(found, group, memory, line, sentence) for group in groups]
    memory.mention_place(*found.from_, *found.to, *found.at, *found.held_to)
    if things and all(_on_a_piece(thing, found, memory) for thing in things):
        # "Remove the screws of the board and take it out": it is the board, not what was named before.
        grips = things[0].category in ("body", "tool")
        memory.mention(*found.at, *found.from_, *(found.to if grips else ()))
    if not found.said:
        memory.mention(*found.holds, *found.means, *[t for t in things if not t.is_pronoun])
    if found.purpose is not None:
        memory.mention(
            *[t for t in found.purpose.things if not t.is_pronoun and t.category != "unknown"]
        )
    spread = [t for t in found.means if t.category in ("supply", "residue", "film")]
    if spread and found.lemma in _COATED:
        coated = replace(found, things=spread, to=[*things, *found.to], means=[])
        return [replace(_action(coated, spread, memory, line, sentence), klass="apply")]
    screws = [
        thing
        for thing in found.means
        if thing.category == "fastener"
        or (
            thing.category == "tie"
            and found.lemma in _CLOSERS_WITH_SCREWS
            and found.lemma not in ("hold", "lock")
        )
    ]
    screws = [thing for thing in screws if thing.head not in ("washer", "lockwasher")]
    laid = found.lemma in ("put", "set", "keep", "lay", "place") and not memory.refitting
    if screws and not laid:
        actions = _with_screws(found, things, screws, actions, memory, line, sentence)
    return actions


def _on_a_piece(thing: Thing, found: Found, memory: Memory) -> bool:
    """As in "press the tabs of the grille and pull it off", "lay a hand on the lid and slide it": it is the piece."""
    if thing.category in ("lock", "clip", "button"):
        return not memory.refitting and found.lemma in (
            "press",
            "push",
            "squeeze",
            "depress",
            "pinch",
        )
    return thing.category in ("fastener", "body", "tool")


def _end_of_cable(found: Found) -> None:
    """As in "Pull out the terminal of the earth lead": what is unplugged is the lead."""
    own, whole = found.things, found.holds
    if len(own) == len(whole) == 1 and " " not in own[0].name and not whole[0].is_pronoun:
        if own[0].category == "connector" and whole[0].category == "cable":
            found.things, found.holds = [replace(whole[0], count=own[0].count)], []


def _place_meant(thing: Thing, memory: Memory, things: list[Thing]) -> Thing:
    """As in "undo the clamp and get the cable out of it": out of the clamp."""
    if thing.name not in ("it", "that", "this"):
        return thing
    own = {t.head for t in things}
    near = (t for t in reversed(memory.mentioned[-4:]) if t.head not in own and not t.plural)
    return next(near, thing)


def _resolved(found: Found, memory: Memory, inherit: Found | None) -> list[Thing]:
    things: list[Thing] = []
    for thing in found.things:
        if thing.is_pronoun:
            other = (
                memory.resolve(thing, found.key if known_object(found.key) else found.lemma)
                if thing.name
                else memory.resolve(replace(thing, name="it", head="it"), found.lemma)
                if thing.count == 1 and thing.article in ("that", "this")
                else _counted(thing, memory, found.lemma)
            )
            if inherit is not None and inherit.things and thing.name in ("it", "them"):
                other = inherit.things[-1] if not inherit.things[-1].is_pronoun else other
            if other is not None:
                things += _named_beside(other, thing, memory)
                own = thing.count is not None and not (thing.count == "all" and other.count)
                count = thing.count if own else other.count
                things.append(replace(other, count=count, article="the"))
            else:
                things.append(thing)
        elif memory.spoken and thing.head == "half" and (plug := memory.last_connector()):
            things.append(replace(plug, article="the"))  # "pull the two halves apart"
        else:
            placed = bool(found.at or found.holds) and thing.category in ("film", "cover")
            full = thing.name if placed else memory.full_name(thing)
            category = thing.category
            bare = re.sub(r"^(?:new|old) ", "", thing.name.lower())
            if category in ("lock", "clip", "button", "tool") and bare in memory.titled:
                category = "part"
            if full != thing.name and (" " in full or "-" in full):
                known = memory.lexicon.category(tuple(full.lower().split()))
                category = known if known != "unknown" else category
            count = _just_counted(thing, memory)
            things.append(replace(thing, name=full, category=category, count=count))
    if not things and inherit is not None:
        return list(inherit.things)
    if not things and found.lemma in ("tighten", "retighten", "torque"):
        screws = [thing for thing in memory.mentioned[-5:] if thing.category == "fastener"]
        return [replace(screws[-1], article="the")] if screws else things
    return things


def _named_beside(last: Thing, pronoun: Thing, memory: Memory) -> list[Thing]:
    """As in "held by four screws and two studs, remove them all": those named in the same breath, too."""
    if pronoun.count != "all" or last.category != "fastener" or len(memory.mentioned) < 2:
        return []
    earlier = memory.mentioned[-2]
    both = memory.mentioned[-1] == last and earlier.category == "fastener" and earlier.plural
    return [replace(earlier, article="the")] if both and earlier.head != last.head else []


def _just_counted(thing: Thing, memory: Memory) -> Count:
    """As in "Set the ring on its three nuts. Tighten the nuts.": as many as were counted just before."""
    told = thing.count is not None or not thing.plural or " " in thing.name
    told = told or bool(thing.label)
    if told or thing.category != "fastener" or thing.article not in ("the", "these", "those"):
        return thing.count
    near = [t for t in (*memory.mentioned[-1:], *memory.aside[-1:]) if t.head == thing.head]
    counted = [t.count for t in near if isinstance(t.count, int) and t.count > 1]
    return counted[-1] if counted else None


_SCREWED = frozenset(["unscrew", "undo", "tighten", "loosen", "unbolt", "slacken", "screw"])


def _counted(thing: Thing, memory: Memory, lemma: str = "") -> Thing | None:
    """As in "remove two", "the other three": of what was named last in the plural; unscrewed are screws.

    "All of those" are as many as were counted before.
    """
    found = _counted_of(thing, memory, lemma)
    if found is None or thing.count != "all":
        return found
    for earlier in reversed(memory.mentioned[-10:]):
        if earlier.head == found.head and isinstance(earlier.count, int) and earlier.count > 1:
            return replace(found, count=earlier.count)
    return found


def _counted_of(thing: Thing, memory: Memory, lemma: str = "") -> Thing | None:
    """What "two", "the other three", "all" are said of."""
    if lemma in _SCREWED or (memory.spoken and lemma in ("nip", "snug", "start")):
        screws = [t for t in reversed(memory.mentioned[-10:]) if t.category == "fastener"]
        plain = [t for t in screws[:2] if t.head != "washer"]  # "four screws with washers"
        for earlier in (*plain, *screws):
            name = earlier.name if earlier.plural else f"{earlier.name}s"
            return replace(earlier, name=name, count=thing.count, plural=True)
    if memory.spoken and lemma in ("take", "get", "pull", "whip", "zip", "remove"):
        near = [t for t in memory.mentioned[-3:] if t.category == "fastener"]
        if near and memory.mentioned[-1].category != "cable":
            name = near[-1].name if near[-1].plural else f"{near[-1].name}s"
            return replace(near[-1], name=name, count=thing.count, plural=True)
    if memory.spoken and isinstance(thing.count, int) and 1 < thing.count <= len(memory.mentioned):
        singles = memory.mentioned[-thing.count :]
        last = singles[-1]
        if all(t.head == last.head and t.count in (None, 1) and not t.plural for t in singles):
            # "There's a plug for the motor and a plug for the sensor, I pull those two."
            return replace(last, name=f"{last.name}s", count=thing.count, plural=True)
    same = [t for t in memory.mentioned[-10:] if t.plural and t.count == thing.count]
    for earlier in [*reversed(same), *reversed(memory.mentioned)]:
        if earlier.plural:
            return replace(earlier, count=thing.count, size=thing.size or earlier.size)
    return None


_HOSTS = frozenset(["part", "cover", "board", "card", "drawer"])
_AT_BOTH = re.compile(r"\b(?:at|on) (?:both|either) (?:ends?|sides?)\b", re.IGNORECASE)


def _groups(things: list[Thing], *, plugged: bool = False) -> list[list[Thing]]:
    """Screws and parts named in one breath are two actions; several parts are one.

    Washers come with their screws, and "four nuts, washers and bolts" are one kind of fastening. Whatever is
    ``plugged`` together is one: "reconnect the motors, the limit switch and the earth strap".
    """
    if len(things) < 2 or (plugged and all(thing.category in _PLUGGED for thing in things)):
        return [things]
    if any(thing.category == "fastener" and thing.head not in _WASHERS for thing in things):
        things = [t for t in things if t.head not in _WASHERS or t.article not in ("", "a")]
    groups: list[list[Thing]] = []
    for thing in things:
        last = groups[-1][-1] if groups else None
        kind = _KINDS.get(thing.category, "part")
        alike = last is not None and kind == _KINDS.get(last.category, "part")
        if last is not None and alike and (kind != "fastener" or _fastened_together(last, thing)):
            groups[-1].append(thing)
        else:
            groups.append([thing])
    return groups


_KINDS = {"fastener": "fastener", "cable": "link", "connector": "link", "film": "film"}
_PLUGGED = frozenset(
    ["cable", "connector", "part", "board", "card", "button", "antenna", "power", "unknown"]
)
_PLUGGING = frozenset(["connect", "reconnect", "disconnect", "unplug", "plug"])
_WASHERS = frozenset(["washer", "lockwasher", "lock-washer"])


def _fastened_together(first: Thing, second: Thing) -> bool:
    """As in "four locknuts and bolts": the bolts of those nuts, as many as they."""
    nuts = "nut" in first.head or "nut" in second.head
    bare = second.article == "" and second.plural == first.plural and second.head != first.head
    return nuts and bare and first.count is not None and first.count == second.count


def _action(found: Found, things: list[Thing], memory: Memory, line: int, sentence: str) -> Action:
    lexicon = memory.lexicon
    last = things[-1] if things else None
    category = last.category if last is not None else "unknown"
    if (
        things
        and any(thing.category in ("cable", "connector") for thing in things)
        and category in ("part", "unknown")
    ):
        category = "cable"
    klass = class_of(found, category, memory, sentence, last)
    is_fastener = category == "fastener"
    beside = (
        memory.spoken
        and memory.refitting
        and is_fastener
        and found.things
        and things != found.things
    )
    if (
        beside
        and klass in ("other", "close", "replace", "insert")
        and isinstance(things[0].count, int)
    ):
        if found.things[0].category != "fastener":
            klass = "tighten"  # "line up the arrows and six screws"
    joins = joins_of(found, things, memory, klass)
    first_fastener = next((thing for thing in things if thing.category == "fastener"), None)
    count = _count(things, klass)
    if count is None and is_fastener:
        count = _range_count(sentence)
    if count is None and category == "lock" and last is not None and last.plural:
        count = 2 if _AT_BOTH.search(sentence) else None  # "the levers at both ends"
    screwed = is_fastener or any(thing.category == "fastener" for thing in things)
    drive = next((t.drive for t in things if t.drive), "") or found.tool_drive if screwed else ""
    name = _object_name(things, joins, is_fastener=is_fastener)
    if category == "connector" and len(things) == len(found.holds) == 1 and found.holds[0].name:
        if found.holds[0].category == "cable" and not memory.spoken:
            name = f"{found.holds[0].name} {name}"  # "the flat plug of the earth lead"
    if (
        category in ("lock", "clip", "connector", "button")
        and len(things) == 1
        and is_bare(name, memory)
    ):
        place = next(
            (
                memory.full_name(t)
                for t in [*found.at, *found.from_]
                if not t.is_pronoun
                and t.category
                in ("board", "part", "card", "cover", "cable", "connector", "lock", "unknown")
            ),
            "",
        )
        name = f"{place} {name}" if place and len(place.split()) <= 3 else name
    bare = last is not None and len(things) == 1 and name == last.name
    return Action(
        klass=klass,
        verb=found.key,
        object=name,
        things=tuple(things),
        count=count,
        fastener=_FASTENER_NAMES.get(first_fastener.head, first_fastener.head)
        if first_fastener
        else "",
        size=next((thing.size for thing in things if thing.size), "") if screwed else "",
        drive=drive,
        head_form=next((thing.head_form for thing in things if thing.head_form), ""),
        colour=next((thing.colour for thing in things if thing.colour), ""),
        captive=any(thing.captive for thing in things),
        joins=joins,
        from_=", ".join(memory.full_name(thing) for thing in found.from_ if not thing.is_pronoun),
        to=" and ".join(memory.full_name(thing) for thing in found.to if not thing.is_pronoun),
        optional=any(thing.optional for thing in things),
        order=_order(sentence, lexicon) if is_fastener or klass in ("tighten", "loosen") else "",
        tool=found.tool,
        line=line,
        condition=found.condition,
        weak=found.weak,
        new=" new " in f" {name} ",
        owner=owner_of(last, memory, found.at) if bare and last is not None else "",
    )


_RANGE = re.compile(
    r"\b(?:label\w*|marked|numbered|screws|bolts|nuts)\s+(?:with\s+)?[(#]?\s*#?(\d{1,2})\s*(?:through|thru|to|-|–|\.\.\.?)\s*#?(\d{1,2})\b",
    re.IGNORECASE,
)


def _range_count(sentence: str) -> Count:
    """As in "screws labelled 1 through 4" (four) and "6 x M2.5 x 8, 2 x M2 x 4" (eight)."""
    match = _RANGE.search(sentence)
    if match and int(match[1]) == 1 and int(match[2]) > 1:
        return int(match[2])
    parts = re.findall(r"\b(\d{1,2})\s?[x×]\s?M\d", sentence)
    return sum(int(part) for part in parts) if len(parts) > 1 else None


def _order(sentence: str, lexicon: Lexicon) -> str:
    low = sentence.lower()
    if any(phrase in low for phrase in lexicon.phrases["crosswise_order"]):
        return "crosswise"
    if any(phrase in low for phrase in lexicon.phrases["numbered_order"]):
        return "numbered"
    return "numbered" if _SEQUENCE.search(low) else ""


_SEQUENCE = re.compile(r"\b(?:\d{1,2}\s*[-–→~]\s*){2,}\d{1,2}\b")
"""As in "4-3-2-1"."""


def _count(things: list[Thing], klass: str) -> Count:
    if all(thing.category == "fastener" for thing in things):
        things = things[:1]  # "four nuts and bolts": four of each
    row = len(things) > 1 and all(t.category in ("cable", "connector") for t in things)
    if row and not any(thing.plural or thing.count for thing in things):
        return len(things)  # "the LCD ribbon, touch ribbon and side key ribbon"
    counts = [_own_count(thing, klass) for thing in things]
    if not counts or any(count is None for count in counts):
        return (
            next((count for count in counts if count is not None), None)
            if len(counts) == 1
            else None
        )
    if "all" in counts:
        return "all"
    return sum(count for count in counts if isinstance(count, int))


def _own_count(thing: Thing, klass: str) -> Count:
    if thing.count is not None:
        return thing.count
    single = not thing.plural and thing.article in (
        "the",
        "a",
        "an",
        "this",
        "that",
        "its",
        "one",
        "your",
        "another",
    )
    called_out = bool(thing.label) and not thing.plural and not thing.article
    if called_out and thing.category == "fastener" and thing.head != "fastener":
        return 1  # "by removing nut (4)", in note form
    worked = klass in ("release", "close") and thing.category in ("lock", "clip", "button")
    countable = thing.category in ("fastener", "cable", "connector", "tie") or worked
    if single and (countable or klass in ("disconnect", "loosen")):
        return 1
    return None


def _object_name(things: list[Thing], joins: tuple[str, ...], *, is_fastener: bool) -> str:
    names = [thing.name for thing in things if thing.name]
    name = " and ".join([", ".join(names[:-1]), names[-1]]) if len(names) > 1 else "".join(names)
    if (
        is_fastener
        and joins
        and len(name.split()) <= 2 * len(things) + (len(things) > 1)
        and all(thing.category == "fastener" for thing in things)
        and joins[0].lower() not in name.lower()
    ):
        return f"{joins[0]} {name}"
    return name


def _with_screws(
    found: Found,
    things: list[Thing],
    screws: list[Thing],
    actions: list[Action],
    memory: Memory,
    line: int,
    sentence: str,
) -> list[Action]:
    """As in "Secure the fan to the frame with four screws": the screws are what is tightened."""
    if found.lemma not in _CLOSERS_WITH_SCREWS and found.lemma not in _REFITTERS_WITH_SCREWS:
        return actions
    parts = [thing for thing in things if thing.category not in ("fastener", "tool", "text")]
    hosts = [*found.to, *[t for t in found.at if t.category in _HOSTS and not memory.spoken]]
    held = [
        thing.of if thing.category == "place" and thing.of else memory.full_name(thing)
        for thing in parts
        if thing.name
    ] + [memory.full_name(thing) for thing in hosts if thing.category not in ("place", "text")]
    holder = Found(
        found.lemma,
        found.key,
        found.position,
        things=screws,
        tool=found.tool,
        tool_drive=found.tool_drive,
        condition=found.condition,
        weak=found.weak,
    )
    rows = []
    for group in _groups(screws):
        row = _action(holder, group, memory, line, sentence)
        row = replace(row, klass="tighten", joins=tuple(dict.fromkeys(held or row.joins)), to="")
        if len(row.object.split()) <= 1 and held:
            row = replace(row, object=f"{held[0]} {row.object}")
        rows.append(row)
    keep = (
        found.lemma in _REFITTERS_WITH_SCREWS
        and things
        and (found.lemma not in ("put", "set", "position") or found.particle == "back")
    )
    return [*actions, *rows] if keep else rows

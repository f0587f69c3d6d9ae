"""From a verb with its surroundings to an action: class, object, count, what it joins.

The context (:class:`Memory`) carries what was named before, what the text stated about cables and
screws, and whether the machine is being taken apart or put together.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace

from lastscrew.reading.lexicon import Lexicon
from lastscrew.reading.model import Action, Count, Fact, Thing
from lastscrew.reading.predicates import Found

LINK_CATEGORIES = frozenset(
    ["fastener", "cable", "connector", "antenna", "tie", "film", "clip", "lock", "power"]
)
_CLOSERS_WITH_SCREWS = frozenset(
    [
        "secure",
        "attach",
        "fix",
        "fasten",
        "mount",
        "hold",
        "screw",
        "bolt",
        "tighten",
        "reattach",
        "affix",
        "join",
        "resecure",
        "refasten",
        "lock",
        "clamp",
        "tie",
        "retighten",
        "anchor",
    ]
)
_REFITTERS_WITH_SCREWS = frozenset(
    [
        "replace",
        "install",
        "reinstall",
        "refit",
        "put",
        "place",
        "fit",
        "remount",
        "restore",
        "return",
        "insert",
        "position",
        "set",
    ]
)
_SLOTS = frozenset(
    [
        "slot",
        "socket",
        "bay",
        "channel",
        "guide",
        "opening",
        "recess",
        "holder",
        "cradle",
        "cavity",
        "track",
        "rail",
        "groove",
        "position",
    ]
)
_BENCH = frozenset(
    [
        "table",
        "desk",
        "workbench",
        "bench",
        "surface",
        "mat",
        "floor",
        "side",
        "cloth",
        "front",
        "back",
        "face",
        "bag",
        "container",
        "tray",
    ]
)
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
_UP_WORDS = frozenset(
    [
        "up",
        "open",
        "upward",
        "upwards",
        "away",
        "out",
        "off",
        "back",
        "unlocked",
        "counterclockwise",
        "outward",
        "anticlockwise",
    ]
)
_DOWN_WORDS = frozenset(["down", "closed", "downward", "downwards", "shut", "locked"])


@dataclass
class Memory:
    """What the text has named and stated so far."""

    lexicon: Lexicon
    refitting: bool = False
    mentioned: list[Thing] = field(default_factory=list)
    aside: list[Thing] = field(default_factory=list)
    """Things named only as places: what something comes from or goes to."""
    facts: list[Fact] = field(default_factory=list)
    default_drive: str = ""
    part: str = ""

    def mention(self, *things: Thing) -> None:
        """Keep the last things named, newest last."""
        self.mentioned += [
            t
            for t in things
            if not t.is_pronoun
            and t.category not in ("tool", "text", "place", "body", "force", "software")
        ]
        del self.mentioned[:-40]

    def mention_place(self, *things: Thing) -> None:
        """Keep things named as places; a pronoun stands for them only where nothing else fits."""
        self.aside += [
            t
            for t in things
            if not t.is_pronoun
            and t.category not in ("tool", "text", "place", "body", "force", "software")
        ]
        del self.aside[:-20]

    def resolve(self, pronoun: Thing) -> Thing | None:
        """The thing that "it", "them", "those" stands for: the newest of the same number."""
        plural = pronoun.head in (
            "them",
            "they",
            "these",
            "those",
            "both",
            "all",
            "themselves",
            "ones",
        )
        for thing in (
            *reversed(self.mentioned[-14:]),
            *reversed(self.aside[-4:]),
            *reversed(self.mentioned),
        ):
            if plural and (thing.plural or (isinstance(thing.count, int) and thing.count > 1)):
                return thing
            if not plural and not thing.plural:
                return thing
        if pronoun.head in ("it", "this", "that") and self.mentioned:
            return self.mentioned[-1]
        return (
            self.mentioned[-1]
            if plural and self.mentioned and pronoun.head not in ("all", "both")
            else None
        )

    def _longer_cable(self, thing: Thing) -> str:
        """ "the FPC cable" behind "the 6 pin FPC cable connector" is the 6 pin FPC cable."""
        pattern = re.compile(rf"^(.*?\b{re.escape(thing.name)})\b", re.IGNORECASE)
        for earlier in reversed(self.mentioned[-6:]):
            match = pattern.match(earlier.name)
            if (
                match
                and len(match[1]) > len(thing.name)
                and earlier.category in ("cable", "connector")
            ):
                return match[1]
        return ""

    def full_name(self, thing: Thing) -> str:
        """ "the board" is the board that was named last; "the board" after "main board" is the main board."""
        if (
            thing.category == "cable"
            and thing.article == "the"
            and " " in thing.name
            and not thing.plural
        ):
            return self._longer_cable(thing) or thing.name
        if (
            thing.article not in ("the", "this", "that", "its")
            or " " in thing.name
            or thing.category in ("fastener", "lock", "clip", "tool", "place")
        ):
            return thing.name
        for earlier in (*reversed(self.mentioned), *reversed(self.aside)):
            if (
                earlier.head == thing.head
                and " " in earlier.name
                and earlier.category == thing.category
                and not earlier.of
            ):
                return earlier.name
        return thing.name


def actions_from(found: Found, memory: Memory, line: int, sentence: str) -> list[Action]:
    """All actions that one verb phrase stands for, in the order in which they are done."""
    rows: list[Action] = []
    main_needed = True
    manners = [
        action for by in found.by for action in _one(by, memory, line, sentence, inherit=found)
    ]
    own = _one(found, memory, line, sentence)
    if manners and own:
        main_needed = not any(
            _same_object(manner, own[0])
            and manner.klass not in ("other", "release")
            and own[0].klass not in ("disconnect", "peel", "connect")
            for manner in manners
        )
        if own[0].klass in ("disconnect", "peel", "connect", "release", "close"):
            manners = [m for m in manners if not _same_object(m, own[0]) and m.klass != "other"]
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


def _purposes(
    purpose: Found, rows: list[Action], memory: Memory, line: int, sentence: str
) -> list[Action]:
    """ "Pull the tab to disconnect the cable": the purpose is the work, unless another sentence tells it."""
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


def _same_object(left: Action, right: Action) -> bool:
    return left.object == right.object or bool(
        left.things and right.things and left.things[-1].head == right.things[-1].head
    )


def _one(
    found: Found, memory: Memory, line: int, sentence: str, inherit: Found | None = None
) -> list[Action]:
    things = _resolved(found, memory, inherit)
    groups = _groups(things)
    actions = [_action(found, group, memory, line, sentence) for group in groups]
    memory.mention_place(*found.from_, *found.to, *found.at, *found.held_to)
    memory.mention(*found.holds, *found.means, *[t for t in things if not t.is_pronoun])
    if found.purpose is not None:
        memory.mention(
            *[t for t in found.purpose.things if not t.is_pronoun and t.category != "unknown"]
        )
    screws = [thing for thing in found.means if thing.category == "fastener"]
    if screws:
        actions = _with_screws(found, things, screws, actions, memory, line, sentence)
    return actions


def _resolved(found: Found, memory: Memory, inherit: Found | None) -> list[Thing]:
    things: list[Thing] = []
    for thing in found.things:
        if thing.is_pronoun:
            other = memory.resolve(thing) if thing.name else _counted(thing, memory)
            if inherit is not None and inherit.things and thing.name in ("it", "them"):
                other = inherit.things[-1] if not inherit.things[-1].is_pronoun else other
            if other is not None:
                count = thing.count if thing.count is not None else other.count
                things.append(replace(other, count=count, article="the"))
            else:
                things.append(thing)
        else:
            things.append(replace(thing, name=memory.full_name(thing)))
    if not things and inherit is not None:
        return list(inherit.things)
    return things


def _counted(thing: Thing, memory: Memory) -> Thing | None:
    """ "remove two", "the other three": of what was named last in the plural."""
    for earlier in reversed(memory.mentioned):
        if earlier.plural:
            return replace(earlier, count=thing.count, size=thing.size or earlier.size)
    return None


def _groups(things: list[Thing]) -> list[list[Thing]]:
    """Screws and parts named in one breath are two actions; several parts are one."""
    if len(things) < 2:
        return [things]
    groups: list[list[Thing]] = []
    for thing in things:
        kind = (
            "fastener"
            if thing.category == "fastener"
            else "link"
            if thing.category in ("cable", "connector")
            else "film"
            if thing.category == "film"
            else "part"
        )
        last = groups[-1] if groups else []
        last_kind = (
            ""
            if not last
            else "fastener"
            if last[0].category == "fastener"
            else "link"
            if last[0].category in ("cable", "connector")
            else "film"
            if last[0].category == "film"
            else "part"
        )
        if last and (kind == last_kind != "fastener" or False):
            last.append(thing)
        else:
            groups.append([thing])
    return groups


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
    klass = _class(found, category, memory, sentence, last)
    is_fastener = category == "fastener"
    joins = _joins(found, things, memory, klass)
    first_fastener = next((thing for thing in things if thing.category == "fastener"), None)
    count = _count(things, klass)
    if count is None and is_fastener:
        count = _range_count(sentence)
    drive = next((thing.drive for thing in things if thing.drive), "") or (
        found.tool_drive if is_fastener else ""
    )
    name = _object_name(things, joins, is_fastener)
    if (
        len(name.split()) == 1
        and category in ("lock", "clip", "connector", "button")
        and len(things) == 1
    ):
        place = next(
            (
                memory.full_name(t)
                for t in [*found.at, *found.from_]
                if not t.is_pronoun
                and t.category
                in ("board", "part", "card", "cover", "cable", "connector", "unknown")
            ),
            "",
        )
        name = f"{place} {name}" if place and len(place.split()) <= 3 else name
    return Action(
        klass=klass,
        verb=found.key,
        object=name,
        things=tuple(things),
        count=count,
        fastener=_FASTENER_NAMES.get(first_fastener.head, first_fastener.head)
        if first_fastener
        else "",
        size=next((thing.size for thing in things if thing.size), ""),
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
    )


_RANGE = re.compile(
    r"\b(?:label\w*|marked|numbered|screws|bolts|nuts)\s+(?:with\s+)?[(#]?\s*#?(\d{1,2})\s*(?:through|thru|to|-|–|\.\.\.?)\s*#?(\d{1,2})\b",
    re.IGNORECASE,
)


def _range_count(sentence: str) -> Count:
    """ "screws labelled 1 through 4" are four."""
    match = _RANGE.search(sentence)
    if match and int(match[1]) == 1 and int(match[2]) > 1:
        return int(match[2])
    return None


def _order(sentence: str, lexicon: Lexicon) -> str:
    low = sentence.lower()
    if any(phrase in low for phrase in lexicon.phrases["crosswise_order"]):
        return "crosswise"
    if any(phrase in low for phrase in lexicon.phrases["numbered_order"]):
        return "numbered"
    return ""


def _count(things: list[Thing], klass: str) -> Count:
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
    if single and (thing.category in ("fastener", "cable", "connector") or klass == "disconnect"):
        return 1
    return None


def _object_name(things: list[Thing], joins: tuple[str, ...], is_fastener: bool) -> str:
    names = [thing.name for thing in things if thing.name]
    name = " and ".join([", ".join(names[:-1]), names[-1]]) if len(names) > 1 else "".join(names)
    if (
        is_fastener
        and joins
        and len(things) == 1
        and len(name.split()) <= 2
        and joins[0].lower() not in name.lower()
    ):
        return f"{joins[0]} {name}"
    return name


def _class(found: Found, category: str, memory: Memory, sentence: str, thing: Thing | None) -> str:
    """Class of a verb on an object of ``category``, decided by half, particles and surroundings."""
    verb = memory.lexicon.verbs[found.key]
    refitting = memory.refitting
    klass = verb.class_of(category, refitting=refitting)
    if (
        klass == "disconnect"
        and category in ("cable", "antenna")
        and found.lemma in ("remove", "pull", "take", "lift", "slip")
        and found.from_
        and all(
            t.category in ("clip", "channel", "tie", "film", "lock") or t.head in _SLOTS
            for t in found.from_
        )
    ):
        return "release"
    if (
        found.lemma in ("lower", "drop")
        and found.to
        and not refitting
        and all(t.head not in _BENCH for t in found.to)
        and category not in ("lock", "fastener")
    ):
        klass = verb.class_of(category, refitting=True)
    if (
        found.lemma == "push"
        and klass == "slide"
        and any(t.head in _SLOTS or t.category == "connector" for t in found.to)
    ):
        return "insert"
    if klass == "lock":
        return _lock_class(found, sentence, refitting)
    if klass == "place":
        return _place_class(found, category, refitting)
    if klass == "slide_cable":
        return (
            "connect" if found.to and not found.from_ else "disconnect" if found.from_ else "slide"
        )
    if (
        klass == "close"
        and found.key in ("press down", "push down")
        and category not in ("lock", "clip", "cover", "connector", "cable")
        and not refitting
    ):
        return "other"
    if (
        klass == "replace"
        and found.to
        and any(t.head in _SLOTS or t.category == "connector" for t in found.to)
        and found.lemma in ("install", "fit")
        and category != "cover"
    ):
        return "insert"
    if found.lemma in ("unscrew", "undo") and (
        (category == "fastener" and thing is not None and thing.captive) or _only_loosened(sentence)
    ):
        return "loosen"
    if verb.weak and klass == "other":
        return "other"
    if (
        klass == "remove"
        and found.lemma == "pull"
        and category == "unknown"
        and not found.from_
        and not found.particle
        and refitting
    ):
        return "other"
    return klass


def _only_loosened(sentence: str) -> bool:
    low = sentence.lower()
    return any(
        f"{a} {b}" in low
        for a in (
            "not need to",
            "don't need to",
            "no need to",
            "not",
            "don't",
            "without",
            "rather than",
        )
        for b in (
            "fully remov",
            "completely remov",
            "remove them",
            "remove the screw",
            "removing them",
            "fully unscrew",
            "take them",
            "remove it",
            "remove completely",
            "remove fully",
        )
    )


def _lock_class(found: Found, sentence: str, refitting: bool) -> str:
    words = set(sentence.lower().replace(",", " ").replace(".", " ").split())
    if found.particle in ("up", "open", "out", "away") or "unlock" in words or "unlocked" in words:
        return "release"
    if found.particle in ("down", "closed") and not words & {"release", "unlock", "disengage"}:
        return "close"
    if (
        words & {"lock", "closed", "locked", "secure", "engage", "engages"}
        and not words & {"release", "open"}
        and "lock" not in {t.head for t in found.things}
    ):
        return "close"
    if words & _UP_WORDS and not words & _DOWN_WORDS:
        return "release"
    return "close" if refitting else "release"


def _place_class(found: Found, category: str, refitting: bool) -> str:
    if category in ("film", "supply", "residue"):
        return "apply"
    if category in ("tool", "body", "device", "text", "pronoun", "place"):
        return "other"
    targets = [*found.to, *found.at]
    if any(target.head in _BENCH for target in targets) or found.particle in (
        "aside",
        "away",
        "over",
    ):
        return "other"
    if found.particle == "down" and not targets:
        return "other"
    if not refitting:
        return "other"
    if category == "cable":
        return "route"
    if category == "card" and any(
        target.head in _SLOTS or target.category == "connector" for target in targets
    ):
        return "insert"
    return "replace"


def _with_screws(
    found: Found,
    things: list[Thing],
    screws: list[Thing],
    actions: list[Action],
    memory: Memory,
    line: int,
    sentence: str,
) -> list[Action]:
    """ "Secure the fan to the frame with four screws": the screws are what is tightened."""
    if found.lemma not in _CLOSERS_WITH_SCREWS and found.lemma not in _REFITTERS_WITH_SCREWS:
        return actions
    parts = [thing for thing in things if thing.category not in ("fastener", "tool", "text")]
    held = [memory.full_name(thing) for thing in parts if thing.name] + [
        memory.full_name(thing) for thing in found.to if thing.category not in ("place", "text")
    ]
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


def _joins(found: Found, things: list[Thing], memory: Memory, klass: str) -> tuple[str, ...]:
    """What the object holds together, as far as the sentence says it."""
    if not things:
        return ()
    last = things[-1]
    if last.category == "fastener":
        return _fastener_joins(found, last, memory)
    if last.category in ("lock", "clip", "button"):
        return ()
    if last.category in ("cable", "connector", "antenna", "power", "film", "tie"):
        return _cable_joins(found, things, memory)
    if klass in ("connect", "disconnect") and (found.to or found.from_):
        return _unique([*_names(things, memory), *_whole(found.to or found.from_, memory)])
    if klass in ("release", "peel", "remove", "lift", "slide") and found.from_:
        names = _unique([*_names(things, memory), *_whole(found.from_, memory)])
        return names if len(names) > 1 else ()
    purpose = found.purpose
    if (
        klass != "disconnect"
        and purpose is not None
        and purpose.lemma in ("separate", "detach", "disconnect")
        and len(purpose.things) + len(purpose.from_) >= 2
    ):
        return _unique(_names([*purpose.things, *purpose.from_], memory))
    if klass == "release" and len(things) == 2:
        return _unique(_names(things, memory))
    return ()


def _fastener_joins(found: Found, thing: Thing, memory: Memory) -> tuple[str, ...]:
    first = [*_names([t for t in found.holds if not t.is_pronoun or memory.resolve(t)], memory)]
    second = _whole(found.held_to, memory)
    places = [
        t
        for t in [*found.at, *found.from_, *found.to]
        if t.category not in ("place", "text", "tool", "body") and t.category != "fastener"
    ]
    of_places = [t.of for t in [*found.at, *found.from_] if t.category == "place" and t.of]
    adjective = _owner(thing, memory)
    if not first and adjective:
        first = [adjective]
    if not first and found.purpose is not None and not places:
        first = _names(
            [
                t
                for t in found.purpose.things
                if t.category not in ("text", "place", "pronoun", "fastener")
            ],
            memory,
        )
        second = second or _whole(found.purpose.from_, memory)
    if not first and found.held_to:
        first, second = _whole(found.held_to, memory), []
    rest = [*_names(places, memory), *of_places]
    return _unique([*first, *second, *rest])


def _owner(thing: Thing, memory: Memory) -> str:
    """ "keyboard screws" hold the keyboard: the nouns before the fastener."""
    words = thing.name.split()
    owner = [
        word
        for word in words[:-1]
        if word.lower() not in memory.lexicon.words["colours"]
        and word.lower() not in memory.lexicon.words["captive"]
    ]
    adjectives = {
        "small",
        "large",
        "big",
        "long",
        "short",
        "little",
        "silver",
        "retaining",
        "mounting",
        "securing",
        "fixing",
        "remaining",
        "last",
        "other",
        "two",
        "machine",
        "set",
        "cap",
        "grub",
        "thumb",
        "lock",
        "corner",
        "first",
        "metal",
        "old",
        "new",
        "same",
        "outer",
        "inner",
        "attachment",
        "retention",
        "hex",
        "socket",
        "tiny",
        "top",
        "bottom",
        "side",
        "rear",
        "front",
        "upper",
        "lower",
        "left",
        "right",
        "center",
        "middle",
        "main",
        "plastic",
        "captured",
        "original",
        "holding",
        "case",
        "spring",
        "nylon",
        "steel",
        "wood",
        "self",
        "tapping",
        "self-tapping",
        "drive",
        "shoulder",
        "hex-head",
        "exterior",
        "final",
        "installation",
        "locking",
        "ring",
        "and",
        "tamper-resistant",
        "torx",
        "head",
        "pan-head",
        "longer",
        "shorter",
    }
    named = [
        word
        for word in owner
        if word.lower() not in adjectives and not word[0].isdigit() and word[0] != "#"
    ]
    if not named:
        if owner and owner[-1].lower() == "case":
            return " ".join(owner)
        return ""
    return " ".join(
        word
        for word in owner
        if word.lower()
        not in adjectives
        - {
            "top",
            "bottom",
            "side",
            "rear",
            "front",
            "upper",
            "lower",
            "left",
            "right",
            "main",
            "middle",
            "case",
            "drive",
        }
    )


def _cable_joins(found: Found, things: list[Thing], memory: Memory) -> tuple[str, ...]:
    first = _names([t for t in found.holds if not t.is_pronoun], memory)
    second = _whole(found.held_to, memory)
    ends = _whole(
        [
            t
            for t in [*found.from_, *found.to]
            if t.category not in ("place", "text", "tool", "body")
        ],
        memory,
    )
    at = _whole(
        [t for t in found.at if t.category not in ("place", "text", "tool", "body", "fastener")],
        memory,
    )
    if not first:
        first = [_cable_owner(thing, memory) for thing in things]
    return (
        _unique([*first, *second, *ends, *(at if not ends else [])])
        if [*second, *ends, *at] or found.holds
        else ()
    )


def _cable_owner(thing: Thing, memory: Memory) -> str:
    """ "fan cable" hangs on the fan; a cable without a noun before it stands for itself."""
    words = thing.name.split()
    dropped = {
        "and",
        "cable",
        "cables",
        "connector",
        "connectors",
        "wire",
        "wires",
        "lead",
        "leads",
        "plug",
        "plugs",
        "harness",
        "ribbon",
        "flex",
        "fpc",
        "ffc",
        "cord",
        "flat",
        "data",
        "power",
        "signal",
        "jst",
        "molex",
        "u.fl",
        "coax",
        "coaxial",
        "flexible",
        "zif",
        "pin",
        "6-pin",
        "usb",
        "sata",
    }
    named = [
        word
        for word in words
        if word.lower() not in dropped
        and not word[0].isdigit()
        and word.lower() not in memory.lexicon.words["colours"]
    ]
    return " ".join(named) if named and thing.category in ("cable", "connector") else thing.name


def _names(things: list[Thing], memory: Memory) -> list[str]:
    names = []
    for thing in things:
        other = memory.resolve(thing) if thing.is_pronoun else thing
        if other is not None and other.name:
            names.append(memory.full_name(other))
    return names


def _whole(things: list[Thing], memory: Memory) -> list[str]:
    """The part behind a connector: "its connector on the main board" is the main board."""
    names = []
    parts = [
        thing
        for thing in things
        if thing.category not in ("connector", "place", "text", "pronoun", "tool")
    ]
    for thing in parts or things:
        if thing.is_pronoun:
            continue
        if thing.category in ("connector", "place"):
            if thing.of:
                names.append(thing.of)
                continue
            if thing.category == "place" and " " not in thing.name:
                continue
        name = memory.full_name(thing)
        if (
            thing.category == "connector"
            and thing.head in ("connector", "header", "socket", "jack", "port")
            and len(name.split()) == 1
        ):
            continue
        if name and thing.category not in ("text", "tool"):
            names.append(name)
    return names


def _unique(names: list[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(name for name in names if name))

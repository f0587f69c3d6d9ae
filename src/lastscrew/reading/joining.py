"""What a screw, a cable or a part joins, as far as its own sentence says it."""

from __future__ import annotations

import re

from lastscrew.reading.lexicon.groups import word_group
from lastscrew.reading.memory import Memory
from lastscrew.reading.model import Thing
from lastscrew.reading.owners import owner_of
from lastscrew.reading.predicates import Found

_OWNERLESS = word_group("meaning_ownerless")
_DESIGNATOR = re.compile(r"^[A-Z]{1,4}-?\d{1,3}$")
"""As in "CN7 on the board": where a cable ends, no part by itself."""
_INITIALS = re.compile(r"^(?:[A-Z]\.){2,}$")
"""As in "C.B.P. screws": the kind of their heads."""
_UNDER_PAPER = frozenset(["label", "sticker", "decal", "foil"])
"""What hides a screw: "the screw under the label" does not hold the label."""
_OWNERS = frozenset(["part", "board", "card", "cover", "drawer", "device", "unknown"])
_WAYS = re.compile(r"-(?:pin|way|wire|conductor|core|pole|contact)$", re.IGNORECASE)
_CABLE_WORDS = word_group("meaning_cable_words")


def joins_of(found: Found, things: list[Thing], memory: Memory, klass: str) -> tuple[str, ...]:
    """What the object holds together, as far as the sentence says it."""
    if not things:
        return ()
    last = things[-1]
    if last.category == "fastener":
        return _fastener_joins(found, last, memory)
    if last.category == "clip":
        return _clip_joins(found, last, memory)
    if last.category in ("lock", "button"):
        return _parted_by(found, memory)
    if last.category in ("cable", "connector", "antenna", "power", "film", "tie"):
        return _cable_joins(found, things, memory)
    if klass in ("connect", "disconnect") and (found.to or found.from_):
        ends = _whole(found.to or found.from_, memory) or _whole(found.at, memory)
        return _unique([*_names(things, memory), *ends])
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


def _parted_by(found: Found, memory: Memory) -> tuple[str, ...]:
    """As in "Pull the lever to disconnect the module from the midplane", "… until it disengages from the midplane"."""
    purpose = found.purpose
    if purpose is not None and purpose.lemma in _PARTING and purpose.things and purpose.from_:
        return _unique([*_names(purpose.things, memory), *_whole(purpose.from_, memory)])
    if found.until is None and found.holds and found.held_to:
        return _unique([*_names(found.holds, memory), *_whole(found.held_to, memory)])
    return ()


_PARTING = frozenset(
    ["separate", "detach", "disconnect", "disengage", "release", "free", "eject", "unseat"]
)


def _fastener_joins(found: Found, thing: Thing, memory: Memory) -> tuple[str, ...]:
    first = [*_names([t for t in found.holds if not t.is_pronoun or memory.resolve(t)], memory)]
    second = _whole(found.held_to, memory)
    places = [
        t
        for t in [*found.at, *found.from_, *found.to]
        if t.category not in ("place", "text", "tool", "body", "fastener")
        and t.head not in _UNDER_PAPER
    ]
    of_places = [t.of for t in [*found.at, *found.from_] if t.category == "place" and t.of]
    adjective = _owner(thing, memory)
    if not first and adjective:
        first = [adjective]
    if not first and (
        thing.article in ("its", "their") or any(t.article in ("its", "their") for t in places)
    ):
        owner = _owner_before(memory, thing)
        first = [owner] if owner else []
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


def _clip_joins(found: Found, thing: Thing, memory: Memory) -> tuple[str, ...]:
    """As in "the tabs on the left edge of the bezel", "the clips that hold the duct to the fan"."""
    held = _names([t for t in found.holds if not t.is_pronoun], memory)
    hosts = _whole(found.held_to, memory)
    places = [t for t in [*found.at, *found.from_] if t.category in _OWNERS and t.name]
    edges = [t.of for t in [*found.at, *found.from_] if t.category == "place" and t.of]
    of = [thing.of] if thing.of else []
    return _unique([*held, *hosts, *of, *_names(places, memory), *edges])


def _owner_before(memory: Memory, thing: Thing) -> str:
    """As in "refit the lid with its four screws", "the ten screws along its rails": the part named before."""
    for earlier in reversed(memory.mentioned[-8:]):
        if earlier.category in _OWNERS and earlier.name != thing.name:
            return earlier.name
    return ""


def _owner(thing: Thing, memory: Memory) -> str:
    """As in "keyboard screws" hold the keyboard: the nouns before the fastener."""
    words = thing.name.split()
    owner = [
        word
        for word in words[:-1]
        if word.lower() not in memory.lexicon.words["colours"]
        and word.lower() not in memory.lexicon.words["captive"]
    ]
    named = [
        word
        for word in owner
        if word.lower() not in _OWNERLESS
        and not word[0].isdigit()
        and word[0] != "#"
        and not _INITIALS.match(word)
    ]
    if not named:
        if owner and owner[-1].lower() == "case":
            return " ".join(owner)
        return ""
    return " ".join(
        word
        for word in owner
        if word.lower()
        not in _OWNERLESS
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
        first = [name for thing in things for name in _cable_owners(thing, memory)]
    parts = [name for name in ends if not _DESIGNATOR.match(name)]
    if at and ends and not parts:
        ends = []
    return (
        _unique([*first, *second, *ends, *(at if not ends else [])])
        if [*second, *ends, *at] or found.holds
        else ()
    )


def _cable_owners(thing: Thing, memory: Memory) -> list[str]:
    """As in "encoder and motor cables": each hangs on its own part."""
    before, _, _last = thing.name.rpartition(" ")
    pieces = before.split(" and ") if thing.plural and thing.category == "cable" else []
    if len(pieces) == 2 and all(re.fullmatch(r"[\w-]+(?: [\w-]+)?", piece) for piece in pieces):
        owned = [own_side(piece) for piece in pieces]
        colours = memory.lexicon.words["colours"] | _CABLE_WORDS
        if not any(piece.lower() in colours for piece in pieces):
            return owned
    return [_cable_owner(thing, memory)]


def _cable_owner(thing: Thing, memory: Memory) -> str:
    """As in "fan cable" hangs on the fan; a cable without a noun before it stands for itself."""
    words = thing.name.split()
    if thing.of and thing.category in ("cable", "connector"):
        return thing.of
    if thing.article in ("its", "their"):
        for earlier in reversed(memory.mentioned[-6:]):
            if (
                earlier.category in ("part", "board", "card", "cover", "antenna")
                and earlier.name != thing.name
            ):
                return earlier.name
    named = [
        word
        for word in words
        if word.lower() not in _CABLE_WORDS
        and not word[0].isdigit()
        and not _WAYS.search(word)
        and word.lower() not in memory.lexicon.words["colours"]
    ]
    named = [] if named == ["through"] else named  # "leads 1 through 6"
    if len(named) > 1 and _DESIGNATOR.match(named[-1]) and not _DESIGNATOR.match(named[0]):
        named.pop()  # "fan plug CN5"
    if not named and memory.spoken and thing.category == "connector":
        owner = owner_of(thing, memory)
        return own_side(owner) if owner else thing.name
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
        if thing.is_pronoun or thing.head in ("shown", "indicated"):
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


def own_side(name: str) -> str:
    """As in "fan cable" hangs on the fan; a cable without a noun before it stands for itself."""
    named = [
        word for word in name.split() if word.lower() not in _CABLE_WORDS and not word[0].isdigit()
    ]
    return " ".join(named) or name

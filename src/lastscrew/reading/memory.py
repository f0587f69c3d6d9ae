"""What a text has named and stated so far, and what its pronouns stand for."""

from __future__ import annotations

import re
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, field, replace

from lastscrew.reading.lexicon import Lexicon
from lastscrew.reading.lexicon.groups import word_group
from lastscrew.reading.lexicon.morphology import is_plural, noun_singular
from lastscrew.reading.model import Fact, Thing
from lastscrew.reading.phrase_words import ONE_OF_THEM

_CABLES = frozenset(["cable", "connector", "antenna"])
_WANTED = {
    **dict.fromkeys(("disconnect", "unplug", "connect", "reconnect", "plug"), _CABLES),
    **dict.fromkeys(("peel", "peel off", "peel back", "peel up"), frozenset(["film"])),
    **dict.fromkeys(word_group("memory_screwing"), frozenset(["fastener"])),
    **dict.fromkeys(("cut", "snip"), frozenset(["tie"])),
}
"""What a verb is done to, where a pronoun leaves it open."""


def known_object(verb: str) -> bool:
    """True where a verb by itself says what kind of thing it is done to."""
    return verb in _WANTED or verb in _TAKING or verb in _GRIPPED


_MORE_OF_THEM = re.compile(
    r"^\W*(?:there (?:are|is) )?(?P<count>\w+) (?:more|others|further|additional|other)\b(?: (?P<kind>screws?|bolts?|nuts?))? "  # noqa: E501
    r"(?:(?:hide|sit|are|is|lie|live|lurk|wait|remain)s?\b|(?:under|behind|beneath|at|below)\b)",
    re.IGNORECASE,
)
RINGS_OF_PLUGS = frozenset(["collar", "ring", "sleeve", "bayonet", "shell"])
"""What is turned to let a plug go, and stays on it."""
_RINGS = frozenset(["circlip", "e-clip", "e-ring", "c-clip", "snap-ring", "cotter"])
"""Fasteners that are spread or pulled like a part."""
_FASTENER_VERBS = word_group("memory_fastener_verbs")
_PIECES = frozenset(["part", "cover", "card", "board", "drawer"])
_SAID_OF_IT = frozenset(["thread", "job", "fit", "problem", "pain", "nightmare", "trick"])
"""As in "it's a left-hand thread": says of what kind it is, names nothing new."""
_HOLD_OF_IT = frozenset(["grip", "bond", "hold", "suction"])
"""As in "twist it to break the grip of the paste": no thing that is lifted then."""
_COMING = frozenset(["come", "drop", "lift", "slide", "fall", "come out", "come off", "lift out", "lift off", "drop out", "slide out", "take out", "pull out", "take off"])  # fmt: skip  # noqa: E501
_GRIPPED = frozenset(f"{verb} {way}" for verb in ("take", "get", "flick", "spin", "pull", "pop", "knock", "wind", "prise", "pry", "whip", "zip", "wiggle", "tap", "spring") for way in ("off", "out"))  # fmt: skip  # noqa: E501
_MOVED = frozenset(["drop", "slide", "push", "pop", "press", "set", "fit", "lift", "pull", "screw", "plug", "snap", "clip", "offer", "lower", "slot", "seat", "bolt"])  # fmt: skip  # noqa: E501
"""What is done so is a piece, no paste or dust."""
_HELD = frozenset(["fasten", "secure", "mount", "install", "insert", "attach"])
_SMALL_THINGS = frozenset(["fastener", "cable", "connector", "clip", "film", "tie", "antenna"])
_HELD_ASIDE = frozenset(["lock", "clip", "button"])
_TAKING = word_group("memory_taking")
_NOT_PLUGGED = frozenset(
    [
        "lock",
        "clip",
        "button",
        "cover",
        "place",
        "tie",
        "fastener",
        "cable",
        "connector",
        "part",
        "board",
    ]
)


def _is_scrap(thing: Thing) -> bool:
    """As in "push hard", "half in", "on its own": in speech a bare word that nobody knows names nothing."""
    return (
        thing.category == "unknown"
        and " " not in thing.name
        and not thing.article
        and thing.count is None
        and not thing.plural
    )


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
    headed: set[str] = field(default_factory=set)
    """Parts whose names, in small letters, head procedures."""
    titled: set[str] = field(default_factory=set)
    """Names that stood alone as a title ("The arm."): parts, whatever else the word may mean."""
    spoken: bool = False
    acted: str = ""
    """Name of the screw that was worked on last."""
    removed: AbstractSet[str] = frozenset()
    """Last nouns of what a talk took off as a whole: on the way back they are put on, whatever they are."""
    gone: frozenset[str] = frozenset()
    """Last nouns of what the procedure under way took off: "it drops out" is said of what is still there."""
    handled: frozenset[str] = frozenset()
    """Last nouns of the cables and clips that the procedure under way has freed: these do not "come out" once more."""
    freed: str = ""
    """Name of the tape or cable that was taken off last: in a talk "lift it out" is not said of it."""

    def mention(self, *things: Thing) -> None:
        """Keep the last things named, newest last; behind "the positions of all cables" the cables count as named."""
        for thing in things:
            parted = thing.category in ("clip", "lock", "button") and not self.spoken
            if thing.of and (parted or thing.category in ("text", "place")):
                last = thing.of.split()[-1].lower()
                category = self.lexicon.category(tuple(thing.of.lower().split()))
                self.mentioned.append(
                    Thing(thing.of, noun_singular(last), category, plural=is_plural(last))
                )
        self.mentioned += [
            t
            for t in things
            if not t.is_pronoun
            and not (t.of and not t.plural and t.head in _HOLD_OF_IT)
            and not (
                self.spoken and (_is_scrap(t) or t.head in _SAID_OF_IT | self.lexicon.drives.keys())
            )
            and t.category not in ("tool", "text", "place", "body", "force", "software")
        ]
        del self.mentioned[:-40]

    def more_of_last(self, sentence: str) -> None:
        """As in "Two more hide behind the handle": so many of the screws that were named last."""
        told = _MORE_OF_THEM.search(sentence)
        if told is None or self.spoken:
            return
        said = told["count"].lower()
        count = int(said) if said.isdigit() else self.lexicon.numbers.get(said)
        last = next((t for t in reversed(self.mentioned[-8:]) if t.category == "fastener"), None)
        named = told["kind"]
        if last is None and named:
            last = Thing(named, noun_singular(named.lower()), "fastener", plural=True)
        if last is not None and count is not None:
            name = last.name if last.name[-1] in "sS" else f"{last.name}s"
            self.mentioned.append(replace(last, name=name, count=count, plural=True, article="the"))

    def mention_place(self, *things: Thing) -> None:
        """Keep things named as places; a pronoun stands for them only where nothing else fits."""
        self.aside += [
            t
            for t in things
            if not t.is_pronoun
            and t.category not in ("tool", "text", "place", "body", "force", "software")
        ]
        del self.aside[:-20]

    def resolve(self, pronoun: Thing, verb: str = "") -> Thing | None:
        """As :meth:`_newest`, but a verb looks first for what it is done to: cables are unplugged, screws loosened."""
        if pronoun.head == "whole":
            whole = self._whole_part()
            if whole is not None:
                return whole
            pronoun = replace(pronoun, head="it")
        two = self.mentioned[-2:]
        stuck = len(two) > 1 and two[0].category == "film" and two[1].category in _PIECES
        if pronoun.head == "this" and not self.spoken and stuck:
            return two[0]  # "the board has a film over it. Remove this."
        fresh = (
            self._fresh_one(pronoun) or self._one_of_them(pronoun, verb) or self._both_of(pronoun)
        )
        if fresh is not None:
            return fresh
        wanted = _WANTED.get(verb)
        newest = self._newest(pronoun)
        newest = self._plug_of_ring(self._wiped(self._no_paste(newest, verb), verb), verb)
        last = self.mentioned[-1] if self.mentioned else None
        if (
            (
                verb in ("take out", "get out", "undo", "whip out")
                or (self.spoken and verb in _GRIPPED)
            )
            and pronoun.head in ("it", "that")
            and last is not None
            and last.category == "fastener"
            and (
                last.count == 1 or (self.spoken and not last.plural and last.article in ("a", "an"))
            )
            and last.name != self.acted
        ):
            return last
        if (
            self.spoken
            and newest is not None
            and newest.name == self.freed
            and verb.startswith(("lift", "take", "slide", "remove", "pop", "whip"))
        ):
            newest = self._whole_part() or newest
        if (
            self.spoken
            and newest is not None
            and newest.category == "fastener"
            and pronoun.head == "them"
        ):
            # "take both bolts out and lift them out by the handles": the batteries, where they are spoken of.
            whole = self._whole_part()
            if verb.split(" ", maxsplit=1)[0] in ("lift", "slide", "carry", "heave") and is_plural(
                self.part.lower()
            ):
                newest = whole or newest
        if not self.spoken and newest is not None and newest.category == "film":
            off = newest.name == self.freed or self.refitting
            if off and verb.split(" ", maxsplit=1)[0] in _MOVED | _HELD and pronoun.head == "it":
                newest = self.last_piece() or newest  # the film came off, the sensor goes in
        ring = newest is not None and newest.head in _RINGS and newest.count in (None, 1)
        if ring and not self.spoken:
            return newest
        if newest is not None and newest.category == "fastener" and wanted is None:
            if verb.split(" ", maxsplit=1)[0] not in _FASTENER_VERBS or verb in _TAKING - {
                "remove"
            }:
                newest = self._no_fastener(pronoun) or newest
        laid = (
            self.spoken
            and self.refitting
            and verb.split(" ", maxsplit=1)[0] in ("lay", "lower", "set")
        )
        newest = self._carrying(self._still_there(newest, verb), verb)
        if newest is not None and newest.category in _HELD_ASIDE and (verb in _TAKING or laid):
            newest = self._behind_the_lock(pronoun) or self._whole_part() or newest
        newest = self._drawn_cable(newest, verb) or newest
        spread = newest is not None and newest.category in ("supply", "residue")
        if spread and wanted is not None and "fastener" in wanted:
            # "put a drop of threadlock on the grub screw, and nip it up"
            named = (*reversed(self.aside[-2:]), *reversed(self.mentioned[-8:]))
            newest = next((t for t in named if t.category == "fastener"), newest)
        if wanted is None or newest is None or newest.category not in _NOT_PLUGGED:
            return newest
        plural = pronoun.head in ("them", "they", "these", "those", "both", "all")
        aside = self.aside[-2:] if self.spoken and wanted == {"film"} else []
        for thing in (*reversed(self.mentioned[-4:]), *reversed(aside)):
            several = thing.plural or (isinstance(thing.count, int) and thing.count > 1)
            if thing.category in wanted and several == plural:
                return thing
        singles = [t for t in self.mentioned[-6:] if t.category in wanted and not t.plural]
        if self.spoken and plural and "cable" in wanted and len(singles) > 1:
            # "one plug for the lamp and one for the socket. Both unplug."
            last = singles[-1]
            return replace(last, name=f"{last.head}s", count=2, plural=True, article="the")
        if "fastener" in wanted:
            one = pronoun.head in ("it", "that", "this")
            for thing in reversed(self.mentioned[-6:]):
                if thing.category == "fastener" and not (one and thing.plural):
                    return thing
        return newest

    def _still_there(self, newest: Thing | None, verb: str) -> Thing | None:
        """As in "the plug is off; now it comes out": what is gone or freed does not come out once more."""
        whole = self._whole_part() if self.spoken and not self.refitting else None
        if newest is None or whole is None or whole.head in self.gone:
            return newest
        if newest.head in self.gone:
            return whole if verb in _COMING else newest
        freed = newest.head in self.handled
        return whole if freed and verb in ("come", "come out", "come off", "come away") else newest

    def _no_paste(self, newest: Thing | None, verb: str) -> Thing | None:
        """As in "a dab of paste on the back, drop it in": what is dropped in is the piece."""
        spread = newest is not None and newest.category in ("supply", "residue")
        if self.spoken and spread and verb.split(" ", maxsplit=1)[0] in _MOVED:
            return self._whole_part() or self.last_piece() or newest
        return newest

    def _plug_of_ring(self, newest: Thing | None, verb: str) -> Thing | None:
        """As in "undo the collar on the round plug and pull it": the plug is pulled, not its collar."""
        drawn = verb.split(" ", maxsplit=1)[0] in (
            "pull",
            "unplug",
            "disconnect",
            "draw",
            "withdraw",
        )
        if self.spoken or not drawn or newest is None or newest.head not in RINGS_OF_PLUGS:
            return newest
        if newest.of:
            words = tuple(newest.of.lower().split())
            whole = Thing(newest.of, noun_singular(words[-1]), self.lexicon.category(words))
        else:
            whole = self.aside[-1] if self.aside else newest
        return replace(whole, article="the") if whole.category in _CABLES else newest

    def _wiped(self, newest: Thing | None, verb: str) -> Thing | None:
        """As in "screws out, rollers off; now they can be wiped": no screws."""
        wiped = verb in ("wipe", "clean", "dust", "brush", "wash") and not self.spoken
        if not wiped or newest is None or newest.category != "fastener":
            return newest
        pieces = (t for t in reversed(self.mentioned) if t.category != "fastener")
        return next((t for t in pieces if t.plural == newest.plural), newest)

    def _drawn_cable(self, newest: Thing | None, verb: str) -> Thing | None:
        """As in "the display cable, you peel the tape back, flip the bail up and slide it out": the cable."""
        drawn = self.spoken and verb.split(" ", maxsplit=1)[0] in ("slide", "pull", "draw")
        if not drawn or newest is None or newest.category not in ("film", "lock", "clip", "tie"):
            return None
        if newest.head not in self.handled:
            return None
        for thing in reversed(self.mentioned[-6:]):
            if thing.category in _CABLES and thing.plural == newest.plural:
                return thing
        return None

    def _one_of_them(self, pronoun: Thing, verb: str) -> Thing | None:
        """As in "take the two outer ones out and slacken the middle one": of the screws that were named."""
        words = pronoun.name.lower().split()
        if not self.spoken or len(words) < 2 or words[-1] not in ("one", "ones"):
            return None
        if not verb or not set(words[:-1]) & ONE_OF_THEM:
            return None
        wanted = _WANTED.get(verb, _SMALL_THINGS)
        for thing in reversed(self.mentioned[-8:]):
            if thing.category not in wanted or thing.category not in _SMALL_THINGS:
                continue
            if not (thing.plural or (isinstance(thing.count, int) and thing.count > 1)):
                continue
            one = words[-1] == "one"
            named = [word for word in words[:-1] if word in ONE_OF_THEM]
            name = " ".join([*named, thing.head if one else thing.name.split()[-1]])
            return replace(thing, name=name, count=1 if one else pronoun.count, plural=not one)
        return Thing(pronoun.name, "one", "unknown", article="the")

    def _both_of(self, pronoun: Thing) -> Thing | None:
        """As in "held by a screw and a nut. Undo both.": the two small things that were named side by side."""
        if self.spoken or pronoun.head != "both" or len(self.mentioned) < 2:
            return None
        one, two = self.mentioned[-2:]
        single = (
            not (one.plural or two.plural) and one.count in (None, 1) and two.count in (None, 1)
        )
        if not single or one.category != two.category or one.category not in _SMALL_THINGS:
            return None
        alike = one.head == two.head
        name = f"{two.head}s" if alike else f"{one.name} and {two.name}"
        return replace(two, name=name, count=2, plural=True, article="the")

    def last_connector(self) -> Thing | None:
        """The plug that was named just now."""
        near = reversed(self.mentioned[-6:])
        return next((t for t in near if t.category == "connector" and not t.plural), None)

    def last_piece(self) -> Thing | None:
        """The piece that was named last."""
        pieces = (t for t in reversed(self.mentioned) if t.category in _PIECES)
        return next((t for t in pieces if not t.plural), None)

    def _fresh_one(self, pronoun: Thing) -> Thing | None:
        """As in "put the new one in": what the talk is about, else the part that came out last."""
        if not self.spoken or not pronoun.name.lower().startswith(("new ", "replacement ")):
            return None
        for thing in reversed(self.mentioned[-8:]):
            first, _, rest = thing.name.partition(" ")
            if first.lower() == "old" and rest:
                return replace(thing, name=f"new {rest}")
        whole = self._whole_part()
        if whole is not None:
            return whole
        out = self.gone | set(self.removed)
        for thing in reversed(self.mentioned):
            if thing.category in (*_PIECES, "button") and thing.head in out:
                return thing
        return None

    def _whole_part(self) -> Thing | None:
        """What the procedure takes out, where its name is that of a piece: "the whole thing"."""
        words = tuple(self.part.lower().split())
        category = self.lexicon.category(words) if words else "unknown"
        if category not in _PIECES:
            return None
        return Thing(self.part, noun_singular(words[-1]), category, article="the")

    def _no_fastener(self, pronoun: Thing) -> Thing | None:
        """As in "the drive is held by one screw; undo it and slide it out": what slides is the drive."""
        if pronoun.head not in ("it", "that", "this"):
            return None
        for thing in reversed(self.mentioned[-8:]):
            if (
                thing.category not in ("fastener", "unknown", "lock", "clip", "button")
                and not thing.plural
            ):
                return thing
        return None

    def _carrying(self, newest: Thing | None, verb: str) -> Thing | None:
        """As in "release the handle on the new carrier and insert it": the carrier, not its handle."""
        put_in = not self.spoken and verb.split(" ", maxsplit=1)[0] in ("insert", "install", "fit")
        if newest is None or newest.category != "lock" or not put_in or not self.aside:
            return newest
        whole = self.aside[-1]
        return whole if whole.category in _PIECES and not whole.plural else newest

    def _behind_the_lock(self, pronoun: Thing) -> Thing | None:
        """As in "there's a power plug, squeeze the tab and pull it off": the plug comes off, not its tab."""
        if pronoun.head not in ("it", "that", "this"):
            return None
        for thing in reversed(self.mentioned[-4:]):
            if (
                thing.category not in _HELD_ASIDE
                and not thing.plural
                and thing.category not in ("fastener", "unknown")
            ):
                return thing
        return None

    def _newest(self, pronoun: Thing) -> Thing | None:
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
            "each",
        )
        if (
            not plural
            and pronoun.head == "it"
            and not any(not t.plural for t in self.mentioned[-3:])
        ):
            several = [t for t in self.mentioned[-3:] if t.category in _PIECES]
            if several:
                return several[-1]
        last = self.mentioned[-1] if self.mentioned else None
        if pronoun.head in ("those", "them") and last is not None and last.category == "fastener":
            if last.article in ("a", "an") and last.size and not last.plural:
                # "Under each there is an M2x3 screw. Remove those."
                return replace(last, name=f"{last.name}s", count=None, plural=True, article="the")
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
        """As in "the FPC cable" behind "the 6 pin FPC cable connector" is the 6 pin FPC cable."""
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

    def _part_named_like_a_lock(self, thing: Thing) -> str:
        """As in "the bar" behind "the security bar", which is a part and no lock."""
        for earlier in reversed(self.mentioned[-6:]):
            if earlier.head == thing.head and " " in earlier.name and earlier.category == "part":
                return earlier.name
        return self._lock_of(thing)

    def _lock_of(self, thing: Thing) -> str:
        """As in "the brown lock" behind "the brown lock of the panel connector", in a text of steps."""
        names = [
            t.name for t in self.mentioned if t.name.lower().startswith(f"{thing.name.lower()} of ")
        ]
        return names[-1] if names and not self.spoken else thing.name

    def _ring_meant(self, thing: Thing) -> str:
        """As in "the clip" behind "the e-clip": one name for one thing."""
        near = (t for t in reversed(self.mentioned) if t.head in _RINGS and not t.plural)
        ring = next((t for t in near if t.head.endswith(thing.name.lower())), None)
        return ring.name if ring is not None else thing.name

    def _ends_part(self, name: str) -> bool:
        """True where the part of the procedure is written as one word that ends in this name."""
        part = self.part.lower()
        return part.endswith(name) and part != name and " " not in part and len(name) > 3

    def full_name(self, thing: Thing) -> str:
        """As in "the board" is the board that was named last; "the board" after "main board" is the main board."""
        if (
            thing.category == "cable"
            and thing.article in ("the", "")
            and " " in thing.name
            and not thing.plural
        ):
            return self._longer_cable(thing) or thing.name
        if self.spoken and thing.name.lower() in ("clip", "ring"):
            return self._ring_meant(thing)
        if thing.category == "lock" and " " in thing.name and thing.article == "the":
            return self._lock_of(thing)
        if (
            thing.article not in ("the", "this", "that", "its")
            or " " in thing.name
            or thing.category in ("fastener", "clip", "tool", "place")
        ):
            return thing.name
        if not self.spoken and self._ends_part(thing.name.lower()):
            return self.part  # "the board" in the procedure of the mainboard
        if not self.spoken and thing.name.lower() in self.headed:
            return (
                thing.name
            )  # "the battery" with a section of its own is not the coin-cell battery
        if thing.category == "lock":
            return self._part_named_like_a_lock(thing)
        for earlier in (*reversed(self.mentioned), *reversed(self.aside)):
            if (
                earlier.head == thing.head
                and earlier.plural == thing.plural
                and " " in earlier.name
                and (
                    earlier.category == thing.category
                    or {earlier.category, thing.category} <= _PIECES
                )
                and not earlier.of
            ):
                return earlier.name
        return thing.name

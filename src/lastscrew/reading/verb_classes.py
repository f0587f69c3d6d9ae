"""Which class a verb has on its object: by the lexicon, the half of the work and the words around it."""

from __future__ import annotations

import re

from lastscrew.reading.lexicon.groups import word_group
from lastscrew.reading.memory import RINGS_OF_PLUGS, Memory
from lastscrew.reading.model import Thing
from lastscrew.reading.predicates import Found

_SLOTS = word_group("meaning_slots")
_GUIDES = word_group("meaning_guides")
_TAKING = frozenset(["remove", "pull", "take", "lift", "slip"])
_BENCH = word_group("meaning_bench")
_UP_WORDS = word_group("meaning_up_words")
_DOWN_WORDS = frozenset(["down", "closed", "downward", "downwards", "shut", "locked"])
_LEVERS = word_group("meaning_levers")
"""What opens and closes by any movement: which way is up differs from machine to machine, the half of the work decides."""  # noqa: E501
_FREEING = word_group("meaning_freeing")
_UNLOCKING = re.compile(
    r"\bunlock\w*|\bopen\b|\brelease[sd]?\b(?! (?:tab|lever|latch|button|bar|handle|catch|clip|pin)s?\b)|\bto free\b|\bfreed\b",  # noqa: E501
    re.IGNORECASE,
)
_LOCKING = re.compile(
    r"\block(?:ed|s)?\b(?!\s+(?:lever|arm|bar|tab|ring|nut|latch|pin|catch|handle))|\bclosed?\b",
    re.IGNORECASE,
)
_ROCKED = frozenset(["rock", "wiggle", "work", "twist", "tap", "ease", "turn", "jiggle", "pull"])
_LETS_GO = re.compile(
    r"\b(?:till|until|til)\b.*\b(?:lets? go|comes? (?:free|loose)|is free|is loose|gives?|pops?|breaks? free)\b",
    re.IGNORECASE,
)
_ONTO_A_PART = re.compile(
    r"\btowards? (?!you|us|your|the (?:left|right|back|front))", re.IGNORECASE
)
_TOWARDS = re.compile(r"\btowards? (?:you|us|yourself)\b", re.IGNORECASE)
_HAND_LOCKS = frozenset(
    ["knob", "dial", "cam", "wheel", "dog", "quarter-turn", "thumbwheel", "cap", "ring"]
)
_ANTICLOCKWISE = re.compile(
    r"\bquarter\b|\bhalf a turn\b|\bline up\b|\bto (?:the )?(?:left|right)\b"
    r"|\b(?:anti-?|counter-?)?clockwise\b|\bas far as (?:it|they) will go\b"
    r"|\b(?:arrows?|marks?) (?:meet|align|match)\b",
    re.IGNORECASE,
)
"""How knobs that hold a part are turned to free it; on the way back the same words fasten it."""
_TURNED_OUT = frozenset(
    ["screw", "bolt", "nut", "thumbscrew", "setscrew", "grubscrew", "jackscrew"]
)
_DONE_TO_IT = {"body": ("remove", "replace"), "force": ("apply",)}
"""Fingers are run round an edge, but a clock's hand is removed; "take the tension off the belt" moves no part."""
_THEN_OFF = re.compile(
    r"\bpress\b.*\b(?:and|then|while)\b.*\b(?:pull|lift|slide|remove|take|draw)(?:ing)?\b",
    re.IGNORECASE,
)
_SWUNG = frozenset(["press", "push", "rotate", "turn", "swing", "move", "flip", "fold"])
_LOOSE = re.compile(
    r"\b(?:pry|prise|lever) (?:it|them|the [\w -]{2,30}) (?:loose|free)\b", re.IGNORECASE
)
_DRAWN = frozenset(["pull", "draw", "work", "slip", "ease", "twist"])
_PUSHED = frozenset(["push", "slip", "slide", "press"])
_UNION = re.compile(r"\bnuts?\b", re.IGNORECASE)
"""A hose with a nut of its own comes off like a part; one that is only pushed on is disconnected."""
_PLUGGED = frozenset(["connector", "header", "terminal"])
"""What a card or cage is pulled off, or pushed onto, to part or make its connection."""
_BACK_ON = re.compile(r"\bback (?:on|in|onto|down)\b(?!\s*(?:place|position))", re.IGNORECASE)
_PART_OF_IT = re.compile(r"\b(?:edge|side|corner|end)s?\b", re.IGNORECASE)


def class_of(
    found: Found, category: str, memory: Memory, sentence: str, thing: Thing | None
) -> str:
    """Class of a verb on an object of ``category``, decided by half, particles and surroundings."""
    verb = memory.lexicon.verbs[found.key]
    refitting = memory.refitting
    klass = verb.class_of(category, refitting=refitting)
    if (
        klass == "disconnect"
        and category in ("cable", "antenna")
        and found.lemma not in ("disconnect", "unplug", "unsolder", "detach")
        and found.from_
        and all(
            t.category in ("clip", "channel", "tie", "film", "lock")
            or t.head in _GUIDES
            or (t.head in _SLOTS and t.category != "connector" and found.lemma in _TAKING)
            for t in found.from_
            if t.head not in memory.lexicon.words["colours"]
        )
    ):
        return "release"
    if klass == "close" and category in ("cable", "antenna") and found.to and not memory.spoken:
        if found.lemma in ("clip", "snap") and found.to[0].head in (*_SLOTS, "guide", "clip"):
            return "route"  # "Clip the wires into the slot"
    if (
        klass == "connect"
        and category in ("cable", "antenna")
        and found.to
        and all(t.category in ("clip", "channel", "tie") or t.head in _GUIDES for t in found.to)
    ):
        return "route"
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
    if (
        klass == "slide"
        and refitting
        and found.weak == "passive"
        and found.to_word == "into"
        and any(
            t.head in _SLOTS or t.head in ("sleeve", "clamp", "holder", "housing") for t in found.to
        )
        and category in ("part", "card", "board", "unknown")
    ):
        return "insert"
    whole = bool(found.things) and found.things[0].is_pronoun and "together" in sentence.lower()
    if found.lemma in ("put", "get") and found.particle == "back" and whole:
        return "other"
    if (
        klass == "close"
        and not refitting
        and category in ("lock", "clip", "button")
        and found.purpose is not None
        and found.purpose.lemma in _FREEING
    ):
        return "release"
    if klass not in _DONE_TO_IT.get(category, (klass,)):
        return "other"  # "Take the tension off the belt."
    special = _by_the_thing(found, (category, klass), thing, memory, sentence)
    if special:
        return special
    if klass == "lock":
        return _lock_class(found, sentence, refitting=refitting)
    if (
        (klass == "close" or (klass == "other" and memory.spoken))
        and found.lemma in ("press", "push")
        and category in ("button", "part", "card", "board", "unknown")
        and found.to_word in ("into", "in", "inside")
        and found.to
    ):
        return "insert"
    if (
        found.key.startswith("snap ")
        and found.key != "snap on"
        and category == "cover"
        and not _BACK_ON.search(sentence)
    ):
        return "close"
    if klass == "close" and found.lemma == "clip" and found.to:
        if category in ("part", "cover", "board") and found.particle not in ("down", "shut"):
            return "replace"
    if (
        found.lemma == "separate"
        and klass == "release"
        and found.from_
        and len(found.things) == 1
        and category in ("part", "board", "cover", "card", "unknown")
    ):
        return "remove"
    if (
        klass in ("remove", "slide", "insert")
        and found.lemma in ("pull", "draw", "slide", "push")
        and category not in ("cable", "connector", "fastener", "lock", "clip", "tool", "film")
    ):
        terminal = thing is not None and thing.head in ("block", "terminal")
        if any(_is_plug(t) or (terminal and t.head == "pin") for t in found.from_):
            return "disconnect"
        if any(_is_plug(t) for t in found.to):
            return "connect"
    if klass == "close" and category == "lock" and not refitting and thing is not None:
        if thing.head in _LEVERS and not _LOCKING.search(sentence) and found.lemma in _SWUNG:
            return "release"
    if klass == "other" and found.lemma in ("turn", "rotate", "twist", "set", "move", "switch"):
        if refitting and found.particle == "back" and category in ("unknown", "part", "button"):
            return "close"
        if thing is not None and _is_hand_lock(thing) and _ANTICLOCKWISE.search(sentence):
            return "close" if refitting else "release"
        turned = _turned(category, sentence)
        if turned:
            return turned
    if found.lemma == "use" and category in ("supply", "residue") and thing is not None:
        if thing.name.lower().startswith(("new ", "fresh ")):
            return "apply"
    if found.lemma == "slip" and klass == "slide" and found.from_:
        return "remove"
    if found.lemma in ("draw", "ease", "coax") and klass == "other" and found.from_:
        return "remove"
    if found.lemma in ("raise", "lift", "hoist") and any(
        t.head in ("position", "place") or (refitting and found.to_word in ("into", "onto"))
        for t in found.to
    ):
        return "replace"
    if found.lemma in ("pry", "prise", "lever") and klass == "release" and _LOOSE.search(sentence):
        if category in ("part", "card", "board"):
            return "remove"  # "pry it loose"
    if found.key == "pry up" and _PART_OF_IT.search(sentence):
        return "release"
    if klass == "place":
        return _place_class(found, category, refitting=refitting)
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
        (category == "fastener" and thing is not None and thing.captive)
        or _only_loosened(sentence)
        or _is_ring_of_plug(found, thing, memory)
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


def _by_the_thing(
    found: Found, kind: tuple[str, str], thing: Thing | None, memory: Memory, sentence: str
) -> str:
    """Hoses, quarter-turn fasteners, plugs: their verbs mean something of their own; "" for other things."""
    category, klass = kind
    refitting = memory.refitting
    pushed = _pushed_on(found, kind, thing, memory, sentence)
    if pushed:
        return pushed
    if klass == "remove" and thing is not None and thing.name.lower() in ("tag", "tags"):
        return "remove" if memory.spoken else "other"  # "Tag leads" … "Remove tags"
    if klass == "tighten" and found.lemma == "lock" and thing is not None:
        return "tighten" if thing.head in _TURNED_OUT else "close"
    if klass == "loosen" and found.lemma == "release" and thing is not None:
        return "loosen" if thing.head in _TURNED_OUT else "release"  # a quarter-turn is freed
    if found.lemma in ("turn", "rotate", "twist") and thing is not None:
        named = thing.head == "fastener" or "quarter-turn" in thing.name.lower()
        if named and _ANTICLOCKWISE.search(sentence):
            return "close" if refitting else "release"
    if klass == "close" and found.lemma == "push" and category == "cover" and refitting:
        if found.to_word in ("onto", "on", "over") and found.to:
            return "replace"
    if (
        klass == "close"
        and found.lemma in ("clip", "snap", "click")
        and category in ("cable", "antenna", "connector")
        and any(t.category in ("board", "card", "connector") for t in found.to)
    ):
        return "connect"
    if thing is not None and thing.of and thing.head in ("pin", "tail", "core", "stem", "centre"):
        of = memory.lexicon.category(tuple(thing.of.lower().split()))
        if of in ("fastener", "clip") and klass != "other":
            return "close" if refitting else "release"  # "pull out the pins of the rivets"
    if found.key == "pull apart" and thing is not None and thing.of:
        of = memory.lexicon.category(tuple(thing.of.lower().split()))
        return "disconnect" if of in ("cable", "connector") else ""
    if (
        refitting
        and thing is not None
        and thing.head in memory.removed
        and category in ("lock", "clip", "tie", "button")
        and found.key in ("go in", "go on", "go back", "put on", "put back")
    ):
        return "replace"
    if (
        refitting
        and klass == "close"
        and (found.to or found.at)
        and category in ("part", "cover", "unknown")
    ):
        looped = thing is not None and thing.head in ("belt", "chain", "band", "loop")
        if found.lemma == "hook" and (looped or found.to_word in ("over", "around")):
            return "replace"
        seated = any(t.head in _SLOTS for t in found.to)
        if found.lemma in ("press", "push") and category == "cover" and seated:
            return "insert" if found.lemma == "push" else "replace"
    if found.lemma == "use" and category in ("tie", "film", "fastener", "part", "cover"):
        fresh = thing is not None and thing.name.lower().startswith(("new ", "fresh "))
        return "replace" if fresh and not found.purpose else "other"
    if category == "place" and found.lemma in ("press", "push") and not memory.spoken:
        return "other"  # "press the lower edge in"
    gripped = found.lemma == "clamp" and found.tool and not memory.spoken
    if gripped or (category == "tool" and found.lemma in ("pull", "stick", "press")):
        return "other"  # "Using pliers clamp the head of the pin"
    if memory.spoken and _ONTO_A_PART.search(sentence) and klass in ("other", "release"):
        if category in ("part", "board", "card", "cover") and found.lemma in (
            "push",
            "pull",
            "move",
        ):
            return "slide"
    if memory.spoken and klass == "other" and found.lemma in _ROCKED and _LETS_GO.search(sentence):
        return "disconnect" if category in ("cable", "connector") else "release"
    if memory.spoken and any(t.head == "wall" for t in found.from_) and klass == "remove":
        return "other"  # "pull it out from the wall": the machine
    if memory.spoken and not refitting:
        words = set(sentence.lower().split())
        if (
            category == "clip"
            and found.key == "press down"
            and not words & {"lock", "click", "home"}
        ):
            return "release"
        if category == "cover" and found.key == "push back":
            return "slide"
        drawn = found.lemma in ("draw", "pull") and klass == "other"
        if drawn and category in ("cover", "part", "board", "card") and _TOWARDS.search(sentence):
            return "remove"
    own = thing is not None and thing.head in ("brush", "cutter", "probe")
    if (
        category in ("tool", "body")
        and memory.spoken
        and klass not in ("remove", "other")
        and not own
    ):
        return "other"
    if (
        memory.spoken
        and not refitting
        and klass == "close"
        and found.particle == "back"
        and (category in ("lock", "clip", "button", "film") or (thing and thing.head == "spring"))
    ):
        return "release"
    if (
        memory.spoken
        and refitting
        and klass == "close"
        and found.lemma == "hook"
        and category in ("part", "cover", "board", "unknown", "place")
        and not found.to
    ):
        return "insert"
    return ""


def _pushed_on(
    found: Found, kind: tuple[str, str], thing: Thing | None, memory: Memory, sentence: str
) -> str:
    """Hoses that are drawn off and pushed on, rings and pieces that are pressed on; "" for other things."""
    category, klass = kind
    refitting = memory.refitting
    hose = thing is not None and thing.head in ("hose", "hosepipe") and category == "part"
    if hose and not _UNION.search(sentence):
        if klass == "remove" and found.lemma in _DRAWN:
            return "disconnect"
        if klass in ("replace", "insert", "slide") and refitting and found.lemma in _PUSHED:
            return "connect"
    pressed = found.lemma in ("press", "push", "squeeze") and klass in ("insert", "slide", "other")
    ring = thing is not None and thing.head in ("gasket", "seal", "o-ring", "grommet", "bung")
    back = _BACK_ON.search(sentence) and found.particle == "back"
    seat = found.to_word in ("onto", "into", "over") and bool(found.to)
    if found.lemma == "press" and category == "cover" and klass == "close" and refitting:
        return "replace" if (back or seat) and not memory.spoken else ""
    way = found.to_word in ("onto", "on", "over") and bool(found.to)
    onto = way or found.particle == "on"
    seated = category == "board" and found.particle == "on" and not found.to
    kinds = ("part", "film", "unknown", "cover")
    if pressed and refitting and (seated or (category in kinds and (found.to or onto))):
        if ring or (onto and not memory.spoken):
            return "replace"  # "Press the gas springs onto the ball studs"
    return ""


def _is_ring_of_plug(found: Found, thing: Thing | None, memory: Memory) -> bool:
    """As in "undo the collar of the round plug": it stays on the plug."""
    if thing is None or thing.head not in RINGS_OF_PLUGS or memory.spoken:
        return False
    of = memory.lexicon.category(tuple(thing.of.lower().split())) if thing.of else ""
    return of == "connector" or any(t.category == "connector" for t in found.at)


def _is_hand_lock(thing: Thing) -> bool:
    """As in "a red locking plate", "the quarter-turn fasteners": turned by hand to free or to hold."""
    words = thing.name.lower().split()
    return thing.head in _HAND_LOCKS or any(word in ("locking", "quarter-turn") for word in words)


def _is_plug(thing: Thing) -> bool:
    """As in "pull it off connector J1": what makes and parts a connection."""
    return thing.head in _PLUGGED or thing.name.lower().split()[:1] == ["connector"]


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
            "take down",
            "take them out",
            "take it out",
            "take out",
        )
    )


def _turned(category: str, sentence: str) -> str:
    """As in "turn both knobs to the unlock position": what the sentence says of the lock."""
    if category not in ("part", "button", "unknown", "card", "connector", "cover"):
        return ""
    if _UNLOCKING.search(sentence):
        return "release"
    return "close" if _LOCKING.search(sentence) else ""


def _lever_class(sentence: str, *, refitting: bool) -> str:
    opens = bool(_UNLOCKING.search(sentence))
    closes = bool(_LOCKING.search(sentence))
    if opens != closes:
        return "release" if opens else "close"
    return "close" if refitting else "release"


def _lock_class(found: Found, sentence: str, *, refitting: bool) -> str:
    if found.things and found.things[-1].head in _LEVERS:
        return _lever_class(sentence, refitting=refitting)
    purpose = found.purpose
    if not refitting and purpose is not None and purpose.lemma in _FREEING:
        return "release"
    words = set(sentence.lower().replace(",", " ").replace(".", " ").split())
    if found.particle in ("up", "open", "out", "away") or "unlock" in words or "unlocked" in words:
        return "release"
    pressed = not refitting and found.things and found.things[-1].category in ("clip", "button")
    if pressed and _THEN_OFF.search(sentence):
        return "release"  # "Press down the two tabs and pull it off"
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


def _place_class(found: Found, category: str, *, refitting: bool) -> str:
    if category in ("film", "supply", "residue"):
        seals = [thing for thing in found.things if thing.head == "seal"]
        return "replace" if seals and refitting else "apply"
    if category in ("tool", "body", "device", "text", "pronoun", "place"):
        return "other"
    targets = [*found.to, *found.at]
    if any(target.head in _BENCH for target in targets) or found.particle in (
        "aside",
        "away",
        "over",
    ):
        return "other"
    new = any(thing.name.lower().startswith(("new ", "replacement ")) for thing in found.things)
    if found.particle == "down" and not targets and not new and not refitting:
        return "other"
    if not refitting and not any(thing.name.lower().startswith("new ") for thing in found.things):
        return "other"
    if category == "cable":
        plugged = any(target.category == "connector" for target in targets)
        pushed = found.particle in ("on", "in") and not targets and not new
        return "connect" if plugged or pushed else "route"
    if category == "card" and found.particle == "in":
        return "insert"
    if category == "card" and any(
        target.head in _SLOTS or target.category == "connector" for target in targets
    ):
        return "insert"
    return "replace"

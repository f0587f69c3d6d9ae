"""What a speaker leaves out of a sentence or says behind it: "take the two off the side", "bolts out, two of them".

Numbers that stand alone behind a verb that undoes or does up are screws; a number behind its screws, and screws that
are counted behind the part that they held ("take the plate off, that's six screws"), belong to what was said before.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from lastscrew.reading.lexicon import Lexicon
from lastscrew.reading.lexicon.groups import SMALL_NUMBERS
from lastscrew.reading.lexicon.morphology import noun_singular
from lastscrew.reading.model import Action, Thing
from lastscrew.reading.phrases import Phrases
from lastscrew.reading.tokens import Token, tokenise

_UNDONE = frozenset(["undo", "unscrew", "loosen", "slacken", "tighten", "unbolt"])
_DONE_UP = frozenset(["do", "nip", "run", "wind", "snug", "screw"])
_TAKEN = frozenset(["take", "get", "pull", "whip", "zip", "have"])
_PLUGGED = frozenset(["unplug", "disconnect", "plug", "connect", "reconnect"])
_AT = frozenset(["at", "on", "along", "in", "from", "under", "down", "round", "around", "off", "out", "up", "behind", "inside"])  # fmt: skip  # noqa: E501
_COUNTABLE = frozenset(["cable", "connector", "clip", "lock", "tie", "antenna", "part", "cover", "board", "card", "unknown", "film"])  # fmt: skip  # noqa: E501
_NUMBERS = r"\d{1,2}|" + "|".join(SMALL_NUMBERS)
_BEHIND = re.compile(
    rf",\s*(?:(?:there's|there are|that's|it's|just|only|all)\s+)*(?P<number>{_NUMBERS}|the one)(?:\s+of\s+(?:them|those|these))(?=\s*(?:[,.;!]|$|and\b))"  # noqa: E501
    rf"|,\s*(?:just (?P<one>the one)|(?:so\s+)?all (?P<all>{_NUMBERS}))(?=\s*(?:[,.;!]|$|and\b))",
    re.IGNORECASE,
)
_SINCE = re.compile(
    rf"^\W*(?:(?:so|and|okay|right|yeah)\b[,\s]*)*"
    rf"(?:(?:that's|that is|that makes|there's|there are|makes) (?P<number>{_NUMBERS})(?: (?P<noun>[a-z]+))?|"
    rf"all (?P<all>{_NUMBERS})(?: of (?:them|those|these))?)(?=\s*(?:[,.;!]|$))",
    re.IGNORECASE,
)
_HELD_BY = re.compile(
    rf",\s*(?:(?:that's|that is|it's|they're|with|only|just|all)\s+)*(?P<screws>(?:{_NUMBERS})\s+(?:[\w-]+\s+){{0,3}}?(?:screws?|bolts?|nuts?|thumbscrews?|(?:button|cap|pan|flat|hex) heads?))(?=\s*(?:[,.;!]|$|and\b))",  # noqa: E501
    re.IGNORECASE,
)
_ALONE = re.compile(
    rf"^\W*(?:(?:so|and|okay|right)\b[,\s]*)*(?:that's|that is|it's|with|only|just)\s+(?:(?:only|just)\s+)?"
    rf"(?P<screws>(?:{_NUMBERS})\s+(?:[a-z-]+\s+){{0,3}}?(?:screws?|bolts?|nuts?|thumbscrews?))"
    r"(?:,? (?:and|so|then))?\W*$",
    re.IGNORECASE,
)
_TILL_IT_CLICKS = re.compile(
    r"\b(?:until|till)\b.*\b(?:clicks?|snaps?|engages?|latch(?:es)?|locks?)\b", re.IGNORECASE
)
_ALL_ROUND = re.compile(
    r"\b(?:press|push|squeeze) (?:it |that )?(?:all |right )?(?:the way )?a?round(?=\s*(?:[,.;]|$|and\b|the edges?\b))",
    re.IGNORECASE,
)
"""As in "bezel on, and press around, everywhere"."""
_CLIPS_GO = re.compile(
    r"\b(?:that's|that is|those are|that'll be|it's|hear|feel|there go) (?:(?:just|all|only) )*(?:the|its|your|those) (?:little |plastic )?(?P<clips>clips?|tabs?|catches|catch|hooks|latches)\b"  # noqa: E501
    r"(?=(?: (?:just|all))*(?: (?:letting|let|going|giving|coming|come|popping|pop|releasing|release|unclipping|undone)\b|\W*$))"  # noqa: E501
    r"|\b(?:it )?(?:makes|goes|will go|it'll go|going|go)\s+(?:a )?(?:few )?(?:little )?(?:clicks?|pops?|cracks?|snaps?)\W*$",  # noqa: E501
    re.IGNORECASE,
)


def clips_let_go(sentence: str, line: int) -> Action | None:
    """As in "that's the clips letting go", "it makes click, click": told by the sound while a cover is worked off."""
    match = _CLIPS_GO.search(sentence)
    if match is None:
        return None
    name = (match["clips"] or "clips").lower()
    thing = Thing(name, noun_singular(name), "clip", plural=name.endswith("s"), article="the")
    return Action("release", "let go", name, things=(thing,), line=line, weak="result")


_GIVES_WAY = re.compile(
    r"\b(?:until|till)\s+(?:you (?:can )?(?:hear|feel|see) )?"
    r"(?P<thing>(?:the|its|each|both|all(?: the)?) (?:[a-z-]+ ){1,3}?)(?:have |has )?"
    r"(?:gives? way|lets? go|pops? (?:open|out|off|free)|releases?|disengages?|comes? (?:free|loose|away)|springs? (?:open|out)|unclips?)\b",  # noqa: E501
    re.IGNORECASE,
)
_CLIPS_THERE = re.compile(
    r"^\W*(?P<there>there are |it (?:is held by|has) |it's held by )?"
    r"(?P<clips>(?:all |both )?(?:the |its )?(?:\w+ ){0,2}(?:clips|tabs|catches|latches|hooks|snaps))\b"
    r"(?P<go> (?:will )?(?:let go|give|pop|come free|release|open)\b)?",
    re.IGNORECASE,
)
"""As in "There are 10 clips", "The clips let go one by one"."""
_WORKED = frozenset(["twist", "turn", "push", "press", "pry", "lever", "slide", "run", "work", "move", "rotate", "tilt", "rock"])  # fmt: skip  # noqa: E501
_NEAR = 2
_OFF = frozenset(["remove", "lift"])
_PIECES = frozenset(["part", "cover", "board", "card", "drawer", "unknown", "lock"])


def screws_meant(tokens: list[Token], lexicon: Lexicon, named: Sequence[Thing]) -> list[Token]:
    """The tokens with "screws" behind a number that stands alone: "undo the two at the back"."""
    tokens = _plugs_meant(tokens)
    for i in range(1, len(tokens) - 1):
        number = lexicon.numbers.get(tokens[i].low)
        if tokens[i].low.isdigit():
            number = int(tokens[i].low)
        if number is None or tokens[i - 1].low != "the":
            continue
        follow = tokens[i + 1]
        if follow.low not in _AT and follow.kind != "mark":
            continue
        verb = tokens[i - 2].low if i > 1 else ""
        before = tokens[i - 3].low if i > 2 else ""
        sure = verb in _UNDONE or (verb in ("up", "down", "out") and before in _DONE_UP)
        taken = verb in _TAKEN or (verb in ("out", "off") and before in _TAKEN)
        others = any(
            t.category in _COUNTABLE and t.plural and t.count in (None, number) for t in named[-3:]
        )
        if not (sure or (taken and not others)):
            continue
        last = next((t.head for t in reversed(named[-10:]) if t.category == "fastener"), "screw")
        name = last if number == 1 else f"{last}s"
        screws = replace(tokens[i], low=name, text=name, kind="word")
        return [*tokens[: i + 1], screws, *tokens[i + 1 :]]
    return tokens


def _plugs_meant(tokens: list[Token]) -> list[Token]:
    """As in "unplug everything on the board": all the plugs."""
    for i in range(1, len(tokens)):
        before = tokens[i - 1].low
        if before == "back" and i > 1:
            before = tokens[i - 2].low
        if tokens[i].low != "everything" or before not in _PLUGGED:
            continue
        words = [replace(tokens[i], low=w, text=w, kind="word") for w in ("all", "the", "plugs")]
        rest = tokens[i + 1 :]
        if rest and rest[0].low == "at":
            rest = [replace(rest[0], low="on"), *rest[1:]]
        return [*tokens[:i], *words, *rest]
    return tokens


def counted_behind(sentence: str, found: list[Action]) -> list[Action]:
    """As in "take the clamp bolts out, two of them": the number of the screws that were said without one."""
    match = _BEHIND.search(sentence)
    if match is None:
        return found
    told = match["number"] or match["one"] or match["all"]
    count = 1 if told.lower() == "the one" else _value(told)
    said = sentence[: match.start()].lower()
    for k in range(len(found) - 1, -1, -1):
        action = found[k]
        thing = action.things[-1] if action.things else None
        small = thing is not None and (
            action.fastener
            or thing.plural
            or thing.category in ("clip", "lock", "connector", "cable", "tie")
        )
        if (
            thing is None
            or not small
            or not (thing.head in said or thing.is_pronoun or "everything" in said)
        ):
            continue
        unsaid = action.count is None or (action.count == "all" and match["all"])
        if unsaid and (thing.plural or count == 1):
            things = (*action.things[:-1], replace(thing, count=count))
            rows = list(found)
            rows[k] = replace(action, count=count, things=things)
            return rows
    return found


def counted_since(sentence: str, last: Action | None) -> int | None:
    """As in "unplug everything on the board. | So that's five plugs.", "… | so all five": how many that were."""
    if last is None or not last.things or last.count not in (None, "all"):
        return None
    match = _SINCE.match(sentence)
    if match is None:
        return None
    noun = match["noun"]
    same = noun is None or noun_singular(noun.lower()) == last.things[-1].head
    return _value(match["number"] or match["all"]) if same else None


def lets_go(sentence: str, found: list[Action], lexicon: Lexicon) -> list[Action]:
    """As in "twist the screwdriver until the clip gives way": the clip is released."""
    match = _GIVES_WAY.search(sentence)
    if match is None or any(action.klass == "release" for action in found):
        return found
    for k in range(len(found) - 1, -1, -1):
        action = found[k]
        tool = bool(action.things) and action.things[-1].category in ("tool", "card")
        if (
            action.klass not in ("other", "slide")
            or not tool
            or action.verb.split()[0] not in _WORKED
        ):
            continue
        thing, _ = Phrases(tokenise(match["thing"], lexicon), lexicon).phrase(0)
        if thing is None or thing.category not in ("clip", "lock", "part", "cover", "film"):
            continue
        count = 1 if not thing.plural and thing.category in ("clip", "lock") else None
        rows = list(found)
        rows[k] = replace(action, klass="release", object=thing.name, things=(thing,), count=count)
        return rows
    return found


def clips_run_along(sentence: str, done: list[Action], lexicon: Lexicon) -> list[Action]:
    """As in "Run a card round the seam. | There are 10 clips.", "… | The clips let go": these the tool releases."""
    match = _CLIPS_THERE.match(sentence)
    tool = any(
        a.things and a.things[-1].category in ("tool", "card") and a.verb.split()[0] in _WORKED
        for a in done
    )
    told = match is not None and (match["there"] or match["go"])
    if match is None or not told or not tool or any(a.klass == "release" for a in done):
        return []
    thing, _ = Phrases(tokenise(match["clips"], lexicon), lexicon).phrase(0)
    if thing is None or thing.category not in ("clip", "lock"):
        return []
    last = done[-1]
    count = thing.count
    return [
        Action("release", "release", thing.name, (thing,), count, line=last.line, spot=last.spot)
    ]


def strips_pulled(found: list[Action], named: Sequence[Thing]) -> list[Action]:
    """As in "The pack sits on two strips of tape. Pull each tab": the strips are peeled off by their tabs."""
    strips = next((t for t in reversed(named[-6:]) if t.category == "film"), None)
    if strips is None or not (strips.plural or strips.count):
        return found
    return [
        replace(action, klass="peel", object=strips.name, things=(strips,), count=strips.count)
        if action.verb.startswith("pull") and action.things and action.things[-1].head == "tab"
        else action
        for action in found
    ]


def pressed_shut(sentence: str, found: list[Action], piece: Thing | None) -> list[Action]:
    """As in "the cover is placed at the bottom edge. Then press at the top until it clicks": the cover closes."""
    if piece is None or not (_TILL_IT_CLICKS.search(sentence) or _ALL_ROUND.search(sentence)):
        return found
    return [
        replace(action, klass="close", object=piece.name, things=(piece,))
        if action.verb.split()[0] in ("press", "push", "squeeze")
        and action.klass in ("other", "insert")
        and action.things
        and action.things[-1].category in ("place", "body")
        else action
        for action in found
    ]


def screws_behind(
    sentence: str, found: list[Action], lexicon: Lexicon, *, refitting: bool
) -> list[Action]:
    """As in "take the plate off, that's six screws": these came out first; on the way back they go in behind it."""
    match = _HELD_BY.search(sentence)
    if match is None or any(action.fastener for action in found):
        return found
    wanted = frozenset(["replace", "insert"]) if refitting else _OFF
    k = next((k for k, a in enumerate(found) if a.klass in wanted and _is_piece(a)), -1)
    if k < 0 or found[k].object.split()[-1].lower() not in sentence[: match.start()].lower():
        return found
    screws = _screws(match["screws"], found[k], lexicon, refitting=refitting)
    at = k + 1 if refitting else k
    return [*found[:at], *screws, *found[at:]]


def screws_of_last(
    sentence: str, last: Action | None, line: int, lexicon: Lexicon, *, refitting: bool
) -> list[Action]:
    """As in "the plate comes off. | That's six screws.": said as a thought of its own behind the part."""
    match = _ALONE.match(sentence)
    wanted = frozenset(["replace", "insert"]) if refitting else _OFF
    near = last is not None and 0 <= line - last.line <= _NEAR and last.klass in wanted
    if match is None or last is None or not near or not _is_piece(last):
        return []
    return _screws(match["screws"], replace(last, line=line, spot=0), lexicon, refitting=refitting)


def _screws(told: str, part: Action, lexicon: Lexicon, *, refitting: bool) -> list[Action]:
    """The screws that hold a part, out or in."""
    thing, _ = Phrases(tokenise(told, lexicon), lexicon, spoken=True).phrase(0)
    if thing is None or thing.category != "fastener" or not isinstance(thing.count, int):
        return []
    klass = "tighten" if refitting else "remove"
    action = Action(
        klass,
        "tighten" if refitting else "undo",
        f"{part.object} screws" if thing.name.lower().endswith("heads") else thing.name,
        things=(thing,),
        count=thing.count,
        fastener=thing.head,
        size=thing.size,
        drive=thing.drive,
        joins=(part.object,),
        line=part.line,
        spot=part.spot,
        inferred=(("class", "counted behind the part that they hold"),),
    )
    return [action]


def _is_piece(action: Action) -> bool:
    return bool(action.things) and action.things[-1].category in _PIECES


def _value(word: str) -> int:
    return int(word) if word.isdigit() else SMALL_NUMBERS[word.lower()]

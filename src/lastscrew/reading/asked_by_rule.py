"""What a speaker says in passing must be off, out or unplugged before the work that he turns to.

One of the searches that ``prerequisites`` lists: it finds the stretch of a sentence, the rest of which may be work.
"With the cover out of the way", "if you've not taken the battery out yet", "same as before, cover off", "that one only
comes out after the fan": each rule is a pattern for the words left of a thing and one for the words right of it. A weak
rule counts only before the first step of a procedure, where the words cannot tell of a step that was just done.
"""

from __future__ import annotations

import re
from collections.abc import Set as AbstractSet
from dataclasses import dataclass

from lastscrew.reading.lexicon import Lexicon
from lastscrew.reading.lexicon.groups import phrase_group, word_group
from lastscrew.reading.lexicon.morphology import noun_singular
from lastscrew.reading.model import Thing
from lastscrew.reading.phrases import Phrases
from lastscrew.reading.required import Asked, Required
from lastscrew.reading.tokens import Token, tokenise


@dataclass(frozen=True, slots=True)
class _Rule:
    left: re.Pattern[str]
    right: re.Pattern[str]
    weak: bool = True
    """Counts only before the first step."""
    cue: re.Pattern[str] | None = None
    again: bool = False
    """Counts for parts only where the talk took parts off before: else it is the work that begins."""


def _words(name: str) -> str:
    return "|".join(re.escape(word).replace(r"\ ", " ") for word in phrase_group(name))


_OFF = rf"(?:{_words('before_off')})"
_STATE = rf"(?:{_words('before_state')})"
_WAY = rf"(?P<way>{_OFF}|{_STATE})"
_DONE = rf"(?:{_words('before_done')})"
_TAKE = rf"(?:{_words('before_take')})"
_IS = r"(?:is|are|was|were|has|have|had|be|been|being)"
_SMALL = r"(?:already|all|both|now|also|again|just|completely|fully|obviously|of course|first|then|themselves|itself|still|of these|out)"  # noqa: E501
_MODAL = r"(?:must|should|needs?|has|have|will|would|got|gotta|ought|wants?)"
_MUST = (
    rf"(?:{_MODAL}(?: (?:need|have|got))?(?: to)?(?: {_SMALL})*(?: (?:be|come|go|have been|have))?)"
)
_FILL = r"(?: (?:that|you|we|i|have|had|has|got|gotten|to|already|of course|all|just|both|only|would|will|at least|really|either|also|always|first|now|still))*"  # noqa: E501
_WITHIN = r"(?: (?:of the way|of there|of here|of it|out))?"
_NOT_ENDED = rf"^(?:(?:{_IS}|{_SMALL}|got|to|taken|lifted) )*{_WAY}\b"


def _pattern(text: str) -> re.Pattern[str]:
    return re.compile(text, re.IGNORECASE)


_AS_BEFORE = _pattern(rf"\b(?:{_words('before_as_before')})\b")
_FIRST = _pattern(r"\b(?:first|before|beforehand|already|at this point|by now|by this point)\b")
_ANY = _pattern("")
_RULES = (
    # "if you've not taken out the cover yet", "if the fan isn't out yet", "unless you've already pulled it"
    _Rule(
        _pattern(rf"\b(?:if|unless)\b[^,]*\b(?:not|never|already)\b{_FILL} {_DONE}$"),
        _ANY,
        weak=False,
    ),
    _Rule(
        _pattern(r"\b(?:if|unless|in case)(?: (?:you|we|still|have|has|got|the|that))*$"),
        _pattern(
            rf"^(?:{_IS}|{_SMALL} )*\b(?:(?:is|are|has|have)? ?not|is still|are still|still)\b"
            rf"(?: {_SMALL}| been| yet)* (?P<way>{_OFF}|{_STATE}|in|on|fitted|connected|plugged in)\b"
        ),
        weak=False,
    ),
    # "you can't get at it until the cover is off"
    _Rule(
        _pattern(
            rf"\b(?:until|till|unless|not before|only (?:once|when|after|if)|as long as|assuming|assumes|provided|providing|presuming|presupposes|given|requires?)\b{_FILL}$"  # noqa: E501
        ),
        _pattern(_NOT_ENDED),
        weak=False,
    ),
    _Rule(
        _pattern(
            rf"\b(?:until|till|unless|assuming|provided|presuming|only (?:once|when|after|if))\b{_FILL} {_DONE}$"
        ),
        _ANY,
        weak=False,
    ),
    # "for that you need the cover off"
    _Rule(
        _pattern(
            rf"\b(?:need|needs|want|wants|required?|requires|should|must|gotta|got to|have to|has to|will|better|expect|ought to){_FILL}$"  # noqa: E501
        ),
        _pattern(_NOT_ENDED),
        weak=False,
    ),
    # "with the cover off", "now that the battery is out of the way"
    _Rule(
        _pattern(rf"\b(?:with|once|now that|now|after|when|since|because|means|so|if){_FILL}$"),
        _pattern(_NOT_ENDED),
    ),
    _Rule(
        _pattern(
            rf"\b(?:once|now that|now|after|when|since|because|with){_FILL} (?:having )?{_DONE}$"
        ),
        _ANY,
    ),
    # "we've already taken the cover off", "I've pulled the battery plug"
    _Rule(_pattern(rf"\b(?:have|has|had){_FILL} {_DONE}$"), _ANY),
    _Rule(_pattern(rf"\b(?:have|has|had|got){_FILL}$"), _pattern(_NOT_ENDED)),
    # "the cover we've removed already"
    _Rule(
        _pattern(r"^(?:.*[,.;] )?(?:and |so |again |now |the |then )*$"),
        _pattern(rf"^(?:you|we|i) have{_FILL} (?P<way>{_DONE})\b"),
    ),
    # "the fan has to be out before you do this one"
    _Rule(
        _ANY,
        _pattern(rf"^(?:{_SMALL} )*{_MUST}(?: {_SMALL})* {_WAY}\b"),
        weak=False,
        cue=_pattern(
            rf"^(?:{_SMALL} )*{_MUST}(?: {_SMALL})* {_WAY}\b.*\b(?:first|before|beforehand|for (?:this|that|it)|at this point|by now|to (?:get|reach|do))\b"  # noqa: E501
            rf"|^{_MUST} first\b"
        ),
    ),
    _Rule(
        _ANY,
        _pattern(rf"^(?:{_SMALL} )*{_MUST}(?: {_SMALL})* {_WAY}\b(?! (?:of )?(?:the|its|your)\b)"),
    ),
    # "the cover's already off", "the battery is unplugged"
    _Rule(
        _ANY,
        _pattern(
            rf"^(?:{_SMALL} )*(?:is|are|has been|have been|has|have)(?: {_SMALL}| been| taken| lifted)* {_WAY}\b"
        ),
    ),
    # "same as before, cover off", "cover off first"
    _Rule(
        _pattern(
            r"^(?:.*(?:\b(?:same|before|again|first|always|ever|usual|obviously|course|time|things|steps|and|so|with|for this one|for that one|for this|for that|this one)|[,:.;])(?: (?:as )?(?:ever|before|always|usual|then|now|it is|is))?)?$"  # noqa: E501
        ),
        _pattern(rf"^{_WAY}\b"),
        cue=_ANY,
        again=True,
    ),
    # "the battery goes first", "do the battery first", "cover and battery plug first"
    _Rule(
        _pattern(
            r"^(?:.*[,.;:](?: |$))?(?:(?:and|so|again|now|then|obviously|you|we|have|has|to|got|gotta|do|start with|begin with|would|will|need|want|here|of course)(?: |$))*$"  # noqa: E501
        ),
        _pattern(
            r"^(?:(?:comes?|goes|has to go|have to go|needs to go|gets done|is|come|go)(?: off| out)? |(?:off|out) )?(?P<way>first)\b(?! thing)"  # noqa: E501
        ),
        again=True,
    ),
    # "and for that we've got to take the cover off"
    _Rule(_pattern(rf"\bfor (?:this|that|it)(?: one)?\b.*\b{_TAKE}$"), _ANY),
    # "this one comes after the fan"
    _Rule(
        _pattern(
            r"\b(?:comes?|goes?|done|out|off|only|do (?:this|it|that)|one is)\b(?: \w+){0,2} after$"
        ),
        _pattern(r"^(?:$|\W|(?!is|are|has|have)\w)"),
    ),
    # "take the cover off first, like we did before"
    _Rule(
        _pattern(
            rf"(?:^|\b(?:to|and|then|so|just|first|you|we|again|by|please|of all|must|can|(?:same as|like|as) (?:before|always|usual|ever)) |[,.;:] ?)(?:{_TAKE}|drain|empty|discharge)$"  # noqa: E501
        ),
        _ANY,
        cue=_AS_BEFORE,
    ),
    # "go through the fan section first"
    _Rule(
        _pattern(
            r"\b(?:do|see|follow|finish|go through|went through|watch|complete|work through|go back to|back to|repeat)$"
        ),
        _pattern(r"^(?:section|chapter|part|bit|step|steps|procedure|removal|segment)\b"),
    ),
)
_NEGATED = _pattern(
    r"\b(?:keeps?|keeping)$|\b(?:not (?:have|need|want|going)|no need|without|rather than|instead of|never)\b[^,]*$"
)
_WISHED = _pattern(
    r"\bif (?:you|we)(?: are)? (?:just |only )?(?:want|need|wanting)\b|^(?:so |and |now |then )*to get$"
)
"""As in "if you want the fan out": what is wished, not what is asked for."""
_ENDS = frozenset(
    [
        "first",
        "out",
        "off",
        "unplugged",
        "already",
        "yet",
        "come",
        "comes",
        "go",
        "goes",
        "gone",
        "removed",
        "disconnected",
        "pulled",
    ]
)
_POWERED = r"\b(?:battery|batteries|power|mains|supply|charger|adapt[eo]r|brick|dock|plug|pack)\b"
_SIDES = frozenset(["back", "front", "top", "bottom", "underside", "back half", "front half", "top half", "bottom half"])  # fmt: skip  # noqa: E501
"""Said for the cover of that side: "with the back off"."""
_LEFT_OUT = word_group("before_left_out")
_PLUGGED = frozenset(["cable", "connector", "power", "antenna"])
_WAYS = rf"(?:{_OFF}|{_STATE})"
_ALL_OF_IT = _pattern(
    rf"\b(?:everything|all (?:of )?(?:that|this|it|these|those)|a few things|(?:two|three|four|these|those|some) things)\b.*\b{_WAYS}\b"  # noqa: E501
    r"|\b(?:a few|two|three|four|some) things\b.*\b(?:first|before)\b"
    rf"|\bwhat\b.*\b(?:have|has|need|needs|got)\b.*\b{_WAYS}\b"
)
_NAMELY = _pattern(
    r"^\W*(?:(?:so|that is|that's|that means|which is|which means|i mean|meaning|namely|and)\b[,\s]*)*"
)
_POWER = _pattern(
    r"\b(?:shut|power|switch|turn|powering|shutting|switching|turning)(?: (?:it|the \w+(?: \w+)?|everything|this thing|this))?(?: all the way| completely| properly| fully)? (?:off|down)\b(?: at the (?:wall|mains|socket|outlet|back|switch))?"  # noqa: E501
    r"|\b(?:shut|powered|switched|turned) (?:off|down)\b"
    r"|\bpower(?: is|'s)? (?:off|disconnected)\b|\boff at the (?:wall|mains|socket|outlet)\b"
    r"|\b(?:pull|pull out|take|take out|get|remove|unplug|disconnect|pulling|unplugging|disconnecting|yank)(?: out)? (?:(?:the|its|both|all|your|that|both the|all the)\s+)?(?:charger|cord|power (?:cord|cable|lead|adapter|plug|brick|adaptor)s?|mains(?: lead| cable| plug| cord)?|plug|adapter|adaptor|wall plug|cords|power(?! (?:supply|supplies|board|button|switch|jack|module|unit|connector))|wall)\b(?! (?:of|on|from) (?!the (?:wall|socket|mains|outlet)))(?: out)?(?: (?:out of|from|at) the (?:wall|socket|mains|outlet|back))?"  # noqa: E501
    r"|\bunplug(?:ged|ging)?(?: (?:it|everything|the \w+))? (?:from|at) the (?:wall|mains|socket|outlet)\b"
    r"|\b(?:i've|we've|i have|we have|it's been|it is) (?:already )?isolated(?: it| the \w+| everything)?(?: at the \w+)?\b"  # noqa: E501
    r"|\b(?:charger|mains|power (?:cord|lead|cable|brick|supply lead)|adapter|brick|dock|docking station|wall wart|supply)(?: is|'s| are)?(?: not plugged in| unplugged| out| off| disconnected)\b"  # noqa: E501
    r"|\b(?:thing|machine|unit|device|laptop|notebook|printer|it)(?: is|'s| has| has been|'s been) (?:been )?(?:switched |powered |turned |completely |fully |properly )?(?:off|unplugged)\b(?: at the (?:wall|mains|socket|outlet))?"  # noqa: E501
    r"|(?:^|(?<=[,.;] )|(?<=\band )|(?<=\bso ))(?:the )?(?:machine|laptop|notebook|unit|device|printer|computer|tablet|instrument|appliance) (?:is )?(?:all |properly |fully |completely )?(?:(?:switched|powered|turned|shut) )?(?:off|down)(?=\s*(?:[,.;]|$|and\b))"  # noqa: E501
    r"|\b(?:comes? |is |it's |be )?off (?:the )?(?:mains|charger|charge)\b|\bnot (?:plugged in|on charge|charging|on the charger)\b"  # noqa: E501
    r"|\bkeys?(?: is|'s| are)? (?:out|off)\b|\b(?:screen|display|lamps?|lights?|leds?) (?:goes|go|is|are|has gone|have gone)(?: all)? (?:dark|out|off|black|blank)\b"  # noqa: E501
    r"|\b(?:electricity|current|power|mains|supply|breaker|fuse) (?:must|has to|needs to|should|have to) (?:first |always |also )?(?:be |go )?(?:switched |turned )?(?:off|out)\b"  # noqa: E501
    r"|\b(?:hob|oven|machine|unit|device|appliance|thing|radio|stove|cooker|dishwasher|fridge|freezer|heater|pump|set|player|instrument|\w+er)(?:'s| is| has been) already (?:out|down|off|free)(?: of| from)? the (?:kitchen|wall|worktop|rack|cabinet|cupboard|ceiling|dash\w*|car|vehicle|boat|machine|niche|recess|shelf|panel)\b"  # noqa: E501
    r"|\b(?:main |mains |power )?(?:switch|breaker|isolator)(?:(?: \w+){0,3} (?:goes|to|is|set|turned)(?: to)?|'s| is)? off\b"  # noqa: E501
    r"|\b(?:drained|emptied) (?:the|all the|both|both the|your) \w+(?: \w+)?\b"
    r"|\bput (?:your |a |the )?(?:wrist )?strap on\b|\bwrist strap on\b|\bground yourself\b"
    r"|(?<=\boff and )unplugged\b"
    r"|\blet (?:it|the \w+|everything) (?:all )?cool(?: down| off)?\b"
    r"|\b(?:let|left) (?:it|the (?:\w+ )?\w+|everything) (?:to )?(?:bleed|discharge|run) (?:down|off|out)\b"
)
_ORDERED = _pattern(
    rf"(?:^|[,.;:] ?|\b(?!(?:by|of|for|without|before|when|while|if)\b)\w+ ){_TAKE}$"
)
_SURELY_POWER = _pattern(
    r"\b(?:power|electricity|current|breaker|fuse|charger|mains|shut|wall|socket|outlet|adapter|cool|strap|ground|already (?:out|down))\b"  # noqa: E501
)


def by_rule(
    text: str,
    lexicon: Lexicon,
    *,
    first: bool,
    part: str = "",
    after: str = "",
    gone: AbstractSet[str] = frozenset(),
) -> list[Asked]:
    """What a spoken sentence asks for.

    Args:
        text: The sentence, mended.
        lexicon: Word lists.
        first: No step of the procedure has been read yet.
        part: What the procedure takes out; it is no prerequisite of its own.
        gone: Last nouns of the parts that earlier procedures took off.
        after: The words behind the sentence; a "before you get to it" may stand there.
    """
    tokens = tokenise(text, lexicon)
    phrases = Phrases(tokens, lexicon, spoken=True)
    found: list[Asked] = []
    i, clause = 0, 0
    named: list[Thing] = []
    while i < len(tokens):
        meant = tokens[i].low in ("it", "that") and bool(named)
        if not _may_start(phrases, i) and not meant:
            i += 1
            continue
        things, end = (named[-1:], i + 1) if meant else _list(phrases, i)
        if not things or end <= i:
            i += 1
            continue
        named = things if things[-1].category == "part" else named
        asked = _by_rule(
            tokens,
            (clause, i, end),
            things,
            after,
            first=first,
            linked=bool(found),
            gone=gone,
        )
        if asked is None and first:
            asked = _taken_again(tokens, (clause, i, end), things, gone)
        rows = _required(things, asked[1], part) if asked is not None else []
        if meant:
            rows = [row for row in rows if row.kind == "state"]
        if rows and asked is not None:
            stop = _stop(tokens, end, asked[0]) - 1
            more, behind = _as_well(phrases, stop + 1)
            if more:
                rows, stop = [*rows, *_required(more, asked[1], part)], behind - 1
            found.append(Asked(tuple(rows), tokens[clause].start, tokens[stop].end))
            clause = stop + 1
            end = max(end, stop + 1)
        i = max(end, i + 1)
    return found


def surely_asked(name: str, gone: AbstractSet[str]) -> bool:
    """As in "cover off": asked for where it was taken off before, or takes the power away; else the work begins so."""
    head = noun_singular(name.lower().split()[-1]) if name.split() else ""
    return head in gone or re.search(_POWERED, name, re.IGNORECASE) is not None


def _may_start(phrases: Phrases, i: int) -> bool:
    low = phrases.low(i)
    if low == "that" and i and phrases.lexicon.is_noun(phrases.low(i - 1)):
        return False  # "the seal that keeps the water out"
    if (
        phrases.low(i + 1) == "one"
        and low in ("this", "that")
        and phrases.low(i - 1) in ("for", "with")
    ):
        return False
    if low == "one" and phrases.low(i - 1) in ("this", "that"):
        return False
    if (low == "first" and not phrases.is_det(i)) or phrases.low(i + 1) == "means":
        return False
    return (
        phrases.is_det(i)
        or (phrases.lexicon.is_noun(low) and phrases.kind(i) == "word" and not low.endswith("ing"))
        or (
            phrases.lexicon.is_noun(phrases.low(i + 1))
            and low in ("bottom", "top", "back", "front", "rear", "main", "left", "right")
        )
    )


def _list(phrases: Phrases, i: int) -> tuple[list[Thing], int]:
    """Things in a row, with or without "and" and commas: "the battery the fan and the heat sink"."""
    things: list[Thing] = []
    end = i
    j = i
    while True:
        thing, after = phrases.phrase(j)
        if thing is None or after <= j or thing.is_pronoun:
            break
        cut = _before_way(phrases, j, after)
        if cut < after:
            named = phrases.tokens[j:cut]
            thing, _ = Phrases(named, phrases.lexicon, spoken=True).phrase(0)
            if thing is None:
                break
        things.append(thing)
        end = cut
        if cut < after:
            break
        j = end
        while phrases.low(j) in (",", "and", "or"):
            j += 1
        if phrases.is_command(j) and phrases.is_det(j + 1):
            break  # "with the motor and hook the belt off"
        bare = (
            phrases.low(j - 1) == "and"
            and phrases.kind(j) == "word"
            and phrases.low(j + 1) in _ENDS
        )
        if not (bare or _may_start(phrases, j)) or (j == end and not phrases.is_det(j)):
            break
    return things, end


def _before_way(phrases: Phrases, start: int, end: int) -> int:
    """The end of a thing, where its last words are "off" or "first" that say what is asked of it."""
    while end - 1 > start and phrases.low(end - 1) in _ENDS:
        end -= 1
    return end


def _as_well(phrases: Phrases, i: int) -> tuple[list[Thing], int]:
    """As in "the cover needs to be off | and the tray": the same is asked of what ends the sentence."""
    start = i + (phrases.low(i) == ",")
    if phrases.low(start) not in ("and", "plus") or not phrases.is_det(start + 1):
        return [], i
    things, end = _list(phrases, start + 1)
    while phrases.low(end) in ("too", "as", "well", "also", "obviously"):
        end += 1
    ends = end >= len(phrases.tokens) or phrases.kind(end) == "mark" or phrases.low(end) == "so"
    known = bool(things) and all(thing.category in _PIECES for thing in things)
    return (things, end) if ends and known else ([], i)


_PIECES = frozenset(["part", "cover", "board", "card", "drawer"])


def _stop(tokens: list[Token], end: int, words: int) -> int:
    """The token behind so many spelt-out words from ``end`` on."""
    while end < len(tokens) and words > 0:
        words -= len(_spelt(tokens[end : end + 1]).split())
        end += 1
    return end


def _spelt(tokens: list[Token]) -> str:
    text = " ".join(token.low for token in tokens)
    for short, full in (
        ("n't", " not"),
        ("'ve", " have"),
        ("'re", " are"),
        ("'ll", " will"),
        ("'s", " is"),
        ("'d", " would"),
        ("can not", "cannot"),
    ):
        text = text.replace(short, full)
    return text.strip()


def _by_rule(
    tokens: list[Token],
    place: tuple[int, int, int],
    things: list[Thing],
    after: str,
    *,
    first: bool,
    linked: bool,
    gone: AbstractSet[str],
) -> tuple[int, str] | None:
    """How many words behind the thing belong to the request, and what is asked of it."""
    clause, i, end = place
    left, right = _spelt(tokens[clause:i]), _spelt(tokens[end:])
    said = int(tokens[end - 1].low.endswith("'s"))
    if said:
        right = f"is {right}"
    if _NEGATED.search(left) and not re.search(r"\b(?:if|unless|until|till)\b", left):
        return None
    known = all(thing.category != "unknown" for thing in things)
    if _WISHED.search(left):
        return None
    if not known and not all(thing.article or thing.category != "unknown" for thing in things[:1]):
        return None
    for rule in _RULES:
        if rule.weak and not first:
            continue
        if rule.again and not all(surely_asked(thing.name, gone) for thing in things):
            continue
        if not rule.left.search(left):
            continue
        match = rule.right.search(right)
        if match is None or (rule.cue is not None and not _cued(rule.cue, right, after)):
            continue
        way = match.groupdict().get("way") or ""
        if not way and (behind := re.match(rf"^(?:{_SMALL} )*{_WAY}\b", right)):
            way, match = behind["way"], behind
        if re.search(r"\b(?:unplug|disconnect)(?:ged|ging|ed|ing)?$", left):
            way = "unplugged"
        drained = re.search(r"\b(?P<how>drain|empty|discharge)(?:ed|ied|d|ing)?$", left)
        if drained is not None:
            way = {"drain": "drained", "empty": "emptied"}.get(drained["how"], "discharged")
        if not known and not way:
            continue
        return len(match.group().split()) - said, way
    if linked and left in ("", "and", ",", "and the", ", and"):
        match = re.match(
            rf"^(?:(?:{_IS}|{_SMALL}|comes?|goes|got|to|taken|lifted) )*{_WAY}\b", right
        )
        if match is not None:
            return len(match.group().split()) - said, match["way"]
    return None


def _taken_again(
    tokens: list[Token], place: tuple[int, int, int], things: list[Thing], gone: AbstractSet[str]
) -> tuple[int, str] | None:
    """As in "take the cover off and unplug the battery" at the start, where an earlier procedure did that."""
    clause, i, end = place
    left, right = _spelt(tokens[clause:i]), _spelt(tokens[end:])
    if (
        _NEGATED.search(left)
        or not _ORDERED.search(left)
        or not all(thing.head in gone for thing in things)
    ):
        return None
    match = re.match(_NOT_ENDED, right)
    way = "unplugged" if re.search(r"\b(?:unplug|disconnect)(?:ging|ing)?$", left) else ""
    return (len(match.group().split()), way or match["way"]) if match is not None else (0, way)


def _cued(cue: re.Pattern[str], right: str, after: str) -> bool:
    near = " ".join(right.split()[:14])
    behind = re.match(
        r"^\W*(?:and |just )?(?:before (?:you|we|this|that)|like we|as we|the way|same as|exactly)\b.*",
        after.lower(),
    )
    return bool(cue.search(f"{near} {behind.group()}" if behind is not None else near))


_LIGHTS = frozenset(["led", "lamp", "light", "indicator", "display", "screen light"])


def _required(things: list[Thing], way: str, part: str) -> list[Required]:
    rows = []
    alone = len(things) == 1 and things[0].category in ("cable", "connector") and way == "first"
    if alone and not re.search(
        r"\b(?:battery|power|mains|supply)\b", things[0].name, re.IGNORECASE
    ):
        return []  # "the earth wire first": the order of the work
    for thing in things:
        name = thing.name.removesuffix("'s")
        side = name.lower() in _SIDES and re.fullmatch(_OFF, way or "") is not None
        if (
            not name
            or thing.is_pronoun
            or (thing.category in _LEFT_OUT and not side)
            or name.lower() == part.lower()
        ):
            continue
        if thing.category in _PLUGGED:
            rows.append(Required("state", f"{name} unplugged"))
        elif way and (
            thing.head in _LIGHTS or thing.category == "device" or re.fullmatch(_STATE, way)
        ):
            rows.append(Required("state", f"{name} {way}"))
        else:
            rows.append(Required("part", name))
    return rows


def namely(text: str, before: str, lexicon: Lexicon) -> list[Required]:
    """As in "Everything else has to be out for this," and then "so the battery, the fan and the heat sink"."""
    if not _ALL_OF_IT.search(before):
        return []
    head = _NAMELY.match(text)
    tokens = tokenise(text[head.end() :] if head is not None else text, lexicon)
    things, end = _list(Phrases(tokens, lexicon, spoken=True), 0)
    if not things or any(token.kind != "mark" for token in tokens[end:]):
        return []
    return _required(things, "", "")


def power_states(text: str, *, later: bool) -> list[Asked]:
    """As in "shut it down", "pull the plug": said before anything else is done; ``later``: other parts were done before."""  # noqa: E501
    if _NEGATED.search(text):
        return []
    return [
        Asked((Required("state", match.group().strip()),), match.start(), match.end())
        for match in _POWER.finditer(text)
        if not later or _SURELY_POWER.search(match.group())
    ]

"""Parts that a speaker turns to: "okay, battery", "last big one is the screen", "right, bottom cover first".

A lead says by itself that something new begins; behind a mere opener ("okay", "now") the part must stand alone. What
follows a lead may go on in the same breath ("next is the fan so for that …").
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from lastscrew.reading.lexicon import Lexicon
from lastscrew.reading.lexicon.groups import phrase_group, word_group
from lastscrew.reading.model import Thing
from lastscrew.reading.phrases import Phrases
from lastscrew.reading.tokens import Token, tokenise

_ORDER = (
    r"(?:next|last|first|final|second|third|fourth|fifth|sixth|seventh|eighth|ninth|tenth|other)"
)
_KIND = r"(?:one|thing|part|bit|piece|job|item|component|module|section|up|victim|candidate|(?:on|in) (?:the|our|my) (?:list|line|menu|agenda|plan|sheet))"  # noqa: E501
_WISH = r"(?:(?: that)? (?:we|i|you)(?:'re| are|'m|'ll| will)? (?:want|need|going|gonna|have|like|got|wanna)(?: to)? (?:take out|take off|remove|do|get out|get off|look at|show you|tackle|talk about|get to)(?: now| next)?)?"  # noqa: E501
_LINK = r"(?:\W*(?:is going to be|will be|would be|is|are|comes|goes|has to be|that we'll do is|we'll do is|we do is|we're doing is|for today is|out is|off is|to go is|to come out is|to come off is|is gonna be|then|we have|we've got))?"  # noqa: E501
_LEAD = re.compile(
    rf"^\W*(?:(?:the|our|and|that's the|this is the|number|then) )*{_ORDER}(?: (?:big|easy|hard|little|small|real|major|tricky))?,? {_KIND}{_WISH}{_LINK}(?: how to (?:take out|remove|get out|take off|replace))?\W*(?:also |obviously |then )*"  # noqa: E501
    rf"|^\W*(?:{'|'.join(re.escape(lead) for lead in phrase_group('parts_leads'))})\b\W*(?:to |with |is |are |on to |then )*"  # noqa: E501
    r"|^\W*what (?:we|you)(?:'re| are)? (?:(?:really |actually )?(?:came|come|are|want|wanted|after|looking|need)\b )+?(?:here )?(?:for|to get at)?\W*(?:is |are )?(?=(?:the|our|this|that)\b)"  # noqa: E501
    rf"|^\W*next\W+(?:is |are |comes |come |we have |we've got |we do |we'll do |i'll do |i do )?(?=(?:the|our|your|that|this)\b)"  # noqa: E501
    rf"|^\W*(?:first|last)\W+(?:is |comes |goes |of all )?(?=(?:the|our|your)\b)"
    rf"|^\W*(?:part|number|step|chapter|section|item) (?:\d{{1,2}}|one|two|three|four|five|six|seven|eight|nine|ten|eleven|twelve)\W+(?:is )?",  # noqa: E501
    re.IGNORECASE,
)
GERUND = re.compile(
    r"^\W*(?:(?:and|so|okay|ok|alright|right|now|then|next|well|good)\b[,\s]*)*"
    r"(?:(?:removing|replacing|taking out|taking off|to remove|to take out|to replace|to get out|to take off|removal of|how to (?:remove|take out|replace)) (?P<part>(?:the|our|your) [a-z][\w -]{1,32}?)"  # noqa: E501
    r"|(?P<part2>(?:the )?[a-z][\w -]{1,32}?) (?:removal|replacement|time))\W*$",
    re.IGNORECASE,
)
"""As in "okay, fan removal", "to take out the fan": a heading that is spoken."""
MEANT = re.compile(
    r"^\W*(?:(?:and|so|okay|ok|alright|right|now|then|next|well|good|(?:the )?(?:first|next|second|last) thing(?: that)?|first off|first|first of all)\b[,\s]*)*"  # noqa: E501
    r"(?:(?:we're|we are|i'm|i am) (?:now |next )?(?:going to|gonna)|let's|let us|we'll|i'll|we will|we (?:now )?(?:want|need|have) to|we've got to|we have got to|we gotta|i've got to|i (?:now )?(?:want|need) to|we can(?: now)?|it's time to|time to|how (?:do|would) (?:we|you|i)|how to|now to|(?:you're|we're|i'm|you|we|i)(?: (?:gonna|going to|want to|wanna|need to|have to|will))* do (?:first |next |now )?is(?: to)?) (?:also |now |next |then |go ahead and |actually )*"  # noqa: E501
    r"(?:(?:remove|replace|do|change|swap|exchange|tackle|uninstall)(?: out)?|take (?:out|off)|(?:take|get|pull|lift|have)(?= [\w -]+? (?:out|off)\b)|get at|get to|get (?:out|off)|pull out|pull) "  # noqa: E501
    r"(?P<part>(?:the|our|your|this|that) [a-z][\w -]{1,32}?)(?: out| off)?(?: of (?:here|there))?(?: now| next| then| today| first)?\W*$",  # noqa: E501
    re.IGNORECASE,
)
"""As in "now we're going to take out the fan": what the next part of the talk is about."""
_OPENER = re.compile(
    rf"^\W*(?:(?:{'|'.join(re.escape(word) for word in phrase_group('parts_openers'))})\b[,.:\s]*)+",
    re.IGNORECASE,
)
_PIECES = word_group("parts_pieces")
_GOES_ON = word_group("parts_goes_on")
_BELONGS = frozenset(
    [
        "is",
        "are",
        "has",
        "have",
        "which",
        "that",
        "it's",
        "that's",
        "of",
        "on",
        "in",
        "at",
        "under",
        "to",
        "first",
        "next",
    ]
)
_SHOWN = re.compile(
    r"^\W*(?:then |now |and |next )*(?:we have|we've got|we've also got|you have|you've got|here's|here is|here we have|there's|comes|it's) (?=(?:the|our|your)\b)",  # noqa: E501
    re.IGNORECASE,
)
"""Names a new part only where nothing else follows, or what is asked for it: "then we have the drive. Again, cover off"."""  # noqa: E501
_ASKING = re.compile(
    r"^[\s,]*(?:(?:with|assuming|provided|again|obviously)\b[\s,]+(?:(?:that|the|your|you've|you|our|both)\b\s+)*[\w ,]{3,40}?\b(?:off|out|unplugged|disconnected|removed|first)\b"  # noqa: E501
    r"|for (?:this|that)(?: one)?\b|(?:and )?please (?:have|make sure)\b|same (?:as|rules?|thing|prerequisites)\b|(?:and )?(?:for (?:this|that)(?: one)? )?(?:you|we)(?:'ll|'ve)? (?:got to |have to |need to |will )?(?:need|want|have|need to have)\b)",  # noqa: E501
    re.IGNORECASE,
)
_TAIL = frozenset(
    ["same", "assuming", "first", "next", "now", "then", "again", "itself", "time", "here", "today"]
)


@dataclass(frozen=True, slots=True)
class Turn:
    """A part that the speech turns to: where it is named, and whether a lead says so."""

    thing: Thing
    low: int
    high: int
    led: bool


def only_a_lead(text: str) -> bool:
    """As in "Last one.", "So what's next on the sheet?": the part is named in the next breath."""
    opener = _OPENER.match(text)
    lead = _LEAD.match(text[opener.end() if opener is not None else 0 :])
    if lead is None or not lead.group():
        return False
    rest = text[(opener.end() if opener is not None else 0) + lead.end() :]
    return bool(
        re.fullmatch(
            r"\W*(?:on (?:the|our|my) (?:sheet|list)|then|now|up|today)?\W*", rest, re.IGNORECASE
        )
    )


def turned_to(text: str, lexicon: Lexicon, *, led_before: bool = False) -> Turn | None:
    """The part that a spoken sentence announces, None where it announces none.

    Args:
        text: The sentence.
        lexicon: Word lists.
        led_before: The sentence before was a lead ("Last one.") and named nothing.
    """
    opener = _OPENER.match(text)
    start = opener.end() if opener is not None else 0
    place = start
    while (lead := _LEAD.match(text[place:])) is not None and lead.end() > 0:
        place += lead.end()
    led = place > start or led_before
    if not led:
        shown = _SHOWN.match(text[start:])
        place = start + shown.end() if shown is not None else start
        opener = opener or shown
    tokens = tokenise(text[place:], lexicon)
    phrases = Phrases(tokens, lexicon, spoken=True)
    thing, end = phrases.phrase(0)
    if thing is None or not tokens:
        return None
    end = next((k for k in range(1, end) if phrases.low(k) in _TAIL), end)
    named = " ".join(token.text for token in tokens[:end])
    thing, _ = Phrases(tokenise(named, lexicon), lexicon, spoken=True).phrase(0)
    if thing is None or not _announceable(thing, led=led):
        return None
    alone = _stands_alone(tokens, end)
    if led:
        fits = alone or phrases.kind(end) == "mark" or phrases.low(end) in _GOES_ON
    else:
        short = len(tokens) - end <= 2 and end <= 4
        fits = alone and (opener is not None or short) and not _moves(tokens, end)
        rest = text[place + tokens[end - 1].end :]
        fits = fits and (opener is None or "there" not in text[:place].lower())
        if opener is not None and phrases.low(end) == "," and thing.article:
            fits = not _lists_on(phrases, end + 1)
        elif (opener is not None or phrases.is_det(0)) and thing.category in _PIECES:
            fits = fits or bool(_ASKING.match(rest))
    if not fits:
        return None
    return Turn(thing, 0, place + tokens[end - 1].end, led)


def behind_a_turn(text: str, low: int, high: int, lexicon: Lexicon) -> list[tuple[int, int]]:
    """A thought that begins with a lead and a part goes on behind it: "next is the fan | assuming the battery is out"."""  # noqa: E501
    turn = turned_to(text[low:high], lexicon)
    if turn is None or not (turn.led or _ASKING.match(text[low + turn.high : high])):
        return [(low, high)]
    rest = re.findall(r"[\w']+", text[low + turn.high : high])
    if not rest:
        return [(low, high), (high, high)]
    if len(rest) < 2 or rest[0].lower().strip(",.") in _BELONGS:
        return [(low, high)]
    return [(low, low + turn.high), (low + turn.high, high)]


def _announceable(thing: Thing, *, led: bool) -> bool:
    if (
        thing.is_pronoun
        or not thing.name
        or (isinstance(thing.count, int) and thing.count > 1 and not thing.article)
    ):
        return False
    known = thing.category in _PIECES
    strange = (
        thing.category == "unknown"
        and led
        and thing.article in ("the", "our", "your", "this", "that")
    )
    return known or strange or (led and thing.category == "device")


def _stands_alone(tokens: list[Token], end: int) -> bool:
    """Nothing but "first", "next" and marks behind the name."""
    return all(token.kind == "mark" or token.low in _TAIL for token in tokens[end:])


def _moves(tokens: list[Token], end: int) -> bool:
    """As in "the lid back on": the name says what becomes of the thing."""
    return any(token.low in ("in", "on", "off", "out", "up", "back") for token in tokens[end:])


def _lists_on(phrases: Phrases, i: int) -> bool:
    """As in "the fan, the lid and two screws": a list of things, no turn."""
    return (
        phrases.is_det(i)
        or phrases.low(i) in phrases.lexicon.numbers
        or phrases.low(i) in ("and", "then")
    )

"""What a whole sentence asks to be off, or how it wants the machine, found by its sense rather than by its form.

One of the searches that ``prerequisites`` lists, for texts and for speech. People say the same in a hundred forms
("you'll want the battery out, like we did", "you can reach it when the core is out", "for this one, cover off and
battery unplugged"). What they share is a thing, a word that says it is gone or in which state it is, and a word that
asks for it. A clause that says the contrary ("you don't need the fan out", "the fans can stay") asks for nothing.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from lastscrew.reading.lexicon import Lexicon
from lastscrew.reading.lexicon.groups import word_group
from lastscrew.reading.model import Thing
from lastscrew.reading.phrases import Phrases
from lastscrew.reading.required import Required
from lastscrew.reading.tokens import Token, tokenise

GONE = word_group("before_off")
STATES = word_group("before_state") - {"pulled"}
_PULLED = frozenset(["pulled", "drawn", "cut"])
"""Said of a cable or a plug these are a state; said of anything else they are not enough."""
_LINKS = frozenset(
    [
        "is",
        "are",
        "be",
        "been",
        "being",
        "was",
        "were",
        "has",
        "have",
        "had",
        "to",
        "come",
        "comes",
        "go",
        "goes",
        "already",
        "now",
        "first",
        "both",
        "all",
        "must",
        "should",
        "will",
        "would",
        "'ll",
        "needs",
        "need",
        "wants",
        "want",
        "got",
        "taken",
        "lifted",
        "pulled",
        "moved",
        "fully",
        "completely",
        "just",
        "safely",
        "and",
    ]
)
_TIED = frozenset(["cable", "connector", "antenna"])
_NO_PART = frozenset(
    ["fastener", "lock", "clip", "place", "text", "tool", "body", "button", "force"]
)
_CUE = re.compile(
    r"\b(?:needs?|needed|must|ha(?:s|ve) to|'ve to|got to|gotta|wants?|requires?|required|should|ought|pre-?conditions?|"  # noqa: E501
    r"preliminar\w+|pre-?requisites?|beforehand|before|first|already|same as (?:before|ever|always)|as (?:above|before|always)|"  # noqa: E501
    r"like (?:we|i|you) did|assum\w+|provided|unless|until|make sure|ensure|for (?:this|that|it)\b|otherwise)",
    re.IGNORECASE,
)
_EARLIER = re.compile(
    r"\b(?:before|beforehand|first|already|until|unless|for (?:this|that|it)\b|only|otherwise)",
    re.IGNORECASE,
)
_CONTRARY = re.compile(
    r"\b(?:(?:don't|doesn't|do not|does not|didn't|won't|no|not|never|needn't|need not)\b[^,;.]{0,24}?\b(?:need\w*|have to|has to|necessary|nec|want|required|be (?:taken|removed))"  # noqa: E501
    r"|needn't|need not|no need|not nec\w*|can stay|may stay|stays?|keeps?|leave|left (?:in|on|alone)|without|do not|don't|never)\b",  # noqa: E501
    re.IGNORECASE,
)
_CIRCUMSTANCE = re.compile(
    r"^\W*(?:(?:so|now|and|okay|ok|right|then|well|but)\b[,\s]*)*(?:with|once|when|after|now that|now|as soon as|only (?:with|once|when|after))\b",  # noqa: E501
    re.IGNORECASE,
)
_REACHED = re.compile(
    r"\b(?:reach\w*|get (?:at|to)|gets? access|access\w*|can (?:only|then|now)|only|possible|see|do this|done)\b[^,;.]*?\b(?:with|once|when|after|until|unless)\b",  # noqa: E501
    re.IGNORECASE,
)
_IN_THE_WAY = re.compile(
    r"\b(?:as long as|while|if)\s+(?P<parts>(?:the|your|its)\s+[\w /-]{2,40}?)\s+(?:is|are)\s+(?:still\s+)?(?:in (?:its |their )?place|in|on|there|fitted|in the way|in front)\b.*\b(?:not|can't|won't|cannot|never|no)\b",  # noqa: E501
    re.IGNORECASE,
)
_HAS_TO_GO = re.compile(
    r"(?P<parts>\b(?:the|your|its)\s+[\w /-]{2,40}?)\s+(?:has|have|needs?|wants?)\s+to\s+(?:go|move|be (?:gone|out))\b(?:\s+(?:first|before|too|as well))?\s*(?=[,.;:]|$)",  # noqa: E501
    re.IGNORECASE,
)
_CLAUSE_END = re.compile(
    r"[,;.:!?—–]|\b(?:but|however|although|though)\b|\b(?=(?:it|they|you|we)\s+(?:just|only|wants?|needs?|do|does)\b)"
)
_AND = re.compile(r"\band\b", re.IGNORECASE)
_LABEL = re.compile(
    r"^\W*(?:(?:off|out|remove|take off|take out|comes? off|dismantle)\s+(?:first|beforehand|before)|(?:needed|required|necessary|to (?:be )?remove(?:d)?)\s+(?:first|beforehand|before\w*)|preliminar\w+|pre-?conditions?|pre-?requisites?|pre-?req|needs?|requires?|before this|start(?:ing)? (?:point|condition|state)s?|initial (?:state|condition)s?|access)\s*[:–—-]\s*(?P<rest>.+)$",  # noqa: E501
    re.IGNORECASE,
)
_YES = re.compile(
    r"^\W*(?:you do|yes|yeah|yep|yup|it does|they do|sure|of course|afraid so|it has to|they have to|definitely|right)\b",  # noqa: E501
    re.IGNORECASE,
)
_IF_NOT = re.compile(r"^\W*(?:no\?|if (?:not|no|it isn't|it is not|they aren't))", re.IGNORECASE)
_IS_IT_OFF = re.compile(
    r"^\W*(?:is|are)\s+(?P<parts>(?:the|your|both)\s+[\w /-]{2,40}?)\s+(?:already\s+|been\s+)*(?:off|out|removed|taken (?:off|out)|gone|detached)(?:\s+(?:already|yet))?\s*\?$",  # noqa: E501
    re.IGNORECASE,
)
"""As in "Is the hood off?", with "If not, …" behind it."""
_ELSE = re.compile(r"^\W*(?:then|in that case|if so)\b", re.IGNORECASE)
_BARE = re.compile(
    r"^\W*(?:(?:so|now|and|okay|ok|right|then|well|but|again|obviously|here too)\b[,\s]*)*$",
    re.IGNORECASE,
)
_TAIL = re.compile(
    r"^\W*(?:obviously|of course|already|first|as (?:above|before)|like before|same as before|that's all|again|too|please|for (?:this|that)(?: one)?|,|\s)*\W*$",  # noqa: E501
    re.IGNORECASE,
)


def rest_of_label(text: str) -> str | None:
    """What follows a label such as "Off first:" or "Needed beforehand:"; None where there is no label."""
    match = _LABEL.match(text)
    return None if match is None else match["rest"].strip()


def asks_nothing(text: str) -> bool:
    """True where words say that something may stay: "not necessary", "you don't need"."""
    return bool(_CONTRARY.search(text))


def by_sense(text: str, after: str, lexicon: Lexicon) -> list[Required]:
    """What a sentence before the first step asks for; ``also_step`` where the rest of it may be work.

    Args:
        text: The sentence.
        after: What follows it in its block (the answer to a question).
        lexicon: Word lists.
    """
    bare = re.sub(r"\s*\((?!see link)[^)]*\)", "", text).strip()
    if bare.endswith("?"):
        return _answered(bare, after, lexicon)
    return [*_blocked(bare, lexicon), *_gone(bare, lexicon)]


def _answered(question: str, after: str, lexicon: Lexicon) -> list[Required]:
    """As in "Do I need the pan off for that? You do.", "What has to be off for the printer? The top housing."."""
    if _IF_NOT.match(after):
        asked = _IS_IT_OFF.match(question)
        return (
            _parts(Phrases(tokenise(asked["parts"], lexicon), lexicon).list_of(0)[0])
            if asked
            else []
        )
    if _YES.match(after) or re.search(r"\b(?:yes|yeah|yep)\b", after[:90], re.IGNORECASE):
        return _gone(question.rstrip("?"), lexicon)
    if not re.search(r"\bwhat\b", question, re.IGNORECASE) or not re.search(
        r"\b(?:off|out|removed)\b", question, re.IGNORECASE
    ):
        return []
    tokens = tokenise(re.split(r"[.?!]", after.strip(), maxsplit=1)[0], lexicon)
    things, end = Phrases(tokens, lexicon).list_of(0)
    if end < len(tokens):
        return []
    return _parts(things)


def _blocked(text: str, lexicon: Lexicon) -> list[Required]:
    """As in "As long as the unit is in place you will not get at it", "for that the bottom plate has to go"."""
    match = _IN_THE_WAY.search(text) or _HAS_TO_GO.search(text)
    if match is None or _CONTRARY.search(text[: match.start()]):
        return []
    return _parts(Phrases(tokenise(match["parts"], lexicon), lexicon).list_of(0)[0])


def _parts(things: list[Thing]) -> list[Required]:
    return [Required("part", thing.name) for thing in things if _is_part(thing)]


def _gone(text: str, lexicon: Lexicon) -> list[Required]:
    """Every "thing … gone" of a sentence that something in it asks for."""
    tokens = tokenise(text, lexicon)
    found: list[Required] = []
    last: Thing | None = None
    cued = bool(_CUE.search(text) or _REACHED.search(text))
    for things, start, end, way in _said(tokens, lexicon):
        named = [_meant(thing, last) for thing in things]
        last = next((t for t in reversed(named) if t is not None and not t.is_pronoun), last)
        clause = _clause(text, tokens[start].start, tokens[end].end)
        circumstance = bool(_CIRCUMSTANCE.match(clause))
        whole = bool(
            _BARE.match(text[: tokens[start].start]) and _TAIL.match(text[tokens[end].end :])
        )
        other_way = tokens[start].start > len(clause) // 2 and _ELSE.match(clause)
        if not way or other_way or _CONTRARY.search(clause) or not (cued or circumstance or whole):
            continue
        if _is_ordered(tokens, start, text, lexicon) or _is_passive_order(text, clause, way):
            continue
        found += [
            _asked(thing, way, along=circumstance and not whole)
            for thing in named
            if thing is not None and not thing.is_pronoun and (_is_part(thing) or way not in GONE)
            if thing.category != "tool"  # "With a knife cut the tape"
        ]
    return found


_OF_SEVERAL = frozenset(["are", "must", "should", "have", "need", "'ll", "would", "to"])
"""Said of all in a row: "rear door and tray must be off"."""


def _said(tokens: list[Token], lexicon: Lexicon) -> Iterator[tuple[list[Thing], int, int, str]]:
    """Things and what is said of them: (things, first token, last token, word for gone or a state, else "")."""
    phrases = Phrases(tokens, lexicon)
    i = 0
    beside: tuple[list[Thing], int] | None = None
    while i < len(tokens):
        if not _may_start(phrases, tokens, i, lexicon):
            i, beside = i + 1, None
            continue
        things, end = phrases.list_of(i)
        if not things or end <= i:
            i += 1
            continue
        j = end
        while j < len(tokens) and tokens[j].low in _LINKS and j - end < 6:
            j += 1
        low = tokens[j].low if j < len(tokens) else ""
        rests = low == "at" and j + 1 < len(tokens) and tokens[j + 1].low in ("rest", "standstill")
        if rests:
            yield things, i, j + 1, "at rest"
            i = j + 2
        elif low in GONE or low in STATES or low in _PULLED:
            is_work = _comes(tokens[end:j]) or _is_elsewhere(tokens, j)
            several = {token.low for token in tokens[end:j]} & _OF_SEVERAL
            if beside and (several or j == end):
                things, i = [*beside[0], *things], beside[1]
            beside = None
            yield things, i, j, "" if is_work else low
            i = j + 1
        else:
            joined = end < len(tokens) and tokens[end].low in ("and", ",", "&")
            beside = (things, i) if joined else None
            yield things, i, end - 1, ""
            i = end + joined


def _may_start(phrases: Phrases, tokens: list[Token], i: int, lexicon: Lexicon) -> bool:
    """A thing begins with an article, a pronoun or a noun (or the word before one)."""
    low = tokens[i].low
    if (
        low in GONE
        or low in ("ever", "always")
        or low in lexicon.words["adverbs"]
        or not phrases.starts_phrase(i)
    ):
        return False
    if phrases.is_det(i) or low in ("it", "they") or lexicon.is_noun(low):
        return True
    following = tokens[i + 1].low if i + 1 < len(tokens) else ""
    return bool(lexicon.is_noun(following)) and not lexicon.verb_of(low, "base")


def _comes(links: list[Token]) -> bool:
    """As in "then the lid comes off": what happens now; "has to come off" asks for it."""
    lows = {token.low for token in links}
    asks = {"to", "must", "should", "will", "'ll", "would"}
    return bool(lows & {"come", "comes", "go", "goes"}) and not lows & asks


def _is_elsewhere(tokens: list[Token], j: int) -> bool:
    """As in "out of its guides", "off the shelf": not gone from the machine."""
    if [t.low for t in tokens[j + 1 : j + 2]] != ["of"]:
        return False
    rest = {t.low for t in tokens[j + 2 : j + 5]}
    return not rest & {
        "way",
        "road",
        "there",
        "unit",
        "machine",
        "chassis",
        "case",
        "housing",
        "it",
    }


def _meant(thing: Thing, last: Thing | None) -> Thing | None:
    return last if thing.is_pronoun and thing.name in ("it", "they", "that", "this") else thing


def _clause(text: str, start: int, end: int) -> str:
    """The clause around a place in a sentence: from the mark or "but" before it to the next one."""
    first = max((m.end() for m in _CLAUSE_END.finditer(text, 0, start)), default=0)
    stop = _CLAUSE_END.search(text, end)
    clause = text[first : stop.start() if stop else len(text)]
    if _AND.search(clause) and first < start:
        cut = max((m.end() for m in _AND.finditer(text, first, start)), default=first)
        if re.search(r"\b(?:do(?:es)?(?:n't| not)|can|need(?:n't)?|is|are)\b", text[cut:end]):
            return text[cut : stop.start() if stop else len(text)]
    return clause


_WANTING = frozenset(
    [
        "need",
        "needs",
        "have",
        "has",
        "want",
        "wants",
        "got",
        "having",
        "require",
        "requires",
        "like",
    ]
)
_AS_TOLD = re.compile(r"\b(?:before|beforehand|already|as above|(?:like|as) (?:we|i|you) did)\b")


def _is_ordered(tokens: list[Token], start: int, text: str, lexicon: Lexicon) -> bool:
    """As in "take the cover off": an order, which is a step (forms with "before" are known elsewhere)."""
    if start == 0:
        return False
    verb = tokens[start - 1].low
    if verb in _WANTING:
        return False
    # "The first thing is to get the panel off" is work to be done now; "get it off before you go on" is not.
    if verb == "get":
        return _AS_TOLD.search(text.lower()) is None
    return bool(lexicon.verb_of(verb, "base")) and verb not in ("first", "then", "that", "be")


def _is_passive_order(text: str, clause: str, way: str) -> bool:
    """As in "The lid must be removed": work of this procedure, unless something says that it comes before."""
    told = re.search(
        rf"\b(?:must|should|has to|have to|can|may|is to|are to)\b.*\bbe (?:\w+ )?{way}\b", clause
    )
    return way.endswith(("ed", "wn")) and told is not None and not _EARLIER.search(text)


def _is_part(thing: Thing) -> bool:
    return bool(thing.name) and not thing.is_pronoun and thing.category not in _NO_PART


def _asked(thing: Thing, way: str, *, along: bool) -> Required:
    """A cable that is off is a state, a part that is off is off."""
    if way in STATES or way in _PULLED or way == "at rest" or thing.category in _TIED:
        return Required("state", f"{thing.name} {way}", also_step=along)
    return Required("part", thing.name, also_step=along)

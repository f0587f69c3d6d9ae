"""Spoken text: captions become one stream, the stream becomes sentences, slips are mended.

Full stops may be missing, sentences are cut across captions, words are repeated, a speaker corrects
himself ("three, sorry, four screws"). What is dropped stays in the lines of the source; only the
reading leaves it out.
"""

from __future__ import annotations

import itertools
import re
from functools import lru_cache

from lastscrew.reading.blocks import Block
from lastscrew.reading.lexicon.groups import table_group
from lastscrew.reading.model import Source
from lastscrew.reading.taken_back import without_taken_back
from lastscrew.reading.tokens import bounded

_FILLERS = re.compile(
    r"\b(?:cheers|thank you|thanks(?: for watching)?|folks|mate|obviously|of course|honestly|um+|uh+|uhm|erm*|ah|hmm+|mhm|you know|i mean|kind of|kinda|sort of|sorta|basically|literally|essentially|obviously|real quick|real quickly|as well here|right here|right there|over here|up here|down here|in here|like so|if you will|let me see|let's see|okay so|all right so)\b,?",  # noqa: E501
    re.IGNORECASE,
)
_NUMBER = r"(?:\d{1,2}|one|two|three|four|five|six|seven|eight|nine|ten|eleven|twelve)"
_LIKE = re.compile(rf",\s*like,|\blike,\s|\blike\s+(?={_NUMBER}\b)", re.IGNORECASE)
_REPEAT = re.compile(r"\b(\w+(?:\s+\w+){0,3})(?:[,\s]+\1\b)+", re.IGNORECASE)
_CLOSING = re.compile(
    r"\b(?:there (?:we|you) (?:go|are)|here we go|(?:oh )?(?:and )?hang on(?: a (?:sec|second|minute|moment))?(?= (?:oh|yeah|yep|yes|no|so|there|what|that|i|we|now|because|let|just|where|is|it)\b)|lovely jubbly|happy days|job done|job's (?:done|a good 'un)|bob's your uncle|easy peasy|just like that|yep|yeah|nope|oh|beautiful|bingo|ta da|lovely)\b",  # noqa: E501
    re.IGNORECASE,
)
"""What a speaker puts in when something is done: nothing is said, and what was said ends."""
_ASIDE = re.compile(
    r",\s+(?:a|an|the) (?:\w+ ){1,3}one,(?=\s+(?:from|to|that|which|going|with|on|at|in|running|goes)\b)",
    re.IGNORECASE,
)
"""As in "there's a cable, a fat one, from the cage to the board"."""
_COUNTING = re.compile(
    r"\b(?:one|1),?\s+(?:two|2),?\s+(?:three|3)(?:,?\s+(?:and\s+)?(?:four|five|six|seven|eight|nine|ten|\d{1,2}))*\b",
    re.IGNORECASE,
)
"""As in "one, two, three, four": the speaker counts while he works."""
_SPELLED = re.compile(
    r"\b(?:[a-z] ){2,3}[a-z]\b(?!')|\bi o(?= (?:board|bored|card|panel|shield)\b)"
)
_BEHIND_COUNTING = frozenset(["and", "that", "so", "then", "there", "out", "done", "it", "is", "okay", "all", "of", "now", "off", "there's", "that's", "in", "on", "at", "to", "from", "with", "or", "but", "they", "they're", "you", "we", "i", "like", "go", "goes"])  # fmt: skip  # noqa: E501
_BREAK = re.compile(
    r"\s+(?=(?:okay|ok|alright|all right|now|next|so|and then|then|after that|once|first(?!\s*,|\s+(?:so|and|but|now|before|like|as|of|then|because|obviously|this|for)\b)|second|third|finally|lastly|moving on|let's|go ahead and|but|and now|also|because|we're gonna|we're going to|we are going to|you're going to|you'll want|i'm going to|i'm gonna|there's|there are|it's held|that's held)\b)",  # noqa: E501
    re.IGNORECASE,
)


def speech_blocks(source: Source) -> list[Block]:
    """Paragraphs of a transcript: a pause of several seconds or a full stop at a caption's end parts them."""
    blocks = [
        Block("furniture", line.text, [line.number], reason=line.reason)
        for line in source.lines
        if line.kind == "furniture"
    ]
    current: Block | None = None
    spoken = [line for line in source.lines if line.kind != "furniture" and line.text.strip()]
    punctuated = _is_punctuated(" ".join(line.text for line in spoken))
    for line in spoken:
        ends = (
            current is not None
            and punctuated
            and current.text.rstrip().endswith((".", "!", "?"))
            and len(current.numbers) >= 4
        )
        if current is None or ends or len(current.numbers) >= 400:
            current = Block("para", line.text.strip(), [line.number])
            blocks.append(current)
        else:
            current.starts.append(len(current.text) + 1)
            current.numbers.append(line.number)
            current.text += " " + line.text.strip()
    blocks.sort(key=lambda block: block.line)
    return blocks


def _is_punctuated(text: str) -> bool:
    words = len(text.split())
    stops = len(re.findall(r"[a-z0-9)]{2}[.!?](?:\s|$)", text))
    return stops * 40 > words


def speech_spans(text: str) -> list[tuple[int, int]]:
    """Sentences of a stream: at full stops, and where there are none at the words that open a new thought."""
    spans = []
    start = 0
    for match in re.finditer(r"[.!?]+(?=\s|$)", text):
        if (
            re.search(
                r"\b(?:no|m\d+|\d)$", text[max(0, match.start() - 4) : match.start()], re.IGNORECASE
            )
            and text[match.end() : match.end() + 2].strip()[:1].isdigit()
        ):
            continue
        spans.append((start, match.end()))
        start = match.end()
    if text[start:].strip():
        spans.append((start, len(text)))
    out: list[tuple[int, int]] = []
    for low, high in spans:
        for first, last in _split_long(text, low, high):
            out += bounded(text, first, last)
    return [
        (low + len(text[low:high]) - len(text[low:high].lstrip()), high)
        for low, high in out
        if text[low:high].strip()
    ]


def _split_long(text: str, low: int, high: int) -> list[tuple[int, int]]:
    """A run of more than two dozen words is parted before the words that open a thought."""
    if len(text[low:high].split()) < 16:
        return [(low, high)]
    cuts = []
    last = low
    for match in _BREAK.finditer(text, low, high):
        before = text[last : match.start()].split()
        if len(before) >= 4 and not re.search(
            r"\b(?:and|if|when|that|once|to|the|a|of|than|it|what|today|is|are|comes|goes|up|by)$",
            text[last : match.start()],
            re.IGNORECASE,
        ):
            cuts.append(match.end())
            last = match.end()
    edges = [low, *cuts, high]
    return list(itertools.pairwise(edges))


def mend_speech(sentence: str) -> str:
    """The sentence without fillers, repeats and what the speaker took back; same length, blanks instead."""
    sentence = _FILLERS.sub(lambda match: " " * len(match.group()), sentence)
    sentence = _ASIDE.sub(lambda match: " " * len(match.group()), sentence)
    sentence = _CLOSING.sub(_closed, sentence)
    sentence = _LIKE.sub(lambda match: " " * len(match.group()), sentence)
    sentence = _REPEAT.sub(_once, sentence)
    return _COUNTING.sub(_counted_aloud, sentence)


def _heard_right(text: str) -> str:
    """The text with what recognition misheard put right, as long as it was."""
    text = _SPELLED.sub(_in_one_word, text)
    text = _SIZE_SAID.sub(lambda match: _as_long(match, _size_of(match)), text)
    for pattern, meant in _slips():
        text = pattern.sub(lambda match, meant=meant: _as_long(match, meant), text)  # type: ignore[misc]
    return text


_DIGITS = {word: str(k) for k, word in enumerate(["zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"])}  # fmt: skip  # noqa: E501
_DIGITS |= {"fourteen": "14", "fifteen": "15", "sixteen": "16", "eighteen": "18", "twenty": "20"}
_NUMBER_SAID = rf"(?:\d{{1,2}}(?:\.\d)?|(?:{'|'.join(_DIGITS)})(?: point (?:{'|'.join(_DIGITS)}))?)"
_SIZE_SAID = re.compile(
    rf"(?P<lead>\b(?:these|they|those) (?:are|were) |\bthey're )?\bm ?(?P<thread>{_NUMBER_SAID}) (?:by|times|x) (?P<length>{_NUMBER_SAID})(?(lead)(?= ?s?\b)|(?= (?:\w+ )?(?:screw|bolt|standoff)s?\b))",  # noqa: E501
    re.IGNORECASE,
)
"""As in "M2 by 3", "M two point five by four": thread and length of a screw."""


def _size_of(match: re.Match[str]) -> str:
    told = []
    for said in (match["thread"], match["length"]):
        words = said.lower().split(" point ")
        told.append(".".join(_DIGITS.get(word, word) for word in words))
    return f"{match['lead'] or ''}M{told[0]}x{told[1]}"


@lru_cache(maxsize=1)
def _slips() -> tuple[tuple[re.Pattern[str], str], ...]:
    """Words that recognition hears for others, each with what must stand beside it (``grammar.toml``)."""
    return tuple(
        (re.compile(pattern, re.IGNORECASE), meant)
        for pattern, meant in table_group("slips").items()
    )


def _in_one_word(match: re.Match[str]) -> str:
    """As in "the s s d", "the i o board": letters that are spelt out are one name."""
    letters = match.group().split()
    name = "/".join(letters) if letters == ["i", "o"] else "".join(letters)
    return name.upper().ljust(len(match.group()))


def _counted_aloud(match: re.Match[str]) -> str:
    """As in "there's one two three four plugs": four of them; "one, two, three, and it's off" counts the work."""
    last = re.split(r"[\s,]+", match.group())[-1]
    behind = re.match(r"\s+(?P<word>[a-z]\w+)", match.string[match.end() :], re.IGNORECASE)
    counts = behind is not None and behind["word"].lower() not in _BEHIND_COUNTING
    kept = last if counts else ""
    return "," * (not counts) + " " * (len(match.group()) - len(kept) - (not counts)) + kept


def _as_long(match: re.Match[str], meant: str) -> str:
    """What is meant, in as many characters as were heard."""
    head = match.groupdict().get("head") or ""
    size = len(match.group())
    return f"{head}{meant}"[:size].ljust(size)


_WHAT_I_WANT = re.compile(
    r"\bwhat (?:i|we)(?:['’]d| would|['’]ll)? (?:want|like|need|ask)(?:ed)? (?:from )?you (?:guys |all )?to do"
    r"(?: (?:now|next|first|then|last|here|is that))* (?:is|was)(?: to)?\b(?=\s+[a-z])",
    re.IGNORECASE,
)
"""Leads in an order: "what I want you to do now is to undo the nuts"."""


def mended_text(text: str) -> str:
    """A whole stretch of speech mended sentence by sentence; every place in it stays where it is."""
    pieces = []
    last = 0
    text = _heard_right(without_taken_back(text))
    text = _WHAT_I_WANT.sub(lambda match: " " * len(match.group()), text)
    for low, high in speech_spans(text):
        pieces += [text[last:low], mend_speech(text[low:high])]
        last = high
    return "".join([*pieces, text[last:]])


def _closed(match: re.Match[str]) -> str:
    """A comma behind words; as it stands where a sentence opens so ("Oh yeah, the feet.")."""
    before = match.string[: match.start()].rstrip()
    return ",".ljust(len(match.group())) if before[-1:].isalnum() else match.group()


def _once(match: re.Match[str]) -> str:
    first = match[1]
    if first.isdigit() or len(first) == 1:
        return match.group()
    return " " * (len(match.group()) - len(first)) + first


_PART = r"(?P<part>(?:the |our |your |that |this )?[a-z0-9][\w' /-]{1,60}?)"
_END = r"(?=\s*(?:$|[.,!?;:]|\b(?:so|and|now|here|which|that's|this|it's|is held|to|for|you|we|i|okay|alright|there|with|because|once|as well|next|itself|on the|in the|at the|first|from|before)\b))"  # noqa: E501
ANNOUNCEMENTS = re.compile(
    rf"(?:^|(?<=\s))(?:now|alright|all right|okay|ok|then|next|finally|lastly)\s+(?:for\s+)?(?P<topic>the [a-z][\w-]*(?: [a-z][\w-]*){{0,2}}?)(?: (?:on|at|in) (?:the|your|this|that) [\w']+(?: (?!this|that|there|it)[a-z]+)?)?(?=\s+(?:has|have|there|there's|you|is held|are held|it's|that's|we've|we have|this one's|this one is|this is|they're)\b)"  # noqa: E501
    rf"|\b(?:next up,? (?:(?:is|are|we have|comes|we've got)\b)?|first up,? (?:(?:is|are)\b)?|next (?:is|are|comes|thing is|part is|one is|thing to go is|thing out is)|up next,? (?:(?:is|are)\b)?|last up,? (?:is\b)?|(?:the )?(?:last|next|final|first) (?:thing|one|part|bit|piece|job) (?:is|on the list is)|last but not least is"  # noqa: E501
    rf"|(?:let's |we'll |we can |i'll |we're going to |we're gonna |let me |and )*(?:now )?(?:move|moving|going|go|get|getting|jump) on(?:to| to)(?: to)?|(?:now )?(?:on|onto)(?: to)? (?=the )|now for|that brings us to|that leaves (?:us with )?|time for|(?:let's|we'll|now let's) (?:talk about|tackle|deal with|do|start with|look at|work on|get to|turn to|see about|begin with)"  # noqa: E501
    rf"|(?:the )?next (?:part|thing|component|item|piece|step) (?:we're (?:going to|gonna) (?:remove|take out|tackle)|to (?:remove|come out|come off|go)|we (?:want|need) to (?:remove|take out)|up|that comes out|out) is"  # noqa: E501
    r"|(?:part|step|section|stage|chapter|job|phase) (?:number )?(?:one|two|three|four|five|six|seven|eight|nine|ten|\d{1,2})"  # noqa: E501
    r"(?:,? (?:is|will be|which is|that is|that's|being)|[,:])(?= (?:the|our)\b))"
    rf"\s+{_PART}{_END}",
    re.IGNORECASE,
)
COMES_NEXT = re.compile(
    r"^\W*(?:(?:and|so|okay|ok|right|now|then)\b[,\s]*)*(?P<part2>(?:the|our) [a-z][\w' -]{1,30}?) (?:itself )?(?:also )?comes (?:out|off)(?: itself)? (?:too|as well)\W*$"  # noqa: E501
    r"|^\W*(?:(?:and|so|okay|ok|alright|right|now|then)\b[,\s]*)*(?P<part>(?:the|our|your|that) [a-z][\w' -]{1,30}?) (?:is|are|comes|goes) (?:up )?(?:next|first|last)\b",  # noqa: E501
    re.IGNORECASE,
)
"""As in "the lid is next"."""
NAMED_ALONE = re.compile(
    r"^\W*(?:and )?(?:(?:okay|ok|alright|all right|right|now|next|next up|first up|last up|up next)\b[,:\s]*)+(?:(?:so|now|then|next)\b[,:\s]*)*"  # noqa: E501
    r"(?P<part>(?:the|our|your|that)\s+[a-z][\w' -]{1,40}?)\W*$",
    re.IGNORECASE,
)
"""As in "okay the heat sink": a whole thought that only names a part."""
REFIT_TURN = re.compile(
    r"\b(?:(?:put|putting|put's) (?:it|everything|this|things|the \w+|this thing|it all|all of (?:this|it)) back(?: together)?|reassembl\w+|back together|going back in|going back together|to reinstall|for reassembly|installation|closing (?:it|everything) (?:back )?up|close (?:it|everything) (?:back )?up|putting (?:the |our |in the )?new|(?:to|we) put (?:the |our |in the )?new|install the new|install (?:the|our) replacement|goes? (?:back |in |on |together )+(?:exactly )?(?:the )?(?:exact )?same way|(?:when|once|as) the new \w+(?: \w+)? (?:goes|comes) (?:in|on)|same (?:thing|way|again) backwards|(?:okay|ok|right|alright|so|now|then)\W+(?:(?:for|here's|with|on to) )?(?:the |our |your |a )?(?:new|replacement) (?:one|\w+)(?= ?(?:[.,]|$|clean|goes|comes|slide|put|drop|wires|first|you|we|in\b))|to (?:fit|refit|close) (?:it|up)(?: again| back)?|(?:everything|it all|that all|the rest|it|they|this|all that) (?:all |just |now |then )*goes? (?:back )?together(?: again)?|(?:and )?to close up|closing up|to refit|back (?:in|on) (?:is|it's) the (?:same|reverse|opposite)|putting it (?:all )?back|button (?:it|everything) (?:back )?up)\b",  # noqa: E501
    re.IGNORECASE,
)
PUTTING_NEW = re.compile(
    r"^\W*(?:(?:okay|ok|so|now|then|right|and|alright|good)\b[,.\s]*)*putting (?:the |our |a )?(?:new|replacement) [\w -]{2,30}? in\W*$",  # noqa: E501
    re.IGNORECASE,
)
"""As in "putting the new one in": what is told now, no order by itself."""
NEW_GOES = re.compile(
    r"^\W*(?:(?:okay|ok|so|now|then|right|and|alright|good)\b[,.\s]*)*(?:the |a |your |our )?(?:(?:new|replacement|fresh) (?!goes\b|comes\b|drops\b|slides\b|is\b)(?P<part>one|[a-z][\w-]*(?: [a-z][\w-]*)??) "  # noqa: E501
    r"(?:goes|comes|plugs|slides|drops|slots|clips|sits|pushes|screws|hooks|up|in|on|back|down|over|into|onto)\b"
    r"|(?P<part2>replacement) (?:goes|comes|drops|slides)\b)",
    re.IGNORECASE,
)
"""As in "new motor up from below", "the new capacitor plugs in"."""
WHOLE_REFIT = re.compile(
    r"\b(?:together|everything|it all|all (?:of (?:this|it)|back|apart)|all go(?:es)? back|reassembl\w+|close (?:it |everything )?(?:back )?up|closing (?:it |everything )?(?:back )?up|button)\b",  # noqa: E501
    re.IGNORECASE,
)
"""The turn concerns the whole machine."""
REACHED = re.compile(
    rf"^(?!.*\b(?:before|so that|until|till|unless)\b).*?\b(?:you|we) can (?:now |finally |then )?get (?:at|to|on to) (?=the\b){_PART}{_END}",  # noqa: E501
    re.IGNORECASE,
)
"""As in "once the sink is out we can get to the main board"."""

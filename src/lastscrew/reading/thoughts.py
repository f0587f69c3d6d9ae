"""Spoken sentences without stops, parted into thoughts: one order or statement each.

"pull on that tab and the connector comes straight out the battery is held in by five screws" is three thoughts. A new
one begins where a thing is followed by what it does ("the battery is", "the connector comes"), or where a speaker turns
to his listener ("you want to", "there's", "what I like to do"), unless the words before it still wait for something.
"""

from __future__ import annotations

from itertools import pairwise

from lastscrew.reading.lexicon import Lexicon
from lastscrew.reading.lexicon.groups import phrase_group, word_group
from lastscrew.reading.lexicon.morphology import is_plural
from lastscrew.reading.phrases import Phrases
from lastscrew.reading.tokens import Token, tokenise

_OPENERS = (
    *phrase_group("thoughts_openers"),
    *(
        lead
        for lead in phrase_group("parts_leads")
        if " " in lead and lead not in ("over to", "back to")
    ),
)
_BY_FIRST: dict[str, list[list[str]]] = {}
for _row in _OPENERS:
    _first, *_rest = _row.split()
    _BY_FIRST.setdefault(_first, []).append(_rest)
_WAITING = word_group("thoughts_waiting")
_LINKS = frozenset(["and", "so", "but", "then", "now", "okay", "ok", "alright", "because", "sorry"])
_FINITE = word_group("thoughts_finite")
_CLOSED = word_group("thoughts_closed")
"""Particles and small words behind which a thought may be complete."""
_SIDES = frozenset(["back", "left", "right", "side", "open", "one", "ones", "first", "that", "this", "those", "these"])  # fmt: skip  # noqa: E501
_NOT_BEFORE_RIGHT = frozenset(["the", "all", "to", "straight", "turn", "is", "that's", "a", "your", "up", "it", "them", "far"])  # fmt: skip  # noqa: E501
_PARTS = frozenset(["part", "cover", "board", "card", "drawer"])
_NAMED_BY = frozenset(["ones", "one", "thing", "things", "everything", "anything", "all", "way"])
"""Behind these "you" may open what they are told by: "the one you see", "everything you took off"."""
_TELLING = frozenset(["you", "we", "you'll", "we'll", "i'll", "you'd", "i'd", "i", "i'm", "we're", "you're"])  # fmt: skip  # noqa: E501
_OF_SEVERAL = frozenset(["come", "go", "lift", "are", "have", "were", "aren't", "haven't"])
_POINTING = frozenset(["it", "they", "that", "these", "those", "this"])


def thoughts(text: str, low: int, high: int, lexicon: Lexicon) -> list[tuple[int, int]]:
    """Spans of the thoughts between two places of a text, in order and without gaps."""
    tokens = tokenise(text[low:high], lexicon)
    if len(tokens) < 6:
        return [(low, high)]
    cuts = _cuts(tokens, Phrases(tokens, lexicon, spoken=True))
    edges = [0, *(tokens[k].start for k in cuts), high - low]
    spans = [(low + first, low + last) for first, last in pairwise(edges) if last > first]
    return spans or [(low, high)]


def _cuts(tokens: list[Token], phrases: Phrases) -> list[int]:
    cuts: list[int] = []
    last = 0
    open_condition = _conditional(phrases, 0)
    for j in range(1, len(tokens)):
        if tokens[j].start == tokens[j - 1].start or not begins_thought(phrases, j):
            continue
        k = j
        while k > last + 1 and phrases.low(k - 1) in _LINKS:
            k -= 1
        if phrases.low(j) in _TELLING and (
            _only_named(phrases, last, k) or phrases.low(j - 1) == "thing"
        ):
            continue
        topic = k == last + 1 and _topic_then_order(phrases, last)
        short = k <= last + 1 or phrases.low(k - 1) == "ahead" or not _complete(phrases, last, k)
        if short and not topic:
            continue
        if open_condition and not _settled(phrases, last, k):
            continue
        if _reminds(phrases, last) and not (_opener(phrases, j) or _order_at(phrases, j)):
            continue
        cuts.append(k)
        last = k
        open_condition = _conditional(phrases, k)
    return cuts


def _only_named(phrases: Phrases, start: int, end: int) -> bool:
    """As in "the belt | you can simply roll off": what stands before is only a name, and belongs to what follows."""
    while start < end and phrases.low(start) in _LINKS:
        start += 1
    if not phrases.is_det(start) or start == end:
        return False
    thing, after = phrases.phrase(start)
    return thing is not None and after == end and thing.category not in ("text", "place")


def _conditional(phrases: Phrases, k: int) -> bool:
    """As in "once you've got those out the fan lifts off": the condition belongs to what follows."""
    while phrases.low(k) in _LINKS:
        k += 1
    return phrases.low(k) in (
        "once",
        "when",
        "if",
        "after",
        "before",
        "while",
        "with",
        "until",
        "as",
    )


def _reminds(phrases: Phrases, k: int) -> bool:
    """As in "make sure it is shut down and the charger is unplugged": one reminder with two states."""
    while phrases.low(k) in _LINKS or phrases.low(k) in ("please", "first", "thing"):
        k += 1
    return phrases.low(k) in ("make", "be", "ensure", "check") and phrases.low(k + 1) in (
        "sure",
        "that",
        "certain",
        "the",
    )


def _settled(phrases: Phrases, start: int, end: int) -> bool:
    """True where the main clause behind a condition has begun, so that the next thought is a new one."""
    begun = sum(begins_thought(phrases, j) for j in range(start + 1, end))
    return begun >= 2 or phrases.kind(end - 1) == "mark" or end - start > 16


def begins_thought(phrases: Phrases, j: int) -> bool:
    """True where a thought may begin at ``j``."""
    words = phrases.lexicon.words
    before, here = phrases.low(j - 1), phrases.low(j)
    if here == "now" and before == "by":
        return False
    if here == "with" and before in ("stay", "stays", "go", "goes", "come", "comes"):
        return False
    if here == "before" and phrases.low(j + 2) == "do" and phrases.low(j + 3) in _POINTING:
        return False
    if here == "before" and 3 <= len(phrases.tokens) - j <= 10 and phrases.is_command(j + 2):
        return False  # "… gets a drop of thread lock before you do them up"
    if before == "before" and phrases.low(j - 2) == "as":
        return phrases.is_command(j)
    if here in ("careful", "mind", "watch") and before in _CLOSED - _SIDES:
        return True
    if here in ("one", "ones") and before in ("first", "last", "other", "next", "new"):
        return False
    if here in ("okay", "ok", "alright", "sorry") and phrases.low(j - 2) != "":
        return True
    opens = phrases.kind(j - 2) in ("", "mark") or phrases.low(j - 2) in _LINKS
    if before in ("out", "off", "up", "down", "in", "on", "away") and opens:
        if here in _POINTING or here in ("go", "come", "goes", "comes"):
            return False  # "and out they come", "and in go the screws"
    if before in ("those", "these") and _note_at(phrases, j):
        return True  # "don't crank on those | lid back on"
    if before in _WAITING or (
        before in ("these", "those", "last", "other") and here in phrases.lexicon.numbers
    ):
        return False
    rules = (
        _just_do,
        _interjection,
        _place_shown,
        _teller,
        _topic_then_order,
        _with_off,
        _goes_back,
        _inverted,
    )
    if any(rule(phrases, j) for rule in rules):
        return True
    if (
        _opener(phrases, j)
        or _order_at(phrases, j)
        or _bare_screws(phrases, j)
        or _note_at(phrases, j)
    ):
        return True
    if here in _POINTING:
        follow = phrases.low(j + 1 + (phrases.low(j + 1) in ("just", "simply", "then", "also")))
        if follow in words["be"] or follow in words["modals"] or follow in _FINITE:
            return _free(phrases, j)
    if here in ("both", "all", "each") and before in _POINTING:
        return False
    if here in ("both", "all", "each") and phrases.low(j + 1) == "of":
        told = phrases.low(j + 3)
        if told in ("just", "simply") or told in words["be"] or told in _FINITE:
            return phrases.low(j + 2) in (*_POINTING, "them") and _free(phrases, j)
    if here in ("new", "fresh", "old") and (before in _CLOSED or phrases.lexicon.is_noun(before)):
        return True
    named = phrases.is_det(j) or (before in _CLOSED - _SIDES and _may_be_named(phrases, j))
    if not named or not _free(phrases, j):
        return False
    thing, end = phrases.phrase(j)
    shown = end + (phrases.low(end) in ("just", "simply", "then"))
    if thing is None or (not phrases.is_det(j) and phrases.low(shown) not in _FINITE):
        return False
    pointed = phrases.low(end + 1) in ("it", "them", "those", "that", "these")
    if (
        pointed
        and phrases.is_det(j)
        and phrases.is_command(end)
        and before in ("then", "now", "next")
    ):
        return True  # "… and then the two antennas | pop those off"
    while phrases.low(end) in (
        "just",
        "here",
        "also",
        "then",
        "now",
        "itself",
        "really",
        "already",
    ):
        end += 1
    follow = phrases.low(end)
    if follow in _OF_SEVERAL and not thing.plural:
        return False
    snaps = phrases.lexicon.verb_of(phrases.low(end - 1), "s") and end - 1 > j
    if snaps and follow in phrases.lexicon.words["particles"] and not phrases.is_det(end + 1):
        return not thing.plural or follow in ("down", "in", "on")  # "… goes in | cover snaps down"
    finite = phrases.lexicon.verb_of(follow, "s") and not phrases.lexicon.is_noun(follow)
    return follow in words["be"] or follow in words["modals"] or follow in _FINITE or bool(finite)


def _may_be_named(phrases: Phrases, j: int) -> bool:
    """A noun, or a word that nobody knows before "goes" and the like: "… goes back in | roll goes back in"."""
    here, follow = phrases.low(j), phrases.low(j + 1)
    if phrases.lexicon.is_noun(here):
        return True
    known = phrases.lexicon.forms.get(here) or any(
        here in group for group in phrases.lexicon.words.values()
    )
    return here.isalpha() and not known and follow in ("goes", "comes", "is")


def _interjection(phrases: Phrases, j: int) -> bool:
    """As in "… on the shelf | right battery | so …", "… like that | okay | new one": what was said is closed."""
    here, before = phrases.low(j), phrases.low(j - 1)
    if here != "right" or before in _NOT_BEFORE_RIGHT or phrases.lexicon.verb_of(before, "base"):
        return False
    if phrases.is_det(j + 1) or phrases.low(j + 1) in (
        "on",
        "up",
        "down",
        "off",
        "out",
        "in",
        "at",
    ):
        return False
    thing, end = phrases.phrase(j + 1)
    named = thing is not None and thing.category in _PARTS and end <= j + 4
    return named and (
        phrases.low(end) in (*_LINKS, "with", "it") or phrases.kind(end) in ("", "mark")
    )


def _place_shown(phrases: Phrases, j: int) -> bool:
    """As in "… that pops off | and under the cap is a nut", "… we'll want it | under it there's three tiny ones"."""
    if phrases.low(j) not in ("under", "underneath", "behind", "inside", "below", "on", "in", "at"):
        return False
    if not _free(phrases, j):
        return False
    thing, end = phrases.phrase(j + 1)
    if thing is None:
        return False
    shown = phrases.low(end) in ("is", "are", "sits", "there") and (
        phrases.low(end) != "there" or phrases.low(end + 1) in ("is", "are")
    )
    noun = phrases.is_det(end + 1) or phrases.low(end + 1) in phrases.lexicon.numbers
    return shown and (noun or phrases.low(end) == "there")


def _topic_then_order(phrases: Phrases, j: int) -> bool:
    """As in "… go in one way | battery plug it in", "… new one | wires first lay them along the groove"."""
    category = phrases.lexicon.category((phrases.low(j),))
    if category not in (*_PARTS, "cable", "connector", "antenna") or phrases.is_command(j):
        return False
    k = j + 1 + (phrases.low(j + 1) == "first")
    several = "them" if is_plural(phrases.low(j)) else "it"
    ordered = phrases.is_command(k) and phrases.low(k + 1) == several
    named = phrases.is_det(j - 1) or phrases.is_det(j - 2) or phrases.is_det(j - 3)
    return ordered and not named and (j == 0 or _free(phrases, j))


def _with_off(phrases: Phrases, j: int) -> bool:
    """As in "… while you are turning | and out with all three": an order without a verb."""
    return (
        phrases.low(j) in ("out", "off")
        and phrases.low(j + 1) == "with"
        and phrases.low(j - 1) == "and"
        and (
            phrases.is_det(j + 2) or phrases.low(j + 2) in ("all", "both", *phrases.lexicon.numbers)
        )
    )


def _inverted(phrases: Phrases, j: int) -> bool:
    """As in "… number two | and out they come", "… like that | off comes the lid"."""
    if phrases.low(j) not in ("out", "off", "up", "in", "on", "down"):
        return False
    moves = frozenset(["come", "comes", "go", "goes", "pop", "pops", "lift", "lifts"])
    follow, behind = phrases.low(j + 1), phrases.low(j + 2)
    if follow in ("it", "they") and behind in moves:
        return phrases.low(j - 1) in _LINKS or _free(phrases, j)
    return follow in moves and phrases.is_det(j + 2) and phrases.low(j - 1) in _LINKS


def _goes_back(phrases: Phrases, j: int) -> bool:
    """As in "… till it snaps | sensor plug back in", "… nobody will know | tray drops back on"."""
    before = phrases.low(j - 1)
    moved = phrases.lexicon.verb_of(before, "s", "base") and not phrases.lexicon.is_noun(before)
    if phrases.is_det(j) or not moved or not phrases.lexicon.is_noun(phrases.low(j)):
        return False
    thing, end = phrases.phrase(j)
    if thing is None or thing.category in ("place", "text", "tool", "body"):
        return False
    finite = phrases.lexicon.verb_of(phrases.low(end), "s") or phrases.low(end) in ("go", "come")
    end += bool(finite)
    told = phrases.low(end) == "back" and phrases.low(end + 1) in ("in", "on", "down", "together")
    return told and phrases.low(j - 2) in (
        *_POINTING,
        "everything",
        "nobody",
        "nobody'll",
        "ever",
    )


def _just_do(phrases: Phrases, j: int) -> bool:
    """As in "… has to come off as well | just peel it": nothing but an order begins so."""
    before = phrases.low(j - 1)
    if phrases.low(j) not in ("just", "simply") or before in _LINKS:
        return False
    told = phrases.lexicon.words["subjects"] | phrases.lexicon.words["auxiliaries"]
    ordered = phrases.is_command(j + 1) and (
        phrases.is_det(j + 2) or phrases.low(j + 2) in ("it", "them", "that", "those", "these")
    )
    return ordered and before not in told and before not in _POINTING


def _teller(phrases: Phrases, j: int) -> bool:
    """As in "it's one thumbscrew | you turn it out", "… all three | i always put these …": somebody does something."""
    if phrases.low(j) not in ("you", "we", "i"):
        return False
    k = j + 1
    while phrases.low(k) in (
        "always",
        "just",
        "then",
        "now",
        "simply",
        "usually",
        "also",
        "only",
        "first",
    ):
        k += 1
    verb = phrases.lexicon.verb_of(phrases.low(k), "base")
    follow = phrases.low(k + 1)
    with_object = follow in ("it", "them", "that", "those", "these", "the", "all", "both", "one")
    return bool(verb) and with_object and _free(phrases, j) and phrases.low(j - 1) not in _NAMED_BY


def _opener(phrases: Phrases, j: int) -> bool:
    """True for "there's", "you want to", "next up" and the like; "you" stands for "you've" and "you'll" too."""
    low = phrases.low(j)
    if low in ("don't", "do") and phrases.low(j - 1) in _POINTING:
        return False
    if low in ("on", "onto") and phrases.low(j - 1) not in _LINKS and phrases.kind(j - 1) != "mark":
        return False
    for key in {low, low.partition("'")[0]}:
        for rest in _BY_FIRST.get(key, ()):
            if all(_stands(phrases.low(j + n), word) for n, word in enumerate(rest, 1)):
                return True
    return False


def _stands(token: str, word: str) -> bool:
    return token == word or token.startswith(f"{word}'")


def _order_at(phrases: Phrases, j: int) -> bool:
    """As in "… with the six screws reconnect the speaker cable": an order that can be nothing else."""
    if not phrases.is_command(j) or phrases.low(j) in phrases.lexicon.words["particles"]:
        return False
    if phrases.low(j + 1) in ("it", "them") and _topic_then_order(phrases, j - 1):
        return True
    if _in_compound(phrases, j):
        return False
    follow, k = phrases.low(j + 1), j + 1
    if follow in phrases.lexicon.words["particles"]:
        k = j + 2
        lemma = phrases.lexicon.verb_of(phrases.low(j), "base")
        if (
            phrases.lexicon.is_noun(phrases.low(j))
            and f"{lemma} {follow}" not in phrases.lexicon.verbs
        ):
            return False
    sure = phrases.low(k) in ("the", "that", "it", "them", "all", "both", "those", "these") or (
        phrases.is_det(k) and not phrases.lexicon.is_noun(phrases.low(j))
    )
    if not sure or phrases.low(k) == "one":
        return False
    fastener = phrases.lexicon.category((phrases.low(j - 1),)) == "fastener" and phrases.low(j) in (
        "hold",
        "secure",
        "keep",
        "retain",
        "fasten",
        "attach",
        "fix",
    )
    if (phrases.low(j - 1) in _POINTING or fastener) and phrases.lexicon.verb_of(
        phrases.low(j), "base"
    ) in phrases.lexicon.words["holding"]:
        return False
    if phrases.lexicon.is_noun(phrases.low(j)) and (
        phrases.low(j - 1) in phrases.lexicon.numbers or phrases.kind(j - 1) == "number"
    ):
        return False
    if phrases.low(j - 1) in _LINKS:
        return _screws_end(phrases, j - 2)
    if phrases.low(j - 1) in ("last", "first") and phrases.is_det(k):
        return phrases.low(j - 2) not in ("the", "one", "thing", "")
    plain = (
        follow in ("it", "them", "all", "both", "that", "those", "these")
        and not phrases.lexicon.is_noun(phrases.low(j))
        and not phrases.low(j - 1).endswith("ly")
    )
    if (
        plain
        and phrases.kind(j - 1) == "word"
        and not phrases.lexicon.forms.get(phrases.low(j - 1))
    ):
        words = phrases.lexicon.words
        held = words["subjects"] | words["auxiliaries"] | words["negations"]
        return phrases.low(j - 1) not in held
    if phrases.low(k) == "the" and not phrases.lexicon.is_noun(phrases.low(j)):
        if _unknown(phrases, j - 1):
            return True  # "a bit of persuasion | give the hub a wipe"
    return _free(phrases, j)


def _unknown(phrases: Phrases, k: int) -> bool:
    """A word that stands in no list: a noun or a name."""
    low, lexicon = phrases.low(k), phrases.lexicon
    listed = any(low in group for group in lexicon.words.values())
    return phrases.kind(k) == "word" and low.isalpha() and not listed and low not in lexicon.forms


def _in_compound(phrases: Phrases, j: int) -> bool:
    """As in "a spring | clip in the middle", "the power button | lead both of those": the head of a name, no order."""
    if not phrases.lexicon.is_noun(phrases.low(j)) or not phrases.lexicon.is_noun(
        phrases.low(j - 1)
    ):
        return False
    named = phrases.is_det(j - 2) or phrases.is_det(j - 3)
    thing = phrases.lexicon.category((phrases.low(j),)) in (
        "cable",
        "connector",
        "clip",
        "lock",
        "fastener",
    )
    return named and thing and phrases.low(j + 1) not in ("it", "them", "the", "that", "those")


def _screws_end(phrases: Phrases, k: int) -> bool:
    """As in "five screws and plug in the fan": what is counted and linked says by itself that it goes in."""
    category = phrases.lexicon.category((phrases.low(k),))
    counted = phrases.low(k - 1) in phrases.lexicon.numbers or phrases.kind(k - 1) == "number"
    before = phrases.low(k - 2)
    return category == "fastener" and counted and (k < 2 or before in _CLOSED or before in _LINKS)


def _bare_screws(phrases: Phrases, j: int) -> bool:
    """As in "the fan goes back in two screws plug it in": screws that are counted and nothing else."""
    counted = phrases.kind(j) == "number" or phrases.low(j) in phrases.lexicon.numbers
    thing, end = phrases.phrase(j) if counted else (None, j)
    if thing is None or thing.category != "fastener":
        return False
    gone = phrases.low(end) in ("out", "off", "in") and not phrases.is_det(end + 1)
    if phrases.low(j - 1) in ("on", "in", "by") and phrases.low(j - 2) in (
        "is",
        "are",
        "it's",
        "just",
    ):
        return False  # "the canopy is on two screws"
    before = phrases.low(j - 2) if phrases.low(j - 1) in ("then", "and") else phrases.low(j - 1)
    if before == "there" and phrases.low(j - 1) == "there":
        return phrases.low(j - 2) not in (*_LINKS, "and", "") and not phrases.is_det(j - 2)
    told = (
        gone
        and phrases.low(j - 1) not in _WAITING | _LINKS
        and not phrases.lexicon.verb_of(phrases.low(j - 1), "base")
    )
    return told or before in (
        "in",
        "on",
        "down",
        "back",
        "up",
        "off",
        "out",
        "together",
    )


def _note_at(phrases: Phrases, j: int) -> bool:
    """As in "… with its three screws back plate on all seven screws": a part and where it goes, nothing else."""
    before = phrases.low(j - 1)
    screws = phrases.lexicon.category((before,)) == "fastener"
    several = before in ("those", "these") and not is_plural(phrases.low(j))
    if phrases.is_det(j) or not (
        screws or several or before in ("it", "them", "up", "off", "out", "tight")
    ):
        return False
    start = j + (phrases.low(j) in ("back", "top", "bottom", "front", "rear"))
    if not phrases.lexicon.is_noun(phrases.low(start)):
        return False
    thing, end = phrases.phrase(j)
    if thing is None or thing.category not in ("cover", "part", "board", "card"):
        return False
    if phrases.low(end) == "back":
        end += 1
    return phrases.low(end) in ("on", "in", "back") and (
        phrases.is_det(end + 1) or phrases.kind(end + 1) in ("", "mark")
    )


def _free(phrases: Phrases, j: int) -> bool:
    """True where the word before ``j`` does not ask for a thing: a noun, a particle, an adverb or a linking word."""
    before = phrases.low(j - 1)
    if before in _LINKS or before in _CLOSED or phrases.kind(j - 1) == "mark":
        return True
    goes_on = phrases.low(j - 2) == "and" and phrases.lexicon.verb_of(before, "base")
    if goes_on and phrases.is_command(j):
        return True  # "squeeze the plug and pull | swap the pulley"
    named = phrases.is_det(j - 2) and bool(phrases.lexicon.verb_of(before, "s"))
    if (
        phrases.lexicon.verb_of(before, "base", "ing", "s")
        and not phrases.lexicon.is_noun(before)
        and not named  # "stuff on the threads | get them out"
    ):
        return False
    lexicon = phrases.lexicon
    strange = (
        phrases.is_det(j - 2) and phrases.kind(j - 1) == "word" and before not in lexicon.forms
    )
    if (
        strange
        and before.isalpha()
        and not any(before in group for group in lexicon.words.values())
    ):
        return True  # "against the ceiling | it is on two screws"
    return named or before in lexicon.numbers or lexicon.is_noun(before)


def _complete(phrases: Phrases, start: int, end: int) -> bool:
    """True where the words up to ``end`` say something: they hold a verb, or name a thing and stop."""
    words = phrases.lexicon.words
    pointed = phrases.low(end - 1) in ("that", "this") and bool(
        phrases.lexicon.verb_of(phrases.low(end - 2), "base")
    )
    if phrases.low(end - 1) in _WAITING and not pointed:
        return False
    return (
        any(
            phrases.low(k) in words["be"]
            or phrases.low(k) in words["modals"]
            or bool(phrases.lexicon.verb_of(phrases.low(k), "base", "s", "ing", "past"))
            for k in range(start, end)
        )
        or end - start >= 2
    )

"""Turns of speech put plainly before the grammar reads them: "that bit wants peeling off" must be peeled off.

Each rule looks at the words of one thought and gives words that the one grammar knows. The places of the words in the
text stay; what is put in has no length.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import lru_cache

from lastscrew.reading.lexicon import Lexicon
from lastscrew.reading.lexicon.groups import word_group
from lastscrew.reading.phrases import Phrases
from lastscrew.reading.tokens import Token

_WANTS = frozenset(["wants", "want", "needs", "need"])
_POINTS = {"that": "it", "this": "it", "these": "they", "those": "they"}
_OPENS = frozenset(["and", "so", "then", "now", "but", "just", "okay", "right", "because", "where"])
_SMALL = frozenset(["just", "then", "now", "simply", "also", "all", "both", "really", "only"])
_MOVES = frozenset(["has", "have", "needs", "need", "wants", "want", "gets", "get", "goes", "go", "comes", "come"])  # fmt: skip  # noqa: E501
_GONE = frozenset(["out", "off", "away"])
_CHAIN = frozenset(["can", "just", "simply", "then", "now", "have", "to", "need", "want", "also", "only", "first", "will", "should", "could", "gonna", "wanna", "go", "ahead", "and", "would", "usually", "always", "actually", "really"])  # fmt: skip  # noqa: E501
_WISHING = frozenset(["want", "would", "'d", "you", "to", "have", "need", "like", "always", "do", "will", "'ll", "gonna", "going", "are", "really", "usually"])  # fmt: skip  # noqa: E501
_STEADY = frozenset(["right", "straight", "carefully", "gently", "slowly"])
_RESULTING = word_group("results_verbs")
_HAVING = frozenset(["'ll", "will", "let's", "lets", "can"])


def in_spoken_order(tokens: list[Token], lexicon: Lexicon) -> list[Token]:
    """The words of a spoken thought, said plainly."""
    rules: tuple[Callable[[list[Token], Lexicon], list[Token]], ...] = (
        _plainly_moved,
        _inverted,
        _thing_is,
        _wants_doing,
        _that_goes,
        _got_going,
        _loose_them,
        _named_then_done,
        _fronted,
        _coming_out,
        _is_back,
        _pointing,
        _upside_down,
        _have_out,
        _get_those,
        _kept_apart,
        _have_done,
        _give_it_a,
        _out_with,
        _part_it,
        _get_done,
    )
    for rule in rules:
        tokens = rule(tokens, lexicon)
    return tokens


@lru_cache(maxsize=2)
def _pasts(lexicon: Lexicon) -> dict[str, str]:
    """A past participle of each verb."""
    found: dict[str, str] = {}
    for word, forms in lexicon.forms.items():
        for lemma, form in forms:
            if form == "past":
                found[lemma] = word
    return found


def _low(tokens: list[Token], i: int) -> str:
    return tokens[i].low if 0 <= i < len(tokens) else ""


def _put_in(token: Token, low: str) -> Token:
    """A word of no length behind ``token``."""
    return Token("", low, "word", token.end, token.end)


def _wants_doing(tokens: list[Token], lexicon: Lexicon) -> list[Token]:
    """As in "the tape wants peeling off", "those need taking out": must be peeled off."""
    for i, token in enumerate(tokens[:-1]):
        lemma = lexicon.verb_of(tokens[i + 1].low, "ing")
        done = _pasts(lexicon).get(lemma, "")
        before = _low(tokens, i - 1)
        if token.low not in _WANTS or not done or before in lexicon.words["subjects"] - {"they"}:
            continue
        plain = [replace(token, low="must"), _put_in(token, "be"), replace(tokens[i + 1], low=done)]
        return [*tokens[:i], *plain, *tokens[i + 2 :]]
    return tokens


def _inverted(tokens: list[Token], lexicon: Lexicon, low: int = 0) -> list[Token]:
    """As in "out they come", "off comes the lid", "in go the four screws": they come out, the lid comes off."""
    ways = lexicon.words["particles"]
    for i in range(low, len(tokens) - 2):
        opens = i == 0 or tokens[i - 1].kind == "mark" or tokens[i - 1].low in _OPENS
        if tokens[i].low not in ways or not opens:
            continue
        end = i + 1 + (tokens[i].low == "back" and tokens[i + 1].low in ways)
        way = tokens[i:end]
        if way[0].low == "off" and _low(tokens, end + 1) in ("go", "goes"):
            continue  # "and off we go"
        if _low(tokens, end) in ("it", "they", "she", "he", "that", "those") and _moves(
            tokens, end + 1, lexicon
        ):
            plain = [*tokens[end : end + 2], *_behind(way, tokens[end + 1])]
            return _inverted([*tokens[:i], *plain, *tokens[end + 2 :]], lexicon, end + 2)
        if not _moves(tokens, end, lexicon):
            continue
        thing, after = Phrases(tokens, lexicon, spoken=True).phrase(end + 1)
        if thing is None or thing.is_pronoun or not thing.name:
            continue
        verb = replace(tokens[end], start=tokens[after - 1].end, end=tokens[after - 1].end)
        plain = [*tokens[end + 1 : after], verb, *_behind(way, verb)]
        return _inverted([*tokens[:i], *plain, *tokens[after:]], lexicon, after)
    return tokens


_FLUNG = word_group("order_flung")
_WAY_IN = frozenset(["in", "on", "down", "back", "home", "together"])
_WAY_OUT = frozenset(["out", "off", "away"])


def _plainly_moved(tokens: list[Token], lexicon: Lexicon) -> list[Token]:
    """As in "bung the cover back on", "hoick the lot out": put it back on, pull it out."""
    flung = [i for i, token in enumerate(tokens[:-1]) if token.low in _FLUNG]
    phrases = Phrases(tokens, lexicon, spoken=True)
    for i in flung:
        token = tokens[i]
        near = tokens[i + 1].low in _WAY_IN | _WAY_OUT
        thing, end = phrases.phrase(i + 1)
        way = _low(tokens, i + 1) if near else _low(tokens, end)
        if (thing is None and not near) or f"{token.low} {way}" in lexicon.verbs:
            continue
        laid = not near and way in ("in", "on") and phrases.is_det(end + 1)
        if way not in _WAY_IN | _WAY_OUT or laid:
            continue
        return [
            *tokens[:i],
            replace(token, low="put" if way in _WAY_IN else "pull"),
            *tokens[i + 1 :],
        ]
    return tokens


def _moves(tokens: list[Token], k: int, lexicon: Lexicon) -> bool:
    lemma = lexicon.verb_of(_low(tokens, k), "s") or lexicon.verb_of(_low(tokens, k), "base")
    return lemma in _RESULTING


def _behind(way: list[Token], token: Token) -> list[Token]:
    """The particles, moved behind a word."""
    return [replace(word, start=token.end, end=token.end) for word in way]


def _pointing(tokens: list[Token], lexicon: Lexicon) -> list[Token]:
    """As in "and that pops off", "those have to come out": "that" names nothing, it stands for what was named."""
    rows = list(tokens)
    for i, token in enumerate(tokens[:-1]):
        if token.low not in _POINTS or (
            i and tokens[i - 1].kind != "mark" and tokens[i - 1].low not in _OPENS
        ):
            continue
        k = i + 1
        while _low(tokens, k) in _SMALL:
            k += 1
        verb = _low(tokens, k)
        one = token.low in ("that", "this")
        told = lexicon.verb_of(verb, "s") if one else lexicon.verb_of(verb, "base")
        moves = told and (verb in _MOVES or _moves_out(tokens, k + 1, lexicon))
        asks = verb in ("has", "have", "needs", "need") and _low(tokens, k + 1) == "to"
        gone = lexicon.is_noun(verb) and verb not in _MOVES and not moves
        if (moves or asks) and not gone:
            rows[i] = replace(token, low=_POINTS[token.low])
    return rows


def _moves_out(tokens: list[Token], k: int, lexicon: Lexicon) -> bool:
    """As in "straight off", "right out": a particle, adverbs before it."""
    while _low(tokens, k) in ("straight", "right", "just", "easily", "clean", "all", "both"):
        k += 1
    return _low(tokens, k) in lexicon.words["particles"]


def _coming_out(tokens: list[Token], lexicon: Lexicon) -> list[Token]:
    """As in "those are all coming out", "that's coming off": they come out."""
    for i in range(1, len(tokens) - 1):
        lemma = lexicon.verb_of(tokens[i].low, "ing")
        if lemma not in _RESULTING or not _moves_out(tokens, i + 1, lexicon):
            continue
        k = i - 1
        while _low(tokens, k) in _SMALL:
            k -= 1
        before = _low(tokens, k)
        if before in ("is", "are", "'s", "'re") and k > 0:
            told = "come" if before in ("are", "'re") else "comes"
            if _low(tokens, k - 1) not in ("they", "those", "these", "that", "it", "all", "both"):
                continue
            told = told if lemma == "come" else f"{lemma}s" if told == "comes" else lemma
            return [*tokens[:k], *tokens[k + 1 : i], replace(tokens[i], low=told), *tokens[i + 1 :]]
        if before in ("that's", "it's", "they're"):
            told = lemma if before == "they're" else "comes" if lemma == "come" else f"{lemma}s"
            subject = replace(tokens[k], low="they" if before == "they're" else "it")
            return [*tokens[:k], subject, replace(tokens[i], low=told), *tokens[i + 1 :]]
    return tokens


def _thing_is(tokens: list[Token], lexicon: Lexicon) -> list[Token]:
    """As in "the first thing I'd want you to take out is the tank": take out the tank."""
    for i, token in enumerate(tokens[:-4]):
        if token.low not in ("thing", "one", "bit", "part", "piece") or not i:
            continue
        k = i + 1 + (_low(tokens, i + 1) == "that")
        if _low(tokens, k) not in lexicon.words["subjects"]:
            continue
        while _low(tokens, k) in lexicon.words["subjects"] or _low(tokens, k) in _WISHING:
            k += 1
        if not lexicon.verb_of(_low(tokens, k), "base"):
            continue
        end = k + 1 + (_low(tokens, k + 1) in lexicon.words["particles"])
        if _low(tokens, end) not in ("is", "are"):
            continue
        named = Phrases(tokens, lexicon, spoken=True)
        thing, after = named.phrase(end + 1)
        if thing is None or thing.is_pronoun or not named.is_det(end + 1):
            continue
        return [*tokens[k:end], *tokens[end + 1 : after], *tokens[after:]]
    return tokens


def _that_goes(tokens: list[Token], lexicon: Lexicon) -> list[Token]:
    """As in "okay so the ribbon that pushes down into the board", with no other verb: the ribbon pushes down."""
    i = 0
    while i < len(tokens) and (
        tokens[i].kind == "mark" or tokens[i].low in lexicon.words["openers"]
    ):
        i += 1
    phrases = Phrases(tokens, lexicon, spoken=True)
    thing, end = phrases.phrase(i) if phrases.is_det(i) else (None, i)
    if thing is None or _low(tokens, end) != "that":
        return tokens
    lemma = lexicon.verb_of(_low(tokens, end + 1), "s")
    rest = tokens[end + 2 :]
    told = any(
        t.low in lexicon.words["be"] or (lexicon.verb_of(t.low, "s") and not lexicon.is_noun(t.low))
        for t in rest
    )
    if lemma not in _RESULTING or told or not _moves_out(tokens, end + 2, lexicon):
        return tokens
    return [*tokens[:end], *tokens[end + 1 :]]


def _got_going(tokens: list[Token], lexicon: Lexicon) -> list[Token]:
    """As in "we've got the four short ones going in the corners": they go in."""
    for i, token in enumerate(tokens[:-3]):
        if token.low != "got" or _low(tokens, i - 1) not in (
            "we've",
            "you've",
            "have",
            "'ve",
            "i've",
        ):
            continue
        thing, end = Phrases(tokens, lexicon, spoken=True).phrase(i + 1)
        if thing is None or _low(tokens, end) not in ("going", "coming"):
            continue
        if _low(tokens, end + 1) not in ("in", "on", "back", "out", "off", "up"):
            continue
        verb = "go" if tokens[end].low == "going" else "come"
        told = (
            verb
            if thing.plural or thing.count not in (None, 1)
            else f"{verb}{'es' if verb == 'go' else 's'}"
        )
        return [*tokens[i + 1 : end], replace(tokens[end], low=told), *tokens[end + 1 :]]
    return tokens


def _loose_them(tokens: list[Token], lexicon: Lexicon) -> list[Token]:
    """As in "loose the five screws": loosen them."""
    for i, token in enumerate(tokens[:-1]):
        opens = i == 0 or tokens[i - 1].kind == "mark" or tokens[i - 1].low in _OPENS
        behind = tokens[i + 1].low
        if (
            token.low == "loose"
            and opens
            and (behind in lexicon.words["determiners"] or behind == "them")
        ):
            return [*tokens[:i], replace(token, low="loosen"), *tokens[i + 1 :]]
    return tokens


def _done_at(tokens: list[Token], i: int, lexicon: Lexicon) -> tuple[int, int]:
    """Verb and end of "you can simply roll off", which names nothing that it is done to; (-1, i) where it is not so."""
    k = i + 1
    while _low(tokens, k) in _CHAIN:
        k += 1
    lemma = lexicon.verb_of(_low(tokens, k), "base")
    if not lemma or _low(tokens, i + 1) in lexicon.words["negations"]:
        return -1, i
    end = k + 1
    while _low(tokens, end) in lexicon.words["adverbs"] or _low(tokens, end) in _STEADY:
        end += 1
    particle = _low(tokens, end) if _low(tokens, end) in lexicon.words["particles"] else ""
    key = f"{lemma} {particle}" if particle else lemma
    if key not in lexicon.verbs or lexicon.verbs[key].klass == "other":
        return -1, i
    return k, end + bool(particle)


def _named_then_done(tokens: list[Token], lexicon: Lexicon) -> list[Token]:
    """As in "there's a cap in the middle you prise out": there is a cap, you prise it out."""
    for i in range(3, len(tokens) - 1):
        if tokens[i].low not in ("you", "we") or tokens[i - 1].kind != "word":
            continue
        start = next(
            (
                k
                for k in range(i - 2, -1, -1)
                if tokens[k].low in ("is", "are", "got", "have", "has")
                and (
                    tokens[k + 1].low in ("a", "an", "another")
                    or tokens[k + 1].low in lexicon.numbers
                )
            ),
            -1,
        )
        known = lexicon.is_noun(tokens[i - 1].low) or tokens[i - 1].low in ("that", "here", "there")
        if start < 0 or not known:
            continue
        verb, end = _done_at(tokens, i, lexicon)
        closes = (
            end >= len(tokens)
            or tokens[end].kind == "mark"
            or tokens[end].low in ("and", "then", "with")
        )
        thing, _ = Phrases(tokens, lexicon, spoken=True).phrase(start + 1)
        if verb < 0 or not closes or thing is None:
            continue
        lead = i - (tokens[i - 1].low == "that")
        mark = Token("", ";", "mark", tokens[i].start, tokens[i].start)
        meant = _put_in(tokens[verb], "them" if thing.plural else "it")
        return [*tokens[:lead], mark, *tokens[i : verb + 1], meant, *tokens[verb + 1 :]]
    return tokens


def _fronted(tokens: list[Token], lexicon: Lexicon) -> list[Token]:
    """As in "the belt you can simply roll off the pulley", "those three you leave in": roll the belt off."""
    phrases = Phrases(tokens, lexicon, spoken=True)
    i = 0
    while i < len(tokens) and (
        tokens[i].kind == "mark" or tokens[i].low in lexicon.words["openers"]
    ):
        i += 1
    thing, end = phrases.phrase(i)
    if (
        thing is None
        or not (phrases.is_det(i) or thing.is_pronoun)
        or thing.category in ("place", "text", "tool")
    ):
        return tokens
    if thing.is_pronoun and thing.head in ("it", "they", "one"):
        return tokens
    if _low(tokens, end) in ("on", "in", "at", "from", "under", "behind"):
        place, behind = phrases.phrase(end + 1)
        end = behind if place is not None else end
    comma = _low(tokens, end) == ","
    if _low(tokens, end + comma) not in (
        "you",
        "we",
        "i",
        "you'll",
        "we'll",
        "i'll",
        "you'd",
        "i'd",
        "i'm",
        "we're",
        "you're",
    ):
        return tokens
    verb, _ = _done_at(tokens, end + comma, lexicon)
    if verb < 0 or phrases.is_det(verb + 1) or _low(tokens, verb + 1) in lexicon.words["pronouns"]:
        return tokens
    moved = tokens[i:end]
    if thing.is_pronoun and thing.name in ("these", "those", "this", "that"):
        moved = [replace(moved[0], low="them" if thing.plural else "it")]
    return [*tokens[:i], *tokens[end + comma : verb + 1], *moved, *tokens[verb + 1 :]]


def _is_back(tokens: list[Token], lexicon: Lexicon) -> list[Token]:
    """As in "the bar's back in", "the motor's gone up": it goes back in, it goes up."""
    for i in range(1, len(tokens) - 1):
        if tokens[i].low not in ("is", "are", "has", "have") or not lexicon.is_noun(
            tokens[i - 1].low
        ):
            continue
        goes = "goes" if tokens[i].low in ("is", "has") else "go"
        follow, behind = tokens[i + 1].low, _low(tokens, i + 2)
        if follow == "back" and behind in ("in", "on", "together", "down"):
            return [*tokens[:i], replace(tokens[i], low=goes), *tokens[i + 1 :]]
        if follow == "gone" and behind in ("up", "in", "on", "back", "down", "over"):
            return [*tokens[:i], replace(tokens[i], low=goes), *tokens[i + 2 :]]
    return tokens


def _upside_down(tokens: list[Token], lexicon: Lexicon) -> list[Token]:
    """As in "flip the whole thing upside down": turn it over."""
    del lexicon
    for i in range(2, len(tokens) - 1):
        if tokens[i].low == "upside" and tokens[i + 1].low == "down":
            return [*tokens[:i], replace(tokens[i], low="over"), *tokens[i + 2 :]]
    return tokens


def _get_those(tokens: list[Token], lexicon: Lexicon) -> list[Token]:
    """As in "so we'll get those", "let me just grab the last two": get them out."""
    for i, token in enumerate(tokens[:-1]):
        if token.low not in ("get", "grab") or _low(tokens, i - 1) in (
            "don't",
            "not",
            "you'll",
            "to",
        ):
            continue
        phrases = Phrases(tokens, lexicon, spoken=True)
        thing, end = phrases.phrase(i + 1)
        if thing is None or not (
            thing.category == "fastener" or (thing.plural and thing.is_pronoun)
        ):
            continue
        if thing.category == "fastener" and thing.article not in ("the", "these", "those", "your"):
            continue
        follow = _low(tokens, end)
        ends = end >= len(tokens) or tokens[end].kind == "mark"
        if ends or follow in ("and", "then", "so", "first", "now", "too"):
            got = [replace(token, low="get"), *tokens[i + 1 : end]]
            return [*tokens[:i], *got, _put_in(got[-1], "out"), *tokens[end:]]
    return tokens


def _kept_apart(tokens: list[Token], lexicon: Lexicon) -> list[Token]:
    """As in "keep that one separate", "keep them together": how it is kept, no work on it."""
    for i, token in enumerate(tokens[:-1]):
        if token.low not in ("keep", "leave", "put", "store", "set"):
            continue
        _, end = Phrases(tokens, lexicon, spoken=True).phrase(i + 1)
        if end > i + 1 and _low(tokens, end) in (
            "separate",
            "safe",
            "handy",
            "apart",
            "clean",
            "together",
        ):
            return [*tokens[:end], replace(tokens[end], low="aside"), *tokens[end + 1 :]]
    return tokens


def _have_done(tokens: list[Token], lexicon: Lexicon) -> list[Token]:
    """As in "I've taken the four out", "we've got those undone already": what was named just now, told as done.

    Only what points back is an order: "I've emptied the tank" tells what was before.
    """
    for i, token in enumerate(tokens[:-2]):
        if token.low not in ("i've", "we've", "i", "we"):
            continue
        k = i + 1
        if token.low in ("i", "we"):
            if _low(tokens, k) not in ("have", "'ve"):
                continue
            k += 1
        while _low(tokens, k) in (
            "already",
            "just",
            "now",
            "gone",
            "ahead",
            "and",
            "actually",
            "also",
        ):
            k += 1
        lemma = lexicon.verb_of(_low(tokens, k), "past")
        thing, _ = Phrases(tokens, lexicon, spoken=True).phrase(k + 1)
        if not lemma or lemma in ("have", "be", "loosen", "slacken") or thing is None:
            continue
        own = _low(tokens, k + 1) in ("mine", "ours")
        if not (own or (thing.is_pronoun and thing.head not in ("everything", "this", "that"))):
            continue
        start = [replace(token, low="you"), replace(tokens[k], low=lemma)]
        rest = tokens[k + 1 :]
        if own:
            rest = [replace(rest[0], low="them"), *rest[1:]]
        return [*tokens[:i], *start, *rest]
    return tokens


def _have_out(tokens: list[Token], lexicon: Lexicon) -> list[Token]:
    """As in "we'll have those three out", "let's have the lid off": get them out."""
    for i, token in enumerate(tokens):
        before = _low(tokens, i - 1)
        will = before in _HAVING or before.endswith("'ll") or before in ("let's", "lets")
        ordered = i == 0 or tokens[i - 1].kind == "mark" or before in _OPENS
        if token.low != "have" or not (will or ordered) or i + 2 >= len(tokens):
            continue
        thing, end = Phrases(tokens, lexicon, spoken=True).phrase(i + 1)
        if thing is not None and _low(tokens, end) in _GONE:
            return [*tokens[:i], replace(token, low="get"), *tokens[i + 1 :]]
    return tokens


def _give_it_a(tokens: list[Token], lexicon: Lexicon) -> list[Token]:
    """As in "give the dome a twist", "give it a bit of a pull": twist it, pull it."""
    for i, token in enumerate(tokens):
        if token.low not in ("give", "gives", "giving"):
            continue
        _, end = Phrases(tokens, lexicon, spoken=True).phrase(i + 1)
        k = end
        while _low(tokens, k) in ("a", "an", "little", "bit", "of", "good", "gentle", "quick", "slight", "quarter", "half", "full"):  # fmt: skip  # noqa: E501
            k += 1
        lemma = lexicon.verb_of(_low(tokens, k), "base")
        if end > i + 1 and k > end and lemma:
            behind = tokens[k + 1 :]
            return [*tokens[:i], replace(token, low=lemma), *tokens[i + 1 : end], *behind]
    return tokens


def _out_with(tokens: list[Token], lexicon: Lexicon) -> list[Token]:
    """As in "and out with all three", "off with the lid": get them out."""
    for i, token in enumerate(tokens[:-2]):
        if token.low not in ("out", "off") or tokens[i + 1].low != "with":
            continue
        if i and tokens[i - 1].low not in _OPENS and tokens[i - 1].kind != "mark":
            continue
        thing, end = Phrases(tokens, lexicon, spoken=True).phrase(i + 2)
        if thing is not None:
            got = [replace(token, low="get"), *tokens[i + 2 : end]]
            return [*tokens[:i], *got, _put_in(got[-1], token.low), *tokens[end:]]
    return tokens


def _part_it(tokens: list[Token], lexicon: Lexicon) -> list[Token]:
    """As in "so part that", "part the connector": unplug it."""
    for i, token in enumerate(tokens[:-1]):
        opens = i == 0 or tokens[i - 1].kind == "mark" or tokens[i - 1].low in _OPENS
        if token.low != "part" or not opens:
            continue
        last = lexicon.category((_low(tokens, i + 2),))
        pointed = tokens[i + 1].low in ("that", "it", "them", "those") and i + 2 >= len(tokens)
        linked = tokens[i + 1].low in ("that", "it", "them", "those") and _low(tokens, i + 2) in ("and", ",", ".")  # fmt: skip  # noqa: E501
        named = tokens[i + 1].low in ("the", "those", "that", "both") and last in ("connector", "cable")  # fmt: skip
        if pointed or linked or named:
            return [*tokens[:i], replace(token, low="unplug"), *tokens[i + 1 :]]
    return tokens


def _get_done(tokens: list[Token], lexicon: Lexicon) -> list[Token]:
    """As in "get those undone", "get the wires unsoldered": undo those, unsolder the wires."""
    for i, token in enumerate(tokens[:-2]):
        if token.low != "get" or _low(tokens, i - 1) in ("to", "don't"):
            continue
        done = next(
            (k for k in range(i + 2, min(i + 7, len(tokens))) if _is_done(tokens, k, lexicon)), -1
        )
        if done < 0 or any(tokens[k].kind != "word" for k in range(i + 1, done)):
            continue
        ends = done + 1 >= len(tokens) or tokens[done + 1].kind == "mark"
        if ends or tokens[done + 1].low in ("and", "then", "so", "first", "now"):
            lemma = lexicon.verb_of(tokens[done].low, "past")
            return [
                *tokens[:i],
                replace(token, low=lemma),
                *tokens[i + 1 : done],
                *tokens[done + 1 :],
            ]
    return tokens


def _is_done(tokens: list[Token], k: int, lexicon: Lexicon) -> bool:
    """A participle of a verb of work, which is no noun."""
    low = tokens[k].low
    lemma = lexicon.verb_of(low, "past")
    work = lemma and lexicon.verbs[lemma].klass in ("remove", "disconnect", "release", "loosen")
    return bool(work) and not lexicon.is_noun(low) and not lexicon.verb_of(low, "base")

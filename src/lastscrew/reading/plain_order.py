"""Running text in plain order: counts beside the noun, inverted and absolute clauses, relative clauses that go on.

"The knobs, four of them, are pulled off" is read as "the four knobs are pulled off"; "Beneath it will be found three
screws, by which the platter is attached to the hub" as "there are three screws that hold the platter to the hub".
Tokens are moved, dropped or renamed and keep their places in the text, so that the one grammar reads them.
"""

from __future__ import annotations

from dataclasses import replace

from lastscrew.reading.counts_told import counts_told, times_of_places
from lastscrew.reading.lexicon import Lexicon
from lastscrew.reading.lexicon.groups import phrase_group, word_group
from lastscrew.reading.lexicon.morphology import is_plural
from lastscrew.reading.tokens import Token

_SUMS = tuple(tuple(row.split()) for row in phrase_group("order_sums"))
_NECESSARY = tuple(tuple(row.split()) for row in phrase_group("order_necessary"))
_FOUND = word_group("order_found")
_ASIDES = word_group("order_asides")
_GOES_ON = ("whereupon", "whereafter")
_PREPOSITIONS = frozenset(
    ["from", "to", "on", "in", "into", "onto", "under", "behind", "through", "around", "over"]
)
_HOLDERS = frozenset(["fastener", "clip", "lock", "tie", "film"])
_SCREWED = frozenset(["unscrew", "screw", "undo", "loosen", "tighten", "fix"])
_BE = frozenset(["is", "are", "was", "were"])
_DONE_TO = word_group("walk_passive")
_HELD_HOW = frozenset(
    ["with", "by", "to", "on", "in", "into", "onto", "from", "together", "through"]
)
_ADJECTIVES = frozenset(["open", "close", "clear", "free", "loose", "clean", "dry", "level", "empty", "slack", "tight", "live", "square", "flush", "complete", "separate", "present", "back", "clip"])  # fmt: skip  # noqa: E501
"""After "is" these say how a thing is, not what was done to it."""
_COUNTED = frozenset(
    [
        "fastener",
        "clip",
        "cable",
        "connector",
        "lock",
        "part",
        "cover",
        "tie",
        "film",
        "board",
        "card",
    ]
)


def in_plain_order(tokens: list[Token], lexicon: Lexicon) -> list[Token]:
    """The tokens of a written sentence in plain order; the same list where nothing is out of order."""
    if len(tokens) < 4:
        return tokens
    rows = _counts_beside(_at_corners(counts_told(tokens, lexicon)), lexicon)
    for rule in (
        _given_a_turn,
        _to_be_done,
        _itself,
        _on_screws,
        _corner_screws,
        _please,
        _within,
        _participle,
        _ordered_aside,
        _coloured,
        _owned,
        _then_pull,
        _necessary,
        _inverted_place,
        _held_by_which,
        _goes_on,
        _absolute,
        _asked,
        _tool_used,
    ):
        rows = rule(rows, lexicon)
    return rows


def _to_be_done(tokens: list[Token], lexicon: Lexicon) -> list[Token]:
    """As in "Lid to be refitted with its seal", note form: must be refitted."""
    for i in range(1, len(tokens) - 2):
        if tokens[i].low != "to" or tokens[i + 1].low != "be":
            continue
        behind = tokens[i + 2 + (tokens[i + 2].low in lexicon.words["adverbs"]) :]
        named = lexicon.is_noun(tokens[i - 1].low) or tokens[i - 1].low in ("these", "both", "all")
        finite = any(t.low in (*_BE, "must") for t in (*tokens[:i], *behind))
        if named and not finite and behind and lexicon.verb_of(behind[0].low, "past"):
            return [*tokens[:i], replace(tokens[i], low="must"), *tokens[i + 1 :]]
    return tokens


def _given_a_turn(tokens: list[Token], lexicon: Lexicon) -> list[Token]:
    """As in "Give each of them a quarter turn to the left": turn them."""
    for i, token in enumerate(tokens):
        if token.low not in ("give", "gives", "given") or lexicon.verb_of(token.low, "past"):
            continue
        for k in range(i + 2, min(i + 9, len(tokens) - 2)):
            if (
                tokens[k].low in ("a", "one", "another")
                and tokens[k + 1].low in ("quarter", "half", "full", "eighth", "single")
                and tokens[k + 2].low == "turn"
            ):
                return [
                    *tokens[:i],
                    replace(token, low="turn"),
                    *tokens[i + 1 : k],
                    *tokens[k + 3 :],
                ]
    return tokens


def _low(tokens: list[Token], i: int) -> str:
    return tokens[i].low if 0 <= i < len(tokens) else ""


def _kind(tokens: list[Token], i: int) -> str:
    return tokens[i].kind if 0 <= i < len(tokens) else ""


def _is_number(tokens: list[Token], i: int, lexicon: Lexicon) -> bool:
    return 0 <= i < len(tokens) and (
        tokens[i].low in lexicon.numbers
        or (tokens[i].kind == "number" and tokens[i].low.isdigit() and int(tokens[i].low) < 100)
    )


def _matches(tokens: list[Token], i: int, words: tuple[str, ...]) -> bool:
    return all(_low(tokens, i + k) == word for k, word in enumerate(words))


def _counts_beside(tokens: list[Token], lexicon: Lexicon) -> list[Token]:
    """As in "the leads, five altogether,", "its bolts, of which there are four,", "screws, …, making five in all"."""
    rows = list(tokens)
    i = 1
    while i < len(rows):
        found = _count_at(rows, i, lexicon) if rows[i].low in (",", "(", "—", "–") else None
        if found is None:
            i += 1
            continue
        number, end = found
        place = _noun_before(rows, i, lexicon)
        if place < 0:
            i += 1
            continue
        closes = rows[end].low if end < len(rows) else ""
        if closes in (",", ")", "—", "–") and (
            closes != "," or _goes_behind(rows, end + 1, lexicon)
        ):
            end += 1
        told = place + (rows[place].low == "all")
        rows = [*rows[:place], number, *rows[told:i], *rows[end:]]
        i += 1
    return rows


def _at_corners(tokens: list[Token]) -> list[Token]:
    """As in "screws, one at each corner", "there is one in each corner": four of them."""
    rows = list(tokens)
    for i in range(len(rows) - 3):
        if (
            rows[i].low != "one"
            or rows[i + 1].low not in ("at", "in", "on")
            or rows[i + 2].low not in ("each", "every")
            or rows[i + 3].low != "corner"
        ):
            continue
        if _low(rows, i + 4) in ("and", "plus") or (i + 4 < len(rows) and _low(rows, i + 4) == ","):
            return tokens
        rows[i] = replace(rows[i], low="four")
        rows[i + 1] = replace(rows[i + 1], low="of")
        rows[i + 2] = replace(rows[i + 2], low="them")
        rows = [*rows[: i + 3], *rows[i + 4 :]]
        if _low(rows, i - 1) == "is":
            rows[i - 1] = replace(rows[i - 1], low="are")
        return rows
    return tokens


def _corner_screws(tokens: list[Token], lexicon: Lexicon) -> list[Token]:
    """As in "unscrew the four corners of the frame": what is unscrewed there is screws."""
    for i, token in enumerate(tokens):
        if lexicon.verb_of(token.low, "base", "ing") not in _SCREWED:
            continue
        k = i + 1 + (_low(tokens, i + 1) in ("the", "all", "at"))
        if _is_number(tokens, k, lexicon) and _low(tokens, k + 1) in ("corners", "ends", "points"):
            return [
                *tokens[: k + 1],
                replace(tokens[k + 1], low="screws", text="screws"),
                *tokens[k + 2 :],
            ]
    return tokens


def _itself(tokens: list[Token], lexicon: Lexicon) -> list[Token]:
    """As in "The fan itself is held by …": said for stress."""
    return [
        token
        for i, token in enumerate(tokens)
        if not (
            token.low in ("itself", "themselves")
            and i
            and lexicon.is_noun(tokens[i - 1].low)
            and _low(tokens, i + 1) in _BE
        )
    ]


def _please(tokens: list[Token], lexicon: Lexicon) -> list[Token]:
    """As in "Before assembly please wipe the inside", "Grease please coat new": the order begins at "please"."""
    place = next((i for i in range(1, min(6, len(tokens))) if tokens[i].low == "please"), 0)
    if not place or not lexicon.verb_of(_low(tokens, place + 1), "base"):
        return tokens
    if tokens[0].low in ("before", "after", "when"):
        return tokens[place:]
    after = place + 2 + (_low(tokens, place + 2) == "new")
    named = all(token.kind == "word" for token in tokens[:place])
    if not named or not (after >= len(tokens) or tokens[after].kind == "mark"):
        return tokens
    return [*tokens[place:after], *tokens[:place], *tokens[after:]]


def _within(tokens: list[Token], lexicon: Lexicon) -> list[Token]:
    """As in "wipe inside with a dry cloth": what is wiped is the inside."""
    rows = list(tokens)
    for i in range(1, len(rows)):
        ends = _low(rows, i + 1) in ("with", "by", "using", "", ".", ",")
        wiped = lexicon.verb_of(rows[i - 1].low, "base") in ("wipe", "clean", "dust")
        if rows[i].low in ("inside", "outside") and ends and wiped:
            rows[i] = replace(rows[i], low="interior" if rows[i].low == "inside" else "exterior")
    return rows


def _participle(tokens: list[Token], lexicon: Lexicon) -> list[Token]:
    """As in "the cover is hold by two screws", "the plug must be disconnect", translated: is held, be disconnected."""
    rows = list(tokens)
    for i in range(1, len(rows)):
        low = rows[i].low
        lemma = lexicon.verb_of(low, "base")
        before = i - 2 if i > 1 and rows[i - 1].low in lexicon.words["adverbs"] else i - 1
        state = low in _ADJECTIVES
        if low in ("secure", "fit"):  # "is secure", but "is secure with three bolts"
            state = _low(rows, i + 1) not in ("with", "by")
        if not lemma or state or lexicon.verb_of(low, "past"):
            continue
        be = rows[before].low in _BE or (rows[before].low == "be" and not lexicon.is_noun(low))
        told = lemma in lexicon.words["holding"] or lemma in _DONE_TO
        placed = _low(rows, i + 1) in _HELD_HOW
        if be and told and (placed or not (lexicon.is_noun(low) or lexicon.verbs[lemma].noun)):
            rows[i] = replace(rows[i], low=_past_of(lemma, lexicon))
    return rows


def _past_of(lemma: str, lexicon: Lexicon) -> str:
    own = (form for form, rows in lexicon.forms.items() if (lemma, "past") in rows)
    return next(own, f"{lemma.removesuffix('e')}ed")


def _on_screws(tokens: list[Token], lexicon: Lexicon) -> list[Token]:
    """As in "The fan is on four rivets", "the lid sits on three clips": held by them."""
    for i, token in enumerate(tokens):
        on = token.low == "on" and i and tokens[i - 1].low in (*_BE, "sits", "sit")
        if not on or not _is_number(tokens, i + 1, lexicon):
            continue
        for k in range(i + 2, min(i + 6, len(tokens))):
            if tokens[k].kind != "word" or tokens[k].low in lexicon.words["prepositions"]:
                break
            if is_plural(tokens[k].low) and lexicon.category((tokens[k].low,)) in _HOLDERS:
                be = replace(
                    tokens[i - 1], low="is" if tokens[i - 1].low in ("is", "sits") else "are"
                )
                held = replace(token, low="held", text="", end=token.start)
                return [*tokens[: i - 1], be, held, replace(token, low="by"), *tokens[i + 1 :]]
    return tokens


def _goes_behind(rows: list[Token], i: int, lexicon: Lexicon) -> bool:
    """True where the comma at the end of an aside belongs to the aside: a verb of the subject follows."""
    low = _low(rows, i)
    return (
        low in lexicon.words["be"]
        or low in lexicon.words["modals"]
        or low
        in ("which", "that", "have", "has", "need", "hold", "holds", "of", "on", "at", "in", "from")
        or bool(lexicon.verb_of(low, "s"))
        or not low
    )


def _count_at(rows: list[Token], i: int, lexicon: Lexicon) -> tuple[Token, int] | None:
    """Number and end of an aside that opens at ``i``: "four of them", "five altogether", "of which there are four"."""
    j = i + 1
    if _matches(rows, j, ("of", "which", "there", "are")) and _is_number(rows, j + 4, lexicon):
        return rows[j + 4], j + 5
    if _matches(rows, j, ("of", "which", "you", "will", "find")) and _is_number(
        rows, j + 5, lexicon
    ):
        return rows[j + 5], j + 6
    if _low(rows, j) == "there" and _low(rows, j + 1) in _BE and _is_number(rows, j + 2, lexicon):
        if _low(rows, j + 3) in ("of", "") or _kind(rows, j + 3) == "mark":
            return rows[j + 2], j + 3 + 2 * (_low(rows, j + 4) == "them")
    if _matches(rows, j, ("a", "total", "of")) and _is_number(rows, j + 3, lexicon):
        return rows[j + 3], j + 4
    total, after = times_of_places(rows, j, lexicon)
    if total and not any(token.low in ("making", "altogether") for token in rows[j : j + 22]):
        return replace(rows[j], low=str(total), kind="number", text=str(total)), after
    if _low(rows, j) == "all" and _is_number(rows, j + 1, lexicon) and _low(rows, j + 2) == "of":
        j += 1
    if _low(rows, j) in ("total", "altogether") and _is_number(rows, j + 1, lexicon):
        return rows[j + 1], j + 2 + (_low(rows, j + 2) in ("pcs", "pc", "pieces"))
    if _is_number(rows, j, lexicon):
        for words in _SUMS:
            if _matches(rows, j + 1, words):
                return rows[j], j + 1 + len(words)
        if rows[i].low == "(" and _low(rows, j + 1) == ")":
            return None
    if not _is_number(rows, j, lexicon) and _low(rows, j) not in (
        "one",
        "two",
        "three",
        "four",
        "making",
        "six",
        "which",
    ):
        return None
    for k in range(j, min(j + 22, len(rows))):
        if rows[k].low in (".", ";"):
            return None
        if rows[k].low in ("making", "makes", "totalling") and _is_number(rows, k + 1, lexicon):
            end = k + 2
            for words in _SUMS:
                if _matches(rows, end, words):
                    return rows[k + 1], end + len(words)
            return rows[k + 1], end
    return None


def _noun_before(rows: list[Token], i: int, lexicon: Lexicon) -> int:
    """Where the number goes: before the adjectives of the nearest plural noun before ``i``; -1 without one."""
    places = [k for k in range(i - 1, max(-1, i - 9), -1) if _is_counted(rows, k, lexicon)]
    for k in _holders_first(rows, places, lexicon):
        j = k
        while (
            j > 0
            and rows[j - 1].kind in ("word", "size", "ways")
            and rows[j - 1].low not in lexicon.words["stops"]
            and rows[j - 1].low not in lexicon.words["prepositions"]
            and rows[j - 1].low not in lexicon.words["determiners"]
            and rows[j - 1].low not in lexicon.words["conjunctions"]
            and not lexicon.verb_of(rows[j - 1].low, "past", "ing")
            and not _is_number(rows, j - 1, lexicon)  # "Remove four screws, two on each side"
            and not (j == 1 and lexicon.verb_of(rows[0].low, "base"))
        ):
            j -= 1
        return -1 if _is_number(rows, j, lexicon) or _is_number(rows, j - 1, lexicon) else j
    return -1


def _is_counted(rows: list[Token], k: int, lexicon: Lexicon) -> bool:
    """True where the token is a plural noun of what is counted; "button heads" are screws."""
    low = rows[k].low
    if rows[k].kind == "size" or (
        _kind(rows, k - 1) == "size" and low in lexicon.words["head_forms"]
    ):
        return _low(rows, k + 1) in (",", "(", "–", "—", *lexicon.words["head_forms"])
    if rows[k].kind != "word" or not is_plural(low):
        return False
    return lexicon.category((_low(rows, k - 1), low)) in _COUNTED


def _holders_first(rows: list[Token], places: list[int], lexicon: Lexicon) -> list[int]:
    """As in "the screws that hold the side panels, four on each side": it is the screws that are counted."""
    if len(places) < 2:
        return places
    held, holder = places[0], places[1]
    between = rows[holder + 1 : held]
    holds = any(
        lexicon.verb_of(t.low, "base", "s", "ing") in lexicon.words["holding"] for t in between
    )
    screws = lexicon.category((_low(rows, holder - 1), rows[holder].low)) == "fastener"
    return [holder, *places] if holds and screws else places


def _ordered_aside(tokens: list[Token], lexicon: Lexicon) -> list[Token]:
    """As in "Unplug the ribbon (flip up the brown flap first)": an order in brackets is an order."""
    rows = list(tokens)
    for i in range(1, len(rows) - 3):
        if rows[i].low != "(":
            continue
        close = next((k for k in range(i + 1, min(i + 16, len(rows))) if rows[k].low == ")"), -1)
        lemma = lexicon.verb_of(rows[i + 1].low, "base")
        follow = rows[i + 2].low
        opens = follow in lexicon.words["determiners"] or (
            follow in lexicon.words["particles"]
            and _low(rows, i + 3) in lexicon.words["determiners"]
        )
        if close > 0 and lemma in _ASIDES and opens:
            rows[i] = replace(rows[i], low=";", kind="mark")
            rows[close] = replace(rows[close], low=";", kind="mark")
    return rows


def _coloured(tokens: list[Token], lexicon: Lexicon) -> list[Token]:
    """As in "the earth wire, green and yellow, still ties it": the colours between the commas are left out."""
    colours = lexicon.words["colours"]
    for i in range(1, len(tokens) - 3):
        if tokens[i].low != "," or tokens[i + 1].low not in colours:
            continue
        end = i + 1
        while end < len(tokens) and (
            tokens[end].low in colours or tokens[end].low in ("and", "with", "a", "stripe")
        ):
            end += 1
        if _low(tokens, end) == ",":
            return [*tokens[:i], *tokens[end + 1 :]]
    return tokens


def _owned(tokens: list[Token], lexicon: Lexicon) -> list[Token]:
    """As in "the bracket's six screws": the six bracket screws."""
    rows = list(tokens)
    for i in range(len(rows) - 1):
        low = rows[i].low
        if not low.endswith(("'s", "s'")) or rows[i].kind != "word":
            continue
        bare = low[:-2] if low.endswith("'s") else low[:-1]
        if not lexicon.is_noun(bare):
            continue
        owner = replace(rows[i], low=bare, text=rows[i].text[: len(bare)])
        if _is_number(rows, i + 1, lexicon) and i + 2 < len(rows):
            rows[i], rows[i + 1] = rows[i + 1], owner
        else:
            rows[i] = owner
    return rows


def _then_pull(tokens: list[Token], lexicon: Lexicon) -> list[Token]:
    """As in "first lift up, after pull out", translated: "after" for "then"."""
    rows = list(tokens)
    for i in range(1, len(rows) - 1):
        follow = rows[i + 1].low
        if (
            rows[i].low == "after"
            and rows[i - 1].low == ","
            and lexicon.verb_of(follow, "base")
            and not lexicon.is_noun(follow)
        ):
            rows[i] = replace(rows[i], low="then")
    return rows


def _necessary(tokens: list[Token], lexicon: Lexicon) -> list[Token]:
    """As in "It is necessary to undo the nuts", "all that remains is to refit the lid": the order alone."""
    rows = list(tokens)
    i = 0
    while i < len(rows):
        for words in _NECESSARY:
            if not _matches(rows, i, words):
                continue
            j = i + len(words)
            while _low(rows, j) in lexicon.words["adverbs"]:
                j += 1
            if lexicon.verb_of(_low(rows, j), "base"):
                rows = [*rows[:i], *rows[j:]]
                break
        i += 1
    return rows


def _inverted_place(tokens: list[Token], lexicon: Lexicon) -> list[Token]:
    """As in "Beneath it will be found three screws", "In the corners sit four nuts": "there are …"."""
    if tokens[0].low not in (
        "beneath",
        "under",
        "underneath",
        "behind",
        "below",
        "inside",
        "above",
        "in",
        "at",
        "on",
        "here",
    ):
        return tokens
    for k in range(1, min(10, len(tokens) - 1)):
        low = tokens[k].low
        if low in (",", ";", "."):
            return tokens
        if low in _FOUND and (
            _low(tokens, k - 1) in ("be", "is", "are")
            or low not in ("found", "seen", "fitted", "located")
        ):
            opens = (
                _is_number(tokens, k + 1, lexicon)
                or _low(tokens, k + 1) in lexicon.words["determiners"]
            )
            if not opens:
                return tokens
            first = k
            while first > 1 and _low(tokens, first - 1) in (
                "be",
                "is",
                "are",
                "will",
                "can",
                "may",
                "to",
                "also",
            ):
                first -= 1
            there = replace(tokens[0], low="there", kind="word")
            be = replace(tokens[first], low="are", kind="word")
            return [there, be, *tokens[k + 1 :]]
    return tokens


def _held_by_which(tokens: list[Token], lexicon: Lexicon) -> list[Token]:
    """As in "three screws, by which the platter is attached to the hub": "that hold the platter to the hub"."""
    for i in range(1, len(tokens) - 4):
        if tokens[i].low not in ("by", "with", "through") or tokens[i + 1].low not in (
            "which",
            "whose",
        ):
            continue
        if tokens[i].low == "by" and _low(tokens, i + 2) == "means":
            continue
        for k in range(i + 3, min(i + 12, len(tokens) - 1)):
            if (
                tokens[k].low in _BE
                and lexicon.verb_of(_low(tokens, k + 1), "past") in lexicon.words["holding"]
            ):
                start = i - 1 if _low(tokens, i - 1) == "," else i
                that = replace(tokens[i], low="that", kind="word")
                hold = replace(tokens[i + 1], low="hold", kind="word")
                return [*tokens[:start], that, hold, *tokens[i + 2 : k], *tokens[k + 2 :]]
            if tokens[k].kind == "mark":
                break
    return tokens


def _goes_on(tokens: list[Token], lexicon: Lexicon) -> list[Token]:
    """As in ", whereupon the lid can be lifted", ", whose plugs are pulled", ", from which it is separated"."""
    rows = list(tokens)
    told = not lexicon.verb_of(tokens[0].low, "base")
    i = 1
    while i < len(rows) - 2:
        low, follow = rows[i].low, rows[i + 1].low
        if low in _GOES_ON or (low in ("after", "upon", "on") and follow == "which"):
            end = i + 1 + (follow == "which")
            rows = [*rows[:i], replace(rows[i], low=";", kind="mark"), *rows[end:]]
        elif low == "so" and follow == "that" and told and _can_be_done(rows, i + 2, lexicon):
            rows = [*rows[:i], replace(rows[i], low=";", kind="mark"), *rows[i + 2 :]]
        elif low in _PREPOSITIONS and follow == "which" and _low(rows, i - 1) == ",":
            rows = [*rows[: i - 1], replace(rows[i], low=";", kind="mark"), *rows[i + 2 :]]
        elif (
            low == "where"
            and _low(rows, i - 1) == ","
            and _is_number(rows, i + 1, lexicon)
            and follow != "one"
        ):
            rows[i] = replace(rows[i], low=";", kind="mark")
        elif low == "whose" and _low(rows, i - 1) == ",":
            plural = is_plural(_low(rows, i - 2))
            rows[i] = replace(rows[i], low="their" if plural else "its")
        i += 1
    return rows


def _can_be_done(rows: list[Token], i: int, lexicon: Lexicon) -> bool:
    """True where "the lid can be lifted …" follows."""
    for k in range(i + 1, min(i + 7, len(rows) - 2)):
        if rows[k].low in ("can", "may", "could") and _low(rows, k + 1) in (
            "be",
            "now",
            "then",
            "easily",
        ):
            return bool(lexicon.verb_of(_low(rows, k + 2), "past")) or _low(rows, k + 2) == "be"
        if rows[k].kind == "mark":
            return False
    return False


def _absolute(tokens: list[Token], lexicon: Lexicon) -> list[Token]:
    """As in "The bolts having been removed, the plate …", "being free to be raised": said with "are"."""
    rows: list[Token] = []
    i = 0
    while i < len(tokens):
        low = tokens[i].low
        if low == "having" and _low(tokens, i + 1) == "been" and i > 0:
            rows.append(replace(tokens[i], low="are"))
            i += 2
            continue
        if (
            low in ("free", "ready")
            and _low(tokens, i + 1) == "to"
            and _low(tokens, i + 2) == "be"
            and (
                _low(tokens, i - 1) in lexicon.words["be"]
                or _low(tokens, i - 1) in lexicon.words["adverbs"]
            )
        ):
            i += 1
            continue
        rows.append(tokens[i])
        i += 1
    return rows


def _asked(tokens: list[Token], lexicon: Lexicon) -> list[Token]:
    """As in "only when all three have been started are they tightened", "only then is it removed": plain order."""
    rows = list(tokens)
    if rows[0].low != "only" and not any(token.low == "only" for token in rows):
        return tokens
    for i in range(2, len(rows) - 2):
        if (
            rows[i].low in _BE
            and rows[i + 1].low in ("it", "they")
            and lexicon.verb_of(rows[i + 2].low, "past")
        ):
            rows[i], rows[i + 1] = (
                replace(rows[i + 1], start=rows[i].start, end=rows[i].end),
                replace(rows[i], start=rows[i + 1].start, end=rows[i + 1].end),
            )
    return rows


def _tool_used(tokens: list[Token], lexicon: Lexicon) -> list[Token]:
    """As in "A box spanner is used to undo them": "using a box spanner, undo them"."""
    for i in range(1, min(9, len(tokens) - 3)):
        if (
            tokens[i].low in _BE
            and tokens[i + 1].low in ("used", "needed", "employed", "required")
            and tokens[i + 2].low == "to"
            and lexicon.verb_of(tokens[i + 3].low, "base")
            and lexicon.category((tokens[i - 1].low,)) == "tool"
        ):
            using = replace(tokens[0], low="using", kind="word", text="")
            comma = replace(tokens[i], low=",", kind="mark")
            return [using, *tokens[:i], comma, *tokens[i + 3 :]]
    return tokens

"""Field cards and other telegraphic notes: abbreviations written out, verbless lines said as orders.

"Top cvr: 6 scr T8, out" becomes "Remove the 6 T8 screws that hold the top cover." so that the one grammar
reads it. Only a text that is telegraphic throughout is touched, and every line keeps its number.
"""

from __future__ import annotations

import re
from dataclasses import replace

from lastscrew.reading.headings import OUT_OR_IN
from lastscrew.reading.lexicon import Lexicon
from lastscrew.reading.lexicon.groups import table_group
from lastscrew.reading.model import Source

_MARK = re.compile(
    r"^\s*(?:(?:step\s+)?\d{1,2}[.)]?\s+|[-*•]\s+|\([a-z\d]\)\s+|[a-z][.)]\s+)?", re.IGNORECASE
)
_FASTENER = r"(?P<fastener>(?:captive |cap |thumb ?|hex |shoulder |pan |long |short |blue |black |silver )*(?:screws?|bolts?|nuts?|thumbscrews?|standoffs?))"  # noqa: E501
_SIZE = r"(?:M\d(?:[.,]\d)?(?:\s?[x×]\s?\d+(?:[.,]\d)?)?|T[Xx]?\d{1,2}|PH\d?|PZ\d|\d+(?:[.,]\d)? ?mm(?: A/F)?|hex|torx)"
_COUNTED = re.compile(
    rf"^(?:the |all )?(?P<count>\d{{1,2}})\s?(?:[x×]\s*|off\s+|no\.?\s+)?(?P<sizes>(?:{_SIZE}[ ,]*)*)(?:{_FASTENER}|cap)?\s*(?P<more>(?:,?\s*{_SIZE})*)\s*(?P<rest>.*)$",  # noqa: E501
    re.IGNORECASE,
)
_COUNT_BEHIND = re.compile(
    rf"^(?:the )?{_FASTENER},?\s*(?P<more>(?:,?\s*{_SIZE})*)[\s,(]*(?:[x×]\s?(?P<times>\d{{1,2}})|qty\.?:?\s*(?P<quantity>\d{{1,2}})|(?P<bare>\d{{1,2}})\s?(?:off|[x×]))\)?(?P<rest>.*)$",  # noqa: E501
    re.IGNORECASE,
)
_STATE = re.compile(
    r"^(?:the )?(?P<thing>[\w/&+ -]+?(?: \([^)]*\))?)(?:\s*[x×]\s?(?P<count>\d{1,2}))?,?\s+(?P<state>straight out|pull straight out|up and out|down and out|up & out|off|out|in|on|back in|back on|up|down|open|closed|tight|free|clear|unplug|disconnect|remove|pull|cut|peel|unclip|loosen|undo|undo fully|slacken|pop off|plug in|lift off|lift out|refit|discard)(?:\s*[x×]\s?(?P<behind>\d{1,2}))?(?P<rest>\s+(?:of|from|until|at|with|towards?|by|off)\b.*)?$",  # noqa: E501
    re.IGNORECASE,
)
_SIDED = re.compile(
    r"^(?:the )?(?P<thing>[\w/&+ -]+?)\s+(?P<state>off|out of|into|onto)\s+(?:the )?(?P<place>[\w/&+ -]+)$",
    re.IGNORECASE,
)
_OWNED = re.compile(
    r"^(?P<thing>[\w/&+ -]{2,40}?)(?:\s*[x×]\s?(?P<count>\d{1,2}))?\s*(?::|\s[-–—]|,)\s+(?P<rest>.+)$"
)
_SPLIT = re.compile(r"(?:;|,(?![^(]*\))|(?<!\d)\.(?=\s|$)|(?<=\d)\.(?=\s|$))\s*")
_REFIT_LINE = re.compile(
    r"^\W*(?:refit(?:ting)?|reassembly|reassemble|assembly|installation|install|fitting|build up)\b",
    re.IGNORECASE,
)
_OUT_WORDS = frozenset(
    ["out", "off", "remove", "undo", "undo fully", "unscrew", "loosen and remove"]
)
_IN_STATES = {
    "in": "Insert", "on": "Refit", "back in": "Insert", "back on": "Refit", "plug in": "Connect", "refit": "Refit",
    "closed": "Close", "tight": "Tighten",
}  # fmt: skip
_OUT_STATES = {
    "straight out": "Slide out", "pull straight out": "Slide out", "up and out": "Remove", "down and out": "Remove",
    "up & out": "Remove", "off": "Remove", "out": "Remove", "free": "Release", "clear": "Remove", "open": "Open",
    "unplug": "Unplug", "disconnect": "Disconnect", "remove": "Remove", "pull": "Pull out", "cut": "Cut", "peel": "Peel off",  # noqa: E501
    "unclip": "Unclip", "loosen": "Loosen", "undo": "Undo", "undo fully": "Loosen", "slacken": "Slacken",
    "pop off": "Pop off", "lift off": "Lift off", "lift out": "Lift out", "discard": "Discard",
}  # fmt: skip
_OFF_FIRST = re.compile(r"(?P<things>[\w ,/&-]+?)\s+(?:off|out|removed)\s+first\W*$", re.IGNORECASE)
_LINK_VERBS = {
    "Pull out": "Disconnect",
    "Remove": "Disconnect",
    "Refit": "Connect",
    "Insert": "Connect",
}
_LINKS = ("cable", "connector", "antenna")
_TELEGRAPHIC_SHARE = 0.3


def written_out(source: Source, lexicon: Lexicon) -> Source:
    """The source with its telegraphic lines said as orders; unchanged where it is not telegraphic."""
    if source.spoken or not _is_telegraphic(source, lexicon):
        return source
    refit, topic = False, ""
    rows = []
    for line in source.lines:
        if line.kind in ("furniture", "blank", "table") or not line.text.strip():
            rows.append(line)
            continue
        text = _long_words(line.text)
        card = OUT_OR_IN.match(text.strip())
        if card and not _MARK.match(text).group().strip():  # type: ignore[union-attr]
            refit = card["half"].lower() in ("in", "on")
            topic = _topic(card["part"], lexicon)
            rows.append(line)
            continue
        if _is_title(text) and not _OFF_FIRST.match(text) and not _MARK.match(text).group().strip():  # type: ignore[union-attr]
            refit = bool(_REFIT_LINE.match(text))
            topic = "" if refit else _topic(text, lexicon)
            rows.append(replace(line, text=re.sub(r"[-–—:, ]+remove$", " replacement", text)))
            continue
        told = _line(
            text,
            lexicon,
            refit=refit or bool(_REFIT_LINE.match(_bare(text)) and ":" in text),
            topic=topic,
        )
        rows.append(replace(line, text=told) if told != line.text else line)
    return replace(source, lines=tuple(rows))


def _is_telegraphic(source: Source, lexicon: Lexicon) -> bool:
    """Where three in ten lines are abbreviated or end in a bare "out", "off", "x4" without an article."""
    rows = [
        line.text
        for line in source.lines
        if len(line.text.split()) >= 2 and line.kind not in ("furniture", "heading")
    ]
    if len(rows) < 4:
        return False
    terse = sum(_is_terse(row, lexicon) for row in rows)
    return terse >= _TELEGRAPHIC_SHARE * len(rows) and terse >= 4


def _is_terse(row: str, lexicon: Lexicon) -> bool:
    bare = _bare(row)
    if re.search(r"\b(?:the|a|an|you|your|we|is|are)\b", bare, re.IGNORECASE):
        return False
    if _long_words(bare) != bare:
        return True
    return any(
        _STATE.match(piece) or _COUNTED_FASTENER.match(piece) for piece in _pieces(bare)
    ) and not lexicon.verb_of(bare.split()[0].lower().strip(",.:"), "base")


_COUNTED_FASTENER = re.compile(
    rf"^\d{{1,2}}\s?[x×]?\s*(?:{_SIZE}[ ,]*)*(?:screws?|bolts?|nuts?)?\b", re.IGNORECASE
)


def _bare(text: str) -> str:
    return text[_MARK.match(text).end() :] if _MARK.match(text) else text  # type: ignore[union-attr]


def _long_words(text: str) -> str:
    """Abbreviations of the lexicon written out, their full stops dropped."""
    for short, full in _shorthands():
        text = short.sub(lambda match, full=full: _cased(match.group(), full), text)  # type: ignore[misc]
    return text


def _cased(short: str, full: str) -> str:
    return full.capitalize() if short[:1].isupper() and not full.isupper() else full


_CACHE: list[tuple[re.Pattern[str], str]] = []


def _shorthands() -> list[tuple[re.Pattern[str], str]]:
    if not _CACHE:
        for short, full in sorted(
            table_group("shorthands").items(), key=lambda row: (-len(row[0]), row[0])
        ):
            stop = r"\." if short.endswith(".") else r"\.?"
            end = "" if short.endswith(".") else r"\b"
            _CACHE.append(
                (
                    re.compile(
                        rf"(?<![\w/]){re.escape(short.rstrip('.'))}{end}{stop}(?![\w/])",
                        re.IGNORECASE,
                    ),
                    full,
                )
            )
    return _CACHE


def _is_title(text: str) -> bool:
    bare = text.strip()
    return (
        len(bare.split()) <= 6
        and bare[-1:] not in ".;,"
        and not re.search(r"\b(?:out|off|in|on|up|down)$|:\s+\S|\d\s?[x×]|[x×]\s?\d", bare)
    )


def _topic(title: str, lexicon: Lexicon) -> str:
    """The part that a title names, whose screws the lines below it mean."""
    words = re.sub(r"\([^)]*\)|[-–—:, ]+remove$", "", title).strip()
    return (
        words.lower()
        if lexicon.category(tuple(words.lower().split()))
        in ("cover", "part", "board", "card", "drawer")
        else ""
    )


def _merged(pieces: list[str]) -> list[str]:
    """As in "FC x2, disconnect": the count and what is done to it belong together."""
    rows: list[str] = []
    for piece in pieces:
        if (
            rows
            and re.search(r"[x×]\s?\d{1,2}$", rows[-1])
            and piece.lower() in (*_OUT_STATES, *_IN_STATES)
            and not re.search(_FASTENER, rows[-1], re.IGNORECASE)
        ):
            rows[-1] += f" {piece}"
        else:
            rows.append(piece)
    return rows


def _pieces(text: str) -> list[str]:
    return [piece.strip() for piece in _SPLIT.split(text) if piece and piece.strip()]


def _line(text: str, lexicon: Lexicon, *, refit: bool, topic: str = "") -> str:
    """A line as orders; as it stands where nothing in it is telegraphic."""
    match = _MARK.match(text)
    mark = match.group() if match else ""
    bare = text[len(mark) :].strip()
    first = re.match(r"[A-Za-z/]+", bare)
    if re.match(
        r"(?:note|warning|caution|danger|notice|tools?|req\w*|access req\w*|before|after|do not|never|remove first|prereq\w*)\b",  # noqa: E501
        bare,
        re.IGNORECASE,
    ):
        return text
    if first is None and not re.match(r"\d", bare):
        return text
    bare = re.sub(r"^(?:access|fixings?)\s*:\s*", "", bare, flags=re.IGNORECASE)
    if re.match(
        r"(?:refit\w*|reassembly|install\w*|assembly)\s*[:=-]\s*(?:in )?revers", bare, re.IGNORECASE
    ):
        return f"{mark}Refitting is the reverse of removal."
    first_off = re.match(
        r"first\s*:\s*(?P<things>.+?)\s+(?:off|out|removed)\W*$", bare, re.IGNORECASE
    )
    first_off = first_off or _OFF_FIRST.match(bare)
    if first_off:
        return f"{mark}Remove first: {first_off['things']}"
    if any(phrase in bare.lower() for phrase in lexicon.phrases["power_states"]) and not re.search(
        r"\d", bare
    ):
        return text
    subject, rest = "", bare
    owned = _OWNED.match(bare)
    orders = _orders(bare, lexicon)
    stated = bool(
        owned and bare[owned.end("thing") :].lstrip()[:1] == "," and _STATE.match(owned["thing"])
    )
    if (
        owned
        and not orders
        and not stated
        and not _REFIT_LINE.match(owned["thing"])
        and not re.match(rf"(?:{_FASTENER})$", owned["thing"], re.IGNORECASE)
    ):
        subject, rest = owned["thing"], owned["rest"]
        if owned["count"]:
            subject = f"{owned['count']} {subject}"
    elif owned and _REFIT_LINE.match(owned["thing"]):
        rest = owned["rest"]
    said: list[str] = []
    owner = subject or topic
    whole = _COUNT_BEHIND.match(rest) or re.search(r"\bcaptive\b|\bloosen\b", rest, re.IGNORECASE)
    pieces = (
        [rest.rstrip(". ")]
        if _COUNT_BEHIND.match(rest) and not re.search(r"[.;]\s", rest)
        else _merged(_pieces(rest))
    )
    for piece in pieces:
        sentence, now = _piece(piece, subject, said, lexicon, refit=refit, topic=owner)
        subject = subject or now
        if (
            whole
            and sentence.startswith("Remove the ")
            and re.search(r"\bcaptive\b|\bloosen\b", rest, re.IGNORECASE)
            and re.search(_FASTENER, sentence)
        ):
            sentence = "Loosen" + sentence[6:]
        if sentence:
            said.append(sentence)
    return mark + " ".join(said) if said else text


def _orders(words: str, lexicon: Lexicon) -> bool:
    """True where the first word is a verb and not the noun that it may also be ("drive out", "plug on")."""
    row = words.lower().split()
    lemma = lexicon.verb_of(row[0].strip(",.:"), "base") if row else ""
    if not lemma:
        return False
    noun = (
        lexicon.verbs[lemma].noun
        or lexicon.is_noun(row[0])
        or row[0] in ("power", "belt", "flexes")
    )
    return not noun or (
        len(row) > 1 and row[1] in ("the", "all", "both", "out", "off") and len(row) > 2
    )


def _the(thing: str) -> str:
    thing = re.sub(r"^(?:the|all)\s+", "", thing.strip(), flags=re.IGNORECASE)
    thing = thing[:1].lower() + thing[1:] if not thing[:2].isupper() else thing
    return f"the {thing.replace('&', 'and').replace(' + ', ' and ')}"


def _piece(
    piece: str, subject: str, said: list[str], lexicon: Lexicon, *, refit: bool, topic: str
) -> tuple[str, str]:
    """One piece of a line as an order, and what the next piece is about."""
    low = piece.lower().strip(" .()")
    closing = refit or any(row.startswith(("Insert", "Refit", "Tighten")) for row in said[-1:])
    if not low or re.fullmatch(
        r"(?:\d+(?:[.,]\d+)?\s?(?:nm|ncm|n·m)|all round|loctite|tension|heavy!?|captive)", low
    ):
        return "", subject
    if low in _OUT_WORDS and said:
        return "", subject
    if re.fullmatch(rf"(?:{_SIZE}[ ,]*)+", piece, re.IGNORECASE) or (
        low in ("loosen", "remove") and said and said[-1].startswith(("Loosen", "Remove the"))
    ):
        return "", subject
    screws = _screws(piece, subject or topic, closing=closing)
    if screws:
        return screws, subject
    new = re.match(r"^(?:new|replacement) (?P<thing>[\w/&+ -]+) (?:in|on)$", piece, re.IGNORECASE)
    if new:
        return f"Insert the new {new['thing']}.", new["thing"]
    state = _STATE.match(piece)
    if state and not _orders(low, lexicon):
        return _state(state, lexicon), state["thing"]
    sided = _SIDED.match(piece)
    if sided and not _orders(low, lexicon):
        verb = "Remove" if sided["state"].lower() in ("off", "out of") else "Insert"
        link = " from " if verb == "Remove" else " into "
        return f"{verb} {_the(sided['thing'])}{link}{_the(sided['place'])}.", sided["thing"]
    bare = re.sub(r"\s*\([^)]*\)\s*$", "", low)
    verb = _OUT_STATES.get(bare) or _IN_STATES.get(bare, "")
    if subject and verb:
        if _category(subject, lexicon) in _LINKS:
            verb = _LINK_VERBS.get(verb, verb)
        return f"{verb} {_the(subject)}.", subject
    if _orders(low, lexicon):
        return _with_object(piece, subject, lexicon), subject
    return f"{piece}.", subject or (
        piece if lexicon.category(tuple(low.split())) != "unknown" else ""
    )


def _with_object(piece: str, subject: str, lexicon: Lexicon) -> str:
    """As in "pull off", "disc. at terminal box" behind "Fan lead:": the lead is meant."""
    words = piece.split()
    lemma = lexicon.verb_of(words[0].lower(), "base")
    end = 1
    while end < len(words) and words[end].lower() in (
        "off",
        "out",
        "up",
        "down",
        "in",
        "on",
        "straight",
        "fully",
    ):
        end += 1
    following = words[end].lower() if end < len(words) else ""
    if (subject and not following) or (
        subject and (following in lexicon.words["prepositions"] or following.startswith("("))
    ):
        return (
            f"{' '.join([words[0].capitalize(), *words[1:end]])} {_the(subject)} {' '.join(words[end:])}".strip()
            + "."
        )
    if (
        following
        and lexicon.is_noun(words[-1].lower().strip("."))
        and following not in lexicon.words["determiners"] | lexicon.words["quantifiers"]
        and not following[:1].isdigit()
    ):
        words.insert(end, "the")
    piece = " ".join(words)
    return f"{piece[:1].upper()}{piece[1:]}." if lemma else f"{piece}."


def _category(thing: str, lexicon: Lexicon) -> str:
    return lexicon.category(tuple(re.sub(r"\([^)]*\)", "", thing).lower().split()))


def _screws(piece: str, subject: str, *, closing: bool) -> str:
    """As in "6 scr T8", "4x M4x30 out", "screws, M2x4, qty 6": fasteners without a verb."""
    match = _COUNTED.match(piece)
    found = (
        match
        if match and (match["fastener"] or re.search(r"\bM\d", match["sizes"] or ""))
        else None
    )
    behind = None if found else _COUNT_BEHIND.match(piece)
    if found is None and behind is None:
        return ""
    hit = found or behind
    assert hit is not None
    count = (
        hit["count"] if found else hit.group("times") or hit.group("quantity") or hit.group("bare")
    )
    sizes = f"{hit['sizes'] if found else ''} {hit['more'] or ''}".replace(",", " ")
    rest = (hit["rest"] or "").lower().strip(" ,.")
    if re.match(r"(?:that|which|from|holding|securing)\b", rest):
        return ""
    fastener = hit["fastener"] or "screws"
    loosen = (
        "loosen" in rest
        or "captive" in f"{fastener} {rest}".lower()
        or ("undo" in rest and "thumb" in fastener.lower())
    )
    inward = re.search(r"\b(?:in|tight|tighten|on|refit)\b", rest) or (
        closing and not re.search(r"\b(?:out|off|remove)\b", rest)
    )
    verb = (
        "Tighten"
        if inward
        else "Loosen"
        if loosen or (re.match(r"thumb", fastener, re.IGNORECASE) and "out" not in rest)
        else "Remove"
    )
    owner = f" that hold {_the(subject)}" if subject and not re.match(r"\d", subject) else ""
    plain = re.sub(r"\s+", " ", f"the {count} {sizes} {fastener}").strip()
    return f"{verb} {plain}{owner}."


def _state(match: re.Match[str], lexicon: Lexicon) -> str:
    """As in "Battery out", "flexes in", "ZIF latches up x3": the state that the work brings about."""
    thing, state = match["thing"], match["state"].lower()
    category = _category(thing, lexicon)
    if state in ("up", "down"):
        if category not in ("lock", "clip"):
            return f"{match.group().strip()}."
        verb = "Release" if state == "up" else "Close"
    else:
        verb = _OUT_STATES.get(state) or _IN_STATES[state]
    if category in _LINKS and verb in ("Remove", "Pull out"):
        verb = "Disconnect"
    if category in _LINKS and verb in ("Insert", "Refit"):
        verb = "Connect"
    if category == "fastener" and verb in ("Insert", "Refit"):
        verb = "Tighten"
    count = match["count"] or match["behind"]
    named = f"the {count} {_the(thing)[4:]}" if count else _the(thing)
    rest = re.sub(r"^\s+of\b", " from", match["rest"] or "")
    return f"{verb} {named}{rest}."

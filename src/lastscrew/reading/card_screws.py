"""Screws as a card names them: "14x T10 round edge", "2 x M3 holding encoder to plate - out", "screws, M2x4, qty 6"."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from lastscrew.reading.card_words import IS_SIZE, METRIC, NUMBERS, SIZE, article
from lastscrew.reading.lexicon.groups import word_group

_ADJECTIVES = word_group("card_adjectives")
_HEADS = word_group("card_heads")
_NO_OWNER = word_group("card_ownerless")
_HOLDING_WORDS = ("holding", "securing", "retaining", "fixing", "mounting")
_TORQUE = re.compile(
    r"[ ,(]*\b\d+(?:[.,]\d+)?\s?(?:c?N ?·?c?m|Nm|kgf?·?cm|in-?lbs?)\b\)?", re.IGNORECASE
)
_HOLDING = re.compile(
    r"^(?:holding|hold|holds|securing|secure|retaining|fixing|for|of|that hold)\s+(?P<held>.+?)(?:\s+(?:to|onto|into|on)\s+(?P<host>.+?))?(?:\s+(?P<way>out|off|in|on|tight))?$",  # noqa: E501
    re.IGNORECASE,
)
_TO_HOST = re.compile(
    r"^(?:(?P<held>[\w/-]+(?: [\w/-]+){0,2}?)\s+)?(?:to|into|onto)\s+(?P<host>[\w/-]+(?: [\w/-]+){0,2}?)(?:\s+(?P<way>out|off|in|tight))?$",  # noqa: E501
    re.IGNORECASE,
)
_PLACED = re.compile(
    r"^(?:at|in|on|under|underneath|behind|round|around|along|thru|through|from|near|by|inside|each|both|per|hidden|top|bottom|rear|front|side|sides|corner|corners|left|right|center|centre|underside|below|with|w/|more)\b",
    re.IGNORECASE,
)
_WAY_OUT = re.compile(r"\b(?:out|off|remove\w*|undone|undo)\b", re.IGNORECASE)
_WAY_IN = re.compile(r"\b(?:in|tight\w*|on|refit\w*|back|home|up tight)\b", re.IGNORECASE)
_ONLY_WAY = re.compile(
    r"^(?:(?:all|fully|right|and)\s+)*(?:out|off|in|on|back|back in|tight|tightened|loose|loosened?|slacken(?:ed)?|undone|undo|removed?|refit\w*|finger.tight|home)(?: fully| only)?$",  # noqa: E501
    re.IGNORECASE,
)


@dataclass(frozen=True)
class Screws:
    """Screws of a line: how many, which, what they hold to what, and what becomes of them."""

    count: str
    sizes: str
    noun: str
    owner: str
    host: str = ""
    verb: str = ""
    crosswise: bool = False
    more: bool = False

    def order(self) -> str:
        """The sentence that says it."""
        single = self.count == "1" or (not self.count and not self.noun.endswith("s"))
        noun = self.noun
        if single and noun.endswith("s"):
            noun = noun[:-1]
        elif not single and not noun.endswith("s"):
            noun += "s"
        held = f" that {'holds' if single else 'hold'} {article(self.owner)}" if self.owner else ""
        host = f" to {article(self.host)}" if self.host and held else ""
        if self.host and not held:
            host = f" from {article(self.host)}"
        count = "" if self.count == "1" else self.count
        sizes = re.sub(r"\b\d{1,2}-\d{2}\b\S*", "", self.sizes)
        plain = re.sub(r"\s+", " ", f"the {count} {sizes} {noun}").strip()
        verb = f"In crosswise order {self.verb.lower()}" if self.crosswise else self.verb
        return f"{verb} {plain}{held}{host}."


def parse_screws(piece: str, *, refit: bool) -> Screws | None:
    """The screws that a piece of a line names; None where it names none.

    ``verb`` is empty where the piece does not say what becomes of them.
    """
    text, count, sizes = _without_brackets(piece)
    aside = bool(count or sizes)
    text = _TORQUE.sub(" ", text)
    text = re.sub(r"(\d+)\s*\+\s*(\d+)(?=\s)", lambda m: str(int(m[1]) + int(m[2])), text)
    text = re.sub(
        r"(?P<size>" + SIZE + r")", lambda m: m.group().replace(" ", "_"), text, flags=re.IGNORECASE
    )
    words = [
        word for word in re.sub(r"(?<=\d)\s+(?=[x×]\s?[MT])", "", text).split() if word.strip(",")
    ]
    owner: list[str] = []
    noun: list[str] = []
    index, had_noun, more = 0, False, False
    while index < len(words):
        bare = words[index].strip(",.").replace("_", " ")
        low = bare.lower()
        number = _number(words, index, named=had_noun)
        if number:
            value, index = number
            if count and value != count and not had_noun:
                return None
            count = count or value
            continue
        if IS_SIZE.match(bare):
            sizes = f"{sizes} {bare}".strip()
        elif low == "more" and count:
            more = True
        elif not had_noun and low in _HEADS:
            noun.append(low)
            had_noun = True
        elif (
            not had_noun
            and low in _ADJECTIVES
            and (low not in _HOLDING_WORDS or _head_ahead(words, index))
            and (count or noun or _head_ahead(words, index))
        ):
            noun.append(low)
        elif (
            not had_noun
            and not count
            and not sizes
            and low not in _NO_OWNER
            and _head_ahead(words, index)
        ):
            owner.append(bare)
        else:
            break
        index += 1
    rest = " ".join(words[index:]).replace("_", " ").strip(" ,.-")
    only_size = bool(METRIC.match(sizes)) and refit and not count and not rest
    if not had_noun and not ((count and sizes) or only_size or (more and not sizes)):
        return None
    if not had_noun and aside and not re.search(r"\d", text):
        return None
    named = " ".join(noun) if had_noun else " ".join([*noun, "screw" if only_size else "screws"])
    screws = Screws(count, sizes, named, " ".join(owner), more=more)
    return _with_rest(screws, rest, refit=refit)


def _without_brackets(piece: str) -> tuple[str, str, str]:
    """The piece without its brackets, and the count and sizes that stood in them."""
    count, sizes = "", ""
    for inside in re.findall(r"\(([^)]*)\)", piece):
        found = re.fullmatch(r"\s*[x×]?\s?(\d{1,2})\s?(?:[x×]|off|no\.?)?\s*", inside)
        count = found[1] if found else count
        one = re.match(r"\s*(\d{1,2})\s?[x×]\s", inside)
        count = one[1] if one and not count else count
        sizes = f"{sizes} {' '.join(re.findall(SIZE, inside))}".strip()
    return re.sub(r"\s*\([^)]*\)", " ", piece).strip(), count, sizes


def _number(words: list[str], index: int, *, named: bool) -> tuple[str, int] | None:
    """A count at ``index`` and the place behind it: "4x", "4 x", "x4", "4 off", "qty 6", "1 to 6", "four"."""
    low = words[index].strip(",.").lower()
    follow = words[index + 1].strip(",.").lower() if index + 1 < len(words) else ""
    if low in NUMBERS and not named:
        return NUMBERS[low], index + 1
    if low == "both":
        return "2", index + 1
    glued = re.fullmatch(r"(\d{1,2})[x×](?=$|m\d|t\d)", low) or re.fullmatch(r"[x×](\d{1,2})", low)
    if glued:
        return glued[1], index + 1
    joined = re.fullmatch(r"(\d{1,2})[x×](m\d.*|t\d+)", low)
    if joined:
        words[index] = words[index][words[index].lower().index("x") + 1 :]
        return joined[1], index
    if low in ("qty", "qty:", "x", "×") and follow.isdigit():
        return follow, index + 2
    ranged = re.fullmatch(r"1-(\d{1,2})", low)
    if ranged and named:
        return ranged[1], index + 1
    if low == "1" and follow == "to" and named and index + 2 < len(words):
        last = words[index + 2].strip(",.")
        return (last, index + 3) if last.isdigit() else None
    if low.isdigit() and len(low) <= 2:
        if follow in ("x", "×", "off", "no", "pcs", "pc", "nos"):
            return low, index + 2
        if not named:
            return low, index + 1
        return (low, index + 1) if not follow else None
    return None


def _head_ahead(words: list[str], index: int) -> bool:
    """True where a fastener, or a count with a size, follows within three words."""
    for k in range(index + 1, min(index + 4, len(words))):
        low = words[k].strip(",.").lower().replace("_", " ")
        if low in _HEADS or METRIC.match(low):
            return True
        if re.fullmatch(r"\d{1,2}[x×]?|[x×]\d{1,2}", low):
            rest = [word.strip(",.").lower().replace("_", " ") for word in words[k + 1 : k + 4]]
            return any(word in _HEADS or METRIC.match(word) for word in rest)
        if low in _NO_OWNER:
            return False
    return False


def _with_rest(screws: Screws, rest: str, *, refit: bool) -> Screws | None:
    """What stands behind the screws: what they hold, where they sit, what becomes of them."""
    crosswise = bool(re.search(r"cross|diagonal", rest, re.IGNORECASE))
    rest = re.sub(
        r"\s*\b(?:crosswise|criss-?cross|crossw\.?|diagonal\w*|evenly|loctite|each|ea\.?)\b",
        "",
        rest,
        flags=re.IGNORECASE,
    ).strip(" ,-")
    way = rest.lower()
    noun = screws.noun.lower()
    loose = (
        "loosen" in way
        or "slacken" in way
        or ("captive" in f"{noun} {way}" and not refit)
        or ("undo" in way and "thumb" in noun)
        or (bool(re.search(r"\bloose\b", way)) and not refit)
    )
    held = _HOLDING.match(rest)
    hosted = _TO_HOST.match(rest) if held is None else None
    if held is not None:
        screws = replace(screws, owner=held["held"], host=held["host"] or "")
        way = held["way"] or ""
    elif hosted is not None:
        screws = replace(screws, owner=hosted["held"] or screws.owner, host=hosted["host"])
        way = hosted["way"] or ""
    elif rest and not _ONLY_WAY.match(rest):
        if not _PLACED.match(rest) and len(rest.split()) > 4:
            return None
        way = re.sub(r"^(?:in|on) .*", "", way)
        way = way if re.search(r"\b(?:out|off|in|on|tight|loose\w*|undo\w*)$", way) else ""
    out = bool(_WAY_OUT.search(way)) and not ("undo" in way and "thumb" in noun)
    inward = bool(_WAY_IN.search(way)) and not out and not loose
    if "turn" in noun:
        screws = replace(screws, noun="quarter-turn fasteners")
        verb = "Close" if inward or (refit and not out) else "Release"
    else:
        closing = inward or (refit and not out and not loose)
        thumb = noun.startswith(("thumb", "captive"))
        verb = "Tighten" if closing else "Loosen" if loose or (thumb and not out) else "Remove"
    return replace(screws, verb=verb, crosswise=crosswise)

"""One line of a field card said as orders: "Top cover: 6 screws T8, out", "fan lead, unplug".

A line names its subject ("Fan:", "Battery connector,", "P1, P2 -") and pieces between commas: screws, what becomes of a
thing ("lid off"), an order ("unplug", "slide out"), or a detail of the piece before it (a size, a torque, "crosswise").
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from lastscrew.reading.lexicon import Lexicon
from lastscrew.reading.lexicon.groups import phrase_group, table_group, word_group

_NOUN = (
    r"(?:(?:captive|cap|thumb|hex|shoulder|pan|csk|countersunk|long|short|blue|black|silver|socket|allen|torx|self-tapping|grub|set|machine|jam|lock|wing|flange|quarter-turn|[\w-]+ head)[ -]?)*"  # noqa: E501
    r"(?:screws?|bolts?|nuts?|thumbscrews?|standoffs?|studs?|self-tappers?|1/4-turns?|quarter-turns?|quarter-turn fasteners?|allens?)"  # noqa: E501
)
_SIZE = (
    r"(?:M\d{1,2}(?:[.,]\d)?(?:\s?[x×]\s?\d+(?:[.,]\d)?)?|T[Xx]?\d{1,2}\b|PH\d?\b|PZ\d\b|\d{1,2}-\d{2}\b(?:\s?[x×]\s?[\d/]+)?"
    r"|\d+(?:[.,]\d)? ?mm(?: A/F)?|hex\b|torx\b|csk\b|pan\b|Allen\b|countersunk\b)"
)
_SIZES = rf"(?:{_SIZE}[ ,]*)*"
_COUNTED = re.compile(
    rf"^(?:the |all )?(?P<count>\d{{1,2}})\s?(?:[x×]\s*|off\s+|no\.?\s+|pcs\.?\s+)?(?P<sizes>{_SIZES})(?P<fastener>{_NOUN}|cap\b)?[ ,]*(?P<more>{_SIZES})(?P<rest>.*)$",  # noqa: E501
    re.IGNORECASE,
)
_COUNT_BEHIND = re.compile(
    rf"^(?:the )?(?P<owner>(?:[\w-]+ ){{0,2}}?)(?P<fastener>{_NOUN}),?\s*(?P<more>{_SIZES})[\s,(]*(?:[x×]\s?(?P<times>\d{{1,2}})\b|qty\.?:?\s*(?P<quantity>\d{{1,2}})\b|(?P<bare>\d{{1,2}})\s?(?:off|[x×])(?!\w)|1 to (?P<last>\d{{1,2}})\b|1-(?P<last2>\d{{1,2}})\b)\)?[ ,]*(?P<more2>{_SIZES})(?P<rest>.*)$",  # noqa: E501
    re.IGNORECASE,
)
_BARE_SCREWS = re.compile(
    rf"^(?:the |all )?(?P<owner>(?:[\w-]+ ){{0,2}}?)(?P<fastener>{_NOUN})(?:\s+(?P<rest>.*))?$",
    re.IGNORECASE,
)
_STATE = re.compile(
    r"^(?:the )?(?P<thing>[\w/&+' -]+?(?: \([^)]*\))?)(?:\s*[x×]\s?(?P<count>\d{1,2}))?,?\s+"
    r"(?P<state>pull straight out|straight out|up and (?:out|off)|down and out|up & (?:out|off)|back (?:in|on)|off|out|in|on|free|clear|open|up|down|closed|shut|tight|unplugged|removed|undone|loosened|disconnected|refitted|fitted|connected)"  # noqa: E501
    r"(?:\s*[x×]\s?(?P<behind>\d{1,2}))?(?P<rest>\s+(?:of|from|into|until|on|to|onto|in)\b.*|\s*\([^)]*\))?$",
    re.IGNORECASE,
)  # fmt: skip
_SIDED = re.compile(
    r"^(?:the )?(?P<thing>[\w/&+' -]+?)\s+(?P<state>off|out of|into|onto)\s+(?:the )?(?P<place>[\w/&+' -]+)$",
    re.IGNORECASE,
)
_SUBJECT = re.compile(
    r"^(?P<thing>[A-Za-z][\w/&+,.' -]{0,44}?)(?:\s*[x×]\s?(?P<count>\d{1,2}))?(?P<note>\s*\([^)]*\))?\s*(?::|\s[-–—])\s+(?P<rest>.+)$"  # noqa: E501
)
_SPLIT = re.compile(r"(?:;|,(?![^(]*\))|(?<!\d)\.(?=\s|$)|(?<=\d)\.(?=\s|$))\s*")
_REFIT = re.compile(
    r"^\W*(?:refit(?:ting)?|reassembly|reassemble|assembly|installation|install|fit(?:ting)?|build(?: up)?|close)\b", re.IGNORECASE  # noqa: E501
)  # fmt: skip
_DETAIL = re.compile(
    rf"^(?:to\s+)?(?:\d+(?:[.,]\d+)?\s?(?:n ?m|n ?cm|n·m|kgf?·?cm|in-?lbs?|kg|min\w*|sec\w*|s)|{_SIZES}|all round|loctite|tension\w*|heavy!?|captive|corners?|sides?|each side|click\w*|thin\w*|even\w*|washers?|nil|none|in order|(?:undo |loosen |tighten )?in sequence|leave \d .*|till last|crosswise|criss-?cross|diagonal\w*|"  # noqa: E501
    r"arrow \w+|label \w+|careful\w*|gentl\w+|hand.?tight|finger.?tight|note \w+|keep \w+|two persons|2 persons|edge only|support \w+|\w+ edge first|from (?:front|rear|left|right)|front|rear|left|right)$",  # noqa: E501
    re.IGNORECASE,
)
_DESIGNATOR = re.compile(r"^(?:[A-Z]{1,4}-?\d{1,3})(?:(?:,| and| &|/)\s*[A-Z]{1,4}-?\d{1,3})*$")
_LINKS = ("cable", "connector", "antenna")
_IN = table_group("card_in")
_OUT = table_group("card_out")
_ORDERS = phrase_group("card_orders")
_POWER = word_group("card_power")


@dataclass
class CardLine:
    """What is known while one line is read."""

    lexicon: Lexicon
    refit: bool = False
    topic: str = ""
    subject: str = ""
    count: str = ""
    said: list[str] = field(default_factory=list)

    def read(self, bare: str) -> str:
        """The line as sentences; ``""`` where nothing in it is telegraphic."""
        rest = self._subject(bare)
        for piece in self._pieces(rest):
            self._piece(piece)
        return " ".join(self.said)

    def _subject(self, bare: str) -> str:
        found = _SUBJECT.match(bare)
        if found is None:
            return bare
        thing = found["thing"].strip()
        if _REFIT.match(thing) and len(thing.split()) <= 2:
            self.refit = True
            return found["rest"]
        if self._is_order(thing) or _STATE.match(thing):
            return bare
        if re.match(rf"^{_NOUN}$", thing, re.IGNORECASE):
            return f"{thing}, {found['rest']}"
        self.subject, self.count = thing, found["count"] or ""
        inside = (found["note"] or "").strip(" ()")
        screws = self._screws(inside) if inside else ""
        if screws:
            self.said.append(screws)
        return found["rest"]

    def _pieces(self, rest: str) -> list[str]:
        """Pieces between commas; a size, a count or a torque stays with the screws before it."""
        rows: list[str] = []
        for raw in _SPLIT.split(rest):
            piece = (raw or "").strip()
            if not piece:
                continue
            if rows and self._completes(rows[-1], piece):
                rows[-1] = f"{rows[-1]}, {piece}"
            else:
                rows.append(piece)
        return rows

    def _completes(self, before: str, piece: str) -> bool:
        """As in "screws, M2x4, qty 6", "strap screw, 1 x M3", "FC x2, disconnect"."""
        named = re.search(rf"{_NOUN}$", before, re.IGNORECASE)
        if re.fullmatch(
            rf"(?:\d{{1,2}}\s?[x×]?\s*|qty\.?:?\s*\d{{1,2}}|[x×]\s?\d{{1,2}})?{_SIZES}",
            piece,
            re.IGNORECASE,
        ):
            screws = named or re.search(rf"{_NOUN},? {_SIZES}$", before, re.IGNORECASE)
            return bool(screws)
        return False

    def _piece(self, piece: str) -> None:
        low = piece.lower().strip(" .!")
        if not low:
            return
        if low in ("crosswise", "diagonally", "in order") and self.said:
            self.said[-1] = (
                f"In {'numerical' if low == 'in order' else 'crosswise'} order {self.said[-1][:1].lower()}{self.said[-1][1:]}"  # noqa: E501
            )
            return
        if _DETAIL.match(low) or re.match(r"(?:tighten|loosen|slacken) \d to \d", low):
            return
        screws = self._screws(piece)
        if screws:
            self._say(screws)
            return
        if (
            low
            in (
                "out",
                "off",
                "remove",
                "undo",
                "undo fully",
                "unscrew",
                "loosen",
                "loosen and remove",
                "refit",
                "tighten",
                "tight",
                "in",
                "on",
                "fit",
                "back off",
            )
            and self.said
            and _OF_SCREWS.search(self.said[-1])
        ):
            self._redirect(low)
            return
        self._other(piece, low)

    def _redirect(self, low: str) -> None:
        """As in "8 screws, out", "strap screw, tighten": the state belongs to the screws just named."""
        verb = {"loosen": "Loosen", "undo fully": "Loosen", "back off": "Loosen"}.get(low) or (
            "Tighten" if low in ("refit", "tighten", "tight", "in", "on", "fit") else "Remove"
        )
        was, _, rest = self.said[-1].partition(" ")
        if was == "In":
            return
        if was == "Loosen" and verb == "Remove" and low != "loosen and remove":
            return
        self.said[-1] = f"{verb} {rest}"

    def _other(self, piece: str, low: str) -> None:
        bare = re.sub(r"\s*\([^)]*\)\s*$", "", low)
        bare = re.sub(r"^(?:and|then|&)\s+", "", bare)
        verb = _OUT.get(bare) or _IN.get(bare, "")
        if verb:
            if (self.subject or self.topic) and not self._gone_already(bare):
                self._act(verb)
            return
        renewed = re.match(r"^(?:fit|and fit|with|insert) new(?: one)?(?: (?:in|on)\b.*)?$", low)
        if renewed and self.subject:
            self._say(f"Fit the new {_the(self.subject)[4:]}.")
            return
        new = re.match(
            r"^(?:fit )?(?:new|fresh|replacement) (?P<thing>[\w/&+' -]+?)(?: (?P<side>in|on))?$",
            piece,
            re.IGNORECASE,
        )
        if new:
            self._renew(new["thing"], new["side"] or "")
            return
        sided = _SIDED.match(piece)
        state = _STATE.match(piece)
        order = self._is_order(low)
        if sided and not order and not state:
            outward = sided["state"].lower() in ("off", "out of")
            link = "from" if outward else "into"
            self._say(
                f"{self._verb_for(sided['thing'], outward=outward)} {_the(sided['thing'])} {link} {_the(sided['place'])}."  # noqa: E501
            )
            self.subject = sided["thing"]
        elif state and not order:
            self._say(self._stated(state))
            self.subject = self.subject or state["thing"]
        elif order:
            self._say(self._ordered(re.sub(r"^(?:and|then|&)\s+", "", piece)))
        else:
            self._named(piece)

    def _gone_already(self, state: str) -> bool:
        """As in "slide cover rearwards, off": the last order says it already."""
        moved = ("Slide", "Lift", "Pull", "Remove the", "Swing")
        return state in ("off", "out", "free", "clear") and any(
            row.startswith(moved) for row in self.said[-1:]
        )

    def _renew(self, thing: str, side: str) -> None:
        category = self._category(thing)
        verb = (
            "Apply"
            if category in ("film", "supply", "residue")
            else "Insert"
            if category == "card" or side.lower() == "in"
            else "Fit"
        )
        self.refit = True
        self._say(f"{verb} the new {thing}.")
        self.subject = f"new {thing}"

    def _named(self, piece: str) -> None:
        """A thing alone ("antenna coax x2", "P7"): what the next pieces are about; else the piece as it stands."""
        named = re.match(
            r"^(?P<thing>[\w/&+' -]+?)(?:\s*[x×]\s?(?P<count>\d{1,2}))?(?:\s*\([^)]*\))?\.?$", piece
        )
        known = named is not None and (
            self._category(named["thing"]) != "unknown"
            or named["count"]
            or _DESIGNATOR.match(named["thing"])
        )
        if named is None or not known:
            if not self.said:
                self._say(f"{piece}.")
            return
        thing = named["thing"]
        if (
            self._category(thing) == "unknown"
            and self.subject
            and self._is_link(self.subject.split(" at ")[0])
        ):
            thing = f"{thing} {self.subject.split(' at ')[0].split()[-1].lower()}"
        self.subject = (
            f"{self.subject} and {thing}"
            if self.subject and _DESIGNATOR.match(thing) and not self.said
            else thing
        )
        self.count = named["count"] or ""

    def _act(self, verb: str) -> None:
        """An order without a thing: it is done to the subject of the line."""
        thing = self.subject or self.topic
        if verb == "Discard":
            if any(row.startswith(("Remove", "Slide out", "Lift", "Pull")) for row in self.said):
                return
            verb = "Remove"
        if self._is_link(thing):
            verb = _FOR_LINKS.get(verb, verb)
        if self._category(thing) == "fastener":
            verb = {"Refit": "Tighten", "Insert": "Tighten", "Fit": "Tighten"}.get(verb, verb)
        counted = f"the {self.count} {_the(thing)[4:]}" if self.count else self._name(thing)
        self._say(f"{verb} {counted}.")

    def _stated(self, match: re.Match[str]) -> str:
        """As in "Battery out", "flexes in", "ZIF latches up x3": the state that the work brings about."""
        thing, state = match["thing"], match["state"].lower()
        category = self._category(thing)
        rest = re.sub(r"^\s+of\b", " from", match["rest"] or "")
        if category in ("lock", "clip", "button"):
            closes = state in ("in", "on", "closed", "shut", "tight", "back in", "back on") or (
                state in ("up", "down") and self._closing() and state != "up"
            )
            verb = "Close" if closes else "Release"
        elif state in ("up", "down"):
            verb = "Lift up" if state == "up" else "Lower"
            if self._closing() and state == "down":
                verb = "Refit"
        else:
            verb = _OUT.get(state) or _IN.get(state, "Remove")
        if category in ("residue", "supply") and state in ("off", "out"):
            verb = "Clean off"
        if category == "film":
            verb = "Apply" if state in ("on", "in", "back on") else "Peel off"
        if self._is_link(thing):
            verb = _FOR_LINKS.get(verb, verb)
        if category == "fastener" and verb in ("Insert", "Refit", "Fit"):
            verb = "Tighten"
        count = match["count"] or match["behind"]
        return f"{verb} {f'the {count} {_the(thing)[4:]}' if count else self._name(thing)}{rest}."

    def _ordered(self, piece: str) -> str:
        """As in "pull off", "disconnect at terminal box" behind "Fan lead:": the lead is meant."""
        words = piece.split()
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
            "back",
        ):
            end += 1
        following = words[end].lower().strip(",.") if end < len(words) else ""
        thing = self.subject or self.topic
        hanging = (
            not following
            or following in self.lexicon.words["prepositions"]
            or following.startswith("(")
            or (
                following in ("all", "gently", "carefully", "by")
                and words[end + 1 : end + 2] in ([], ["round"], ["around"])
            )
        )
        verb = f"{words[0].capitalize()} {' '.join(words[1:end])}".strip()
        if thing and hanging:
            if self._is_link(thing):
                verb = _FOR_LINKS.get(verb, verb)
            return f"{verb} {self._name(thing)} {' '.join(words[end:])}".strip() + "."
        known = (
            following not in self.lexicon.words["determiners"] | self.lexicon.words["quantifiers"]
        )
        if following and known and not following[:1].isdigit():
            screws = re.match(
                rf"^(?P<what>.*?{_NOUN}), (?P<count>\d{{1,2}})\s?[x×]?\s*(?P<sizes>{_SIZES})$",
                " ".join(words[end:]),
                re.IGNORECASE,
            )
            if screws:
                return f"{verb} the {screws['count']} {screws['sizes']} {screws['what']}."
            words.insert(end, "the")
        piece = " ".join(words)
        return f"{piece[:1].upper()}{piece[1:]}."

    def _screws(self, piece: str) -> str:
        """As in "6 screws T8", "4x M4x30 out", "screws, M2x4, qty 6": fasteners without a verb."""
        bare = re.sub(
            r"\s*\([^)]*\)", lambda m: " " + " ".join(re.findall(_SIZE, m.group())), piece
        ).strip()
        if self._is_order(bare) and not bare[:1].isdigit():
            return ""
        match = _COUNTED.match(bare)
        ok = match and (match["fastener"] or re.search(r"\bM\d|\d-\d\d", match["sizes"] or ""))
        if match is None or not ok:
            match = _COUNT_BEHIND.match(bare)
        if match is None:
            return self._bare_screws(bare)
        groups = match.groupdict()
        count = next(
            groups[k]
            for k in ("count", "times", "quantity", "bare", "last", "last2")
            if groups.get(k)
        )
        sizes = f"{groups.get('sizes') or ''} {groups.get('more') or ''} {groups.get('more2') or ''}".replace(
            ",", " "
        )
        noun = groups.get("fastener") or ""
        if not noun or noun.lower() == "cap":
            fastened = self.subject if self._category(self.subject) == "fastener" else ""
            noun = fastened or ("cap screws" if noun else "screws")
        return self._screw_order(
            count, sizes, f"{groups.get('owner') or ''}{noun}", (groups["rest"] or "")
        )

    def _bare_screws(self, bare: str) -> str:
        """As in "nut 5 Nm", "thumb screws tight": screws without a count, on the way in or with their state."""
        match = _BARE_SCREWS.match(re.sub(r"\s+\d+(?:[.,]\d+)?\s?N\s?(?:c?m)\b.*$", "", bare))
        if match is None:
            return ""
        rest = (match["rest"] or "").strip()
        if rest and not re.fullmatch(
            rf"(?:{_SIZES})(?:in|on|tight|tightened|out|off|loose|undone|removed|refit\w*)?",
            rest,
            re.IGNORECASE,
        ):
            return ""
        if not rest and not (self.refit or self.said):
            return ""
        return self._screw_order("", "", f"{match['owner'] or ''}{match['fastener']}", rest)

    def _screw_order(self, count: str, sizes: str, noun: str, rest: str) -> str:
        low = rest.lower().strip(" ,.")
        if re.match(r"(?:that|which|from|holding|securing)\b", low):
            return ""
        thumb = bool(re.match(r"(?:captive )?thumb", noun, re.IGNORECASE))
        loose = (
            "loosen" in low
            or "slacken" in low
            or "captive" in f"{noun} {low}".lower()
            or ("undo" in low and thumb)
        )
        out = bool(re.search(r"\b(?:out|off|remove\w*|undone)\b", low))
        inward = bool(re.search(r"\b(?:in|tight\w*|on|refit\w*)\b", low)) or (
            self._closing() and not out and not loose
        )
        verb = "Tighten" if inward else "Loosen" if loose or (thumb and not out) else "Remove"
        if "turn" in noun:
            noun, verb = "quarter-turn fasteners", "Close" if inward else "Release"
        sizes = re.sub(r"\b\d{1,2}-\d{2}\b\S*", "", sizes)
        owner = self.subject or self.topic
        held = (
            f" that hold {_the(owner)}"
            if owner and self._category(owner) != "fastener" and not owner[:1].isdigit()
            else ""
        )
        if re.search(r"crosswise|diagonal", low):
            verb = f"In crosswise order {verb.lower()}"
        plain = re.sub(r"\s+", " ", f"the {count} {sizes} {noun}").strip()
        return f"{verb} {plain}{held}."

    def _closing(self) -> bool:
        return self.refit or any(
            row.startswith(("Insert", "Refit", "Fit", "Tighten", "Connect"))
            for row in self.said[-1:]
        )

    def _say(self, sentence: str) -> None:
        self.said.append(sentence)

    def _is_order(self, words: str) -> bool:
        """True where the first word is a verb and not the noun that it may also be ("drive out", "plug on")."""
        row = words.lower().split()
        while row and row[0] in ("and", "then", "&"):
            row = row[1:]
        lemma = self.lexicon.verb_of(row[0].strip(",.:"), "base") if row else ""
        if not lemma:
            return False
        if row[0] in _ORDERS:
            return True
        noun = self.lexicon.verbs[lemma].noun or self.lexicon.is_noun(row[0])
        return not noun or (len(row) > 2 and row[1] in ("the", "all", "both", "out", "off"))

    def _is_link(self, thing: str) -> bool:
        bare = re.sub(r"\([^)]*\)", "", thing).strip()
        return self._category(bare) in _LINKS or bool(_DESIGNATOR.match(bare))

    def _verb_for(self, thing: str, *, outward: bool) -> str:
        verb = "Remove" if outward else "Insert"
        return _FOR_LINKS.get(verb, verb) if self._is_link(thing) else verb

    def _category(self, thing: str) -> str:
        bare = re.sub(r"\([^)]*\)|\b[A-Za-z]{1,3}\d{1,3}\b,?", "", thing).strip(" ,") or thing
        return self.lexicon.category(tuple(bare.lower().split()))

    def _name(self, thing: str) -> str:
        bare = thing.strip()
        return (
            f"the connectors {bare.replace(',', ' and')}" if _DESIGNATOR.match(bare) else _the(bare)
        )


_OF_SCREWS = re.compile(rf"\b{_NOUN}\b", re.IGNORECASE)
_FOR_LINKS = {
    "Pull out": "Disconnect",
    "Slide out": "Disconnect",
    "Remove": "Disconnect",
    "Lift up": "Disconnect",
    "Push": "Connect",
    "Push in": "Connect",
    "Refit": "Connect",
    "Fit": "Connect",
    "Insert": "Connect",
}


def is_terse_piece(bare: str) -> bool:
    """True where a piece of the line is screws or a state without a verb."""
    pieces = [piece.strip() for piece in _SPLIT.split(bare) if piece and piece.strip()]
    return any(_STATE.match(piece) or _TERSE_SCREWS.match(piece) for piece in pieces)


_TERSE_SCREWS = re.compile(rf"^\d{{1,2}}\s?[x×]?\s*{_SIZES}(?:{_NOUN})?\b", re.IGNORECASE)


def _the(thing: str) -> str:
    thing = re.sub(r"^(?:the|all)\s+", "", thing.strip(), flags=re.IGNORECASE)
    thing = thing[:1].lower() + thing[1:] if not thing[:2].isupper() else thing
    thing = thing.replace("&", "and").replace(" + ", " and ")
    return f"the {re.sub(r',(?= )', ' and', thing)}"


_LISTED = re.compile(
    r"^\W*(?:req(?:uire[sd]?|\.|uirements?)?|needs?|access(?: req\w*)?|prereq\w*|first|before|remove first|off first|rem(?:ove)? first|prior)\s*(?::|\s[-–])\s*(?P<rest>.+)$",  # noqa: E501
    re.IGNORECASE,
)
_OFF_FIRST = re.compile(
    r"^\W*(?P<rest>[\w/&, -]{3,60}?)\s+(?:off|out|removed)\s+(?:first|before|already)\W*$",
    re.IGNORECASE,
)
_GONE = re.compile(
    r"^(?:the )?(?P<thing>[\w/&+' -]+?)(?:\s+(?:off|out|removed|detached|away))?\s*(?:\([^)]*\))?$",
    re.IGNORECASE,
)
_AS_STATE = re.compile(
    r"^(?:the )?(?P<thing>[\w/&+' -]+?)\s+(?P<state>(?:swung |set |turned )?(?:open(?:ed)?|closed|drained|empty|emptied|blocked|locked|raised|lowered|cool|cold|tagged|unplugged|disconnected|isolated|parked|discharged|off|out|pulled))(?:\s+and\s+(?P<more>\w+))?(?:\s+(?:at|by|in|from)\s+.+)?$",  # noqa: E501
    re.IGNORECASE,
)  # fmt: skip


def before_line(bare: str, lexicon: Lexicon) -> str:
    """A line that says what must be off first, as "Remove first: …" or "Make sure that …"; ``""`` for other lines."""
    power = _power_line(bare, lexicon)
    if power:
        return power
    listed = _LISTED.match(bare) or _OFF_FIRST.match(bare)
    if listed is None:
        return ""
    rest = re.sub(r"\([^)]*\)", "", listed["rest"]).strip(" .")
    if listed.re is _LISTED and re.search(
        rf"\d\s?[x×]|\b{_NOUN}\b|\b(?:loosen|slacken|pull|slide)\b", rest, re.IGNORECASE
    ):
        return ""
    parts, states = [], []
    for piece in re.split(r"\s*[,;]\s*|\.\s+(?=[A-Z])|\s+(?:and|&|\+)\s+(?!\w+$)", rest):
        text = piece.strip(" .")
        if not text or text.lower() in ("nil", "none", "n/a"):
            continue
        stated = _AS_STATE.match(text)
        plain = (
            stated and stated["state"].lower() in ("off", "out") and not _is_power(stated["thing"])
        )
        if stated and not plain:
            states.append(f"the {stated['thing']} is {stated['state'].lower()}")
        else:
            gone = _GONE.match(text)
            parts.append(gone["thing"] if gone else text)
    said = []
    if states:
        said += [f"{state}" for state in states]
    if parts or said:
        return "Remove first: " + ", ".join([*parts, *said]) + "."
    return "Remove first: none." if listed.re is not _LISTED else ""


def _is_power(thing: str) -> bool:
    return bool({word.lower().strip(".,") for word in thing.split()} & _POWER)


def _power_line(bare: str, lexicon: Lexicon) -> str:
    """As in "Pwr off, disc. mains.", "Mains lead out. Key off.": a state, where every piece speaks of power."""
    bare = re.sub(
        r"^(?P<thing>\w+(?: \w+)?)\s*:\s*(?=(?:off|out|open|isolated)\b)",
        r"\g<thing> ",
        bare,
        flags=re.IGNORECASE,
    )
    pieces = [piece.strip() for piece in _SPLIT.split(bare) if piece and piece.strip()]
    first = _AS_STATE.match(pieces[0]) if pieces else None
    if first is None or not _is_power(first["thing"]) or len(pieces) > 5:
        return ""
    states = []
    for piece in pieces:
        stated = _AS_STATE.match(piece)
        if stated is not None and stated["state"].lower():
            states.append(f"{stated['thing'].lower()} is {stated['state'].lower()}")
            continue
        row = piece.lower().split()
        if lexicon.verb_of(row[0], "base") and not _is_power(piece) and row[0] != "wait":
            return ""
        states.append(piece[:1].lower() + piece[1:])
    return (
        "Make sure that "
        + " and ".join(f"the {state}" if " is " in state else state for state in states)
        + "."
    )

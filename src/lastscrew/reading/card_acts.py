"""What becomes of a thing on a field card: the sentence that says it, by what kind of thing it is."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from lastscrew.reading.card_screws import Screws
from lastscrew.reading.card_words import DESIGNATOR, NUMBERS, ORDERS, PLACES, article
from lastscrew.reading.lexicon import Lexicon
from lastscrew.reading.lexicon.groups import table_group

_COUNTED = re.compile(
    r"^(?:the |all )?(?:(?P<count>\d{1,2})\s?(?:[x×]\s?|off\s+)?|(?P<word>two|three|four|five|six|seven|eight|nine|ten|both)\s+)(?P<thing>[A-Za-z][\w/' -]*?)$",  # noqa: E501
    re.IGNORECASE,
)
_COUNT_BEHIND = re.compile(
    r"^(?P<thing>[A-Za-z][\w/&+,' -]*?)\s*(?:[x×]\s?(?P<count>\d{1,2})|(?P<off>\d{1,2})\s?(?:off|x|×)|\((?:[x×]\s?)?(?P<paren>\d{1,2})(?:\s?[x×])?\))$",  # noqa: E501
    re.IGNORECASE,
)
PARTICLES = frozenset(["off", "out", "up", "down", "in", "on", "straight", "fully", "back", "away", "apart", "free", "open", "loose", "clear", "shut", "closed"])  # fmt: skip  # noqa: E501
LINKS = ("cable", "connector", "antenna")
PIECES = ("part", "cover", "board", "card", "drawer", "unknown", "antenna")
IN = table_group("card_in")
OUT = table_group("card_out")
_LABELLED = re.compile(r"^(?:CN|CON|J|P|X|JP|SK|PL|TB|XP|XS)-?\d{1,3} \w+$")
_ONWARD = frozenset(["forward", "forwards", "back", "backwards", "rearward", "rearwards"])
_NOUNS_TOO = frozenset(
    ["lock", "latch", "clip", "cap", "catch", "plug", "snap", "bolt", "lever", "hook", "tie"]
)
FOR_LINKS = {
    "Pull out": "Disconnect",
    "Slide out": "Disconnect",
    "Remove": "Disconnect",
    "Lift up": "Disconnect",
    "Lift off": "Disconnect",
    "Release": "Disconnect",
    "Unscrew": "Disconnect",
    "Undo": "Disconnect",
    "Loosen": "Disconnect",
    "Open": "Disconnect",
    "Push": "Connect",
    "Push in": "Connect",
    "Refit": "Connect",
    "Fit": "Connect",
    "Insert": "Connect",
}


@dataclass
class CardActs:
    """What is known while one line is read, and how it is said."""

    lexicon: Lexicon
    refit: bool = False
    topic: str = ""
    subject: str = ""
    count: str = ""
    pending: str = ""
    pending_count: str = ""
    place: str = ""
    listing: bool = False
    """True behind "All leads off:", where the connectors that follow are what was meant."""
    said: list[str | Screws] = field(default_factory=list)

    def with_count(self, thing: str) -> tuple[str, str]:
        """As in "feet x4", "three coax": the thing and how many, ``""`` where it does not say."""
        counted = _COUNTED.match(thing) or _COUNT_BEHIND.match(thing)
        if counted is None or DESIGNATOR.match(thing):
            return thing, ""
        groups = counted.groupdict()
        value = next((groups[k] for k in ("count", "word", "off", "paren") if groups.get(k)), "")
        value = {"both": "2"}.get(value.lower(), NUMBERS.get(value.lower(), value))
        return groups["thing"].strip(), value

    def gone_already(self, state: str) -> bool:
        """As in "slide cover rearwards, off": the last order says it already."""
        moved = ("Slide", "Lift", "Pull", "Remove the", "Swing", "Ease", "Draw", "Withdraw", "Tilt")
        last = self.said[-1] if self.said else ""
        if isinstance(last, str) and self.category(last.rstrip(".").lower()) in ("lock", "clip"):
            return False
        return (
            not self.pending
            and state
            in ("off", "out", "free", "clear", "away", "lift", "lift off", "lift out", "withdraw")
            and any(isinstance(row, str) and row.startswith(moved) for row in self.said[-1:])
            and not (
                state.startswith("lift")
                and isinstance(self.said[-1], str)
                and self.said[-1].startswith("Slide")
            )
        )

    def flush(self, *, at_end: bool = False, owner: bool = False, verb: str = "") -> None:
        """Say what becomes of a thing that was named alone, where no piece behind it said so."""
        thing, count = self.pending, self.pending_count
        self.pending = self.pending_count = ""
        if not thing or verb:
            return
        category = self.category(thing)
        named = self.counted(thing, count)
        if self.is_link(thing):
            said = self.said[-1] if self.said else ""
            again = isinstance(said, str) and said.startswith(("Disconnect", "Connect"))
            if not (again and self.subject and self.is_link(self.subject) and " " not in thing):
                self.say(f"{'Connect' if self.closing() else 'Disconnect'} {named}.")
        elif category in ("lock", "clip", "tie") and owner:
            if self.refit:
                self.say(f"Refit {named}.")
            self.subject = thing
        elif category in ("lock", "clip"):
            self.say(f"{'Close' if self.closing() else 'Release'} {named}.")
        elif category == "tie":
            self.say(f"{'Fit' if self.closing() else 'Cut'} {named}.")
        elif category == "film":
            self.say(f"{'Apply' if self.closing() else 'Peel off'} {named}.")
        elif category in PIECES and category != "unknown":
            if self.refit:
                self.say(f"Refit {named}.")
            elif count and at_end:
                self.say(f"Remove {named}.")
            elif owner or not at_end:
                pass
            elif not self.said and not self.subject:
                self.say(f"{thing}.")
            if owner and count and not self.refit:
                self.say(f"Remove {named}.")
            elif owner:
                self.subject = thing
        elif at_end and not self.said:
            self.say(f"{thing}.")

    def act(self, verb: str, tail: str = "") -> None:
        """An order without a thing: it is done to what was named, or to the subject of the line."""
        thing, count = (
            (self.pending, self.pending_count) if self.pending else (self.subject, self.count)
        )
        thing = thing or self.topic
        if self.pending:
            self.subject = self.subject or self.pending
        self.pending = self.pending_count = ""
        if verb == "Discard":
            if any(
                isinstance(row, str)
                and row.startswith(
                    ("Remove", "Slide out", "Lift", "Pull", "Peel", "Prise", "Cut", "Clean")
                )
                for row in self.said
            ):
                return
            verb = "Remove"
        category = self.category(thing)
        if self.is_link(thing):
            verb = FOR_LINKS.get(verb, verb)
        if category == "fastener":
            verb = {"Refit": "Tighten", "Insert": "Tighten", "Fit": "Tighten"}.get(verb, verb)
        if category == "lock" and verb in (
            "Lower",
            "Slide",
            "Lift up",
            "Push",
            "Pull out",
            "Refit",
        ):
            verb = "Close" if self.refit else "Release"
        if category in ("lock", "clip"):
            verb = (
                "Close"
                if verb in ("Refit", "Insert", "Fit", "Close")
                else "Release"
                if verb in ("Remove", "Pull out", "Open", "Lift up")
                else verb
            )
        if self.place and self.is_link(thing) and not tail:
            tail = f"{'to' if verb == 'Connect' else 'from'} {article(self.place)}"
        self.say(f"{verb} {self.counted(thing, count)} {tail}".strip() + ".")

    def counted(self, thing: str, count: str) -> str:
        """The thing with "the" and its count before it."""
        return f"the {count} {article(thing)[4:]}" if count and count != "1" else self.name(thing)

    def stated(self, match: re.Match[str]) -> str:
        """As in "Battery out", "flexes in", "ZIF latches up x3": the state that the work brings about."""
        thing, count = self.with_count(re.sub(r"\s*\([^)]*\)", "", match["thing"]))
        state = match["state"].lower()
        count = match["count"] or match["behind"] or count
        category = self.category(thing)
        rest = re.sub(r"^\s+of\b", " from", match["rest"] or "")
        rest = re.sub(r"\s*\([^)]*\)", "", rest)
        if state in ("off", "out", "free", "clear", "away") and re.match(
            r"\s+(?:on|at|by)\b", rest
        ):
            rest = ""
        own = bool(self.subject) and thing.lower() in (self.subject.lower(), self.topic.lower())
        if category in ("lock", "clip", "button") and not (
            own and state in ("off", "out", "away", "on", "in", "back")
        ):
            closes = (
                state
                in ("in", "on", "closed", "shut", "tight", "back in", "back on", "locked", "home")
                or (state in ("up", "down") and self.closing() and (state != "up"))
                or (state in ("back", "down", "up") and self.refit)
            )
            verb = "Close" if closes else "Release"
        elif state in ("up", "down", "back", "aside"):
            verb = {"up": "Lift up", "down": "Lower", "back": "Slide", "aside": "Swing away"}[state]
            if self.closing():
                verb = "Refit"
        else:
            verb = OUT.get(state) or IN.get(state, "Remove")
        if category in ("residue", "supply") and state in ("off", "out", "away"):
            verb = "Clean off"
        if category == "film":
            verb = "Apply" if state in ("on", "in", "back on", "back") else "Peel off"
        if self.is_link(thing):
            verb = FOR_LINKS.get(verb, verb)
        if category == "fastener" and verb in ("Insert", "Refit", "Fit"):
            verb = "Tighten"
        if category == "tie" and verb == "Tighten":
            verb = "Close"
        return f"{verb} {self.counted(self.with_owner(thing), count)}{rest}."

    def with_owner(self, thing: str) -> str:
        """As in "lead" on a card about the fan: the fan lead."""
        words = thing.split()
        bare = len(words) == 1 and words[0].lower() in (
            "lead",
            "plug",
            "cable",
            "connector",
            "wires",
            "leads",
            "harness",
            "coax",
        )
        owner = self.subject if self.subject and not self.is_link(self.subject) else self.topic
        return (
            f"{owner} {thing.lower()}"
            if bare and owner and len(owner.split()) <= 2 and self.category(owner) in PIECES
            else thing
        )

    def ordered(self, piece: str) -> str:
        """As in "pull off", "disconnect at terminal box" behind "Fan lead:": the lead is meant."""
        words = piece.split()
        end = 1
        while end < len(words) and words[end].lower().strip(",.") in PARTICLES:
            end += 1
        following = words[end].lower().strip(",.") if end < len(words) else ""
        thing = self.pending or self.subject or self.topic
        count = self.pending_count if self.pending else self.count if thing == self.subject else ""
        placed = all(
            word.lower().strip(",.") in PLACES or word.lstrip("~")[:1].isdigit()
            for word in words[end:]
        )
        hanging = (
            not following
            or following in self.lexicon.words["prepositions"]
            or following.startswith("(")
            or placed
            or (
                following
                in ("all", "gently", "carefully", "by", "till", "until", "both", "it", "them")
                and words[end + 1 : end + 2] in ([], ["round"], ["around"], ["click"])
            )
        )
        verb = f"{words[0].capitalize()} {' '.join(words[1:end])}".strip()
        if thing and hanging:
            if self.is_link(thing):
                verb = FOR_LINKS.get(verb, verb)
            tail = "" if placed else " ".join(words[end:])
            if self.is_link(thing):
                tail = re.sub(r"^(?:at|on)\s+(?!the\b)", "from the ", tail)
            onward = {word.lower().strip(",.") for word in words[1:]} & _ONWARD
            if verb.startswith("Pull") and placed and onward and not self.is_link(thing):
                verb = "Slide"
            if self.pending:
                self.subject = self.subject or self.pending
            return f"{verb} {self.counted(thing, count)} {tail}".strip() + "."
        known = (
            following not in self.lexicon.words["determiners"] | self.lexicon.words["quantifiers"]
        )
        if following and known and not following[:1].isdigit() and following not in NUMBERS:
            words.insert(end, "the")
        piece = " ".join(words)
        return f"{piece[:1].upper()}{piece[1:]}."

    def closing(self) -> bool:
        """True on the way back, and behind a thing that was just put back."""
        return self.refit or any(
            isinstance(row, str)
            and row.startswith(("Insert", "Refit", "Fit", "Tighten", "Connect"))
            for row in self.said[-1:]
        )

    def say(self, sentence: str | Screws) -> None:
        """Keep a sentence."""
        self.said.append(sentence)

    def is_order(self, words: str) -> bool:
        """True where the first word is a verb, not the noun that it may also be ("drive out", "lock up")."""
        row = words.lower().split()
        while row and row[0] in ("and", "then", "&"):
            row = row[1:]
        lemma = self.lexicon.verb_of(row[0].strip(",.:"), "base") if row else ""
        if not lemma:
            return False
        if row[0] in _NOUNS_TOO and (
            len(row) == 1
            or (len(row) == 2 and (row[1] in PARTICLES or DESIGNATOR.match(row[1].upper())))
        ):
            return row in (
                ["plug", "in"],
                ["clip", "on"],
                ["clip", "in"],
                ["snap", "on"],
                ["snap", "in"],
            )
        if row[0] in ORDERS:
            return True
        noun = self.lexicon.verbs[lemma].noun or self.lexicon.is_noun(row[0])
        return not noun or (len(row) > 2 and row[1] in ("the", "all", "both", "out", "off"))

    def is_link(self, thing: str) -> bool:
        """True for cables and connectors, also by their labels alone ("P1, P2") or first ("X1 power")."""
        bare = re.split(r"\s+(?:to|from|at|on)\s+", re.sub(r"\([^)]*\)", "", thing).strip())[0]
        if not bare:
            return False
        category = self.category(bare)
        labelled = _LABELLED.match(bare) is not None and category in ("unknown", "power")
        return labelled or category in LINKS or bool(DESIGNATOR.match(bare))

    def category(self, thing: str) -> str:
        """Category of the thing that a few words name, labels and what follows "to" or "at" aside."""
        bare = re.split(r"\s+(?:to|from|at|on|with|w/)\s+", thing)[0]
        bare = re.sub(r"\([^)]*\)|\b[A-Za-z]{1,4}\d{1,3}\b,?", "", bare).strip(" ,") or thing
        bare = re.sub(r"(?<=\w)\s+[A-Z](?:\s*(?:\+|&|and|,)\s*[A-Z])*$", "", bare)
        return self.lexicon.category(tuple(bare.lower().split()))

    def name(self, thing: str) -> str:
        """The thing with "the" before it; labels alone are connectors, "module" is that of the card's title."""
        bare = thing.strip()
        topic = re.sub(r"(?:\s+[lr]\b|\s*/)+$", "", self.topic)
        if (
            " " in topic
            and not re.search(r"\band\b|\+|&", topic)
            and bare.lower() == topic.split()[-1]
        ):
            bare = topic
        if not DESIGNATOR.match(bare):
            return article(re.sub(r"\s+to\s+(?!the\b)", " to the ", bare))
        labels = re.sub(r"\s*[,+&/]\s*", " and ", bare)
        labels = re.sub(r"\bX(\d)", r"X-\1", labels)
        return (
            f"the connectors {labels}"
            if " and " in labels or "-" in labels[1:]
            else f"the connector {labels}"
        )

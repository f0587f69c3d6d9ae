"""Talks in scraps without verbs: "bottom cover. eight screws. out." and "fan in, two and the lead".

Somebody who does one machine after the other names a thing and where it goes, and leaves out the rest. What he names is
the topic; numbers are the screws of the topic, a lead or plug is its lead or plug, and "out", "off", "up", "in", "on",
"done" are said of what was named last. The half of the work lasts until he says "back again". Where a whole talk is
made of such scraps they are said as orders before the grammar of speech reads them; sentences between them stay, and
every line keeps its number.
"""

from __future__ import annotations

import itertools
import re
from dataclasses import dataclass, replace

from lastscrew.reading.lexicon import Lexicon
from lastscrew.reading.lexicon.morphology import noun_singular
from lastscrew.reading.model import Line, Source

_STOP = re.compile(r"[.!?;,:]+(?=\s|$)")
_WORD = re.compile(r"[A-Za-z0-9]+(?:['’-][A-Za-z0-9]+)*")
_MEAN_WORDS = 7.5
"""Of a sentence; who talks in sentences says eight and more."""
_SCRAPS = 0.17
"""Share of what stands between two stops that is a scrap of work; in talk it is a tenth at most."""
_FEWEST = 20
_PIECE_WORDS = 6
_LEADS_IN = frozenset(["okay", "ok", "right", "then", "so", "now", "and", "yes", "good", "next", "alright", "also", "there", "well", "same", "again"])  # fmt: skip  # noqa: E501
_BEHIND = frozenset(["next", "now", "again", "too", "then", "first", "last", "both", "all", "already", "please", "straight"])  # fmt: skip  # noqa: E501
_ARTICLES = frozenset(
    ["the", "a", "an", "its", "your", "our", "these", "those", "all", "both", "my"]
)
_OUT = frozenset(["out", "off", "away", "loose", "free"])
_IN = frozenset(["in", "on", "down", "home", "done", "tight", "over", "shut", "closed"])
_UP = frozenset(["up", "open"])
_PLACED = _OUT | _IN | _UP | {"back"}
_FASTENERS = frozenset(
    ["screw", "bolt", "nut", "thumbscrew", "standoff", "washer", "circlip", "pin", "rivet"]
)
_SHORT_SCREWS = frozenset(
    ["one", "ones", "long", "short", "small", "big", "little", "black", "silver"]
)
_LINKS = frozenset(["lead", "plug", "flat", "flex", "ribbon", "cable", "connector", "coax", "wire", "tail", "loom", "harness", "antenna", "aerial", "hose", "pipe", "tube", "tubing"])  # fmt: skip  # noqa: E501
_HOSES = frozenset(["hose", "pipe", "tube", "tubing"])
_STUCK = frozenset(["tape", "film", "foil", "sticker", "foam", "pad", "strip", "label", "gasket"])
_SPREAD = frozenset(["paste", "grease", "compound", "glue", "threadlock", "oil"])
_CATCHES = frozenset(["latch", "catch", "clip", "lever", "lock", "flap", "bar", "tab", "cam"])
_SIDES = {"side": 2, "end": 2, "corner": 4}
_SWITCHED = frozenset(
    ["power", "mains", "dock", "gas", "water", "ignition", "charger", "adapter", "supply"]
)
_UNPLUGGED = frozenset(["dock", "charger", "adapter", "mains"])
_PUSHED_IN = frozenset(
    ["ssd", "drive", "card", "memory", "stick", "ram", "dimm", "module", "fuse", "cartridge"]
)
_TOOLS = frozenset(["pick", "spudger", "blade", "opener", "scraper", "shim"])
_HELPING = frozenset(["have", "has", "had", "do", "does", "did"])
_TOPICS = frozenset(
    ["part", "cover", "board", "card", "drawer", "cable", "connector", "antenna", "power"]
)
_NAME_WORDS = 2
_SAYING = frozenset(["it", "they", "i", "you", "we", "he", "she", "them", "this", "that", "who", "how", "what", "where", "which"])  # fmt: skip  # noqa: E501
_TURN = re.compile(
    r"^(?:(?:and|right|now|okay|ok|so|good|then)\b[,\s]*)*(?:(?:it )?all |everything )?(?:(?:going |coming )?back (?:again|in|on|together|up|we go|the same way|it goes|same way)|(?:going|putting it|building it) (?:back|up)|(?:in|up|together|on) again|together)\b"  # noqa: E501
    r"|^(?:(?:and|right|now|okay|ok|so|good|then)\b[,\s]*)*(?:same (?:way|thing|again) (?:back|in|backwards|the other way)|(?:the )?other way(?: round| around)?|(?:in )?reverse|backwards now|build(?: it)? up|rebuild|reassembly|refit)$",  # noqa: E501
    re.IGNORECASE,
)
_ALL_ROUND = re.compile(
    r"^(?:press|push|squeeze|click) (?:it )?(?:all (?:the way )?)?(?:round|around|along)\b"
)
_EDGE = re.compile(
    r"^(?:all )?(?:round|around|along|under)(?: the)?(?: (?:edge|edges|seam|rim|sides?|outside))?$"
)
_IT_IS = re.compile(
    r"^(?:it's|they're|(?:it|they) (?:is|are|comes?|goes?|lifts?))(?: \w+)? (?:out|off|up|in|on|down)$"
)
_IT = re.compile(
    r"^(?P<verb>slide|lift|pull|take|push|click|pop|press|tip|turn|draw|ease) (?P<it>it|them|that|this) (?P<rest>\w+)$"
)


@dataclass(slots=True)
class _Piece:
    """What stands between two stops: its words, the row of the last of them, whether a full stop ends it."""

    words: list[str]
    row: int
    text: str
    stop: str
    first_row: int
    said: str | None = None

    @property
    def ends(self) -> bool:
        """True behind a full stop."""
        return self.stop in ".!?:"


@dataclass(slots=True)
class _Topic:
    """What is worked on: its name, and the screws and the lead that were named and not yet told of."""

    name: str = ""
    screws: int | None = None
    screw_word: str = "screw"
    link: str = ""
    moved: bool = False
    coming: bool = False
    """It is new and goes in, whatever the half."""

    @property
    def head(self) -> str:
        """Last word of the name."""
        return _last(self.name)


def _last(name: str) -> str:
    return name.rpartition(" ")[2]


def _stem(word: str) -> str:
    """The thing in "power's"."""
    return word.partition("'")[0]


def as_orders(source: Source, lexicon: Lexicon) -> Source:
    """The source with its scraps said as orders; unchanged where the talk has sentences."""
    if not source.spoken:
        return source
    pieces = _pieces(source.lines)
    sentences = sum(piece.ends for piece in pieces)
    words = sum(len(piece.words) for piece in pieces)
    asked = sum(piece.stop == "?" for piece in pieces)
    if sentences < _FEWEST or words > _MEAN_WORDS * sentences or asked * 6 > sentences:
        return source  # whoever is asked answers in few words too
    _Clipped(lexicon).say(pieces)
    if sum(bool(piece.said) for piece in pieces) < _SCRAPS * len(pieces):
        return source
    rows = list(source.lines)
    by_row: dict[int, list[_Piece]] = {}
    for piece in pieces:
        by_row.setdefault(piece.row, []).append(piece)
    for row, line in enumerate(source.lines):
        own = by_row.get(row, [])
        if line.kind != "furniture" and line.text.strip():
            rows[row] = replace(line, text=" ".join(_shown(piece) for piece in own).strip())
    return replace(source, lines=tuple(rows))


def _shown(piece: _Piece) -> str:
    if piece.said is None:
        return piece.text + piece.stop
    return piece.said


def _pieces(lines: tuple[Line, ...]) -> list[_Piece]:
    """Pieces of the talk in order; one that goes over several lines stands on the last of them."""
    found: list[_Piece] = []
    words: list[str] = []
    text: list[str] = []
    row = first = 0
    for index, line in enumerate(lines):
        if line.kind == "furniture" or not line.text.strip():
            continue
        last = 0
        for stop in [*_STOP.finditer(line.text), None]:
            part = line.text[last : stop.start() if stop else len(line.text)]
            here = [m.group().lower().replace("’", "'") for m in _WORD.finditer(part)]
            if here:
                first = first if words else index
                words += here
                text.append(part.strip())
                row = index
            if stop:
                if words:
                    found.append(_Piece(words, row, " ".join(text), stop.group()[0], first))
                elif found and stop.group()[0] in ".!?":
                    found[-1].stop = "."
                words, text = [], []
                last = stop.end()
    if words:
        found.append(_Piece(words, row, " ".join(text), ".", first))
    return found


class _Clipped:
    """Says the scraps of a talk as orders, from the first to the last."""

    def __init__(self, lexicon: Lexicon) -> None:
        self.lexicon = lexicon
        self.topic = _Topic()
        self.back = False
        self.begun = False
        self.counts: dict[str, int] = {}
        """How many there were on the way out, by what they hold or are."""
        self.maybe = ""
        """What the piece before named without our knowing that it is a part."""
        self.named = ""
        self.laid = False
        """The piece before said where the thing is laid: "on the mat, chips up"."""
        self.items: dict[str, list[str]] = {}
        """What cables of one kind belong to: "ribbons. keyboard, touchpad."."""
        self.part = ""
        """The last topic that is no lead."""
        self.gone: set[str] = set()
        """Last nouns of what was taken out."""
        self.piece = _Piece([], 0, "", ".", 0)

    @property
    def inward(self) -> bool:
        """True where what is named goes in."""
        return self.back or self.topic.coming

    def say(self, pieces: list[_Piece]) -> None:
        """Every piece in order; what was named and never told of is done when another thing is named."""
        for piece in pieces:
            self.piece = piece
            words = self._bare(piece.words)
            said = self._scrap(words) if words else []
            self.maybe, self.named = self.named, ""
            self.laid = self.laid and said == [] and not piece.ends
            if said is not None and words:
                piece.said = " ".join(said)

    def _bare(self, words: list[str]) -> list[str]:
        rows = list(words)
        while rows and rows[0] in _LEADS_IN:
            rows.pop(0)
        return rows

    def _scrap(self, words: list[str]) -> list[str] | None:
        """Orders of one piece; None where it is a sentence, an empty list where it orders nothing."""
        low = " ".join(words)
        if (
            self.begun
            and not self.back
            and (_TURN.match(low) or _TURN.match(" ".join(self.piece.words)))
        ):
            return self._turn()
        if _IT_IS.match(low):
            words = words[-1:]
        together = _IT.match(low)
        if together is not None and self.topic.name:
            self.topic.moved = True
            return [f"{together['verb']} the {self.topic.name} {together['rest']}.".capitalize()]
        if words[0] in ("a", "an") and len(words) > 1 and noun_singular(words[1]) in _FASTENERS:
            words = ["one", *words[1:]]
        if words[0] == "separate":
            return []  # "separate dish"
        if self.back and _ALL_ROUND.match(low):
            self.piece.row = self.piece.first_row
            return ["Press the clips closed."]
        if words[0] == "always":
            return []  # said once more
        if len(words) > _PIECE_WORDS or self._is_sentence(words):
            return None
        return self._verbless(words)

    def _is_sentence(self, words: list[str]) -> bool:
        lexicon = self.lexicon
        if words[0] == "old" or words[0] in _PLACED:
            return False
        told = lexicon.words["negations"] | _HELPING
        if any(word in told or "n't" in word or word in _SAYING for word in words):
            return True
        if words[0] in lexicon.words["prepositions"] and not _EDGE.match(" ".join(words)):
            return True
        if any("'s" in word for word in words):
            stem = _stem(words[0])
            known = self.lexicon.is_noun(stem) or stem in _SWITCHED
            return not (len(words) == 2 and words[1] in _PLACED and known)
        if any(word in lexicon.words["be"] or word in lexicon.words["modals"] for word in words):
            return True
        things = tuple(itertools.takewhile(lambda word: word not in _PLACED, words))
        named = lexicon.is_noun(words[0]) or lexicon.category(things) in _TOPICS
        return bool(lexicon.verb_of(words[0], "base")) and not named

    def _verbless(self, words: list[str]) -> list[str] | None:
        if words[0] in _PLACED:
            return self._placed(words)
        number, rest = self._number(words)
        if number is not None:
            return self._counted(number, rest)
        rest = [word for word in words if word not in _ARTICLES]
        place = next((w for w in rest[1:] if w in _PLACED), "")
        if place:
            cut = rest.index(place)
            return self._thing_placed(rest[:cut], place)
        while len(rest) > 1 and rest[-1] in _BEHIND:
            ordered, rest = rest[-1], rest[:-1]
            if noun_singular(rest[-1]) in _LINKS and ordered in ("first", "last", "next"):
                return self._link_done(rest)
            if ordered == "first" and self.back:
                return []  # "board down, sockets first": which side goes in first
        return self._named(rest)

    def _number(self, words: list[str]) -> tuple[int | None, list[str]]:
        rows = (
            words[1:]
            if words[0] in ("the", "all", "another", "those", "these") and len(words) > 1
            else words
        )
        if rows[0].isdigit():
            return int(rows[0]), rows[1:]
        value = self.lexicon.numbers.get(rows[0])
        return (int(value), rows[1:]) if value is not None else (None, words)

    def _counted(self, number: int, rest: list[str]) -> list[str] | None:
        """As in "eight screws", "two and the lead", "three a side", "two each", "six, in", "two antennas"."""
        rest = [word for word in rest if word not in _ARTICLES]
        other = number == 1 and {"next", "new", "other", "this", "that"} & set(self.piece.words)
        if rest[:1] == ["of"] or (other and not rest):
            return []  # "two of them long", "next one"
        topic = self.topic
        place = next((w for w in rest if w in _PLACED), "")
        kind = [w for w in rest if w != "and" and w not in _PLACED and w not in _BEHIND]
        head = next((noun_singular(w) for w in kind if noun_singular(w) in _FASTENERS), "")
        head = head or (noun_singular(kind[-1]) if kind else "")
        if kind and noun_singular(kind[0]) in _CATCHES and "and" not in rest:
            return [f"{'Close' if self.inward else 'Release'} the {number} {kind[0]}."]
        if (
            kind
            and kind[-1] in _SIDES
            and (len(kind) == 1 or kind[-2] in ("each", head, f"{head}s"))
        ):
            number *= _SIDES[kind[-1]]
        if kind and noun_singular(kind[-1]) in _LINKS:
            head = noun_singular(kind[-1])
        if kind and head in _LINKS and "and" not in rest:
            self._remember(head, number)
            topic.name, topic.link, topic.screws = " ".join(kind), " ".join(kind), None
            return self._act_on_link(place or "in") if place or self.inward else []
        screws = (
            not kind
            or head in _FASTENERS
            or kind[-1] in _SHORT_SCREWS
            or kind[0] in ("side", "each", "numbered")
        )
        if screws and self.maybe and topic.screws is None:
            topic = self.topic = _Topic(self.maybe)
        if topic.name and noun_singular(topic.head) in _LINKS and not topic.link and self.part:
            topic = self.topic = _Topic(
                self.part
            )  # the lead is off, the screws are those of the part
        if "and" in rest and head in _LINKS:
            topic.link, screws = self._link_name(kind[-1:]), True
        if not screws or not topic.name:
            return None
        topic.screw_word = head if head in _FASTENERS else topic.screw_word
        if rest[:1] == ["to"]:
            return []
        topic.screws = number
        if kind[:1] in (["side"], ["each"]):
            return []
        if self.inward or place:
            way = "in" if self.inward else "off"
            return [*self._screws_done(), *(self._act_on_link(way) if topic.link else [])]
        if rest[:1] == [] and self.piece.words[0] in ("then", "and") and "the" in self.piece.words:
            return self._screws_done()
        return []

    def _remember(self, name: str, number: int) -> None:
        if not self.back:
            self.counts[name] = number

    def _screws_done(self) -> list[str]:
        topic = self.topic
        if topic.screws is None or not topic.name:
            return []
        number, topic.screws = topic.screws, None
        self._remember(f"screws of {topic.head}", number)
        self.begun = True
        word = topic.screw_word + ("s" if number > 1 else "")
        topic.moved = topic.moved or self.inward
        verb = "Tighten" if self.inward else "Undo"
        return [
            f"{verb} the {number} {word} that {'hold' if number > 1 else 'holds'} the {topic.name}."
        ]

    def _link_name(self, words: list[str]) -> str:
        head = words[-1]
        own = [w for w in words if w != "and"]
        word = f"{head} cable" if head in ("flat", "coax") else head
        if len(own) > 1 or not self.topic.name or head in _HOSES or noun_singular(head) != head:
            return " ".join([*own[:-1], word])
        if head == self.topic.head:
            return self.topic.name
        part = self.topic.name.split()
        return " ".join([*part[:-1], noun_singular(part[-1]), word])

    def _link_done(self, words: list[str]) -> list[str]:
        self.topic.link = self._link_name(words)
        return self._act_on_link("in" if self.back else "off")

    def _act_on_link(self, place: str) -> list[str]:
        topic = self.topic
        name, topic.link = topic.link, ""
        if not name:
            return []
        self.begun = True
        head = noun_singular(_last(name))
        number = self.counts.get(head)
        several = f"{number} " if number and number > 1 and _last(name) != head else ""
        items = " and the ".join(self.items.get(head, [])) if _last(name) == name else ""
        named = f"{several}{name} of the {items}" if items else f"{several}{name}"
        inward = place in _IN or (self.inward and place not in _OUT)
        verb = "Connect" if inward else "Disconnect" if head in _HOSES else "Unplug"
        return [f"{verb} the {named}."] if place != "up" else []

    def _placed(self, words: list[str]) -> list[str] | None:
        """As in "out", "and up", "up on the left", "back in": said of what was named last."""
        word = words[0]
        if word == "back" and len(words) > 1 and words[1] in _PLACED:
            word = words[1]
        if (
            word in ("in", "on")
            and len(words) > 1
            and (words[1] in _ARTICLES or words[1] not in _PLACED | _BEHIND)
        ):
            self.laid = not self.piece.ends
            return []  # "in the box", "on the mat": where it is laid
        if self.maybe and self.topic.screws is None:
            self.topic = _Topic(self.maybe)
        topic = self.topic
        rows = self._screws_done() if word != "up" else []
        if topic.link:
            rows += self._act_on_link("in" if self.inward else "off")
        whole = words[1:2] in (["she"], ["it"], ["he"]) and not topic.moved
        if (rows and not whole) or not topic.name:
            return rows
        if rows:
            return [*rows, *self._part_moves(topic.name, word)]
        if topic.moved or (word == "done"):
            return []
        return self._part_moves(topic.name, word)

    def _thing_placed(self, words: list[str], place: str) -> list[str] | None:
        """As in "cover off", "old paste off", "latches up", "ribbons in", "sticker on"."""
        words = [w for w in words if w not in _BEHIND]
        if self.laid:
            return []
        if not words:
            return []
        if self._switched(words):
            state = "unplugged" if _stem(words[0]) in _UNPLUGGED else "switched off"
            said = f"Make sure the {_stem(words[0])} is {state}."
            return [said] if place in _OUT else None
        words = [*words[:-1], _stem(words[-1])]
        name = " ".join(words)
        head = noun_singular(words[-1])
        if words[0] in self.lexicon.words["colours"] and len(words) == 1:
            return []
        if self.inward and len(words) == 1 and words[0] in _UNPLUGGED:
            return [f"Plug in the {name}."]
        known = self.lexicon.is_noun(head) or head in _LINKS | _STUCK | _PUSHED_IN
        if not known and (len(words) > _NAME_WORDS or not self._strange(head)):
            return None
        turn = []
        if place in _IN - {"done", "tight"} and head in self.gone and not self.back:
            turn = self._turn()
        own = self.topic.name.split()
        if own and noun_singular(own[-1]) == head and len(words) == 1:
            name = self.topic.name
        if head in _LINKS:
            if self.maybe and len(words) == 1:
                self.topic = _Topic(self.maybe)
            if len(words) > 1 and name != self.topic.name:
                self.topic = _Topic(name)
            self.topic.link = self._link_name(words) if name != self.topic.name else name
            self.topic.name = self.topic.name or self.topic.link
            return [*turn, *self._act_on_link(place)]
        if head in _FASTENERS and self.topic.name:
            key = f"screws of {self.topic.head}"
            self.topic.screw_word = head
            self.topic.screws = self.topic.screws or self.counts.get(key)
            return self._screws_done() or None
        left = []
        if place in _OUT | _UP and not self.back and head not in _STUCK | _SPREAD | _CATCHES:
            left = [*self._screws_done(), *self._act_on_link("off")]
        if head not in _STUCK | _SPREAD | _CATCHES and name != self.topic.name:
            self.topic = _Topic(name)
        return [*turn, *left, *self._part_moves(name, place)]

    def _strange(self, word: str) -> bool:
        """True for a word that nobody knows: a name, if it stands where a name does."""
        lexicon = self.lexicon
        used = any(word in group for group in lexicon.words.values())
        return word.isalpha() and not used and not lexicon.verb_of(word, "base", "s", "ing", "past")

    def _switched(self, words: list[str]) -> bool:
        return not self.begun and _stem(words[0]) in _SWITCHED and len(words) == 1

    def _part_moves(self, name: str, place: str) -> list[str]:
        head = noun_singular(_last(name))
        self.begun = True
        out = place in _OUT or (place in _UP and not self.back)
        self.topic.moved = True
        if head in _CATCHES:
            return [f"{'Release' if out else 'Close'} the {name}."]
        if head in _STUCK:
            return [f"Peel off the {name}." if out else f"Apply the {name}."]
        if head in _SPREAD:
            return [f"Clean off the {name}." if out else f"Apply the {name}."]
        if head in _LINKS:
            self.topic.link = name
            return self._act_on_link(place)
        if out:
            self.gone.add(head)
            return [f"{'Lift up' if place in _UP else 'Take out'} the {name}."]
        self.topic.coming = True
        if head in ("charger", "adapter", "mains"):
            return [f"Plug in the {name}."]
        return [f"Push in the {name}." if head in _PUSHED_IN else f"Put the {name} back on."]

    def _turn(self) -> list[str]:
        self.back = True
        self.topic = _Topic()
        return ["Right, back together."]

    def _named(self, words: list[str]) -> list[str] | None:
        """A thing that is only named: the topic from here on, or one of its items."""
        if not words:
            return None
        head = noun_singular(words[-1])
        if head in _TOOLS or (self.topic.name and _EDGE.match(" ".join(words))):
            edge = bool(_EDGE.match(" ".join(words)))
            return ["Release the clips."] if edge and not self.back else []
        if words[0] in ("new", "fresh") and head in _SPREAD and self.back:
            return [f"Apply the {' '.join(words)}."]
        if head in _SPREAD and self.back and len(words) == 1:
            return [f"Apply the {words[0]}."]
        category = self.lexicon.category((head,))
        topic = self.topic
        if (
            noun_singular(topic.head if topic.name else "") in _LINKS
            and topic.link
            and len(words) == 1
        ):
            if words[0] not in self.lexicon.words["colours"]:
                kind = noun_singular(topic.head)
                self.items.setdefault(kind, []).append(words[0])
                self.counts[kind] = len(self.items[kind])
            return []
        if category not in _TOPICS and head not in _LINKS | _PUSHED_IN:
            plain = self.piece.ends and not self.lexicon.words["adverbs"].intersection(words)
            if plain and len(words) <= _NAME_WORDS and head not in ("one", "thank"):
                self.named = " ".join(words)
            return None
        if head in _LINKS and len(words) == 1 and topic.name and words[0] == head:
            topic.link = self._link_name(words)
            return self._act_on_link("in") if self.inward else []
        left = [] if self.back else [*self._screws_done(), *self._act_on_link("off")]
        self.topic = _Topic(" ".join(words))
        if head in _LINKS:
            self.topic.link = self.topic.name
        else:
            self.part = self.topic.name
        return left

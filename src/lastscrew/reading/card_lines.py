"""One line of a field card said as orders: "Top cover: 6 screws T8, out", "fan lead, unplug".

A line names its subject ("Fan:", "Battery connector,", "P1, P2 -") and pieces between commas: screws, what becomes of a
thing ("lid off"), an order ("unplug", "slide out"), a thing alone (what the next piece is about, or itself the
work), or a detail of the piece before it (a size, a torque, "crosswise").
"""

from __future__ import annotations

import re
from dataclasses import replace

from lastscrew.reading.card_acts import FOR_LINKS, IN, OUT, PARTICLES, PIECES, CardActs
from lastscrew.reading.card_screws import Screws, parse_screws
from lastscrew.reading.card_words import (
    DESIGNATOR,
    DETAIL,
    HAS_NOUN,
    IS_NOUN,
    METRIC,
    NOUN,
    ORDERS,
    PLACES,
    SIZES,
    SPLIT,
    article,
)

_STATES = (
    r"pull straight out|straight out|(?:up|down|back|forwards?|rearwards?) (?:and|&) (?:off|out|away|clear|up)|up and (?:out|off)|down and out|up & (?:out|off)|back & off|back and off|down & out|out and away|"  # noqa: E501
    r"back (?:in|on|out|off)|swung (?:open|out|clear|aside)|off|out|in|on|free|clear|open|up|down|closed|shut|tight|unplugged|removed|undone|loosened|"  # noqa: E501
    r"disconnected|refitted|fitted|connected|forwards?|rearwards?|backwards|sideways|away|aside|apart|loose|back|home|released|unlocked|locked|peeled|lifted|pulled|cut|unclipped|unhooked|hooked"
)
_STATE = re.compile(
    rf"^(?:the )?(?P<thing>[\w/&+' -]+?(?: \([^)]*\))?)(?:\s*[x×]\s?(?P<count>\d{{1,2}}))?,?\s+(?P<state>{_STATES})"
    r"(?:\s*[x×]\s?(?P<behind>\d{1,2}))?(?P<rest>\s+(?:of|from|into|until|till|on|onto|to|with|w/|through|thru|at|by|over|against|under|behind)\b.*|\s*\([^)]*\))?$",
    re.IGNORECASE,
)  # fmt: skip
_SIDED = re.compile(
    r"^(?:the )?(?P<thing>[\w/&+' -]+?)\s+(?P<state>off|out of|out from|from|into|onto|on to|on|in|over|round|around|through|thru)\s+(?:the |both )?(?P<place>[\w/&+' -]+)$",  # noqa: E501
    re.IGNORECASE,
)
_SUBJECT = re.compile(
    r"^(?P<thing>[A-Za-z][\w/&+,.' -]{0,44}?)(?:\s*[x×]\s?(?P<count>\d{1,2}))?(?P<note>\s*\([^)]*\))?\s*(?::|\s[-–—=]|\s?=)\s+(?P<rest>.+)$"  # noqa: E501
)
_REFIT = re.compile(
    r"^\W*(?:refit(?:ting)?|reassembly|reassemble|assembly|installation|install|fit(?:ting)?|build(?: up)?|close)\b", re.IGNORECASE  # noqa: E501
)  # fmt: skip
_BACKWARDS = re.compile(
    r"(?:in )?(?:the )?revers|as above,? (?:but )?(?:in )?(?:the )?(?:revers|backward|other way)|backward|opposite",
    re.IGNORECASE,
)
_HELD = re.compile(
    r"^(?P<thing>[\w/&' -]+?)\s+(?:is |are )?(?:held|fixed|secured|fastened|retained|attached|clamped|mounted|sits|hangs|screwed|clipped)\s*(?:(?:down|in|up)\s+)?(?:by|with|w/|on|using)\s+(?P<by>.+)$",  # noqa: E501
    re.IGNORECASE,
)
_HAS = re.compile(r"^[\w/&' -]+\s+(?:has|have|is|are|stays?|remains?)\b", re.IGNORECASE)
_MOVES = re.compile(
    r"^(?P<thing>[\w/&' -]+?)\s+(?P<verb>slides|lifts|drops|comes|pulls|pops|swings|hinges|tips|falls|unscrews|unclips|unplugs|goes|snaps|clips|pushes|plugs)\b\s*(?P<rest>.*)$",  # noqa: E501
    re.IGNORECASE,
)
_REDIRECT = frozenset(
    ["out", "off", "remove", "undo", "undo fully", "unscrew", "loosen", "loosen and remove", "refit", "tighten", "tight", "in", "on", "fit", "back off", "slacken", "undone", "loose", "back"]  # noqa: E501
)  # fmt: skip
_SENTENCES = re.compile(r"(?<=[a-z\d)])[.!]\s+(?=[A-Z][\w /-]{1,24}(?::|\s[-–—=])\s)")
"""Ends of sentences behind which another subject stands."""
_SCREWS_FIRST = re.compile(
    rf"^(?P<noun>{NOUN})\s+(?:under|at|in|on|behind|below|inside|along|round)\b.*$", re.IGNORECASE
)
_HELD_PAIR = re.compile(
    r"^(?P<held>[A-Za-z][\w-]*(?: [\w-]+)?)\s*(?:/|\s(?:to|onto|into)\s)\s*(?P<host>[A-Za-z][\w-]*(?: [\w-]+)?)$"
)
_RING = re.compile(
    r"(?:unscrew|undo|turn|twist|loosen|slacken) (?:the )?(?:ring|collar|sleeve|nut|bayonet)$"
)
_SQUEEZING = frozenset(["squeeze", "pinch", "press", "rock", "wiggle", "grip", "hold"])


class CardLine(CardActs):
    """Reads one line."""

    def read(self, bare: str) -> str:
        """The line as sentences; ``""`` where nothing in it is telegraphic."""
        bare = re.sub(
            r"(?<![\w/])(\d+)\s*\+\s*(\d+)(?=\s*(?:[x×]|[MT]\d|(?:\w+ )?(?:screws?|bolts?|nuts?)\b))",
            lambda match: str(int(match[1]) + int(match[2])),
            bare,
        )
        bare = re.sub(r"(?<=[a-z]) \+(?=\s\d)", ",", bare)
        bare = re.sub(r" > (?=(?:off|out|in|on)\b)", " ", bare)
        bare = re.sub(r"(?<=[\w)]) > (?=[a-z])", " to ", bare).replace(" @ ", " at ")
        bare = re.sub(r"\s+(?:as one|as a unit|together|complete|in one piece)\b", "", bare)
        bare = re.sub(
            r"\b(forwards?|rearwards?|back(?:wards)?|up|down)\s+~?\d+ ?(?:mm|cm)\b", r"\1", bare
        )
        bare = re.sub(
            r"\b(nuts?|screws?|bolts?)\s*\+\s*(?:star |lock ?|flat |spring )?washers?\b",
            r"\1",
            bare,
        )
        bare = re.sub(r"^((?:\d{1,2}\s?[x×]?|[x×]\s?\d+)\b[^:;]*):\s(?=\d).*$", r"\1", bare)
        bare = re.sub(r"^((?:\d{1,2}\s?[x×]?|[x×]\s?\d+)\b[^:;]*):\s", r"\1, ", bare)
        for sentence in _SENTENCES.split(bare):
            pieces = self._pieces(self._subject(sentence.strip()))
            for index, piece in enumerate(pieces):
                self._piece(piece, last=index + 1 == len(pieces))
            self.flush(at_end=True)
        return " ".join(row.order() if isinstance(row, Screws) else row for row in self.said)

    def _subject(self, bare: str) -> str:
        found = _SUBJECT.match(bare)
        if found is None:
            return bare
        if "," in found["thing"] and not DESIGNATOR.match(found["thing"].strip()):
            name, _, more = found["thing"].partition(",")
            if self.is_order(name) or _STATE.match(name) or parse_screws(name, refit=self.refit):
                return bare
            self.subject, self.count = self.with_count(name.strip())
            return f"{more.strip()}, {found['rest']}"
        thing = re.sub(r"^(?:each|every|ea\.?)\s+", "", found["thing"].strip(), flags=re.IGNORECASE)
        if _REFIT.match(thing) and len(thing.split()) <= 2:
            self.refit = True
            if _BACKWARDS.match(found["rest"]):
                self.say("Refitting is the reverse of removal.")
                return re.sub(r"^[^.;,]*[.;,]?\s*", "", found["rest"])
            return found["rest"]
        if re.match(r"^(?:each|both|either) (?:side|end)\b", found["thing"], re.IGNORECASE):
            return found["rest"]
        if _SCREWS_FIRST.match(thing) and re.match(r"\d", found["rest"]):
            return found["rest"]
        stated = _STATE.match(thing)
        if stated is not None and ":" in bare[len(thing) : len(thing) + 3]:
            self.say(self.stated(stated))
            self.listing = self.is_link(stated["thing"])
            return found["rest"]
        if IS_NOUN.match(thing):
            plain = re.sub(r"\([^)]*\)", "", found["rest"])
            parts = re.findall(r"(?:^|[,;+]\s*)(\d{1,2})\s+(?![x×]\b)[a-z]", plain)
            if len(parts) > 1 and len(parts) == len(re.split(r"[,;+]", plain)):
                return f"{sum(int(part) for part in parts)} {thing}"
            return f"{thing}, {found['rest']}"
        row = thing.lower().split()
        named = self.category(thing) != "unknown" and row[1:2] not in (
            ["the"],
            ["all"],
            ["both"],
            ["out"],
            ["off"],
        )
        if (self.is_order(thing) and not named) or stated or parse_screws(thing, refit=self.refit):
            return (
                re.sub(r"\s*(?::|\s=)\s", ", ", bare, count=1)
                if "=" in bare or stated is None
                else bare
            )
        if re.match(r"^(?:except|exception|but)\.?$", thing, re.IGNORECASE):
            return found["rest"]
        self.subject, self.count = thing, found["count"] or ""
        inside = (found["note"] or "").strip(" ()")
        if inside:
            self._screws(inside)
        return found["rest"]

    def _pieces(self, rest: str) -> list[str]:
        """Pieces between commas; a size, a count or a torque stays with the screws before it."""
        rows: list[str] = []
        for raw in SPLIT.split(rest):
            for part in self._parted((raw or "").strip()):
                if rows and self._completes(rows[-1], part):
                    rows[-1] = f"{rows[-1]}, {part}"
                else:
                    rows.append(part)
        return rows

    def _parted(self, piece: str) -> list[str]:
        """As in "bar + 2x T20", "lid off then pull fan": two pieces without a comma."""
        if not piece:
            return []
        ends = [end.strip() for end in re.split(r"\s*(?:->|→)\s*", piece)]
        if len(ends) > 1 and not any(
            self.is_order(end) or _STATE.match(end) for end in ends[1:] if end
        ):
            if all(DESIGNATOR.match(end) for end in ends):
                return [" and ".join(ends) + (" on" if self.refit else " off")]
            if len(ends) == 2 and self.is_link(ends[0]):
                way = "into" if self.refit or self.closing() else "off"
                return [f"{ends[0]} {way} {ends[1]}"]
        halves = re.split(
            r"\s+(?:\+|&|and|then|with|w/)\s+(?=\d{1,2}\s?(?:[x×]|[a-z-]*\s?(?:scr|bolt|nut|clip|screws?)\b)|[x×]\d)|\s+then\s+|\s*->\s*",
            piece,
        )
        return [half.strip() for half in halves if half and half.strip()]

    def _completes(self, before: str, piece: str) -> bool:
        """As in "screws, M2x4, qty 6", "strap screw, 1 x M3", "FC x2, disconnect"."""
        if re.fullmatch(
            rf"(?:\d{{1,2}}\s?[x×]?\s*|qty\.?:?\s*\d{{1,2}}|[x×]\s?\d{{1,2}})?{SIZES}(?:plastic|brass|nylon|long|short)?",
            piece,
            re.IGNORECASE,
        ):
            return bool(
                re.search(
                    rf"(?:screws?|bolts?|nuts?|standoffs?|rivets?)(?:,? {SIZES})?$",
                    before,
                    re.IGNORECASE,
                )
            )
        return False

    def _piece(self, piece: str, *, last: bool) -> None:
        piece = re.sub(r"^(?:and|then|&|now|next|also)\s+", "", piece.strip(), flags=re.IGNORECASE)
        piece = re.sub(r"\s+(?:and|&|\+)\s+(?=(?:off|out|away)\b)", " and ", piece)
        low = piece.lower().strip(" .!")
        if not low:
            return
        if low in ("crosswise", "diagonally", "diag", "in order", "criss-cross") and self.said:
            self._ordered_how(low)
            return
        if self._breakdown(low) or re.match(r"(?:tighten|loosen|slacken) \d to \d", low):
            return
        if low in ("tight", "stiff") and not self.refit and not self._fastened():
            return
        if self.refit and self.said and METRIC.match(piece) and self._screws(piece):
            return
        if DETAIL.match(low) and not (low == "captive" and self.pending):
            if (
                low == "captive"
                and self.said
                and isinstance(self.said[-1], Screws)
                and not self.refit
            ):
                self.said[-1] = replace(self.said[-1], verb="Loosen")
            return
        if low in _REDIRECT and self._redirect(low):
            return
        if self._screws(piece):
            return
        self._other(piece, low, last=last)

    def _fastened(self) -> bool:
        return (bool(self.said) and isinstance(self.said[-1], Screws)) or self.category(
            self.pending or self.subject
        ) == "fastener"

    def _ordered_how(self, low: str) -> None:
        said = self.said[-1]
        if isinstance(said, Screws):
            self.said[-1] = replace(said, crosswise=low != "in order")
        else:
            how = "numerical" if low == "in order" else "crosswise"
            self.said[-1] = f"In {how} order {said[:1].lower()}{said[1:]}"

    def _breakdown(self, low: str) -> bool:
        """As in "8 screws, 6 top, 2 under label": how many of them are where."""
        said = self.said[-1] if self.said else None
        match = re.match(
            r"^(\d{1,2})\s?(?:[x×]\s?)?(more )?(?:(?:at|in|on|under|behind|per|each|top|bottom|rear|front|left|right|long|short|inside|sides?|inner|outer|hidden|below|above)\b.*)$",  # noqa: E501
            low,
        )
        if match is None or not isinstance(said, Screws):
            return False
        if match[2] and said.count.isdigit():
            self.said[-1] = replace(said, count=str(int(said.count) + int(match[1])))
        return True

    def _screws(self, piece: str) -> bool:
        """Say the screws that a piece names."""
        if self.is_order(piece.lower()) and not piece[:1].isdigit():
            return False
        said = self.said[-1] if self.said else None
        hosted = re.match(
            r"^(\d{1,2})\s?(?:[x×]\s)?(?:to|into|onto|in|on)\s+(?P<host>[\w/-]+(?: [\w/-]+)?)$",
            piece,
        )
        if hosted and isinstance(said, Screws):
            self.say(replace(said, count=hosted[1], host=hosted["host"]))
            return True
        pair = _HELD_PAIR.match(piece)
        if (
            pair
            and isinstance(said, Screws)
            and self.category(pair["held"]) in PIECES
            and self.category(pair["host"]) in PIECES
        ):
            self.said[-1] = replace(said, owner=pair["held"], host=pair["host"])
            return True
        screws = parse_screws(piece, refit=self.closing())
        if screws is None:
            return False
        if screws.more and isinstance(said, Screws) and said.count.isdigit():
            self.said[-1] = replace(said, count=str(int(said.count) + int(screws.count or 0)))
            return True
        if (
            not screws.count
            and screws.noun.endswith("s")
            and not screws.sizes
            and not self.refit
            and not self.said
            and not screws.owner
            and len(piece.split()) < 2
        ):
            return False
        self.flush(owner=True)
        owner = screws.owner or self._owner_of_screws()
        if owner and (self.category(owner) == "fastener" or owner[:1].isdigit()):
            owner = ""
        if self.is_link(owner) and "terminal" not in owner:
            owner = owner if screws.noun.startswith("grub") or screws.sizes else ""
        self.say(replace(screws, owner=owner))
        return True

    def _owner_of_screws(self) -> str:
        return self.pending or self.subject or self.topic

    def _redirect(self, low: str) -> bool:
        """As in "8 screws, out", "strap screw, tighten": the state belongs to the screws just named."""
        said = self.said[-1] if self.said else None
        if not isinstance(said, Screws) or self.pending:
            return False
        verb = {
            "loosen": "Loosen",
            "undo fully": "Loosen",
            "back off": "Loosen",
            "slacken": "Loosen",
            "loose": "Loosen",
        }.get(low) or (
            "Tighten"
            if low in ("refit", "tighten", "tight", "in", "on", "fit", "back")
            else "Remove"
        )
        if not (said.verb == "Loosen" and verb == "Remove" and low != "loosen and remove"):
            self.said[-1] = replace(said, verb=verb)
        return True

    def _other(self, piece: str, low: str, *, last: bool) -> None:
        bare = re.sub(r"\s*\([^)]*\)\s*$", "", low)
        verb = OUT.get(bare) or IN.get(bare, "")
        if verb and bare in ("back", "up", "down"):
            verb = "Refit" if self.refit else verb
        if verb:
            if self.refit and bare == "push":
                verb = "Push in"
            if (self.pending or self.subject or self.topic) and not self.gone_already(bare):
                self.act(verb)
            return
        if self._new_one(piece, low) or self._held_by(piece) or self._moves(piece):
            return
        order = self.is_order(low)
        if not order and self._verb_behind(piece):
            return
        state = _STATE.match(piece)
        bare_piece = re.sub(r"\s*\([^)]*\)", "", piece)
        sided = None if order or state else _SIDED.match(bare_piece)
        if state is not None and not order:
            self.flush()
            owner = self.subject or self.topic
            if self.category(state["thing"]) == "place" and owner:
                self.pending = owner
                self.act(OUT.get(state["state"].lower(), "Lift up"))
                return
            self.say(self.stated(state))
            if self.category(state["thing"]) not in ("lock", "clip", "button", "fastener"):
                self.subject = self.subject or state["thing"]
        elif order:
            if (
                bare.split()[0] in _SQUEEZING
                and not last
                and self.is_link(self.pending or self.subject)
            ):
                return
            ring = self.is_link(self.subject) and _RING.match(bare)
            if self._idle(bare) or (ring and not last):
                return
            said = self.ordered(piece)
            self.subject = self.subject or self.pending
            self.flush(verb=piece)
            self.say(said)
        elif sided is not None and self._from_place(sided):
            return
        else:
            self._named(piece)

    def _idle(self, bare: str) -> bool:
        """As in "pull both sides" of a part with clips, "push 4 corners" once it is on: no work of its own."""
        words = bare.split()
        placed = len(words) > 1 and all(word in PLACES or word[:1].isdigit() for word in words[1:])
        if words[0] == "pull" and placed and {"sides", "both"} & set(words):
            return True
        before = self.said[-1] if self.said else ""
        return (
            words[0] in ("push", "press", "clip", "snap")
            and placed
            and isinstance(before, str)
            and before.startswith(("Refit", "Insert", "Fit"))
        )

    def _new_one(self, piece: str, low: str) -> bool:
        """As in "new gasket", "fit new", "new paste thin"."""
        renewed = re.match(
            r"^(?:fit|and fit|with|insert|use) new(?: one)?(?: (?:in|on)\b.*)?$", low
        )
        if renewed and (self.pending or self.subject):
            self.say(f"Fit the new {article(self.pending or self.subject)[4:]}.")
            self.pending = ""
            return True
        new = re.match(
            r"^(?:fit |apply |use )?(?:new|fresh|replacement) (?P<thing>[\w/&+' -]+?)(?: (?P<side>in|on))?(?: (?:thin|sparingly|all round))?$",  # noqa: E501
            piece,
            re.IGNORECASE,
        )
        if new is None or parse_screws(piece, refit=True):
            return False
        self.flush()
        named, count = self.with_count(new["thing"])
        category = self.category(named)
        side = (new["side"] or "").lower()
        verb = (
            "Apply"
            if category in ("film", "supply", "residue")
            else "Insert"
            if category == "card" or side == "in"
            else "Fit"
        )
        self.refit = True
        self.say(f"{verb} the {f'{count} ' if count else ''}new {named}.")
        if category not in ("film", "supply", "residue") or not self.subject:
            self.subject = f"new {named}"
        return True

    def _held_by(self, piece: str) -> bool:
        """As in "board held by 6 clips + 1 screw": what holds it is what is undone."""
        held = _HELD.match(piece)
        if held is None:
            return False
        self.flush()
        self.subject = held["thing"]
        for one in re.split(r"\s*(?:\+|&|,|\band\b)\s*", held["by"]):
            if not self._screws(one):
                self._named(one)
                self.flush(at_end=True)
        return True

    def _moves(self, piece: str) -> bool:
        """As in "tray slides out": told of, and so the work."""
        moves = _MOVES.match(piece)
        if moves is None or self.category(moves["thing"]) in ("unknown", "text", "tool", "body"):
            return False
        self.flush()
        verb = self.lexicon.verb_of(moves["verb"].lower(), "s") or moves["verb"]
        self.say(
            f"{verb.capitalize()} {moves['rest']} {article(moves['thing'])}.".replace("  ", " ")
        )
        self.subject = self.subject or moves["thing"]
        return True

    def _verb_behind(self, piece: str) -> bool:
        """As in "Knobs pull off", "lead unplug from board": the thing stands before its verb."""
        words = piece.split()
        for k in range(1, min(5, len(words))):
            low = words[k].lower().strip(",.")
            if low in ("has", "have", "is", "are"):
                return False
            if low not in ORDERS or not self.lexicon.verb_of(low, "base"):
                continue
            follow = words[k + 1] if k + 1 < len(words) else ""
            if low == "plug" and follow.lower() != "in":
                continue
            thing = " ".join(words[:k])
            if self.category(thing) in ("unknown", "text", "place") and not self.is_link(thing):
                return False
            end = k + 1
            while end < len(words) and words[end].lower() in PARTICLES:
                end += 1
            self.flush()
            self.pending, self.pending_count = self.with_count(thing)
            tail = " ".join(words[end:])
            particle = " ".join(words[k + 1 : end])
            count = re.search(r"\((\d{1,2})\)|[x×](\d{1,2})", tail)
            self.pending_count = (
                next((g for g in count.groups() if g), "") if count else self.pending_count
            )
            key = f"{low} {particle}".strip()
            self.act(
                OUT.get(key) or IN.get(key) or key.capitalize(),
                re.sub(r"\s*\([^)]*\)|[x×]\d+", "", tail),
            )
            return True
        return False

    def _from_place(self, sided: re.Match[str]) -> bool:
        """As in "CN1 + CN2 off main board", "encoder onto shaft", "belt round both pulleys"."""
        thing, count = self.with_count(sided["thing"])
        way = sided["state"].lower()
        if way in ("on", "in", "over", "round", "around", "through", "thru") and not self.refit:
            return False
        if self.category(thing) == "unknown" and not self.is_link(thing) and len(thing.split()) > 2:
            return False
        self.flush()
        outward = way in ("off", "out of", "out from", "from")
        link = (
            "from"
            if outward
            else "through"
            if way in ("through", "thru")
            else "onto"
            if way not in ("into", "in")
            else "into"
        )
        verb = "Remove" if outward else "Refit" if link == "onto" else "Insert"
        verb = FOR_LINKS.get(verb, verb) if self.is_link(thing) else verb
        self.say(f"{verb} {self.counted(thing, count)} {link} {article(sided['place'])}.")
        self.subject = thing
        return True

    def _named(self, piece: str) -> None:
        """A thing alone ("antenna coax x2", "P7"): what the next pieces are about; else the piece as it stands."""
        bare = re.sub(r"\s*\((?![x×\d]+\))[^)]*\)\s*$", "", piece).strip(" .")
        if self.is_link(self.subject):
            where = re.search(
                r"\s+(?:on|at|from)\s+(?:the )?(?P<place>[\w/-]+(?: [\w/-]+)?)$", bare
            )
            if where:
                self.place, bare = where["place"], bare[: where.start()]
        thing, count = self.with_count(bare)
        category = self.category(thing)
        if self.listing and self.is_link(thing):
            return
        if category in ("place", "text", "tool", "body") and (
            self.said or self.subject or self.pending
        ):
            return
        known = category != "unknown" or count or DESIGNATOR.match(thing)
        plain = re.match(r"^[\w/&+,' -]+$", thing) is not None
        if not known or not plain or _HAS.match(piece):
            if not self.said and not self.pending:
                self.say(f"{piece}.")
            return
        if (
            self.subject
            and category == "connector"
            and self.is_link(self.subject)
            and self.subject != thing
            and not DESIGNATOR.match(thing)
        ):
            self.pending, self.pending_count = self.subject, count
            return
        if category == "unknown" and self.subject and self.is_link(self.subject.split(" at ")[0]):
            if DESIGNATOR.match(thing) and not self.said:
                thing = (
                    f"{self.subject} and {thing}"
                    if DESIGNATOR.match(self.subject)
                    else self.subject
                )
                self.pending, self.pending_count = thing, ""
                self.subject = thing
                return
            thing = f"{thing} {self.subject.split(' at ')[0].split()[-1].lower()}"
        if self.pending and DESIGNATOR.match(self.pending) and DESIGNATOR.match(thing):
            self.pending = f"{self.pending} and {thing}"
            return
        self.flush()
        self.pending, self.pending_count = thing, count


def is_terse_piece(bare: str) -> bool:
    """True where a piece of the line is screws or a state without a verb."""
    pieces = [piece.strip() for piece in SPLIT.split(bare) if piece and piece.strip()]
    return any(_STATE.match(piece) or _TERSE_SCREWS.match(piece) for piece in pieces)


_TERSE_SCREWS = re.compile(rf"^\d{{1,2}}\s?[x×]?\s*{SIZES}(?:{HAS_NOUN.pattern})?\b", re.IGNORECASE)

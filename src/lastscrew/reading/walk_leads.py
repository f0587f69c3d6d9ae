"""The head of a list lends its verb to the items beneath it: "Disconnect the following plugs:"."""

from __future__ import annotations

from dataclasses import replace

from lastscrew.reading.blocks import Block
from lastscrew.reading.clauses import parse_sentence
from lastscrew.reading.conditions import Parsed
from lastscrew.reading.joining import own_side
from lastscrew.reading.model import Action, Thing
from lastscrew.reading.phrases import Phrases
from lastscrew.reading.predicates import Found
from lastscrew.reading.tokens import Token, tokenise
from lastscrew.reading.walk_lists import mark_class
from lastscrew.reading.walk_state import WalkState

_TITLE_WORDS = 9
_UNNAMED = frozenset(["following", "rest", "remaining", "other", "others"])


class LeadWalk(WalkState):
    """Verbs that the head of a list lends."""

    def _lead_of(self, block: Block, *, item: bool) -> str:
        """The verb that opened the list, for an item or a scrap of it."""
        if item and self.lead_block is not None and self.lead_block is not block:
            opened = self.lead_block
            if block.indent <= opened.indent and mark_class(block.mark) == mark_class(opened.mark):
                self.lead = ""  # the next step: the list under the one before has ended
        short = len(block.text.split()) <= 7 and not block.text.rstrip().endswith(".")
        lead, self.lead = (self.lead if item or short else ""), self.lead if item or short else ""
        return lead

    def _lead_for(self, lead: str, tokens: list[Token], parsed: Parsed, *, item: bool) -> str:
        """The verb that the head of a list lends to this item; "" where the item has one of its own."""
        noted = all(found.weak == "listed" for found in parsed.actions)  # "speaker cable" alone
        bare = noted and not parsed.reasons
        if not lead or not (bare or (item and self._names_only(tokens))):
            return ""
        thing, _ = Phrases(tokens, self.lexicon).phrase(0)
        screws = thing is not None and thing.category == "fastener" and thing.count is not None
        if screws and lead in ("disconnect the", "connect the"):
            return "remove" if lead == "disconnect the" else "tighten"  # "One M4 nut with a washer"
        return lead

    def _names_only(self, tokens: list[Token]) -> bool:
        """As in "the limit switch plug (white, three pins)": an item that opens with the plain name of a plug."""
        thing, end = Phrases(tokens, self.lexicon).phrase(0)
        named = thing is not None and thing.article and thing.category in ("cable", "connector")
        return bool(named) and (end >= len(tokens) or tokens[end].kind == "mark")

    def _drop_lead_action(self) -> None:
        """The items of a list take the place of "the following connectors"."""
        builder = self.current
        if builder is None or not builder.steps:
            return
        last = builder.steps[-1]
        actions = tuple(a for a in last.actions if not (a.things and _is_generic(a.things[-1])))
        if len(actions) < len(last.actions):
            dropped = [a for a in last.actions if a not in actions]
            self.lead_from = dropped[-1].from_ or dropped[-1].to
            builder.steps[-1] = replace(last, actions=actions)

    def _from_lead(self, action: Action) -> Action:
        """As in "Disconnect from the board:" above a list: each of its items comes from the board."""
        if action.from_ or action.klass not in ("disconnect", "connect", "remove"):
            return action
        own = action.joins or (own_side(action.object),)
        return replace(
            action, from_=self.lead_from, joins=tuple(dict.fromkeys([*own, self.lead_from]))
        )

    def _names_the_book(self, sentence: str, block: Block) -> str:
        """``title`` for a line above the first procedure that names the machine or the book, orders nothing."""
        words = sentence.split()
        if self.document.source.spoken or self.document.builders or block.kind != "para":
            return ""
        ends = sentence.rstrip().endswith((".", "!", "?", ":", ";", ","))
        orders = self.lexicon.verb_of(words[0].lower(), "base") if words else ""
        named = orders and self.lexicon.is_noun(words[0].lower())
        short = max(len(line.split()) for line in block.text.splitlines() or [""]) <= _TITLE_WORDS
        return "title" if words and not ends and short and (not orders or named) else ""

    def leads(self, text: str) -> None:
        """As in "Step 3. Connect the leads:": the heading of a step lends its verb to the items beneath it."""
        self._lead_in(text, parse_sentence(tokenise(text, self.lexicon), self.lexicon, item=True))

    def _lead_in(self, sentence: str, parsed: Parsed) -> bool:
        """As in "Remove the following screws:" lends its verb to the bare items beneath it."""
        if sentence.rstrip().endswith(":") and parsed.actions:
            self.lead_from = ""
            found = parsed.actions[-1]
            self.lead = found.lemma + (f" {found.particle}" if found.particle else "") + " the"
            if _plugs_alone(found):  # each item of "Pull out the other plugs:" is unplugged
                joined = (
                    self.lexicon.verbs[found.key].class_of("cable", refitting=True) == "connect"
                )
                putting = joined or found.lemma in ("insert", "push", "put", "plug", "press")
                self.lead = "connect the" if putting else "disconnect the"
            self.lead_block = None
            return True
        return False


def _is_generic(thing: Thing) -> bool:
    """As in "the following connectors", "the rest plugs", "these leads": the items beneath name them."""
    words = thing.name.lower().split()
    return bool(words) and (words[0] in _UNNAMED or (len(words) == 1 and thing.article == "these"))


def _plugs_alone(found: Found) -> bool:
    """True where nothing but plugs and leads is meant."""
    return bool(found.things) and all(t.category in ("cable", "connector") for t in found.things)

"""Tables of a text: lists of screws by their marks, steps with the marks and numbers of their screws, out beside in."""

from __future__ import annotations

import re
from dataclasses import replace

from lastscrew.reading.blocks import Block
from lastscrew.reading.model import Action, Fact, Step, Thing
from lastscrew.reading.phrases import Phrases
from lastscrew.reading.tokens import tokenise
from lastscrew.reading.walk_state import Builder, WalkState

_ROLES = (
    ("count", r"(?:number|qty\.?|quantity|count|pcs\.?|pieces|how many|no\. of \w+|amount|off)"),
    ("label", r"(?:mark(?:ing)?|ref\.?|letter|id|key|item|index|pos\.?|symbol|code|callout|label)"),
    ("colour", r"(?:colou?r(?: code)?|finish)"),
    ("drive", r"(?:driver|tool|bit|drive|key size|screwdriver|wrench)"),
    (
        "owner",
        r"(?:holds?|where(?: used| it goes| they go| it belongs)?|joins?|secures?|used (?:for|on|in)|location|place|part|fixes|position|belongs to|for|what it holds)",  # noqa: E501
    ),
    (
        "work",
        r"(?:what to do|action|task|instruction|description|work|do this|procedure|operation|how)",
    ),
    ("out", r"(?:out|removal|remove|removing|dismantling|disassembly|taking (?:off|out)|way out)"),
    (
        "in",
        r"(?:in|refit(?:ting)?|install(?:ation|ing)?|fitting|assembly|reassembly|putting back|way in|back)",
    ),
    ("size", r"(?:screws?|fasteners?|type|size|thread|dimensions?|bolts?|fixings?)"),
    ("step", r"(?:steps?|no\.?|nr\.?|#)"),
    ("torque", r"(?:(?:tightening )?torque)"),
)
_HOLDS = re.compile(
    r"^(?:holds?\s+)?(?:the\s+)?(?P<held>[^,;()]+?)\s+(?:to|on|onto|into|in|against|at)\s+(?:the\s+)?(?P<host>[^,;()]+)$|"
    r"^(?P<held2>[^,;()/–]+?)\s*(?:/|–|→|->)\s*(?P<host2>[^,;()]+)$",
    re.IGNORECASE,
)
_MARK = re.compile(r"^[(\[]?([A-Z]{1,2}\d{1,2}|[A-Z]|\d{1,2}|[a-z])[)\]]?$")


def role_of(cell: str) -> str:
    """What a column holds, by its head; ``""`` where the head does not say."""
    bare = re.sub(r"^(?:the|a|an)\s+", "", cell.strip(" *_:.").lower())
    bare = re.sub(r"\s*\([^()]*\)$", "", bare)
    return next((name for name, form in _ROLES if re.fullmatch(form, bare)), "")


class TableWalk(WalkState):
    """Rows of tables."""

    columns: tuple[str, ...] = ()
    """Roles of the columns of the table under way."""
    table_end = 0
    other_half: Builder | None = None
    """The way back that a table tells beside the way out."""

    def head_of_table(self, block: Block) -> bool:
        """True for the row that names the columns."""
        if block.line > self.table_end + 2:
            self.columns, self.other_half = (), None
        self.table_end = block.numbers[-1]
        roles = tuple(role_of(cell) for cell in block.cells)
        named = sum(bool(role) for role in roles)
        if named < 2 or named < len([cell for cell in block.cells if cell.strip()]) - 1:
            return False
        self.columns, self.other_half = roles, None
        return True

    def _cell(self, block: Block, role: str) -> str:
        if role not in self.columns or len(block.cells) < len(self.columns):
            return ""
        shift = 1 if len(block.cells) == len(self.columns) + 1 else 0
        cell = block.cells[self.columns.index(role) + shift].strip()
        return "" if cell in ("–", "-", "—", "·", "") else cell

    def both_halves(self, block: Block) -> bool:
        """As in "Screws | Remove the three screws C. | Refit them.": a row that tells the way out and the way back."""
        out, back = self._cell(block, "out"), self._cell(block, "in")
        if not (out or back) or not {"out", "in"} <= set(self.columns):
            return False
        if out:
            self.memory.refitting = False
            self.sentences(Block("item", out, [block.line]), item=True)
        first = self.current
        if back:
            if self.other_half is None:
                part = first.part if first is not None else self._context_part()
                self.other_half = self._open(part, "refit", block)
            self.current = self.other_half
            self.memory.refitting = True
            self.sentences(Block("item", back, [block.line]), item=True)
            self.current = first if first is not None else self.current
        self.memory.refitting = False
        return True

    def row_of_steps(self, block: Block, cells: list[str]) -> bool:
        """As in "3 | Remove the screws of the plate. | B | 4": an order, with the mark and number of its screws."""
        told = self._cell(block, "work")
        texts = [told] if told else [cell for cell in cells if len(cell.split()) > 2]
        for text in texts:
            tokens = tokenise(text, self.lexicon)
            if tokens and (
                Phrases(tokens, self.lexicon).is_command(0)
                or tokens[0].low in ("using", "with", "use")
            ):
                before = len(self.current.steps) if self.current is not None else 0
                self.sentences(Block("item", text, [block.line]), item=True)
                self._mark_screws(block, before)
                return True
        return False

    def _mark_screws(self, block: Block, before: int) -> None:
        """Give the screws of the steps just read the mark and the number that stand beside them."""
        if self.current is None:
            return
        mark = _MARK.match(self._cell(block, "size") or self._cell(block, "label"))
        number = re.fullmatch(r"[x×]?\s?(\d{1,2})\s?[x×]?", self._cell(block, "count"))
        for s in range(before, len(self.current.steps)):
            step = self.current.steps[s]
            actions = tuple(
                _marked(action, mark[1] if mark else "", int(number[1]) if number else None)
                for action in step.actions
            )
            self.current.steps[s] = (
                Step(step.line, actions, text=step.text, mark=step.mark, reverse_of=step.reverse_of)
                if actions != step.actions and not step.cautions
                else replace(step, actions=actions)
            )

    def row_of_screws(self, block: Block, cells: list[str]) -> bool:
        """As in "A | M4 x 12, captive | 2 | front panel to the frame": how many of which screws hold what."""
        things = [
            Phrases(tokenise(cell, self.lexicon), self.lexicon).phrase(0)[0] for cell in cells
        ]
        screw = next(
            (thing for thing in things if thing is not None and thing.category == "fastener"), None
        )
        size = next((thing.size for thing in things if thing is not None and thing.size), "")
        sized = self._cell(block, "size")
        if not size and screw is None and sized and self._cell(block, "count"):
            size = re.sub(r"\s+", "", sized.split(",")[0])
        numbers = self._numbers(block, cells)
        if (not size and screw is None) or (not numbers and (screw is None or screw.count is None)):
            return False
        count = numbers[-1] if numbers else screw.count if screw is not None else None
        thing = screw or Thing("screws", "screw", "fastener", plural=True)
        label = _MARK.match(self._cell(block, "label") or cells[0])
        colour = self._cell(block, "colour").lower()
        if colour and not thing.colour:
            head = f"{thing.head}s"
            thing = replace(thing, name=f"{colour} {head}", colour=colour, plural=True)
        thing = replace(
            thing,
            count=count,
            label=thing.label or (f"({label[1].lower()})" if label and len(cells) > 2 else ""),
            size=thing.size or size,
            captive=thing.captive or "captive" in " ".join(cells).lower(),
            drive=thing.drive or next((t.drive for t in things if t is not None and t.drive), ""),
        )
        fact = Fact(self._held(block, cells, things), (thing,), block.line, "table")
        self.document.facts.append(fact)
        if self.current is not None:
            self.current.facts.append(fact)
            self._screws_of_step(block, thing)
        self.mark(block, "used")
        return True

    def _screws_of_step(self, block: Block, thing: Thing) -> None:
        """As in "2 | M2.5 x 6 (5)" below "2. Remove the screws.": which step's screws, and how many; rows add up."""
        number = self._cell(block, "step")
        if self.current is None or not number.isdigit() or not isinstance(thing.count, int):
            return
        for s, step in enumerate(self.current.steps):
            if step.mark.strip("().[] ") != number or step.line > block.line:
                continue
            screws = [a for a, action in enumerate(step.actions) if action.fastener]
            if len(screws) != 1:
                return
            action = step.actions[screws[0]]
            told = dict(action.inferred).get("count") == "table"
            if action.count is not None and not told:
                sized = action.size or (thing.size if thing.count == action.count else "")
                rows = [*step.actions]
                rows[screws[0]] = replace(action, size=sized)
                self.current.steps[s] = replace(step, actions=tuple(rows))
                return
            before = action.count if isinstance(action.count, int) else 0
            action = replace(
                action,
                count=before + thing.count,
                size="" if told and action.size != thing.size else thing.size,
                inferred=action.inferred if told else (*action.inferred, ("count", "table")),
            )
            rows = [*step.actions]
            rows[screws[0]] = action
            self.current.steps[s] = replace(step, actions=tuple(rows))
            return

    def _numbers(self, block: Block, cells: list[str]) -> list[int]:
        told = re.fullmatch(
            r"\(?[x×]?\s*(\d{1,3})\s*(?:[x×]|pcs?\.?|pieces)?\)?", self._cell(block, "count")
        )
        if told:
            return [int(told[1])]
        inner = [
            int(match[1])
            for cell in cells
            if (
                match := re.search(
                    r"M\d[^()]*\(\s*(?:x|×|qty\.?:?)?\s*(\d{1,3})\s*(?:x|×|pcs?|screws?)?\s*\)",
                    cell,
                    re.IGNORECASE,
                )
            )
        ]
        return inner or [
            int(match[1])
            for cell in cells
            if (
                match := re.fullmatch(
                    r"\(?(?:x|×)?\s*(\d{1,3})\s*(?:x|×|pcs?\.?|pieces)?\)?",
                    cell.strip(),
                    re.IGNORECASE,
                )
            )
        ]

    def _held(self, block: Block, cells: list[str], things: list[Thing | None]) -> tuple[str, ...]:
        """What the screws of a row hold: the two ends where the cell names two."""
        owner = self._cell(block, "owner") or next(
            (
                cell
                for cell, thing in zip(cells, things, strict=True)
                if thing is not None
                and thing.category not in ("fastener", "pronoun")
                and not thing.size
                and len(thing.name) > 1
                and not thing.name.isdigit()
                and not thing.drive
                and cell not in (self._cell(block, "size"), self._cell(block, "colour"))
            ),
            "",
        )
        pair = _HOLDS.match(owner.strip(" ."))
        if pair is None:
            return (re.sub(r"^the\s+", "", owner),) if owner else ()
        held, host = pair["held"] or pair["held2"], pair["host"] or pair["host2"]
        return (held.strip(), host.strip())


def _marked(action: Action, mark: str, number: int | None) -> Action:
    if not action.fastener or not action.things:
        return action
    last = action.things[-1]
    if mark and not last.label:
        last = replace(last, label=f"({mark.lower()})")
        action = replace(action, things=(*action.things[:-1], last))
    if number is not None and action.count in (None, "all"):
        action = replace(action, count=number)
    return action

"""What screws and cables hold, where the step itself does not say it: from other sentences of the same text."""

from __future__ import annotations

import re
from dataclasses import replace

from lastscrew.reading.fact_index import FactIndex
from lastscrew.reading.joining import own_side
from lastscrew.reading.lexicon.groups import word_group
from lastscrew.reading.likeness import NEARBY, OPENING, flat, put, same_kind, shares, spot_of
from lastscrew.reading.model import Action, Fact, Thing
from lastscrew.reading.walk_state import Builder, Document

OWN_SIDE = frozenset(["cable", "connector", "antenna", "film", "tie"])
_HOLES = word_group("refine_holes")
_LAYING = frozenset(["place", "put", "set", "lay", "position", "plate", "rest"])
_MOVING = frozenset(["remove", "lift", "slide", "release", "peel"])
_NO_PIECE = word_group("refine_no_piece")
_PIECES = frozenset(["part", "board", "card", "cover", "drawer", "antenna"])


class Joiner:
    """Fills in the joins of one procedure."""

    def __init__(
        self, builder: Builder, document: Document, own: FactIndex, told: FactIndex
    ) -> None:
        """Keep the procedure with the statements that stand in it (``own``) and in the text (``told``)."""
        self.builder = builder
        self.document = document
        self.own = own
        self.told = told
        self.rows = flat(builder)

    def fill_in(self) -> None:
        """Give every screw and cable of the procedure what other sentences say of it."""
        for index, (s, a, told) in enumerate(self.rows):
            action = self._without_places(told)
            if action is not told:
                put(self.builder, s, a, action)
                self.rows[index] = (s, a, action)
            better = _without_shorter(self._better(index, action))
            if not better or better == action.joins:
                continue
            name = action.object
            bare = action.fastener and not action.joins and len(name.split()) <= 2
            if bare and not name.lower().startswith(better[0].lower()):
                name = f"{better[0]} {name}"
            inferred = (*action.inferred, ("joins", "other sentences"))
            put(self.builder, s, a, replace(action, joins=better, object=name, inferred=inferred))
            self.rows[index] = (s, a, self.builder.steps[s].actions[a])

    def _without_places(self, action: Action) -> Action:
        """As in "the screws on the left side": a side, a row or a thread holds nothing and is held by nothing."""
        if not action.fastener or not action.joins or self.document.source.spoken:
            return action
        category = self.document.lexicon.category
        kept = tuple(
            name
            for name in action.joins
            if category(tuple(name.lower().split())) not in ("place", "text")
            and name.lower() not in ("own", "threads", "thread")
        )
        return action if len(kept) == len(action.joins) else replace(action, joins=kept)

    def _better(self, index: int, action: Action) -> tuple[str, ...]:
        if action.fastener and len(action.joins) < 2:
            return self._of_screws(index)
        bare_plug = (
            bool(action.joins)
            and action.joins[0] == action.object
            and bool(action.things)
            and (action.things[-1].category == "connector" or self._is_bare(action.things[-1]))
        )
        if action.klass == "peel" and len(action.joins) < 2 and self.document.source.spoken:
            return self._of_tape(action)
        if action.klass in ("disconnect", "connect") and (len(action.joins) < 2 or bare_plug):
            return self._of_the_part(action, self._of_cable(action))
        return ()

    def _of_screws(self, index: int) -> tuple[str, ...]:
        """From a statement near by, else from the part that is moved next (or was placed before)."""
        step, _, action = self.rows[index]
        listed = self._in_a_table(action)
        if listed:
            return listed
        stated = self._stated(action)
        if stated:
            return stated
        known = list(action.joins)
        opening = action.klass in OPENING
        if not opening and not known:
            before = self._opened_before(index)
            if before:
                return before
        neighbours = (
            self.rows[index + 1 : index + 5]
            if opening
            else self.rows[max(0, index - 4) : index][::-1]
        )
        moving = _MOVING if opening else frozenset(["replace", "insert", "slide", "close"])
        for other_step, _, other in neighbours:
            if (
                other.fastener
                or other.klass not in moving
                or not other.things
                or other.things[-1].category in _NO_PIECE
            ):
                continue
            pair = (
                [thing.name for thing in other.things]
                if len(other.things) == 2 and other.klass == "release"
                else [other.things[0].name if len(other.things) > 1 else other.object]
            )
            if not known:
                known = pair
            elif not any(shares(known[0], name) for name in (*pair, *other.joins)):
                own = any(shares(self.builder.part, name) for name in pair) and self.builder.part
                # "Unscrew the hinge screws and lift the lid off" in the procedure of the lid.
                return (
                    (pair[0], *known) if own and not self.document.source.spoken else tuple(known)
                )
            hosts = _hosts_of(other, opening=opening, same_step=other_step == step)
            more = [name for name in hosts if not any(shares(name, old) for old in known)]
            return tuple(dict.fromkeys([*known, *more]))
        if not known and self._is_piece(self.builder.part):
            return (self.builder.part,)
        return tuple(known)

    def _opened_before(self, index: int) -> tuple[str, ...]:
        """As in "tighten both clamping screws": screws of that name that were opened in this procedure."""
        named = self.rows[index][2].things[-1].name.lower()
        if " " not in named:
            return ()
        for _, _, earlier in reversed(self.rows[:index]):
            if earlier.klass in OPENING and earlier.fastener and earlier.things:
                if earlier.things[-1].name.lower() == named:
                    return earlier.joins
        return ()

    def _in_a_table(self, action: Action) -> tuple[str, ...]:
        """As in "screws B" of a table that says what they hold."""
        named = action.things[-1]
        if not (named.label or named.colour or named.size):
            return ()
        return next(
            (
                fact.joins
                for fact in self.told.facts
                if fact.kind == "table"
                and len(fact.joins) > 1
                and any(_listed_as(thing, named) for thing in fact.things)
            ),
            (),
        )

    def _is_piece(self, name: str) -> bool:
        """True where the name of a procedure is that of a part, not of the machine or of a chapter."""
        words = tuple(name.lower().split())
        if not words or len(words) > 4 or name.lower() == self.document.title_part.lower():
            return False
        return self.document.lexicon.category(words) in _PIECES

    def _stated(self, action: Action) -> tuple[str, ...]:
        """As in "The fan is held by three screws": what is said about such screws within six lines."""
        known = list(action.joins)
        elsewhere = [
            fact
            for fact in self.told.near(spot_of(action), NEARBY)
            if fact not in self.own and fact.kind != "table"
        ]
        near = sorted(
            [*self.own.near(spot_of(action), NEARBY), *elsewhere],
            key=lambda fact: (
                spot_of(fact) > spot_of(action),
                abs(spot_of(fact) - spot_of(action)),
            ),
        )
        for fact in near:
            if self.document.source.spoken and spot_of(fact) > spot_of(action) + 1:
                continue  # other screws, told of later
            speaks = any(
                t.category == "fastener"
                and same_kind(t, action.things[-1])
                and (t.count is None or action.count in (None, t.count, *_on_both_sides(t)))
                for t in fact.things
            )
            fits = not known or any(shares(known[0], name) for name in fact.joins)
            if fact.joins and speaks and fits:
                known = [*dict.fromkeys([*known, *fact.joins])]
                return tuple(known) if len(known) > 1 else self._with_host(known, action)
        named = action.things[-1].name.lower()
        if len(named.split()) > 1 and not named.split()[0].isdigit():
            for fact in sorted(self.told.facts, key=lambda f: abs(spot_of(f) - spot_of(action))):
                same = any(thing.name.lower() == named for thing in fact.things)
                if same and len(fact.joins) > 1 and fact.kind != "table":
                    return fact.joins
        hosted = self._with_host(known, action) if known else ()
        return hosted if len(hosted) > 1 else ()

    def _with_host(self, known: list[str], action: Action) -> tuple[str, ...]:
        """As in "The box hangs on the motor. It is fixed there by two screws": where the part sits, said nearest."""
        for fact in sorted(
            self.own.near(spot_of(action)), key=lambda f: abs(spot_of(f) - spot_of(action))
        ):
            bare = not any(t.category in ("cable", "connector") for t in fact.things)
            if bare and len(fact.joins) > 1 and shares(known[0], fact.joins[0]):
                others = [name for name in fact.joins[1:] if not shares(name, known[0])]
                return (known[0], *others[:1])
        return tuple(known)

    def _of_cable(self, action: Action) -> tuple[str, ...]:
        """A statement about the cable that was read before, nearest first."""
        if not action.things:
            return action.joins
        named = action.things[-1]
        if action.count == "all" or (named.plural and named.count is None):
            return action.joins
        for fact in sorted(self._of_two(action), key=lambda fact: self._distance(fact, action)):
            cables = [t for t in fact.things if t.category in ("cable", "connector", "antenna")]
            owner = action.joins[0] if action.joins else ""
            if owner and owner != named.name and not self.document.source.spoken:
                if not any(shares(owner, name) for name in fact.joins):
                    continue  # "the plug of the fan" is not the battery plug of the sentence before
            if any(_same_cable(t, named) for t in cables) or shares(fact.joins[0], named.name):
                return tuple(dict.fromkeys(fact.joins))
        return self._on_the_board(self._of_part(action) or action.joins, action)

    def _is_bare(self, thing: Thing) -> bool:
        """As in "unplug the wire": in a talk only what is told of it says whose wire it is."""
        spoken = self.document.source.spoken and thing.category in OWN_SIDE
        return spoken and own_side(thing.name) == thing.name

    def _of_tape(self, action: Action) -> tuple[str, ...]:
        """As in "there's tape from the fan onto the heat sink; peel it off"."""
        for fact in reversed(self.told.between(spot_of(action) - NEARBY, spot_of(action))):
            if len(fact.joins) > 1 and any(
                t.category == "film" and t.head == action.things[-1].head for t in fact.things
            ):
                return fact.joins
        return ()

    def _of_the_part(self, action: Action, joins: tuple[str, ...]) -> tuple[str, ...]:
        """As in "okay the fan … there's one cable going to the board": a talk means the cable of the part."""
        part = self.builder.part
        thing = action.things[-1] if action.things else None
        if thing is None or not self.document.source.spoken or thing.category not in OWN_SIDE:
            return joins
        others = [name for name in joins if name.lower() != thing.name.lower()]
        bare = own_side(thing.name) == thing.name and len(thing.name.split()) <= 2
        told = [name for name in self._of_part(action) if name.lower() != thing.name.lower()]
        if bare and len(others) == 1 and len(told) == 1 and not shares(told[0], others[0]):
            return (told[0], *others)
        if not bare or len(others) != 1 or not self._is_piece(part) or shares(others[0], part):
            return joins
        return (part, *others)

    def _of_two(self, action: Action) -> list[Fact]:
        """Statements near by that name two ends, read before the step."""
        facts = [*self.own.near(spot_of(action)), *self.told.near(spot_of(action))]
        return [
            fact
            for fact in facts
            if len(fact.joins) >= 2
            and spot_of(fact) <= spot_of(action) + 1
            and not any(thing.category == "fastener" for thing in fact.things)
        ]

    def _distance(self, fact: Fact, action: Action) -> tuple[int, int]:
        shared = max((_overlap(t.name, action.things[-1].name) for t in fact.things), default=0)
        far = abs(spot_of(action) - spot_of(fact))
        return -shared, far if fact in self.own else 1000 + far

    def _of_part(self, action: Action) -> tuple[str, ...]:
        """As in "the switch has two wires on it; those pull off": of a part that the text has just said it of."""
        named = action.things[-1]
        for fact in reversed(self.told.between(spot_of(action) - 2 * NEARBY, spot_of(action))):
            of_it = any(t.name == named.name and t.category in OWN_SIDE for t in fact.things)
            if len(fact.joins) == 1 and of_it:
                return tuple(dict.fromkeys([*fact.joins, *action.joins]))
        return ()

    def _on_the_board(self, joins: tuple[str, ...], action: Action) -> tuple[str, ...]:
        """In the procedure of a board a cable of which only one end is named comes off that board."""
        part = self.builder.part
        words = tuple(part.lower().split())
        ends_named = len(joins) > 1 or action.from_ or action.to
        bare = own_side(action.things[-1].name) == action.things[-1].name and self._is_piece(part)
        bare = bare and not self.document.source.spoken
        on_it = bool(words) and (bare or self.document.lexicon.category(words) == "board")
        if ends_named or not on_it:
            return joins
        own = joins or tuple(dict.fromkeys(own_side(thing.name) for thing in action.things))
        return own if any(shares(name, part) for name in own) else (*own, part)


def _on_both_sides(thing: Thing) -> tuple[int, ...]:
    """As in "two screws on each side … remove all four"."""
    return (2 * thing.count,) if isinstance(thing.count, int) else ()


def _without_shorter(names: tuple[str, ...]) -> tuple[str, ...]:
    """As in "board" beside "output board": one of them."""
    low = [name.lower() for name in names]
    return tuple(
        name
        for name, own in zip(names, low, strict=True)
        if not any(other.endswith(f" {own}") for other in low)
    )


def _listed_as(listed: Thing, named: Thing) -> bool:
    """True where a row of a table speaks of the screws that a step names: by their mark, colour or size."""
    if named.label:
        return listed.label == named.label
    if named.colour:
        return listed.colour == named.colour and listed.head == named.head
    return bool(named.size) and listed.size == named.size and listed.count in (None, named.count)


def _hosts_of(other: Action, *, opening: bool, same_step: bool) -> list[str]:
    """Where the part that was moved comes from, or goes to."""
    hosts = [*other.joins, *([other.from_] if other.from_ else [])]
    laid = other.verb.split()[0] in _LAYING
    if other.to and not opening and (same_step or not laid):
        hosts.append(re.sub(r"^(?:top|side|back|front|bottom) of ", "", other.to))
    return [name for name in hosts if name.lower().split()[-1] not in _HOLES]


def _overlap(left: str, right: str) -> int:
    return len(set(left.lower().split()) & set(right.lower().split()))


def _same_cable(stated: Thing, named: Thing) -> bool:
    """A bare "the cable" is any cable; one with a name before it must share that name."""
    modifiers = set(named.name.lower().split()[:-1])
    if not modifiers:
        return stated.head == named.head or named.head in stated.name.lower().split()
    shared = modifiers & set(stated.name.lower().split())
    return bool(shared) and (
        stated.head == named.head or named.category != stated.category or stated.head in modifiers
    )

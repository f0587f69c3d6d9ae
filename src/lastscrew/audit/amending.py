"""What an account takes from a reading that the reader left open, because a draft may not guess and an audit may.

A reading gives a step only where it is sure of the class. An audit weighs the two halves of a text against each
other, and there the other half often settles what a sentence means: a thing that came off and is then "put in
place" went back; "three M3 pan" that are taken out are screws; "the battery", asked for before, is the part
of the procedure with that name. A text that is told in the passive gives its orders in the passive.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from itertools import pairwise
from typing import Final

from lastscrew.reading.model import Action, Prerequisite, Procedure, Reading, Step, Thing
from lastscrew.reading.naming import plain
from lastscrew.reading.tokens import sentence_spans

_Change = Callable[[Step, Action], Action]

_PUTS: Final = re.compile(
    r"^(?:put|place|set|lay|drop|position|seat|fit|locate|lower|press|pop|slot|line)\b"
)
_PUTS_ASIDE: Final = re.compile(r"\b(?:aside|away|down|over|out|together)\b")
_BENCH: Final = re.compile(
    r"\b(?:aside|bench|table|mat|dish|tray|box|side|cloth|towel|cup|bag|surface|jar|lid of|safe place)\b",
    re.IGNORECASE,
)
_PIECES: Final = frozenset(
    ("part", "cover", "board", "card", "device", "tie", "fastener", "drawer", "film")
)
_TAKES: Final = frozenset(("remove", "lift", "slide", "disconnect", "release", "peel"))
_FIRST: Final = re.compile(
    r"^\W*(?:first(?:ly)?|before (?:you |we |doing |any)?\w*|begin by|start by|to get (?:to|at) (?:it|this))\b",
    re.IGNORECASE,
)
_LED_IN: Final = re.compile(r"^\W*(?:before(?:hand)?|first|prior)\s*[:–—-]\s", re.IGNORECASE)
_THEN: Final = re.compile(r"\bthen\s*[:.…]*\s*$", re.IGNORECASE)
_MUST: Final = re.compile(
    r"^\W*(?:before|prior to)\b[^.;]*?,\s*(?P<rest>[^.;]*\b(?:must|has to|have to|should|needs? to|is|are)\b[^.;]*)",
    re.IGNORECASE,
)
_COMES_FIRST: Final = re.compile(
    r"\b(?:first|beforehand|before (?:that|this|you)|have to|must|need(?:s|ed)? to|required?)\b",
    re.IGNORECASE,
)
_OFF: Final = re.compile(r"\b(?:off|out|away)\b")
_FITTED: Final = re.compile(
    r"^\W*(?:(?:next|then|finally|now|afterwards),? )?(?:the|its) (?P<thing>[\w -]{2,40}?) (?:is|are) "
    r"(?:then |now |again )?(?:re-?)?(?:fitted|installed|mounted|attached|placed|set|laid|hung)\b",
    re.IGNORECASE,
)
_FASTENED: Final = re.compile(
    r"\b(?:screw|bolt|nut|washer|cable|lead|connector|plug)s?\b", re.IGNORECASE
)
_CABLE_LABEL: Final = re.compile(
    r"\b(connector|plug|socket|ribbon|cable|lead)\s+[A-Z]{1,3}\d{1,3}$|\bboard (link)$",
    re.IGNORECASE,
)
_HALF_AT_END: Final = re.compile(r"[\s:–—-]+(out|off|in|on)\W*$", re.IGNORECASE)
_SCREW_BY_SIZE: Final = re.compile(
    r"\bm\d+(?:\.\d+)?\b.*\b(?:hex|pan|csk|countersunk|cap|allen|torx|socket|flat|dome|button|phillips|cross|"
    r"tapping)s?\b|^m\d+(?:\.\d+)?(?:\s*[x×]\s*\d+(?:\.\d+)?)?s?$",
    re.IGNORECASE,
)


def amended(reading: Reading) -> Reading:
    """The reading as the audit takes it; procedures keep their places, lines and words theirs."""
    told = _told_passively(reading)
    procedures = [
        _labelled(_fasteners_named(_finer(reading, _tidy(p)))) for p in reading.procedures
    ]
    if told:
        procedures = [_passive_counts(p) for p in procedures]
    parts = {plain(p.part): p.part for p in procedures if p.kind != "refit" and p.part.strip()}
    held, hosts = _held(procedures)
    procedures = [_named_as_parts(p, held, hosts) for p in procedures]
    procedures = [_asked_before(p, parts) for p in _sections_led_in(procedures, parts)]
    taken = {
        plain(thing.name)
        for procedure in procedures
        for action in procedure.actions()
        if action.klass in _TAKES
        for thing in action.things
    }
    return replace(reading, procedures=tuple(_put_back(reading, p, taken) for p in procedures))


def _told_passively(reading: Reading) -> bool:
    """Half of what the text tells to do, or more, is told in the passive."""
    doing = [a for p in reading.procedures for a in p.actions() if a.klass != "other"]
    return 2 * sum(a.weak == "passive" for a in doing) >= len(doing) > 0


def _each(procedure: Procedure, change: _Change) -> Procedure:
    return replace(
        procedure,
        steps=tuple(
            replace(step, actions=tuple(change(step, action) for action in step.actions))
            for step in procedure.steps
        ),
    )


def _passive_counts(procedure: Procedure) -> Procedure:
    said = ("passive", "done")  # "once the screws have been removed" is often the only word of it
    counted = _each(procedure, lambda _, a: replace(a, weak="") if a.weak in said else a)
    if procedure.kind != "refit":
        return counted
    steps = (replace(step, actions=(*step.actions, *_said_fitted(step))) for step in counted.steps)
    return replace(counted, steps=tuple(steps))


def _said_fitted(step: Step) -> Iterator[Action]:
    """As in "The shield is fitted over the board": a description elsewhere, an order in a refitting half."""
    known = {plain(thing.name) for action in step.actions for thing in action.things}
    for low, high in sentence_spans(step.text):
        match = _FITTED.match(step.text[low:high])
        name = match["thing"].strip() if match else ""
        if not name or plain(name) in known or _FASTENED.search(name):
            continue
        thing = Thing(name, plain(name).split()[-1], "part")
        yield Action("replace", "fit", name, (thing,), line=step.line)


def _tidy(procedure: Procedure) -> Procedure:
    """The part without what a card's heading says of its half: ``BATTERY - OUT`` is about the battery."""
    match = _HALF_AT_END.search(procedure.part)
    if match is None:
        return replace(procedure, part=procedure.part.strip(" .:;,-–—"))
    part = procedure.part[: match.start()].strip(" .:;,-–—")
    kind = procedure.kind
    if kind != "both":
        kind = "removal" if match[1].lower() in ("out", "off") else "refit"
    return replace(procedure, part=part, kind=kind)


# --- steps ------------------------------------------------------------------------------------------


def _finer(reading: Reading, procedure: Procedure) -> Procedure:
    """Steps of a paragraph or of a talk, cut so that each has the words that are about it."""
    cut = _by_caption if reading.source.spoken else _by_sentence
    steps: list[Step] = []
    for step in procedure.steps:
        steps += cut(reading, step) if step.reverse_of < 0 else [step]
    return replace(procedure, steps=tuple(steps))


def _by_caption(reading: Reading, step: Step) -> list[Step]:
    """One step for each caption on which something is done; its words run on into the next caption."""
    lines = reading.source.lines
    rows: list[Step] = []
    for action in step.actions:
        line = action.line or step.line
        if rows and rows[-1].line == line:
            rows[-1] = replace(rows[-1], actions=(*rows[-1].actions, action))
            continue
        text = " ".join(part.text.strip() for part in lines[line - 1 : line + 1])
        cautions = step.cautions if not rows else ()
        rows.append(Step(line, (action,), cautions, text, mark=step.mark))
    return rows or [step]


def _by_sentence(_: Reading, step: Step) -> list[Step]:
    """One step for each sentence; a step in which an action can't be placed stays whole."""
    spans = [(low, high) for low, high in sentence_spans(step.text) if step.text[low:high].strip()]
    if len(spans) < 2 or len(step.actions) < 2:
        return [step]
    texts = [step.text[low:high] for low, high in spans]
    held: list[list[Action]] = [[] for _ in texts]
    at = 0
    for action in step.actions:
        place = next((n for n in range(at, len(texts)) if _named_in(texts[n], action)), None)
        if place is None:
            return [step]
        held[place].append(action)
        at = place
    rows: list[Step] = []
    for text, actions in zip(texts, held, strict=True):
        if actions or not rows:
            rows.append(replace(step, actions=tuple(actions), text=text, cautions=()))
        else:
            rows[-1] = replace(rows[-1], text=f"{rows[-1].text} {text}")
    rows[0] = replace(rows[0], cautions=step.cautions)
    return rows


def _named_in(text: str, action: Action) -> bool:
    verb = action.verb.split()[0].lower() if action.verb else ""
    low = text.lower()
    return (
        bool(verb) and re.search(rf"\b{re.escape(verb[: max(3, len(verb) - 1)])}", low) is not None
    )


# --- parts that no word list has --------------------------------------------------------------------


def _held(procedures: list[Procedure]) -> tuple[frozenset[str], frozenset[str]]:
    """What screws and the like hold, and what they hold it to: each is a thing of its own, whatever it is called."""
    screws = [a.joins for p in procedures for a in p.actions() if a.fastener and not a.inferred]
    held = {plain(joins[0]) for joins in screws if joins}
    hosts = {plain(name) for joins in screws for name in joins[1:]}
    return frozenset(held - {""}), frozenset(hosts - {""})


def _named_as_parts(procedure: Procedure, held: frozenset[str], hosts: frozenset[str]) -> Procedure:
    """Unknown words and "arms" are parts where screws hold them; unknown ones, too, that go where others go."""

    def change(step: Step, action: Action) -> Action:
        if action.fastener or len(action.things) != 1:
            return action
        [thing] = action.things
        name = plain(thing.name)
        if thing.category not in ("unknown", "lock") or not name:
            return action
        if name in held:
            return _moves_a_part(action)
        fresh = procedure.kind == "refit" and thing.category == "unknown" and thing.article != "a"
        if fresh and action.to and plain(action.to) in hosts and _PUTS.match(action.verb):
            return action if _BENCH.search(step.text) else _moves_a_part(action)
        return action

    return _each(procedure, change)


def _moves_a_part(action: Action) -> Action:
    """The action, about a part; one that takes a lock off or slides it on does so with the part."""
    klass = action.klass
    if klass == "release" and _OFF.search(action.verb):
        klass = "remove"
    elif klass in ("close", "other") and action.to and not _PUTS_ASIDE.search(action.verb):
        klass = "replace"
    thing = replace(action.things[0], category="part")
    return replace(action, klass=klass, things=(thing,))


# --- fasteners --------------------------------------------------------------------------------------


def _fasteners_named(procedure: Procedure) -> Procedure:
    """Screws that are named by their size and head alone: ``3 x M3 pan``."""
    return _each(procedure, lambda _, action: _as_screws(action))


def _as_screws(action: Action) -> Action:
    if action.fastener or not any(_is_screw(thing) for thing in action.things):
        return action
    things = tuple(
        replace(thing, head="screw", category="fastener") if _is_screw(thing) else thing
        for thing in action.things
    )
    return replace(action, things=things, fastener="screw")


def _is_screw(thing: Thing) -> bool:
    return thing.category == "unknown" and _SCREW_BY_SIZE.search(thing.name) is not None


def _labelled(procedure: Procedure) -> Procedure:
    """Connectors and cables that are named by a label: ``fan connector P7``, ``ribbon P1``."""
    return _each(procedure, lambda _, action: _as_cables(action))


def _as_cables(action: Action) -> Action:
    """An unknown thing whose name ends in a cable word and a label; pulled out, it is disconnected."""
    matches = [
        _CABLE_LABEL.search(t.name) if t.category in ("unknown", "text") else None
        for t in action.things
    ]
    if not any(matches):
        return action
    things = tuple(
        replace(
            thing,
            head=(match[1] or match[2]).lower(),
            category="cable" if match[1] in ("cable", "lead", "ribbon") else "connector",
        )
        if match
        else thing
        for thing, match in zip(action.things, matches, strict=True)
    )
    klass = "disconnect" if action.klass in ("remove", "slide") else action.klass
    return replace(action, things=things, klass=klass)


# --- what is put back -------------------------------------------------------------------------------


def _put_back(reading: Reading, procedure: Procedure, taken: set[str]) -> Procedure:
    """A thing that came off and is put somewhere that is no bench goes back."""
    off: set[str] = set()

    def change(step: Step, action: Action) -> Action:
        names = {plain(thing.name) for thing in action.things}
        if action.klass in _TAKES:
            off.update(names)
            return action
        if action.klass != "other" or not action.things or not _PUTS.match(action.verb):
            return action
        sentence = _sentence_of(reading, step, action)
        aside = _PUTS_ASIDE.search(action.verb) or _BENCH.search(f"{action.to} {sentence}")
        if aside or not sentence:
            return action
        if action.things[-1].category not in _PIECES:
            return action
        here = action.fastener or names & (off if procedure.kind == "both" else taken)
        if procedure.kind == "removal" or not here:
            return action
        return replace(action, klass="replace")

    return _each(procedure, change)


def _sentence_of(reading: Reading, step: Step, action: Action) -> str:
    """The sentence, or the two captions, in which an action names its object; empty where it does not."""
    thing = action.things[-1]
    head = (thing.head_form or thing.head).lower()
    if reading.source.spoken:
        first = (action.line or step.line) - 1
        said = " ".join(line.text for line in reading.source.lines[first : first + 2])
        return said if head in said.lower() else ""
    for low, high in sentence_spans(step.text):
        if head in step.text[low:high].lower():
            return step.text[low:high]
    return ""


# --- what is asked for before -----------------------------------------------------------------------


def _sections_led_in(procedures: list[Procedure], parts: dict[str, str]) -> list[Procedure]:
    """What stands between the title of a section and its first half is asked for before, if it takes only others off.

    The part that it was read for keeps its place and line, and says nothing more.
    """
    found = list(procedures)
    for index, (lead, half) in enumerate(pairwise(procedures)):
        if lead.kind != "removal" or half.kind != "removal" or not lead.part:
            continue
        if plain(lead.part) != plain(half.part):
            continue
        doing = [a for a in lead.actions() if a.klass != "other"]
        if not doing or not all(_takes_another_off(lead, a, parts) for a in doing):
            continue
        asked = tuple(
            Prerequisite("part", thing.name, a.line or lead.line)
            for a in doing
            for thing in a.things
        )
        known = {plain(item.text) for item in (*lead.prerequisites, *asked)}
        own = tuple(
            item
            for item in half.prerequisites
            if not (item.inferred and {plain(n) for n in item.text.split(" / ")} <= known)
        )
        found[index] = replace(lead, part="", steps=(), prerequisites=())
        found[index + 1] = replace(half, prerequisites=(*lead.prerequisites, *asked, *own))
    return found


def _takes_another_off(lead: Procedure, action: Action, parts: dict[str, str]) -> bool:
    """Takes other parts off that have procedures of their own, or of which a sentence says that they come first."""
    if action.klass not in _TAKES or action.fastener or not action.things:
        return False
    names = {plain(thing.name) for thing in action.things}
    if plain(lead.part) in names:
        return False
    text = next((s.text for s in lead.steps if any(a is action for a in s.actions)), "")
    return names <= set(parts) or _COMES_FIRST.search(text) is not None


def _asked_before(procedure: Procedure, parts: dict[str, str]) -> Procedure:
    """Prerequisites that stand in the first step, and states that name a part with a procedure of its own."""
    own = plain(procedure.part)
    before = [
        replace(item, kind="part") if item.kind == "state" and plain(item.text) in parts else item
        for item in procedure.prerequisites
    ]
    if procedure.kind == "refit":
        return replace(procedure, prerequisites=tuple(before))
    steps: list[Step] = []
    for number, step in enumerate(procedure.steps):
        asked = list(_asked_in(step, own, parts, first=number == 0))
        before += [
            Prerequisite("part", action.object, action.line or step.line)
            for action in asked
            if plain(action.object) not in {plain(item.text) for item in before}
        ]
        kept = tuple(a for a in step.actions if not any(a is one for one in asked))
        steps.append(replace(step, actions=kept))
    return replace(procedure, prerequisites=tuple(before), steps=tuple(steps))


def _asked_in(step: Step, own: str, parts: dict[str, str], *, first: bool) -> Iterator[Action]:
    """Actions of a step that only say what comes off before the work begins."""
    taking = [a for a in step.actions if a.klass in _TAKES and not a.fastener and a.things]
    others = [a for a in taking if plain(a.object) != own]
    doing = [a for a in step.actions if a.klass != "other"]
    led_in = _LED_IN.match(step.text)
    if first and (led_in or _FIRST.match(step.text)) and len(others) == len(doing):
        known = all(plain(a.object) in parts for a in others)
        if led_in or _THEN.search(step.text) or known:
            yield from others
            return
    for action in others:
        if plain(action.object) in parts and _must_be_off(step, action):
            yield action


def _must_be_off(step: Step, action: Action) -> bool:
    """As in "Before the fan is removed, the cover must be removed"."""
    for low, high in sentence_spans(step.text):
        match = _MUST.match(step.text[low:high])
        if match and action.things[-1].head in match["rest"].lower():
            return True
    return False

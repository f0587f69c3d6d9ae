"""Actions of one sentence put in order: counts said behind, the same act said twice, objects that verbs share."""

from __future__ import annotations

import re
from dataclasses import replace

from lastscrew.reading.model import Action, Step

_TOTAL = re.compile(
    r"\b(?:quantity|total(?:ly)?|qty\.?|in total|altogether)\b[^.\d]{0,12}?(\d{1,3})\b(?!\s*(?:mm|cm|V|W|A|g|kg|N|°|%|-|min|sec))|\b(\d{1,3})\s*(?:pieces?|pcs\.?|ea\.?|nos\.?)\b|\b(\d{1,2}) of them\b|\b(?:screws?|bolts?|nuts?)\s+[x×]\s?(\d{1,2})\b",  # noqa: E501
    re.IGNORECASE,
)


def with_total(actions: list[Action], sentence: str) -> list[Action]:
    """As in "remove the screws, quantity total 12 pieces": how many, said behind."""
    match = _TOTAL.search(sentence)
    open_ones = [
        k
        for k, action in enumerate(actions)
        if action.count is None
        and action.things
        and (
            action.fastener
            or action.things[-1].category in ("cable", "connector", "clip", "lock", "part", "film")
        )
    ]
    if match is None or len(open_ones) != 1:
        return actions
    number = int(next(group for group in match.groups() if group))
    if not 0 < number < 200 or any(a.fastener and a.count == number for a in actions):
        return actions
    rows = list(actions)
    rows[open_ones[0]] = replace(rows[open_ones[0]], count=number)
    return rows


def as_optional(actions: list[Action], sentence: str, phrases: tuple[str, ...]) -> list[Action]:
    """As in "(Optional) Remove the filter.", "Remove the card, if fitted.": the work hangs on what is there."""
    if not actions:
        return actions
    if _OPTIONAL_FIRST.match(sentence) or _ONLY_SOME.match(sentence):
        return [replace(action, optional=True) for action in actions]
    low = sentence.lower().rstrip(" .;:)*_")
    if any(low.endswith((f" {phrase}", f"({phrase}")) for phrase in phrases):
        return [*actions[:-1], replace(actions[-1], optional=True)]
    return actions


_OPTIONAL_FIRST = re.compile(r"^\W*optional(?:ly)?\b\W", re.IGNORECASE)
_ONLY_SOME = re.compile(
    r"^\W*(?:(?:if|where|when) (?:(?:so )?(?:installed|fitted|present|equipped|assembled|applicable|available|supplied)"
    r"|there(?:'s| is| are) (?:an?|any|one|some|two)\b[^,]*"
    r"|(?:it|your|the|this) (?:[\w-]+ )?(?:has|comes with|is (?:fitted|equipped) with) (?:an?|the|two|one)\b[^,]*)"
    r"|(?:on|in|for) (?:some|certain|models|versions|units|machines)\b[^,]*),",
    re.IGNORECASE,
)
"""As in "If installed, …", "If there is a shield, …", "On models with a camera, …"."""


def as_captive(action: Action) -> Action:
    """A screw that stays where it is was loosened, whatever the verb said."""
    if not action.fastener:
        return action
    loosened = action.klass == "remove" and action.verb.split()[0] in ("unscrew", "undo")
    return replace(action, captive=True, klass="loosen" if loosened else action.klass)


def said_twice(last: Step, action: Action) -> bool:
    """As in "slide it in … and just push it in": the same act on the same thing in the same breath."""
    before = last.actions[-1]
    generic = (
        action.things
        and len(action.object.split()) == 1
        and action.things[-1].category in ("connector", "cable")
    )
    if (
        generic
        and action.klass == before.klass == "disconnect"
        and action.things[-1].article in ("that", "this", "it")
    ):
        return abs(action.line - last.line) <= 4
    if action.klass == before.klass == "tighten" and action.fastener == before.fastener:
        counts = {action.count, before.count} - {None}
        if len(counts) < 2 and action.things and action.things[-1].article == "the":
            return abs(action.line - last.line) <= 1
    return (
        (action.klass == before.klass or (before.klass, action.klass) == ("slide", "insert"))
        and action.klass != "other"
        and action.object == before.object
        and action.count in (None, before.count)
        and abs(action.line - last.line) <= 2
    )


_PRESSED = frozenset(
    ["press", "press down", "push down", "press in", "push in", "push", "press on"]
)


def _pressed_home(last: Action, action: Action) -> bool:
    """As in "place it in the frame and press it down": the end of putting it there, no act of its own."""
    return (
        action.verb in _PRESSED
        and last.klass in ("replace", "insert", "connect", "apply")
        and action.klass in ("close", "insert", "other", "replace")
        and bool(last.things and action.things)
        and last.things[-1].name == action.things[-1].name
        and last.things[-1].category != "cover"
        and not action.fastener
    )


def one_each(actions: list[Action], *, spoken: bool = False) -> list[Action]:
    """As in "unscrew and remove the bolts" is one action, not two of the same class on the same thing."""
    rows: list[Action] = []
    for action in actions:
        last = rows[-1] if rows else None
        if last is not None and not spoken and _pressed_home(last, action):
            continue
        if (
            last is not None
            and last.klass == action.klass
            and last.things
            and action.things
            and last.things[-1] == action.things[-1]
            and last.verb != action.verb
            and action.klass != "other"
        ):
            told_only = bool(action.weak) and not last.weak
            rows[-1] = last if told_only or len(action.joins) < len(last.joins) else action
        elif (
            last is not None
            and (last.klass, action.klass) in (("loosen", "remove"), ("release", "remove"))
            and last.fastener
            and last.fastener == action.fastener
            and last.count == action.count
        ):
            rows[-1] = replace(action, joins=action.joins or last.joins)
        else:
            rows.append(action)
    return rows


def share_objects(actions: list[Action]) -> list[Action]:
    """As in "unlock and unplug the cable": a verb without an object shares the next one's, else the last one's."""
    rows = list(actions)
    for index in range(len(rows) - 1, -1, -1):
        row = rows[index]
        if row.object or row.klass == "other":
            continue
        donor = (
            rows[index + 1]
            if index + 1 < len(rows) and rows[index + 1].object
            else rows[index - 1]
            if index and rows[index - 1].object
            else None
        )
        tool = donor is not None and donor.things and donor.things[-1].category == "tool"
        if donor is not None and not (tool and row.klass in ("remove", "slide", "lift")):
            rows[index] = replace(row, object=donor.object, things=donor.things)
    return [row for row in rows if row.object]

"""Is the power taken away before a joint that carries it is opened, and given back after the last of them?"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator
from typing import Final

from lastscrew.audit.account import Account, Movement, cable_words, does
from lastscrew.audit.findings import Finding
from lastscrew.audit.prerequisites import Chain

_STORE: Final = re.compile(r"\b(?:batter(?:y|ies)|pack|accumulator|power cell)\b", re.IGNORECASE)
_CLOCK: Final = re.compile(r"\b(?:clock|coin|cmos|rtc|backup|button)\b", re.IGNORECASE)
_ISOLATES: Final = re.compile(
    r"\b(?:unplug|disconnect|remov|isolat|switch(?:ed)? off|turn(?:ed)? off|power(?:ed)?[ -](?:off|down)|"
    r"shut(?:ting)? (?:it )?down|de-?energi[sz]|cut(?:ting)? off|locked out|lock out|breaker|fuse|"
    r"take (?:[\w-]+ ){0,4}(?:out|off)|pull (?:out )?the (?:plug|mains)|"
    r"(?:mains|power|pwr|supply|batter(?:y|ies)|plug|lead)[ :,]+"
    r"(?:is |are |has been )?(?:off|out|pulled|drawn|disconnected))\w*\b",
    re.IGNORECASE,
)
_POWER: Final = re.compile(
    r"\b(?:batter(?:y|ies)|pack|power|pwr|breaker|fuse|mains|outlet|wall socket|ac adapter|adapter|supply|"
    r"computer|device|machine|printer|unit|system|notebook|laptop|plug|it)\b",
    re.IGNORECASE,
)
_SWITCHED_OFF: Final = re.compile(
    r"\b(?:switch|turn|power|shut|cut)(?:ed|s|ting|ing)?\b(?: \w+){0,6}? ?-?(?:off|down)\b|"
    r"\b(?:mains|power|pwr|supply|batter(?:y|ies)|plug|lead)[ :,]+(?:is |are |has been )?"
    r"(?:off|out(?! of)|pulled|drawn|disconnected)\b",
    re.IGNORECASE,
)
_A_PIECE: Final = re.compile(
    r"\b(?:the|a|an|its|this|that) (?:[\w-]+ ){0,3}(?:switch(?:es)?|power [a-z]+|supply|pack|lead|plug) "
    r"(?=(?:off|down|out of) (?:the|its|their)\b)",
    re.IGNORECASE,
)
"""A switch or a power supply that is lifted off a frame: nothing is switched off by that."""
_UNPLUGGED: Final = re.compile(
    r"\b(?:unplug|isolat|de-?energi[sz])\w*\b[^.]*\b(?:batter(?:y|ies)|pack|power|pwr|mains|outlet|wall|socket|adapter|"
    r"supply|computer|device|machine|printer|unit|system|notebook|laptop|plug|cord|it)\b|"
    r"\b(?:disconnect|remov|pull|take|draw|cut)\w*\b(?:(?!screw|bolt|fasten|that)[^.]){0,40}\b"
    r"(?:batter(?:y|ies)|pack|mains|power(?! supply)|plug|fuse|breaker|"
    r"outlet|wall|adapter|cord)\b",
    re.IGNORECASE,
)
_FROM_OUTSIDE: Final = re.compile(
    r"\b(?:mains|outlet|wall|cord|adapter|power (?:plug|lead)|(?:rear|back) of the)\b",
    re.IGNORECASE,
)
_CORD: Final = r"(?:(?:power|mains) (?:cord|cable|lead|plug|adapter)|cord|mains|(?:ac |power )?adapter|charger|outlet)"
_CORD_IN: Final = re.compile(
    rf"\b(?:plug in|plug|connect|reconnect|reattach|attach|insert)\b[^.]{{0,30}}\b{_CORD}\b",
    re.IGNORECASE,
)
_CORD_OUT: Final = re.compile(
    rf"\b(?:unplug|disconnect|remov|pull|detach|tak|draw|isolat|switch)\w*\b(?:(?!screw|bolt|fasten|that)[^.]){{0,60}}"
    rf"\b(?:{_CORD}|wall|power(?! supply))\b|"
    rf"\b{_CORD}\b[^.]{{0,30}}\b(?:unplugged|disconnected|out|off|pulled)\b",
    re.IGNORECASE,
)
_FROM_THE_WALL: Final = re.compile(
    r"^\W*(?:\w{1,2}[.)]\s*)?(?:plug in|plug|connect|reconnect|insert)\b[^.]{0,20}"
    r"\b(?:mains (?:plug|lead|cord|cable)|power (?:cord|adapter)|outlet|wall socket)\b|"
    r"^\W*(?:\w{1,2}[.)]\s*)?(?:switch|turn) (?:the )?(?:mains|power|breaker|machine) (?:back )?on\b",
    re.IGNORECASE,
)
_INSIDE: Final = re.compile(r"\b(?:board|connector|header|drive|socket)\b", re.IGNORECASE)
_MADE_SAFE: Final = re.compile(
    r"\b(?:isolate[sd]?|de-?energi[sz]\w+|locked out|lock out|padlock\w*|"
    r"(?:isolator|disconnector|breaker|mains? switch)s? (?:is |are |must be )?(?:switched )?(?:locked|off|open))\b",
    re.IGNORECASE,
)
"""Words of which each says by itself that there is no power left."""
_PASSIVE: Final = re.compile(
    r"\b(?:antenna|aerial|coax\w*|u\.fl|ipex|ground|earth|hose|tube|air)\b", re.IGNORECASE
)


def power_findings(
    account: Account, chain: Chain, dead: Collection[frozenset[str]] = ()
) -> Iterator[Finding]:
    """Findings about isolation in every removal, and about giving the power back.

    Args:
        account: The text.
        chain: What is done before what.
        dead: Names of the parts that each cable joins of which the text itself says that it carries no power.
    """
    yield from _plugged_in_too_early(account)
    if not _has_store(account):
        found = list(_mains_only(account))
        yield from found or _plugged_in_alone(account)
        return
    yield from _plugged_in_alone(account)
    whole = _isolated_as_a_whole(account)
    for index, procedure in enumerate(account.reading.procedures):
        if procedure.kind == "refit":
            yield from _given_back_too_early(account, index, dead)
            continue
        live = [
            m
            for m in account.of([index], "out", "cable")
            if not is_store(m) and _carries(m) and frozenset(m.joined) not in dead
        ]
        store = [m for m in account.of([index], "out", "cable") if is_store(m)]
        store += [m for m in account.of([index], "out", "part") if is_store(m)]
        first = live[0] if live else None
        if first is None or whole or _isolated_before(account, chain, index):
            continue
        if store and _at(store[0]) < _at(first):
            continue
        if store:
            yield Finding(
                "not_isolated",
                "warning",
                first.line,
                f"{does(first, 'is')} disconnected before the {store[0].shown} (line {store[0].line}): "
                "it is still live and can short.",
                "Put the step that takes the power away first.",
                also=(store[0].line,) if store[0].line != first.line else (),
            )
        elif _alone_safe(account, index):
            continue
        else:
            yield Finding(
                "not_isolated",
                "warning",
                first.line,
                f"{does(first, 'is')} disconnected here, and nothing before it takes the power of the battery away.",
                "Ask for the battery to be disconnected first.",
            )


def is_store(movement: Movement) -> bool:
    """True where the thing is the battery or its plug; the clock's cell isolates nothing."""
    words = f"{movement.name} {movement.shown}"
    if _STORE.search(words):
        return not _CLOCK.search(words)
    # "The board plug from the battery pack" parts the pack from the board.
    parts = movement.sort == "cable" and movement.action.klass == "disconnect"
    return parts and any(_STORE.search(n) and not _CLOCK.search(n) for n in movement.joined)


def _carries(movement: Movement) -> bool:
    """Not an aerial's lead, not whatever hangs on the machine from outside ("all cables")."""
    own = " ".join(thing.name for thing in movement.action.things)
    outside = not cable_words(own) and (
        movement.count == "all"
        or (movement.action.things[-1:] and movement.action.things[-1].plural)
    )
    passive = _PASSIVE.search(f"{movement.name} {movement.shown}")
    return not passive and not outside and not movement.action.optional


def _at(movement: Movement) -> tuple[int, int]:
    actions = movement.step.actions
    return movement.line, actions.index(movement.action) if movement.action in actions else 0


def _has_store(account: Account) -> bool:
    """The text takes a battery off or out of power somewhere: it knows that there is one."""
    if "store" not in account.known:
        account.known["store"] = _names_a_store(account)
    return account.known["store"]


def _names_a_store(account: Account) -> bool:
    if any(m.direction == "out" and is_store(m) for m in account.movements):
        return True
    return any(
        _STORE.search(item.text) for p in account.reading.procedures for item in p.prerequisites
    )


def _isolated_as_a_whole(account: Account) -> bool:
    """Before all procedures the text tells to take the battery's power away."""
    if "isolated" not in account.known:
        account.known["isolated"] = _is_isolated(account)
    return account.known["isolated"]


def _is_isolated(account: Account) -> bool:
    procedures = account.reading.procedures
    preface = [m for m in account.movements if m.procedure == 0]
    if preface and len(procedures) > 1 and all(map(is_store, preface)):
        return True  # "Take the battery pack off." under the title
    moving = {m.procedure for m in account.movements}
    for index, procedure in enumerate(procedures):
        if index not in moving:
            if any(_STORE.search(item.text) for item in procedure.prerequisites):
                return True
    first = min((p.line for p in procedures), default=0)
    for line in account.reading.source.lines:
        if line.number >= first:
            break
        if _ISOLATES.search(line.text) and _STORE.search(line.text):
            return True
    return False


def _isolated_before(account: Account, chain: Chain, index: int) -> bool:
    """What the procedure asks for, directly or in turn, takes the battery's power away."""
    procedures = account.reading.procedures
    for item in procedures[index].prerequisites:
        if _STORE.search(item.text):
            return True
    for other in chain.closure[index]:
        if any(_STORE.search(item.text) for item in procedures[other].prerequisites):
            return True
        if any(
            m.procedure == other and m.direction == "out" and is_store(m) for m in account.movements
        ):
            return True
    earlier = [q for q in procedures[index].prerequisites if q.inferred]
    if earlier and any(
        m.line < procedures[index].line and m.direction == "out" and is_store(m)
        for m in account.movements
    ):
        return True
    # One teardown told part by part, with one way back: what was unplugged earlier stays so.
    together = next((job.removals for job in account.jobs if index in job.removals), ())
    if account.reading.source.spoken:
        backs = [n for n in range(index) if procedures[n].kind != "removal"]
        together = tuple(range(max(backs, default=-1) + 1, index + 1))
    return any(
        m.procedure in together and m.procedure < index and m.direction == "out" and is_store(m)
        for m in account.movements
    )


def is_dead(account: Account, chain: Chain, index: int) -> bool:
    """True where a procedure begins without the battery's power, as far as the text says."""
    return (
        _isolated_as_a_whole(account)
        or _isolated_before(account, chain, index)
        or _alone_safe(account, index)
        or not _has_store(account)
    )


def _alone_safe(account: Account, index: int) -> bool:
    """A warning beside the steps, or a state before them, speaks of power that is off."""
    procedure = account.reading.procedures[index]
    said = [c.text for c in procedure.cautions]
    said += [c.text for step in procedure.steps for c in step.cautions]
    said += [step.text for step in procedure.steps if any(a.weak for a in step.actions)]
    return any(_ISOLATES.search(text) and _STORE.search(text) for text in said)


def _given_back_too_early(
    account: Account, index: int, dead: Collection[frozenset[str]]
) -> Iterator[Finding]:
    backs = account.of([index], "back", "cable")
    store = next((m for m in backs if is_store(m) and m.action.klass == "connect"), None)
    if store is None or store.action.weak:
        return
    later = [
        m
        for m in backs
        if not is_store(m)
        and not m.action.weak
        and _carries(m)
        and m.line > store.line
        and frozenset(m.joined) not in dead
    ]
    if later:
        yield Finding(
            "not_isolated",
            "warning",
            store.line,
            f"{does(store, 'is')} connected before the {later[0].shown} (line {later[0].line}), "
            "which is then live while it is worked on.",
            "Connect the battery last.",
            also=(later[0].line,),
        )


def _plugged_in_alone(account: Account) -> Iterator[Finding]:
    """The cord from the wall is plugged in at the end, and nothing ever unplugs it."""
    opened = any(m.direction == "out" for m in account.movements)
    lines = account.reading.source.lines
    if not opened or any(
        _CORD_OUT.search(line.text) and not _INSIDE.search(line.text) for line in lines
    ):
        return
    for index, procedure in enumerate(account.reading.procedures):
        if procedure.kind == "removal":
            continue
        for step in procedure.steps:
            if _CORD_IN.search(step.text) and not _INSIDE.search(step.text):
                yield Finding(
                    "not_isolated",
                    "warning",
                    step.line,
                    "The cord is plugged in here, and nothing in the text unplugs it before the work.",
                    "Begin with unplugging it.",
                    also=() if index == 0 else (procedure.line,),
                )
                return


def _plugged_in_too_early(account: Account) -> Iterator[Finding]:
    """A half that puts back gives the power from the wall before it connects what carries it."""
    for index, procedure in enumerate(account.reading.procedures):
        if procedure.kind == "removal":
            continue
        cables = [
            m for m in account.of([index], "back", "cable") if _carries(m) and not m.action.weak
        ]
        outs = [m.line for m in account.movements if m.procedure == index and m.direction == "out"]
        for step in procedure.steps:
            text = step.text
            later = [m for m in cables if m.line > step.line and m.action.klass == "connect"]
            plugged = later and _FROM_THE_WALL.search(text) is not None
            if not plugged or _INSIDE.search(text) or any(line > step.line for line in outs):
                continue
            yield Finding(
                "not_isolated",
                "warning",
                step.line,
                f"The power is given back here, before the {later[0].shown} is connected (line {later[0].line}), "
                "which is then live while it is worked on.",
                "Give the power back last.",
                also=(later[0].line,),
            )
            break


def _mains_only(account: Account) -> Iterator[Finding]:
    """A machine without a battery: somewhere the text must say that the power goes off."""
    live = [
        m
        for m in account.movements
        if m.direction == "out"
        and m.sort == "cable"
        and _carries(m)
        and m.action.klass == "disconnect"
    ]
    if not live:
        return
    inside = {m.line for m in live}
    for line in account.reading.source.lines:
        if not _takes_the_mains_away(line.text, inside=line.number in inside):
            continue
        if line.number > live[0].line and _is_step_of(account, live[0].procedure, line.number):
            yield Finding(
                "not_isolated",
                "warning",
                live[0].line,
                f"{does(live[0], 'is')} disconnected here, and the power is taken away only afterwards (line "
                f"{line.number}).",
                "Put the step that takes the power away first.",
                also=(line.number,),
            )
        return
    yield Finding(
        "not_isolated",
        "warning",
        live[0].line,
        f"{does(live[0], 'is')} disconnected here, and nothing in the text takes the power away first.",
        "Begin with switching off and unplugging, or say that nothing here carries power.",
    )


def _takes_the_mains_away(text: str, *, inside: bool) -> bool:
    """True where a line takes the power away; ``inside``: it parts a cable of the machine."""
    if _MADE_SAFE.search(text) or _SWITCHED_OFF.search(_A_PIECE.sub("it ", text)):
        return True
    outside = _FROM_OUTSIDE.search(text) or not _INSIDE.search(text)
    # "Disconnect the power cable from the board" is what wants it off.
    return not (inside and not outside) and _UNPLUGGED.search(text) is not None


def _is_step_of(account: Account, index: int, line: int) -> bool:
    """True for a step that is an order of this procedure: not for a caution beside it."""
    procedure = account.reading.procedures[index]
    return any(
        step.line == line and any(not action.weak for action in step.actions)
        for step in procedure.steps
    ) or any(item.line == line and item.kind == "state" for item in procedure.prerequisites)

"""Do the parts that come off go back; are cables, tapes, shields and locks closed again; are supplies renewed?"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from typing import Final

from lastscrew.audit.account import (
    Account,
    Job,
    Movement,
    alike,
    cable_words,
    does,
    goes_backwards,
    mentions,
    related,
    sentences_of,
    takes_apart_first,
)
from lastscrew.audit.findings import Finding, Severity
from lastscrew.audit.supplies_of_text import discarded, supply_findings
from lastscrew.reading.naming import plain

_LOCK_SHUT: Final = re.compile(
    r"\b(?:latch\w*|lock\w*|clos\w+|(?:press|pressing|flip|push) (?:\w+ )*down|snap\w*|clicks?|engag\w+|"
    r"secure the (?:cable|ribbon|connector)|lower the|bail)\b"
)
_MANY: Final = re.compile(r"\b(?:all|each|every|both|latches|locks|levers|bars|actuators)\b")
_FILM_WORDS: Final = re.compile(
    r"\b(?:tapes?|films?|foils?|strips?|stickers?|labels?|adhesives?|mylar|stick|seals?)\b"
)
_CONNECTS: Final = re.compile(
    r"\b(?:(?:re-?)?(?:connect|attach)(?:s|ed|es|ing)?|plug(?:s|ged|ging)?)\b"
)
_MAY_CONNECT: Final = re.compile(
    r"\b(?:seat|join|press|push|insert|line|fit|tighten|fasten|hook|set|put|slide)\w*\b"
)
_A_CABLE: Final = re.compile(
    r"\b(?:cable|connector|plug|lead|wire|ribbon|lug|(?:earth|ground|bond\w*) strap|f[fp]c|harness)s?\b"
)
_ALL_CABLES: Final = re.compile(
    r"\b(?:(?:all|both|any|every) (?:of )?(?:the |these |those |your )?"
    r"(?!external|outside|outer|peripheral)(?:[\w-]+ )?"
    r"|(?:the|these|those|its) (?:other |remaining |rest of the |disconnected |internal |loose |two |three |four |"
    r"five |six |same |ribbon |flat |flex )?)"
    r"(?:cables|connectors|leads|wires|connections|ribbons|plugs)\b"
)
_LOCK: Final = re.compile(r"\b(?:latch|lock|bar|lever|actuator|arm)\w*\b")
_ENGAGES: Final = re.compile(r"\b(?:latch\w*|lock\w*|clicks?|engag\w+|secur\w+|snaps? in\w*)\b")
_PULL_TAB: Final = re.compile(r"\bpull(?:ing)?[ -](?:tab|strip)s?\b", re.IGNORECASE)
"""What is drawn to release adhesive locks nothing."""
_LIST_ITEM: Final = 8
"""Most words of a line that only names what the line above it connects."""

_OUT_OF_GUIDES: Final = re.compile(
    r"\b(?:from|out of)\s+(?:its|the|their|all)\s+(?:[\w-]+ ){0,2}(?:guides?|channels?|clips?|hooks?|retainers?)\b",
    re.IGNORECASE,
)
_ROUTED: Final = re.compile(
    r"\b(?:rout(?:e|ed|ing)|thread|guides?|channels?|clips?|hooks?|retainers?|lay|tuck|run)\b"
)
_UNHOOKS: Final = re.compile(r"\b(?:un(?!plug|screw|bolt|do|solder)\w+|detach|uncouple)\b")
_OF_A_CABLE: Final = re.compile(
    r"\b[\w-]+(?= (?:cable|lead|wire|plug|connector|ribbon|harness|cord)s?\b)"
)
"""The motor of "the motor lead": what speaks of its lead does not speak of it."""
_REPLACEMENT: Final = re.compile(r"\b(?:the|a) (?:replacement|new (?:one|unit|part|piece))\b")
_AWAY: Final = re.compile(r"\b(?:out|off|away)\b")
_VAGUE: Final = frozenset(
    ("part", "piece", "component", "unit", "assembly", "half", "thing", "module", "it")
)


def part_findings(account: Account, job: Job) -> Iterator[Finding]:
    """Findings about everything in one job but its fasteners."""
    explicit = any(m.procedure in job.refits and m.direction == "back" for m in account.movements)
    if explicit and job.removals:
        words = account.back_words(job)
        backwards = goes_backwards(account, job)
        renamed = None if backwards else _renamed(account, job)
        if renamed is not None:
            yield _one_under_two_names(*renamed)
        if not backwards:
            yield from _parts_not_back(account, job, words, renamed)
            yield from _cables_not_back(account, job, words)
            yield from _locks_not_shut(account, job, words)
            yield from _films_not_back(account, job, words)
            yield from _hooks_not_back(account, job, words)
            yield from _routes_not_back(account, job, words)
        if takes_apart_first(job):
            yield from _parts_not_out(account, job, renamed)
            yield from _cables_not_out(account, job)
    yield from supply_findings(account, job, explicit=explicit)


# --- parts ------------------------------------------------------------------------------------------


_Pair = tuple[Movement, Movement]


def _renamed(account: Account, job: Job) -> _Pair | None:
    """The one part of a kind that never goes back and the one of that kind that never came off."""
    outs = [m for m in account.movements if m.direction == "out"]
    backs = [m for m in account.movements if m.direction == "back" and m.procedure in job.refits]
    lost = _lone(account.of(job.removals, "out", "part"), backs, account.back_words(job))
    removal_words = account.words_of(i for i in job.removals if i not in job.refits)
    fresh = [m for m in account.of(job.refits, "back", "part") if not m.action.new]
    found = _lone(fresh, outs, removal_words)
    found = [m for m in found if not any(related(k, m.name) for k in _names_before(account, job))]
    if (
        len({m.name for m in lost}) == len({m.name for m in found}) == 1
        and lost[0].line < found[0].line
    ):
        return lost[0], found[0]
    kinds = dict.fromkeys(t.category for m in lost for t in m.action.things)
    for kind in kinds:
        ones = [m for m in lost if any(t.category == kind for t in m.action.things)]
        others = [m for m in found if any(t.category == kind for t in m.action.things)]
        if len({m.name for m in ones}) == len({m.name for m in others}) == 1:
            if ones[0].line < others[0].line:
                return ones[0], others[0]
    return None


def _lone(movements: Iterable[Movement], others: list[Movement], words: str) -> list[Movement]:
    """Those of which the other half says nothing, under this name."""
    return [
        m
        for m in movements
        if plain(m.name) not in _VAGUE
        and not mentions(_OF_A_CABLE.sub("", words), m.name)
        and not any(alike(o.name, m.name) or alike(o.holder, m.name) for o in others)
    ]


def _one_under_two_names(out: Movement, back: Movement) -> Finding:
    return Finding(
        "two_names",
        "warning",
        back.line,
        f"{does(back, 'goes')} back here although nothing of that name came off, and the {out.shown} "
        f"(line {out.line}) never goes back: one thing under two names?",
        "Use one name throughout, or add the steps that are missing.",
        also=(out.line,),
    )


def _parts_not_back(
    account: Account, job: Job, words: str, renamed: _Pair | None
) -> Iterator[Finding]:
    backs = [m for m in account.movements if m.procedure in job.refits and m.direction == "back"]
    whole = account.words_of(job.refits)
    everywhere = {m.name for m in account.movements if m.direction == "back"} - _own_of_others(
        account, job
    )
    told: set[str] = {renamed[0].name} if renamed else set()
    for out in account.of(job.removals, "out", "part"):
        taken = out.action.klass == "remove" or (
            out.action.klass in ("lift", "slide", "peel") and _AWAY.search(out.action.verb)
        )
        named = {back.name for back in backs} | {name for back in backs for name in back.joined[:1]}
        if (
            not taken
            or out.action.optional
            or out.name in told
            or plain(out.name) in _VAGUE
            or any(alike(name, out.name) for name in named)
            or out.name in everywhere
            or mentions(words, out.name)
            or (_REPLACEMENT.search(whole) and alike(account.names.of(job.part), out.name))
        ):
            continue
        told.add(out.name)
        shield = "shield" in out.name.split()
        yield Finding(
            "stays_open" if shield else "part_not_back",
            "warning",
            out.line,
            f"{does(out, 'comes')} off here, and the half that puts everything back never names it.",
            f"Add the step that refits the {out.shown}, or say that it is not used again.",
        )


def _own_of_others(account: Account, job: Job) -> set[str]:
    """Names of parts that other jobs take off and put back themselves: those halves are not for this one."""
    found: set[str] = set()
    if not account.of(job.refits, "back", "part"):
        return found
    for other in account.jobs:
        if other is not job:
            out = {m.name for m in account.of(other.removals, "out", "part")}
            found |= out & {m.name for m in account.of(other.refits, "back", "part")}
    return found


def _parts_not_out(account: Account, job: Job, renamed: _Pair | None) -> Iterator[Finding]:
    outs = [m for m in account.movements if m.direction == "out"]
    before = _names_before(account, job)
    start = {i: account.reading.procedures[i].line - 1 for i in job.refits}
    told: set[str] = {renamed[1].name} if renamed else set()
    for back in account.of(job.refits, "back", "part"):
        name = back.name
        own = account.reading.procedures[back.procedure]
        if (
            not (back.action.klass in ("replace", "insert") or _put_on(back))
            or back.action.weak
            or back.action.optional
            or name in told
            or plain(name) in _VAGUE
            or any(alike(out.name, name) or alike(out.holder, name) for out in outs)
            or any(related(known, name) for known in before)
            or mentions(account.raw(1, start[back.procedure]), name)
            or (own.kind == "both" and _said_before(account, back))
        ):
            continue
        told.add(name)
        new = back.action.new or back.shown.lower().startswith(("new ", "replacement "))
        grade: Severity = "note" if new else "warning"
        yield Finding(
            "part_not_out",
            grade,
            back.line,
            f"{does(back, 'goes')} in here, but no step takes "
            f"{'an old one out' if new else 'it off'}.",
            "Add the step that takes it off, or name the procedure that does.",
        )


def _put_on(back: Movement) -> bool:
    """As in "clip the shield on": a cover that is closed is not put on, one that is clipped on is."""
    return back.action.klass == "close" and back.action.verb.split()[-1] in ("on", "back")


def _names_before(account: Account, job: Job) -> set[str]:
    """Names of what is off before a job begins."""
    found = set()
    for index in (*job.removals, *job.refits):
        for item in account.reading.procedures[index].prerequisites:
            found |= {account.names.of(piece) for piece in re.split(r"\s*/\s*|,| and ", item.text)}
    return found - {""}


def _said_before(account: Account, back: Movement) -> bool:
    steps = account.reading.procedures[back.procedure].steps
    earlier = " ".join(step.text.lower() for step in steps if step.line < back.step.line)
    return mentions(earlier, back.name)


# --- cables -----------------------------------------------------------------------------------------


def _same_cable(one: Movement, other: Movement) -> bool:
    if alike(one.name, other.name):
        return True
    a = cable_words(one.name) | cable_words(one.holder)
    b = cable_words(other.name) | cable_words(other.holder)
    return not b or not a or bool(a & b)


def _own_words(movement: Movement) -> frozenset[str]:
    """What the name of a cable, or of what it belongs to, says beyond that it is a cable."""
    return cable_words(movement.name) | cable_words(movement.holder)


def _cables_not_back(account: Account, job: Job, words: str) -> Iterator[Finding]:
    backs = [
        m
        for m in account.movements
        if m.procedure in job.refits
        and m.direction == "back"
        and (m.sort == "cable" or m.action.klass == "connect")
    ]
    if any(_connects_all(sentence) for sentence in sentences_of(words)):
        return
    if any(b.action.things and _is_all(b) for b in backs):
        return  # "cables on"
    told: set[str] = set()
    outs = account.of(job.removals, "out", "cable")
    nameless = any(not _own_words(out) for out in outs)
    before = account.words_of(i for i in job.removals if i not in job.refits)
    for out in outs:
        if out.action.optional or out.name in told:
            continue
        # "The flat cable" goes back for the one that came out under no other name, not for any other.
        fitting = [
            b
            for b in backs
            if _own_words(b) or not ((nameless or _is_told_of(before, b)) and _own_words(out))
        ]
        if any(_same_cable(out, b) for b in fitting):
            continue
        if _spoken_of(words, out) or _its_own_lead(account, out):
            continue
        told.add(out.name)
        yield Finding(
            "stays_open",
            "warning",
            out.line,
            f"{does(out, 'is')} disconnected here, and the half that puts everything back never "
            "connects it.",
            f"Add the step that connects the {out.shown}.",
        )


def _connects_all(sentence: str) -> bool:
    """As in "Reconnect all cables"; "secures the antenna cables to the fan" connects none."""
    found = _ALL_CABLES.search(sentence)
    return found is not None and _CONNECTS.search(sentence) is not None


def _is_told_of(words: str, back: Movement) -> bool:
    """The other half speaks of "the flat cable" by these very words, whatever was made of it."""
    return len(back.name.split()) > 1 and back.name in words


def _is_all(back: Movement) -> bool:
    """Cables without a name or number of their own: all of them."""
    thing = back.action.things[-1]
    return (
        thing.plural and thing.category == "cable" and not _own_words(back) and back.count is None
    )


def _its_own_lead(account: Account, out: Movement) -> bool:
    """The lead that an earlier step has unplugged, as in "remove the speakers with their cable"."""
    return not cable_words(out.name) and any(
        m.procedure == out.procedure
        and m.sort == "cable"
        and m.direction == "out"
        and m.line < out.line
        for m in account.movements
    )


_ANY_BOARD: Final = frozenset(("board", "card", "link", "main"))
"""Words in the name of a cable that other sentences have for other reasons."""


def _spoken_of(words: str, out: Movement) -> bool:
    """A sentence of the other half connects something of that name in words that give no step."""
    own = cable_words(out.name) or cable_words(out.holder)
    own = own - _ANY_BOARD or own
    listed = False
    for sentence in sentences_of(words):
        named = not own or any(mentions(sentence, word) for word in own)
        connects = _connects(sentence)
        if named and (connects or (listed and len(sentence.split()) <= _LIST_ITEM)):
            return True
        listed = (
            bool(sentence.strip())
            and (
                (connects and sentence.rstrip().endswith(":"))
                or (listed and len(sentence.split()) <= _LIST_ITEM)
            )
        ) or (listed and not sentence.strip())
    return False


def _frees_a_cable(movement: Movement) -> bool:
    """Disconnects it, or opens the connector itself (not the bar on it)."""
    opened = movement.sort == "lock" and any(
        t.category == "connector" for t in movement.action.things
    )
    return movement.sort == "cable" or movement.action.klass == "disconnect" or opened


def _parts_it(words: str, word: str) -> bool:
    """A sentence disconnects something of that name in words that give no step."""
    return any(
        mentions(sentence, word)
        and re.search(r"\b(?:disconnect|unplug|detach|pull)\w*\b", sentence)
        for sentence in sentences_of(words)
    )


def _connects(sentence: str) -> bool:
    """Connects, attaches, plugs; or presses, pushes, fits what the sentence calls a cable, and no lock."""
    if _CONNECTS.search(sentence):
        return True
    return bool(_MAY_CONNECT.search(sentence) and _A_CABLE.search(sentence)) and not _LOCK.search(
        sentence
    )


def _cables_not_out(account: Account, job: Job) -> Iterator[Finding]:
    outs = [m for m in account.movements if m.direction == "out" and _frees_a_cable(m)]
    if not any(out.procedure in job.removals for out in outs):
        # A removal that speaks of no cable at all is silent about them, not wrong.
        grade: Severity = "note"
    else:
        grade = "warning"
    words = account.words_of(i for i in job.removals if i not in job.refits)
    told: set[str] = set()
    for back in account.of(job.refits, "back", "cable"):
        own = cable_words(back.name) or cable_words(back.holder)
        if (
            back.action.weak
            or back.action.optional
            or not own
            or back.name in told
            or any(_same_cable(out, back) for out in outs)
            or any(_parts_it(words, word) for word in own)
            or (
                account.reading.procedures[back.procedure].kind == "both"
                and _said_before(account, back)
            )
            or any(related(known, word) for known in _names_before(account, job) for word in own)
        ):
            continue
        told.add(back.name)
        yield Finding(
            "never_opened",
            grade,
            back.line,
            f"{does(back, 'is')} connected here, but no step disconnects it.",
            "Add the step that disconnects it, or name the procedure that does.",
        )


# --- locks and tapes --------------------------------------------------------------------------------


def _shuts(sentence: str) -> bool:
    """A sentence closes a lock: "snap the shield on" closes none."""
    if not _LOCK_SHUT.search(sentence):
        return False
    return bool(_LOCK.search(sentence) or (_A_CABLE.search(sentence) and _ENGAGES.search(sentence)))


_WHILE_HELD: Final = frozenset(("press", "squeeze", "pinch", "depress"))
"""A latch that is pressed while the plug is pulled springs back by itself."""


def _locks_not_shut(account: Account, job: Job, words: str) -> Iterator[Finding]:
    locks = [
        m
        for m in account.of(job.removals, "out", "lock")
        if not m.action.optional
        and not _PULL_TAB.search(m.shown)
        and m.action.verb.split()[0] not in _WHILE_HELD
    ]
    shutting = [sentence for sentence in dict.fromkeys(sentences_of(words)) if _shuts(sentence)]
    if any(_MANY.search(sentence) for sentence in shutting) or len(shutting) >= len(locks):
        return
    backs = account.of(job.refits, "back", "cable")
    for lock in locks:
        cable = _cable_of(account, lock)
        if cable is not None and not any(_same_cable(cable, back) for back in backs):
            continue  # that the cable itself stays open is said already
        if cable is not None and any(
            mentions(sentence, word) for sentence in shutting for word in cable_words(cable.name)
        ):
            continue
        if cable is not None and _shut_beside(account, job, cable):
            continue
        itself = any(thing.category == "connector" for thing in lock.action.things)
        if (cable is None or itself) and mentions(words, lock.name):
            continue
        yield Finding(
            "stays_open",
            "warning" if cable is not None else "note",
            lock.line,
            f"{does(lock, 'is')} opened here, and the half that puts everything back never closes it.",
            f"Add the step that closes the {lock.shown}"
            + (f" after the {cable.shown} is in." if cable is not None else "."),
        )


def _cable_of(account: Account, lock: Movement) -> Movement | None:
    """The cable that a lock holds: the next one that is disconnected, in the same step or the one after it."""
    return next(
        (
            m
            for m in account.movements
            if m.procedure == lock.procedure
            and m.sort == "cable"
            and m.direction == "out"
            and lock.line <= m.line <= lock.line + 2
            and (
                not cable_words(lock.name)
                or _same_cable(lock, m)
                or lock.action.things[-1].category == "lock"
            )
        ),
        None,
    )


def _shut_beside(account: Account, job: Job, cable: Movement) -> bool:
    """The step that connects this cable, or the next one, closes a lock."""
    for index in job.refits:
        steps = account.reading.procedures[index].steps
        for number, step in enumerate(steps):
            here = [
                m
                for m in account.movements
                if m.step is step and m.direction == "back" and m.sort == "cable"
            ]
            if any(_same_cable(cable, back) for back in here):
                near = "\n".join(s.text.lower() for s in steps[number : number + 2])
                if any(_shuts(sentence) for sentence in sentences_of(near)):
                    return True
    return False


def _hooks_not_back(account: Account, job: Job, words: str) -> Iterator[Finding]:
    """A spring or belt that is unhooked has to be hooked again."""
    for procedure in job.removals:
        for step in account.reading.procedures[procedure].steps:
            for action in step.actions:
                hooked = action.klass in ("release", "disconnect") and _UNHOOKS.match(action.verb)
                thing = action.things[-1] if action.things else None
                if not hooked or action.weak or thing is None or thing.category != "part":
                    continue
                if not mentions(words, thing.head):
                    yield Finding(
                        "stays_open",
                        "warning",
                        action.line or step.line,
                        f"The {action.object} is let go here ({action.verb}), and the half that puts everything back "
                        "never names it.",
                        f"Add the step that puts the {action.object} back.",
                    )


def _routes_not_back(account: Account, job: Job, words: str) -> Iterator[Finding]:
    """A cable that is taken out of its guides is laid into them again."""
    told: set[str] = set()
    for index in job.removals:
        for step in account.reading.procedures[index].steps:
            for action in step.actions:
                thing = action.things[-1] if action.things else None
                if thing is None or thing.category not in ("cable", "antenna") or action.weak:
                    continue
                guided = action.verb.split()[0] in ("unroute", "unthread") or (
                    action.klass in ("release", "disconnect", "remove")
                    and _OUT_OF_GUIDES.search(step.text)
                )
                name = account.names.of(thing.name)
                if not guided or name in told or _ROUTED.search(words):
                    continue
                told.add(name)
                yield Finding(
                    "stays_open",
                    "warning",
                    action.line or step.line,
                    f"The {action.object} {'leave' if thing.plural else 'leaves'} "
                    f"{'their' if thing.plural else 'its'} guides here, and nothing says that "
                    f"{'they go' if thing.plural else 'it goes'} back into them.",
                    f"Add the step that lays the {action.object} into the guides.",
                )


def _films_not_back(account: Account, job: Job, words: str) -> Iterator[Finding]:
    told: set[str] = set()
    for out in account.of(job.removals, "out", "film"):
        if discarded(out) or out.name in told:
            continue  # that is a matter of supplies
        if _film_said(words, out):
            continue
        told.add(out.name)
        yield Finding(
            "stays_open",
            "note",
            out.line,
            f"{does(out, 'is')} taken off here, and nothing says that it, or a new one, goes back.",
            f"Say whether the {out.shown} goes back, or what takes its place.",
        )


_FILM_KINDS: Final = (
    ("tape", "strip", "foil", "sticker", "film", "stick"),
    ("label", "sticker", "seal"),
    ("film", "foil", "sheet", "mylar", "insulator", "liner"),
    ("pad", "foam", "gasket", "seal", "strip"),
)
"""Words that texts use for the same film in their two halves."""


def _film_said(words: str, out: Movement) -> bool:
    """The other half speaks of this film; or of one of its kind, where this one has no more of a name."""
    *before, head = plain(out.name).split()
    heads = {thing.head for thing in out.action.things} | {head}
    if any(mentions(words, word) for word in heads):
        return True
    kin = {word for kind in _FILM_KINDS if heads & set(kind) for word in kind}
    return any(
        mentions(sentence, word) and (not before or any(own in sentence for own in before))
        for sentence in sentences_of(words)
        for word in kin
    )

"""The account of a text: what each procedure takes off and what it puts back, and which halves belong together.

A *job* is one piece of work: its removals and the halves that put everything back. A *movement* is one
action of a job, reduced to what an account needs: out or back, what sort of thing, how many.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Final, Literal

from lastscrew.audit.amending import amended
from lastscrew.audit.owners_first import OwnersFirst
from lastscrew.plan.wording import is_plural
from lastscrew.reading.model import Action, Count, Procedure, Reading, Step, Thing
from lastscrew.reading.naming import Names, plain, unify

Direction = Literal["out", "back"]
Sort = Literal["fastener", "cable", "part", "film", "lock", "supply"]

_OUT: Final = frozenset(("remove", "loosen", "disconnect", "peel", "release", "lift", "clean"))
_BACK: Final = frozenset(("replace", "insert", "tighten", "connect", "close", "apply"))
_CATEGORY_SORT: Final[dict[str, Sort]] = {
    "fastener": "fastener",
    "cable": "cable",
    "connector": "cable",
    "antenna": "cable",
    "cover": "part",
    "board": "part",
    "card": "part",
    "drawer": "part",
    "part": "part",
    "film": "film",
    "lock": "lock",
    "residue": "supply",
    "supply": "supply",
}
_NO_BOARDS: Final = frozenset(("keyboard", "dashboard", "cardboard", "clipboard"))
"""A motherboard is a board, these are none."""

_REMEMBERED: Final = 200_000
"""Pairs of names whose likeness is remembered: a long text asks for the same ones over and over."""

_PULLED: Final = frozenset(("clip", "lock", "button", "film", "tie"))
_MOVES_A_PART: Final = frozenset(("remove", "lift", "replace", "insert"))
_BOTH_HALVES: Final = 2
_HOLDERS: Final = frozenset(("clamp", "bracket", "strap", "holder", "retainer", "bar"))
"""Ties that are parts of their own and come off."""

_AWAY: Final = re.compile(r"\b(?:out|off|away|from|up|aside|free)\b")
_INTO: Final = re.compile(r"\b(?:in|into|on|onto|back|home|over)\b")
_THERMAL: Final = re.compile(r"\b(?:thermal|gap|heat)\b", re.IGNORECASE)
_MAINS: Final = re.compile(
    r"\b(?:ac|mains|power (?:cord|cable|lead|adapter|plug)|adapter|charger|outlet)\b"
    r"|\b(?:from|out of) (?:the )?(?:wall|socket|mains)\b|\bwall\b"
)
_INSIDE: Final = re.compile(r"\b(?:board|pcb|motherboard|connector|header|j\d+|p\d+|cn\d+)\b")
_BARE_PLUG: Final = frozenset(("plug", "the plug", "lead", "cord"))
"""What is pulled "before you open anything" is the plug in the wall."""

_EXTERNAL: Final = re.compile(r"\b(?:external|outside) (?:cable|lead|connect|plug|device)\w*\b")
_FROM_OUTSIDE: Final = re.compile(
    r"\b(?:network|ethernet|lan|usb|hdmi|power|audio|video|phone|charging) (?:lead|cable|cord|plug)s?\b",
    re.IGNORECASE,
)
_BEFORE_ALL: Final = re.compile(
    r"\bbefore (?:you )?(?:do|open|start|begin|work|touch|any|doing|opening|starting|working)\w*\b",
    re.IGNORECASE,
)
_BELONGINGS: Final = re.compile(
    r"\b(?:memory|sd|micro ?sd|sim|flash|cf) cards?\b|\busb (?:stick|drive|dongle)s?\b|\b(?:disc|stylus|jewellery)\b",
    re.IGNORECASE,
)
"""What a user puts in and takes out; it is no part of the machine."""

_EACH: Final = re.compile(r"\b(?:each|every|per|both|either)\b", re.IGNORECASE)
_LINER: Final = re.compile(
    r"protective|backing|liner|release (?:paper|film)|new |warranty|\bplastic film\b"
)
SUPPLY_WORDS: Final = re.compile(
    r"\b(?:thermal|gap|heat[- ]conducting)[- ](?:pads?|tapes?)\b"
    r"|\b(?:paste|compound|grease|adhesive|glue|sealant|threadlocker|thread locker)\b"
    r"|\b(?:old|used|dry|dried) (?:oil|lubricant|wax|silicone|putty)\b",
    re.IGNORECASE,
)
"""Names of supplies that are taken off and must be renewed."""

CABLE_WORDS: Final = frozenset(
    (
        "cable", "cables", "wire", "wires", "lead", "leads", "connector", "connectors", "plug", "plugs", "ribbon",
        "ffc", "fpc", "flat", "flex", "flexible", "cord", "harness", "socket", "coax", "coaxial", "little", "small",
        "tiny", "thin", "remaining", "other", "black", "white", "red", "blue", "brown", "wide", "narrow",
    )
)  # fmt: skip
"""Words that only say that a thing is a cable or its connector."""


@dataclass(frozen=True, slots=True)
class Movement:
    """One thing that goes out or back.

    Attributes:
        direction: ``out`` or ``back``.
        sort: What sort of thing.
        name: Its one name (for fasteners their kind, such as ``screw``).
        holder: What a fastener holds, what a cable belongs to; may be empty.
        joined: All names that the action joins, each as its one name.
        shown: As the text calls it.
        count: How many; None where it does not say.
        each: The count may be one of several alike (``two screws on each fan``).
        size: Size of a fastener.
        line: Line of the action.
        procedure: Index of its procedure.
        step: The step.
        action: The action.
    """

    direction: Direction
    sort: Sort
    name: str
    holder: str
    joined: tuple[str, ...]
    shown: str
    count: Count
    each: bool
    size: str
    line: int
    procedure: int
    step: Step
    action: Action


@dataclass(frozen=True, slots=True)
class Job:
    """Procedures that belong together.

    Attributes:
        part: What it is about, as the text calls it.
        removals, refits: Indices of its procedures; one that does both stands in both.
        reversed: A half says that the steps are done backwards.
        exceptions: What the text says about exceptions to that, in lower case.
    """

    part: str
    removals: tuple[int, ...]
    refits: tuple[int, ...]
    reversed: bool
    exceptions: str = ""


@dataclass(frozen=True, slots=True)
class Account:
    """A text with its jobs and movements."""

    reading: Reading
    names: Names
    jobs: tuple[Job, ...]
    movements: tuple[Movement, ...]
    reversed_as_a_whole: bool
    known: dict[str, bool] = field(default_factory=dict, compare=False, repr=False)
    """What was found out once about the whole text, by its name: findings ask for it at every procedure."""
    _kept: dict[tuple[int, Direction, Sort], list[tuple[int, Movement]]] = field(
        default_factory=dict, compare=False, repr=False
    )

    def of(self, indices: Iterable[int], direction: Direction, sort: Sort) -> tuple[Movement, ...]:
        """Movements of some procedures, in order."""
        if not self._kept:
            for at, m in enumerate(self.movements):
                self._kept.setdefault((m.procedure, m.direction, m.sort), []).append((at, m))
        found = [
            pair for i in frozenset(indices) for pair in self._kept.get((i, direction, sort), ())
        ]
        return tuple(m for _, m in sorted(found, key=lambda pair: pair[0]))

    def words_of(self, indices: Iterable[int]) -> str:
        """All that the steps of some procedures say, in lower case."""
        procedures = self.reading.procedures
        return " ".join(
            step.text.lower() for index in sorted(set(indices)) for step in procedures[index].steps
        )

    def back_words(self, job: Job) -> str:
        """All lines of the halves of a job that put things back, in lower case.

        What was not understood is among them: it is never held against the text. Where one heading
        holds both halves, from the first thing that goes back.
        """
        pieces = []
        for index in job.refits:
            procedure = self.reading.procedures[index]
            # A speaker announces a part and begins with it in one breath.
            first = procedure.line + (not self.reading.source.spoken)
            if procedure.kind != "refit" or index in job.removals:
                lines = [
                    m.line for m in self.movements if m.procedure == index and m.direction == "back"
                ]
                first = min(
                    lines,
                    default=max(s.line for s in procedure.steps) if procedure.steps else first,
                )
            pieces.append(self.raw(first, self.end_of(index), skip=self._only_out(index)))
        return "\n".join(pieces)

    def _only_out(self, index: int) -> frozenset[int]:
        """Lines of a procedure on which things come off and nothing goes back."""
        own = [m for m in self.movements if m.procedure == index]
        back = {m.line for m in own if m.direction == "back"}
        return frozenset(m.line for m in own if m.direction == "out") - back

    def end_of(self, index: int) -> int:
        """The line before the next procedure begins."""
        line = self.reading.procedures[index].line
        later = [p.line for p in self.reading.procedures if p.line > line]
        return min(later, default=len(self.reading.source.lines) + 1) - 1

    def raw(self, first: int, last: int, skip: Collection[int] = ()) -> str:
        """Lines of the source, understood or not, in lower case, one sentence or item beneath the other.

        Captions cut sentences anywhere: each stands with the one that follows it. A written line that
        goes on in small letters is joined to the line before it.

        Args:
            first: First line, 1-based.
            last: Last line.
            skip: Lines that are left out.
        """
        lines = [
            line.text.strip()
            for line in self.reading.source.lines[max(first, 1) - 1 : last]
            if line.number not in skip and line.kind != "furniture"
        ]
        if self.reading.source.spoken:
            said = [line.lower() for line in lines if line]
            return "\n".join(" ".join(said[n : n + 2]) for n in range(len(said)))
        joined: list[str] = []
        for line in lines:
            goes_on = line[:1].islower() and joined and joined[-1]
            if goes_on and not joined[-1].endswith((".", ":", ";", "!", "?")):
                joined[-1] += f" {line.lower()}"
            else:
                joined.append(line.lower())
        return "\n".join(joined)


def account_of(reading: Reading) -> Account:
    """Take the account of a text."""
    reading = amended(reading)
    parts = [p.part for p in reading.procedures]
    before = [q.text for p in reading.procedures for q in p.prerequisites if q.kind == "part"]
    found = unify(reading.procedures, [*parts, *before])
    names = OwnersFirst(found.canonical, found.merges, found.said)
    known = frozenset(names.of(part) for part in parts if part) - {""}
    movements = tuple(
        movement
        for index, procedure in enumerate(reading.procedures)
        for step in procedure.steps
        for action in step.actions
        for movement in _movements(index, procedure, step, action, names, known)
    )
    jobs = _jobs(reading, names)
    return Account(reading, names, jobs, movements, _reversed_as_a_whole(reading))


# --- movements --------------------------------------------------------------------------------------


def _movements(
    index: int,
    procedure: Procedure,
    step: Step,
    action: Action,
    names: Names,
    known: frozenset[str],
) -> Iterable[Movement]:
    """What one action moves; ``known`` are the names of parts that have procedures of their own."""
    direction = _direction(procedure, action)
    if direction is None or (action.weak and direction == "out" and not _pulled(step, action)):
        return
    for thing in action.things:
        sort = _sort_here(action, thing)
        if sort is None and names.of(thing.name) in known and action.klass in _MOVES_A_PART:
            sort = "part"  # a switch, a lock: what has a procedure of its own is a part
        shown = action.object if len(action.things) == 1 else thing.name
        if sort is None or _not_accounted(step, action, shown, sort):
            continue
        if action.klass == "clean" and sort != "supply":
            continue  # what is cleaned stays where it is
        joined = tuple(dict.fromkeys(names.of(name) for name in action.joins if name))
        if sort == "cable" and len(action.things) > 1:
            joined = ()  # "the fan cable and the lamp cable": whose end is whose is not said
        yield Movement(
            direction=direction,
            sort=sort,
            name=thing.head if sort == "fastener" else names.of(thing.name) or thing.head,
            holder=joined[0] if joined else "",
            joined=joined,
            shown=shown,
            count=action.count if thing.count is None else thing.count,
            each=bool(_EACH.search(step.text)),
            size=action.size,
            line=action.line or step.line,
            procedure=index,
            step=step,
            action=action,
        )


def _pulled(step: Step, action: Action) -> bool:
    """As in "Pull the tab to disconnect the cable": what the tab is pulled for is done."""
    return (
        action.weak == "purpose"
        and action.klass == "disconnect"
        and any(
            other.klass in ("release", "lift")
            and other.things
            and other.things[-1].category in _PULLED
            for other in step.actions
        )
    )


def _sort_here(action: Action, thing: Thing) -> Sort | None:
    """What sort of thing it is for this action; None where no account is kept of it."""
    sort = _sort_of(thing)
    if sort in ("part", "film") and _is_supply(thing):
        return "supply"
    if sort == "cable" and action.klass in ("release", "close"):
        # "Unlock the connector" opens its lock; a lead that is freed from its guides stays connected,
        # one that is unclipped from its board does not.
        clips = action.verb.split()[0] in ("unclip", "clip", "pop", "snap", "unsnap")
        unplugs = (
            clips
            and thing.category in ("cable", "antenna")
            and _INSIDE.search(f"{action.from_} {action.to}".lower())
        )
        return "cable" if unplugs else "lock" if thing.category == "connector" else None
    if sort == "part" and action.klass in ("disconnect", "connect"):
        return "cable"  # "disconnect the speaker" unplugs its lead
    return sort


def _is_supply(thing: Thing) -> bool:
    """A tape that sticks is a tape; what it sticks with is a supply."""
    film = thing.category == "film" and thing.head in ("tape", "strip", "film", "foil", "label")
    return SUPPLY_WORDS.search(thing.name) is not None and not (
        film and not _THERMAL.search(thing.name)
    )


def _sort_of(thing: Thing) -> Sort | None:
    if thing.category == "tie" and thing.head in _HOLDERS:
        return "part"
    return _CATEGORY_SORT.get(thing.category)


def _takes_off_too(procedure: Procedure) -> bool:
    """Two or more things come off under a heading of refitting: it holds both halves."""
    return (
        sum(
            a.klass in ("remove", "disconnect", "loosen") and not a.weak
            for a in procedure.actions()
        )
        >= _BOTH_HALVES
    )


def _direction(procedure: Procedure, action: Action) -> Direction | None:
    """Out or back. What a refitting half takes off (a liner, a lock to slip a ribbon in) is no removal."""
    direction: Direction | None = None
    if action.klass in _OUT:
        direction = "out"
    elif action.klass in _BACK:
        direction = "back"
    elif action.klass == "slide":
        if action.from_ or _AWAY.search(action.verb):
            direction = "out"
        elif action.to or _INTO.search(action.verb):
            direction = "back"
        else:
            direction = "back" if procedure.kind == "refit" else "out"
    if direction == "out" and procedure.kind == "refit" and not _takes_off_too(procedure):
        return None
    return direction


def _not_accounted(step: Step, action: Action, shown: str, sort: Sort) -> bool:
    """Mains leads and "all plugs" are a state of the machine; liners and swept dust are not parts of it."""
    low = f"{shown} {action.from_}".lower()
    if sort == "cable":
        whatever = any(
            thing.plural and thing.count in (None, "all") and not cable_words(thing.name)
            for thing in action.things
        )
        mains = _MAINS.search(low) and not _INSIDE.search(f"{action.from_} {action.to}".lower())
        outside = _BEFORE_ALL.search(step.text) and (
            shown.lower().strip() in _BARE_PLUG or _FROM_OUTSIDE.search(shown)
        )
        outside = outside or _EXTERNAL.search(low)
        return bool(mains or outside) or (whatever and action.klass != "connect")
    if sort == "part":
        return bool(_BELONGINGS.search(shown))
    if sort == "film":
        return bool(_LINER.search(f"{low} "))
    if sort == "supply":
        return action.klass == "clean" and SUPPLY_WORDS.search(low) is None
    return False


# --- jobs -------------------------------------------------------------------------------------------


def _jobs(reading: Reading, names: Names) -> tuple[Job, ...]:
    """Each refitting half with the removals that it puts back.

    By the part that both name; where no removal has that name, it puts back all that was taken off
    in the removals right before it that have no half of their own.
    """
    procedures = reading.procedures
    keys = [names.of(procedure.part) for procedure in procedures]
    groups = _Groups(len(procedures))
    owned = _by_name(procedures, keys, groups)
    block: list[int] = []
    closing = False
    for index, procedure in enumerate(procedures):
        if procedure.kind != "refit":
            if closing:
                block, closing = [], False
            if index not in owned:
                block.append(index)
            continue
        closing = True
        if index not in owned or any(step.reverse_of >= 0 for step in procedure.steps):
            for removal in block:
                groups.join(removal, index)
            if index not in owned and not block and index:
                groups.join(index - 1, index)
    return _gathered(reading, [groups.of(index) for index in range(len(procedures))])


class _Groups:
    """Procedures joined into groups; each is named after its first."""

    def __init__(self, number: int) -> None:
        self._first = list(range(number))

    def of(self, index: int) -> int:
        while self._first[index] != index:
            index = self._first[index]
        return index

    def join(self, one: int, other: int) -> None:
        low, high = sorted((self.of(one), self.of(other)))
        self._first[high] = low


def _by_name(procedures: Sequence[Procedure], keys: list[str], groups: _Groups) -> set[int]:
    """Join each refitting half with the removal of the same name; the indices that found a mate."""
    owned: set[int] = set()
    for index, procedure in enumerate(procedures):
        if procedure.kind != "refit":
            continue
        mates = [
            other
            for other, candidate in enumerate(procedures)
            if candidate.kind != "refit" and keys[other] and alike(keys[other], keys[index])
        ]
        if mates:
            before = [other for other in mates if other < index]
            mate = before[-1] if before else mates[0]
            groups.join(mate, index)
            owned |= {mate, index}
    return owned


def _gathered(reading: Reading, roots: list[int]) -> tuple[Job, ...]:
    jobs = []
    for root in sorted(set(roots)):
        members = [index for index, own in enumerate(roots) if own == root]
        procedures = [reading.procedures[index] for index in members]
        backwards = [s.text for p in procedures for s in p.steps if _says_backwards(s)]
        backwards += [p.heading for p in procedures if _BACKWARDS.search(p.heading)]
        jobs.append(
            Job(
                part=next((p.part for p in procedures if p.part), ""),
                removals=tuple(
                    i
                    for i in members
                    if reading.procedures[i].kind != "refit"
                    or _takes_off_too(reading.procedures[i])
                ),
                refits=tuple(i for i in members if reading.procedures[i].kind != "removal"),
                reversed=bool(backwards),
                exceptions=" ".join(_exceptions(text) for text in backwards),
            )
        )
    return tuple(jobs)


def _says_backwards(step: Step) -> bool:
    return step.reverse_of >= 0 or any(action.verb == "reverse" for action in step.actions)


def _exceptions(text: str) -> str:
    match = re.search(
        r"\b(?:except|apart from|but|without|other than)\b(.*)", text.lower(), re.DOTALL
    )
    return match[1] if match else ""


_BACKWARDS: Final = re.compile(
    r"\b(?:in (?:the )?(?:reverse|opposite)(?: order| sequence)?|revers(?:e|ing) (?:of )?(?:the |this |these |all )*"
    r"(?:above |removal |disassembly |previous )*"
    r"(?:order|steps?|procedures?|sequence|removal|disassembly|process|instructions?)"
    r"|(?:is|are) (?:the )?(?:reverse|opposite|inverse)|backwards"
    r"|(?:refit(?:ting)?|reassembl[ey]|assembly|installation|fitting|closing)\s*[,:=–—-]+\s*(?:in )?reverse)\b",
    re.IGNORECASE,
)
_PUTS_BACK: Final = re.compile(
    r"\b(?:(?:re-?)?(?:assembl|fit|install)\w*|put\w* (?:\w+ )*back|clos\w*|follow|repeat|go back)\b",
    re.IGNORECASE,
)


def _reversed_as_a_whole(reading: Reading) -> bool:
    """True where a sentence outside all halves says that everything goes back in reverse order."""
    told = {
        step.line
        for procedure in reading.procedures
        for step in procedure.steps
        if _says_backwards(step)
    }
    removals = sum(procedure.kind != "refit" for procedure in reading.procedures)
    for line in reading.source.lines:
        if _BACKWARDS.search(line.text) and _PUTS_BACK.search(line.text):
            if line.number not in told or removals == 1:
                return True
            if re.search(r"\b(?:all|every|each|any)\b", line.text, re.IGNORECASE):
                return True
    return False


def goes_backwards(account: Account, job: Job) -> bool:
    """True where the text says that everything of this job is put back in reverse order.

    Said once for a whole text "unless a section says otherwise", it is for the parts that have no half of their own
    that goes into detail.
    """
    if job.reversed:
        return True
    if not account.reversed_as_a_whole or len(job.removals) < _BOTH_HALVES:
        return False
    unless = any(
        _BACKWARDS.search(line.text)
        and re.search(r"\b(?:unless|otherwise)\b", line.text, re.IGNORECASE)
        for line in account.reading.source.lines
    )
    outs = sum(m.direction == "out" and m.procedure in job.removals for m in account.movements)
    backs = sum(m.direction == "back" and m.procedure in job.refits for m in account.movements)
    return not unless or 2 * backs < outs


def takes_apart_first(job: Job) -> bool:
    """False for a text that builds a thing up before it says how to take it apart."""
    return bool(job.removals) and (not job.refits or min(job.removals) <= min(job.refits))


# --- names ------------------------------------------------------------------------------------------


@lru_cache(maxsize=_REMEMBERED)
def alike(one: str, other: str) -> bool:
    """True when two names may be the same thing: equal, or one says the other with more words.

    "Cover" may be the bottom cover; "fan" is not the fan shield, since the last word says what it is.
    """
    if not one or not other:
        return False
    if one == other or plain(one) == plain(other):
        return True
    a, b = _without_containers(one), _without_containers(other)
    if (a[-1] in _NO_BOARDS) != (b[-1] in _NO_BOARDS):
        return False
    same_head = a[-1] == b[-1] or (
        min(len(a), len(b)) == 1
        and len(min(a[-1], b[-1], key=len)) >= _COMPOUNDED
        and (a[-1].endswith(b[-1]) or b[-1].endswith(a[-1]))
    )
    return same_head and (set(a[:-1]) <= set(b[:-1]) or set(b[:-1]) <= set(a[:-1]))


@lru_cache(maxsize=_REMEMBERED)
def related(one: str, other: str) -> bool:
    """True when one name stands within the other: a case and its cover. For what is asked for before."""
    a, b = set(one.split()), set(other.split())
    return bool(a and b) and (a <= b or b <= a or alike(one, other))


def _without_containers(name: str) -> list[str]:
    words = name.lower().split()
    while len(words) > 1 and words[-1].rstrip("s") in _CONTAINERS:
        words.pop()
    words[-1] = words[-1].rstrip("s")
    return words


def cable_words(name: str) -> frozenset[str]:
    """What a cable's name says beyond that it is a cable."""
    return frozenset(
        word for word in plain(name).split() if word not in CABLE_WORDS and not _POLES.match(word)
    )


_POLES: Final = re.compile(
    r"(?:\d+|two|three|four|five|six|eight|ten|twelve|multi)-(?:pin|way|pole|wire|core)s?$"
)
_COMPOUNDED: Final = 5
"""Letters from which on a word is also looked for at the end of a longer one."""

_CONTAINERS: Final = frozenset(("pack", "module", "assembly", "unit", "set", "kit"))


def sentences_of(words: str) -> list[str]:
    """Sentences and items of what :meth:`Account.raw` gives; a point within a number ends none."""
    return re.split(r"\.(?!\d)|[;\n]", words)


def mentions(words: str, name: str) -> bool:
    """True when the head word of a name, singular or plural, stands in ``words``.

    "Battery pack" is mentioned where "battery" is: a word such as *pack* says nothing of its own.
    """
    own = _without_containers(name) if name.strip() else []
    stem = re.escape(own[-1]) if own else ""
    # "board" is mentioned where "motherboard" is.
    front = "" if len(stem) >= _COMPOUNDED else r"\b"
    return bool(stem) and re.search(rf"{front}{stem}(?:s|es)?\b", words) is not None


_MANY_OF_A_KIND: Final = frozenset(
    (
        "board",
        "cover",
        "plate",
        "panel",
        "card",
        "case",
        "drive",
        "bracket",
        "module",
        "shield",
        "frame",
        "unit",
        "lid",
    )
)
"""Words for things of which a machine has several: only what stands before them tells which."""


def speaks_of(sentence: str, name: str) -> bool:
    """True when a sentence names this thing, and not only another one of its kind.

    "The board" may be the fan board; "the main board" is not.
    """
    if not mentions(sentence, name):
        return False
    *before, head = _without_containers(name)
    if not before or head not in _MANY_OF_A_KIND:
        return True
    return any(re.search(rf"\b{re.escape(word)}", sentence) for word in before) or bool(
        re.search(rf"\b(?:the|its|this|that|a) {re.escape(head)}s?\b", sentence)
    )


_PLURAL_FORM: Final = {"is": "are", "goes": "go", "comes": "come"}


def does(movement: Movement, verb: str) -> str:
    """``The fan comes``, ``The cables come``: what moves, with the verb in the form that goes with it."""
    return f"The {movement.shown} {_PLURAL_FORM[verb] if are_many(movement) else verb}"


def are_many(movement: Movement) -> bool:
    """True where the name of what moves is a plural."""
    head = movement.shown.split(" from ")[0].split(" of ")[0]
    return is_plural(head) or " and " in head

"""Do the fasteners that come out go back, and in the same number?

Fasteners of the two halves are matched by what they hold; where the other half does not say that, by their
number, or by there being only one left. A half that only says "in reverse order" puts everything back.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from lastscrew.audit.account import (
    Account,
    Job,
    Movement,
    alike,
    are_many,
    does,
    goes_backwards,
    mentions,
    sentences_of,
    speaks_of,
    takes_apart_first,
)
from lastscrew.audit.findings import Finding, Severity
from lastscrew.reading.lexicon.groups import SMALL_NUMBERS
from lastscrew.reading.model import Action, Procedure

_FAMILIES = {
    "bolt": "screw",
    "thumbscrew": "screw",
    "capscrew": "screw",
    "shcs": "screw",
    "bhcs": "screw",
    "fhcs": "screw",
    "fastener": "screw",
    "setscrew": "screw",
    "locknut": "nut",
    "hexnut": "nut",
    "wingnut": "nut",
    "lockwasher": "washer",
}


@dataclass
class _Group:
    """Like fasteners of one holder: what came out, what went back, what may have."""

    family: str
    outs: list[Movement]
    backs: list[Movement] = field(default_factory=list)
    shared: bool = False

    @property
    def holder(self) -> str:
        return self.outs[0].holder

    @property
    def covered(self) -> bool:
        return bool(self.backs) or self.shared

    @property
    def waits(self) -> bool:
        """Some of them are still out, as far as the numbers say."""
        out, back = _total(self.outs), _total(self.backs)
        return not self.covered or (out is not None and back is not None and back < out)

    @property
    def guessed(self) -> bool:
        """What they hold is inferred, not said."""
        return all(_guessed(m) for m in self.outs)


def fastener_findings(account: Account, job: Job) -> Iterator[Finding]:
    """Findings about the fasteners of one job."""
    outs = account.of(job.removals, "out", "fastener")
    backs = account.of(job.refits, "back", "fastener")
    groups = _groups(outs)
    pools: dict[tuple[int, ...], list[Movement]] = {}
    rest = _exact_ones(groups, backs)
    strangers = [back for back in rest if not _assign(groups, back, pools)]
    strangers = _pair_by_number(groups, strangers)
    yield from _other_sizes(groups, strangers)
    level = {family for family in {g.family for g in groups} if _goes_up(family, outs, backs)}
    in_doubt = [g for g in groups if not (g.guessed and g.family in level)]
    for group in in_doubt:
        if not _may_be_others(account, job, group):
            yield from _counts(group)
    for members, pooled in sorted(pools.items()):
        yield from _counts_together([groups[n] for n in members], pooled)
    yield from _clips(account, job)
    if not _explicit(account, job):
        return
    if not goes_backwards(account, job):
        yield from _still_out(account, job, in_doubt)
    if takes_apart_first(job) and (outs or account.of(job.removals, "out", "part")):
        for back in strangers:
            yield from _not_out(account, job, back)


def _other_sizes(groups: list[_Group], strangers: list[Movement]) -> Iterator[Finding]:
    """Screws of one part and one number that come out in one size and go back in another."""
    for back in list(strangers):
        fitting = [
            g
            for g in groups
            if not g.covered
            and g.family == family_of(back)
            and _same_holder(g, back)
            and bool(g.holder)
            and _total(g.outs) == back.count
        ]
        if len(fitting) != 1 or not back.size:
            continue
        [group] = fitting
        group.shared = True
        strangers.remove(back)
        sizes = " and ".join(dict.fromkeys(m.size for m in group.outs if m.size))
        yield Finding(
            "size_differs",
            "warning",
            back.line,
            f"Screws of {_of(group)} come out as {sizes} (line {_lines(group.outs)}) and go back as {back.size}.",
            "Look which size it is, and give both halves the same.",
            also=tuple(sorted({m.line for m in group.outs} - {back.line})),
        )


def _may_be_others(account: Account, job: Job, group: _Group) -> bool:
    """What goes back was matched by there being nothing else left, and the text may well speak of other ones.

    Both halves say what these hold, and it is not the same; or what comes out goes back within its own procedure; or
    that number of screws is named elsewhere as well.
    """
    strange = [m for m in group.backs if not (m.holder and alike(m.holder, group.holder))]
    if strange and not group.guessed and not any(_guessed(m) for m in strange):
        return True
    complete = {m.procedure for m in group.outs} & set(job.refits)
    if strange and complete and not complete & {m.procedure for m in strange}:
        return True
    if not strange and not group.guessed:
        return False
    members = {*job.removals, *job.refits}
    said = [n for i in sorted(members) for n in _numbers_in(_text_of(account, i))]
    taken = [m.count for m in account.movements if m.procedure in members and m.sort == "fastener"]
    return any(said.count(m.count) > taken.count(m.count) for m in group.backs if m.count in said)


def _text_of(account: Account, index: int) -> str:
    """The lines of a procedure in lower case, in one."""
    lines = account.reading.source.lines
    first = account.reading.procedures[index].line
    return " ".join(line.text.lower() for line in lines[first - 1 : account.end_of(index)])


def _clips(account: Account, job: Job) -> Iterator[Finding]:
    """Clips of one part whose number differs; of clips that nobody closes texts are silent, and rightly so."""
    outs = _clip_actions(account, job.removals, ("release", "remove"))
    backs = _clip_actions(account, job.refits, ("close", "insert"))
    for out in outs:
        for back in backs:
            same = {*out.joins} == {*back.joins} and (out.joins or len(outs) == len(backs) == 1)
            name = (out.joins or (job.part,))[0]
            if same and out.count != back.count and out.line != back.line:
                yield Finding(
                    "count_differs",
                    "error",
                    back.line,
                    f'{out.count} clips of "{name}" are opened (line {out.line}), but {back.count} are closed '
                    f"(line {back.line}).",
                    "Count them on the machine and give both halves the same number.",
                    also=(out.line,),
                )


def _clip_actions(
    account: Account, procedures: Sequence[int], classes: tuple[str, ...]
) -> list[Action]:
    return [
        action
        for index in procedures
        for action in account.reading.procedures[index].actions()
        if action.klass in classes
        and isinstance(action.count, int)
        and any(thing.category == "clip" for thing in action.things)
    ]


def _still_out(account: Account, job: Job, groups: Sequence[_Group]) -> Iterator[Finding]:
    words = account.back_words(job)
    open_ones = [
        group
        for group in groups
        if not group.covered
        and not _said_otherwise(group, words)
        and not _back_elsewhere(account, job, group)
    ]
    unread = _unread_numbers(account, job)
    for group in open_ones:
        total = _total(group.outs)
        if len(open_ones) == len(unread) == 1 and total is not None and group.family == "screw":
            yield _other_number(group, total, *unread[0])
        else:
            yield _not_back(account, job, group)


def _unread_numbers(account: Account, job: Job) -> list[tuple[int, int]]:
    """Lines that put screws back in words that gave no step, each with their number.

    A number that the other half names as well is none of these: it may be of other screws.
    """
    read = {m.line for m in account.of(job.refits, "back", "fastener")}
    near = read | {line - 1 for line in read} if account.reading.source.spoken else read
    known = set(_numbers_in(_out_words(account, job)))
    found = []
    for index in job.refits:
        if index in job.removals:
            continue
        for number in range(account.reading.procedures[index].line, account.end_of(index) + 1):
            text = account.reading.source.lines[number - 1].text.lower()
            if number not in near and _GOES_IN.search(text):
                found += [(number, count) for count in _numbers_in(text) if count not in known]
    return found


def _other_number(group: _Group, total: int, line: int, count: int) -> Finding:
    return Finding(
        "count_differs",
        "warning",
        line,
        f"{_number(total, group)} of {_of(group)} {_come(total)} out (line {_lines(group.outs)}), but {count} seem to "
        "go back here.",
        "Count them on the machine and give both halves the same number.",
        also=tuple(sorted({m.line for m in group.outs} - {line})),
    )


def _explicit(account: Account, job: Job) -> bool:
    """True where the text has steps of its own that put things back."""
    return any(m.procedure in job.refits and m.direction == "back" for m in account.movements)


def family_of(movement: Movement) -> str:
    """Screws and bolts are one family, nuts another."""
    return _FAMILIES.get(movement.name, movement.name)


def _groups(outs: Sequence[Movement]) -> list[_Group]:
    groups: list[_Group] = []
    for out in outs:
        family = family_of(out)
        for group in groups:
            same = _same_holder(group, out) and _same_size(group.outs, out)
            if group.family == family and same and not _another(group, out):
                group.outs.append(out)
                break
        else:
            groups.append(_Group(family, [out]))
    return groups


def _another(group: _Group, out: Movement) -> bool:
    """Whether guesses alone would make one of two groups: unless the second mention says the first again."""
    if not (group.guessed or _guessed(out)):
        return False
    first = group.outs[0]
    again = first.count == out.count and first.action.verb != out.action.verb
    return isinstance(first.count, int) and isinstance(out.count, int) and not again


def _guessed(movement: Movement) -> bool:
    """What it holds is inferred, or not known at all."""
    return not movement.holder or bool(dict(movement.action.inferred).get("joins"))


def _exact_ones(groups: list[_Group], backs: Sequence[Movement]) -> list[Movement]:
    """Pair what agrees in number: first under one name, then where a name is a guess; the rest is returned.

    Things go back in the opposite order: of several groups of one number the last that is still out.
    """
    rest = list(backs)
    for by_name in (True, False):
        left = []
        for back in rest:
            fitting = [
                g
                for g in groups
                if not g.covered
                and g.family == family_of(back)
                and isinstance(back.count, int)
                and _total(g.outs) == back.count
                and _same_size(g.outs, back)
                and (
                    _same_holder(g, back)
                    if by_name
                    else g.guessed or (_guessed(back) and not _has_own(groups, back))
                )
            ]
            if fitting and (not by_name or len(fitting) == 1):
                fitting[-1].backs.append(back)
            else:
                left.append(back)
        rest = left
    return rest


def _has_own(groups: list[_Group], back: Movement) -> bool:
    """A group that is still out has the name of what this holds."""
    return any(
        not g.covered and g.family == family_of(back) and _same_holder(g, back) for g in groups
    )


def _goes_up(family: str, outs: Sequence[Movement], backs: Sequence[Movement]) -> bool:
    """In all as many go back as came out."""
    out = _total_of_lines([m for m in outs if family_of(m) == family])
    back = _total_of_lines([m for m in backs if family_of(m) == family])
    return out is not None and out == back


def _total_of_lines(movements: Sequence[Movement]) -> int | None:
    numbers = [m.count for m in movements]
    return (
        None
        if None in numbers or "all" in numbers
        else sum(n for n in numbers if isinstance(n, int))
    )


def _same_holder(group: _Group, movement: Movement) -> bool:
    if not group.holder and not movement.holder:
        return True
    return alike(group.holder, movement.holder)


def _same_size(known: Sequence[Movement], movement: Movement) -> bool:
    sizes = {m.size for m in known if m.size}
    return not sizes or not movement.size or movement.size in sizes


def _assign(
    groups: list[_Group], back: Movement, pools: dict[tuple[int, ...], list[Movement]]
) -> bool:
    """Give a fastener that goes back to the group that it belongs to; False where there is none."""
    fitting = _candidates(groups, back)
    fitting = [group for group in fitting if group.waits] or fitting
    if not fitting:
        return False
    if len(fitting) == 1:
        fitting[0].backs.append(back)
        return True
    exact = [g for g in fitting if not g.backs and _total(g.outs) == back.count]
    if isinstance(back.count, int) and exact:
        exact[0].backs.append(back)
        return True
    pools.setdefault(tuple(groups.index(group) for group in fitting), []).append(back)
    for group in fitting:
        group.shared = True
    return True


def _candidates(groups: list[_Group], back: Movement) -> list[_Group]:
    """Groups of its family that it may belong to: by holder, else by number; then by size."""
    kin = [group for group in groups if group.family == family_of(back)]
    fitting = [group for group in kin if _same_holder(group, back)]
    if not fitting:
        fitting = [g for g in kin if any(alike(g.holder, name) for name in back.joined[1:])]
    if not fitting and not back.holder:
        same = [g for g in kin if back.count == _total(g.outs) and not g.backs]
        fitting = same or kin
    sized = [g for g in fitting if back.size and any(m.size == back.size for m in g.outs)]
    return sized or [g for g in fitting if _same_size(g.outs, back)]


def _pair_by_number(groups: list[_Group], strangers: list[Movement]) -> list[Movement]:
    """A fastener under another name: the one group of its family that is still out, if the numbers agree."""
    left = []
    for back in strangers:
        waiting = [
            g
            for g in groups
            if not g.covered and g.family == family_of(back) and _same_size(g.outs, back)
        ]
        agreed = [g for g in waiting if _total(g.outs) in (None, back.count) or back.count is None]
        guessed = [g for g in waiting if g.guessed or _guessed(back)]
        vague = back.count is None and _guessed(back)
        if len(agreed) == 1 or (agreed and vague):
            for group in agreed:
                group.shared = True
        elif len(strangers) == 1 and len(waiting) == len(guessed) == 1:
            guessed[0].backs.append(back)
        else:
            left.append(back)
    return left


def _total(movements: Sequence[Movement]) -> int | None:
    """How many in all; None where one of them does not say.

    What is loosened and then taken out, or started and then tightened, is counted once.
    """
    counted: list[tuple[int, str]] = []
    for movement in movements:
        if not isinstance(movement.count, int):
            return None
        verb = movement.action.verb
        if not any(count == movement.count and verb != other for count, other in counted):
            counted.append((movement.count, verb))
    return sum(count for count, _ in counted)


def _counts(group: _Group) -> Iterator[Finding]:
    out, back = _total(group.outs), _total(group.backs)
    if out is None or back is None or not group.backs or group.shared or out == back:
        return
    plain_sum = sum(m.count for m in group.backs if isinstance(m.count, int))
    plain_out = sum(m.count for m in group.outs if isinstance(m.count, int))
    if plain_sum in (out, plain_out) or plain_out == back:
        return
    guessed = any(dict(m.action.inferred).get("joins") for m in group.backs)
    if guessed and len(group.backs) > 1 and any(m.count in (out, plain_out) for m in group.backs):
        return  # what they hold is inferred; one of them agrees
    several = any(m.each for m in (*group.outs, *group.backs))
    if several and (back % out == 0 or out % back == 0):
        return
    first = group.backs[0]
    yield Finding(
        "count_differs",
        "error",
        first.line,
        f"{_number(out, group)} of {_of(group)} {_come(out)} out (line {_lines(group.outs)}), but "
        f"{back} {'goes' if back == 1 else 'go'} back (line {_lines(group.backs)}).",
        "Count them on the machine and give both halves the same number.",
        also=tuple(sorted({m.line for m in (*group.outs, *group.backs)} - {first.line})),
    )


def _counts_together(groups: list[_Group], backs: list[Movement]) -> Iterator[Finding]:
    """Several kinds of fastener of one holder that go back in one breath."""
    if not all(alike(group.holder, groups[0].holder) for group in groups):
        return
    merged = _Group(
        groups[0].family,
        [m for group in groups for m in group.outs],
        [*backs, *(m for group in groups for m in group.backs)],
    )
    totals = [_total(group.outs) for group in groups]
    out, back = sum(t or 0 for t in totals), _total(merged.backs)
    if None not in totals and back not in (None, out) and not any(m.each for m in merged.outs):
        yield from _counts(merged)


def _number(count: int, group: _Group) -> str:
    return f"{count} {group.family}{'' if count == 1 else 's'}"


def _come(count: int) -> str:
    return "comes" if count == 1 else "come"


def _lines(movements: Sequence[Movement]) -> str:
    return " and ".join(str(line) for line in dict.fromkeys(m.line for m in movements))


def _of(group: _Group) -> str:
    return f'"{group.holder}"' if group.holder else "no named part"


def _said_otherwise(group: _Group, words: str) -> bool:
    """The other half speaks of these fasteners in words that give no step: "secure the fan as before"."""
    if group.family != "screw":
        return mentions(words, group.family)
    name = group.holder or group.family
    return any(
        _SCREWED.search(sentence)
        and (speaks_of(sentence, name) or _of_these(group, sentence))
        and not _of_another(group, sentence)
        for sentence in sentences_of(words)
    )


def _of_these(group: _Group, sentence: str) -> bool:
    """What they hold is a guess, and the sentence gives their number."""
    return group.guessed and _total(group.outs) in _numbers_in(sentence)


def _of_another(group: _Group, sentence: str) -> bool:
    """The sentence gives a number, and it is not the number of these: it speaks of others."""
    total = _total(group.outs)
    said = _numbers_in(sentence)
    return bool(said) and group.guessed and total is not None and total not in said


_SCREWED = re.compile(
    r"(?:screw|\bbolt)(?:s|ed|ing)?\b(?!-? ?(?:holes?|posts?|boss(?:es)?|mounts?|points?|threads?)\b)"
)
_GOES_IN = re.compile(r"\b(?:put|fit|refit|drive|screw|turn|set|get|pop|with|its)\b")
_NUMBERS = {word: value for word, value in SMALL_NUMBERS.items() if value > 1}
_COUNTED = re.compile(
    rf"\b({'|'.join(_NUMBERS)}|\d{{1,2}})\b(?=(?: [\w.#-]+){{0,3}} (?:screws?|bolts?|nuts?)\b)"
)


def _numbers_in(words: str) -> list[int]:
    """Numbers of screws, bolts and nuts that some words name."""
    return [_NUMBERS.get(word) or int(word) for word in _COUNTED.findall(words)]


def _back_elsewhere(account: Account, job: Job, group: _Group) -> bool:
    """Another procedure of the text puts them back, which does not take them out itself."""
    both = {
        index
        for other in account.jobs
        if other is not job
        and any(
            family_of(m) == group.family and alike(m.holder, group.holder)
            for m in account.of(other.removals, "out", "fastener")
        )
        for index in other.refits
    }
    return any(
        m.direction == "back"
        and m.sort == "fastener"
        and m.procedure not in job.refits
        and m.procedure not in both
        and family_of(m) == group.family
        and bool(group.holder)
        and alike(m.holder, group.holder)
        for m in account.movements
    )


def _not_back(account: Account, job: Job, group: _Group) -> Finding:
    first = group.outs[0]
    loosened = all(m.action.klass == "loosen" for m in group.outs)
    said = f"{does(first, 'is')} loosened" if loosened else f"{does(first, 'comes')} out"
    them = "them" if are_many(first) else "it"
    again = f"tightens {them} again" if loosened else f"puts {them} back"
    place = _place_of_refit(account, job)
    return Finding(
        "fastener_not_back",
        "warning",
        first.line,
        f"{said} here, and the half that puts everything back{place} never {again}.",
        f"Add the step that {'tightens' if loosened else 'refits'} the {first.shown}, with their number.",
        also=tuple(sorted({m.line for m in group.outs[1:]} - {first.line})),
    )


def _place_of_refit(account: Account, job: Job) -> str:
    halves: list[Procedure] = [
        account.reading.procedures[i]
        for i in job.refits
        if account.reading.procedures[i].kind == "refit"
    ]
    return f" (from line {halves[0].line})" if halves else ""


def _not_out(account: Account, job: Job, back: Movement) -> Iterator[Finding]:
    if back.action.new or back.action.optional or back.action.weak:
        return
    elsewhere = [
        out
        for out in account.movements
        if out.direction == "out"
        and out.sort == "fastener"
        and family_of(out) == family_of(back)
        and (not back.holder or alike(out.holder, back.holder))
    ]
    if elsewhere:
        return
    family = family_of(back)
    if family in account.words_of(_only_out(job)) and family != "screw":
        return  # "keep the washers with their screws" is told, although it is no step
    kinds = {family, back.name}
    for sentence in sentences_of(_out_words(account, job)):
        if back.holder and any(k in sentence for k in kinds) and mentions(sentence, back.holder):
            return
    before = any(account.reading.procedures[index].prerequisites for index in job.removals)
    grade: Severity = "note" if before and not _named_out(account, job, back) else "warning"
    yield Finding(
        "fastener_not_out",
        grade,
        back.line,
        f"{does(back, 'goes')} back here, but no step takes {'them' if are_many(back) else 'it'} out."
        + (" A procedure that is named as done before may do so." if grade == "note" else ""),
        "Add the step that takes them out, or say that they are new.",
    )


def _only_out(job: Job) -> list[int]:
    return [index for index in job.removals if index not in job.refits]


def _out_words(account: Account, job: Job) -> str:
    """All lines of the halves that only take apart, understood or not."""
    return "\n".join(
        account.raw(account.reading.procedures[i].line, account.end_of(i)) for i in _only_out(job)
    )


def _named_out(account: Account, job: Job, back: Movement) -> bool:
    """The removal half takes off what these fasteners hold."""
    outs = account.of(job.removals, "out", "part")
    return any(alike(out.name, back.holder) for out in outs)

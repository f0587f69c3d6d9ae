"""What lies over what a procedure opens, and is not named as taken off before it.

Three ways to know. The *model*: the draft of a device file that the whole text gives says that the step can't
be done after what the procedure asks for. *Another procedure* opens the same thing and takes a part off first.
*All others* that open something on the same part take a cover off first, and this one does not.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from lastscrew.audit.account import Account, Movement, does, related
from lastscrew.audit.fasteners_of_text import family_of
from lastscrew.audit.findings import Finding
from lastscrew.audit.prerequisites import Chain, pieces_of, resolve
from lastscrew.device.model import Device
from lastscrew.device.opening import access_is_free, clusters
from lastscrew.problems import InputError
from lastscrew.reading.device_draft import draft_device
from lastscrew.reading.draft_joints import gather_joints
from lastscrew.reading.draft_workshop import Workshop
from lastscrew.reading.lexicon import Lexicon

_LEAST_WITNESSES = 2
"""Other procedures that must agree before their silence-breaking counts against one that says nothing."""

_LEAST_LISTS = 3
"""Lists that must name a cover before a part, unless half of all lists name it: two may want it for their own sake."""


@dataclass(frozen=True, slots=True)
class _Known:
    """Names of what is off, for every procedure, when its first step begins."""

    before: Mapping[int, frozenset[str]]
    required: Mapping[int, tuple[tuple[str, int], ...]]
    """Parts that each procedure itself states as off before it, with the line."""
    parts: tuple[str, ...]
    """Name of the part of each procedure."""
    handled: Mapping[int, frozenset[str]]
    """What the steps of each procedure take off, and what they free it from."""

    _off: dict[tuple[int, str], bool] = field(default_factory=dict)
    _at: dict[str, list[int]] = field(default_factory=dict)
    backs: dict[tuple[str, str], bool] = field(default_factory=dict)
    """Covers that can only come off after a part, as they were found."""

    def is_off(self, procedure: int, name: str) -> bool:
        """What is off before a procedure; asked for again and again, so it is kept."""
        key = procedure, name
        if key not in self._off:
            self._off[key] = any(related(known, name) for known in self.before[procedure])
        return self._off[key]

    def of_part(self, name: str) -> list[int]:
        """Procedures about the part of this name."""
        if not self._at:
            for index, part in enumerate(self.parts):
                self._at.setdefault(part, []).append(index)
        return self._at.get(name, [])


def cover_findings(account: Account, chain: Chain, lexicon: Lexicon) -> Iterator[Finding]:
    """Findings of all three ways, one for each procedure and cover."""
    known = _known(account, chain)
    told: set[tuple[int, str]] = set()
    for way in (
        _same_thing(account, known),
        _same_part(account, known),
        _model(account, chain, lexicon, known),
    ):
        for procedure, cover, finding in way:
            if not any(p == procedure and related(c, cover) for p, c in told):
                told.add((procedure, cover))
                yield finding


def _known(account: Account, chain: Chain) -> _Known:
    before: dict[int, frozenset[str]] = {}
    procedures = account.reading.procedures
    for index, procedure in enumerate(procedures):
        names: set[str] = set()
        for other in (index, *sorted(chain.closure[index])):
            for item in procedures[other].prerequisites:
                names |= {account.names.of(piece) for piece in pieces_of(item.text)}
            if other != index:
                names.add(account.names.of(procedures[other].part))
                names |= {
                    m.name
                    for m in account.movements
                    if m.procedure == other and m.direction == "out" and m.sort == "part"
                }
        names |= {account.names.of(q.text) for q in procedure.prerequisites if q.inferred}
        before[index] = frozenset(names - {""})
    outs: dict[int, set[str]] = {index: set() for index in range(len(procedures))}
    for movement in account.movements:
        if movement.direction == "out":
            outs[movement.procedure] |= {movement.name, movement.holder}
    return _Known(
        before,
        {index: _stated(account, index) for index in range(len(procedures))},
        tuple(account.names.of(procedure.part) for procedure in procedures),
        {index: frozenset(names) for index, names in outs.items()},
    )


def _stated(account: Account, index: int) -> tuple[tuple[str, int], ...]:
    """Parts that a procedure itself states as off before it, with the line."""
    return tuple(
        (account.names.of(piece), item.line)
        for item in account.reading.procedures[index].prerequisites
        if item.kind == "part" and not item.inferred
        for piece in pieces_of(item.text)
        if account.names.of(piece)
    )


def _off_by_then(account: Account, movement: Movement, cover: str) -> bool:
    """A step of the same procedure takes the cover off earlier, or it is the cover itself that is opened."""
    if related(movement.holder, cover) or related(movement.name, cover):
        return True
    return any(
        m.procedure == movement.procedure
        and m.direction == "out"
        and m.line <= movement.line
        and (related(m.name, cover) or related(m.holder, cover))
        for m in account.movements
    )


def _openings(account: Account) -> list[Movement]:
    return [
        m
        for m in account.movements
        if m.direction == "out"
        and m.sort in ("fastener", "cable", "part")
        and account.reading.procedures[m.procedure].kind != "refit"
    ]


def _same(one: Movement, other: Movement) -> bool:
    if one.sort != other.sort:
        return False
    if one.sort == "fastener":
        return (
            bool(one.holder)
            and one.holder == other.holder
            and family_of(one) == family_of(other)
            and (one.count == other.count or None in (one.count, other.count))
        )
    return one.name == other.name and len(one.name.split()) > 1


Way = Iterator[tuple[int, str, Finding]]


def _same_thing(account: Account, known: _Known) -> Way:
    """Others open the same thing, and all of them take a part off before.

    One witness is enough only against a procedure that asks for nothing at all: what else a longer list
    takes off may be there for another step.
    """
    openings = _openings(account)
    for movement in openings:
        witnesses = [
            o for o in openings if o.procedure != movement.procedure and _same(movement, o)
        ]
        procedures = sorted({o.procedure for o in witnesses})
        bare = not known.required[movement.procedure]
        if not procedures or (len(procedures) < _LEAST_WITNESSES and not bare):
            continue
        for cover, line in known.required[procedures[0]][: 1 if len(procedures) == 1 else None]:
            if not all(known.is_off(other, cover) for other in procedures):
                continue
            if known.is_off(movement.procedure, cover) or _off_by_then(account, movement, cover):
                continue
            other = witnesses[0]
            yield (
                movement.procedure,
                cover,
                Finding(
                    "cover_not_named",
                    "warning",
                    movement.line,
                    f'{does(movement, "is")} opened here without "{cover}" being off; line {other.line} opens '
                    f"the same after it was taken off (line {line}).",
                    f'Name "{cover}" among what is taken off before.',
                    also=tuple(sorted({line, other.line} - {movement.line})),
                ),
            )


def _same_part(account: Account, known: _Known) -> Way:
    """All others that open something on the same part take a cover off first."""
    by_part: dict[str, list[Movement]] = {}
    for movement in _openings(account):
        for name in movement.joined[:2] if movement.sort != "part" else (movement.name,):
            by_part.setdefault(name, []).append(movement)
    for name in sorted(by_part):
        movements = by_part[name]
        for procedure in sorted({m.procedure for m in movements}):
            yield from _alone(account, known, name, movements, procedure)
    yield from _ordered_before(account, known)


def _alone(
    account: Account, known: _Known, name: str, movements: list[Movement], procedure: int
) -> Way:
    mine = [m for m in movements if m.procedure == procedure]
    every = sorted({m.procedure for m in movements} - {procedure})
    covers = dict.fromkeys(cover for other in every for cover, _ in known.required[other])
    own = known.parts[procedure]
    for cover in covers:
        if related(cover, name) or related(own, name) or known.is_off(procedure, cover):
            continue
        # What takes the cover off itself, or comes before it, can't ask for it.
        others = [
            other
            for other in every
            if not _takes_off(known, other, cover)
            and not _covers_back(known, cover, known.parts[other])
        ]
        if len(others) < _LEAST_WITNESSES:
            continue
        if not all(known.is_off(other, cover) for other in others):
            continue
        stated = [o for o in others if any(cover == name for name, _ in known.required[o])]
        if len(stated) < _LEAST_WITNESSES and not resolve(account, cover, asking=procedure):
            continue
        if _covers_back(known, cover, own):
            continue
        first = next((m for m in mine if not _off_by_then(account, m, cover)), None)
        if first is None or _takes_off(known, procedure, cover):
            continue
        lines = [_first_line(account, procedure)]
        lines += sorted({m.line for m in movements if m.procedure in others})
        yield (
            procedure,
            cover,
            Finding(
                "cover_not_named",
                "warning",
                first.line,
                f'Every other procedure that opens something on "{name}" takes "{cover}" off first; '
                f'"{account.reading.procedures[procedure].part}" does not.',
                f'Name "{cover}" among what is taken off before, or say why it may stay.',
                also=tuple(dict.fromkeys(line for line in lines[:4] if line != first.line)),
            ),
        )


def _takes_off(known: _Known, procedure: int, cover: str) -> bool:
    names = (known.parts[procedure], *known.handled[procedure])
    return any(related(name, cover) for name in names)


def _ordered_before(account: Account, known: _Known) -> Way:
    """Wherever a part is asked for, a cover is asked for before it; its own procedure does not ask for it."""
    procedures = account.reading.procedures
    for index, procedure in enumerate(procedures):
        key = account.names.of(procedure.part)
        if procedure.kind == "refit" or not key or not procedure.steps:
            continue
        lists = []
        for other in range(len(procedures)):
            asked = [name for name, _ in known.required[other]]
            at = next((n for n, name in enumerate(asked) if name == key), None)
            if other != index and at is not None:
                lists.append((other, asked[:at]))
        if len(lists) < _LEAST_WITNESSES:
            continue
        common = [c for c in dict.fromkeys(lists[0][1]) if all(c in names for _, names in lists)]
        for cover in common:
            if known.is_off(index, cover) or _takes_off(known, index, cover):
                continue
            asking = [o for o, asked in known.required.items() if asked]
            general = 2 * sum(known.is_off(o, cover) for o in asking) >= len(asking)
            if _covers_back(known, cover, key) or (len(lists) < _LEAST_LISTS and not general):
                continue
            yield (
                index,
                cover,
                Finding(
                    "cover_not_named",
                    "warning",
                    procedure.line,
                    f'Wherever "{procedure.part}" is asked for, "{cover}" is taken off before it '
                    f"(from line {procedures[lists[0][0]].line}); its own procedure does not ask for that.",
                    f'Name "{cover}" among what is taken off before, or say that it may stay.',
                    also=tuple(
                        dict.fromkeys(
                            [
                                _first_line(account, index),
                                *(procedures[o].line for o, _ in lists[:4]),
                            ]
                        )
                    ),
                ),
            )


def _first_line(account: Account, index: int) -> int:
    """Where the work of a procedure begins."""
    procedure = account.reading.procedures[index]
    opened = [m.line for m in account.movements if m.procedure == index and m.direction == "out"]
    return min(opened, default=procedure.steps[0].line if procedure.steps else procedure.line)


def _covers_back(known: _Known, cover: str, key: str) -> bool:
    """The cover itself can only come off after this part."""
    if (cover, key) not in known.backs:
        known.backs[cover, key] = any(known.is_off(i, key) for i in known.of_part(cover))
    return known.backs[cover, key]


# --- the model --------------------------------------------------------------------------------------


def _model(account: Account, chain: Chain, lexicon: Lexicon, known: _Known) -> Way:
    """Open, in the draft, what a procedure asks for, then its own joints one after the other."""
    try:
        device = draft_device(account.reading, lexicon).device
    except InputError:
        return  # a text from which nothing can be drafted is told elsewhere
    drafts = gather_joints(Workshop(account.reading, lexicon, account.names, {}))
    of_procedure: dict[int, list[str]] = {}
    lines = {joint.id: joint.line for joint in drafts}
    for joint in drafts:
        if joint.id in device.joints and joint.procedure >= 0:
            of_procedure.setdefault(joint.procedure, []).append(joint.id)
    for index in sorted(of_procedure):
        opened = {j for other in chain.closure[index] for j in of_procedure.get(other, ())}
        for joint_id in sorted(of_procedure[index], key=lambda j: (lines[j], j)):
            for cover in _in_the_way(device, opened, joint_id):
                name = device.parts[cover].name.lower()
                if _takes_off(known, index, account.names.of(name)):
                    continue
                if not known.is_off(index, name) and not any(
                    cover in device.joints[other].joins for other in of_procedure[index]
                ):
                    yield (
                        index,
                        name,
                        Finding(
                            "cover_not_named",
                            "warning",
                            lines[joint_id],
                            f'This can\'t be opened yet: "{name}" still lies over it after all that is '
                            "asked for before.",
                            f'Name "{name}" among what is taken off before.',
                        ),
                    )
            opened.add(joint_id)


def _in_the_way(device: Device, opened: set[str], joint_id: str) -> list[str]:
    joint = device.joints[joint_id]
    closed = [j for j in device.joints if j not in opened and j != joint_id]
    cluster_of = clusters(device, closed)
    if any(access_is_free(joint, access, cluster_of) for access in joint.accesses):
        return []
    return [
        cover
        for access in joint.accesses[:1]
        for cover in access.under
        if any(cluster_of[cover] == cluster_of[part] for part in joint.joins if part != cover)
    ]

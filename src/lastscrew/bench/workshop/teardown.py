"""Recording a teardown: taps on a first unit that is taken apart, and the device file that follows from them.

A teardown is a list of steps in the order in which they were done. A step opens one joint; parts that came free with
it are named there. From the order follows what a device file has to say: whatever lay aside on the same side when a
joint was opened is taken to have lain over it, unless the person says otherwise (the same rule by which written
procedures are read). Values that nobody said are ``unknown``; whatever was inferred says so in a comment.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Final

from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from lastscrew.bench.workshop.after_teardown import NOTHING_SAID, Answers
from lastscrew.device.model import (
    KINDS,
    POWERED_KINDS,
    RIGID_KINDS,
    Access,
    Device,
    Fastener,
    Function,
    Hazard,
    Joint,
    Part,
    Supply,
    Tool,
)
from lastscrew.device.names import device_id_from_name, to_identifier
from lastscrew.device.opening import access_is_free, clusters
from lastscrew.device.reading import ReadResult, read_device
from lastscrew.device.writing import write_device
from lastscrew.problems import InputError, Problem

MOST_STEPS: Final = 1_000
MOST_NAME: Final = 120
ENERGY: Final = re.compile(
    r"\b(battery|batteries|pack|packs|accumulator|cell|cells|capacitor|capacitors"
    r"|akkus?|akku(?:pack|block)s?|batterien?|knopfzellen?|kondensator(?:en)?)\b"
    # What only holds or connects one stores nothing: a pack clamp, the battery cover. With more said, it is taken
    # to be in it.
    r"(?!\s+(?:clamp|bracket|holder|cover|lid|door|strap|cable|lead|plug|connector|contact|foam|label|tape|screw)s?"
    r"(?:\s+\d+)?\s*$)",
    re.IGNORECASE,
)
"""Names of parts that store energy; where in doubt, one does."""
ONE_PIECE: Final = frozenset({"plug", "ribbon", "coax", "board_link", "seat"})
"""Joints of which there is one where nobody counted."""
PACK_HAZARD: Final = gettext_lazy(
    "Stored energy. Do not bend, pierce or lever it. Keep bare metal away from its contacts."
)
SIZE: Final = re.compile(
    r"\s*(M\s*\d+(?:[.,]\d+)?)\s*[x×*]\s*(\d+(?:[.,]\d+)?)\s*(?:mm)?\s*", re.IGNORECASE
)
DRIVE: Final = re.compile(r"[A-Z]{1,3}\d{0,3}(?:\.\d)?[A-Z]?")
KIND_NAMES: Final[Mapping[str, str | Promise]] = {
    "screw": gettext_lazy("screws"),
    "nut": gettext_lazy("nuts"),
    "clip": gettext_lazy("clips"),
    "latch": gettext_lazy("latch"),
    "hook": gettext_lazy("hooks"),
    "magnet": gettext_lazy("magnets"),
    "adhesive": gettext_lazy("adhesive"),
    "rivet": gettext_lazy("rivets"),
    "solder": gettext_lazy("solder"),
    "pin": gettext_lazy("pins"),
    "seat": gettext_lazy("seat"),
    "board_link": gettext_lazy("board link"),
    "plug": gettext_lazy("plug"),
    "ribbon": gettext_lazy("ribbon"),
    "coax": gettext_lazy("coax"),
    "tape": gettext_lazy("tape"),
    "tie": gettext_lazy("tie"),
    "route": gettext_lazy("cable route"),
    "other": gettext_lazy("other joint"),
}


KIND_WORDS: Final[Mapping[str, str]] = {
    "screw": "screws", "nut": "nuts", "clip": "clips", "hook": "hooks", "magnet": "magnets", "rivet": "rivets",
    "pin": "pins", "other": "joint",
}  # fmt: skip
"""How the id of a joint ends, where that is not its kind; ids are the same in every language."""


@dataclass(frozen=True, slots=True)
class Taken:
    """One tap: a joint was opened, and what came off with it.

    Attributes:
        key: Made by the screen; the same key again is the same tap.
        kind: Kind of the joint.
        joins: Names of the parts that it held together, the one that moves first.
        count: How many pieces, None for not counted.
        side: Side that faced up.
        tool: Name of the tool, "" for the bare hand, None for not said.
        size: Size of the fasteners, such as ``M2 x 5``; "" for not measured.
        drive: Their drive, such as ``PH1``; "" for not said.
        came_off: Names of the parts that came free.
        over: Names of the parts that lay over it, None for not said.
        isolates: It takes the power away.
        single_use: It can't be used again.
        note: What is worth knowing.
        photo: Hash of a photo, "" for none.
    """

    key: str
    kind: str
    joins: tuple[str, ...]
    count: int | None = None
    side: str = "bottom"
    tool: str | None = None
    size: str = ""
    drive: str = ""
    came_off: tuple[str, ...] = ()
    over: tuple[str, ...] | None = None
    isolates: bool = False
    single_use: bool = False
    note: str = ""
    photo: str = ""


@dataclass(frozen=True, slots=True)
class Teardown:
    """A recorded teardown.

    Attributes:
        name: Name of the device.
        fixed: Name of what stays on the bench.
        kind: What kind of machine it is.
        steps: In the order in which they were done.
    """

    name: str
    fixed: str
    kind: str = ""
    steps: tuple[Taken, ...] = ()
    answers: Answers = NOTHING_SAID
    """What has to work again, and what goes in new."""

    def with_step(self, step: Taken) -> Teardown:
        """With one more step; one that is there already changes nothing."""
        if any(old.key == step.key for old in self.steps):
            return self
        return replace(self, steps=(*self.steps, step))

    def without(self, key: str) -> Teardown:
        """Less a step that was a mistake."""
        return replace(self, steps=tuple(step for step in self.steps if step.key != key))


def steps_as_json(steps: Iterable[Taken]) -> list[dict[str, Any]]:
    """Steps as the database keeps them; what is not said is left out."""
    rows = []
    for step in steps:
        row: dict[str, Any] = {
            "key": step.key,
            "kind": step.kind,
            "joins": list(step.joins),
            "side": step.side,
        }
        for name in ("count", "tool", "size", "drive", "isolates", "single_use", "note", "photo"):
            value = getattr(step, name)
            if value not in (None, "", False) or (name == "tool" and value == ""):
                row[name] = value
        if step.came_off:
            row["came_off"] = list(step.came_off)
        if step.over is not None:
            row["over"] = list(step.over)
        rows.append(row)
    return rows


def steps_from_json(rows: Iterable[Mapping[str, Any]]) -> tuple[Taken, ...]:
    """Steps as they were kept."""
    return tuple(
        Taken(
            key=str(row["key"]),
            kind=str(row["kind"]),
            joins=tuple(row["joins"]),
            count=row.get("count"),
            side=str(row.get("side", "bottom")),
            tool=row.get("tool"),
            size=str(row.get("size", "")),
            drive=str(row.get("drive", "")),
            came_off=tuple(row.get("came_off", ())),
            over=tuple(row["over"]) if "over" in row else None,
            isolates=bool(row.get("isolates")),
            single_use=bool(row.get("single_use")),
            note=str(row.get("note", "")),
            photo=str(row.get("photo", "")),
        )
        for row in rows
    )


def off_before(teardown: Teardown, index: int) -> tuple[str, ...]:
    """Names of the parts that lay aside when a step was done, in the order in which they came off."""
    names = (name for step in teardown.steps[:index] for name in step.came_off)
    return tuple(dict.fromkeys(names))


def known_parts(teardown: Teardown) -> tuple[str, ...]:
    """Names of every part so far, what stays on the bench first."""
    named = (name for step in teardown.steps for name in (*step.joins, *step.came_off))
    return tuple(dict.fromkeys((teardown.fixed, *named)))


def check_step(teardown: Teardown, step: Taken) -> tuple[Problem, ...]:
    """What is wrong with a step, empty where it can be recorded."""
    problems = []
    if step.kind not in KINDS:
        problems.append(Problem(_("this is no kind of joint"), _("Choose one."), path="kind"))
    named = [to_identifier(name) for name in step.joins]
    if len({key for key in named if key}) < 2 or not all(named):
        problems.append(
            Problem(
                _("a joint holds two different parts together"),
                _("Name what comes off and what it was fastened to, in Latin letters or digits."),
                path="joins",
            )
        )
    if step.count is not None and not 1 <= step.count <= 999:
        problems.append(
            Problem(_("that is no number of pieces"), _("Give 1 to 999."), path="count")
        )
    if step.size and not SIZE.fullmatch(step.size):
        problems.append(Problem(_("that is no size"), _("Write it like M2 x 5."), path="size"))
    if step.drive and not DRIVE.fullmatch(step.drive):
        problems.append(Problem(_("that is no drive"), _("Write it like PH1 or T5."), path="drive"))
    if to_identifier(step.side) is None:
        problems.append(Problem(_("a side needs a name"), _("Say top or bottom."), path="side"))
    fixed = to_identifier(teardown.fixed)
    strange = [name for name in step.came_off if to_identifier(name) == fixed]
    if strange:
        problems.append(
            Problem(
                _("%(part)s stays on the bench") % {"part": strange[0]},
                _("Name the other part as the one that came off."),
                path="came_off",
            )
        )
    again = set(off_before(teardown, len(teardown.steps))) & set(step.came_off)
    if again:
        problems.append(
            Problem(
                _("%(part)s is off already") % {"part": min(again)},
                _("Take it back there first."),
                path="came_off",
            )
        )
    if len(teardown.steps) >= MOST_STEPS:
        problems.append(Problem(f"a teardown has at most {MOST_STEPS} steps", path="steps"))
    return tuple(problems)


@dataclass(slots=True)
class _Draft:
    """The device file in the making."""

    teardown: Teardown
    parts: dict[str, Part] = field(default_factory=dict)
    joints: dict[str, Joint] = field(default_factory=dict)
    tools: dict[str, Tool] = field(default_factory=dict)
    fasteners: dict[str, Fastener] = field(default_factory=dict)
    hazards: dict[str, Hazard] = field(default_factory=dict)
    functions: dict[str, Function] = field(default_factory=dict)
    supplies: dict[str, Supply] = field(default_factory=dict)
    sides: dict[str, None] = field(default_factory=dict)
    comments: dict[str, str] = field(default_factory=dict)


def device_text(teardown: Teardown) -> str:
    """The device file of a teardown; what can't be written is left for :func:`draft_of` to say."""
    draft = _Draft(teardown)
    draft.comments[""] = (
        "Draft recorded from a teardown. Steps are counted in the order in which they were done.\n"
        "What nobody said is 'unknown' or inferred from the order, and says so.\n"
        "It does not replace the maker's instructions, local rules and trained people."
    )
    fixed = _part(draft, teardown.fixed, "named when the teardown began: it stays on the bench")
    draft.parts[fixed] = replace(draft.parts[fixed], fixed=True, energy=False, hazards=())
    held = _held(teardown)
    names: list[str] = []
    for index, step in enumerate(teardown.steps):
        names.append(_joint(draft, index, step, held, names))
    _functions(draft)
    _renewals(draft, names)
    _live_before_isolation(draft, names)
    _seats(draft)
    _keep_the_order(draft, names)
    return write_device(_device(draft), draft.comments)


def _device(draft: _Draft) -> Device:
    teardown = draft.teardown
    name = teardown.name.strip()[:MOST_NAME]
    return Device(
        id=device_id_from_name(name),
        name=name,
        kind=teardown.kind.strip()[:80],
        sides=tuple(draft.sides) or ("bottom",),
        parts=draft.parts,
        joints=draft.joints,
        tools=draft.tools,
        fasteners=draft.fasteners,
        hazards=draft.hazards,
        functions=draft.functions,
        supplies=draft.supplies,
    )


def draft_of(teardown: Teardown) -> tuple[str, ReadResult]:
    """The device file and what `check` says of it.

    Raises:
        InputError: Nothing was opened yet, so that there is nothing to write.
    """
    if not teardown.steps:
        raise InputError(
            [
                Problem(
                    "nothing was opened yet",
                    "Record the first joint.",
                    path="steps",
                    code="no_step",
                )
            ]
        )
    text = device_text(teardown)
    return text, read_device(text, "teardown")


def _id(name: str) -> str:
    return to_identifier(name) or "part"


def _part(draft: _Draft, name: str, why: str) -> str:
    key = _id(name)
    if key not in draft.parts:
        energy = bool(ENERGY.search(name))
        if energy:
            draft.hazards["pack"] = Hazard("pack", "warning", str(PACK_HAZARD))
            draft.comments[f"parts.{key}.energy"] = "inferred from its name: check it"
        draft.parts[key] = Part(
            key, name.strip()[:MOST_NAME], energy=energy, hazards=("pack",) if energy else ()
        )
        draft.comments[f"parts.{key}"] = why
    return key


def _held(teardown: Teardown) -> frozenset[str]:
    """Parts that something rigid held: only these can lie over anything."""
    return frozenset(
        _id(name) for step in teardown.steps if step.kind in RIGID_KINDS for name in step.joins
    )


def _joint(
    draft: _Draft, index: int, step: Taken, held: frozenset[str], before: Sequence[str]
) -> str:
    number = f"step {index + 1}"
    joins = tuple(dict.fromkeys(_part(draft, name, number) for name in step.joins))
    for name in step.came_off:
        _part(draft, name, number)
    key = _free(draft.joints, f"{joins[0]}_{KIND_WORDS.get(step.kind, step.kind)}")
    path = f"joints.{key}"
    draft.comments[path] = number + (f": {step.note}" if step.note else "")
    side = to_identifier(step.side) or "bottom"
    draft.sides.setdefault(side)
    under, after = _covers(draft, index, side, joins, held, before, path)
    unknown = tuple(
        name
        for name, missing in (
            ("count", step.count is None and step.kind not in ONE_PIECE),
            ("fastener", step.kind in ("screw", "nut") and not step.size),
        )
        if missing
    )
    access = Access(
        side, *_tool(draft, step), under=under, unknown=("tool",) if step.tool is None else ()
    )
    draft.joints[key] = Joint(
        key,
        step.kind,
        joins,
        (replace(access, close_tool=access.tool),),
        rigid=step.kind in RIGID_KINDS or step.kind == "other",
        after=after,
        powered=step.kind in POWERED_KINDS,
        isolates=step.isolates,
        fastener=_fastener(draft, step, number),
        count=step.count or 1,
        reuse="single_use" if step.single_use else "reusable",
        note_open=step.note[:500] or None,
        unknown=unknown,
    )
    return key


def _free(taken: Mapping[str, object], wanted: str) -> str:
    if wanted not in taken:
        return wanted
    number = 2
    while f"{wanted}_{number}" in taken:
        number += 1
    return f"{wanted}_{number}"


def _covers(
    draft: _Draft,
    index: int,
    side: str,
    joins: tuple[str, ...],
    held: frozenset[str],
    before: Sequence[str],
    path: str,
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Parts over a joint, and joints that must be open before it where a part that covered hung on a cable only."""
    step = draft.teardown.steps[index]
    if step.over is not None:
        over = [_id(name) for name in step.over]
        why = "said at the teardown"
    else:
        over = [_id(name) for name in _off_on_side(draft.teardown, index, side)]
        why = "inferred: off before, on the same side; take away what did not lie over it"
    over = [part for part in dict.fromkeys(over) if part not in joins]
    under = tuple(part for part in over if part in held)
    after = []
    for part in over:
        if part not in held:
            after += [old for old in before if part in draft.joints[old].joins][-1:]
    if under:
        draft.comments[f"{path}.under"] = why
    if after:
        draft.comments[f"{path}.after"] = "inferred: opened before"
    return under, tuple(dict.fromkeys(after))


def _off_on_side(teardown: Teardown, index: int, side: str) -> tuple[str, ...]:
    return tuple(
        dict.fromkeys(
            name
            for step in teardown.steps[:index]
            if (to_identifier(step.side) or "bottom") == side
            for name in step.came_off
        )
    )


def _tool(draft: _Draft, step: Taken) -> tuple[str | None]:
    if not step.tool:
        return (None,)
    key = to_identifier(step.tool)
    if key is None:
        return (None,)
    known = draft.tools.get(key) or Tool(key, step.tool.strip()[:MOST_NAME])
    fits = (*known.fits, step.drive) if step.drive and step.drive not in known.fits else known.fits
    draft.tools[key] = replace(known, fits=fits)
    return (key,)


def _fastener(draft: _Draft, step: Taken, number: str) -> str | None:
    found = SIZE.fullmatch(step.size) if step.size and step.kind in ("screw", "nut") else None
    if found is None:
        return None
    thread = "".join(found[1].upper().replace(",", ".").split())
    length = float(found[2].replace(",", "."))
    wanted = Fastener("", thread, length, step.drive or None)
    for key, known in draft.fasteners.items():
        if replace(known, id="") == wanted:
            return key
    key = _free(draft.fasteners, _id(f"{thread}x{length:g}".replace(".", "p")))
    draft.fasteners[key] = replace(wanted, id=key)
    draft.comments[f"fasteners.{key}"] = f"measured at {number}"
    return key


def _functions(draft: _Draft) -> None:
    """What has to work again when a part was disturbed, as the person said it."""
    for works in draft.teardown.answers.works:
        part = draft.parts.get(_id(works.part))
        if part is None:  # the step that named it was taken back
            continue
        wanted = Function("", works.name, works.check, works.seconds * 1000)
        known = (key for key, one in draft.functions.items() if replace(one, id="") == wanted)
        key = next(known, "")
        if not key:
            key = _free(draft.functions, works.key or _id(works.name))
            draft.functions[key] = replace(wanted, id=key)
            draft.comments[f"functions.{key}"] = (
                "said after the teardown; words and seconds are a proposal: check them"
                if works.key
                else "said after the teardown: say how it is tried and how long that takes"
            )
        if key not in part.functions:
            draft.parts[part.id] = replace(part, functions=(*part.functions, key))


def _renewals(draft: _Draft, names: Sequence[str]) -> None:
    """What goes in new when a joint is closed, one of it each time."""
    new = {each.step: each.name for each in draft.teardown.answers.new}
    for step, key in zip(draft.teardown.steps, names, strict=True):
        name = new.get(step.key)
        if name is None:
            continue
        known = (supply for supply, one in draft.supplies.items() if one.name == name)
        supply = next(known, "")
        if not supply:
            supply = _free(draft.supplies, _id(name))
            draft.supplies[supply] = Supply(supply, name, unit="piece")
            draft.comments[f"supplies.{supply}"] = (
                "said after the teardown: its unit, order code and price are missing"
            )
        draft.joints[key] = replace(draft.joints[key], renew={supply: 1})
        draft.comments[f"joints.{key}.renew"] = "one each time: check the amount"


def _live_before_isolation(draft: _Draft, names: Sequence[str]) -> None:
    """What was opened live before the power was taken away can be opened so; the file says it as a hold point.

    Without this the file would say that isolation can't be reached.
    """
    isolators = [key for key in names if draft.joints[key].isolates]
    if not isolators:
        return
    last = max(names.index(key) for key in isolators)
    for key in names[:last]:
        joint = draft.joints[key]
        live = joint.powered and not joint.isolates
        if live and not any(draft.parts[part].energy for part in joint.joins):
            draft.joints[key] = replace(joint, powered=False, shutdown=True)
            draft.comments[f"joints.{key}.powered"] = (
                "inferred: opened before the power was taken away. Only after a shut-down, mains off: check it"
            )


def _keep_the_order(draft: _Draft, names: Sequence[str]) -> None:
    """What was opened could be opened: a part that was still held then did not lie over it, whatever was inferred.

    So the order of the teardown is a way in, and every joint of the file can be reached.
    """
    device = _device(draft)
    opened: list[str] = []
    waiting = [key for key in draft.joints if key not in names]
    for key in names:
        _free_now(draft, device, opened, key)
        opened.append(key)
        for seat in [s for s in waiting if set(draft.joints[s].after) <= set(opened)]:
            _free_now(draft, device, opened, seat)
            opened.append(seat)
            waiting.remove(seat)


def _free_now(draft: _Draft, device: Device, opened: Sequence[str], key: str) -> None:
    joint = draft.joints[key]
    access = joint.accesses[0]
    if not access.under:
        return
    done = set(opened)
    cluster_of = clusters(device, [j for j in draft.joints if j not in done])
    under = tuple(
        part
        for part in access.under
        if access_is_free(joint, replace(access, under=(part,)), cluster_of)
    )
    if under == access.under:
        return
    path = f"joints.{key}"
    kept_back = ", ".join(draft.parts[part].name for part in access.under if part not in under)
    draft.comments[path] += f"\n{kept_back}: still held when this was opened, so not over it"
    if not under:
        draft.comments.pop(f"{path}.under", None)
    draft.joints[key] = replace(joint, accesses=(replace(access, under=under),))


def _seats(draft: _Draft) -> None:
    """A part that screws alone hold under a cover lies in a seat under the same cover."""
    for part in list(draft.parts):
        holding = [j for j in draft.joints.values() if j.rigid and part in j.joins]
        covered = next((j for j in holding if j.accesses[0].under and j.joins[0] == part), None)
        if covered is None or any(j.kind not in ("screw", "nut") for j in holding):
            continue
        key = _free(draft.joints, f"{part}_seat")
        draft.joints[key] = Joint(
            key, "seat", (part, covered.joins[1]),
            (Access(covered.accesses[0].side, under=covered.accesses[0].under),),
            rigid=True, after=tuple(j.id for j in holding),
        )  # fmt: skip
        draft.comments[f"joints.{key}"] = (
            "inferred: screws alone would let it go while it is still covered"
        )

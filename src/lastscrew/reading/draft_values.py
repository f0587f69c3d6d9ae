"""From the joints of a draft to a device value and its comments."""

from __future__ import annotations

import re

from lastscrew.device.model import (
    POWERED_KINDS,
    RIGID_KINDS,
    Access,
    Act,
    Device,
    Fastener,
    Hazard,
    Joint,
    Option,
    Part,
    Supply,
    Tool,
)
from lastscrew.device.names import device_id_from_name, to_identifier
from lastscrew.problems import Problem
from lastscrew.reading.draft_workshop import JointDraft, Workshop
from lastscrew.reading.headings import classify

_SIZE = re.compile(
    r"^(?:P[MW]?[AB]?)?M?(\d+(?:[.,]\d+)?)(?:mm)?(?:[x×*]L?(\d+(?:[.,]\d+)?)(?:mm)?)?$",
    re.IGNORECASE,
)
_SIDE = "bottom"
_TOOLS = re.compile(
    r"driver|wrench|spanner|pick|spudger|tweezers|pliers|(?:^|_)(?:key|card|cup|mat|iron|knife|blade|lever|bar|tool)(?:_|$)"
)
_KIND_OF_TEXT = re.compile(
    r"\b(?:hardware |software )?(?:revision|rev\.?|version|edition|issue)\s+[\w.]+\b|"
    r"\b(?:(?:quick |user |owner'?s? |technical |hardware )?(?:service|maintenance|repair|disassembly|teardown|"
    r"workshop|replacement|removal|dismantling|field) )*"
    r"(?:manual|guide|instructions?|procedures?|handbook|notes?|transcript|card|sheet)\b",
    re.IGNORECASE,
)


def device_of(workshop: Workshop, joints: list[JointDraft]) -> tuple[Device, dict[str, str]]:
    """The device value and the comments by path."""
    comments: dict[str, str] = {"": _head(workshop)}
    tools = _tools(workshop, joints, comments)
    fasteners = _fasteners(joints, comments)
    supplies = _supplies(joints, comments)
    hazards = _hazards(joints, comments)
    options = {
        _option_id(j.optional): Option(_option_id(j.optional), _label(j.optional))
        for j in joints
        if j.optional
    }
    built = {j.id: _joint(workshop, j, tools, hazards, comments) for j in joints}
    used = {part for joint in built.values() for part in (*joint.joins, *joint.accesses[0].under)}
    parts = _parts(workshop, used, comments)
    name = _device_name(workshop)
    device = Device(
        id=device_id_from_name(name),
        name=name[:120],
        sides=_sides(workshop),
        parts=parts,
        joints=built,
        tools=dict(sorted(tools.items())),
        fasteners=fasteners,
        supplies=supplies,
        hazards=hazards,
        options=options,
        acts=_acts(workshop, comments),
    )
    return device, comments


def _device_name(workshop: Workshop) -> str:
    """From the title where it names a machine, else from the name of the file."""
    answer = workshop.answer("name")
    if isinstance(answer, str) and answer.strip():
        return answer.strip()
    source = workshop.reading.source
    first = next(
        (line.text for line in source.lines if line.kind == "heading" and line.level == 1), ""
    )
    for title in (first, workshop.reading.title):
        name = _machine_in(title.strip("# *"), workshop)
        if name:
            return name
    return re.sub(r"\.\w+$", "", source.name) or "Device"


def _machine_in(title: str, workshop: Workshop) -> str:
    """As in "Hollin Cube 3: repair instructions": what is left of a title without the kind of text."""
    for piece in re.split(r"\s*[:|]\s*|\s+[–—-]\s+|,\s+", title):
        heading = classify(piece, workshop.lexicon)
        name = heading.part if heading.kind in ("removal", "refit", "both") else piece
        name = re.sub(r"\s+", " ", _KIND_OF_TEXT.sub(" ", name)).strip(" .-–—")
        name = re.sub(r"^(?:the|a|an|your|for|of)\s+", "", name, flags=re.IGNORECASE)
        is_part = workshop.names.of(name) in workshop.pieces
        if name and not is_part and not re.fullmatch(r"[\d.\s]+", name):
            return name
    return ""


def _head(workshop: Workshop) -> str:
    return (
        f"Draft read from {workshop.reading.source.name or 'a text'}. Lines are those of that text.\n"
        "What the text does not say is 'unknown' or inferred; see the open questions of the reading.\n"
        "It does not replace the maker's instructions, local rules and trained people."
    )


def _label(text: str) -> str:
    return text[:1].upper() + text[1:]


def _option_id(text: str) -> str:
    return to_identifier(text) or "option"


def _sides(workshop: Workshop) -> tuple[str, ...]:
    named = [str(value) for key, value in workshop.answers.items() if key.startswith("side")]
    return tuple(dict.fromkeys([_SIDE, "top", *[to_identifier(name) or _SIDE for name in named]]))


def _parts(workshop: Workshop, used: set[str], comments: dict[str, str]) -> dict[str, Part]:
    parts = {}
    for identity, (name, why) in workshop.parts.items():
        if identity not in used and identity != workshop.fixed:
            continue
        fixed = identity == workshop.fixed
        energy = bool(re.search(r"(?:^|_)(?:battery|pack|accumulator)$", identity))
        parts[identity] = Part(identity, name, fixed=fixed, energy=energy)
        comments[f"parts.{identity}"] = why
        if fixed:
            comments[f"parts.{identity}.fixed"] = workshop.fixed_why
        if energy:
            comments[f"parts.{identity}.energy"] = "inferred: a battery stores energy"
    return parts


def _tools(
    workshop: Workshop, joints: list[JointDraft], comments: dict[str, str]
) -> dict[str, Tool]:
    tools: dict[str, Tool] = {}
    listed = [
        *workshop.reading.tools,
        *(tool for p in workshop.reading.procedures for tool in p.tools),
    ]
    for name in listed:
        identity = to_identifier(name)
        if identity and _TOOLS.search(identity):
            tools[identity] = Tool(identity, _label(name), fits=_fits(name))
            comments[f"tools.{identity}"] = "from the list of tools"
    for joint in joints:
        name = _tool_name(joint)
        identity = to_identifier(name) or ""
        if not identity or _covering(tools, joint, identity):
            continue
        tools[identity] = Tool(identity, _label(name), fits=_fits(joint.drive or name))
        comments[f"tools.{identity}"] = (
            f"line {joint.line}" if joint.tool else f"inferred: the drive of line {joint.line}"
        )
    return tools


def _tool_name(joint: JointDraft) -> str:
    if joint.tool and joint.tool.lower() not in (
        "hand",
        "hands",
        "finger",
        "fingers",
        "fingernail",
        "thumb",
        "index finger",
    ):
        return joint.tool
    if joint.kind == "screw" and joint.drive:
        return f"{joint.drive} screwdriver"
    return ""


def _fits(text: str) -> tuple[str, ...]:
    low = text.lower()
    number = re.search(r"(?:#|ph|pz|no\.?\s?|number\s|size\s)\s?#?(\d{1,2})\b", low)
    torx = re.search(r"\bt-?(\d{1,3})h?\b", low)
    if torx:
        return (f"T{torx[1]}",)
    if "phillips" in low or "cross" in low or re.search(r"\bph\s?\d", low):
        return (f"PH{number[1]}",) if number else ("Phillips",)
    if "pozidriv" in low or re.search(r"\bpz\s?\d", low):
        return (f"PZ{number[1]}",) if number else ("Pozidriv",)
    hexagon = re.search(r"(\d+(?:\.\d+)?)\s?mm", low)
    if "hex" in low or "allen" in low:
        return (f"H{hexagon[1]}",) if hexagon else ("hex",)
    if "torx" in low:
        return ("Torx",)
    if "slot" in low or "flat" in low:
        return ("slotted",)
    return ()


def _covering(tools: dict[str, Tool], joint: JointDraft, identity: str) -> str:
    """Id of a tool that is there already and does."""
    if identity in tools:
        return identity
    drive = _fits(joint.drive)
    turning = (
        ("wrench", "spanner", "socket", "nut") if joint.kind == "nut" else ("driver", "wrench")
    )
    drivers = [tool.id for tool in tools.values() if any(word in tool.id for word in turning)]
    if not drive and not identity and joint.kind in ("screw", "nut") and len(drivers) == 1:
        joint.why.setdefault("tool", "inferred: the only driver in the list of tools")
        return drivers[0]
    if drive and joint.kind == "screw":
        kind = re.match(r"[A-Za-z]+", drive[0])
        for tool in tools.values():
            if any(
                fit == drive[0]
                or (
                    drive[0] in ("Phillips", "Torx", "hex")
                    and kind
                    and fit.startswith({"Phillips": "PH", "Torx": "T", "hex": "H"}[drive[0]])
                )
                for fit in tool.fits
            ):
                return tool.id
    return ""


def _fasteners(joints: list[JointDraft], comments: dict[str, str]) -> dict[str, Fastener]:
    kinds: dict[str, Fastener] = {}
    for joint in joints:
        if joint.kind not in ("screw", "nut") or not joint.size:
            continue
        match = _SIZE.match(joint.size.replace(" ", ""))
        thread = f"M{match[1].replace(',', '.')}" if match else joint.size.split("x")[0]
        length = float(match[2].replace(",", ".")) if match and match[2] else None
        drive = (_fits(joint.drive) or (None,))[0]
        identity = (
            to_identifier(
                "_".join(
                    filter(
                        None,
                        [
                            _size_id(thread, length, joint.size),
                            drive or "",
                            joint.head,
                            joint.colour,
                        ],
                    )
                )
            )
            or "screw"
        )
        if identity not in kinds:
            kinds[identity] = Fastener(
                identity,
                thread=thread,
                length_mm=length,
                drive=drive,
                head=joint.head or None,
                finish=joint.colour or None,
            )
            comments[f"fasteners.{identity}"] = joint.why.get("fastener") or f"line {joint.line}"
        joint.why["fastener_id"] = identity
    return kinds


def _size_id(thread: str, length: float | None, said: str) -> str:
    """As in ``m2_5x6`` for "M2.5 × 6 mm"."""
    return f"{thread}x{length:g}" if length is not None else said


def _supplies(joints: list[JointDraft], comments: dict[str, str]) -> dict[str, Supply]:
    supplies = {}
    for joint in joints:
        for name in joint.renew:
            identity = to_identifier(name) or "supply"
            supplies[identity] = Supply(identity, _label(name), unit="application")
            comments[f"supplies.{identity}"] = joint.why.get("renew", "")
    return supplies


def _hazards(joints: list[JointDraft], comments: dict[str, str]) -> dict[str, Hazard]:
    hazards: dict[str, Hazard] = {}
    for joint in joints:
        for caution in joint.cautions:
            if caution.signal in ("danger", "warning", "caution", "notice"):
                identity = f"line_{caution.line}"
                hazards[identity] = Hazard(identity, caution.signal, caution.text[:1000])  # type: ignore[arg-type]
                comments[f"hazards.{identity}"] = f"line {caution.line}"
    return hazards


def _joint(
    workshop: Workshop,
    joint: JointDraft,
    tools: dict[str, Tool],
    hazards: dict[str, Hazard],
    comments: dict[str, str],
) -> Joint:
    path = f"joints.{joint.id}"
    comments[path] = joint.why.get("", f"line {joint.line}")
    unknown: list[str] = []
    count = _count(workshop, joint, unknown, comments)
    fastener = joint.why.get("fastener_id")
    if joint.kind in ("screw", "nut") and fastener is None:
        unknown.append("fastener")
    for key in ("joins", "under", "after", "isolates", "reuse", "order", "torque_ncm", "renew"):
        if joint.why.get(key) and (key != "under" or joint.under):
            comments[f"{path}.{key}"] = joint.why[key]
    notes = [
        *joint.note_open,
        *[f"{_label(c.signal)}: {c.text}" for c in joint.cautions if c.signal == "note"],
    ]
    rigid = joint.kind in RIGID_KINDS
    return Joint(
        id=joint.id,
        kind=joint.kind,
        joins=tuple(joint.joins),
        accesses=(_access(workshop, joint, tools, comments),),
        rigid=rigid,
        after=tuple(joint.after),
        powered=joint.kind in POWERED_KINDS,
        isolates=joint.isolates,
        fastener=fastener,
        count=count,
        captive=joint.captive,
        loosen_only=joint.loosen_only,
        order="numbered"
        if joint.order == "numbered"
        else "crosswise"
        if joint.order == "crosswise"
        else "any",
        torque_ncm=joint.torque_ncm,
        reuse="single_use" if joint.single_use else "reusable",
        renew={to_identifier(name) or "supply": 1.0 for name in joint.renew},
        hazards=tuple(
            dict.fromkeys(f"line_{c.line}" for c in joint.cautions if f"line_{c.line}" in hazards)
        ),
        note_open=" ".join(notes)[:2000] or None,
        note_close=" ".join(joint.note_close)[:2000] or None,
        if_fitted=_option_id(joint.optional) if joint.optional else None,
        unknown=tuple(unknown),
    )


def _count(
    workshop: Workshop, joint: JointDraft, unknown: list[str], comments: dict[str, str]
) -> int:
    path = f"joints.{joint.id}.count"
    answer = workshop.answer(f"count.{joint.id}")
    if isinstance(answer, int) and not isinstance(answer, bool) and 1 <= answer <= 999:
        comments[path] = "answered"
        joint.count = answer
        return answer
    if answer is not None:
        workshop.problems.append(
            Problem(
                f"The answer to 'count.{joint.id}' is no whole number from 1 to 999.",
                "Say how many.",
                path=f"count.{joint.id}",
                code="answer_type",
            )
        )
    if isinstance(joint.count, int) and 1 <= joint.count <= 999:
        if joint.why.get("count") and joint.count != 1:
            comments[path] = joint.why["count"]
        return joint.count
    if joint.kind in ("screw", "nut", "clip", "latch", "rivet", "pin"):
        unknown.append("count")
        comments[path] = f"line {joint.line} does not say how many"
    return 1


def _access(
    workshop: Workshop, joint: JointDraft, tools: dict[str, Tool], comments: dict[str, str]
) -> Access:
    path = f"joints.{joint.id}"
    unknown: list[str] = []
    side = workshop.answer(f"side.{joint.id}") or workshop.answer("side")
    if isinstance(side, str):
        comments[f"{path}.side"] = "answered"
    else:
        unknown.append("side")
        side = _SIDE
    tool: str | None = _covering(tools, joint, to_identifier(_tool_name(joint)) or "") or None
    if joint.why.get("tool"):
        comments[f"{path}.tool"] = joint.why["tool"]
    if tool is None and joint.kind in ("screw", "nut"):
        unknown.append("tool")
    under = joint.under
    return Access(
        to_identifier(str(side)) or _SIDE,
        tool=tool,
        under=tuple(under),
        close_tool=tool,
        unknown=tuple(unknown),
    )


def _acts(workshop: Workshop, comments: dict[str, str]) -> dict[str, Act]:
    acts: dict[str, Act] = {}
    seen = set()
    for text, line in workshop.states:
        key = re.sub(r"\W+", " ", text.lower()).strip()
        if key in seen:
            continue
        seen.add(key)
        identity = (
            f"before_{line}" if f"before_{line}" not in acts else f"before_{line}_{len(acts)}"
        )
        sentence = text.strip().rstrip(".") + "."
        acts[identity] = Act(identity, _label(sentence)[:400], "start")
        comments[f"acts.{identity}"] = f"line {line}"
    for number, ((text, line), opened) in enumerate(workshop.unmet.items()):
        identity = f"first_{line}" if f"first_{line}" not in acts else f"first_{line}_{number}"
        acts[identity] = Act(identity, text[:400], "start", when_opened=opened)
        comments[f"acts.{identity}"] = f"line {line}: asked for before, and no step takes it off"
    return acts

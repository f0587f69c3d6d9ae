"""Entries of a device file: names that clash, entries that nothing uses, what is left unknown, places."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from typing import Final

from lastscrew.audit.findings import Finding
from lastscrew.audit.noting import Notebook
from lastscrew.device.model import Device
from lastscrew.plan.wording import joint_name, listed, marked
from lastscrew.saying import say

LIKELY: Final = 0.25
"""From this chance on nobody would open a joint without a spare in hand (our own figure)."""

_NAMED = ("parts", "tools", "supplies", "functions", "spares", "options")


def entry_findings(notebook: Notebook) -> Iterator[Finding]:
    """Findings about entries."""
    yield from _same_names(notebook)
    yield from _unused(notebook)
    yield from _unknown(notebook)
    yield from _prices(notebook)
    yield from _chances(notebook)
    yield from _places(notebook)


def _same_names(notebook: Notebook) -> Iterator[Finding]:
    sections: list[tuple[str, Mapping[str, str]]] = [
        (section, {key: entry.name for key, entry in getattr(notebook.device, section).items()})
        for section in _NAMED
    ]
    sections.append(("joints", {j.id: j.name for j in notebook.device.joints.values() if j.name}))
    for section, names in sections:
        first: dict[str, str] = {}
        for key, name in names.items():
            other = first.setdefault(" ".join(name.lower().split()), key)
            if other != key:
                yield notebook.note(
                    "same_name",
                    "warning",
                    (section, key, "name"),
                    say(
                        '{other} and {key} are both called "{name}"; on the sheet nobody can tell them apart.',
                        other=other,
                        key=key,
                        name=name,
                    ),
                    say("Give each a name of its own."),
                    also=((section, other, "name"),),
                )


# --- unused -----------------------------------------------------------------------------------------


def _unused(notebook: Notebook) -> Iterator[Finding]:
    for section, used in _used(notebook.device).items():
        for key in getattr(notebook.device, section):
            if key not in used:
                yield notebook.note(
                    "unused_entry",
                    "note",
                    (section, key),
                    say("Nothing refers to {key} in {section}.", key=key, section=section),
                    say("Use it where it belongs, or take it out."),
                )


def _used(device: Device) -> dict[str, set[str]]:
    """Ids of each section that something refers to."""
    joints, parts = tuple(device.joints.values()), tuple(device.parts.values())
    acts, spares = tuple(device.acts.values()), tuple(device.spares.values())
    accesses = [access for joint in joints for access in joint.accesses]
    included = {item for spare in spares for item in spare.includes}
    fitted = [*(j.if_fitted for j in joints), *(p.if_fitted for p in parts)]
    return {
        "tools": _given(
            [
                *(a.tool for a in accesses),
                *(a.close_tool for a in accesses),
                *(a.tool for a in acts),
            ]
        ),
        "fasteners": _given(j.fastener for j in joints)
        | included
        | {w for j in joints for w in j.washers},
        "supplies": {s for j in joints for s in j.renew}
        | {s for a in acts for s in a.renew}
        | included,
        "hazards": {h for j in joints for h in j.hazards} | {h for p in parts for h in p.hazards},
        "functions": {f for j in joints for f in (*j.functions, *j.prove_before_close)}
        | {f for p in parts for f in p.functions},
        "options": _given(fitted),
    }


def _given(ids: Iterable[str | None]) -> set[str]:
    return {one for one in ids if one}


# --- unknown, prices, places ------------------------------------------------------------------------


def _unknown(notebook: Notebook) -> Iterator[Finding]:
    """One note for each key, so that a draft does not drown in them."""
    by_key: dict[str, list[str]] = {}
    for joint in notebook.device.joints.values():
        keys = dict.fromkeys((*joint.unknown, *(key for a in joint.accesses for key in a.unknown)))
        for key in keys:
            by_key.setdefault(key, []).append(joint.id)
    for key, ids in sorted(by_key.items()):
        names = [marked(joint_name(notebook.device, joint)) for joint in ids]
        yield notebook.note(
            "left_unknown",
            "note",
            notebook.access_path(ids[0], 0, key),
            say(
                "`{key}` is unknown at {n} joint: {joints}. A plan takes the default and marks it as assumed.",
                "`{key}` is unknown at {n} joints: {joints}. A plan takes the default and marks it as assumed.",
                key=key,
                n=len(ids),
                joints=listed(names, limit=5),
            ),
            say("Look at a machine and fill it in."),
            also=tuple(("joints", joint) for joint in ids[1:6]),
        )


def _prices(notebook: Notebook) -> Iterator[Finding]:
    device = notebook.device
    lacking: dict[str, list[str]] = {}
    for joint in device.joints.values():
        for part, chance in joint.damage.items():
            if chance > 0 and part in device.parts and device.parts[part].price is None:
                lacking.setdefault(part, []).append(joint.id)
    for part, joints in sorted(lacking.items()):
        yield notebook.note(
            "price_missing",
            "note",
            ("parts", part),
            say(
                "{part} may be damaged at {joints}, and has no price: the objective `risk` can't weigh it.",
                part=marked(device.parts[part].name),
                joints=listed([marked(joint_name(device, j)) for j in joints], limit=3),
            ),
            say("Add its price."),
        )


def _chances(notebook: Notebook) -> Iterator[Finding]:
    device = notebook.device
    for joint in device.joints.values():
        for part, chance in joint.damage.items():
            if chance >= LIKELY and part in device.parts:
                yield notebook.note(
                    "improbable_chance",
                    "note",
                    ("joints", joint.id, "damage", part),
                    say(
                        "{joint} would damage *{name}* once in a hundred.",
                        "{joint} would damage *{name}* {n} times in a hundred.",
                        joint=marked(joint_name(device, joint.id)),
                        name=device.parts[part].name,
                        n=round(100 * chance),
                    ),
                    say(
                        "Put the figure right (a chance is between 0 and 1), or plan to exchange the part each time."
                    ),
                )


def _places(notebook: Notebook) -> Iterator[Finding]:
    for joint in notebook.device.joints.values():
        twice = [p for p, number in Counter(joint.positions_mm).items() if number > 1]
        if twice:
            yield notebook.note(
                "same_place",
                "warning",
                ("joints", joint.id, "positions_mm"),
                say(
                    "{joint}: two pieces lie at {point}.",
                    joint=marked(joint_name(notebook.device, joint.id)),
                    point=_point(twice[0]),
                ),
                say("Give each its own place."),
            )


def _point(point: tuple[float, float]) -> str:
    return f"[{point[0]:g}, {point[1]:g}]"

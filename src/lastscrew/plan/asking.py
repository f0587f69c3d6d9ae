"""Is a request one that can be planned? Every problem of it at once, with the nearest known name."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from dataclasses import replace
from difflib import get_close_matches

from lastscrew.device.fitting import absent, device_parts_in, fit, joints_around
from lastscrew.device.model import Device
from lastscrew.device.opening import access_is_free, clusters, is_live, isolating_joints
from lastscrew.plan.model import Request
from lastscrew.plan.wording import is_plural, joint_name, listed, marked, part_name
from lastscrew.problems import Problem
from lastscrew.saying import say

_JOINT = say("joint")


def check_request(device: Device, request: Request) -> tuple[Problem, ...]:
    """Problems of a request, empty when it can be planned.

    Args:
        device: The whole device, as read.
        request: What is asked.

    Returns:
        Problems whose ``path`` is the field of the request, with its value after a full stop
        (``replace.keybord``). What can be seen only once all names are known (a joint that may not be
        opened but must be) is reported when the names are right.
    """
    named = tuple(_unknown_names(device, request))
    if named:
        return named
    nothing = not (request.replace or request.reach or request.opened)
    if nothing:
        return (
            Problem(
                say("Nothing is asked for."),
                say("Name a part to replace, a joint to reach or a joint that is open."),
                path="replace",
                code="nothing_asked",
            ),
        )
    return tuple(_impossible(fit(device, request.not_fitted, request.fitted), request))


def unknown_joints(device: Device, joint_ids: Iterable[str]) -> tuple[Problem, ...]:
    """A problem for each id that is no joint; its ``path`` is the id."""
    return tuple(
        replace(_unknown("", joint_id, _JOINT, _ids_by_name(device, "joint")), path=joint_id)
        for joint_id in joint_ids
        if joint_id not in device.joints
    )


def nearest(name: str, known: Iterable[str]) -> str | None:
    """The known name that is most like ``name``, None where nothing is like it."""
    by_fold = {word.casefold(): word for word in sorted(known, reverse=True)}
    found = get_close_matches(name.casefold(), list(by_fold), n=1, cutoff=0.6)
    return by_fold[found[0]] if found else None


def _unknown_names(device: Device, request: Request) -> Iterator[Problem]:
    lacking = absent(device, request.not_fitted, request.fitted)
    yield from _unknown_fitting(device, request)
    for piece in request.replace:
        for word in piece.split("+"):
            yield from _unknown_piece(device, piece, word.strip(), lacking.parts)
    for field in ("reach", "opened", "without"):
        for joint_id in getattr(request, field):
            if joint_id not in device.joints:
                yield _unknown(field, joint_id, _JOINT, _ids_by_name(device, "joint"))
            elif joint_id in lacking.joints and field != "without":
                yield _not_there(field, joint_id, say("Joint"))
    if request.side is not None and request.side not in device.sides:
        yield _unknown("side", request.side, say("side"), {side: side for side in device.sides})


def _unknown_fitting(device: Device, request: Request) -> Iterator[Problem]:
    known = {
        **_ids_by_name(device, "option"),
        **_ids_by_name(device, "part"),
        **_ids_by_name(device, "joint"),
    }
    for name in request.not_fitted:
        if name not in known.values():
            yield _unknown("not_fitted", name, say("option, part or joint"), known)
        elif name == device.fixed_part:
            yield Problem(
                say(
                    "{part} is the fixed part: every unit has it.",
                    part=marked(part_name(device, name)),
                ),
                say("Leave it out."),
                path=f"not_fitted.{name}",
                code="fixed_part",
            )
        elif name in request.fitted:
            yield Problem(
                say('"{name}" can\'t be fitted and not fitted at once.', name=name),
                say("Name it once."),
                path=f"not_fitted.{name}",
                code="fitted_and_not",
            )
    for name in request.fitted:
        if name not in device.options:
            yield _unknown("fitted", name, say("option"), _ids_by_name(device, "option"))


def _unknown_piece(
    device: Device, piece: str, name: str, absent_parts: Collection[str]
) -> Iterator[Problem]:
    if not name:
        yield Problem(
            say('A name is missing in "{piece}".', piece=piece),
            say("Name a part or a spare; between several that are exchanged as one stands one +."),
            path=f"replace.{piece}",
            code="unknown_name",
        )
    elif name in device.parts:
        if name in absent_parts:
            yield _not_there("replace", name, say("Part"))
    elif name in device.spares:
        if all(part in absent_parts for part in device.spares[name].contains):
            yield _not_there("replace", name, say("Spare"))
    else:
        known = {**_ids_by_name(device, "spare"), **_ids_by_name(device, "part")}
        path = name if name == piece.strip() else f"{piece} ({name})"
        yield _unknown("replace", name, say("part or spare"), known, shown=path)


def _ids_by_name(device: Device, what: str) -> dict[str, str]:
    """Ids under their own name and under the name that people see."""
    if what == "joint":
        entries = {joint.id: joint.name for joint in device.joints.values()}
    elif what == "part":
        entries = {part.id: part.name for part in device.parts.values()}
    elif what == "spare":
        entries = {spare.id: spare.name for spare in device.spares.values()}
    else:
        entries = {option.id: option.name for option in device.options.values()}
    return {**{name: key for key, name in entries.items() if name}, **{key: key for key in entries}}


def _unknown(
    field: str, name: str, what: str, known: dict[str, str], *, shown: str = ""
) -> Problem:
    close = nearest(name, known)
    if close is not None:
        remedy = say('Did you mean "{known}"?', known=known[close])
    elif known:
        remedy = say("Known: {names}.", names=listed(sorted(set(known.values())), limit=12))
    else:
        remedy = say("The device file names no {what}.", what=what)
    return Problem(
        say('There is no {what} "{name}".', what=what, name=name),
        remedy,
        path=f"{field}.{shown or name}",
        code="unknown_name",
    )


def _not_there(field: str, name: str, what: str) -> Problem:
    return Problem(
        say('{what} "{name}" is not fitted to this unit.', what=what, name=name),
        say("Leave it out, or say that its option is fitted."),
        path=f"{field}.{name}",
        code="not_fitted",
    )


def _impossible(device: Device, request: Request) -> Iterator[Problem]:
    """Joints that must be open and may not be, directly or because nothing else leads to them."""
    forbidden = {j for j in request.without if j in device.joints} - set(request.opened)
    if not forbidden:
        return
    told: set[str] = set()
    for joint_id, _field, why in _required(device, request):
        if joint_id in forbidden and joint_id not in told:
            told.add(joint_id)
            yield Problem(
                say(
                    "{joint} may not be opened, but {why}.",
                    joint=marked(joint_name(device, joint_id)),
                    why=why,
                ),
                say('Allow "{joint_id}", or ask for something else.', joint_id=joint_id),
                path=f"without.{joint_id}",
                code="forbidden_target",
            )
    if told:
        return
    reachable = ever_open(device, forbidden)
    blocked: dict[str, str] = {}
    for joint_id, field, _why in _required(device, request):
        if joint_id not in reachable:
            blocked.setdefault(joint_id, field)
    for joint_id, field in blocked.items():
        yield _blocked(device, joint_id, field, forbidden)


def _required(device: Device, request: Request) -> Iterator[tuple[str, str, str]]:
    """(joint, field of the request with its value, why) of everything that has to be open."""
    for piece in request.replace:
        inside = device_parts_in(device, piece)
        for joint_id in joints_around(device, inside):
            parts = listed([marked(part_name(device, part)) for part in inside])
            plural = is_plural(joint_name(device, joint_id))
            why = say(
                "it ties {parts}, to be exchanged, to the rest",
                "they tie {parts}, to be exchanged, to the rest",
                parts=parts,
                n=2 if plural else 1,
            )
            yield joint_id, f"replace.{piece}", why
    for joint_id in request.reach:
        yield joint_id, f"reach.{joint_id}", say("that is what is to be reached")
    for joint_id in request.opened:
        yield joint_id, f"opened.{joint_id}", say("that is open already")


def _blocked(device: Device, joint_id: str, field: str, forbidden: set[str]) -> Problem:
    enough = [j for j in sorted(forbidden) if joint_id in ever_open(device, forbidden - {j})]
    name = marked(joint_name(device, joint_id))
    if enough:
        culprits = listed([marked(joint_name(device, j)) for j in enough], word="or")
        remedy = say(
            "Allow {names}.", names=listed([chr(34) + j + chr(34) for j in enough], word="or")
        )
    else:
        culprits = listed([marked(joint_name(device, j)) for j in sorted(forbidden)])
        remedy = say("Allow more of the joints that may not be opened.")
    return Problem(
        say("{name} can't be reached without opening {culprits}.", name=name, culprits=culprits),
        remedy,
        path=field,
        code="unreachable",
    )


def ever_open(device: Device, forbidden: Collection[str]) -> frozenset[str]:
    """Every joint that can be opened from all closed while those in ``forbidden`` stay closed.

    Opening more joints never makes another one harder to reach, so that opening whatever can be
    opened, round after round, finds all of them.
    """
    opened: set[str] = set()
    isolators = isolating_joints(device)
    while True:
        closed = [j for j in device.joints if j not in opened]
        cluster_of = clusters(device, closed)
        found: list[str] = []
        for joint_id in closed:
            joint = device.joints[joint_id]
            if joint_id in forbidden or any(earlier not in opened for earlier in joint.after):
                continue
            if is_live(device, joint) and not joint.isolates:
                if any(isolator not in opened for isolator in isolators):
                    continue
            if any(access_is_free(joint, access, cluster_of) for access in joint.accesses):
                found.append(joint_id)
            elif joint.rigid and any(
                part in joint.joins for access in joint.accesses for part in access.under
            ):
                # Only a joint that holds its own cover down can be what ties the cover to its parts.
                without = clusters(device, (j for j in closed if j != joint_id))
                if any(access_is_free(joint, access, without) for access in joint.accesses):
                    found.append(joint_id)
        if not found:
            return frozenset(opened)
        opened.update(found)

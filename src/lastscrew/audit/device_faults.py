"""Faults, symptoms and checks: what can't be told apart, what nothing mends, chances that do not add up."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import combinations
from typing import Final

from lastscrew.audit.findings import Finding
from lastscrew.audit.noting import Notebook
from lastscrew.device.diagnosis import EVENTS, Check, Fault, Mend
from lastscrew.device.fitting import device_parts_in, joints_around
from lastscrew.device.model import Device
from lastscrew.plan.wording import listed, marked
from lastscrew.saying import say

ALIKE: Final = 0.05
"""Chances that differ by less tell nothing apart at the bench. Our own figure, no source."""
LEAK_HIGH: Final = 0.2
"""A sound device that fails a check more often than this makes the check of little use. Our own figure."""
HIDDEN: Final = 0.2
"""A fault that shows in no symptom and no check more often than this is found by mending only. Our own figure."""
HOPE: Final = 0.5
"""A mend that succeeds less often is hardly one. Our own figure."""
MOST_PAIRS: Final = 50
SCALE: Final = 1.0
"""Priors up to this may be shares or words; above it they are counts."""

Signature = Mapping[tuple[str, str, str], float]
"""Chances by (symptom or check, its id, the outcome)."""


def fault_findings(notebook: Notebook) -> Iterator[Finding]:
    """Findings about the sections ``faults``, ``symptoms`` and ``checks``."""
    device = notebook.device
    if not device.faults:
        return
    yield from _alike(notebook)
    for fault in device.faults.values():
        yield from _not_mended(notebook, fault)
        yield from _hidden(notebook, fault)
    yield from _tells_nothing(notebook)
    for check in device.checks.values():
        yield from _leak_high(notebook, check)
    yield from _priors(notebook)


# --- told apart ---------------------------------------------------------------------------------------


def _alike(notebook: Notebook) -> Iterator[Finding]:
    """Faults that no symptom and no check tells apart although their mends differ."""
    device = notebook.device
    signatures = {fault.id: _signature(device, fault) for fault in device.faults.values()}
    mends = _cures(device)
    told = 0
    for one, other in combinations(device.faults.values(), 2):
        if told >= MOST_PAIRS or mends[one.id] & mends[other.id]:
            continue
        if _same(signatures[one.id], signatures[other.id]):
            told += 1
            yield notebook.note(
                "faults_alike",
                "warning",
                ("faults", other.id),
                say(
                    "No symptom and no check tells {name} and {name2} apart, and no mend cures both: what "
                    "is tried first is a matter of luck.",
                    name=marked(one.name),
                    name2=marked(other.name),
                ),
                say("Add a check whose outcome differs, or a swap test of one of the parts."),
                (("faults", one.id),),
            )


def _signature(device: Device, fault: Fault) -> Signature:
    """What a fault shows, swap tests included."""
    found: dict[tuple[str, str, str], float] = {}
    for symptom, chance in fault.symptoms.items():
        found["symptom", symptom, ""] = chance.value
    for name, chances in fault.checks.items():
        check = _check_id(device, name)
        outcomes = device.checks[check].outcomes if check in device.checks else ("good", "bad")
        for outcome, chance in chances.items():
            if outcome != outcomes[0]:
                found["check", check, outcome or outcomes[1]] = chance.value
    named = {_check_id(device, name) for name in fault.checks}
    for test in device.checks.values():
        if test.swap_test is not None and test.id not in named:
            found["check", test.id, test.outcomes[1]] = float(not _is_swapped(device, fault, test))
    return found


def _check_id(device: Device, name: str) -> str:
    """A function that names an entry of ``checks`` is that entry."""
    function = device.functions.get(name)
    return function.entry if function is not None and function.entry else name


def _is_swapped(device: Device, fault: Fault, test: Check) -> bool:
    part = test.swap_test or ""
    return fault.part == part or fault.joint in joints_around(device, (part,))


def _same(one: Signature, other: Signature) -> bool:
    return all(abs(one.get(key, 0.0) - other.get(key, 0.0)) < ALIKE for key in {*one, *other})


# --- mended -------------------------------------------------------------------------------------------


def _mends(device: Device, fault: Fault) -> tuple[Mend, ...]:
    """What the file names to cure a fault, or what goes without saying."""
    if fault.mends:
        return fault.mends
    if fault.joint is not None:
        return (Mend("reseat", joint=fault.joint),)
    if fault.part is not None and not device.parts[fault.part].fixed:
        return (Mend("exchange", part=fault.part),)
    return ()


def _cures(device: Device) -> dict[str, set[tuple[str, str]]]:
    """By fault what cures it: what is done, and to what. Whatever takes a joint apart seats it again as well."""
    found = {
        fault.id: {_what(mend) for mend in _mends(device, fault)}
        for fault in device.faults.values()
    }
    every = [mend for fault in device.faults.values() for mend in _mends(device, fault)]
    for fault in device.faults.values():
        seated = {m.joint for m in _mends(device, fault) if m.do == "reseat" and m.joint}
        if seated:
            found[fault.id] |= {_what(m) for m in every if seated & _taken_apart(device, m)}
    return found


def _what(mend: Mend) -> tuple[str, str]:
    return mend.do, mend.name or mend.part or mend.joint or ""


def _taken_apart(device: Device, mend: Mend) -> set[str]:
    """Joints that a mend opens by itself."""
    around: tuple[str, ...] = ()
    if mend.do == "exchange" and mend.part is not None:
        around = joints_around(device, device_parts_in(device, mend.part))
    return {*mend.open, *around, *((mend.joint,) if mend.joint else ())}


def _not_mended(notebook: Notebook, fault: Fault) -> Iterator[Finding]:
    if not _mends(notebook.device, fault):
        yield notebook.note(
            "fault_not_mended",
            "warning",
            ("faults", fault.id),
            say(
                "Nothing mends {name}: its part is fixed, and no mend is named.",
                name=marked(fault.name),
            ),
            say("Name a mend, or a spare that has the part in it."),
        )
    chances = [mend.success.value for mend in fault.mends if mend.success is not None]
    if fault.mends and len(chances) == len(fault.mends) and max(chances) < HOPE:
        yield notebook.note(
            "mend_unlikely",
            "note",
            ("faults", fault.id, "mends"),
            say(
                "The best mend of {name} succeeds in {max} of all cases.",
                name=marked(fault.name),
                max=f"{max(chances):.0%}",
            ),
            say(
                "Name a mend that cures as a rule, such as the exchange of the part, or correct the chance."
            ),
        )


# --- shown --------------------------------------------------------------------------------------------


def _hidden(notebook: Notebook, fault: Fault) -> Iterator[Finding]:
    device = notebook.device
    swapped = any(
        test.swap_test is not None and _is_swapped(device, fault, test)
        for test in device.checks.values()
    )
    shows = [chance.value for chance in fault.symptoms.values()]
    finds = [sum(c.value for c in chances.values()) for chances in fault.checks.values()]
    if not swapped and max((*shows, *finds), default=0.0) < HIDDEN:
        yield notebook.note(
            "fault_hidden",
            "note",
            ("faults", fault.id),
            say(
                "{name} hardly shows in any symptom or check: it is found by mending only.",
                name=marked(fault.name),
            ),
            say("Say what it shows."),
        )


def _tells_nothing(notebook: Notebook) -> Iterator[Finding]:
    """Checks and symptoms that no fault mentions."""
    device = notebook.device
    named = {_check_id(device, name) for fault in device.faults.values() for name in fault.checks}
    for check in device.checks.values():
        if check.id not in named and not check.final and check.swap_test is None:
            yield notebook.note(
                "check_tells_nothing",
                "note",
                ("checks", check.id),
                say(
                    "{name} tells nothing: no fault says what it makes of it.",
                    name=marked(check.name),
                ),
                say("Name it under the faults that it finds, or leave it out."),
            )
    shown = {symptom for fault in device.faults.values() for symptom in fault.symptoms}
    for symptom in device.symptoms.values():
        if symptom.id not in shown and symptom.event not in EVENTS:
            yield notebook.note(
                "symptom_of_nothing",
                "note",
                ("symptoms", symptom.id),
                say("No fault shows {name}.", name=marked(symptom.name)),
                say("Name it under the faults that show it, or leave it out."),
            )


# --- adding up ----------------------------------------------------------------------------------------


def _leak_high(notebook: Notebook, check: Check) -> Iterator[Finding]:
    bad = sum(
        chance.value for outcome, chance in check.leak.items() if outcome != check.outcomes[0]
    )
    if bad > LEAK_HIGH:
        yield notebook.note(
            "leak_high",
            "warning",
            ("checks", check.id, "leak"),
            say(
                "A sound device fails {name} in {bad} of all cases.",
                name=marked(check.name),
                bad=f"{bad:.0%}",
            ),
            say(
                "Correct the leak, or the order of the outcomes: the first is that of a sound device."
            ),
        )


def _priors(notebook: Notebook) -> Iterator[Finding]:
    """Frequencies on one scale: counts, or shares that sum to 1, or words; and none left out."""
    faults = notebook.device.faults.values()
    missing = [fault for fault in faults if not fault.prior_given]
    if missing and len(missing) < len(faults):
        names = listed([marked(fault.name) for fault in missing[:3]])
        if len(missing) > 3:
            names = say(
                "{names} and {n} other", "{names} and {n} others", names=names, n=len(missing) - 3
            )
        yield notebook.note(
            "prior_missing",
            "warning",
            ("faults", missing[0].id),
            say(
                "{names} has no prior and counts as 1 beside the others.",
                "{names} have no prior and count as 1 beside the others.",
                names=names,
                n=len(missing),
            ),
            say("Give every fault a prior on the same scale."),
        )
    counts = [fault for fault in faults if fault.prior_given and fault.prior > SCALE]
    words = [fault for fault in faults if fault.prior_word]
    if counts and words:
        yield notebook.note(
            "priors_do_not_add_up",
            "warning",
            ("faults", words[0].id, "prior"),
            say(
                "The prior of {name} is a word (a share of 1), that of {name2} a count ({prior}): "
                "beside it the word counts for nothing.",
                name=marked(words[0].name),
                name2=marked(counts[0].name),
                prior=counts[0].prior,
            ),
            say("Give all priors as counts, or all as words."),
            (("faults", counts[0].id, "prior"),),
        )
    shares = [fault for fault in faults if fault.prior_given and not fault.prior_word]
    total = sum(fault.prior for fault in shares)
    if len(shares) == len(faults) > 1 and not counts and total > 1.005:
        yield notebook.note(
            "priors_do_not_add_up",
            "note",
            ("faults", shares[0].id, "prior"),
            say(
                "The priors look like shares, and sum to {total}. They are scaled to 1.",
                total=f"{total:.2f}",
            ),
            say("Correct them, or give counts."),
        )

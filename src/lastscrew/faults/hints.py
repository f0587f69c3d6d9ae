"""What is doubtful about the faults of a device file: for the audit, as problems of severity ``warning``."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import combinations
from typing import Final

from lastscrew.device.model import Device
from lastscrew.faults.model import FaultModel, fault_model, puzzle_of
from lastscrew.faults.puzzle import Mend
from lastscrew.faults.works import mend_id, mends_of
from lastscrew.problems import InputError, Problem

ALIKE: Final = 1e-9
MANY_ALIKE: Final = 50
"""Most pairs that are told."""


def fault_hints(device: Device) -> tuple[Problem, ...]:
    """Doubtful things about the faults of a (fitted) device.

    Faults that no check and no symptom tells apart although their mends differ; faults that nothing mends, or
    mends with little hope; chances that don't add up; checks and symptoms that tell nothing; priors without
    a source.

    Returns:
        Warnings with their path in the device file, in the order of the file's ids.
    """
    if not device.faults:
        return ()
    try:
        model = fault_model(device, stock=tuple(device.parts))
    except InputError as error:
        return tuple(replace(problem, severity="warning") for problem in error.problems)
    return (
        *_told_apart_by_nothing(model),
        *_not_mended(model),
        *_tells_nothing(model),
        *_do_not_add_up(device),
        *_without_source(device),
    )


def _warning(path: str, message: str, remedy: str, code: str) -> Problem:
    return Problem(message, remedy, path=path, severity="warning", code=code)


def _told_apart_by_nothing(model: FaultModel) -> Iterator[Problem]:
    told = 0
    for f, g in combinations(range(len(model.faults)), 2):
        one, other = model.faults[f], model.faults[g]
        rows = (*(row for rows in model.chances for row in rows), *model.symptoms.values())
        if any(abs(row[f] - row[g]) > ALIKE for row in rows):
            continue
        mends = [{mend_id(m) for m in mends_of(model.device, fault)} for fault in (one, other)]
        if mends[0] & mends[1] or told >= MANY_ALIKE:
            continue
        told += 1
        yield _warning(
            f"faults.{other.id}",
            f"no symptom and no check tells {one.name} and {other.name} apart, and no mend cures both",
            "Add a check whose outcome differs, or a swap test.",
            "faults_alike",
        )


def _not_mended(model: FaultModel) -> Iterator[Problem]:
    for f, fault in enumerate(model.faults):
        hopes = [
            sum(e.chance for e in mend.effects[f] if e.state != f)
            for mend in _mends(model)
            if f in mend.effects
        ]
        if not hopes:
            yield _warning(
                f"faults.{fault.id}.mends",
                f"nothing mends {fault.name}",
                "Add a mend, or let the part be exchanged with a piece that comes off.",
                "fault_not_mended",
            )
        elif max(hopes) < 0.5:
            yield _warning(
                f"faults.{fault.id}.mends",
                f"{fault.name} is mended in fewer than half of all cases",
                "Add a mend that succeeds, or correct the chance.",
                "mend_unlikely",
            )


def _mends(model: FaultModel) -> tuple[Mend, ...]:
    return puzzle_of(model, model.prior).mends


def _tells_nothing(model: FaultModel) -> Iterator[Problem]:
    for work, rows in zip(model.checks, model.chances, strict=True):
        if all(max(row) - min(row) <= ALIKE for row in rows):
            yield _warning(
                f"checks.{work.id}",
                f"{work.name} tells nothing: no fault changes its outcome",
                "Say under faults what it shows, or leave it out.",
                "check_tells_nothing",
            )
    for symptom, row in model.symptoms.items():
        if max(row) - min(row) <= ALIKE:
            yield _warning(
                f"symptoms.{symptom}",
                f"no fault shows {model.device.symptoms[symptom].name}",
                "Say under faults which do, or leave it out.",
                "symptom_of_nothing",
            )


def _do_not_add_up(device: Device) -> Iterator[Problem]:
    """Sums above 1 are errors of the reader; here what is possible, but hardly meant."""
    for check in device.checks.values():
        total = sum(chance.value for chance in check.leak.values())
        if total > 0.5:
            yield _warning(
                f"checks.{check.id}.leak",
                f"a sound device fails {check.name} in {total:.0%} of all cases",
                "Correct the leak, or the order of the outcomes: the first is that of a sound device.",
                "leak_high",
            )
    for fault in device.faults.values():
        shows = [c.value for c in fault.symptoms.values()]
        finds = [sum(c.value for c in chances.values()) for chances in fault.checks.values()]
        if device.symptoms and max((*shows, *finds), default=0.0) < 0.2:
            yield _warning(
                f"faults.{fault.id}",
                f"{fault.name} hardly shows in any symptom or check",
                "Say what it shows; a fault that shows nothing is found by mending it only.",
                "fault_hidden",
            )


def _without_source(device: Device) -> Iterator[Problem]:
    missing = [fault.id for fault in device.faults.values() if not fault.prior_given]
    if missing and len(missing) < len(device.faults):
        yield _warning(
            f"faults.{missing[0]}.prior",
            f"{len(missing)} of {len(device.faults)} faults have no prior and count as 1 beside the others",
            "Give every fault a prior on the same scale, with its source.",
            "prior_missing",
        )

"""The one way in: from a device and what was seen to the next thing to do.

    advice = propose(device, Evidence(shows=("no_picture",)), opened=("cover_clips",))

Everything else in this package is used by :func:`propose`, or takes what it returns. Pure: the same
question gives the same answer. What opening costs is the slow part; :func:`prepared` works it out once for
a device, and what it returns serves every proposal for the same device and terms. It can be kept as data under
:func:`openings_key` (``table()`` and ``take()`` of :class:`~lastscrew.faults.openings.DeviceOpenings`).
"""

from __future__ import annotations

import json
from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from hashlib import sha256
from typing import Final

from lastscrew.device.fitting import fit
from lastscrew.device.model import Device
from lastscrew.faults.advice import QUICK_WORK, Advice, advise, percent
from lastscrew.faults.evidence import Evidence, evidence_problems, standing
from lastscrew.faults.model import (
    SECOND_FAULT,
    SECOND_FAULT_AFTER_EVENT,
    FaultModel,
    fault_model,
)
from lastscrew.faults.openings import TABLE_FORMAT, DeviceOpenings
from lastscrew.faults.words import symptom_of_event, symptoms_meant, tells_of_event
from lastscrew.faults.works import swap_tests_without_stock
from lastscrew.plan.asking import nearest, unknown_joints
from lastscrew.problems import InputError, Problem
from lastscrew.saying import say

REHEARSALS: Final = 6
"""Complaints for which a proposal is rehearsed while opening costs are prepared."""
ALL: Final = "all"
"""In ``Terms.stock``: a known-good one of every part."""

AFTER_EVENT: Final = {
    "liquid": say("After liquid: isolate the machine and dry it before power is put on."),
    "drop": say(
        "After a drop: look at the pack first. Leave a bent, swollen or leaking one to trained people."
    ),
}
"""Said first; common practice, no source."""


@dataclass(frozen=True, slots=True)
class Terms:
    """What counts, beside what was seen.

    Attributes:
        not_fitted: Options, parts or joints that the unit lacks.
        fitted: Options that it has although most lack them.
        stock: Parts of which a known-good one is at hand for swap tests; ``all`` for each.
        two_faults: Two faults at once may be there. After liquid or a drop they are reckoned with anyhow.
        second_fault: Share of jobs with two faults at once; None for the usual share, 0 for never.
        rate_per_h: Price of an hour; None: costs are seconds, and prices do not count.
        worth: What giving up costs; None: only when nothing that can mend is left.
        pace: Factor on times from tables.
    """

    not_fitted: tuple[str, ...] = ()
    fitted: tuple[str, ...] = ()
    stock: tuple[str, ...] = ()
    two_faults: bool = False
    second_fault: float | None = None
    rate_per_h: float | None = None
    worth: float | None = None
    pace: float = 1.0


_USUAL: Final = Terms()


def propose(
    device: Device,
    evidence: Evidence,
    opened: Sequence[str] = (),
    *,
    terms: Terms = _USUAL,
    openings: DeviceOpenings | None = None,
    work: int | None = None,
    probes: int = QUICK_WORK,
    expired: Callable[[], bool] | None = None,
) -> Advice:
    """The next check or mend, what it costs, and why.

    Args:
        device: The whole device, as read.
        evidence: What was seen and done, whoever proposed it.
        opened: Joints that are open now.
        terms: What counts beside it.
        openings: What :func:`prepared` returned for this device and these terms; None to begin anew.
        work: Actions to unfold to prove it (None: many for a small model, none for a large one).
        probes: Actions to unfold to find a good strategy in a large model (``THOROUGH_WORK``: a second or two).
        expired: Asked now and then; True stops the search.

    Raises:
        InputError: Unknown names, results that can't be, joints that can't be open; all of them at once.
    """
    model = model_for(device, evidence, opened, terms=terms, openings=openings)
    start = model.openings.state(opened)
    where = standing(model, evidence, start=start, worth=terms.worth)
    advice = advise(model, where, work=work, probes=probes, expired=expired)
    return replace(advice, remarks=tuple(remarks(model, evidence, terms)))


def model_for(
    device: Device,
    evidence: Evidence,
    opened: Sequence[str] = (),
    *,
    terms: Terms = _USUAL,
    openings: DeviceOpenings | None = None,
) -> FaultModel:
    """The model that :func:`propose` asks; two faults at once where what was seen tells of it.

    Raises:
        InputError: As for :func:`propose`.
    """
    problems = list(_unknown_names(device, opened, terms))
    asked = (terms, second_fault(device, evidence, terms))
    model = None if problems or openings is None else openings.model_of(device, asked)
    if model is None:
        wrong = any(problem.path.startswith(("not_fitted", "fitted")) for problem in problems)
        fitted = device if wrong else fit(device, terms.not_fitted, terms.fitted)
        model = fault_model(
            fitted,
            stock=stocked(fitted, terms),
            second_fault=asked[1],
            pace=terms.pace,
            rate_per_h=terms.rate_per_h,
            openings=openings,
        )
        if not problems:
            model.openings.keep_model(device, asked, model)
    problems += evidence_problems(model, evidence)
    problems += _not_open(model, [j for j in opened if j in device.joints])
    if problems:
        raise InputError(problems)
    return model


def prepared(
    device: Device, opened: Sequence[str] = (), *, terms: Terms = _USUAL, table: object = None
) -> DeviceOpenings:
    """What opening costs for a device, worked out for all checks and mends.

    A proposal for each of the first few symptoms is rehearsed as well, so that states which a job
    comes to are known.

    Args:
        device: The whole device, as read.
        opened: Joints that are open now.
        terms: What counts.
        table: What ``table()`` gave earlier under the same :func:`openings_key`, or None.

    Raises:
        InputError: As for :func:`propose`.
    """
    model = model_for(device, Evidence(), opened, terms=terms)
    taken = isinstance(table, dict) and model.openings.take(table)
    start = model.openings.state(opened)
    model.openings.prepare(start)
    if not taken:
        for symptom in sorted(model.symptoms)[:REHEARSALS]:
            where = standing(model, Evidence(shows=(symptom,)), start=start)
            advise(model, where, work=0)  # nothing is to be proven yet
    return model.openings


def openings_key(device: Device, terms: Terms = _USUAL, opened: Sequence[str] = ()) -> str:
    """A hash of everything that opening costs depend on, but the version of the program (``sha256``, hex).

    Args:
        device: The whole device, as read.
        terms: What counts.
        opened: Joints that were open when they were worked out.
    """
    fitted = fit(device, terms.not_fitted, terms.fitted)
    said = {
        "format": TABLE_FORMAT,
        "device": device.revision_hash,
        "joints": sorted(fitted.joints),
        "parts": sorted(fitted.parts),
        "stock": sorted(stocked(fitted, terms)),
        "pace": terms.pace,
        "opened": sorted(set(opened)),
    }
    return sha256(json.dumps(said, sort_keys=True).encode()).hexdigest()


def stocked(device: Device, terms: Terms) -> tuple[str, ...]:
    """Parts of which a known-good one is at hand."""
    return tuple(device.parts) if ALL in terms.stock else terms.stock


def second_fault(device: Device, evidence: Evidence, terms: Terms) -> float:
    """Share of jobs with two faults at once that is reckoned with."""
    if terms.second_fault is not None:
        return terms.second_fault
    if tells_of_event(device, evidence.shows, evidence.complaint) is not None:
        return SECOND_FAULT_AFTER_EVENT
    return SECOND_FAULT if terms.two_faults else 0.0


def remarks(model: FaultModel, evidence: Evidence, terms: Terms) -> Iterator[str]:
    """What the person should know about how the question was understood."""
    device = model.device
    for match in symptoms_meant(device, evidence.complaint) if evidence.complaint else ():
        if match.symptom not in (*evidence.shows, *evidence.lacks):
            name = device.symptoms[match.symptom].name
            yield say(
                '"{complaint}" may mean {symptom} ({id}): confirm it.',
                complaint=evidence.complaint,
                symptom=name,
                id=match.symptom,
            )
    event = tells_of_event(device, evidence.shows, evidence.complaint)
    if event == "liquid" or (event is not None and any(p.energy for p in device.parts.values())):
        yield AFTER_EVENT[event]
    if event is not None and terms.second_fault is None:
        share = percent(SECOND_FAULT_AFTER_EVENT)
        yield _liquid_words(share) if event == "liquid" else _drop_words(share)
        teller = symptom_of_event(device, evidence.shows)
        if teller is not None and teller[0].event is None:
            yield say(
                'The words of "{symptom}" say so: where they are everyday ones, say event: none in the device file.',
                symptom=teller[0].name,
            )
    missing = swap_tests_without_stock(device, stocked(device, terms))
    if missing:
        parts = ", ".join(dict.fromkeys(check.swap_test or "" for check in missing))
        yield say("Swap tests need a known-good part in stock; left out: {parts}.", parts=parts)
    if terms.rate_per_h is None and any(work.price for work in model.works):
        yield say("Prices of parts do not count without the price of an hour.")


def _liquid_words(share: str) -> str:
    return say(
        "The complaint tells of liquid: two faults at once are reckoned with "
        "({share} of such jobs, our own figure).",
        share=share,
    )


def _drop_words(share: str) -> str:
    return say(
        "The complaint tells of a drop: two faults at once are reckoned with "
        "({share} of such jobs, our own figure).",
        share=share,
    )


# --- problems -----------------------------------------------------------------------------------------


def _unknown_names(device: Device, opened: Sequence[str], terms: Terms) -> Iterator[Problem]:
    for problem in unknown_joints(device, opened):
        yield replace(problem, path=f"opened.{problem.path}")
    lacking = [*device.options, *device.parts, *device.joints]
    yield from _unknown("stock", terms.stock, [*device.parts, ALL], say("part"))
    yield from _unknown("fitted", terms.fitted, list(device.options), say("option"))
    yield from _unknown("not_fitted", terms.not_fitted, lacking, say("option, part or joint"))


def _unknown(
    field: str, names: Sequence[str], known: Collection[str], what: str
) -> Iterator[Problem]:
    for name in names:
        if name not in known:
            meant = nearest(name, known)
            yield Problem(
                say('There is no {what} "{name}".', what=what, name=name),
                say("Did you mean {name}?", name=meant)
                if meant
                else say("The device file names what there is."),
                path=f"{field}.{name}",
                code="unknown_name",
            )


def _not_open(model: FaultModel, opened: Sequence[str]) -> list[Problem]:
    """Joints that can't be open unless others are as well."""
    changes = model.openings.changes
    start = model.openings.state(j for j in opened if j in model.device.joints)
    absent = [j for j in opened if j not in model.device.joints]
    problems = [
        Problem(
            say("{joint} is not fitted in this unit.", joint=joint),
            say("Leave it out, or correct what is fitted."),
            path=f"opened.{joint}",
            code="not_fitted",
        )
        for joint in absent
    ]
    isolated = start | changes.isolators
    lost = isolated & ~changes.largest_within(isolated) if changes.is_powered(start) else 0
    if lost:
        named = lost & start or lost
        names = ", ".join(model.openings.joints(named))
        first = model.openings.joints(model.openings.before(named) & ~isolated)
        problems.append(
            Problem(
                say("{joints} can't be open while what leads there is closed.", joints=names),
                say(
                    "Name every joint that is open, from the outside in; before these come {joints}.",
                    joints=", ".join(first),
                )
                if first
                else say("Name every joint that is open, from the outside in."),
                path="opened",
                code="start_not_reachable",
            )
        )
    return problems

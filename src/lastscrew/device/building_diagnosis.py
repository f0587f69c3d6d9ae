"""From values to faults, symptoms and checks: defaults that depend on other keys filled in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from lastscrew.device.diagnosis import (
    BAD,
    GOOD,
    Check,
    Fault,
    Harm,
    Likelihood,
    Limits,
    Mend,
    Symptom,
)
from lastscrew.device.model import Function, Measure
from lastscrew.device.names import name_from_id

Values = Mapping[str, Any]


def build_symptom(i: str, v: Values, _side: str) -> Symptom:
    """A symptom."""
    return Symptom(
        id=i,
        name=v.get("name") or name_from_id(i),
        words=tuple(v.get("words", ())),
        leak=v.get("leak"),
        event=v.get("event"),
        was=v.get("was"),
        sources=v.get("sources", {}),
    )


def build_check(i: str, v: Values, _side: str) -> Check:
    """A check, its outcomes named."""
    m = v.get("measure")
    limits = None if m is None else Limits(m.get("unit", ""), m.get("low"), m.get("high"))
    outcomes = tuple(v.get("outcomes", ()))
    if len(outcomes) < 2:
        outcomes = limits.outcomes if limits is not None else (GOOD, BAD)
    h = v.get("harm")
    harm = (
        None if h is None else Harm(h.get("chance", 0.0), h.get("price", 0.0), h.get("seconds", 0))
    )
    power = v.get("power")
    return Check(
        id=i,
        name=v.get("name") or name_from_id(i),
        check=v.get("check", ""),
        check_ms=v.get("check_s", 0),
        limits=limits,
        outcomes=outcomes,
        open=tuple(v.get("open", ())),
        closed=tuple(v.get("closed", ())),
        may_be_open=tuple(v.get("may_be_open", ())),
        power="on" if power is None and "swap_test" in v else power,
        tool=v.get("tool"),
        instrument=v.get("instrument", ""),
        swap_test=v.get("swap_test"),
        harm=harm,
        leak=by_outcome(v.get("leak"), outcomes),
        final=v.get("final", False),
        hazards=tuple(v.get("hazards", ())),
        was=v.get("was"),
        sources=v.get("sources", {}),
    )


def by_outcome(value: object, outcomes: tuple[str, ...]) -> dict[str, Likelihood]:
    """Chances by outcome; one chance alone is that of the outcome that is not the first."""
    if isinstance(value, Likelihood):
        return dict.fromkeys(outcomes[1:], value)
    return dict(value) if isinstance(value, Mapping) else {}


def build_fault(i: str, v: Values, _side: str) -> Fault:
    """A fault; what it says about checks is kept by outcome once these are known."""
    prior = v.get("prior")
    part, joint = v.get("part"), v.get("joint")
    return Fault(
        id=i,
        name=v.get("name") or name_from_id(i),
        part=part,
        joint=joint,
        prior=1.0 if prior is None else prior.value,
        prior_word="" if prior is None else prior.word,
        prior_given=prior is not None,
        symptoms=v.get("symptoms", {}),
        checks={
            check: {"": value} if isinstance(value, Likelihood) else value
            for check, value in v.get("checks", {}).items()
        },
        mends=tuple(_build_mend(m, part, joint) for m in v.get("mends", ())),
        note=v.get("note"),
        was=v.get("was"),
        sources=v.get("sources", {}),
    )


def _build_mend(v: Values, part: str | None, joint: str | None) -> Mend:
    own = "part" in v or "joint" in v
    return Mend(
        do=v.get("do", "adjust"),
        part=v.get("part") if own else part,
        joint=v.get("joint") if own else joint,
        success=v.get("success"),
        ms=v.get("seconds"),
        price=v.get("price"),
        text=v.get("text", ""),
        open=tuple(v.get("open", ())),
        closed=tuple(v.get("closed", ())),
        power=v.get("power"),
        name=v.get("name", ""),
        sources=v.get("sources", {}),
    )


def with_named_checks(
    functions: Mapping[str, Function], checks: Mapping[str, Check]
) -> dict[str, Function]:
    """Functions whose ``check`` names an entry of ``checks`` take over what that says."""
    return {
        i: _named(function, checks[function.check]) if function.check in checks else function
        for i, function in functions.items()
    }


def _named(function: Function, check: Check) -> Function:
    return replace(
        function,
        entry=check.id,
        check=check.check or check.name,
        check_ms=function.check_ms or check.check_ms,
        measure=function.measure or _measure(check),
        needs=function.needs or check.closed,
    )


def _measure(check: Check) -> Measure | None:
    limits = check.limits
    return None if limits is None else Measure(limits.unit, limits.low, limits.high)


def without_named_check(function: Function, check: Check) -> Function:
    """The function without what it has only from the entry that it names."""
    return replace(
        function,
        check_ms=0 if function.check_ms == check.check_ms else function.check_ms,
        measure=None if function.measure == _measure(check) else function.measure,
        needs=() if function.needs == check.closed else function.needs,
    )
